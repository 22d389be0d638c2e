"""Margins of a solved design: each limit against nominal, band's hot edge and worst channel."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.checks import life, structure_rules
from regen.checks.coolant import burnout_flux
from regen.checks.lane import INJECTOR as INJECTOR
from regen.checks.lane import LOWEST_PRESSURE as LOWEST_PRESSURE
from regen.checks.lane import Compare, Compared
from regen.checks.lane import Lane as Lane
from regen.checks.lane import Limit as Limit
from regen.checks.lane import Outcome as Outcome
from regen.checks.lane import Rule as Rule
from regen.checks.lane import Solved as Solved
from regen.properties import metals
from regen.properties.alloys import Fact, RangeError
from regen.result import Array, Margin, Note, Verdict
from regen.sources import MARKS

DATA = Path(__file__).parent.parent / "data"
COKING_FILE = DATA / "coking.toml"
SULFUR_FILE = DATA / "copper_sulfur.toml"

FLUX_RECORD = 170e6
"""No wall flux above 163.5 MW/m2 was found in print [W/m2]; source wall_flux_record."""


class Hot(NamedTuple):
    """Temperatures of the liner (..., S) [K], stations that count (None: all), and a note."""

    T: Array
    asked: NDArray[np.bool_] | None = None
    note: str = ""


class _Judged(NamedTuple):
    margin: float | None
    limit: float | None
    at: int | None
    note: str


def open_edge(margin: Margin, count: int) -> Margin:
    """Return a margin whose band edge is not shown, since members of the band were not solved.

    Parameters
    ----------
    margin : Margin
        Judged over the members that were solved.
    count : int
        Members that were not [-].

    Returns
    -------
    Margin
        As it was if a solved member breaks the limit already; else without a band edge, and
        no better than marginal.
    """
    if margin.band_edge is None or margin.band_edge < 0.0:
        return margin
    verdict: Verdict = "marginal" if margin.verdict == "pass" else margin.verdict
    why = f"band edge not shown: {count} members of the band were not solved"
    note = f"{margin.note}; {why}" if margin.note else why
    return replace(margin, band_edge=None, verdict=verdict, note=note)


def relative(compared: Compared, kind: Literal["max", "min"]) -> Array:
    """Return the relative margins, positive where the limit is kept.

    Parameters
    ----------
    compared : Compared
        Values and limits (..., S) [same unit].
    kind : {"max", "min"}
        Sense of the limit.

    Returns
    -------
    ndarray
        (limit - value)/limit or (value - limit)/limit, (..., S) [-]; infinite where there is no
        demand.
    """
    sign = 1.0 if kind == "max" else -1.0
    margins = sign * (compared.limit - compared.value) / compared.limit
    return margins if compared.asked is None else np.where(compared.asked, margins, np.inf)


def along(limit: Limit, compare: Compare, lane: Lane) -> Array:
    """Return the margins of one limit along x, of each of many designs.

    Parameters
    ----------
    limit : Limit
        What is judged.
    compare : callable
        Gives values and limits by station.
    lane : Lane
        One lane of L designs.

    Returns
    -------
    ndarray
        (L, S) [-]; NaN where it cannot be evaluated, infinite where there is no demand.
    """
    try:
        compared = compare(lane)
    except RangeError:
        return np.full(lane.stations["x_m"].shape, np.nan)
    margins = relative(compared, limit.kind)
    asked = np.True_ if compared.asked is None else compared.asked
    return np.where(asked & ~np.isfinite(margins), np.nan, margins)


def least(margins: Array) -> Array:
    """Return the least of margins along x.

    Parameters
    ----------
    margins : ndarray
        From ``along`` (L, S) [-].

    Returns
    -------
    ndarray
        (L,) [-]; NaN where one cannot be evaluated, 1 without any demand.
    """
    found = np.min(margins, axis=-1)
    return np.where(np.isposinf(found), 1.0, found)


def _judge_lane(lane: Outcome, compare: Compare, kind: Literal["max", "min"]) -> _Judged:
    if lane is None:
        return _Judged(None, None, None, "")
    if isinstance(lane, str):
        return _Judged(None, None, None, f"not solved: {lane}")
    try:
        compared = compare(lane)
    except RangeError as error:
        return _Judged(None, None, None, f"not evaluated: {error}")
    asked = np.ones(compared.value.shape, dtype=bool) if compared.asked is None else compared.asked
    if not asked.any():
        return _Judged(1.0, None, None, compared.note)
    margins = relative(compared, kind)
    if not np.all(np.isfinite(margins[asked])):
        return _Judged(None, None, None, "not evaluated: a value is not finite")
    worst = int(np.argmin(margins))
    return _Judged(float(margins[worst]), float(compared.limit[worst]), worst, compared.note)


def judge(limit: Limit, solved: Solved, compare: Compare) -> Margin:
    """Return the margin of one limit over nominal, band edge and worst channel.

    Parameters
    ----------
    limit : Limit
        What is judged.
    solved : Solved
        The solved lanes.
    compare : callable
        Gives values and limits by station for a lane; may raise ``RangeError`` where an
        allowable is not tabulated.

    Returns
    -------
    Margin
        ``limit`` and ``x_m`` are those of the nominal lane's governing station.

    Notes
    -----
    Unknown, or what the limit says of itself: the nominal cannot be evaluated. Fail: it misses
    the limit. Marginal: it keeps the limit, but the band edge or the worst channel does not, or
    is not shown to.
    """
    nominal = _judge_lane(solved.nominal, compare, limit.kind)
    others = {"band edge": solved.band, "worst channel": solved.worst}
    judged = {name: _judge_lane(lane, compare, limit.kind) for name, lane in others.items()}
    asked = [judged[name].margin for name, lane in others.items() if lane is not None]
    notes = [limit.note, nominal.note]
    notes += [f"{name} {j.note}" for name, j in judged.items() if j.margin is None and j.note]
    x = None
    if nominal.at is not None:
        x = float(solved.nominal.stations["x_m"][nominal.at])
    return Margin(
        name=limit.name,
        text=limit.text,
        unit=limit.unit,
        limit=nominal.limit,
        kind=limit.kind,
        nominal=nominal.margin,
        band_edge=judged["band edge"].margin,
        worst_channel=judged["worst channel"].margin,
        x_m=x,
        verdict=limit.missing if nominal.margin is None else _verdict(nominal.margin, asked),
        source=limit.source,
        note="; ".join(note for note in notes if note),
        informative=limit.informative,
    )


def _verdict(nominal: float, others: Iterable[float | None]) -> Verdict:
    if nominal < 0.0:
        return "fail"
    if any(margin is None or margin < 0.0 for margin in others):
        return "marginal"
    return "pass"


def overall(margins: Iterable[Margin]) -> Verdict:
    """Return the design's verdict: the worst of fail, unknown, marginal, pass.

    Parameters
    ----------
    margins : iterable of Margin
        All margins; informative ones do not count.

    Returns
    -------
    {"pass", "marginal", "fail", "unknown"}
        Unknown if nothing was judged.
    """
    verdicts = {margin.verdict for margin in margins if not margin.informative}
    order: tuple[Verdict, ...] = ("fail", "unknown", "marginal", "pass")
    return next((verdict for verdict in order if verdict in verdicts), "unknown")


def rules(solved: Solved) -> tuple[Rule, ...]:
    """Return every limit that applies to a design.

    Parameters
    ----------
    solved : Solved
        Solved lanes with design, liner and coolant.

    Returns
    -------
    tuple of Rule
        Ordered from hot wall to injector.
    """
    wall: tuple[Callable[[Solved], Rule | None], ...] = (_hot_wall, _melting, _coolant_wall)
    coolant = (_coolant_bulk, _burnout, _mach, _injector)
    before, after = ([r for make in part if (r := make(solved))] for part in (wall, coolant))
    lives = life.rule(solved)
    return (*before, *structure_rules.rules(solved), *((lives,) if lives else ()), *after)


def margins(solved: Solved) -> tuple[Margin, ...]:
    """Return every margin that applies to the design.

    Parameters
    ----------
    solved : Solved
        Solved lanes with design, liner and coolant.

    Returns
    -------
    tuple of Margin
        Ordered from hot wall to injector. ``notes`` says what was not assessed and why.
    """
    return tuple(judge(rule.limit, solved, rule.compare) for rule in rules(solved))


def _said(fact: Fact) -> str:
    return f"limit {MARKS[fact.mark] or 'seen in its source'}"


def _everywhere(value: Array, limit: Array | float, note: str = "") -> Compared:
    return Compared(value, np.broadcast_to(np.asarray(limit), value.shape), None, note)


def _hot_wall_temperature(lane: Lane) -> Array:
    """Return the hot wall by station, the hottest row raised to the peak between rows."""
    T = np.array(lane.stations["T_wall_hot_K"])
    hottest = np.argmax(T, axis=-1)[..., None]
    peak = np.asarray(lane.totals["T_wall_hot_max_K"])[..., None]
    raised = np.maximum(np.take_along_axis(T, hottest, axis=-1), peak)
    np.put_along_axis(T, hottest, raised, axis=-1)
    return T


def _hot_wall(solved: Solved) -> Rule:
    limits = solved.design.limits
    text = f"hot-gas-side wall temperature, {limits.service} service of {solved.alloy.alloy.key}"

    def everywhere(lane: Lane) -> Hot:
        return Hot(_hot_wall_temperature(lane))

    return hot_wall_rule(solved, "hot_wall_temperature", text, everywhere)


def hot_wall_rule(
    solved: Solved, name: str, text: str, temperatures: Callable[[Lane], Hot]
) -> Rule:
    """Return the rule for temperatures of the liner against its working limit.

    Parameters
    ----------
    solved : Solved
        The solved lanes.
    name, text : str
        Name of the margin and what it is about.
    temperatures : callable
        Gives the temperatures of a lane; may raise ``RangeError``.

    Returns
    -------
    Rule
        Against the limit of the case, else that of the alloy; its margin is unknown if there is
        neither.

    Raises
    ------
    RangeError
        Never to the caller: the margin is unknown and says why.
    """
    service, given = solved.design.limits.service, solved.design.limits.T_wall_hot
    fact = solved.alloy.limit(service)
    if given is not None:
        fact = Fact(given, "K", "given_in_case", "common-practice")
    mark = _said(fact) if fact and given is None else ""
    limit = Limit(name, text, "K", fact.source if fact else "wall_limits", note=mark)

    def compare(lane: Lane) -> Compared:
        if fact is None:
            message = (
                f"no working limit of {solved.alloy.alloy.key} is tabulated for"
                f" {service} service; give limits.T_wall_hot"
            )
            raise RangeError(message)
        hot = temperatures(lane)
        return Compared(hot.T, np.full(hot.T.shape, fact.value), hot.asked, hot.note)

    return Rule(limit, compare)


def _melting(solved: Solved) -> Rule | None:
    solidus = solved.alloy.alloy.solidus
    if solidus is None:
        return None
    limit = Limit("melting", "hot-gas-side wall below the solidus", "K", solidus.source)
    return Rule(limit, lambda lane: _everywhere(_hot_wall_temperature(lane), solidus.value))


@cache
def coking_limits() -> dict[str, Fact]:
    """Return the wall temperature above which a coolant leaves deposits, by coolant.

    Returns
    -------
    dict of str to Fact
        Limits that can be defended [K]; a coolant that is not there is not assessed.
    """
    return {coolant: fact for coolant, (fact, _) in _facts(COKING_FILE).items()}


@cache
def sulfur_limits() -> dict[str, tuple[Fact, str]]:
    """Return from which temperature sulfur in a coolant attacks a copper wall, by coolant.

    Returns
    -------
    dict of str to tuple
        Temperature [K] as a Fact, and where the sulfur comes from, in words.
    """
    return _facts(SULFUR_FILE)


def _facts(path: Path) -> dict[str, tuple[Fact, str]]:
    """Return the facts of a file with one stanza a coolant, and their notes."""
    entries = tomllib.loads(path.read_text(encoding="utf-8"))
    return {
        k: (Fact(e["value"], e["unit"], e["source"], e["mark"]), e.get("note", ""))
        for k, e in entries.items()
    }


def _coolant_wall_limit(solved: Solved) -> Fact | None:
    given = solved.design.limits.T_wall_cold
    if given is not None:
        return Fact(given, "K", "given_in_case", "common-practice")
    return coking_limits().get(solved.coolant.fluid)


def _coolant_wall(solved: Solved) -> Rule | None:
    fact = _coolant_wall_limit(solved)
    if fact is None:
        return None
    text = f"hottest place of the slot floor: deposits of {solved.coolant.fluid}"
    limit = Limit(
        "coolant_wall_temperature",
        text,
        "K",
        fact.source,
        note=_said(fact),
    )
    return Rule(limit, lambda lane: _everywhere(lane.stations["T_wall_floor_K"], fact.value))


def _nearest_to_boiling(lane: Lane) -> dict[str, Array]:
    """Return the lane's stations at the pressure that is nearest to boiling."""
    s = dict(lane.stations)
    s["p_coolant_Pa"] = s.get(LOWEST_PRESSURE, s["p_coolant_Pa"])
    return s


def _coolant_bulk(solved: Solved) -> Rule:
    facts = solved.coolant
    text = "coolant bulk below saturation, or above the critical pressure within its properties"
    limit = Limit("coolant_temperature", text, "K", "common_practice")

    def compare(lane: Lane) -> Compared:
        s = _nearest_to_boiling(lane)
        return _everywhere(s["T_coolant_K"], facts.highest_temperature(s["p_coolant_Pa"]))

    return Rule(limit, compare)


def _burnout(solved: Solved) -> Rule | None:
    facts, fraction = solved.coolant, solved.design.limits.burnout_fraction
    lanes = [lane for lane in (solved.nominal, solved.band, solved.worst) if isinstance(lane, Lane)]
    if any(np.any(lane.stations["p_coolant_Pa"] < facts.may_boil_below) for lane in lanes):
        return _boiling_unknown(solved)
    if not any(np.any(lane.stations["p_coolant_Pa"] < facts.p_critical) for lane in lanes):
        return None
    text = f"flux at the slot floor within {fraction:g} of the critical heat flux"
    unverified = (
        "" if facts.fluid == "water" else f"correlation of water, unverified for {facts.fluid}"
    )
    limit = Limit("burnout", text, "W/m2", "hall_mudawar2000", note=unverified)

    def compare(lane: Lane) -> Compared:
        s = _nearest_to_boiling(lane)
        asked = np.asarray(s["p_coolant_Pa"] < facts.p_critical)
        critical, q = burnout_flux(facts, s), s["q_wetted_W_m2"]
        note = critical.note(q, asked) if q.ndim == 1 else ""
        return Compared(q, fraction * critical.governing, asked, note)

    return Rule(limit, compare)


def _boiling_unknown(solved: Solved) -> Rule:
    """Return the rule of a coolant that may boil with nothing known of it: never evaluated."""
    fluid, text = solved.coolant.fluid, "flux at the slot floor below the critical heat flux"
    limit = Limit("burnout", text, "W/m2", "given_in_case")

    def compare(lane: Lane) -> Compared:
        message = (
            f"no saturation of {fluid} is given: boiling is not judged; give coolant.saturation, "
            "or coolant.critical_pressure if it stays above it"
        )
        raise RangeError(message)

    return Rule(limit, compare)


def _mach(solved: Solved) -> Rule:
    limit = Limit("coolant_mach", "well below choking at every station", "-", "common_practice")
    highest = solved.design.limits.mach
    return Rule(limit, lambda lane: _everywhere(lane.stations["mach_coolant"], highest))


def _injector(solved: Solved) -> Rule | None:
    if not solved.design.coolant.returns_to_injector:
        return None
    share = solved.design.limits.injector_drop_fraction
    text = f"pressure left for the injector, {share:g} of the chamber pressure asked for"
    limit = Limit("injector_pressure", text, "Pa", "common_practice", kind="min")

    def compare(lane: Lane) -> Compared:
        length = lane.stations["passage_length_m"]
        at_outlet = length == length.max(axis=-1, keepdims=True)
        first = np.cumsum(at_outlet, axis=-1) == 1
        chamber = lane.totals.get(INJECTOR, solved.injector_pressure)
        left = np.asarray(lane.totals["coolant_pressure_out_Pa"] - chamber)
        wanted = np.asarray(share * chamber)
        value = np.broadcast_to(left[..., None], length.shape)
        limit = np.broadcast_to(wanted[..., None], length.shape)
        return Compared(value, limit, np.asarray(at_outlet & first))

    return Rule(limit, compare)


def _sulfur(solved: Solved) -> list[Note]:
    """Return the note on sulfur, where the floor of a copper slot is hot enough for its attack."""
    fluid, floor = solved.coolant.fluid, solved.nominal.stations["T_wall_floor_K"]
    if fluid not in sulfur_limits() or not solved.alloy.alloy.composition.startswith("Cu"):
        return []
    fact, origin = sulfur_limits()[fluid]
    hottest = int(np.argmax(floor))
    if floor[hottest] <= fact.value:
        return []
    text = (
        f"the slot floor comes to {10.0 * round(floor[hottest] / 10.0):.0f} K; from about "
        f"{fact.value:.0f} K ({MARKS[fact.mark]}) sulfur at parts per million roughens copper and "
        f"takes flow; {origin}; plating the slots with nickel (seen to help) or gold is a cure"
    )
    return [Note("sulfur", text, float(solved.nominal.stations["x_m"][hottest]))]


def notes(solved: Solved) -> tuple[Note, ...]:
    """Return what a reviewer must know beside the margins.

    Parameters
    ----------
    solved : Solved
        Solved lanes with design, liner and coolant.

    Returns
    -------
    tuple of Note
        Limits that were not assessed, properties held beyond their table, an unheard-of flux,
        and the notes of the liner.
    """
    found: list[Note] = []
    s, alloy = solved.nominal.stations, solved.alloy.alloy
    if _coolant_wall_limit(solved) is None:
        text = (
            f"no limit of the coolant-side wall is known for {solved.coolant.fluid}: not assessed;"
            " give limits.T_wall_cold to judge one"
        )
        found.append(Note("coolant wall not assessed", text))
    found += _sulfur(solved)
    if alloy.solidus is None:
        found.append(Note("melting not assessed", f"no solidus of {alloy.key} is tabulated"))
    wall = np.concatenate([s["T_wall_hot_K"], s["T_wall_cold_K"]])
    held = solved.alloy.value("thermal_conductivity", wall).note
    if held:
        found.append(Note("conductivity held", held))
    burnout = _burnout(solved)
    judged = burnout is not None and burnout.limit.source == "hall_mudawar2000"
    if solved.coolant.fluid != "water" and judged:
        text = f"burnout is judged by correlations of water, unverified for {solved.coolant.fluid}"
        found.append(Note("burnout", text))
    q = float(solved.nominal.totals["q_max_W_m2"])
    if q > FLUX_RECORD:
        text = (
            f"peak flux {q / 1e6:.0f} MW/m2: no wall flux above 163.5 MW/m2 was found in print"
            " (wall_flux_record); check the case"
        )
        found.append(Note("flux beyond experience", text, float(s["x_m"][np.argmax(s["q_W_m2"])])))
    found += [Note("planned heating", text) for text in metals.heating_notes(solved.design)]
    found += [Note("liner", f"{alloy.key}: {text}") for text in alloy.notes]
    return tuple(found)
