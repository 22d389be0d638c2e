"""Builders of the hot-gas table: expansion along the nozzle and the gas beside the wall."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.polynomial import Polynomial, chebyshev
from numpy.typing import NDArray

from regen.design import Chamber
from regen.errors import RangeError
from regen.gas.phase import T_MAX, T_MIN, Mixture
from regen.physics.arrays import N_LAYER, Array
from regen.texts import text

NODES = 22  # pressures on the isentrope; the series has as many terms
BARREL_NODES = 10  # the same, on the way to the throat, while the nozzle pressure is sought
LAYER_NODES = 96
LAYER_TERMS = 18  # of each of the two series, above and below the freezing of the composition
COLD_TERMS = 36  # where equilibrium goes below T_COLD: methane forms late
T_COLD = 1000.0  # K
LAYER_PRESSURES = 7
EDGE_POINTS = 120  # at which the temperature of the core is read for the wall layer
T_SOOT = 800.0  # K; wall temperature of the soot warning

# fields of a series, all natural logarithms; the last two are mole fractions
C_P, C_T, C_U, C_MACH, C_MU, C_K, C_CP, C_X_H2O, C_X_CO2 = range(9)
N_SERIES = 9

# of a solved state: p, T, u, rho, mu, k, cp, mole fractions of H2O and CO2
N_STATE = 9
DEFICIT = 3.0  # first guess: enthalpy of a hot gas over c*^2, perfect gas of gamma 1.15
DEFICIT_STEP = 1e-3  # last step of the deficit over itself; what it leaves is far less
COVER = 1.05  # part of the range of z asked of a gas of constant gamma, so that the real one fits

# nozzle stagnation: the first fields are those of the core's
N_P0, N_T0, N_CSTAR, N_MU, N_CP, N_PR, N_GAMMA = range(7)
N_MOLAR_MASS, N_NOZZLE = 7, 8


@dataclass(frozen=True)
class Branch:
    """Chebyshev series (terms, N_SERIES) in z on [z_low, z_high], and its mass flux [kg/m2s]."""

    low: float
    high: float
    series: Array
    flux: float

    def at(self, z: Array) -> Array:
        """Return the fields (S, N_SERIES) [SI] at flow coordinates (S,)."""
        scaled = (2.0 * z - (self.low + self.high)) / (self.high - self.low)
        return np.exp(chebyshev.chebval(scaled, self.series).T)


def flow_coordinate(area_ratio: Array, downstream: NDArray[np.bool_]) -> Array:
    """Return z = sign(M - 1) sqrt(2 ln(A/A*)) (S,), smooth and single-valued through the throat."""
    z = np.sqrt(2.0 * np.log(area_ratio))
    return np.asarray(np.where(downstream, z, -z), dtype=np.float64)


def _node_pressures(low: float, high: float, gamma: float, nodes: int) -> Array:
    """Pressure ratios at Chebyshev nodes in the z of a gas of constant gamma, falling.

    Exact to rounding: the states are fitted as functions of that z.
    """
    z = 0.5 * (low + high) + 0.5 * (high - low) * chebyshev.chebpts2(nodes)
    power = 0.5 * (gamma + 1.0) / (gamma - 1.0)
    near = np.sqrt(2.0 / (gamma + 1.0))  # dz/d ln M at the throat
    log_mach = z / near
    for _ in range(60):
        mach2 = np.exp(2.0 * log_mach)
        g = 1.0 + 0.5 * (gamma - 1.0) * mach2
        log_area = power * np.log(2.0 / (gamma + 1.0) * g) - log_mach
        error = np.sign(log_mach) * np.sqrt(2.0 * np.maximum(log_area, 0.0)) - z
        far = np.abs(z) > 1e-3
        slope = np.where(far, (mach2 - 1.0) / (g * np.where(far, z, 1.0)), near)
        step = error / slope
        log_mach -= np.clip(step, -0.5, 0.5)
        if np.abs(step).max() < 1e-10:
            break
    return np.asarray(np.exp(-gamma / (gamma - 1.0) * np.log(g)))


class _Isentrope(NamedTuple):
    """Entropy [J/(kg K)], total enthalpy [J/kg], stagnation pressure [Pa], exponent, chemistry."""

    s: float
    h0: float
    p0: float
    gamma: float
    frozen: bool


def _states(m: Mixture, isentrope: _Isentrope, pressures: Array) -> Array:
    """States at falling pressures, (n, N_STATE)."""
    gas = m.gas
    move = m.frozen_entropy if isentrope.frozen else m.equilibrium_entropy
    out = np.empty((len(pressures), N_STATE))
    for i, p in enumerate(pressures):
        move(isentrope.s, float(p))
        u = np.sqrt(max(2.0 * (isentrope.h0 - gas.enthalpy_mass), 0.0))
        transport = gas.viscosity, gas.thermal_conductivity
        out[i] = p, gas.T, u, gas.density, *transport, gas.cp_mass, *m.radiating()
    return out


def _sonic_point(log_flux: Array) -> tuple[float, Array]:
    """Return the largest ln(rho u), and z at the nodes, from its series.

    The series has a double zero at its maximum. Dividing it out leaves ln A = (x - x_t)^2 g(x)
    with g positive and smooth, so that z keeps its digits at nodes close to the throat too.
    """
    x = chebyshev.chebpts2(log_flux.size)
    series = np.linalg.solve(chebyshev.chebvander(x, x.size - 1), log_flux)
    slope = chebyshev.chebder(series)
    curvature = chebyshev.chebder(slope)
    x_t = float(x[np.argmax(log_flux)])
    for _ in range(20):
        step = float(chebyshev.chebval(x_t, slope) / chebyshev.chebval(x_t, curvature))
        x_t -= step
        if abs(step) < 1e-13:
            break
    top = float(chebyshev.chebval(x_t, series))
    # (x - x_t)^2 in Chebyshev polynomials
    double = [x_t * x_t + 0.5, -2.0 * x_t, 0.5]
    ratio, _ = chebyshev.chebdiv(chebyshev.chebsub([top], series), double)
    g = chebyshev.chebval(x, ratio)
    if not (abs(x_t) < 1.0 and g.min() > 0.0):
        raise RangeError("the mass flux has no single maximum along the expansion")
    return top, (x - x_t) * np.sqrt(2.0 * g)


def _branch(
    m: Mixture, isentrope: _Isentrope, span: tuple[float, float], nodes: int = NODES
) -> Branch:
    """Series along an isentrope that starts at the mixture's present state.

    The Mach number needs no derivative of the gas: conservation of mass along an isentrope,
    dA/A = (M^2 - 1) du/u with ln A = z^2/2, gives M^2 = 1 + z/(d ln u/dz).
    """
    low, high = COVER * span[0], COVER * span[1]
    start = m.gas.state
    for _ in range(6):
        m.gas.state = start
        pressures = isentrope.p0 * _node_pressures(low, high, isentrope.gamma, nodes)
        states = _states(m, isentrope, pressures)
        log_flux, z = _sonic_point(np.log(states[:, 3] * states[:, 2]))
        if z[0] <= span[0] and z[-1] >= span[1]:
            break
        low -= max(z[0] - span[0], 0.0) * 1.2
        high += max(span[1] - z[-1], 0.0) * 1.2
    else:
        raise RangeError(f"the expansion to z = {span} was not covered")
    p, T, u, _, *rest = np.log(states).T
    scaled = (2.0 * z - (z[0] + z[-1])) / (z[-1] - z[0])
    matrix = chebyshev.chebvander(scaled, nodes - 1)
    slope = chebyshev.chebder(np.linalg.solve(matrix, u)) * 2.0 / (z[-1] - z[0])
    log_mach = 0.5 * np.log(1.0 + z / chebyshev.chebval(scaled, slope))
    series = np.linalg.solve(matrix, np.column_stack([p, T, u, log_mach, *rest]))
    return Branch(float(z[0]), float(z[-1]), series, float(np.exp(log_flux)))


@dataclass(frozen=True)
class Expansion:
    """One nozzle: stagnation values and the branches up to the throat and beyond it."""

    nozzle: Array
    upstream: Branch
    downstream: Branch


def _stagnation(
    m: Mixture, h0: float, p0: float, *, frozen: bool, guess: float
) -> tuple[Array, _Isentrope]:
    """Set the gas to the chamber's state; return its fields but for c*, and the way from there."""
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
    return values, _Isentrope(gas.entropy_mass, h0, p0, float(values[N_GAMMA]), frozen)


class _Throat(NamedTuple):
    """Nozzle stagnation pressure [Pa] and temperature [K], and characteristic velocity [m/s]."""

    p0: float
    T0: float
    cstar: float


def _to_throat(
    m: Mixture, chamber: Chamber, h0: float, z: float, start: tuple[float, float] | None
) -> _Throat:
    """Meet the chamber pressure at total enthalpy h0, on few nodes from the barrel's end z on."""
    frozen = chamber.expansion == "frozen"
    p0, guess = start or (chamber.pressure * _ratio_guess(float(np.exp(0.5 * z * z))), 3000.0)
    if chamber.pressure_at == "nozzle":
        p0 = chamber.pressure
    for _ in range(8):
        nozzle, isentrope = _stagnation(m, h0, p0, frozen=frozen, guess=guess)
        guess = float(nozzle[N_T0])
        up = _branch(m, isentrope, (z, 0.2), BARREL_NODES)
        last, cstar = p0, p0 / up.flux
        if chamber.pressure_at == "nozzle":
            return _Throat(p0, guess, cstar)
        at = up.at(np.array([z]))[0]
        rho_u2 = up.flux / np.exp(0.5 * z * z) * at[C_U]
        p0 = chamber.pressure / float((at[C_P] + rho_u2) / last)
        if abs(p0 / last - 1.0) < 1e-4:  # the ratio itself hardly depends on p0: below 1e-6
            return _Throat(p0, guess, cstar)
    raise RangeError(f"no nozzle pressure found for contraction_ratio {np.exp(0.5 * z * z):.4g}")


def lowered_enthalpy(
    m: Mixture, chamber: Chamber, h_feed: float, contraction_ratio: float
) -> tuple[float, float]:
    """Return the total enthalpy [J/kg] of the gas that a combustion efficiency leaves.

    And its change with the enthalpy of the feeds, ``h_feed`` [J/kg], at the same efficiency [-].
    Raises ``RangeError`` if no gas of these elements has so low a characteristic velocity.

    c*(h) = eta c*(h_feed), both of the case's chemistry and at the chamber pressure as the case
    gives it: the ratio of two results that differ in the efficiency alone. Where the pressure is
    the injector's, the two nozzle pressures are each gas's own. c*^2 is nearly linear in h, so the
    deficit is found as a polynomial of c*^2.
    """
    eta, z = chamber.combustion_efficiency, _barrel_coordinate(contraction_ratio)
    if eta == 1.0:
        return h_feed, 1.0
    first = _to_throat(m, chamber, h_feed, z, None)
    ideal = at = _to_throat(m, chamber, h_feed, z, (first.p0, first.T0))  # at its own p0
    guess = DEFICIT * (1.0 - eta**2) * ideal.cstar**2
    deficits, squares = [0.0], [1.0]
    wanted = [0.05 * guess, guess]  # close pairs at both ends, for the slopes there
    try:
        for _ in range(12):
            deficit = wanted.pop(0)
            at = _to_throat(m, chamber, h_feed - deficit, z, (at.p0, at.T0))
            deficits.append(deficit)
            squares.append((at.cstar / ideal.cstar) ** 2)
            if wanted:
                continue
            fit = Polynomial.fit(squares, deficits, len(squares) - 1)
            better, rate = float(fit(eta**2)), fit.deriv()
            if abs(better - deficit) <= DEFICIT_STEP * better:
                return h_feed - better, eta**2 * float(rate(eta**2) / rate(1.0))
            wanted.append(better)
        reason = "the search does not settle"
    except RangeError as error:
        reason = str(error)
    raise RangeError(text("no efficiency", efficiency=eta, cstar=ideal.cstar, reason=reason))


def _barrel_coordinate(contraction_ratio: float) -> float:
    return -float(np.sqrt(2.0 * np.log(contraction_ratio)))


def expand(
    m: Mixture,
    chamber: Chamber,
    h0: float,
    contraction_ratio: float,
    area_ratio_max: float,
    start: tuple[float, float] | None,
) -> Expansion:
    """Return the expansion of one chamber at total enthalpy h0 [J/kg], from barrel to exit.

    ``start`` are nozzle stagnation pressure [Pa] and temperature [K] of a like chamber.

    For a pressure measured at the injector, the momentum balance over the barrel,
    p_injector = p + rho u^2 at the contraction ratio, gives the nozzle stagnation pressure.
    """
    low, high = _barrel_coordinate(contraction_ratio), float(np.sqrt(2.0 * np.log(area_ratio_max)))
    p0, guess = chamber.pressure, start[1] if start else 3000.0
    if chamber.pressure_at == "injector":
        p0, guess, _ = _to_throat(m, chamber, h0, low, start)
    frozen = chamber.expansion == "frozen"
    nozzle, isentrope = _stagnation(m, h0, p0, frozen=frozen, guess=guess)
    stagnant = m.gas.state
    at_throat = chamber.expansion == "frozen at throat"
    up = down = _branch(m, isentrope, (low, 0.3 if at_throat else high))
    nozzle[N_CSTAR] = p0 / up.flux
    if at_throat:
        # the gas beyond has the throat's composition; its own sonic point lies 2 % of speed further
        # on, and its areas are counted from there (0.05 % of area)
        m.gas.state = stagnant
        m.equilibrium_entropy(isentrope.s, float(up.at(np.zeros(1))[0, C_P]))
        frozen_gamma = float(m.gas.cp_mass / m.gas.cv_mass)
        down = _branch(m, isentrope._replace(gamma=frozen_gamma, frozen=True), (-0.3, high))
    return Expansion(nozzle, up, down)


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
    """Return the nodes of the wall layer in ln p [ln Pa], Chebyshev points, rising, (P,)."""
    middle, half = 0.5 * np.log(p_high * p_low), 0.5 * np.log(p_high / p_low)
    return np.asarray(middle + half * chebyshev.chebpts2(LAYER_PRESSURES), dtype=np.float64)


def edge_temperatures(e: Expansion, log_p: Array) -> Array:
    """Return the core's temperature (P,) [K] at pressures (P,) [ln Pa]: the chamber's above its."""
    ends = ((e.upstream, e.upstream.low, 0.0), (e.downstream, 0.0, e.downstream.high))
    along = [b.at(np.linspace(z0, z1, EDGE_POINTS))[:, [C_P, C_T]] for b, z0, z1 in ends]
    chamber = e.nozzle[[N_P0, N_T0]][None, :]
    p, T = np.concatenate([chamber, *along]).T
    return np.asarray(np.interp(log_p, np.log(p[::-1]), T[::-1]))


def wall_layer(m: Mixture, log_p: Array, T_freeze: Array, T_top: float) -> Array:
    """Return the gas beside the wall as Chebyshev series in temperature, at pressures (P,) [ln Pa].

    (P, 2, terms, N_LAYER): from ``T_MIN`` to the freezing ``T_freeze`` (P,) [K] of the composition,
    and, at equilibrium, from the lowest freezing of all pressures to ``T_top`` [K].

    The freezing has a kink where the core itself gets colder than what is given, and no series in
    pressure follows that. Of the gas at equilibrium, one span for all pressures keeps it out.
    """
    lowest = float(T_freeze.min())
    terms = LAYER_TERMS if lowest >= T_COLD else COLD_TERMS
    x = chebyshev.chebpts2(terms)
    fit = np.linalg.inv(chebyshev.chebvander(x, terms - 1))
    out = np.empty((len(log_p), 2, terms, N_LAYER))
    rows = np.empty((terms, N_LAYER))
    for i, (p, T) in enumerate(zip(np.exp(log_p), T_freeze, strict=True)):
        for j in reversed(range(terms)):
            m.equilibrium_at(float(_between(lowest, T_top, x[j])), float(p))
            rows[j] = _layer_properties(m)
        out[i, 1] = fit @ rows
        m.equilibrium_at(float(T), float(p))
        for j in range(terms):
            m.gas.TP = _between(T_MIN, T, x[j]), p
            rows[j] = _layer_properties(m)
        out[i, 0] = fit @ rows
    return out


def _between(low: float, high: float, x: float) -> float:
    return 0.5 * (low + high) + 0.5 * (high - low) * x


def layer_at(
    series: Array, T_freeze: Array, temperatures: Array, span: tuple[float, float]
) -> Array:
    """Return the wall layer (S, N, N_LAYER) at temperatures (N,), or each station's (S, N) [K].

    ``series`` (S, 2, terms, N_LAYER) as ``wall_layer`` gives them, one taking over from the other
    at ``T_freeze`` (S,) [K]; ``span`` are the ends of the series at equilibrium [K].
    """
    joint = T_freeze[:, None]
    below = 2.0 * (temperatures - T_MIN) / (joint - T_MIN) - 1.0
    above = 2.0 * (temperatures - span[0]) / (span[1] - span[0]) - 1.0
    hot = temperatures >= joint
    basis = chebyshev.chebvander(np.where(hot, above, below), series.shape[2] - 1)
    cold_part, hot_part = (basis @ series[:, side] for side in (0, 1))
    return np.ascontiguousarray(np.where(hot[:, :, None], hot_part, cold_part))


def _layer_properties(m: Mixture) -> Array:
    """Properties in the order of the core's LAYER_ fields."""
    gas = m.gas
    transport = gas.viscosity, gas.thermal_conductivity
    return np.array([gas.enthalpy_mass, *transport, gas.cp_mass, gas.mean_molecular_weight * 1e-3])


def layer_temperatures(T0: float) -> Array:
    """Return the uniform temperature nodes of the wall layer, shape (N,) [K]."""
    top = min(1.05 * max(T0, 1000.0), T_MAX)
    return np.asarray(np.linspace(T_MIN, top, LAYER_NODES), dtype=np.float64)
