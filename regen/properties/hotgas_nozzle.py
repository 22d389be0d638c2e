"""Builders of the hot-gas table: expansion along the nozzle and the gas beside the wall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from regen.design import Chamber
from regen.physics.arrays import LAYER_CP, LAYER_H, LAYER_K, LAYER_MOLAR_MASS, LAYER_MU, N_LAYER
from regen.properties.alloys import RangeError
from regen.properties.hotgas_phase import T_MAX, T_MIN, Mixture

Array = NDArray[np.float64]

NODES = 28  # pressures on the isentrope; the series has as many terms
LAYER_NODES = 96
LAYER_PRESSURES = 5
T_FREEZE = 1500.0  # K; the composition beside the wall is frozen below (key layer_freeze)
T_SOOT = 800.0  # K; wall temperature of the soot warning

# fields of a series, all natural logarithms
C_P, C_T, C_U, C_MACH, C_MU, C_K, C_CP = range(7)
N_SERIES = 7

# nozzle stagnation, ideal combustion
(N_P0, N_T0, N_CSTAR, N_MU, N_CP, N_PR, N_GAMMA, N_MOLAR_MASS) = range(8)
N_NOZZLE = 8


@dataclass(frozen=True)
class Branch:
    """Chebyshev series (NODES, N_SERIES) in z on [z_low, z_high], and its mass flux [kg/m2s]."""

    low: float
    high: float
    series: Array
    flux: float


def flow_coordinate(area_ratio: Array, downstream: NDArray[np.bool_]) -> Array:
    """Return z = sign(M - 1) sqrt(2 ln(A/A*)), smooth and single-valued through the throat.

    Parameters
    ----------
    area_ratio : ndarray
        Area over throat area, shape (S,) [-].
    downstream : ndarray of bool
        True beyond the throat, shape (S,).

    Returns
    -------
    ndarray
        Coordinate z, shape (S,) [-].
    """
    z = np.sqrt(2.0 * np.log(area_ratio))
    return np.asarray(np.where(downstream, z, -z), dtype=np.float64)


def _node_pressures(low: float, high: float, gamma: float) -> Array:
    """Pressure ratios near Chebyshev nodes in z, by a gas of constant gamma, falling."""
    mach = np.geomspace(0.01, 20.0, 1500)
    g = 1.0 + 0.5 * (gamma - 1.0) * mach**2
    log_area = (gamma + 1.0) / (2.0 * (gamma - 1.0)) * np.log(2.0 / (gamma + 1.0) * g) - np.log(
        mach
    )
    z = np.sign(mach - 1.0) * np.sqrt(2.0 * np.maximum(log_area, 0.0))
    log_p = -gamma / (gamma - 1.0) * np.log(g)
    nodes = chebyshev.chebpts2(NODES)
    return np.exp(np.interp(0.5 * (low + high) + 0.5 * (high - low) * nodes, z, log_p))


def _isentrope(m: Mixture, s: float, h0: float, pressures: Array, *, frozen: bool) -> Array:
    """States at falling pressures, (n, 8): p, T, u, a^2, rho, mu, k, cp."""
    gas = m.gas
    move = m.frozen_entropy if frozen else m.equilibrium_entropy
    out = np.empty((len(pressures), 8))
    for i, p in enumerate(pressures):
        move(s, p)
        rho = gas.density
        u = np.sqrt(max(2.0 * (h0 - gas.enthalpy_mass), 0.0))
        out[i] = p, gas.T, u, 0.0, rho, gas.viscosity, gas.thermal_conductivity, gas.cp_mass
        if frozen:
            out[i, 3] = gas.cp_mass / gas.cv_mass * p / rho
        else:  # equilibrium sound speed: along the isentrope itself
            step = 2e-4 * p
            state = gas.state
            move(s, p - step)
            low = gas.density
            gas.state = state
            move(s, p + step)
            out[i, 3] = 2.0 * step / (gas.density - low)
            gas.state = state
    return out


def _throat(m: Mixture, s: float, h0: float, states: Array, *, frozen: bool) -> tuple[float, float]:
    """Pressure and mass flux where rho u is largest, from a parabola refined once by solves."""
    log_p, log_flux = np.log(states[:, 0]), np.log(np.maximum(states[:, 4] * states[:, 2], 1e-300))
    i = int(np.clip(np.argmax(log_flux), 1, len(log_p) - 2))
    move = m.frozen_entropy if frozen else m.equilibrium_entropy
    x, y = log_p[i - 1 : i + 2], log_flux[i - 1 : i + 2]
    for width in (0.02, 0.004, 0.0):
        fit = np.polyfit(x - x[1], y, 2)
        centre = x[1] - 0.5 * fit[1] / fit[0]
        if not width:
            break
        x = centre + width * np.array([1.0, 0.0, -1.0])
        y = np.empty(3)
        for j in range(3):
            move(s, float(np.exp(x[j])))
            y[j] = np.log(m.gas.density * np.sqrt(2.0 * (h0 - m.gas.enthalpy_mass)))
    move(s, float(np.exp(centre)))
    flux = m.gas.density * np.sqrt(2.0 * (h0 - m.gas.enthalpy_mass))
    return float(np.exp(centre)), float(flux)


def _branch(
    m: Mixture,
    s: float,
    h0: float,
    p0: float,
    gamma: float,
    span: tuple[float, float],
    frozen: bool,
) -> Branch:
    """Series along an isentrope that starts at the mixture's present state."""
    low, high = span
    start = m.gas.state
    for _ in range(6):
        m.gas.state = start
        pressures = p0 * _node_pressures(low, high, gamma)
        states = _isentrope(m, s, h0, pressures, frozen=frozen)
        m.gas.state = start
        _, flux = _throat(m, s, h0, states, frozen=frozen)
        log_area = np.log(flux / (states[:, 4] * states[:, 2]))
        if log_area.min() < -1e-6:
            message = "the mass flux has no single maximum along the expansion"
            raise RangeError(message)
        z = np.sqrt(2.0 * np.maximum(log_area, 0.0))
        z[: int(np.argmin(log_area))] *= -1.0
        j = int(np.argmin(log_area))  # the node next to the throat: its side from its Mach number
        z[j] = np.copysign(z[j], states[j, 2] ** 2 - states[j, 3])
        if z[0] <= span[0] and z[-1] >= span[1]:
            break
        low -= max(z[0] - span[0], 0.0) * 1.2
        high += max(span[1] - z[-1], 0.0) * 1.2
    else:
        message = f"the expansion to z = {span} was not covered"
        raise RangeError(message)
    logs = np.log(
        np.column_stack(
            [
                states[:, 0],
                states[:, 1],
                states[:, 2],
                states[:, 2] / np.sqrt(states[:, 3]),
                states[:, 5:8],
            ]
        )
    )
    scaled = (2.0 * z - (z[0] + z[-1])) / (z[-1] - z[0])
    series = np.linalg.solve(chebyshev.chebvander(scaled, NODES - 1), logs)
    return Branch(float(z[0]), float(z[-1]), series, flux)


def evaluate(series: Array, low: float, high: float, z: Array) -> Array:
    """Return the fields of a series at z, shape (S, N_SERIES), logarithms undone."""
    scaled = (2.0 * z - (low + high)) / (high - low)
    return np.exp(chebyshev.chebval(scaled, series).T)


@dataclass(frozen=True)
class Expansion:
    """One nozzle: stagnation values and the branches up to the throat and beyond it."""

    nozzle: Array
    upstream: Branch
    downstream: Branch


def _stagnation(m: Mixture, h0: float, p0: float, *, frozen: bool, guess: float) -> Array:
    m.equilibrium_enthalpy(h0, p0, guess)
    gas = m.gas
    values = np.empty(N_NOZZLE)
    mu, k, cp = gas.viscosity, gas.thermal_conductivity, gas.cp_mass
    values[[N_P0, N_T0, N_MU, N_CP, N_PR]] = p0, gas.T, mu, cp, mu * cp / k
    values[N_MOLAR_MASS] = gas.mean_molecular_weight * 1e-3
    values[N_GAMMA] = gas.cp_mass / gas.cv_mass
    if not frozen:  # isentropic exponent d ln p / d ln rho at equilibrium
        state, s = gas.state, gas.entropy_mass
        log_rho = []
        for factor in (0.999, 1.001):
            m.equilibrium_entropy(s, p0 * factor)
            log_rho.append(np.log(gas.density))
            gas.state = state
        values[N_GAMMA] = np.log(1.001 / 0.999) / (log_rho[1] - log_rho[0])
    return values


def _expand(
    m: Mixture, h0: float, p0: float, mode: str, span: tuple[float, float], guess: float
) -> Expansion:
    """Expand from the chamber at (h0, p0) by the given chemistry."""
    frozen = mode == "frozen"
    nozzle = _stagnation(m, h0, p0, frozen=frozen, guess=guess)
    s, gamma, chamber = m.gas.entropy_mass, float(nozzle[N_GAMMA]), m.gas.state
    low, high = span
    if mode != "frozen at throat":
        both = _branch(m, s, h0, p0, gamma, span, frozen)
        nozzle[N_CSTAR] = p0 / both.flux
        return Expansion(nozzle, both, both)
    up = _branch(m, s, h0, p0, gamma, (low, 0.3), False)
    nozzle[N_CSTAR] = p0 / up.flux
    # the gas beyond has the throat's composition; its own sonic point lies 2 % of speed further
    # on, and its areas are counted from there (0.05 % of area)
    m.gas.state = chamber
    at_throat = evaluate(up.series, up.low, up.high, np.zeros(1))[0]
    m.equilibrium_entropy(s, float(at_throat[C_P]))
    frozen_gamma = m.gas.cp_mass / m.gas.cv_mass
    down = _branch(m, s, h0, p0, float(frozen_gamma), (-0.3, high), True)
    return Expansion(nozzle, up, down)


def _momentum_ratio(expansion: Expansion, z: float) -> float:
    """(p + rho u^2) / p0 at the end of the barrel."""
    up = expansion.upstream
    at = evaluate(up.series, up.low, up.high, np.array([z]))[0]
    rho_u2 = up.flux / np.exp(0.5 * z * z) * at[C_U]
    return float((at[C_P] + rho_u2) / expansion.nozzle[N_P0])


def expand(
    m: Mixture,
    chamber: Chamber,
    h0: float,
    contraction_ratio: float,
    area_ratio_max: float,
    start: tuple[float, float] | None,
) -> Expansion:
    """Return the expansion of one chamber.

    Parameters
    ----------
    m : Mixture
        Gas of the right elements.
    chamber : Chamber
        Pressure, where it is measured, and chemistry.
    h0 : float
        Total enthalpy [J/kg].
    contraction_ratio, area_ratio_max : float
        Barrel and exit area over throat area [-].
    start : tuple of float or None
        Nozzle stagnation pressure [Pa] and temperature [K] of a like chamber, to start from.

    Returns
    -------
    Expansion
        Stagnation values and series.

    Notes
    -----
    For a pressure measured at the injector, the momentum balance over the barrel,
    p_injector = p + rho u^2 at the contraction ratio, gives the nozzle stagnation pressure.
    """
    z_barrel = -float(np.sqrt(2.0 * np.log(contraction_ratio)))
    span = (z_barrel, float(np.sqrt(2.0 * np.log(area_ratio_max))))
    guess = start[1] if start else 3000.0
    if chamber.pressure_at == "nozzle":
        return _expand(m, h0, chamber.pressure, chamber.expansion, span, guess)
    p0 = start[0] if start else chamber.pressure * _ratio_guess(contraction_ratio)
    for _ in range(8):
        result = _expand(m, h0, p0, chamber.expansion, span, guess)
        new = chamber.pressure / _momentum_ratio(result, z_barrel)
        if abs(new / p0 - 1.0) < 1e-6:
            return result
        p0, guess = new, float(result.nozzle[N_T0])
    message = f"no nozzle pressure found for contraction_ratio {contraction_ratio:.4g}"
    raise RangeError(message)


def _ratio_guess(contraction_ratio: float) -> float:
    """Nozzle stagnation over injector pressure for gamma 1.15, Mach number by iteration."""
    gamma, mach = 1.15, 0.6 / contraction_ratio
    for _ in range(40):
        g = 1.0 + 0.5 * (gamma - 1.0) * mach**2
        mach = (2.0 / (gamma + 1.0) * g) ** ((gamma + 1.0) / (2.0 * (gamma - 1.0)))
        mach /= contraction_ratio
    g = 1.0 + 0.5 * (gamma - 1.0) * mach**2
    return float(g ** (gamma / (gamma - 1.0)) / (1.0 + gamma * mach**2))


def layer_pressures(p_high: float, p_low: float) -> Array:
    """Return the ln p nodes of the wall layer, Chebyshev points, rising, shape (P,)."""
    middle, half = 0.5 * np.log(p_high * p_low), 0.5 * np.log(p_high / p_low)
    return np.asarray(middle + half * chebyshev.chebpts2(LAYER_PRESSURES), dtype=np.float64)


def wall_layer(m: Mixture, temperatures: Array, log_p: Array, T_freeze: float) -> Array:
    """Return the gas beside the wall, (P, N, N_LAYER), at temperatures (N,) and ln p (P,).

    Parameters
    ----------
    m : Mixture
        Gas of the right elements.
    temperatures : ndarray
        Rising nodes, shape (N,) [K].
    log_p : ndarray
        Natural logarithm of pressure in Pa, shape (P,) [-].
    T_freeze : float
        The composition is at equilibrium above and frozen below [K].

    Returns
    -------
    ndarray
        Enthalpy, viscosity, conductivity, frozen cp, molar mass; shape (P, N, N_LAYER), SI.
    """
    gas = m.gas
    out = np.empty((len(log_p), len(temperatures), N_LAYER))
    first = int(np.searchsorted(temperatures, T_freeze))
    for i, p in enumerate(np.exp(log_p)):
        for j in range(len(temperatures) - 1, -1, -1):
            if j >= first:
                m.equilibrium_at(float(temperatures[j]), float(p))
            else:
                if j == first - 1:
                    m.equilibrium_at(T_freeze, float(p))
                gas.TP = temperatures[j], p
            row = out[i, j]
            row[LAYER_H], row[LAYER_CP] = gas.enthalpy_mass, gas.cp_mass
            row[LAYER_MU], row[LAYER_K] = gas.viscosity, gas.thermal_conductivity
            row[LAYER_MOLAR_MASS] = gas.mean_molecular_weight * 1e-3
    return out


def layer_temperatures(T0: float) -> Array:
    """Return the uniform temperature nodes of the wall layer, shape (N,) [K]."""
    top = min(1.05 * max(T0, 1000.0), T_MAX)
    return np.asarray(np.linspace(T_MIN, top, LAYER_NODES), dtype=np.float64)
