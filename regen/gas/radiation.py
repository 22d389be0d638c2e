"""Radiation of water vapour and carbon dioxide in combustion gas on a wall.

Emissivities by Leckner's fit, with its corrections for pressure and for the overlap of the two
gases. Absorption in the cold gas beside the wall is neglected, the fit was made for furnaces, and
pressures of a chamber lie far beyond its data: uncertain by a factor of two.
"""

from dataclasses import dataclass

import numpy as np

from regen.physics.arrays import Array

UNCERTAIN = "to within a factor of two"

STEFAN_BOLTZMANN = 5.670374419e-8
"""Exact by the definition of the units [W/(m2 K4)]."""

BEAM_LENGTH = 0.95
"""Mean beam length over the diameter of a long cylinder [-] (common practice)."""

WALL_FACTOR = 0.9
"""Part of the radiation that a wall keeps, (1 + its emissivity)/2 for a dull one of 0.8 [-]."""

T_HOTTEST = 2500.0
"""Temperature above which the fit runs wild, and emissivities are those here [K]."""

T_ZERO, PRESSURE_ZERO = 1000.0, 1e5
BAR_CM = 1e5 * 0.01
"""One bar centimetre [Pa m]."""

ABSENT = 1e-9
"""Mole fraction below which a gas does not radiate [-]."""


@dataclass(frozen=True, slots=True)
class _Gas:
    """Coefficients of one gas: rows by powers of log10(pL), columns by powers of T/1000 K."""

    rows: tuple[tuple[float, ...], ...]
    self_broadening: float
    root: float  # power of T/1000 K under the partial pressure
    slope: float


H2O = _Gas(
    ((-2.2118, -1.1987, 0.035596), (0.85667, 0.93048, -0.14391), (-0.10838, -0.17156, 0.045915)),
    2.56,
    0.5,
    0.5,
)
CO2 = _Gas(
    (
        (-3.9893, 2.7669, -2.1081, 0.39163),
        (1.2710, -1.1090, 1.0195, -0.21897),
        (-0.23678, 0.19731, -0.19544, 0.044644),
    ),
    0.28,
    0.0,
    1.47,
)


def _at_one_bar(gas: _Gas, t: Array, log_pL: Array) -> Array:
    c0, c1, c2 = (np.polynomial.polynomial.polyval(t, row) for row in gas.rows)
    return np.asarray(np.exp(c0 + c1 * log_pL + c2 * log_pL**2))


def _peak(gas: _Gas, t: Array) -> tuple[Array, Array, Array]:
    """Return a, b of the pressure correction and the pL [bar cm] at which it is largest."""
    if gas is H2O:
        a = np.where(t < 0.75, 2.479, 1.888 - 2.053 * np.log10(t))
        return a, 1.10 / t**1.4, 13.2 * t**2
    a = 1.0 + 0.1 / t**1.45
    most = np.where(t < 0.7, 0.054 / t**2, 0.225 * t**2)
    return a, np.full_like(t, 0.23), most


def single(gas: _Gas, T: Array, p: Array, p_gas: Array, length: Array) -> Array:
    """Return the emissivity (S,) [-] of ``H2O`` or ``CO2``, 0 where there is none of it.

    T [K], pressure and partial pressure [Pa], mean beam length [m], each (S,).

    ln e0 = sum c_ij (T/T0)^j (log10 pL)^i, T0 = 1000 K, pL in bar cm, and
    e/e0 = 1 - (a - 1)(1 - P)/(a + b - 1 + P) exp(-c (log10((pL)_m/pL))^2).
    """
    t = np.minimum(T, T_HOTTEST) / T_ZERO
    present = p_gas > ABSENT * p
    pL = np.where(present, p_gas, 1.0) * length / BAR_CM
    a, b, most = _peak(gas, t)
    pressure = (p + gas.self_broadening * p_gas / t**gas.root) / PRESSURE_ZERO
    bell = np.exp(-gas.slope * np.log10(most / pL) ** 2)
    ratio = 1.0 - (a - 1.0) * (1.0 - pressure) / (a + b - 1.0 + pressure) * bell
    return np.where(present, ratio * _at_one_bar(gas, t, np.log10(pL)), 0.0)


def _overlap(p_h2o: Array, p_co2: Array, length: Array) -> Array:
    z = p_h2o / (p_h2o + p_co2)
    pL = (p_h2o + p_co2) * length / BAR_CM
    part = z / (10.7 + 101.0 * z) - 0.0089 * z**10.4
    return np.asarray(np.maximum(part, 0.0) * np.maximum(np.log10(pL), 0.0) ** 2.76)


def emissivity(T: Array, p: Array, x_h2o: Array, x_co2: Array, length: Array) -> Array:
    """Return the emissivity (S,) [-] of a gas with these mole fractions, at most a black body's.

    T [K], p [Pa], mean beam length [m], each (S,).
    """
    p_h2o, p_co2 = x_h2o * p, x_co2 * p
    alone = single(H2O, T, p, p_h2o, length) + single(CO2, T, p, p_co2, length)
    both = (x_h2o > ABSENT) & (x_co2 > ABSENT)
    shared = np.where(both, _overlap(p_h2o, p_co2, length), 0.0)
    return np.minimum(alone - shared, 1.0)


def flux(T: Array, p: Array, x_h2o: Array, x_co2: Array, diameter: Array) -> Array:
    """Return the flux (S,) [W/m2] of the gas on a cold wall of a chamber of this diameter [m].

    0.9 e sigma T^4 with the mean beam length 0.95 D. The emissivity is that of 2500 K where the
    gas is hotter; the temperature in T^4 is the gas's own.
    """
    e = emissivity(T, p, x_h2o, x_co2, BEAM_LENGTH * diameter)
    return np.asarray(WALL_FACTOR * e * STEFAN_BOLTZMANN * T**4)
