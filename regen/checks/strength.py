"""Pressure and thermal stress of hot wall and lands, and what the liner allows at temperature."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.properties.alloys import AlloyCondition
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


def _yield(alloy: AlloyCondition, T: Array, factor: float) -> tuple[Array, str]:
    looked = alloy.value("yield", T)
    return looked.value * factor, looked.note


def ligament(
    alloy: AlloyCondition,
    yield_factor: float,
    dp: Array,
    w: Array,
    t: Array,
    T_mean: Array,
) -> Allowed:
    """Return the hot wall's primary stress against its yield at the wall's mean temperature.

    Parameters
    ----------
    alloy : AlloyCondition
        Liner.
    yield_factor : float
        Factor of safety on yield [-].
    dp : ndarray
        Pressure difference across the wall, either way (..., S) [Pa].
    w, t : ndarray
        Channel width and wall thickness (..., S) [m].
    T_mean : ndarray
        Mean temperature of the wall (..., S) [K].

    Returns
    -------
    Allowed
        Stress and yield over the factor, all stations (..., S).

    Raises
    ------
    RangeError
        If the liner's yield is not tabulated there.

    Notes
    -----
    The larger of edge bending and sqrt(3) times the average shear. They do not meet in one
    point (shear vanishes at the surface), and shear governs where the wall is thicker than
    w/1.73, which milled walls often are.
    """
    size = np.abs(dp)
    shear = np.sqrt(3.0) * shear_stress(size, w, t)
    allowed, note = _yield(alloy, T_mean, 1.0 / yield_factor)
    return Allowed(np.maximum(bending_stress(size, w, t), shear), allowed, None, note)


def lands(
    alloy: AlloyCondition, yield_factor: float, p: Array, w: Array, b: Array, T_root: Array
) -> Allowed:
    """Return the tension of the lands against their yield at the root's temperature.

    Parameters
    ----------
    alloy : AlloyCondition
        Liner.
    yield_factor : float
        Factor of safety on yield [-].
    p : ndarray
        Coolant pressure (..., S) [Pa].
    w, b : ndarray
        Channel and land width (..., S) [m].
    T_root : ndarray
        Wall temperature at the channel root (..., S) [K].

    Returns
    -------
    Allowed
        Stress and yield over the factor, all stations (..., S).

    Raises
    ------
    RangeError
        If the liner's yield is not tabulated there.
    """
    allowed, note = _yield(alloy, T_root, 1.0 / yield_factor)
    return Allowed(land_tension(p, w, b), allowed, None, note)


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
    allowed, note = _yield(alloy, T, 2.0)
    left_out = T.size - np.count_nonzero(asked)
    if left_out:
        note = f"{left_out} stations below {coldest:.0f} K left out. {note}".rstrip()
    return Allowed(thermal_stress(E, alpha, T_hot - T_cold, nu), allowed, asked, note)
