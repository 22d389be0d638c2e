"""Closed forms of stress in wall, lands and jacket, and what a metal allows at temperature.

Arguments of the closed forms are numbers or arrays that broadcast, in SI.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from regen.checks.findings import text
from regen.checks.runs import Compared
from regen.design import Design, Limits
from regen.errors import RangeError
from regen.metals.alloys import AlloyCondition, Lookup
from regen.result import Array, Mask


def bending_stress(dp: Array, w: Array, t: Array) -> Array:
    """Return the edge stress of a wall bent over the channel, dp w^2/(2 t^2) [Pa].

    A clamped strip of moment dp w^2/12: pressure difference dp [Pa], channel width w at the slot
    floor and thickness t [m]. Source: clamped_strip.
    """
    return dp * (w / t) ** 2 / 2.0


def shear_stress(dp: Array, w: Array, t: Array) -> Array:
    """Return the average shear of a wall at the land's edge, dp w/(2 t) [Pa]; see above."""
    return dp * w / (2.0 * t)


def ligament_stress(dp: Array, w: Array, t: Array) -> Array:
    """Return the primary stress of a hot wall over the channel, from pressure either way [Pa].

    The larger of edge bending and sqrt(3) times the average shear. They do not meet in one
    point (shear vanishes at the surface), and shear governs where the wall is thicker than
    w/1.73, which milled walls often are.
    """
    size = np.abs(dp)
    shear = np.sqrt(3.0) * shear_stress(size, w, t)
    return np.asarray(np.maximum(bending_stress(size, w, t), shear))


def land_tension(p: Array, w: Array, b: Array) -> Array:
    """Return the tension of the lands and of their bond to the closeout, p w/b [Pa].

    Coolant pressure p [Pa], channel width w and land width b [m]. Gas pressure, not counted,
    relieves it, so proof and start govern. Source: land_equilibrium.
    """
    return p * w / b


def thermal_stress(E: Array, alpha: Array, dT: Array, nu: Array) -> Array:
    """Return the elastic stress of a wall that may not bend, from its temperature drop.

    Parameters
    ----------
    E, alpha, nu : ndarray
        Young's modulus [Pa], instantaneous expansion [1/K], Poisson ratio [-].
    dT : ndarray
        Temperature drop through the wall [K].

    Returns
    -------
    ndarray
        E alpha dT/(2 (1 - nu)), broadcast shape [Pa]. Source: huzel_huang1967.
    """
    return E * alpha * dT / (2.0 * (1.0 - nu))


def membrane_stress(p: Array, r: Array, t: Array) -> Array:
    """Return the hoop stress p r/t of a thin ring under inner pressure [Pa].

    Mean radius r, of a cone that along its normal, and thickness t [m]. Source: ring_equilibrium.
    """
    return p * r / t


def von_mises(a: Array, b: Array) -> Array:
    """Return the equivalent of two principal stresses, broadcast shape [Pa]."""
    return np.asarray(np.sqrt(a * a - a * b + b * b))


def reduced_modulus(E: Array, E_t: Array) -> Array:
    """Return the modulus a wall buckles by when one face yields on and the other unloads [Pa].

    4 E_t E/(sqrt E_t + sqrt E)^2 of Young's modulus and the tangent modulus beyond yield [Pa].
    Source: inelastic_buckling.
    """
    return np.asarray(4.0 * E_t * E / (np.sqrt(E_t) + np.sqrt(E)) ** 2)


def buckling_stress(E: Array, t: Array, r: Array, nu: Array) -> Array:
    """Return the stress at which a thin wall buckles along its axis.

    Parameters
    ----------
    E, nu : ndarray
        Young's modulus, or the reduced one [Pa], and Poisson ratio [-].
    t, r : ndarray
        Thickness and radius [m].

    Returns
    -------
    ndarray
        E t/(r sqrt(3 (1 - nu^2))), broadcast shape [Pa]. Source: inelastic_buckling.
    """
    return np.asarray(E * t / (r * np.sqrt(3.0 * (1.0 - nu**2))))


def collapse_pressure(E: Array, t: Array, r: Array, nu: Array) -> Array:
    """Return the outer pressure at which a long ring collapses into an oval.

    Parameters
    ----------
    E, t, r, nu : ndarray
        Those of ``buckling_stress`` [Pa, m, m, -].

    Returns
    -------
    ndarray
        E t^3/(4 (1 - nu^2) r^3), broadcast shape [Pa]. Source: ring_collapse.
    """
    return E * (t / r) ** 3 / (4.0 * (1.0 - nu**2))


def mismatch_stress(E: Array, e: Array, nu: Array, stiffness: Array, cap: Array) -> Array:
    """Return the stress of a liner that would grow more than its jacket by e, at most its yield.

    Parameters
    ----------
    E, nu, cap : ndarray
        Young's modulus [Pa], Poisson ratio [-] and yield [Pa] of the liner.
    e : ndarray
        Its free strain less that of the jacket [-].
    stiffness : ndarray
        E t of the liner over that of the jacket [-]; 0 for a rigid jacket.

    Returns
    -------
    ndarray
        -E e/((1 - nu) (1 + stiffness)) within the cap, tension positive, broadcast shape [Pa].
        Source: layer_mismatch.
    """
    elastic = -E * e / ((1.0 - nu) * (1.0 + stiffness))
    return np.asarray(np.clip(elastic, -cap, cap))


def ratchet_limit(primary: Array, s_yield: Array) -> Array:
    """Return the thermal stress range above which a wall grows a little with every cycle [Pa].

    s_y^2/P of steady stress P from pressure and yield s_y [Pa], or 4 s_y (1 - P/s_y) where P is
    above half of yield: infinite without primary stress, zero beyond yield. Source: bree1967.
    """
    P, s_y = np.asarray(primary), np.asarray(s_yield)
    with np.errstate(divide="ignore"):
        small = s_y * s_y / P
    return np.where(P > 0.5 * s_y, np.maximum(4.0 * (s_y - P), 0.0), small)


def allowed(metal: AlloyCondition, T: Array, limits: Limits) -> tuple[Array, str]:
    """Return what a metal allows under primary load.

    Parameters
    ----------
    metal : AlloyCondition
        Alloy in its condition.
    T : ndarray
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
    looked = metal.value("yield", T)
    return _capped(metal, T, looked.value * (1.0 / limits.yield_factor), limits), looked.note


class WithFloor(NamedTuple):
    """A strength (..., S) [Pa], where it is a floor that only indicates, and a note."""

    value: Array
    indicative: Mask
    note: str


def yield_with_floor(metal: AlloyCondition, T: Array, design: Design) -> WithFloor:
    """Return the yield of a jacket, by a floor where its own is not tabulated.

    Parameters
    ----------
    metal : AlloyCondition
        Jacket in its condition.
    T : ndarray
        Temperature [K].
    design : Design
        Declares the sulfur of the jacket's deposit, low or not.

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
    nowhere = np.zeros(T.shape, dtype=bool)
    own = Lookup(np.full(T.shape, np.nan), nowhere, "")
    if metal.known("yield") is not None:
        own = metal.quiet.value("yield", T)
    gaps = np.isnan(own.value)
    if not gaps.any():
        return WithFloor(own.value, nowhere, own.note)
    table = metal.known("yield_floor")
    if table is None:
        metal.value("yield", T)  # says what is missing, unless NaN is wanted
        return WithFloor(own.value, nowhere, own.note)
    floor = np.interp(T, table.T, table.value, right=np.nan)
    strength = np.where(gaps, floor, own.value)
    if metal.beyond == "raise" and np.isnan(strength).any():
        hot = T[np.isnan(strength)]
        places = {"low": hot.min(), "high": hot.max(), "end": table.T[-1]}
        raise RangeError(text("refused: yield of the jacket", metal=metal, **places))
    bears, used = metal.alloy.loaded_to, T[gaps]
    known = nowhere
    if design.closeout.jacket_sulfur == "low" and not metal.lost and bears is not None:
        known = bears.value >= T
    origin = f"{table.sources[0]}, {' and '.join(dict.fromkeys(table.marks))}"
    note = text("row: floor", origin=origin, low=used.min(), high=used.max())
    return WithFloor(strength, gaps & ~known, note)


def allowed_with_floor(metal: AlloyCondition, T: Array, design: Design) -> WithFloor:
    """Return what a jacket allows under primary load, by a floor where its own is not known.

    Parameters
    ----------
    metal, T, design
        Those of ``yield_with_floor``, which also raises.

    Returns
    -------
    WithFloor
        The yield or its floor over the factors of ``allowed``, shape of T [Pa].
    """
    own, limits = yield_with_floor(metal, T, design), design.limits
    return own._replace(value=_capped(metal, T, own.value / limits.yield_factor, limits))


def _capped(metal: AlloyCondition, T: Array, by_yield: Array, limits: Limits) -> Array:
    """Return the less of what yield and, where it is tabulated, tensile strength allow."""
    if metal.known("uts") is None:
        return by_yield
    uts = metal.quiet.value("uts", T).value / limits.ultimate_factor
    return np.where(by_yield > uts, uts, by_yield)


def thermal(alloy: AlloyCondition, T_hot: Array, T_cold: Array) -> Compared:
    """Return the thermal stress of the hot wall as a range against twice its yield.

    Parameters
    ----------
    alloy : AlloyCondition
        Liner.
    T_hot, T_cold : ndarray
        Wall temperatures on both sides (..., S) [K].

    Returns
    -------
    Compared
        Stress range and twice the yield [Pa], at the stations no colder than the tables of modulus
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
    strength = alloy.value("yield", T)
    left_out, note = T.size - np.count_nonzero(asked), strength.note
    if left_out:
        note = f"{left_out} stations below {coldest:.0f} K left out. {note}".rstrip()
    stress = thermal_stress(E, alpha, T_hot - T_cold, nu)
    return Compared(stress, strength.value * 2.0, asked, note)
