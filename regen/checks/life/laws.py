"""Laws of low-cycle fatigue and creep: strain range to cycles, stress to rupture, and their sum.

Strain ranges are whole ranges (not amplitudes) as fractions; cycles are to failure. Arguments are
numbers or arrays that broadcast.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from regen.result import Array, Mask

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
    """Law de = elastic N^elastic_slope + plastic N^plastic_slope; slopes below zero [-]."""

    elastic: Array
    elastic_slope: float
    plastic: Array
    plastic_slope: float

    def strain_range(self, cycles: Array) -> Array:
        """Return the total strain range that leaves a number of cycles [-]."""
        N = np.asarray(cycles, dtype=np.float64)
        return np.asarray(
            self.elastic * N**self.elastic_slope + self.plastic * N**self.plastic_slope
        )

    def cycles(self, strain_range: Array) -> Array:
        """Return the cycles to failure at a total strain range.

        Parameters
        ----------
        strain_range : ndarray
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
            cycles = np.where(known, np.exp(y), np.nan)
        return np.asarray(np.where(de == 0.0, np.inf, cycles))


def true_ductility(reduction_of_area: Array | float) -> Array:
    """Return the true fracture strain ln(1/(1 - RA)) of a tensile test [-]."""
    return np.asarray(-np.log1p(-np.asarray(reduction_of_area)))


def universal_slopes(uts: Array, E: Array, ductility: Array) -> StrainLife:
    """Return the method of universal slopes, de = 3.5 (uts/E) N^-0.12 + ductility^0.6 N^-0.6.

    Ultimate strength and modulus at temperature [Pa], true fracture strain [-]. Source:
    manson1965. A fit to tests of many metals without hold time, mostly at room temperature: alone
    it is unsafe for hot copper liners.
    """
    return StrainLife(3.5 * uts / E, -0.12, ductility**0.6, -0.6)


def modified_universal_slopes(uts: Array, E: Array, ductility: Array) -> StrainLife:
    """Return the modified method of universal slopes; arguments as above [Pa, Pa, -].

    de/2 = 0.623 (uts/E)^0.832 (2N)^-0.09 + 0.0196 ductility^0.155 (uts/E)^-0.53 (2N)^-0.56.
    Source: muralidharan_manson1988.
    """
    ratio = uts / E
    plastic = 0.0196 * ductility**0.155 * ratio**-0.53
    return _by_reversals(0.623 * ratio**0.832, -0.09, plastic, -0.56)


def coffin_manson_basquin(
    strength: Array, E: Array, b: float, ductility: Array, c: float
) -> StrainLife:
    """Return the law with an alloy's own constants.

    Parameters
    ----------
    strength, E : ndarray
        Fatigue strength coefficient and Young's modulus [Pa].
    b, c : float
        Exponents of strength, usually -0.05 to -0.12, and ductility, usually -0.5 to -0.7 [-].
    ductility : ndarray
        Fatigue ductility coefficient [-].

    Returns
    -------
    StrainLife
        de/2 = (strength/E) (2N)^b + ductility (2N)^c. Source: coffin_manson_basquin.
    """
    return _by_reversals(strength / E, b, ductility, c)


def _by_reversals(elastic: Array, b: float, plastic: Array, c: float) -> StrainLife:
    """Return the law whose amplitude is given over 2 N reversals as one of range over cycles."""
    return StrainLife(2.0 * elastic * 2.0**b, b, 2.0 * plastic * 2.0**c, c)


class PowerLaw(NamedTuple):
    """Laws N = coefficient de^exponent; ``scatter`` is the greatest factor off their points [-]."""

    coefficient: Array
    exponent: Array
    scatter: Array

    def cycles(self, strain_range: Array) -> Array:
        """Return the cycles to failure [-]; infinite at no strain, NaN below."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(self.coefficient * np.asarray(strain_range) ** self.exponent)


def fit_power_law(strain_range: Array, cycles: Array) -> PowerLaw:
    """Return the power law through points of a fatigue test.

    Parameters
    ----------
    strain_range : ndarray
        Total strain ranges (N,), at least two different [-].
    cycles : ndarray
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
    slope = np.sum(spread * (y - y.mean())) / np.sum(spread**2)
    if slope >= 0.0:
        message = "the points live longer at larger strain: check strain range against cycles"
        raise ValueError(message)
    level = y.mean() - slope * x.mean()
    scatter = np.exp(np.max(np.abs(y - level - slope * x)))
    return PowerLaw(np.exp(level), slope, scatter)


def in_creep_range(T: Array, melting: float) -> Mask:
    """Return where time at temperature shortens life: T above half of the solidus [K]."""
    return np.asarray(CREEP_RANGE * melting < T)


def larson_miller(T: Array, time: Array, constant: float = LARSON_MILLER_CONSTANT) -> Array:
    """Return the Larson-Miller parameter T (constant + log10 of the hours to rupture) [K].

    Temperature T [K], time to rupture [s], constant for times in hours [-].
    """
    return np.asarray(T * (constant + np.log10(time / HOUR)))


def rupture_time(parameter: Array, T: Array, constant: float = LARSON_MILLER_CONSTANT) -> Array:
    """Return the time to rupture [s] at a Larson-Miller parameter [K] and temperature T [K]."""
    with np.errstate(over="ignore"):
        return np.asarray(10.0 ** (parameter / T - constant) * HOUR)


def floor_bulge(dp: Array, w: Array, t: Array, plastic: Array, strength: Array) -> Array:
    """Return how far a channel floor bulges in half a cycle while it flows plastically.

    Parameters
    ----------
    dp : ndarray
        Pressure difference across the floor [Pa].
    w, t : ndarray
        Channel width and floor thickness [m].
    plastic : ndarray
        Plastic strain range along the floor [-].
    strength : ndarray
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
    return dp * w**4 * plastic / (32.0 * strength * t**3)
