"""Limits of temperature, boiling, Mach number and pressure: hot wall, coolant and injector."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from regen.checks.coolant import burnout_flux
from regen.checks.findings import text
from regen.checks.registry import Fields, Limit, Rule, limit
from regen.checks.runs import INJECTOR, LOWEST_PRESSURE, Compare, Compared, Run, Solved, against
from regen.design import Design
from regen.errors import RangeError
from regen.metals.alloys import AlloyCondition, Fact
from regen.physics import status as st
from regen.result import Array
from regen.sources import DATA, MARKS

COKING_FILE = DATA / "coking.toml"

BURNOUT_FRACTION = 0.5
"""Fraction of the critical heat flux that is accepted where the case says none: common practice."""


def _mark(fact: Fact) -> str:
    return f"limit {MARKS[fact.mark] or 'seen in its source'}"


def _given_or(value: float | None, fact: Fact | None) -> Fact | None:
    """Return the temperature that the case gives [K], else that of the data."""
    return fact if value is None else Fact(value, "K", "given_in_case", "common-practice")


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
        Temperature [K] as a Fact, and where the sulfur comes from.
    """
    return _facts(DATA / "copper_sulfur.toml")


def _facts(path: Path) -> dict[str, tuple[Fact, str]]:
    """Return the facts of a file with one stanza a coolant, and their notes."""
    entries = tomllib.loads(path.read_text(encoding="utf-8"))
    return {
        k: (Fact(e["value"], e["unit"], e["source"], e["mark"]), e.get("note", ""))
        for k, e in entries.items()
    }


# --- wall ----------------------------------------------------------------------------------------
def working_limit(design: Design, liner: AlloyCondition) -> Fact | None:
    """Return the highest hot-wall temperature [K]: that of the case, else of alloy and service."""
    return _given_or(design.limits.T_wall_hot, liner.limit(design.limits.service))


def against_working_limit(solved: Solved, T: Array, **more: Any) -> Compared:
    """Compare temperatures of the liner (..., S) [K] with its working limit, as ``against``."""
    fact = working_limit(solved.design, solved.alloy)
    if fact is None:
        names = {"alloy": solved.alloy.alloy.key, "service": solved.design.limits.service}
        raise RangeError(text("refused: working limit", **names))
    return against(T, fact.value, **more)


def _hot_wall_along(run: Run) -> Array:
    """Return the hot wall by station, the hottest row raised to the peak between rows."""
    T = np.array(run.stations["T_wall_hot_K"])
    hottest = np.argmax(T, axis=-1)[..., None]
    peak = np.asarray(run.totals["T_wall_hot_max_K"])[..., None]
    raised = np.maximum(np.take_along_axis(T, hottest, axis=-1), peak)
    np.put_along_axis(T, hottest, raised, axis=-1)
    return T


def _extrapolated(solved: Solved, run: Run) -> str:
    """Say, of one design, where the coolant at the wall is hotter than its properties cover."""
    T = run.stations["T_wall_cold_K"]
    beyond = int(np.count_nonzero(T > solved.coolant.T_max)) if T.ndim == 1 else 0
    ends = {"beyond": beyond, "size": T.size, "T_max": solved.coolant.T_max}
    return text("row: extrapolated coolant", **ends) if beyond else ""


def _hot_wall_terms(solved: Solved) -> Fields:
    limits, fact = solved.design.limits, working_limit(solved.design, solved.alloy)
    title = f"hot-gas-side wall temperature, {limits.service} service of {solved.alloy.alloy.key}"
    if fact is None:
        return {"text": title}
    note = _mark(fact) if limits.T_wall_hot is None else ""
    return {"text": title, "source": fact.source, "note": note}


@limit(
    _hot_wall_terms,
    group="wall",
    unit="K",
    source="wall_limits",
    key="limits.T_wall_hot",
    closes="limits.T_wall_hot",
    column="T_wall_hot_K",
    broken_by=(st.BOILED, st.COOLANT_RANGE),
)
def hot_wall_temperature(solved: Solved, run: Run) -> Compared:
    """Hot-gas-side wall temperature, by alloy and service."""
    T = _hot_wall_along(run)
    return against_working_limit(solved, T, caution=_extrapolated(solved, run))


def hot_wall_rule(solved: Solved, name: str, text: str, compare: Compare) -> Rule:
    """Return the rule for other temperatures of the liner against its working limit.

    Parameters
    ----------
    solved : Solved
        The solved runs.
    name, text : str
        Name of the margin and what it is about.
    compare : callable
        Compares the temperatures of a run, by ``against_working_limit``.

    Returns
    -------
    Rule
        Against the limit of the case, else that of the alloy; its margin is unknown if there is
        neither.
    """
    terms = {"source": "wall_limits", **_hot_wall_terms(solved), "text": text}
    return Rule(Limit(name, unit="K", closes="limits.T_wall_hot", **terms), compare)


def _melting_terms(solved: Solved) -> Fields | None:
    solidus = solved.alloy.alloy.solidus
    return {"source": solidus.source} if solidus else None


@limit(_melting_terms, group="wall", unit="K", source="wall_limits")
def melting(solved: Solved, run: Run) -> Compared:
    """Hot-gas-side wall below the solidus."""
    solidus = solved.alloy.alloy.solidus
    return against(_hot_wall_along(run), solidus.value if solidus else np.nan)


def _deposit_limit(solved: Solved) -> Fact | None:
    return _given_or(solved.design.limits.T_wall_cold, coking_limits().get(solved.coolant.fluid))


def _coolant_wall_terms(solved: Solved) -> Fields | None:
    fact = _deposit_limit(solved)
    if fact is None:
        return None
    text = f"hottest place of the slot floor: deposits of {solved.coolant.fluid}"
    return {"text": text, "source": fact.source, "note": _mark(fact)}


@limit(
    _coolant_wall_terms,
    group="wall",
    unit="K",
    source="kerosene_coking",
    key="limits.T_wall_cold",
    column="T_wall_cold_K",
    broken_by=(st.BOILED, st.COOLANT_RANGE),
)
def coolant_wall_temperature(solved: Solved, run: Run) -> Compared:
    """Hottest place of the slot floor: deposits of the coolant."""
    fact, T = _deposit_limit(solved), run.stations["T_wall_floor_K"]
    return against(T, fact.value if fact else np.nan, caution=_extrapolated(solved, run))


# --- coolant -------------------------------------------------------------------------------------
def _lowest_pressure(run: Run) -> Array:
    return run.stations.get(LOWEST_PRESSURE, run.stations["p_coolant_Pa"])


@limit(group="coolant", unit="K", broken_by=(st.BOILED, st.COOLANT_RANGE, st.GAS_COOLANT))
def coolant_temperature(solved: Solved, run: Run) -> Compared:
    """Coolant bulk below saturation, or above the critical pressure within its properties."""
    highest = solved.coolant.highest_temperature(_lowest_pressure(run))
    return against(run.stations["T_coolant_K"], highest)


def _below(solved: Solved, p: float) -> bool:
    """Return whether the coolant of any run is somewhere below a pressure [Pa]."""
    outcomes = (solved.nominal, *solved.band, *solved.worst)
    runs = [one for one in outcomes if isinstance(one, Run)]
    return p > 0.0 and any(bool(np.any(run.stations["p_coolant_Pa"] < p)) for run in runs)


def _burnout_terms(solved: Solved) -> Fields | None:
    facts, limits = solved.coolant, solved.design.limits
    if _below(solved, facts.may_boil_below):
        text = "flux at the slot floor below the critical heat flux"
        return {"text": text, "source": "given_in_case", "closes": "coolant.saturation"}
    if not _below(solved, facts.p_critical):
        return None
    own, of_water = limits.burnout_flux, facts.fluid == "water"
    fraction, note = limits.burnout_fraction or BURNOUT_FRACTION, ""
    by_user = own is not None or limits.burnout_fraction is not None
    if own is not None:
        note = f"limits.burnout_flux, {own / 1e6:g} MW/m2, of the case"
    elif not of_water and by_user:
        note = f"correlation of water on {facts.fluid}, at the fraction that the case gives"
    return {
        "text": f"flux at the slot floor within {fraction:g} of the critical heat flux",
        "source": "hall_mudawar2000" if own is None else "given_in_case",
        "note": note,
        "closes": "" if of_water or by_user else "limits.burnout_flux",
    }


@limit(
    _burnout_terms,
    group="coolant",
    unit="W/m2",
    source="hall_mudawar2000",
    key="limits.burnout_fraction",
    broken_by=(st.BOILED,),
)
def burnout(solved: Solved, run: Run) -> Compared:
    """Flux at the slot floor within a fraction of the critical heat flux."""
    facts, limits = solved.coolant, solved.design.limits
    if _below(solved, facts.may_boil_below):
        raise RangeError(text("refused: burnout", fluid=facts.fluid))
    p, q = _lowest_pressure(run), run.stations["q_wetted_W_m2"]
    asked = np.asarray(p < facts.p_critical)
    fraction = limits.burnout_fraction or BURNOUT_FRACTION
    if limits.burnout_flux is not None:
        return against(q, fraction * limits.burnout_flux, asked=asked)
    critical = burnout_flux(facts, {**run.stations, "p_coolant_Pa": p})
    note = critical.note(q, asked) if q.ndim == 1 else ""
    if facts.fluid == "water" or limits.burnout_fraction is not None:
        return Compared(q, fraction * critical.governing, asked, note)
    note = f"correlation of water, unverified for {facts.fluid}: {note}"
    return Compared(q, fraction * critical.governing, asked, note, indicative=asked)


@limit(
    group="coolant",
    unit="-",
    key="limits.mach",
    column="mach_coolant",
    broken_by=(st.CHOKED, st.PRESSURE_LOST),
)
def coolant_mach(solved: Solved, run: Run) -> Compared:
    """Coolant Mach number, well below choking at every station."""
    return against(run.stations["mach_coolant"], solved.design.limits.mach)


def _injector_terms(solved: Solved) -> Fields | None:
    if solved.design.coolant.feeds_injector is False:
        return None
    fraction = solved.design.limits.injector_drop_fraction
    return {"text": f"pressure left for the injector, {fraction:g} of the chamber pressure needed"}


@limit(
    _injector_terms,
    group="coolant",
    unit="Pa",
    kind="min",
    shared=True,
    key="limits.injector_drop_fraction",
    closes="coolant.feeds_injector",
    broken_by=(st.GAS_COOLANT, st.CHOKED, st.PRESSURE_LOST),
)
def injector_pressure(solved: Solved, run: Run) -> Compared:
    """Pressure left for the injector, as a fraction of the chamber pressure."""
    feed, fraction = solved.design.coolant, solved.design.limits.injector_drop_fraction
    if feed.feeds_injector is None:
        message = f"not judged: the case does not say whether this {feed.fluid} feeds it"
        raise RangeError(message)
    length = run.stations["passage_length_m"]
    at_outlet = length == length.max(axis=-1, keepdims=True)
    first = np.cumsum(at_outlet, axis=-1) == 1
    chamber = run.totals[INJECTOR]
    left = np.asarray(run.totals["coolant_pressure_out_Pa"] - chamber)
    value = np.broadcast_to(left[..., None], length.shape)
    wanted = np.asarray(fraction * chamber)[..., None]
    return against(value, wanted, asked=np.asarray(at_outlet & first))
