"""Life of the hot wall: firings to a crack, on optimistic and on conservative terms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from regen.checks.findings import Assessed, Table, joined, note, peak, text
from regen.checks.life import laws
from regen.checks.life.data import Generic, Law, creep_curve, fatigue_law
from regen.checks.registry import Fields, limit
from regen.checks.runs import Compared, Run, Solved
from regen.checks.strength.strain import REST, StrainRange, strain_range
from regen.design import Design
from regen.errors import MissingProperty, RangeError
from regen.metals import selection as metals
from regen.result import Array, Finding, Mask, Note

LIFE = Table("life")

COLUMNS = ("life_conservative_firings", "life_optimistic_firings")
"""Columns of the life along x, NaN where it is not known."""


class Creep(NamedTuple):
    """Damage a firing (..., S) [-], where its stress is beyond the tests, source, and basis."""

    damage: Array
    beyond: Mask
    source: str
    note: str


@dataclass(frozen=True, slots=True, eq=False)
class Lives:
    """Firings that the hot wall lives, arrays (..., S) [-]; NaN where a table ends.

    ``conservative`` is the sum of fatigue, a tenth of the law where ``tenth`` is true, and
    ``creep``. ``asked`` is true where a firing heats the wall; the life of the part is the least
    over these stations. ``missing`` says why there is no conservative life, "" if there is.
    """

    run: Run
    strain: StrainRange
    law: Law
    optimistic: Array
    conservative: Array
    tenth: Mask
    creep: Creep
    asked: Mask
    missing: str

    @property
    def T(self) -> Array:
        """Hot wall in operation (..., S) [K]."""
        return self.run.stations["T_wall_hot_K"]


def lives(solved: Solved, run: Run) -> Lives:
    """Return the life of the hot wall at every station.

    Parameters
    ----------
    solved : Solved
        Metals, the duration of a firing, and what the design says of the liner's fatigue.
    run : Run
        Solved run, or many.

    Returns
    -------
    Lives
        By station.

    Raises
    ------
    RangeError
        If nothing can be assessed; the text says what is missing and how to give it.

    Notes
    -----
    Optimistic: the wall is held across the channels alone (plane strain), and the law as it is.
    Conservative: held both ways; a tenth of the law, and of the optimistic life, above half the
    solidus, where grain boundaries part while the metal is held hot, as the tests behind the law
    were not; and creep under the yield at temperature through the whole firing, summed. So it is
    nowhere above the optimistic one.
    """
    law, strain = fatigue_law(solved.design, solved.alloy), strain_range(solved, run)
    if not np.isfinite(strain.total).any():
        raise MissingProperty(strain.note.removeprefix("not assessed: ") or "no strain range")
    T, alloy = run.stations["T_wall_hot_K"], solved.alloy.alloy
    optimistic = law.cycles(T, strain.total_low)
    at_law = np.minimum(law.cycles(T, strain.total), optimistic)
    if alloy.solidus is None:
        missing = text("finding: no solidus", alloy=alloy.key)
        tenth, fatigue = np.zeros(T.shape, dtype=bool), np.full(T.shape, np.nan)
    else:
        tenth, missing = laws.in_creep_range(T, alloy.solidus.value), ""
        fatigue = np.where(tenth, laws.TEN_PERCENT * at_law, at_law)
    creep, heated = _creep(solved, T, tenth), np.asarray(T > REST)
    with np.errstate(divide="ignore"):
        conservative = 1.0 / (1.0 / fatigue + creep.damage)
    return Lives(run, strain, law, optimistic, conservative, tenth, creep, heated, missing)


def _creep(solved: Solved, T: Array, hot: Mask) -> Creep:
    """Return the damage by creep; zero where it cannot be assessed, and the note says so."""
    duration, source = solved.design.life.firing_duration, "larson_miller1952"
    alone = "the ten-percent rule alone stands for creep"
    try:
        if not hot.any():
            source, note = "manson_halford1967", "no station is in the creep range"
        else:
            curve = creep_curve(solved.alloy)
            stress = solved.alloy.quiet.value("yield", T).value
            if duration is not None:
                time, beyond = curve.rupture(stress, T)
                damage = np.where(hot, duration / time, 0.0)
                basis = f"{curve.text}, under the yield at temperature, unrelaxed, in each firing"
                return Creep(damage, np.asarray(beyond & hot), curve.source, basis)
            note = f"give life.firing_duration to add creep; until then {alone}"
    except RangeError as error:
        note = f"{error}; {alone}"
    return Creep(np.zeros(T.shape), np.zeros(T.shape, dtype=bool), source, note)


def of_part(along: Array, asked: Mask) -> Array:
    """Return the life of the whole hot wall (...,) [firings], from that by station (..., S).

    The least of the stations that count; NaN if one of them is not known, infinite if none counts.
    """
    return np.asarray(np.min(np.where(asked, along, np.inf), axis=-1))


def _needed(design: Design) -> float:
    return design.limits.life_factor * (design.life.firings or 0)


def _terms(solved: Solved) -> Fields | None:
    life, factor = solved.design.life, solved.design.limits.life_factor
    if life.firings is None:
        return None
    given = life.ductility is not None or life.fatigue_strength is not None
    return {
        "text": f"conservative life against {life.firings} firings, {factor:g} times over",
        "closes": metals.LINER_KEYS["uts"] if given else "life.ductility",
    }


@limit(
    _terms,
    group="life",
    unit="firings",
    source="nasa_std_5012",
    kind="min",
    key="limits.life_factor",
)
def life(solved: Solved, run: Run) -> Compared:
    """Conservative life against the firings, times a factor."""
    result = lives(solved, run)
    along = result.conservative
    need = np.full(along.shape, _needed(solved.design))
    # where one station fails, one that is not known changes nothing
    fails = np.any(result.asked & (along < need), axis=-1, keepdims=True)
    unknown = result.asked & np.isnan(along)
    asked = result.asked & ~(fails & unknown)
    if along.ndim > 1:
        return Compared(along, need, asked)
    if np.any(asked & unknown):
        raise RangeError(_unknown(result, unknown))
    note = _basis(result, _governing(along, asked)) if asked.any() else ""
    return Compared(along, need, asked, note)


def _governing(along: Array, asked: Mask) -> int:
    """Return the station with the least known life of those that count."""
    return int(np.nanargmin(np.where(asked, along, np.inf)))


def _unknown(lives: Lives, where: Mask) -> str:
    """Return where the life of one design is not known, and why."""
    x = 1e3 * lives.run.stations["x_m"][where]
    span = f"x = {x.min():.0f} mm" if x.size == 1 else f"x = {x.min():.0f} to {x.max():.0f} mm"
    number = "1 station" if x.size == 1 else f"{x.size} stations"
    ends = lives.law.ends(lives.T[where]) if isinstance(lives.law, Generic) else ""
    why = lives.missing or joined(ends, lives.strain.note)
    why = why or "a table of the liner ends before the wall's temperature"
    return f"not known at {number}, {span}: {why}"


def _mode(lives: Lives, at: int) -> str:
    """Return the mode that governs at a station."""
    share = float(lives.creep.damage[at] * lives.conservative[at])
    if share > 0.5:
        return f"creep governs, {share:.0%} of the damage"
    rest = f", {share:.0%} of the damage creep" if share else ""
    by = "fatigue in the creep range (a tenth of the law)" if lives.tenth[at] else "fatigue"
    return f"{by} governs{rest}"


def _basis(lives: Lives, at: int) -> str:
    """Return the basis of the conservative life at a station."""
    T, de = float(lives.T[at]), float(lives.strain.total[at])
    state = f"strain range {100 * de:.2f} %, wall at {T:.0f} K"
    creep = "creep extrapolated beyond its tests' stress" if lives.creep.beyond[at] else ""
    return joined(_mode(lives, at), state, lives.law.text(T, de), creep, lives.strain.held)


def notes(assessed: Assessed) -> tuple[Note, ...]:
    """Return what every reader must know of the life: a caution, and why it is not known."""
    caution, whole = note("life"), assessed.findings[0]
    if whole.value is not None:
        return (caution,)
    return (caution, Note("life not assessed", whole.note))


def findings(solved: Solved) -> Assessed:
    """Return what can be reported of the life of the nominal channel.

    Parameters
    ----------
    solved : Solved
        Its run, the metals of wall and jacket, and the firings that it must live.

    Returns
    -------
    Assessed
        Section "life", and columns by the names of ``COLUMNS``; one finding without value, and
        why, where nothing can be assessed.
    """
    try:
        result = lives(solved, solved.nominal)
    except RangeError as error:
        return Assessed((LIFE.finding("life_conservative", note=str(error)),), {})
    along = dict(zip(COLUMNS, (result.conservative, result.optimistic), strict=True))
    return Assessed(tuple(_findings(solved, result)), along)


def _findings(solved: Solved, lives: Lives) -> Iterator[Finding]:
    yield LIFE.finding("life_conservative", **_conservative(solved, lives), source=lives.law.source)
    yield from _optimistic(lives)
    damage = lives.creep.damage
    worst = float(np.nanmax(damage)) if np.any(damage > 0.0) else np.nan
    yield LIFE.finding("creep_damage", worst, note=lives.creep.note, source=lives.creep.source)
    if np.isfinite(lives.strain.plastic).any():
        yield _thinning(solved, lives)


def _conservative(solved: Solved, lives: Lives) -> dict[str, Any]:
    """Return the life that judges: the least over all stations, or not known; place and note.

    Where a known station lives less than it must, the least of the known ones says enough.
    """
    x, along, asked = lives.run.stations["x_m"], lives.conservative, lives.asked
    if not asked.any():
        return {"note": f"no firing heats the wall above {REST:.0f} K"}
    unknown = asked & np.isnan(along)
    why = _unknown(lives, unknown) if unknown.any() else ""
    if not np.any(asked & ~unknown):
        return {"note": why}
    at = _governing(along, asked)
    basis = f"{_basis(lives, at)}; {solved.alloy}"
    if why and along[at] >= _needed(solved.design):
        hottest = int(np.argmax(np.where(unknown, lives.T, -np.inf)))
        elsewhere = f"the shortest life that is known is {along[at]:.0f} firings: {basis}"
        return {"x_m": float(x[hottest]), "note": f"{why}. Elsewhere {elsewhere}"}
    note = f"{basis}. Life is at most this: {why}" if why else basis
    return {"value": float(along[at]), "x_m": float(x[at]), "note": note}


def _optimistic(lives: Lives) -> Iterator[Finding]:
    """Yield the optimistic life, which judges nothing, and the same by the modified method."""
    law, strain, source = lives.law, lives.strain, lives.law.source
    unknown = lives.asked & np.isnan(lives.optimistic)
    if unknown.any():
        yield LIFE.finding("life_optimistic", note=_unknown(lives, unknown), source=source)
        return
    if not lives.asked.any():
        return
    at = _governing(lives.optimistic, lives.asked)
    T, de, x = (float(of[at]) for of in (lives.T, strain.total_low, lives.run.stations["x_m"]))
    note = f"strain range {100 * de:.2f} %, wall at {T:.0f} K; {law.text(T, de)}."
    if isinstance(law, Generic):
        note = f"{note} Unsafe alone for a hot copper liner."
    yield LIFE.finding("life_optimistic", float(lives.optimistic[at]), x, note, source)
    if isinstance(law, Generic):
        modified = law.modified(lives.T, strain.total_low)
        yield LIFE.finding("life_optimistic_modified", float(modified[at]), x)


def _thinning(solved: Solved, lives: Lives) -> Finding:
    """Return how much thinner the channel floor gets each firing: an estimate, no limit."""
    s, bulge = lives.run.stations, np.zeros(())
    w, t = s["channel_width_m"], s["wall_m"]
    for dp, T in ((np.abs(lives.run.dp_wall), lives.T), (s["p_coolant_Pa"], s["T_coolant_K"])):
        strength = solved.alloy.quiet.value("yield", T).value
        bulge = bulge + laws.floor_bulge(dp, w, t, lives.strain.plastic, strength)
    top = peak(bulge * w / (w + s["land_width_m"]), s["x_m"])
    if top.row is None:
        return LIFE.finding("floor_thinning", note="yield is not tabulated over the range")
    firings = solved.design.life.firings
    total = f"; {1e3 * firings * top.value:.2g} mm in {firings} firings" if firings else ""
    wall = 1e3 * t[top.row]
    return LIFE.finding("floor_thinning", top.value, top.x, wall=wall, total=total)
