"""From a design to what the march takes: contour, stations, property tables, lanes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.contour import (
    Contour,
    Passage,
    build_contour,
    build_passage,
    cooled_range,
    place_stations,
)
from regen.design import ContourProfile, Design
from regen.gas_film import FilmReport
from regen.gas_wall import hot_gas_table, wall_gas
from regen.physics import arrays as A
from regen.physics.tables import CoolantTable, isobar, on_isobar, saturation_temperature
from regen.properties import alloys, coolant, hotgas
from regen.properties.alloys import RangeError
from regen.result import Note

Array = NDArray[np.float64]
Progress = Callable[[str], None]

WALL_NODES = np.arange(10.0, 1500.0, 10.0)
"""Temperatures of the conductivity tables [K]."""


@dataclass(frozen=True)
class Prepared:
    """Tables and arrays of one design. Arrays of the core are in flow order.

    ``film`` is what came of a film, ``notes`` what is to be said of the gas beside the wall.
    """

    design: Design
    contour: Contour
    passage: Passage
    gas_table: hotgas.GasTable
    gas: A.GasStations
    film: FilmReport | None
    notes: tuple[Note, ...]
    coolant: CoolantTable
    walls: A.Walls
    geometry: A.Geometry
    lane: NDArray[Any]
    supercritical: bool

    def rising(self, values: Array) -> Array:
        """Return station values [any] in the order of rising x, station axis first."""
        if self.design.coolant.enters_at == "nozzle":
            return np.ascontiguousarray(values[::-1])
        return values


def flow_order(design: Design, values: Array) -> Array:
    """Return station values [any], given by rising x, in the order of the coolant's flow."""
    reverse = design.coolant.enters_at == "nozzle"
    return np.ascontiguousarray(values[::-1] if reverse else values, dtype=np.float64)


def _along_flow(design: Design, values: Array, axis: int) -> Array:
    """Reorder the station axis of gas arrays from rising x to the order of the coolant's flow."""
    reverse = design.coolant.enters_at == "nozzle"
    return np.ascontiguousarray(np.flip(values, axis) if reverse else values)


def _steps(design: Design, steps: Array) -> Array:
    """Reorder steps from the station before in x to the station before in the flow."""
    if design.coolant.enters_at == "injector":
        return np.ascontiguousarray(steps)
    return np.concatenate([[0.0], steps[:0:-1]])


def _bend(design: Design, passage: Passage) -> Array:
    """Return the passage's mean curvature over the step from the station before [1/m] (S,).

    Positive where the hot wall is on the outside of the bend, as at the throat.
    """
    if design.models.curvature == "off":
        return np.zeros(passage.x.size)
    turned = np.diff(flow_order(design, passage.slope_angle))
    if design.coolant.enters_at == "nozzle":
        turned = -turned
    return np.concatenate([[0.0], turned / _steps(design, passage.step_passage)[1:]])


def geometry_of(design: Design, passages: tuple[Passage, ...]) -> A.Geometry:
    """Return the core's geometry for passages on the same stations, one row each.

    Parameters
    ----------
    design : Design
        Says which way the coolant flows.
    passages : tuple of Passage
        One a geometry row, all on the same stations (S,) [m].

    Returns
    -------
    Geometry
        Arrays (len(passages), S) in flow order.
    """

    def rows(name: str) -> Array:
        return np.stack([flow_order(design, getattr(p, name)) for p in passages])

    def steps(name: str) -> Array:
        return np.stack([_steps(design, getattr(p, name)) for p in passages])

    shape = len(passages), passages[0].x.size
    plenum = np.zeros(shape)
    plenum[:, 0] = 1.0
    return A.Geometry(
        r=rows("r"),
        floor_radius=rows("floor_radius"),
        cos_slope=np.cos(rows("slope_angle")),
        width=rows("width"),
        depth=rows("depth"),
        wall=rows("wall"),
        slots=rows("count"),
        closeout=rows("closeout"),
        step_gas=steps("step_gas"),
        step_passage=steps("step_passage"),
        share=np.ones(shape),
        plenum=plenum,
        loss=np.zeros(shape),
        resistance=np.stack(
            [flow_order(design, surface_resistance(design, p.x)) for p in passages]
        ),
        bend=np.stack([_bend(design, p) for p in passages]),
    )


def _walls(design: Design) -> A.Walls:
    liner = alloys.find(design.liner.alloy, design.liner.condition)
    copper = alloys.find("copper-electroformed", "any").conductivity_grid(WALL_NODES)
    nickel = alloys.find("nickel-electroformed", "any").conductivity_grid(WALL_NODES)
    layers = design.closeout
    both = (layers.copper * copper + layers.nickel * nickel) / (layers.copper + layers.nickel)
    return A.Walls(
        T=np.array([WALL_NODES[0], WALL_NODES[1] - WALL_NODES[0]]),
        liner=np.ascontiguousarray(liner.conductivity_grid(WALL_NODES)[None, :]),
        closeout=np.ascontiguousarray(both[None, :]),
    )


def _lane(design: Design, gas: A.GasStations) -> NDArray[Any]:
    feed = design.coolant
    lane = np.zeros(1, dtype=A.LANE)
    lane["mass_flow"] = feed.mass_flow or 0.0
    if feed.fuel_fraction is not None:
        lane["fuel_share"] = feed.fuel_fraction / (1.0 + design.propellants.mixture_ratio)
    lane["flow_factor"] = 1.0
    lane["gas_factor"] = 1.0
    lane["inlet_temperature"] = feed.inlet_temperature
    lane["outlet_given"] = int(feed.outlet_pressure is not None)
    lane["pressure"] = feed.outlet_pressure or feed.inlet_pressure or 0.0
    lane["inlet_loss"] = feed.inlet_loss
    lane["outlet_loss"] = feed.outlet_loss
    lane["roughness"] = design.channels.roughness
    lane["curve_gain"] = float(design.models.curvature == "both ways")
    lane["entrance"] = float(design.models.entrance)
    lane["rough_gain"] = float(design.models.rough_gain)
    lane["h0"] = gas.h0[0, 0]
    lane["returns"] = float(feed.returns_to_injector)
    return lane


def prepare(design: Design, progress: Progress | None = None) -> Prepared:
    """Build contour, passage, gas and coolant tables and the nominal lane of a design.

    Parameters
    ----------
    design : Design
        Checked design.
    progress : callable, optional
        Told in words what is being waited for.

    Returns
    -------
    Prepared
        Everything the march needs.

    Raises
    ------
    ValueError
        If the geometry is impossible, a material or property is not known, or the coolant is
        not fed as a liquid.
    """
    say = progress or (lambda text: None)
    say(f"property table of {design.coolant.fluid} (built once, then read from the cache)")
    table = coolant.coolant_table(design.coolant.fluid)
    check_feed(design, table)
    shape = design.contour
    if isinstance(shape, ContourProfile):
        contour = build_contour(shape)
        contraction, expansion = contour.contraction_ratio, contour.area_ratio_exit
    else:
        contraction, expansion = shape.contraction_ratio, shape.area_ratio
    say("hot gas: equilibrium of the propellants (built once, then read from the cache)")
    gas_table = hot_gas_table(design, (contraction, expansion))
    if not isinstance(shape, ContourProfile):
        contour = build_contour(shape, throat_radius(design, gas_table))
    return _on_contour(design, contour, table, gas_table)


def check_feed(design: Design, table: CoolantTable) -> None:
    """Refuse a coolant feed that is no liquid, or is outside the property table.

    Parameters
    ----------
    design : Design
        Says temperature and pressure of the feed.
    table : CoolantTable
        Table of the coolant.

    Raises
    ------
    RangeError
        With the key, the value and what is accepted.
    """
    feed = design.coolant
    key = "inlet_pressure" if feed.inlet_pressure else "outlet_pressure"
    p, T = feed.inlet_pressure or feed.outlet_pressure or 0.0, feed.inlet_temperature
    if not table.p_min <= p <= table.p_max:
        message = (
            f"coolant.{key}: {p / 1e5:.4g} bar is outside the property table of {feed.fluid}; "
            f"accepted: {table.p_min / 1e5:.4g} to {table.p_max / 1e5:.4g} bar, absolute"
        )
        raise RangeError(message)
    bar = isobar(table, p)
    coldest = on_isobar(table, bar, bar.low)[0]
    hottest, end = table.T_max, "the end of its equation of state"
    if bar.dense == 0:
        hottest, end = saturation_temperature(table, bar), "saturation"
        if key == "outlet_pressure":  # the inlet's, which is higher, is not known yet
            hottest = table.T_critical
    if not coldest <= T <= hottest:
        side = (
            "below its melting line or the lowest temperature of its properties"
            if T < coldest
            else f"above {end}"
        )
        message = (
            f"coolant.inlet_temperature: {T:.6g} K is, for {feed.fluid} at {p / 1e5:.4g} bar, "
            f"{side}; accepted: {coldest:.2f} to {hottest:.2f} K"
        )
        raise RangeError(message)


def throat_radius(design: Design, gas_table: hotgas.GasTable) -> float:
    """Return the throat radius [m] that the shape gives or that its thrust asks for.

    Parameters
    ----------
    design : Design
        Design with a contour given by rules.
    gas_table : GasTable
        Hot gas of the design.

    Returns
    -------
    float
        Throat radius [m].

    Raises
    ------
    TypeError
        If the contour is given by points.
    RangeError
        If the nozzle has no thrust at its ambient pressure.
    """
    shape = design.contour
    if isinstance(shape, ContourProfile):
        message = "a contour given by points has its throat radius already"
        raise TypeError(message)
    if shape.throat_diameter is not None:
        return 0.5 * shape.throat_diameter
    half_angle = shape.divergent_half_angle if shape.nozzle == "cone" else shape.bell_exit_angle
    per_area = hotgas.thrust_per_throat_area(
        gas_table, shape.area_ratio, shape.ambient_pressure, half_angle or 0.0
    )
    if not per_area > 0.0:
        message = (
            f"contour.thrust: no thrust is left at contour.ambient_pressure "
            f"{shape.ambient_pressure / 1e5:.4g} bar and contour.area_ratio {shape.area_ratio:g}; "
            "lower either, or give contour.throat_diameter"
        )
        raise RangeError(message)
    return float(np.sqrt((shape.thrust or 0.0) / per_area / np.pi))


def _on_contour(
    design: Design, contour: Contour, table: CoolantTable, gas_table: hotgas.GasTable
) -> Prepared:
    start, stop = cooled_range(contour, design.channels)
    profiles = (design.channels.width, design.channels.depth, design.liner.wall)
    extra = [x for profile in profiles for x in profile.x if start < x < stop]
    x = place_stations(contour, start, stop, design.models.stations, extra)
    passage = build_passage(
        contour,
        design.channels,
        design.liner,
        design.closeout.copper + design.closeout.nickel,
        x,
    )
    beside = wall_gas(design, contour, gas_table, x)
    gas = beside.gas._replace(
        core=_along_flow(design, beside.gas.core, 2), layer=_along_flow(design, beside.gas.layer, 1)
    )
    pressure = design.coolant.inlet_pressure or design.coolant.outlet_pressure or 0.0
    return Prepared(
        design=design,
        contour=contour,
        passage=passage,
        gas_table=gas_table,
        gas=gas,
        film=beside.film,
        notes=beside.notes,
        coolant=table,
        walls=_walls(design),
        geometry=geometry_of(design, (passage,)),
        lane=_lane(design, gas),
        supercritical=pressure >= table.p_critical,
    )


def surface_resistance(design: Design, x: Array) -> Array:
    """Return the resistance of what covers the hot wall, coating and deposit in series.

    Parameters
    ----------
    design : Design
        Gives both along the axis.
    x : ndarray
        Positions (S,) [m].

    Returns
    -------
    ndarray
        Resistance (S,) [m2 K/W]; 0 where the wall is bare.
    """
    liner, deposit = design.liner, design.models.deposit_resistance
    found = np.zeros(np.shape(x))
    if liner.coating is not None and liner.coating_conductivity is not None:
        found += liner.coating.at(x) / liner.coating_conductivity
    return found + deposit.at(x) if deposit is not None else found
