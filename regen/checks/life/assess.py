"""Life of the hot wall: firings to a crack, on optimistic and on conservative terms."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from regen.checks.life import laws
from regen.checks.life.data import CreepCurve, Generic, Law, creep_curve, fatigue_law
from regen.checks.runs import Compared, Limit, Rule, Run, Solved
from regen.checks.strength.strain import REST, StrainRange, strain_range
from regen.design import Design
from regen.errors import MissingProperty, RangeError
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition
from regen.result import Array, Finding, Note

SECTION = "life"
Mask = NDArray[np.bool_]

CAUTION = (
    "the bare universal-slopes life is unsafe for hot copper liners: creep and the thinning of the "
    "channel floor cut it strongly, so the tenth of it stands beside it. Published life models "
    "foresaw damage of a laser-heated panel from cycle 43, or 69 with crack closure, and it failed "
    "in cycle 93 (thiede2017): take no computed life for better than a factor of two to three"
)


@dataclass(frozen=True, slots=True, eq=False)
class Lives:
    """Firings that the hot wall lives, arrays (..., S) [-]; NaN where a table ends.

    ``conservative`` is the sum of ``fatigue``, a tenth of the law where ``tenth`` is true, and
    ``creep``, the damage of each firing [-]. ``asked`` is true where a firing heats the wall; the
    life of the part is the least over these stations.
    """

    strain: StrainRange
    law: Law
    optimistic: Array
    fatigue: Array
    conservative: Array
    tenth: Mask
    creep: Array
    creep_beyond: Mask
    asked: Mask
    creep_source: str
    creep_words: str
    missing: str
    """Why there is no conservative life, "" if there is."""


def lives(design: Design, liner: AlloyCondition, jacket: AlloyCondition, run: Run) -> Lives:
    """Return the life of the hot wall at every station.

    Parameters
    ----------
    design : Design
        Duration of a firing, and what it says of the liner's fatigue.
    liner, jacket : AlloyCondition
        Metals of wall and jacket.
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
    law = fatigue_law(design, liner)
    strain = strain_range(design, liner, jacket, run)
    if not np.isfinite(strain.total).any():
        raise MissingProperty(strain.note.removeprefix("not assessed: ") or "no strain range")
    T = strain.T_hot
    optimistic = law.cycles(T, strain.total_low)
    at_law = np.minimum(law.cycles(T, strain.total), optimistic)
    solidus = liner.alloy.solidus
    tenth: Mask = np.zeros(T.shape, dtype=bool)
    missing = ""
    if solidus is None:
        missing = (
            f"no solidus of {liner.alloy.key} is known, so the ten-percent rule of the creep range"
            " cannot be placed; give it in the stanza of an alloy of your own"
        )
        fatigue = np.full(T.shape, np.nan)
    else:
        tenth = laws.in_creep_range(T, solidus.value)
        fatigue = np.where(tenth, laws.TEN_PERCENT * at_law, at_law)
    creep, beyond, source, words = _creep(design, liner, T, tenth)
    with np.errstate(divide="ignore"):
        conservative = 1.0 / (1.0 / fatigue + creep)
    return Lives(
        strain=strain,
        law=law,
        optimistic=optimistic,
        fatigue=fatigue,
        conservative=conservative,
        tenth=tenth,
        creep=creep,
        creep_beyond=beyond,
        asked=np.asarray(T > REST),
        creep_source=source,
        creep_words=words,
        missing=missing,
    )


def _creep(
    design: Design, liner: AlloyCondition, T: Array, hot: Mask
) -> tuple[Array, Mask, str, str]:
    """Return creep damage a firing, where its stress is beyond the tests, source and words.

    Where it cannot be assessed it is zero and the words say so: the ten-percent rule is what
    stands for creep then.
    """
    nothing, nowhere = np.zeros(T.shape), np.zeros(T.shape, dtype=bool)
    alone = "the ten-percent rule alone stands for creep"
    if not hot.any():
        return nothing, nowhere, "manson_halford1967", "no station is in the creep range"
    try:
        curve: CreepCurve = creep_curve(liner)
        stress = replace(liner, beyond="nan").value("yield", T).value
    except RangeError as error:
        return nothing, nowhere, "larson_miller1952", f"{error}; {alone}"
    if design.life.firing_duration is None:
        words = f"give life.firing_duration to add creep; until then {alone}"
        return nothing, nowhere, "larson_miller1952", words
    rupture = curve.rupture(stress, T)
    damage = np.where(hot, design.life.firing_duration / rupture.time, 0.0)
    words = f"{curve.words}, under the yield at temperature, unrelaxed, through each firing"
    return damage, np.asarray(rupture.beyond & hot), curve.source, words


def of_part(along: Array, asked: Mask) -> Array:
    """Return the life of the whole hot wall.

    Parameters
    ----------
    along : ndarray
        Firings by station (..., S) [-], NaN where not known.
    asked : ndarray of bool
        Stations that count (..., S).

    Returns
    -------
    ndarray
        The least (...,) [-]; NaN if one of them is not known, infinite if none counts.
    """
    return np.asarray(np.min(np.where(asked, along, np.inf), axis=-1))


def rule(solved: Solved) -> Rule | None:
    """Return the limit on life, None if the case asks for no number of firings.

    Parameters
    ----------
    solved : Solved
        Solved runs with design and liner.

    Returns
    -------
    Rule or None
        Conservative life against the firings times the factor: a plain ratio, less 1.

    Raises
    ------
    RangeError
        Never to the caller: the margin is unknown and says why.
    """
    design = solved.design
    if design.life.firings is None:
        return None
    factor, firings = design.limits.life_factor, design.life.firings
    text = f"conservative life against {firings} firings, {factor:g} times over"
    given = design.life.ductility is not None or design.life.fatigue_strength is not None
    key = metals.LINER_KEYS["uts"] if given else "life.ductility"
    limit = Limit("life", text, "firings", "nasa_std_5012", kind="min", closes=key)
    jacket = replace(metals.jacket(design), beyond=solved.alloy.beyond)

    def compare(run: Run) -> Compared:
        found = lives(design, solved.alloy, jacket, run)
        need = np.full(found.conservative.shape, factor * firings)
        # where one station fails, one that is not known changes nothing
        fails = np.any(found.asked & (found.conservative < need), axis=-1, keepdims=True)
        unknown = found.asked & np.isnan(found.conservative)
        asked = found.asked & ~(fails & unknown)
        if found.conservative.ndim > 1:
            return Compared(found.conservative, need, asked)
        if np.any(asked & unknown):
            raise RangeError(_unknown(found, unknown, run))
        note = _basis(found, _governing(found.conservative, asked)) if asked.any() else ""
        return Compared(found.conservative, need, asked, note)

    return Rule(limit, compare)


def _governing(along: Array, asked: Mask) -> int:
    """Return the station with the least known life of those that count."""
    return int(np.nanargmin(np.where(asked, along, np.inf)))


def _unknown(found: Lives, where: Mask, run: Run) -> str:
    """Return where the life of one design is not known, and why."""
    x = 1e3 * run.stations["x_m"][where]
    span = f"x = {x.min():.0f} mm" if x.size == 1 else f"x = {x.min():.0f} to {x.max():.0f} mm"
    number = "1 station" if x.size == 1 else f"{x.size} stations"
    return f"not known at {number}, {span}: {_why(found, where)}"


def _why(found: Lives, where: Mask) -> str:
    """Return which table or fact is missing where no life was found."""
    if found.missing:
        return found.missing
    ends = found.law.ends(found.strain.T_hot[where]) if isinstance(found.law, Generic) else ""
    notes = [note for note in (ends, found.strain.note) if note]
    return "; ".join(notes) or "a table of the liner ends before the wall's temperature"


def _mode(found: Lives, at: int) -> str:
    """Return the mode that governs at a station."""
    share = float(found.creep[at] * found.conservative[at])
    if share > 0.5:
        return f"creep governs, {share:.0%} of the damage"
    rest = f", {share:.0%} of the damage creep" if share else ""
    by = "fatigue in the creep range (a tenth of the law)" if found.tenth[at] else "fatigue"
    return f"{by} governs{rest}"


def _basis(found: Lives, at: int) -> str:
    """Return what the conservative life at a station rests on."""
    T, de = float(found.strain.T_hot[at]), float(found.strain.total[at])
    state = f"strain range {100 * de:.2f} %, wall at {T:.0f} K"
    creep = "creep extrapolated beyond its tests' stress" if found.creep_beyond[at] else ""
    parts = (_mode(found, at), state, found.law.words(T, de), creep, found.strain.held)
    return "; ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """Findings on life, and columns (S,) by the names of ``COLUMNS``; none if not assessed."""

    findings: tuple[Finding, ...]
    columns: Mapping[str, Array]


def notes(told: Told) -> tuple[Note, ...]:
    """Return what every reader must know of the life.

    Parameters
    ----------
    told : Told
        From ``findings``.

    Returns
    -------
    tuple of Note
        The caution; and why the life is not known, where it is not.
    """
    caution, whole = Note("life", CAUTION), told.findings[0]
    if whole.value is not None:
        return (caution,)
    return (caution, Note("life not assessed", whole.note))


COLUMNS: dict[str, str] = {
    "life_conservative_firings": "life of the hot wall, conservative; NaN where not known",
    "life_optimistic_firings": "the same, optimistic",
}
"""Columns of the life along x."""


def findings(design: Design, liner: AlloyCondition, jacket: AlloyCondition, run: Run) -> Told:
    """Return what can be said of the life of one channel.

    Parameters
    ----------
    design : Design
        Firings asked for.
    liner, jacket : AlloyCondition
        Metals of wall and jacket.
    run : Run
        The nominal channel.

    Returns
    -------
    Told
        Section "life"; one finding without value, and why, where nothing can be assessed.
    """
    text = "conservative life: held both ways, a tenth of the law where creep counts"
    try:
        found = lives(design, liner, jacket, run)
    except RangeError as error:
        none = Finding(SECTION, "life_conservative", text, None, "firings", "common_practice")
        return Told((replace(none, note=str(error)),), {})
    told = tuple(_found(design, liner, run, found, text))
    return Told(told, dict(zip(COLUMNS, (found.conservative, found.optimistic), strict=True)))


def _found(
    design: Design, liner: AlloyCondition, run: Run, found: Lives, text: str
) -> Iterator[Finding]:
    yield _conservative(design, liner, run, found, text)
    yield from _optimistic(run, found)
    yield Finding(
        SECTION,
        "creep_damage",
        "share of life that creep takes in each firing, beside fatigue",
        float(np.nanmax(found.creep)) if np.any(found.creep > 0.0) else None,
        "-",
        found.creep_source,
        None,
        found.creep_words,
    )
    if np.isfinite(found.strain.plastic).any():
        yield _thinning(design, liner, run, found.strain)


def _conservative(
    design: Design, liner: AlloyCondition, run: Run, found: Lives, text: str
) -> Finding:
    """Return the life that judges: the least over all stations, or not known.

    Where a known station lives less than is asked, the least of the known ones says enough.
    """
    x, along, asked = run.stations["x_m"], found.conservative, found.asked
    none = Finding(SECTION, "life_conservative", text, None, "firings", found.law.source)
    if not asked.any():
        return replace(none, note=f"no firing heats the wall above {REST:.0f} K")
    unknown = asked & np.isnan(along)
    why = _unknown(found, unknown, run) if unknown.any() else ""
    if not np.any(asked & ~unknown):
        return replace(none, note=why)
    at = _governing(along, asked)
    known = replace(none, value=float(along[at]), x_m=float(x[at]))
    basis = f"{_basis(found, at)}; {liner}"
    need = design.limits.life_factor * (design.life.firings or 0)
    if not why:
        return replace(known, note=basis)
    if along[at] < need:
        return replace(known, note=f"{basis}. Life is at most this: {why}")
    least = f"the shortest life that is known is {along[at]:.0f} firings"
    hottest = int(np.argmax(np.where(unknown, found.strain.T_hot, -np.inf)))
    return replace(none, x_m=float(x[hottest]), note=f"{why}. Elsewhere {least}: {basis}")


def _optimistic(run: Run, found: Lives) -> Iterator[Finding]:
    """Yield the optimistic life, which judges nothing, and the same by the modified method."""
    text = "optimistic life, which judges nothing: held across the channels alone, no creep"
    none = Finding(SECTION, "life_optimistic", text, None, "firings", found.law.source)
    unknown = found.asked & np.isnan(found.optimistic)
    if unknown.any():
        yield replace(none, note=_unknown(found, unknown, run))
        return
    if not found.asked.any():
        return
    at = _governing(found.optimistic, found.asked)
    T, de = float(found.strain.T_hot[at]), float(found.strain.total_low[at])
    generic = isinstance(found.law, Generic)
    warning = " Unsafe alone for a hot copper liner." if generic else ""
    note = f"strain range {100 * de:.2f} %, wall at {T:.0f} K; {found.law.words(T, de)}.{warning}"
    place = float(run.stations["x_m"][at])
    yield replace(none, value=float(found.optimistic[at]), x_m=place, note=note)
    if isinstance(found.law, Generic):
        modified = found.law.modified(found.strain.T_hot, found.strain.total_low)
        yield Finding(
            SECTION,
            "life_optimistic_modified",
            "the same by the modified universal slopes, for comparison",
            float(modified[at]),
            "firings",
            "muralidharan_manson1988",
            place,
        )


def _thinning(design: Design, liner: AlloyCondition, run: Run, strain: StrainRange) -> Finding:
    """Return how much thinner the channel floor gets each firing: an estimate, no limit."""
    s, view = run.stations, replace(liner, beyond="nan")
    w, t = s["channel_width_m"], s["wall_m"]
    hot = np.abs(s["p_coolant_Pa"] - s["p_gas_Pa"])
    bulge = np.zeros(())
    for dp, T in ((hot, strain.T_hot), (s["p_coolant_Pa"], s["T_coolant_K"])):
        strength = view.value("yield", T).value
        bulge = bulge + laws.floor_bulge(dp, w, t, strain.plastic, strength)
    thinner = bulge * w / (w + s["land_width_m"])
    name, text = "floor_thinning", "channel floor gets thinner each firing by about"
    if not np.isfinite(thinner).any():
        note = "yield is not tabulated over the range"
        return Finding(SECTION, name, text, None, "m", "viscous_bulge", None, note)
    at = int(np.nanargmax(thinner))
    asked = design.life.firings or 0
    total = f"; {1e3 * asked * thinner[at]:.2g} mm in {asked} firings" if asked else ""
    note = (
        f"estimate, order of magnitude, not the published beam model: calibrate it by a chamber"
        f" test. Of {1e3 * t[at]:.2g} mm{total}; information only, no limit or size is held to it"
    )
    return Finding(
        SECTION, name, text, float(thinner[at]), "m", "viscous_bulge", float(s["x_m"][at]), note
    )
