"""Hot gas of a chamber: a cached table over total enthalpy, and its values at stations."""

from dataclasses import asdict, dataclass

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from regen.design import Chamber, Propellants
from regen.errors import RangeError
from regen.gas import nozzle
from regen.physics import arrays as A
from regen.storage.cache import cached, library
from regen.texts import text

Array = NDArray[np.float64]

VERSION = 6
RETURN_NODES = 4
RETURN_TEMPERATURE = 900.0
"""Fuel temperature up to which returned heat is tabulated [K]."""

FREEZE_TEMPERATURE = 1500.0
"""Usual temperature below which the composition beside the wall is frozen [K]; layer_freeze."""

RECOVERY_SLACK = 0.02
"""An adiabatic wall this much colder than the gas beside it is an error of the table [-]."""


@dataclass(frozen=True)
class GasTable:
    """Expansion at each node of total enthalpy, and the gas beside the wall.

    ``h0`` (H,) [J/kg] is what the efficiency leaves, and ``feed_gain`` its change with the enthalpy
    of the feeds [-]; ``nozzle`` (H, N_NOZZLE). ``series`` (H, 2, terms, N_SERIES) and ``span``
    (H, 2, 2) are Chebyshev series up to and beyond the throat, ``flux`` (H, 2) their throat mass
    flux [kg/(m2 s)]; ``layer`` (P, 2, terms, N_LAYER) the series of the wall layer below and above
    ``layer_freeze`` (P,) at ``layer_lnp`` (P,), for the temperatures ``layer_T`` (N,).
    """

    h0: Array
    feed_gain: float
    nozzle: Array
    series: Array
    span: Array
    flux: Array
    layer: Array
    layer_T: Array
    layer_lnp: Array
    layer_freeze: Array
    notes: tuple[str, ...]


def gas_table(
    propellants: Propellants,
    chamber: Chamber,
    *,
    contraction_ratio: float,
    area_ratio_max: float,
    fuel_feed: tuple[float, float] | None = None,
    freeze_temperature: float = FREEZE_TEMPERATURE,
    hottest: float = 0.0,
) -> GasTable:
    """Return the hot-gas table of a chamber, from the cache if it was built before.

    ``contraction_ratio`` and ``area_ratio_max`` [-] end the expansion; ``fuel_feed`` is the state
    (T [K], p [Pa]) in which the fuel enters the cooling channels, where the heat it picks up there
    comes back with it. The gas beside the wall is at equilibrium above
    ``freeze_temperature`` and the core's temperature, of frozen composition below [K];
    ``hottest`` [K] is a stagnation temperature that the wall layer reaches at least, for tables
    that are to have the same temperatures. Raises ``RangeError`` if the propellants or their
    states are impossible, or no equilibrium is found.
    """
    key = {
        "propellants": asdict(propellants),
        "chamber": asdict(chamber),
        "areas": [contraction_ratio, area_ratio_max],
        "feed": fuel_feed,
        "returns": fuel_feed is not None,
        "freeze": freeze_temperature,
        "hottest": hottest,
        "libraries": [library("cantera"), library("CoolProp")],
    }
    areas = contraction_ratio, area_ratio_max
    request = propellants, chamber, areas, fuel_feed, freeze_temperature, hottest
    stored = cached("gas", VERSION, key, lambda: _build(*request))
    activity, feed_gain = stored.pop("carbon_activity"), float(stored.pop("feed_gain"))
    warnings = zip(("soot", "soot in the core"), activity, strict=True)
    notes = tuple(text(name) for name, a in warnings if a > 1)
    return GasTable(**stored, feed_gain=feed_gain, notes=notes)


def _build(
    propellants: Propellants,
    chamber: Chamber,
    areas: tuple[float, float],
    fuel_feed: tuple[float, float] | None,
    freeze_temperature: float,
    hottest: float,
) -> dict[str, NDArray[np.float64]]:
    from regen.gas.feeds import feed_enthalpy, reactants
    from regen.gas.phase import mixture

    feed = reactants(propellants, pressure=chamber.pressure, fuel_feed=fuel_feed)
    m = mixture(feed.elements)
    as_fed, feed_gain = nozzle.lowered_enthalpy(m, chamber, feed.enthalpy, areas[0])
    h0 = np.array([as_fed])
    if fuel_feed is not None:
        cold, hot = (
            feed_enthalpy(propellants.fuel, "liquid", T, fuel_feed[1], fixed=True)
            for T in (fuel_feed[0], RETURN_TEMPERATURE)
        )
        h0 = as_fed + feed.fuel_fraction * (hot - cold) * np.linspace(0, 1, RETURN_NODES)
    expansions = []
    start = None
    for value in h0:
        expansion = nozzle.expand(m, chamber, float(value), *areas, start)
        start = float(expansion.nozzle[nozzle.N_P0]), float(expansion.nozzle[nozzle.N_T0])
        expansions.append(expansion)
    branches = [(e.upstream, e.downstream) for e in expansions]
    nozzles = np.stack([e.nozzle for e in expansions])
    temperatures = nozzle.layer_temperatures(max(float(nozzles[:, nozzle.N_T0].max()), hottest))
    p0 = float(nozzles[:, nozzle.N_P0].max())
    last = branches[0][1]
    p_low = float(last.at(np.array([last.high]))[0, nozzle.C_P])
    log_p = nozzle.layer_pressures(1.02 * p0, 0.95 * p_low)
    edge = nozzle.edge_temperatures(expansions[0], log_p)
    freeze = np.minimum(freeze_temperature, edge)
    layer = nozzle.wall_layer(m, log_p, freeze, float(temperatures[-1]))
    activity = [0.0, 0.0]  # of graphite, beside the wall and in the chamber
    if "C" in feed.elements:
        # stable: in the equilibrium of gas and graphite
        for i, T in enumerate((nozzle.T_SOOT, float(nozzles[0, nozzle.N_T0]))):
            m.equilibrium_at(T, p0)
            activity[i] = m.carbon_activity(T)
    return {
        "h0": h0,
        "feed_gain": np.array(feed_gain),
        "nozzle": nozzles,
        "series": np.stack([[b.series for b in pair] for pair in branches]),
        "span": np.array([[[b.low, b.high] for b in pair] for pair in branches]),
        "flux": np.array([[b.flux for b in pair] for pair in branches]),
        "layer": layer,
        "layer_T": temperatures,
        "layer_lnp": log_p,
        "layer_freeze": freeze,
        "carbon_activity": np.array(activity),
    }


def _states(table: GasTable, n: int, z: Array, side: NDArray[np.int64]) -> Array:
    """Fields (S, N_SERIES) at node n of enthalpy, from the branch before or beyond the throat."""
    state = np.empty((z.size, nozzle.N_SERIES))
    for branch in (0, 1):
        at = side == branch
        low, high = table.span[n, branch]
        series, flux = table.series[n, branch], table.flux[n, branch]
        state[at] = nozzle.Branch(low, high, series, flux).at(z[at])
    return state


def radiating_fractions(
    table: GasTable, area_ratio: Array, downstream: NDArray[np.bool_]
) -> tuple[Array, Array]:
    """Return the mole fractions of H2O and CO2 in the gas as fed (S,); 1e-12 stands for none."""
    z = nozzle.flow_coordinate(area_ratio, downstream)
    state = _states(table, 0, z, np.asarray(downstream, dtype=np.int64))
    return state[:, nozzle.C_X_H2O], state[:, nozzle.C_X_CO2]


def _layer_series(table: GasTable, p: Array) -> tuple[Array, Array]:
    """Return the wall layer's series (S, 2, terms, N_LAYER) at pressures and freezing (S,) [K].

    Through all nodes of ln p.
    """
    middle, half = table.layer_lnp[[0, -1]].mean(), np.ptp(table.layer_lnp) / 2.0
    nodes = (table.layer_lnp - middle) / half
    x = (np.log(p) - middle) / half
    order = nodes.size - 1
    weights = chebyshev.chebvander(x, order) @ np.linalg.inv(chebyshev.chebvander(nodes, order))
    return np.tensordot(weights, table.layer, axes=1), weights @ table.layer_freeze


def _span(table: GasTable) -> tuple[float, float]:
    """Return the ends of the wall layer's series at equilibrium [K]."""
    return float(table.layer_freeze.min()), float(table.layer_T[-1])


def _temperature(table: GasTable, series: Array, freeze: Array, layer: Array, h: Array) -> Array:
    """Return the temperature at which each station's wall layer has an enthalpy (S,) [K].

    First between the nodes of ``layer``, up to half a kelvin off where gas dissociates.
    """
    T = table.layer_T
    rows = layer[:, :, A.LAYER_H]
    n = np.clip((rows < h[:, None]).sum(axis=1) - 1, 0, T.size - 2)
    low, high = np.take_along_axis(rows, np.stack([n, n + 1], axis=1), axis=1).T
    slope = (high - low) / (T[n + 1] - T[n])
    temperature: Array = T[n] + (h - low) / slope
    for _ in range(2):
        inside = np.clip(temperature, T[0], T[-1])[:, None]
        at = nozzle.layer_at(series, freeze, inside, _span(table))[:, 0, A.LAYER_H]
        temperature += np.where(inside[:, 0] == temperature, (h - at) / slope, 0.0)
    return temperature


def gas_at_stations(
    table: GasTable,
    area_ratio: Array,
    downstream: NDArray[np.bool_],
    *,
    factor: Array,
    throat_diameter: float,
    throat_curvature: float,
) -> A.GasStations:
    """Return the gas at stations for the compiled core (one gas set).

    ``area_ratio`` over the throat's, ``downstream`` True beyond the throat, ``factor`` measured
    over computed heat flux, each (S,); throat diameter and mean radius of curvature [m]. Raises
    ``RangeError`` where the gas is so cool that the composition frozen beside the wall is not its
    own.

    All of it is one gas, p = rho R T/M, of the mass flux p0/c* at the throat. The adiabatic wall
    enthalpy is h + r u^2/2 with r = Pr^(1/3).
    """
    z = nozzle.flow_coordinate(area_ratio, downstream)
    side = np.asarray(downstream, dtype=np.int64)
    core = np.zeros((1, table.h0.size, z.size, A.N_CORE))
    stagnation = np.empty((1, table.h0.size, A.N_STAGNATION))
    states = [_states(table, n, z, side).T for n in range(table.h0.size)]
    series, freeze = _layer_series(table, states[0][nozzle.C_P])
    layer = nozzle.layer_at(series, freeze, table.layer_T, _span(table))
    for n, h0 in enumerate(table.h0):
        p, T, u, mach, mu, k, cp, *_ = states[n]
        h = h0 - 0.5 * u**2
        h_aw = h + np.cbrt(mu * cp / k) * 0.5 * u**2
        rho = table.flux[n][side] / (area_ratio * u)
        T_aw = _temperature(table, series, freeze, layer, h_aw)
        core[0, n, :, : A.G_X_EFF] = np.stack(
            [p, T, rho, u, h, mach, mu, k, cp, h_aw, T_aw, area_ratio, factor], axis=1
        )
        core[0, n, :, A.G_X_EFF] = 1.0
    shared = slice(A.S_P0, A.S_GAMMA + 1)
    stagnation[0, :, shared] = table.nozzle[:, shared]
    stagnation[0, :, A.S_THROAT_DIAMETER] = throat_diameter
    stagnation[0, :, A.S_THROAT_CURVATURE] = throat_curvature
    stagnation[0, :, A.S_FEED_GAIN] = table.feed_gain
    _check_recovery(core)
    step = table.layer_T[1] - table.layer_T[0]
    return A.GasStations(
        h0=np.ascontiguousarray(table.h0[None, :]),
        core=core,
        stagnation=stagnation,
        layer=layer[None],
        layer_T=np.array([[table.layer_T[0], step]]),
    )


def _check_recovery(core: Array) -> None:
    """Refuse a gas whose frozen wall layer gives an adiabatic wall colder than the gas itself."""
    T, T_aw = core[..., A.G_T], core[..., A.G_T_AW]
    if np.all(T_aw > (1.0 - RECOVERY_SLACK) * T):
        return
    worst = np.unravel_index(np.argmin(T_aw / T), T.shape)
    raise RangeError(text("recovery", T=T[worst], T_aw=T_aw[worst]))


def thrust_per_throat_area(
    table: GasTable, area_ratio: float, ambient_pressure: float, half_angle: float
) -> float:
    """Return thrust over throat area [Pa] of a conical or bell nozzle.

    F/At = (1 + cos a)/2 rho_t u_t u_e + (p_e - p_a) eps, the divergence factor of a cone.
    """
    z = nozzle.flow_coordinate(np.array([area_ratio]), np.array([True]))
    state = _states(table, 0, z, np.array([1]))[0]
    divergence = 0.5 * (1.0 + np.cos(half_angle))
    momentum = divergence * table.flux[0, 0] * state[nozzle.C_U]
    return float(momentum + (state[nozzle.C_P] - ambient_pressure) * area_ratio)
