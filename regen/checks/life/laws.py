"""Laws of low-cycle fatigue and creep: strain range to cycles, stress to rupture, and their sum.

Strain ranges are whole ranges (not amplitudes) as fractions; cycles are to failure.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from regen.result import Array

CREEP_RANGE = 0.5
"""Share of the melting temperature above which time counts; source manson_halford1967."""

TEN_PERCENT = 0.1
"""Share of the generic life that is left in the creep range; source manson_halford1967."""

LARSON_MILLER_CONSTANT = 20.0
"""Usual constant with times in hours; source larson_miller1952."""

HOUR = 3600.0

_NEWTON_STEPS = 60
_NEWTON_END = 1e-13


class StrainLife(NamedTuple):
    """Law de = elastic N^elastic_slope + plastic N^plastic_slope; slopes below zero.

    All of one shape or broadcasting to one [-].
    """

    elastic: ArrayLike
    elastic_slope: float
    plastic: ArrayLike
    plastic_slope: float

    def strain_range(self, cycles: ArrayLike) -> Array:
        """Return the total strain range that leaves a number of cycles.

        Parameters
        ----------
        cycles : array_like
            Cycles to failure, above zero, broadcast against the law [-].

        Returns
        -------
        ndarray
            Total strain range, broadcast shape [-].
        """
        N = np.asarray(cycles, dtype=np.float64)
        elastic = np.asarray(self.elastic) * N**self.elastic_slope
        return np.asarray(elastic + np.asarray(self.plastic) * N**self.plastic_slope)

    def cycles(self, strain_range: ArrayLike) -> Array:
        """Return the cycles to failure at a total strain range.

        Parameters
        ----------
        strain_range : array_like
            Total strain range, broadcast against the law [-].

        Returns
        -------
        ndarray
            Cycles, broadcast shape, exact to 1e-9 in their logarithm [-]; infinite at no strain,
            NaN where range or law is not known.

        Notes
        -----
        In logarithms the law is convex and falls everywhere. Either term alone would reach the
        range at fewer cycles than both together, so the greater of these two counts is a lower
        end of the bracket, and Newton's steps from there rise to the root and never pass it.
        """
        de = np.asarray(strain_range, dtype=np.float64)
        with np.errstate(divide="ignore", invalid="ignore"):
            aim = np.log(de)
            elastic, plastic = np.log(self.elastic), np.log(self.plastic)
            a, b = self.elastic_slope, self.plastic_slope
            y = np.maximum((aim - elastic) / a, (aim - plastic) / b)
            known = np.isfinite(y)
            y = np.where(known, y, 0.0)
            for _ in range(_NEWTON_STEPS):
                first, second = elastic + a * y, plastic + b * y
                total = np.logaddexp(first, second)
                slope = a * np.exp(first - total) + b * np.exp(second - total)
                step = np.where(known, (aim - total) / slope, 0.0)
                y = y + step
                if np.all(np.abs(step) <= _NEWTON_END * np.maximum(np.abs(y), 1.0)):
                    break
            found = np.where(known, np.exp(y), np.nan)
        return np.asarray(np.where(de == 0.0, np.inf, found))


def true_ductility(reduction_of_area: ArrayLike) -> Array:
    """Return the true fracture strain of a tensile test.

    Parameters
    ----------
    reduction_of_area : array_like
        Reduction of area at fracture, between 0 and 1 [-].

    Returns
    -------
    ndarray
        ln(1/(1 - RA)), same shape [-].
    """
    return np.asarray(-np.log1p(-np.asarray(reduction_of_area, dtype=np.float64)))


def universal_slopes(uts: ArrayLike, E: ArrayLike, ductility: ArrayLike) -> StrainLife:
    """Return the method of universal slopes.

    Parameters
    ----------
    uts : array_like
        Ultimate tensile strength at temperature [Pa].
    E : array_like
        Young's modulus at temperature [Pa].
    ductility : array_like
        True fracture strain [-].

    Returns
    -------
    StrainLife
        de = 3.5 (uts/E) N^-0.12 + ductility^0.6 N^-0.6.

    Notes
    -----
    Source: manson1965. A fit to tests of many metals without hold time, mostly at room
    temperature: alone it is unsafe for hot copper liners.
    """
    elastic = 3.5 * np.asarray(uts, dtype=np.float64) / np.asarray(E)
    return StrainLife(elastic, -0.12, np.asarray(ductility, dtype=np.float64) ** 0.6, -0.6)


def modified_universal_slopes(uts: ArrayLike, E: ArrayLike, ductility: ArrayLike) -> StrainLife:
    """Return the modified method of universal slopes.

    Parameters
    ----------
    uts : array_like
        Ultimate tensile strength at temperature [Pa].
    E : array_like
        Young's modulus at temperature [Pa].
    ductility : array_like
        True fracture strain [-].

    Returns
    -------
    StrainLife
        de/2 = 0.623 (uts/E)^0.832 (2N)^-0.09 + 0.0196 ductility^0.155 (uts/E)^-0.53 (2N)^-0.56.

    Notes
    -----
    Source: muralidharan_manson1988.
    """
    ratio = np.asarray(uts, dtype=np.float64) / np.asarray(E)
    elastic = 0.623 * ratio**0.832
    plastic = 0.0196 * np.asarray(ductility, dtype=np.float64) ** 0.155 * ratio**-0.53
    return _by_reversals(elastic, -0.09, plastic, -0.56)


def coffin_manson_basquin(
    strength: ArrayLike,
    E: ArrayLike,
    strength_exponent: float,
    ductility: ArrayLike,
    ductility_exponent: float,
) -> StrainLife:
    """Return the law with an alloy's own four constants.

    Parameters
    ----------
    strength : array_like
        Fatigue strength coefficient [Pa].
    E : array_like
        Young's modulus [Pa].
    strength_exponent : float
        Usually -0.05 to -0.12 [-].
    ductility : array_like
        Fatigue ductility coefficient [-].
    ductility_exponent : float
        Usually -0.5 to -0.7 [-].

    Returns
    -------
    StrainLife
        de/2 = (strength/E) (2N)^strength_exponent + ductility (2N)^ductility_exponent.

    Notes
    -----
    Source: coffin_manson_basquin.
    """
    elastic = np.asarray(strength, dtype=np.float64) / np.asarray(E)
    return _by_reversals(elastic, strength_exponent, ductility, ductility_exponent)


def _by_reversals(elastic: ArrayLike, b: float, plastic: ArrayLike, c: float) -> StrainLife:
    """Return the law whose amplitude is given over 2 N reversals as one of range over cycles."""
    first = 2.0 * np.asarray(elastic, dtype=np.float64) * 2.0**b
    return StrainLife(first, b, 2.0 * np.asarray(plastic, dtype=np.float64) * 2.0**c, c)


class PowerLaw(NamedTuple):
    """Law N = coefficient de^exponent; ``scatter`` is the greatest factor off its points [-]."""

    coefficient: float
    exponent: float
    scatter: float

    def cycles(self, strain_range: ArrayLike) -> Array:
        """Return the cycles to failure.

        Parameters
        ----------
        strain_range : array_like
            Total strain range [-].

        Returns
        -------
        ndarray
            Cycles, same shape [-]; infinite at no strain, NaN below.
        """
        de = np.asarray(strain_range, dtype=np.float64)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(self.coefficient * de**self.exponent)


def fit_power_law(strain_range: ArrayLike, cycles: ArrayLike) -> PowerLaw:
    """Return the power law through points of a fatigue test.

    Parameters
    ----------
    strain_range : array_like
        Total strain ranges (N,), at least two different [-].
    cycles : array_like
        Cycles to failure (N,) [-].

    Returns
    -------
    PowerLaw
        By least squares of log N on log de.

    Raises
    ------
    ValueError
        If there are not two different strain ranges, or life does not fall with strain.
    """
    x, y = np.log(np.asarray(strain_range, float)), np.log(np.asarray(cycles, float))
    spread = x - x.mean()
    if x.size < 2 or np.sum(spread**2) == 0.0:
        message = "a life law needs points at two or more strain ranges"
        raise ValueError(message)
    slope = float(np.sum(spread * (y - y.mean())) / np.sum(spread**2))
    if slope >= 0.0:
        message = "the points live longer at larger strain: check strain range against cycles"
        raise ValueError(message)
    level = float(y.mean() - slope * x.mean())
    scatter = float(np.exp(np.max(np.abs(y - level - slope * x))))
    return PowerLaw(float(np.exp(level)), slope, scatter)


def in_creep_range(T: ArrayLike, melting: float) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Return where time at temperature shortens life.

    Parameters
    ----------
    T : array_like
        Metal temperature [K].
    melting : float
        Solidus [K].

    Returns
    -------
    ndarray of bool
        True above half the melting temperature, same shape.
    """
    return np.asarray(np.asarray(T) > CREEP_RANGE * melting)


def larson_miller(T: ArrayLike, time: ArrayLike, constant: float = LARSON_MILLER_CONSTANT) -> Array:
    """Return the Larson-Miller parameter.

    Parameters
    ----------
    T : array_like
        Temperature [K].
    time : array_like
        Time to rupture [s].
    constant : float
        Constant for times in hours [-].

    Returns
    -------
    ndarray
        T (constant + log10 of the hours), broadcast shape [K].
    """
    hours = np.asarray(time, dtype=np.float64) / HOUR
    return np.asarray(np.asarray(T) * (constant + np.log10(hours)))


def rupture_time(
    parameter: ArrayLike, T: ArrayLike, constant: float = LARSON_MILLER_CONSTANT
) -> Array:
    """Return the time to rupture at a Larson-Miller parameter.

    Parameters
    ----------
    parameter : array_like
        Larson-Miller parameter at the stress [K].
    T : array_like
        Temperature [K].
    constant : float
        Constant for times in hours [-].

    Returns
    -------
    ndarray
        Time, broadcast shape [s].
    """
    exponent = np.asarray(parameter, dtype=np.float64) / np.asarray(T) - constant
    with np.errstate(over="ignore"):
        return np.asarray(10.0**exponent * HOUR)


def creep_fatigue_cycles(cycles: ArrayLike, hold: ArrayLike, rupture: ArrayLike) -> Array:
    """Return the cycles at which fatigue and creep damage together come to one.

    Parameters
    ----------
    cycles : array_like
        Cycles to failure by fatigue alone [-].
    hold : array_like
        Time at temperature and stress in each cycle [s].
    rupture : array_like
        Time to rupture [s].

    Returns
    -------
    ndarray
        1/(1/cycles + hold/rupture), broadcast shape [-]. Source: linear_damage_sum.
    """
    damage = 1.0 / np.asarray(cycles, dtype=np.float64) + np.asarray(hold) / np.asarray(rupture)
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / damage)


def floor_bulge(
    dp: ArrayLike, w: ArrayLike, t: ArrayLike, plastic: ArrayLike, strength: ArrayLike
) -> Array:
    """Return how far a channel floor bulges in half a cycle while it flows plastically.

    Parameters
    ----------
    dp : array_like
        Pressure difference across the floor [Pa].
    w, t : array_like
        Channel width and floor thickness [m].
    plastic : array_like
        Plastic strain range along the floor [-].
    strength : array_like
        Yield at the half cycle's temperature [Pa].

    Returns
    -------
    ndarray
        dp w^4 plastic/(32 strength t^3) at the middle, broadcast shape [m].

    Notes
    -----
    Viscous analogy: the floor resists bending by (strength/plastic) times its section modulus
    while it is strained. Order of magnitude only. Source: viscous_bulge.
    """
    load = np.asarray(dp) * np.asarray(w) ** 4 * np.asarray(plastic)
    return np.asarray(load / (32.0 * np.asarray(strength) * np.asarray(t) ** 3))
