"""Thermal strain of liner against jacket: expansion, the states of a firing, the strain range."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.checks.lane import Lane
from regen.checks.strength import bending_stress
from regen.checks.structure import jacket_temperature
from regen.design import Design
from regen.properties.alloys import AlloyCondition, MissingProperty, RangeError, Table
from regen.result import Array

REST = 300.0
"""Temperature of the whole chamber between firings [K]: a warm shop, where every table has begun.

Some begin at 293, some at 294 or 300 K; at one temperature all through, a few kelvin are nothing.
"""

STATES = ("rest", "start", "run", "stop")
"""At rest; chilled down before ignition; running; liner quenched, jacket still as it ran."""

PLANE_STRAIN = 2.0 / np.sqrt(3.0)
"""Equivalent strain over the strain across the channel, where none is along it [-]."""


class _Expansion(NamedTuple):
    """Points of an expansion table (N,); the temperature mean values count from, or None [K]."""

    T: Array
    alpha: Array
    reference: float | None
    sources: tuple[str, ...]


def thermal_strain(metal: AlloyCondition, T: ArrayLike, T0: ArrayLike) -> Array:
    """Return the free thermal strain from one temperature to another.

    Parameters
    ----------
    metal : AlloyCondition
        Its ``beyond`` says what is done where the table ends: raise, or give NaN there.
    T, T0 : array_like
        Temperatures, broadcast [K].

    Returns
    -------
    ndarray
        Broadcast shape [-], positive where T is above T0 and the metal grows.

    Raises
    ------
    MissingProperty
        If there is no expansion table, or no temperature that mean expansion counts from.
    RangeError
        If a temperature is beyond the table, unless ``metal.beyond`` is "nan".

    Notes
    -----
    The integral of the instantaneous coefficient, straight between its points; or, where only
    mean coefficients are tabulated, mean times T less the temperature they count from. There the
    strain is zero by definition, so the nearest mean holds between it and the first point. Two
    such strains are subtracted, so T0 need not be that temperature.
    """
    table = _expansion(metal)
    ends = [np.asarray(one, dtype=np.float64) for one in (T, T0)]
    low, high = float(table.T[0]), float(table.T[-1])
    outside = [(one < low) | (one > high) | ~np.isfinite(one) for one in ends]
    if metal.beyond == "raise" and any(one.any() for one in outside):
        wrong = np.concatenate([one[bad] for one, bad in zip(ends, outside, strict=True)])
        message = (
            f"thermal strain of {metal} asked for at {wrong.min():.0f} to {wrong.max():.0f} K: its"
            f" expansion is tabulated from {low:.0f} to {high:.0f} K"
            f" ({', '.join(dict.fromkeys(table.sources))}) and is not extended; add measured rows"
            f" to data/alloys/{metal.alloy.key}.csv"
        )
        raise RangeError(message)
    hot, cold = (_integral(table, one) for one in ends)
    return np.asarray(np.where(outside[0] | outside[1], np.nan, hot - cold))


def expansion_range(metal: AlloyCondition) -> tuple[float, float]:
    """Return the temperatures between which a metal's expansion is tabulated [K]."""
    table = _expansion(metal)
    return float(table.T[0]), float(table.T[-1])


def _expansion(metal: AlloyCondition) -> _Expansion:
    """Return the table to integrate: instantaneous coefficients before mean ones."""
    inst = _or_none(metal, "thermal_expansion_instantaneous")
    if inst is not None and inst.T.size > 1:
        return _Expansion(inst.T, inst.value, None, inst.sources)
    mean = metal.table("thermal_expansion_mean")
    known = metal.alloy.expansion_reference
    if known is None:
        message = (
            f"the temperature that thermal_expansion_mean of {metal.alloy.key} counts from is not"
            " known; give expansion_reference in the alloy's stanza"
        )
        raise MissingProperty(message)
    T, alpha, T_ref = mean.T, mean.value, known.value
    if T_ref < T[0]:
        T, alpha = np.append(T_ref, T), np.append(alpha[0], alpha)
    elif T_ref > T[-1]:
        T, alpha = np.append(T, T_ref), np.append(alpha, alpha[-1])
    return _Expansion(T, alpha, T_ref, mean.sources)


def _or_none(metal: AlloyCondition, name: str) -> Table | None:
    try:
        return metal.table(name)
    except MissingProperty:
        return None


def _integral(table: _Expansion, T: Array) -> Array:
    """Return the strain at T, from the table's reference or its first point on [-]."""
    if table.reference is not None:
        return np.asarray(np.interp(T, table.T, table.alpha) * (T - table.reference))
    step = np.diff(table.T)
    whole = np.append(0.0, np.cumsum(0.5 * (table.alpha[1:] + table.alpha[:-1]) * step))
    n = np.clip(np.searchsorted(table.T, T, side="right") - 1, 0, step.size - 1)
    here = np.interp(T, table.T, table.alpha)
    return np.asarray(whole[n] + 0.5 * (table.alpha[n] + here) * (T - table.T[n]))


class Temperatures(NamedTuple):
    """Liner and jacket in each of ``STATES``, (4, ..., S) [K]."""

    liner: Array
    jacket: Array


@dataclass(frozen=True, slots=True, eq=False)
class StrainRange:
    """Equivalent strain range of the hot wall over one firing, arrays (..., S) [-].

    ``total`` = ``elastic`` + ``plastic`` is the conservative one: the liner is held in both
    directions, and its plastic strain gathers over the channels. ``total_low`` and its parts are
    the optimistic one: held across the channels alone, and spread evenly. ``mismatch`` is liner
    less jacket between the two states. All are NaN where ``asked`` is false.

    ``upper`` and ``lower`` are the states with the largest and least of liner less jacket, as
    places in ``STATES``; ``T_hot`` is the hot wall as it runs [K]. ``note`` says which states were
    left out, so that the range is at least what it says.
    """

    total: Array
    plastic: Array
    elastic: Array
    total_low: Array
    plastic_low: Array
    elastic_low: Array
    mismatch: Array
    upper: NDArray[np.int64]
    lower: NDArray[np.int64]
    T_hot: Array
    asked: NDArray[np.bool_]
    note: str


def temperatures(design: Design, liner: AlloyCondition, lane: Lane) -> Temperatures:
    """Return the temperatures of liner and jacket in each state of a firing.

    Parameters
    ----------
    design : Design
        Its closeout, for the temperature of the jacket.
    liner : AlloyCondition
        Metal of wall and lands.
    lane : Lane
        Solved lane, or many.

    Returns
    -------
    Temperatures
        Start: both as cold as the coolant enters. Run: the hot wall's surface, and the
        jacket as ``jacket_temperature``. Stop: the liner at the coolant's bulk, since it is
        quenched within a fraction of a second, and the jacket still as it ran.
    """
    s = lane.stations
    hot, bulk = s["T_wall_hot_K"], s["T_coolant_K"]
    jacket = jacket_temperature(design, liner, lane)
    first = np.argmin(s["passage_length_m"], axis=-1)[..., None]
    inlet = np.broadcast_to(np.take_along_axis(bulk, first, axis=-1), hot.shape)
    rest = np.full(hot.shape, REST)
    return Temperatures(np.stack([rest, inlet, hot, bulk]), np.stack([rest, inlet, jacket, jacket]))


def strain_range(
    design: Design, liner: AlloyCondition, jacket: AlloyCondition, lane: Lane
) -> StrainRange:
    """Return the strain range of the hot wall over one firing.

    Parameters
    ----------
    design : Design
        Its closeout, for the temperature of the jacket.
    liner, jacket : AlloyCondition
        Metals of wall and jacket.
    lane : Lane
        Solved lane, or many.

    Returns
    -------
    StrainRange
        Never raises for missing data: what cannot be assessed is NaN, not asked, and named in
        the note.

    Notes
    -----
    de is the largest less the least of liner less jacket over ``STATES``; the jacket is so much
    stiffer than a yielding liner that the liner takes all of it. Twice the strain of pressure
    bending is added. Elastic is what yield allows at both ends of the range, plastic the rest.
    Optimistic: held across the channels alone, plane strain, 1.155 de. Conservative: held both
    ways, 2 de; and since the lands, far stiffer, stay elastic, what is plastic gathers over the
    channel, c = (w + b)/w times across it and once along it: sqrt((c^2 + c + 1)/3) times in all.
    """
    s = lane.stations
    liner, jacket = (replace(metal, beyond="nan") for metal in (liner, jacket))
    states = temperatures(design, liner, lane)
    nothing = np.full(s["T_wall_hot_K"].shape, np.nan)
    try:
        apart = thermal_strain(liner, states.liner, REST)
        apart = apart - thermal_strain(jacket, states.jacket, REST)
    except RangeError as error:
        return _not_assessed(nothing, s["T_wall_hot_K"], f"not assessed: {error}")
    known = np.isfinite(apart)
    asked = known[STATES.index("run")] & known[STATES.index("rest")]
    upper = np.argmax(np.where(known, apart, -np.inf), axis=0)
    lower = np.argmin(np.where(known, apart, np.inf), axis=0)
    de = np.where(asked, _at(apart, upper) - _at(apart, lower), np.nan)
    T_mean = 0.5 * (s["T_wall_hot_K"] + s["T_wall_cold_K"])
    dp = np.abs(s["p_coolant_Pa"] - s["p_gas_Pa"])
    local = bending_stress(dp, s["channel_width_m"], s["wall_m"]) / _modulus(liner, T_mean)
    allowed = _yield_strain(liner, T_mean)
    allowed = allowed + _yield_strain(liner, _at(states.liner, lower))
    c = 1.0 + s["land_width_m"] / s["channel_width_m"]
    high, low = 2.0 * de + 2.0 * local, PLANE_STRAIN * de + 2.0 * local
    plastic = np.sqrt((c**2 + c + 1.0) / 3.0) * np.maximum(high - allowed, 0.0)
    total = np.minimum(high, allowed) + plastic
    return StrainRange(
        total=total,
        elastic=np.minimum(high, allowed),
        plastic=plastic,
        total_low=low,
        elastic_low=np.minimum(low, allowed),
        plastic_low=np.maximum(low - allowed, 0.0),
        mismatch=de,
        upper=upper,
        lower=lower,
        T_hot=s["T_wall_hot_K"],
        asked=np.asarray(asked & np.isfinite(total)),
        note=_left_out(known, liner, jacket, int(np.count_nonzero(asked & np.isnan(total)))),
    )


def _at(values: Array, state: NDArray[np.int64]) -> Array:
    return np.asarray(np.take_along_axis(values, state[None], axis=0)[0])


def _modulus(liner: AlloyCondition, T: Array) -> Array:
    try:
        return liner.value("youngs_modulus", T).value
    except MissingProperty:
        return np.full(T.shape, np.nan)


def _yield_strain(liner: AlloyCondition, T: Array) -> Array:
    """Return yield over modulus (..., S) [-]; NaN where one is not tabulated."""
    try:
        return np.asarray(liner.value("yield", T).value / _modulus(liner, T))
    except MissingProperty:
        return np.full(T.shape, np.nan)


def _left_out(
    known: NDArray[np.bool_], liner: AlloyCondition, jacket: AlloyCondition, no_yield: int
) -> str:
    """Say which states the expansion tables do not cover, where yield ends, and what follows."""
    total = known[0].size
    counts = {name: total - int(np.count_nonzero(k)) for name, k in zip(STATES, known, strict=True)}
    missing = [f"{name} at {n} of {total} stations" for name, n in counts.items() if n]
    notes = []
    if missing:
        spans = [
            f"{metal.alloy.key} {low:.0f} to {high:.0f} K"
            for metal, (low, high) in ((m, expansion_range(m)) for m in (liner, jacket))
        ]
        notes.append(
            f"left out: {', '.join(missing)}, since expansion is tabulated for"
            f" {' and '.join(spans)} alone; the range is at least this"
        )
    if no_yield:
        notes.append(f"yield or modulus of {liner} is not tabulated at {no_yield} stations")
    return "; ".join(notes)


def _not_assessed(nothing: Array, T_hot: Array, note: str) -> StrainRange:
    none = np.zeros(nothing.shape, dtype=np.int64)
    strains = (nothing,) * 7
    asked = np.zeros(nothing.shape, dtype=bool)
    return StrainRange(*strains, none, none, T_hot, asked, note)
