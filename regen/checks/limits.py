"""Margins of a solved design: each limit against nominal, band's hot edge and worst channel."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.checks import shop_rules, verdict
from regen.checks.coolant import burnout_flux
from regen.checks.life import assess as life
from regen.checks.runs import INJECTOR as INJECTOR
from regen.checks.runs import LOWEST_PRESSURE as LOWEST_PRESSURE
from regen.checks.runs import Compare, Compared
from regen.checks.runs import Limit as Limit
from regen.checks.runs import Outcome as Outcome
from regen.checks.runs import Rule as Rule
from regen.checks.runs import Run as Run
from regen.checks.runs import Solved as Solved
from regen.checks.runs import Stopped as Stopped
from regen.checks.strength import rules as structure_rules
from regen.errors import RangeError
from regen.metals import selection as metals
from regen.metals.alloys import Fact
from regen.result import Array, Column, Margin, Note, Verdict
from regen.sources import DATA, MARKS

COKING_FILE = DATA / "coking.toml"
SULFUR_FILE = DATA / "copper_sulfur.toml"

BURNOUT_FRACTION = 0.5
"""Share of the critical heat flux that is accepted where the case says none: common practice."""

FLUX_RECORD = 170e6
"""No wall flux above 163.5 MW/m2 was found in print [W/m2]; source wall_flux_record."""


class Hot(NamedTuple):
    """Temperatures of the liner (..., S) [K], stations that count (None: all), note, caution."""

    T: Array
    asked: NDArray[np.bool_] | None = None
    note: str = ""
    caution: str = ""


def along(limit: Limit, compare: Compare, run: Run) -> tuple[Array, NDArray[np.bool_] | None]:
    """Return the margins of one limit along x, of each of many designs.

    Parameters
    ----------
    limit : Limit
        What is judged.
    compare : callable
        Gives values and limits by station.
    run : Run
        One run of L designs.

    Returns
    -------
    tuple of ndarray
        (L, S) [-]; NaN where it cannot be evaluated, infinite where there is no demand. And where
        they are indicative only, None for nowhere.
    """
    try:
        compared = compare(run)
    except RangeError:
        return np.full(run.stations["x_m"].shape, np.nan), None
    return verdict.relative(compared, limit.kind), compared.indicative


class _Judged(NamedTuple):
    """What one run makes of a limit; ``given`` is false where a run stopped."""

    column: verdict.Columns
    limit: float | None = None
    x_m: float | None = None
    note: str = ""
    why: str = ""
    caution: str = ""
    given: bool = True


def _judge_run(
    outcome: Outcome, limit: Limit, compare: Compare, explain: Compare
) -> _Judged | None:
    """Return what one run makes of a limit, None if it stopped and the limit rests on it not."""
    if isinstance(outcome, Stopped):
        state = verdict.stopped(limit.name, outcome.code)
        if state is None:
            return None
        column = verdict.constant(state)
        return _Judged(column, x_m=outcome.x_m, why=outcome.why, given=False)
    try:
        compared = compare(outcome)
    except RangeError as error:
        return _Judged(verdict.unknown(), why=str(error))
    margins = verdict.relative(compared, limit.kind)
    found = verdict.column(margins, compared.indicative)
    why = compared.note if found.indicative else ""
    if found.state == verdict.UNKNOWN:
        x = outcome.stations["x_m"][np.isnan(margins)]
        why = f"a value is not known at {x.size} stations, from x = {x[0] * 1e3:.0f} mm"
        try:
            explain(outcome)
        except RangeError as error:
            why = str(error)
    at = int(found.at)
    if at < 0:
        return _Judged(found, note=compared.note, why=why, caution=compared.caution)
    return _Judged(
        found,
        limit=float(compared.limit[at]),
        x_m=float(outcome.stations["x_m"][at]),
        note=compared.note,
        why=why,
        caution=compared.caution,
    )


class _Found(NamedTuple):
    """A column, the run that governs it, and whether a key of the case could close it."""

    column: Column
    governing: _Judged
    closes: bool


def _judge_column(
    outcomes: Sequence[Outcome], limit: Limit, compare: Compare, explain: Compare
) -> _Found:
    """Judge one column over all its runs."""
    every = (_judge_run(outcome, limit, compare, explain) for outcome in outcomes)
    judged = [one for one in every if one is not None]
    if not judged and limit.shared:
        kept = _Judged(verdict.constant(verdict.KEPT))
        return _Found(Column("kept", 1.0, asked=False), kept, closes=False)
    if not judged:  # all of them stopped, by what does not bear on this limit
        stops = [o.why for o in outcomes if isinstance(o, Stopped)]
        judged = [_Judged(verdict.unknown(), why=why, given=False) for why in stops]
    whole = verdict.together([one.column for one in judged])
    number, state = float(whole.margin), verdict.STATES[int(whole.state)]
    deciding = [one for one in judged if one.column.state == whole.state]
    governing = next((one for one in deciding if one.column.margin == number), deciding[0])
    whys = list(dict.fromkeys(one.why for one in (governing, *deciding) if one.why))
    why = f"{whys[0]}; and {len(whys) - 1} more" if len(whys) > 1 else "".join(whys)
    column = Column(
        state,
        None if np.isnan(number) else number,
        bool(whole.indicative),
        why,
        governing.caution,
        asked=not all(one.given and one.column.at < 0 and not one.why for one in deciding),
    )
    open_by_value = state == "unknown" and any(one.given for one in deciding)
    return _Found(column, governing, bool(whole.indicative) or open_by_value)


def judge(limit: Limit, solved: Solved, compare: Compare, explain: Compare | None = None) -> Margin:
    """Return the row of one limit: nominal channel, band edge and worst channel.

    Parameters
    ----------
    limit : Limit
        What is judged.
    solved : Solved
        The solved runs.
    compare : callable
        Gives values and limits by station for a run, NaN where they are not known; may raise
        ``RangeError`` where nothing is.
    explain : callable, optional
        The same, but raises ``RangeError`` with the reason where a value is not known.

    Returns
    -------
    Margin
        ``limit`` and ``x_m`` are those of the nominal run's governing station; ``verdict.row``
        says how the columns make the verdict.
    """
    explain = explain or compare
    found = {"nominal": _judge_column([solved.nominal], limit, compare, explain)}
    for name, outcomes in (("band_edge", solved.band), ("worst_channel", solved.worst)):
        if outcomes:
            found[name] = _judge_column(outcomes, limit, compare, explain)
    governing = found["nominal"].governing
    columns = {name: one.column for name, one in found.items()}
    said = [governing.note, governing.caution]
    if columns["nominal"].state == "unknown":
        said.append(columns["nominal"].why)
    return Margin(
        name=limit.name,
        text=limit.text,
        unit=limit.unit,
        limit=governing.limit,
        kind=limit.kind,
        columns=columns,
        x_m=governing.x_m,
        verdict=None if limit.informative else _verdict(columns),
        source=limit.source,
        note="; ".join(part for part in (limit.note, *said) if part),
        closes=limit.closes if any(one.closes for one in found.values()) else "",
    )


def _verdict(columns: Mapping[str, Column]) -> Verdict:
    coded = [
        verdict.Columns(
            np.asarray(verdict.STATES.index(one.state)),
            np.asarray(one.indicative),
            np.asarray(np.nan),
            np.asarray(-1),
        )
        for one in columns.values()
    ]
    return verdict.VERDICTS[int(verdict.row(coded[0], coded[1:]))]


def overall(margins: Iterable[Margin]) -> Verdict:
    """Return the design's verdict: fail, else at risk, else open, else pass."""
    return verdict.overall(margin.verdict for margin in margins)


def rules(solved: Solved) -> tuple[Rule, ...]:
    """Return every limit that applies to a design.

    Parameters
    ----------
    solved : Solved
        Solved runs with design, liner and coolant.

    Returns
    -------
    tuple of Rule
        Ordered from hot wall to injector, then the shop's.
    """
    wall: tuple[Callable[[Solved], Rule | None], ...] = (_hot_wall, _melting, _coolant_wall)
    coolant = (_coolant_bulk, _burnout, _mach, _injector)
    before, after = ([r for make in part if (r := make(solved))] for part in (wall, coolant))
    lives = life.rule(solved)
    shop = shop_rules.rules(solved)
    return (*before, *structure_rules.rules(solved), *((lives,) if lives else ()), *after, *shop)


def margins(solved: Solved) -> tuple[Margin, ...]:
    """Return every margin that applies to the design.

    Parameters
    ----------
    solved : Solved
        Solved runs with design, liner and coolant.

    Returns
    -------
    tuple of Margin
        Ordered from hot wall to injector. ``notes`` says what was not assessed and why.
    """
    # a station beyond a table hides no other that is broken; the tables say what is missing
    quiet = replace(solved, alloy=replace(solved.alloy, beyond="nan"))
    pairs = zip(rules(quiet), rules(solved), strict=True)
    return tuple(judge(rule.limit, solved, rule.compare, loud.compare) for rule, loud in pairs)


def _said(fact: Fact) -> str:
    return f"limit {MARKS[fact.mark] or 'seen in its source'}"


def _everywhere(value: Array, limit: Array | float, caution: str = "") -> Compared:
    return Compared(value, np.broadcast_to(np.asarray(limit), value.shape), caution=caution)


def _hot_wall_temperature(run: Run) -> Array:
    """Return the hot wall by station, the hottest row raised to the peak between rows."""
    T = np.array(run.stations["T_wall_hot_K"])
    hottest = np.argmax(T, axis=-1)[..., None]
    peak = np.asarray(run.totals["T_wall_hot_max_K"])[..., None]
    raised = np.maximum(np.take_along_axis(T, hottest, axis=-1), peak)
    np.put_along_axis(T, hottest, raised, axis=-1)
    return T


def _hot_wall(solved: Solved) -> Rule:
    limits = solved.design.limits
    text = f"hot-gas-side wall temperature, {limits.service} service of {solved.alloy.alloy.key}"

    def everywhere(run: Run) -> Hot:
        return Hot(_hot_wall_temperature(run), caution=_extrapolated(solved, run))

    return hot_wall_rule(solved, "hot_wall_temperature", text, everywhere)


def _extrapolated(solved: Solved, run: Run) -> str:
    """Say, of one design, where the coolant at the wall is hotter than its properties cover."""
    T = run.stations["T_wall_cold_K"]
    beyond = int(np.count_nonzero(T > solved.coolant.T_max)) if T.ndim == 1 else 0
    if not beyond:
        return ""
    return (
        f"coolant properties at the wall are extrapolated at {beyond} of {T.size} stations: they"
        f" end at {solved.coolant.T_max:.0f} K"
    )


def hot_wall_rule(solved: Solved, name: str, text: str, temperatures: Callable[[Run], Hot]) -> Rule:
    """Return the rule for temperatures of the liner against its working limit.

    Parameters
    ----------
    solved : Solved
        The solved runs.
    name, text : str
        Name of the margin and what it is about.
    temperatures : callable
        Gives the temperatures of a run; may raise ``RangeError``.

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
    source = fact.source if fact else "wall_limits"
    limit = Limit(name, text, "K", source, note=mark, closes="limits.T_wall_hot")

    def compare(run: Run) -> Compared:
        if fact is None:
            message = (
                f"no working limit of {solved.alloy.alloy.key} is tabulated for"
                f" {service} service; give limits.T_wall_hot"
            )
            raise RangeError(message)
        hot = temperatures(run)
        limit_T = np.full(hot.T.shape, fact.value)
        return Compared(hot.T, limit_T, hot.asked, hot.note, caution=hot.caution)

    return Rule(limit, compare)


def _melting(solved: Solved) -> Rule | None:
    solidus = solved.alloy.alloy.solidus
    if solidus is None:
        return None
    limit = Limit("melting", "hot-gas-side wall below the solidus", "K", solidus.source)
    return Rule(limit, lambda run: _everywhere(_hot_wall_temperature(run), solidus.value))


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
    return Rule(
        limit,
        lambda run: _everywhere(
            run.stations["T_wall_floor_K"], fact.value, _extrapolated(solved, run)
        ),
    )


def _nearest_to_boiling(run: Run) -> dict[str, Array]:
    """Return the run's stations at the pressure that is nearest to boiling."""
    s = dict(run.stations)
    s["p_coolant_Pa"] = s.get(LOWEST_PRESSURE, s["p_coolant_Pa"])
    return s


def _coolant_bulk(solved: Solved) -> Rule:
    facts = solved.coolant
    text = "coolant bulk below saturation, or above the critical pressure within its properties"
    limit = Limit("coolant_temperature", text, "K", "common_practice")

    def compare(run: Run) -> Compared:
        s = _nearest_to_boiling(run)
        return _everywhere(s["T_coolant_K"], facts.highest_temperature(s["p_coolant_Pa"]))

    return Rule(limit, compare)


def _burnout(solved: Solved) -> Rule | None:
    facts, limits = solved.coolant, solved.design.limits
    runs = [run for run in (solved.nominal, *solved.band, *solved.worst) if isinstance(run, Run)]
    if any(np.any(run.stations["p_coolant_Pa"] < facts.may_boil_below) for run in runs):
        return _boiling_unknown(solved)
    if not any(np.any(run.stations["p_coolant_Pa"] < facts.p_critical) for run in runs):
        return None
    fraction, own = limits.burnout_fraction or BURNOUT_FRACTION, limits.burnout_flux
    text = f"flux at the slot floor within {fraction:g} of the critical heat flux"
    of_water = facts.fluid == "water"
    by_user = own is not None or limits.burnout_fraction is not None
    source, note = "hall_mudawar2000" if own is None else "given_in_case", ""
    if own is not None:
        note = f"limits.burnout_flux, {own / 1e6:g} MW/m2, of the case"
    elif not of_water and by_user:
        note = f"correlation of water on {facts.fluid}, at the fraction that the case gives"
    closes = "" if of_water or by_user else "limits.burnout_flux"
    limit = Limit("burnout", text, "W/m2", source, note=note, closes=closes)

    def compare(run: Run) -> Compared:
        s = _nearest_to_boiling(run)
        asked = np.asarray(s["p_coolant_Pa"] < facts.p_critical)
        q = s["q_wetted_W_m2"]
        if own is not None:
            return Compared(q, np.full(q.shape, fraction * own), asked)
        critical = burnout_flux(facts, s)
        said = critical.note(q, asked) if q.ndim == 1 else ""
        indicative = asked if closes else None
        if closes:
            said = f"correlation of water, unverified for {facts.fluid}: {said}"
        return Compared(q, fraction * critical.governing, asked, said, indicative)

    return Rule(limit, compare)


def _boiling_unknown(solved: Solved) -> Rule:
    """Return the rule of a coolant that may boil with nothing known of it: never evaluated."""
    fluid, text = solved.coolant.fluid, "flux at the slot floor below the critical heat flux"
    limit = Limit("burnout", text, "W/m2", "given_in_case", closes="coolant.saturation")

    def compare(run: Run) -> Compared:
        message = (
            f"no saturation of {fluid} is given: boiling is not judged; give coolant.saturation, "
            "or coolant.critical_pressure if it stays above it"
        )
        raise RangeError(message)

    return Rule(limit, compare)


def _mach(solved: Solved) -> Rule:
    limit = Limit("coolant_mach", "well below choking at every station", "-", "common_practice")
    highest = solved.design.limits.mach
    return Rule(limit, lambda run: _everywhere(run.stations["mach_coolant"], highest))


def _injector(solved: Solved) -> Rule | None:
    feed, share = solved.design.coolant, solved.design.limits.injector_drop_fraction
    text = f"pressure left for the injector, {share:g} of the chamber pressure asked for"
    if feed.feeds_injector is False:
        return None
    key = "coolant.feeds_injector"
    limit = Limit(
        "injector_pressure", text, "Pa", "common_practice", "min", closes=key, shared=True
    )

    def compare(run: Run) -> Compared:
        if feed.feeds_injector is None:
            message = f"not judged: the case does not say whether this {feed.fluid} feeds it"
            raise RangeError(message)
        length = run.stations["passage_length_m"]
        at_outlet = length == length.max(axis=-1, keepdims=True)
        first = np.cumsum(at_outlet, axis=-1) == 1
        chamber = run.totals[INJECTOR]
        left = np.asarray(run.totals["coolant_pressure_out_Pa"] - chamber)
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
        Solved runs with design, liner and coolant.

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
