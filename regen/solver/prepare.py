"""From a design to what the march takes: contour, stations, property tables, runs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.coolant import table as coolant
from regen.design import ContourProfile, Design
from regen.errors import RangeError
from regen.gas import table as hotgas
from regen.gas.film import FilmReport
from regen.gas.wall import hot_gas_table, wall_gas
from regen.geometry.channels import Passage
from regen.geometry.circuits import Path, Rows, geometry_of, joined_passage, lay_paths, rows_of
from regen.geometry.contour import Contour, build_contour
from regen.metals import selection as metals
from regen.physics import arrays as A
from regen.physics.tables import CoolantTable, isobar, on_isobar, saturation_temperature
from regen.result import Note

Array = NDArray[np.float64]
Progress = Callable[[str], None]

WALL_NODES = np.arange(10.0, 1500.0, 10.0)
"""Temperatures of the conductivity tables [K]."""


@dataclass(frozen=True)
class Prepared:
    """Tables and arrays of one design.

    Arrays of the core are in flow order, one gas set, geometry row and run a path. ``passage``
    holds the slots at the rows of the results; its steps are from the station before along x on
    the same path. ``film`` is what came of a film, ``notes`` what is to be said of the gas beside
    the wall.
    """

    design: Design
    contour: Contour
    paths: tuple[Path, ...]
    rows: Rows
    passage: Passage
    gas_table: hotgas.GasTable
    gas: A.GasStations
    film: FilmReport | None
    notes: tuple[Note, ...]
    coolant: CoolantTable
    walls: A.Walls
    geometry: A.Geometry
    run: NDArray[Any]


def _walls(design: Design) -> A.Walls:
    liner = metals.liner(design)
    copper = metals.plated_copper(design).conductivity_grid(WALL_NODES)
    jacket = metals.jacket(design).conductivity_grid(WALL_NODES)
    layers = design.closeout
    both = (layers.copper * copper + layers.jacket * jacket) / layers.thickness
    return A.Walls(
        T=np.array([WALL_NODES[0], WALL_NODES[1] - WALL_NODES[0]]),
        liner=design.models.conductivity_factor
        * np.ascontiguousarray(liner.conductivity_grid(WALL_NODES)[None, :]),
        closeout=np.ascontiguousarray(both[None, :]),
    )


def _run(design: Design, paths: tuple[Path, ...], gas: A.GasStations) -> NDArray[Any]:
    """Return the nominal run of each path, the split as far as the case gives it."""
    feed = design.coolant
    run = np.zeros(len(paths), dtype=A.RUN)
    run["gas"] = run["geometry"] = np.arange(len(paths))
    for row, path in zip(run, paths, strict=True):
        share = path.circuit.share or 1.0
        row["mass_flow"] = path.circuit.mass_flow or share * (feed.mass_flow or 0.0)
        if feed.fuel_fraction is not None:
            whole = feed.fuel_fraction / (1.0 + design.propellants.mixture_ratio)
            row["fuel_share"] = share * whole
    run["flow_factor"] = 1.0
    for factor in ("gas_factor", "barrel_factor", "throat_factor"):
        run[factor] = 1.0  # those of the case are in the gas: a film asks for them too
    run["inlet_temperature"] = feed.inlet_temperature
    run["outlet_given"] = int(feed.outlet_pressure is not None)
    run["pressure"] = feed.outlet_pressure or feed.inlet_pressure or 0.0
    run["inlet_loss"] = feed.inlet_loss
    run["outlet_loss"] = feed.outlet_loss
    run["roughness"] = design.channels.roughness
    run["curve_gain"] = float(design.models.curvature == "both ways")
    run["entrance"] = float(design.models.entrance)
    run["rough_gain"] = float(design.models.rough_gain)
    run["h0"] = gas.h0[0, 0]
    run["returns"] = float(feed.returns_to_injector)
    return run


def prepare(design: Design, progress: Progress | None = None, *, hottest: float = 0.0) -> Prepared:
    """Build contour, passage, gas and coolant tables and the nominal run of a design.

    Parameters
    ----------
    design : Design
        Checked design.
    progress : callable, optional
        Told in words what is being waited for.
    hottest : float
        Stagnation temperature up to which the gas beside the wall reaches at least [K].

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
    known = "the case's own" if design.coolant.table else "built once, then read from the cache"
    say(f"property table of {design.coolant.fluid} ({known})")
    table = coolant.table_of(design.coolant)
    check_feed(design, table)
    shape = design.contour
    if isinstance(shape, ContourProfile):
        contour = build_contour(shape)
        contraction, expansion = contour.contraction_ratio, contour.area_ratio_exit
    else:
        contraction, expansion = shape.contraction_ratio, shape.area_ratio
    say("hot gas: equilibrium of the propellants (built once, then read from the cache)")
    gas_table = hot_gas_table(design, (contraction, expansion), hottest=hottest)
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
    hottest, end = table.T_max, "the end of its properties"
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
    paths = lay_paths(design, contour)
    x = np.unique(np.concatenate([path.x for path in paths]))
    beside = wall_gas(design, contour, gas_table, x)
    gas = _gas_along(beside.gas, x, paths)
    rows = rows_of(paths)
    return Prepared(
        design=design,
        contour=contour,
        paths=paths,
        rows=rows,
        passage=joined_passage(paths, rows),
        gas_table=gas_table,
        gas=gas,
        film=beside.film,
        notes=beside.notes,
        coolant=table,
        walls=_walls(design),
        geometry=geometry_of(design, paths),
        run=_run(design, paths, gas),
    )


def _gas_along(gas: A.GasStations, x: Array, paths: tuple[Path, ...]) -> A.GasStations:
    """Return the hot gas in the flow order of each path, one gas set a path, from that at x."""
    at = [np.searchsorted(x, path.flowing("x")) for path in paths]
    return A.GasStations(
        h0=np.repeat(gas.h0, len(paths), axis=0),
        core=np.ascontiguousarray(np.concatenate([gas.core[:, :, i] for i in at])),
        stagnation=np.repeat(gas.stagnation, len(paths), axis=0),
        layer=np.ascontiguousarray(np.concatenate([gas.layer[:, i] for i in at])),
        layer_T=np.repeat(gas.layer_T, len(paths), axis=0),
    )
