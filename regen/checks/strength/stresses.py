"""Closed forms of stress in wall, lands and jacket, and what a metal allows at temperature."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.design import Limits
from regen.errors import MissingProperty, RangeError
from regen.metals.alloys import AlloyCondition, Lookup
from regen.result import Array


class Allowed(NamedTuple):
    """Stress and what is allowed (..., S) [Pa]; stations that count, None for all; and a note."""

    stress: Array
    allowed: Array
    asked: NDArray[np.bool_] | None
    note: str


def _array(values: ArrayLike) -> Array:
    return np.asarray(values, dtype=np.float64)


def bending_stress(dp: ArrayLike, w: ArrayLike, t: ArrayLike) -> Array:
    """Return the edge stress of a hot wall bent over the channel.

    Parameters
    ----------
    dp : array_like
        Pressure difference across the wall [Pa].
    w : array_like
        Channel width at the slot floor [m].
    t : array_like
        Hot-wall thickness [m].

    Returns
    -------
    ndarray
        Stress at the land's edge, broadcast shape [Pa].

    Notes
    -----
    Clamped strip: moment dp w^2/12, s = dp w^2/(2 t^2). Source: clamped_strip.
    """
    return _array(np.asarray(dp) * (np.asarray(w) / np.asarray(t)) ** 2 / 2.0)


def shear_stress(dp: ArrayLike, w: ArrayLike, t: ArrayLike) -> Array:
    """Return the average shear of a hot wall at the land's edge.

    Parameters
    ----------
    dp : array_like
        Pressure difference across the wall [Pa].
    w : array_like
        Channel width at the slot floor [m].
    t : array_like
        Hot-wall thickness [m].

    Returns
    -------
    ndarray
        dp w/(2 t), broadcast shape [Pa].
    """
    return _array(np.asarray(dp) * np.asarray(w) / (2.0 * np.asarray(t)))


def ligament_stress(dp: ArrayLike, w: ArrayLike, t: ArrayLike) -> Array:
    """Return the primary stress of a hot wall over the channel, from pressure either way.

    Parameters
    ----------
    dp : array_like
        Pressure difference across the wall, either way [Pa].
    w : array_like
        Channel width at the slot floor [m].
    t : array_like
        Hot-wall thickness [m].

    Returns
    -------
    ndarray
        Broadcast shape [Pa].

    Notes
    -----
    The larger of edge bending and sqrt(3) times the average shear. They do not meet in one
    point (shear vanishes at the surface), and shear governs where the wall is thicker than
    w/1.73, which milled walls often are.
    """
    size = np.abs(np.asarray(dp))
    shear = np.sqrt(3.0) * shear_stress(size, w, t)
    return _array(np.maximum(bending_stress(size, w, t), shear))


def land_tension(p: ArrayLike, w: ArrayLike, b: ArrayLike) -> Array:
    """Return the tension of the lands, and of their bond to the closeout, with no gas pressure.

    Parameters
    ----------
    p : array_like
        Coolant pressure [Pa].
    w : array_like
        Channel width [m].
    b : array_like
        Land width [m].

    Returns
    -------
    ndarray
        p w/b, broadcast shape [Pa]. Gas pressure relieves it, so proof and start govern.
    """
    return _array(np.asarray(p) * np.asarray(w) / np.asarray(b))


def thermal_stress(E: ArrayLike, alpha: ArrayLike, dT: ArrayLike, nu: ArrayLike) -> Array:
    """Return the elastic stress of a wall that may not bend, from its temperature drop.

    Parameters
    ----------
    E : array_like
        Young's modulus [Pa].
    alpha : array_like
        Instantaneous expansion coefficient [1/K].
    dT : array_like
        Temperature drop through the wall [K].
    nu : array_like
        Poisson ratio [-].

    Returns
    -------
    ndarray
        E alpha dT/(2 (1 - nu)), broadcast shape [Pa]. Source: huzel_huang1967.
    """
    return _array(
        np.asarray(E) * np.asarray(alpha) * np.asarray(dT) / (2.0 * (1.0 - np.asarray(nu)))
    )


def membrane_stress(p: ArrayLike, r: ArrayLike, t: ArrayLike) -> Array:
    """Return the hoop stress p r/t of a thin ring under inner pressure.

    Parameters
    ----------
    p : array_like
        Pressure difference [Pa].
    r : array_like
        Mean radius; of a cone that along its normal [m].
    t : array_like
        Thickness [m].

    Returns
    -------
    ndarray
        Broadcast shape [Pa]. Source: ring_equilibrium.
    """
    return _array(np.asarray(p) * np.asarray(r) / np.asarray(t))


def von_mises(first: ArrayLike, second: ArrayLike) -> Array:
    """Return the equivalent of two principal stresses, broadcast shape [Pa]."""
    a, b = np.asarray(first), np.asarray(second)
    return _array(np.sqrt(a * a - a * b + b * b))


def reduced_modulus(E: ArrayLike, E_tangent: ArrayLike) -> Array:
    """Return the modulus a wall buckles by when one face yields on and the other unloads.

    Parameters
    ----------
    E, E_tangent : array_like
        Young's modulus and the slope of the stress-strain curve beyond yield [Pa].

    Returns
    -------
    ndarray
        4 E_t E/(sqrt E_t + sqrt E)^2, broadcast shape [Pa]. Source: inelastic_buckling.
    """
    E, E_t = np.asarray(E), np.asarray(E_tangent)
    return _array(4.0 * E_t * E / (np.sqrt(E_t) + np.sqrt(E)) ** 2)


def buckling_stress(E: ArrayLike, t: ArrayLike, r: ArrayLike, nu: ArrayLike) -> Array:
    """Return the stress at which a thin wall buckles along its axis.

    Parameters
    ----------
    E : array_like
        Young's modulus, or the reduced one [Pa].
    t, r : array_like
        Thickness and radius [m].
    nu : array_like
        Poisson ratio [-].

    Returns
    -------
    ndarray
        E t/(r sqrt(3 (1 - nu^2))), broadcast shape [Pa]. Source: inelastic_buckling.
    """
    root = np.sqrt(3.0 * (1.0 - np.asarray(nu) ** 2))
    return _array(np.asarray(E) * np.asarray(t) / (np.asarray(r) * root))


def collapse_pressure(E: ArrayLike, t: ArrayLike, r: ArrayLike, nu: ArrayLike) -> Array:
    """Return the outer pressure at which a long ring collapses into an oval.

    Parameters
    ----------
    E : array_like
        Young's modulus, or the reduced one [Pa].
    t, r : array_like
        Thickness and radius [m].
    nu : array_like
        Poisson ratio [-].

    Returns
    -------
    ndarray
        E t^3/(4 (1 - nu^2) r^3), broadcast shape [Pa]. Source: ring_collapse.
    """
    slender = (np.asarray(t) / np.asarray(r)) ** 3
    return _array(np.asarray(E) * slender / (4.0 * (1.0 - np.asarray(nu) ** 2)))


def mismatch_stress(
    E: ArrayLike, e: ArrayLike, nu: ArrayLike, stiffness: ArrayLike, cap: ArrayLike
) -> Array:
    """Return the stress of a liner that would grow more than its jacket by e, at most its yield.

    Parameters
    ----------
    E : array_like
        Young's modulus of the liner [Pa].
    e : array_like
        Free strain of the liner less that of the jacket, both ways alike [-].
    nu : array_like
        Poisson ratio [-].
    stiffness : array_like
        E_l t_l over E_j t_j [-]; 0 for a rigid jacket.
    cap : array_like
        Yield of the liner [Pa].

    Returns
    -------
    ndarray
        -E e/((1 - nu) (1 + stiffness)) within the cap, broadcast shape, tension positive [Pa].
        Source: layer_mismatch.
    """
    elastic = -np.asarray(E) * np.asarray(e)
    elastic = elastic / ((1.0 - np.asarray(nu)) * (1.0 + np.asarray(stiffness)))
    return _array(np.clip(elastic, -np.asarray(cap), np.asarray(cap)))


def ratchet_limit(primary: ArrayLike, s_yield: ArrayLike) -> Array:
    """Return the thermal stress range above which a wall grows a little with every cycle.

    Parameters
    ----------
    primary : array_like
        Steady stress from pressure [Pa].
    s_yield : array_like
        Yield [Pa].

    Returns
    -------
    ndarray
        s_y^2/P, or 4 s_y (1 - P/s_y) where P is above half of yield; broadcast shape [Pa]. No
        end without primary stress, nothing beyond yield. Source: bree1967.
    """
    P, s_y = (np.asarray(one, dtype=np.float64) for one in (primary, s_yield))
    with np.errstate(divide="ignore"):
        small = s_y * s_y / P
    return _array(np.where(P > 0.5 * s_y, np.maximum(4.0 * (s_y - P), 0.0), small))


def allowed(metal: AlloyCondition, T: ArrayLike, limits: Limits) -> tuple[Array, str]:
    """Return what a metal allows under primary load.

    Parameters
    ----------
    metal : AlloyCondition
        Alloy in its condition.
    T : array_like
        Temperature [K].
    limits : Limits
        Factors on yield and on ultimate strength.

    Returns
    -------
    tuple of ndarray and str
        Yield over its factor, or tensile strength over its own where that is less and tabulated,
        shape of T [Pa]; and where the yield's table was held.

    Raises
    ------
    RangeError
        If the yield is not tabulated there, unless ``metal.beyond`` is "nan".
    """
    by_yield, note = _yield(metal, _array(T), 1.0 / limits.yield_factor)
    return _allowed(metal, _array(T), by_yield, limits), note


class WithFloor(NamedTuple):
    """A strength (..., S) [Pa], where it is a floor that only indicates, and a note."""

    value: Array
    indicative: NDArray[np.bool_]
    note: str


def yield_with_floor(metal: AlloyCondition, T: Array, *, sulfur_low: bool) -> WithFloor:
    """Return the yield of a jacket, by a floor where its own is not tabulated.

    Parameters
    ----------
    metal : AlloyCondition
        Jacket in its condition.
    T : ndarray
        Temperature [K].
    sulfur_low : bool
        True if the deposit's sulfur is declared low.

    Returns
    -------
    WithFloor
        Shape of T. A floor counts as known up to the temperature that the metal is known to bear
        load at, if sulfur is low and no heating is planned beyond what it holds to; elsewhere it
        only indicates.

    Raises
    ------
    RangeError
        If neither yield nor floor is tabulated at some temperature, unless ``metal.beyond`` is
        "nan".

    Notes
    -----
    A clean deposit that has softened should not be weaker than the same metal wrought and
    annealed; one with sulfur can be.
    """
    none = np.zeros(T.shape, dtype=bool)
    try:
        own = replace(metal, beyond="nan").value("yield", T)
    except MissingProperty:
        own = Lookup(np.full(T.shape, np.nan), none, "")
    gaps = np.isnan(own.value)
    if not gaps.any():
        return WithFloor(own.value, none, own.note)
    try:
        table = metal.table("yield_floor")
    except MissingProperty:
        metal.value("yield", T)  # says what is missing, unless NaN is asked for
        return WithFloor(own.value, none, own.note)
    floor = np.interp(T, table.T, table.value, right=np.nan)
    found = np.where(gaps, floor, own.value)
    if metal.beyond == "raise" and np.isnan(found).any():
        hot = T[np.isnan(found)]
        message = (
            f"yield of {metal} is not tabulated at {hot.min():.0f} to {hot.max():.0f} K, and"
            f" neither is a floor for it, which ends at {table.T[-1]:.0f} K"
        )
        raise RangeError(message)
    bears, used = metal.alloy.loaded_to, T[gaps]
    known = none
    if sulfur_low and not metal.lost and bears is not None:
        known = bears.value >= T
    marks = " and ".join(dict.fromkeys(table.marks))
    note = (
        f"by annealed wrought metal as a floor ({table.sources[0]}, {marks}) at"
        f" {used.min():.0f} to {used.max():.0f} K"
    )
    return WithFloor(found, gaps & ~known, note)


def allowed_with_floor(
    metal: AlloyCondition, T: ArrayLike, limits: Limits, *, sulfur_low: bool
) -> WithFloor:
    """Return what a jacket allows under primary load, by a floor where its own is not tabulated.

    Parameters
    ----------
    metal : AlloyCondition
        Jacket in its condition.
    T : array_like
        Temperature [K].
    limits : Limits
        Factors on yield and on ultimate strength.
    sulfur_low : bool
        True if the deposit's sulfur is declared low.

    Returns
    -------
    WithFloor
        As ``yield_with_floor``, over the factors of ``allowed``, shape of T [Pa].

    Raises
    ------
    RangeError
        If neither yield nor floor is tabulated, unless ``metal.beyond`` is "nan".
    """
    at = _array(T)
    found = yield_with_floor(metal, at, sulfur_low=sulfur_low)
    return found._replace(value=_allowed(metal, at, found.value / limits.yield_factor, limits))


def _allowed(metal: AlloyCondition, T: Array, by_yield: Array, limits: Limits) -> Array:
    """Return the less of what yield and, where it is tabulated, tensile strength allow."""
    try:
        uts = replace(metal, beyond="nan").value("uts", T).value / limits.ultimate_factor
    except MissingProperty:
        return by_yield
    return np.where(by_yield > uts, uts, by_yield)


def _yield(alloy: AlloyCondition, T: Array, factor: float) -> tuple[Array, str]:
    looked = alloy.value("yield", T)
    return looked.value * factor, looked.note


def thermal(alloy: AlloyCondition, T_hot: Array, T_cold: Array) -> Allowed:
    """Return the thermal stress of the hot wall as a range against twice its yield.

    Parameters
    ----------
    alloy : AlloyCondition
        Liner.
    T_hot, T_cold : ndarray
        Wall temperatures on both sides (..., S) [K].

    Returns
    -------
    Allowed
        Stress range and twice the yield, at the stations no colder than the tables of modulus
        and expansion; the note counts the colder ones, where yield is higher.

    Raises
    ------
    RangeError
        If a property is missing, or the wall is hotter than its table.
    """
    T = 0.5 * (T_hot + T_cold)
    names = ("youngs_modulus", "thermal_expansion_instantaneous", "poisson_ratio")
    coldest = max(float(alloy.table(name).T[0]) for name in names)
    hottest = T.max(axis=-1, keepdims=True)
    asked = np.asarray(np.minimum(coldest, hottest) <= T)
    T = np.where(asked, T, hottest)
    E, alpha, nu = (alloy.value(name, T).value for name in names)
    twice, note = _yield(alloy, T, 2.0)
    left_out = T.size - np.count_nonzero(asked)
    if left_out:
        note = f"{left_out} stations below {coldest:.0f} K left out. {note}".rstrip()
    return Allowed(thermal_stress(E, alpha, T_hot - T_cold, nu), twice, asked, note)
