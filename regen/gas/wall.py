"""The hot gas beside the wall at the stations: table, boundary layer, factors, radiation, film."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from regen.design import Design
from regen.errors import RangeError
from regen.gas import radiation as gas_radiation
from regen.gas import table as hotgas
from regen.gas.film import FilmReport, Wall, with_film
from regen.gas.layer import check_injection, ends_text, layer_nodes, with_layer
from regen.geometry.contour import Contour
from regen.geometry.curves import running_integral
from regen.physics import arrays as A
from regen.physics.arrays import Array
from regen.result import Note
from regen.texts import text

FINE = 0.1
"""Largest step along which boundary layer and film are integrated, over the throat radius [-]."""

START_LENGTH = 0.1
"""Length of the boundary layer at the injector face, over the barrel's diameter [-].

A layer that begins at the face would have an infinite coefficient there; mixing of the injector
elements hides what it is. At the throat it is worth about 1 %.
"""

T_WALL_ASSUMED = 700.0
"""Wall temperature at which the boundary layer's history is taken [K]; worth less than 2 %."""

LEAST_RADIATING = 0.01
"""Mole fraction of H2O and CO2 together below which a gas is taken not to radiate [-]."""


@dataclass(frozen=True)
class WallGas:
    """Gas at the stations in rising x, notes on it, and the film if there is one."""

    gas: A.GasStations
    notes: tuple[Note, ...]
    film: FilmReport | None


def hot_gas_table(
    design: Design,
    areas: tuple[float, float],
    *,
    hottest: float = 0.0,
    key: str = "propellants.mixture_ratio",
) -> hotgas.GasTable:
    """Return the hot-gas table of a design.

    ``areas`` are the area ratios of barrel and nozzle exit; the wall layer reaches at least
    ``hottest`` [K] of stagnation. Raises ``RangeError`` if the propellants or their states are
    impossible, with the keys to change; ``key`` is that of the mixture ratio.
    """
    feed, pair, chamber = design.coolant, design.propellants, design.chamber
    fuel_feed = None
    if feed.returns_to_injector:
        pressure = feed.inlet_pressure or feed.outlet_pressure or 0.0
        fuel_feed = (feed.inlet_temperature, pressure)
    try:
        return hotgas.gas_table(
            pair,
            chamber,
            contraction_ratio=areas[0],
            area_ratio_max=areas[1],
            fuel_feed=fuel_feed,
            freeze_temperature=design.models.freeze_temperature,
            hottest=hottest,
        )
    except RangeError as error:
        of = {"oxidizer": pair.oxidizer, "fuel": pair.fuel, "key": key, "ratio": pair.mixture_ratio}
        at = {"pressure": chamber.pressure, "efficiency": chamber.combustion_efficiency}
        whole = text("hot gas", **of, **at, area_ratio=areas[1], error=error)
        raise RangeError(whole) from None


def barrel_share(area_ratio: Array, x: Array, contraction_ratio: float) -> Array:
    """Return 1 in the barrel, falling with the area to 0 at the throat and downstream (S,) [-]."""
    upstream = np.where(x < 0.0, area_ratio - 1.0, 0.0)
    return np.asarray(np.clip(upstream / (contraction_ratio - 1.0), 0.0, 1.0))


def fitted_factor(design: Design, area_ratio: Array, x: Array, contraction_ratio: float) -> Array:
    """Return measured over computed heat flux along the axis, as the case gives it (S,) [-].

    The barrel's in the barrel, linear in the area ratio to the throat's, which holds downstream;
    times the mixing factor where it is given.
    """
    models = design.models
    share = barrel_share(area_ratio, x, contraction_ratio)
    factor = models.throat_factor + share * (models.barrel_factor - models.throat_factor)
    return np.asarray(factor * (models.mixing_factor.at(x) if models.mixing_factor else 1.0))


def fine_positions(contour: Contour, x: Array, extra: Sequence[float] = ()) -> Array:
    """Return rising positions [m] from the injector face to the last station, ``x`` among them.

    They are ``FINE`` throat radii apart at most.
    """
    start, stop = contour.x_injector, float(x[-1])
    joints = [v for v in (*contour.breakpoints, *extra) if start <= v <= stop]
    marks = np.unique(np.concatenate([[start], joints, x]))
    step = FINE * contour.throat_radius
    parts = np.maximum(np.ceil(np.diff(marks) / step), 1.0).astype(int)
    inner = [np.linspace(*ends, n + 1)[1:] for ends, n in zip(pairwise(marks), parts, strict=True)]
    return np.concatenate([marks[:1], *inner])


def effective_length(s: Array, r: Array, flux: Array, drive: Array, start: float) -> Array:
    """Return the length of a flat plate with the boundary layer found along a chamber (S,) [m].

    x_eff = int R^1.25 dh^1.25 G ds / (R^1.25 dh^1.25 G), from the length ``s`` along the contour
    and the radius ``r`` [m], the core's mass ``flux`` G [kg/(m2 s)] and the driving enthalpy
    ``drive`` dh [J/kg]; ``start`` [m] is the length at the first station.
    """
    weight = (r * np.maximum(drive, 1.0)) ** 1.25 * flux
    return np.asarray((start * weight[0] + running_integral(weight, np.diff(s))) / weight)


def _enthalpy_at(gas: A.GasStations, T: float) -> Array:
    """Enthalpy of the wall layer at one temperature, (S,)."""
    nodes = layer_nodes(gas)
    i = int(np.clip(np.searchsorted(nodes, T) - 1, 0, nodes.size - 2))
    share = (T - nodes[i]) / gas.layer_T[0, 1]
    rows = gas.layer[0, :, :, A.LAYER_H]
    return np.asarray((1.0 - share) * rows[:, i] + share * rows[:, i + 1])


def _radiation(
    design: Design, table: hotgas.GasTable, core: Array, x: Array, r: Array, contraction: float
) -> Array:
    """Flux of the gas on a cold wall at the fine stations, (H, S) [W/m2]."""
    ratio, down = core[0, :, A.G_AREA_RATIO], x > 0.0
    x_h2o, x_co2 = hotgas.radiating_fractions(table, ratio, down)
    if (x_h2o + x_co2).max() < LEAST_RADIATING:
        pair = {"oxidizer": design.propellants.oxidizer, "fuel": design.propellants.fuel}
        raise RangeError(text("no radiation", given=design.models.radiation, **pair))
    share = barrel_share(ratio, x, contraction) if design.models.radiation == "barrel" else 1.0
    rows = [gas_radiation.flux(c[:, A.G_T], c[:, A.G_P], x_h2o, x_co2, 2.0 * r) for c in core]
    return np.asarray(share * np.stack(rows))


def wall_gas(design: Design, contour: Contour, table: hotgas.GasTable, x: Array) -> WallGas:
    """Return the gas beside the wall at the stations, with all that the case adds to it.

    Boundary layer and film begin upstream of the slots where those begin later, so all is worked
    out on a finer grid from the injector face on, of which the stations are a part.
    """
    film = design.film
    extra = () if film is None or film.injected_at is None else (film.injected_at,)
    at = fine_positions(contour, x, extra)
    r = contour.radius(at)
    ratio = np.maximum((r / contour.throat_radius) ** 2, 1.0)
    contraction = contour.contraction_ratio
    factor = fitted_factor(design, ratio, at, contraction)

    def at_stations(table: hotgas.GasTable) -> A.GasStations:
        return hotgas.gas_at_stations(
            table,
            ratio,
            at > 0.0,
            factor=factor,
            throat_diameter=2.0 * contour.throat_radius,
            throat_curvature=contour.throat_curvature,
        )

    gas = at_stations(table)
    core = gas.core[0]
    s = np.append(0.0, np.cumsum(np.hypot(np.diff(at), np.diff(r))))
    h_wall = _enthalpy_at(gas, T_WALL_ASSUMED)
    start = START_LENGTH * 2.0 * float(r[0])
    for row in core:
        flux = row[:, A.G_RHO] * row[:, A.G_U]
        row[:, A.G_X_EFF] = effective_length(s, r, flux, row[:, A.G_H_AW] - h_wall, start)
    core[:, :, A.G_BARREL] = barrel_share(ratio, at, contraction)
    if design.models.radiation != "off":
        core[:, :, A.G_RADIATION] = _radiation(design, table, core, at, r, contraction)
    notes: tuple[Note, ...] = ()
    report = None
    mixing = design.models.mixing_factor
    given: tuple[Note, ...] = ()
    if mixing is not None:
        factors = text("mixing factor", span=ends_text(mixing.value, "g"))
        given = (Note("mixing factor", factors),)
    if film is not None and film.layer_mixture_ratio is not None:
        given_ratio = getattr(design.contour, "area_ratio", None)
        areas = contraction, given_ratio or contour.area_ratio_exit
        chamber = replace(
            design.chamber, pressure=float(gas.stagnation[0, 0, A.S_P0]), pressure_at="nozzle"
        )

        def layer_gas(mixture_ratio: float) -> tuple[A.GasStations, tuple[str, ...]]:
            pair = replace(design.propellants, mixture_ratio=mixture_ratio)
            layer = replace(design, propellants=pair, chamber=chamber)
            made = hot_gas_table(layer, areas, key="film.layer_mixture_ratio")
            return at_stations(made), made.notes

        begins = check_injection(film, contour.x_injector)
        gas, notes = with_layer(gas, begins, film.layer_mixture_ratio, at, layer_gas)
    elif film is not None:
        gas, report = with_film(gas, design, Wall(at, r, s))
        notes = report.notes
    index = np.searchsorted(at, x)
    gas = gas._replace(
        core=np.ascontiguousarray(gas.core[:, :, index]),
        layer=np.ascontiguousarray(gas.layer[:, index]),
    )
    return WallGas(gas, (*given, *notes), report)
