"""Liner against jacket: expansion, states of a firing, strain range, stress and growth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from regen.checks.findings import text
from regen.checks.runs import Run, Solved, once
from regen.checks.strength.stresses import bending_stress, mismatch_stress
from regen.checks.strength.structure import jacket_T, mean_land
from regen.design import Design
from regen.errors import MissingProperty, RangeError
from regen.metals.alloys import AlloyCondition
from regen.result import Array, Integers, Mask

REST = 300.0
"""Temperature of the whole chamber between firings [K]: a warm shop, where every table has begun.

Some begin at 293, some at 294 or 300 K; at one temperature all through, a few kelvin are nothing.
"""

STATES = ("rest", "start", "run", "stop")
"""At rest; chilled down before ignition; running; liner quenched, jacket still as it ran."""

T_BATH = 323.15
"""Temperature of the plating bath, where an electroformed jacket is joined free of stress [K]."""

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
        places = {"least": wrong.min(), "most": wrong.max(), "low": low, "high": high}
        sources = ", ".join(dict.fromkeys(table.sources))
        raise RangeError(text("refused: expansion", metal=metal, sources=sources, **places))
    hot, cold = (_integral(table, one) for one in ends)
    return np.asarray(np.where(outside[0] | outside[1], np.nan, hot - cold))


def _bounds(metal: AlloyCondition, T: Array) -> tuple[Array, Array]:
    """Return the least and the greatest free strain at T [-], from the table's own zero.

    They are one within the table, and NaN above it. Below it the metal still contracts, by no more
    than the coefficient at the table's cold end: that falls to zero as a metal cools.
    """
    table = _expansion(metal)
    known = np.isfinite(T) & (table.T[-1] >= T)
    both = (_integral(table, at) for at in (T, np.maximum(T, table.T[0])))
    least, greatest = (np.where(known, strain, np.nan) for strain in both)
    return least, greatest


def _expansion(metal: AlloyCondition) -> _Expansion:
    """Return the table to integrate: instantaneous coefficients before mean ones."""
    inst = metal.known("thermal_expansion_instantaneous")
    if inst is not None and inst.T.size > 1:
        return _Expansion(inst.T, inst.value, None, inst.sources)
    mean = metal.table("thermal_expansion_mean")
    known = metal.alloy.expansion_reference
    if known is None:
        raise MissingProperty(text("refused: mean expansion", alloy=metal.alloy.key))
    T, alpha, T_ref = mean.T, mean.value, known.value
    if T_ref < T[0]:
        T, alpha = np.append(T_ref, T), np.append(alpha[0], alpha)
    elif T_ref > T[-1]:
        T, alpha = np.append(T, T_ref), np.append(alpha, alpha[-1])
    return _Expansion(T, alpha, T_ref, mean.sources)


def _integral(table: _Expansion, T: Array) -> Array:
    """Return the strain at T, from the table's reference or its first point on [-]."""
    if table.reference is not None:
        return np.asarray(np.interp(T, table.T, table.alpha) * (T - table.reference))
    step = np.diff(table.T)
    whole = np.append(0.0, np.cumsum(0.5 * (table.alpha[1:] + table.alpha[:-1]) * step))
    n = np.clip(np.searchsorted(table.T, T, side="right") - 1, 0, step.size - 1)
    here = np.interp(T, table.T, table.alpha)
    return np.asarray(whole[n] + 0.5 * (table.alpha[n] + here) * (T - table.T[n]))


Parts = tuple[tuple[AlloyCondition, Array], ...]
"""Liner and jacket, each with its temperatures in each of ``STATES``, (4, ..., S) [K]."""


@dataclass(frozen=True, slots=True, eq=False)
class StrainRange:
    """Equivalent strain range of the hot wall over one firing, arrays (..., S) [-].

    ``total`` is the conservative one: the liner is held in both directions, and its plastic strain
    gathers over the channels. ``total_low`` is the optimistic one: held across the channels alone,
    and spread evenly. ``mismatch`` is liner less jacket between the two states. They are NaN where
    a table ends, and ``note`` says which.

    ``upper`` and ``lower`` are the states with the largest and least of liner less jacket, as
    places in ``STATES``. ``held`` says which tables were held at their cold end for the chilled
    states.
    """

    total: Array
    plastic: Array
    total_low: Array
    mismatch: Array
    upper: Integers
    lower: Integers
    note: str
    held: str = ""


def _parts(solved: Solved, run: Run) -> Parts:
    """Return liner and jacket with their temperatures in each state of a firing [K].

    Start: both as cold as the coolant enters. Run: the hot wall's surface, and the jacket as
    ``jacket_temperature``. Stop: the liner at the coolant's bulk, since it is quenched within a
    fraction of a second, and the jacket still as it ran.
    """
    s = run.stations
    hot, bulk = s["T_wall_hot_K"], s["T_coolant_K"]
    jacket = jacket_T(solved, run)
    first = np.argmin(s["passage_length_m"], axis=-1)[..., None]
    inlet = np.broadcast_to(np.take_along_axis(bulk, first, axis=-1), hot.shape)
    rest = np.full(hot.shape, REST)
    of_liner, of_jacket = (np.stack([rest, inlet, *of]) for of in ((hot, bulk), (jacket, jacket)))
    return (solved.alloy, of_liner), (solved.jacket, of_jacket)


@once
def strain_range(solved: Solved, run: Run) -> StrainRange:
    """Return the strain range of the hot wall over one firing.

    Parameters
    ----------
    solved : Solved
        Design and metals of wall and jacket.
    run : Run
        Solved run, or many.

    Returns
    -------
    StrainRange
        Never raises for missing data: what cannot be assessed is NaN, and named in the note.

    Notes
    -----
    de is the largest less the least of liner less jacket over ``STATES``; the jacket is so much
    stiffer than a yielding liner that the liner takes all of it. Twice the strain of pressure
    bending is added. Elastic is what yield allows at both ends of the range, plastic the rest.
    Optimistic: held across the channels alone, plane strain, 1.155 de. Conservative: held both
    ways, 2 de; and since the lands, far stiffer, stay elastic, what is plastic gathers over the
    channel, c = (w + b)/w times across it and once along it: sqrt((c^2 + c + 1)/3) times in all.

    Below their tables properties are held where that can only overstate the range. Expansion: the
    metal whose contraction widens the range contracts by the coefficient at the cold end, the
    other one not at all. Yield: these metals get stronger as they cool. Modulus: yield over
    modulus, which is what counts, does not fall on cooling, so both are held where it begins.
    """
    s, T_mean = run.stations, run.T_wall
    parts = _parts(solved.quiet, run)
    liner, T_liner = parts[0]
    try:
        of_liner, of_jacket = (_bounds(metal, T) for metal, T in parts)
    except RangeError as error:
        nothing, nowhere = np.full(T_mean.shape, np.nan), np.zeros(T_mean.shape, dtype=np.int64)
        return StrainRange(*(nothing,) * 4, nowhere, nowhere, f"not assessed: {error}")
    least, greatest = of_liner[0] - of_jacket[1], of_liner[1] - of_jacket[0]
    upper, lower = np.argmax(greatest, axis=0), np.argmin(least, axis=0)
    de = np.max(greatest, axis=0) - np.min(least, axis=0)
    T_lower = np.take_along_axis(T_liner, lower[None], axis=0)[0]
    E_mean, yield_mean = _stiffness(liner, T_mean)
    bending = bending_stress(np.abs(run.dp_wall), s["channel_width_m"], s["wall_m"])
    local = bending / E_mean
    allowed = yield_mean + _stiffness(liner, T_lower)[1]
    c = 1.0 + s["land_width_m"] / s["channel_width_m"]
    high = 2.0 * de + 2.0 * local
    plastic = np.sqrt((c**2 + c + 1.0) / 3.0) * np.maximum(high - allowed, 0.0)
    return StrainRange(
        total=np.minimum(high, allowed) + plastic,
        plastic=plastic,
        total_low=PLANE_STRAIN * de + 2.0 * local,
        mismatch=de,
        upper=upper,
        lower=lower,
        note=_ends(parts, np.isfinite(de) & np.isnan(allowed)),
        held=_held(parts, T_lower),
    )


def _stiffness(liner: AlloyCondition, T: Array) -> tuple[Array, Array]:
    """Return modulus [Pa], and yield over modulus [-] (..., S), NaN where one is not tabulated.

    Below the modulus's table both are those at its cold end.
    """
    unknown = np.full(T.shape, np.nan)
    table = liner.known("youngs_modulus")
    if table is None:
        return unknown, unknown
    T = np.maximum(T, table.T[0])
    E = liner.value("youngs_modulus", T).value
    if liner.known("yield") is None:
        return E, unknown
    return E, np.asarray(liner.value("yield", T).value / E)


def _held(parts: Parts, T_lower: Array) -> str:
    """Say which tables were held at their cold end; "" if none was."""
    liner, _ = parts[0]
    coldest = (
        *(("expansion", metal, T, _expansion(metal)) for metal, T in parts),
        ("yield", liner, T_lower, liner.known("yield")),
        ("modulus", liner, T_lower, liner.known("youngs_modulus")),
    )
    held = [
        f"{name} of {metal.alloy.key} below {table.T[0]:.0f} K"
        for name, metal, T, table in coldest
        if table is not None and np.any(T < table.T[0])
    ]
    return text("row: held cold", tables=", ".join(held)) if held else ""


def _ends(parts: Parts, no_yield: Mask) -> str:
    """Say which tables end before a temperature of the firing; "" if none does."""
    notes = []
    for metal, T in parts:
        high = float(_expansion(metal).T[-1])
        beyond = np.any(~(high >= T), axis=0)
        if beyond.any():
            T_max, count = np.max(T), np.count_nonzero(beyond)
            notes.append(text("row: expansion", metal=metal, high=high, T=T_max, count=count))
    if no_yield.any():
        count = np.count_nonzero(no_yield)
        notes.append(f"yield or modulus of {parts[0][0]} is not tabulated at {count} stations")
    return "; ".join(notes)


class Mismatch(NamedTuple):
    """Free strain of liner less jacket [-]; stress of liner and of jacket [Pa]; (..., S).

    Tension is positive. NaN where a property is not tabulated.
    """

    strain: Array
    liner: Array
    jacket: Array
    note: str


def joined_at(design: Design) -> float | None:
    """Return the temperature of joining [K]: that of the bath; None for any other route.

    A bond made hot is not free of stress at its own temperature: the liner flows while it cools.
    """
    return T_BATH if design.closeout.route == "electroformed" else None


def mismatch(solved: Solved, run: Run, T_liner: Array, T_jacket: Array) -> Mismatch:
    """Return the stress that liner and jacket put into each other since they were joined.

    Parameters
    ----------
    solved : Solved
        Design, liner and jacket.
    run : Run
        Solved run, or many.
    T_liner, T_jacket : ndarray
        Temperatures in the state to be assessed (..., S) [K].

    Returns
    -------
    Mismatch
        The liner is capped at its yield, and pulls or pushes the jacket by its own force: stress
        times the thickness of wall and lands, these smeared over the pitch since they run along
        the axis.

    Raises
    ------
    RangeError
        If there is no table at all of the liner's expansion, modulus or yield, or of the
        jacket's expansion; or the temperature of joining is not known.

    Notes
    -----
    Where the jacket's modulus is not tabulated it is taken as rigid: no other has more stress.
    """
    closeout, T0 = solved.design.closeout, joined_at(solved.design)
    if T0 is None:
        raise MissingProperty(text("refused: mismatch", route=closeout.route))
    liner, jacket = solved.alloy.quiet, solved.jacket.quiet
    t_l, t_j = _liner_thickness(run), closeout.jacket
    e = thermal_strain(liner, T_liner, T0) - thermal_strain(jacket, T_jacket, T0)
    E, nu, cap = (
        liner.value(name, T_liner).value for name in ("youngs_modulus", "poisson_ratio", "yield")
    )
    no_modulus = jacket.known("youngs_modulus") is None
    E_j = np.nan if no_modulus else jacket.value("youngs_modulus", T_jacket).value
    stiffness = E * t_l / (E_j * t_j)
    rigid = np.isnan(stiffness)
    stress = mismatch_stress(E, e, nu, np.where(rigid, 0.0, stiffness), cap)
    note = "jacket taken as rigid, its modulus is not tabulated there" if rigid.any() else ""
    return Mismatch(e, stress, np.asarray(-stress * t_l / t_j), note)


def _liner_thickness(run: Run) -> Array:
    """Return wall and lands as one layer of the same section along the axis (..., S) [m]."""
    s, land = run.stations, mean_land(run)
    share = land / (land + s["channel_width_m"])
    return np.asarray(s["wall_m"] + s["channel_depth_m"] * share)


def growth(strain: Array, x: Array) -> tuple[float, int]:
    """Return the growth along the axis of one design [m], and how many stations were left out.

    The integral of the free strain at the stations (S,) [-], NaN where it is not known, over
    rising x (S,) [m]; NaN if it is not known somewhere.
    """
    mean = 0.5 * (strain[1:] + strain[:-1])
    return float(np.sum(mean * np.diff(x))), int(np.count_nonzero(np.isnan(strain)))
