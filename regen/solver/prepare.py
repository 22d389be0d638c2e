"""From a design to what the march takes: contour, stations, property tables, runs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.coolant import table as coolant
from regen.design import Channels, ContourProfile, Design
from regen.errors import RangeError
from regen.gas import table as hotgas
from regen.gas.film import FilmReport
from regen.gas.wall import hot_gas_table, wall_gas
from regen.geometry.channels import Ground, Passage, ground_of
from regen.geometry.circuits import (
    Path,
    Rows,
    circuits_of,
    geometry_of,
    joined_passage,
    lay_paths,
    rows_of,
)
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
    """Tables and arrays of one design, or of L that share contour, stations and tables.

    Arrays of the core are in flow order: a geometry row and a run for each of C circuits, ``run``
    (C,), or (L, C) of many. ``passage`` holds the slots at the rows of the results, (R,), what
    differs between designs (L, R); its steps are from the station before along x on the same
    path. ``film`` is what came of a film, ``notes`` what is to be said of the gas beside the wall.
    """

    designs: tuple[Design, ...]
    contour: Contour
    paths: tuple[Path, ...]
    grounds: tuple[Ground, ...]
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

    @property
    def design(self) -> Design:
        """The design, or the first of many for what they have in common."""
        return self.designs[0]

    @property
    def runs(self) -> NDArray[Any]:
        """Runs (L, C), L = 1 for one design."""
        return np.atleast_2d(self.run)

    @cached_property
    def channels(self) -> list[tuple[Channels, ...]]:
        """Channels of each design, circuit by circuit."""
        every = [[one.channels for one in design.circuits or (design,)] for design in self.designs]
        return list(zip(*every, strict=True))

    @property
    def tables(self) -> tuple[A.Geometry, A.GasStations, CoolantTable, A.Walls]:
        """The march's first arguments."""
        return self.geometry, self.gas, self.coolant, self.walls

    def taken(self, at: int | NDArray[np.int64]) -> Prepared:
        """Return one design, or some; the core's geometry keeps all, since runs point into it."""
        paths = tuple(replace(path, passage=_taken(path.passage, at)) for path in self.paths)
        # of none, the first still says what all have in common
        designs = tuple(self.designs[n] for n in np.atleast_1d(at)) or self.designs[:1]
        passage = _taken(self.passage, at)
        return replace(self, designs=designs, paths=paths, passage=passage, run=self.runs[at])


def _taken(passage: Passage, at: int | NDArray[np.int64]) -> Passage:
    rows = {f.name: getattr(passage, f.name) for f in fields(Passage) if f.name != "notes"}
    return replace(passage, **{name: row[at] for name, row in rows.items() if row.ndim == 2})


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


def runs_of(designs: Sequence[Design], h0: Array | float, in_gas: Design) -> NDArray[Any]:
    """Return the nominal run (L, C) of each circuit, the split as far as the case gives it.

    ``h0`` is the total enthalpy of the propellants as fed, of each [J/kg]. Fitted factors stand in
    the gas, where a film asks for them too, unless they are others than those of ``in_gas``.
    """
    alone = designs[0].circuits == ()
    circuits = [circuits_of(design) for design in (designs[:1] if alone else designs)]
    feeds = _distinct([design.coolant for design in designs])
    models = _distinct([design.models for design in designs])
    run = np.zeros((len(designs), len(circuits[0])), dtype=A.RUN)
    run["gas"] = np.arange(run.shape[1])
    shares = np.array([[one.share or 1.0 for one in own] for own in circuits])
    whole = [feed.mass_flow or 0.0 for feed in feeds]
    metered = np.array([[one.mass_flow or 0.0 for one in own] for own in circuits])
    run["mass_flow"] = np.where(metered > 0.0, metered, shares * np.array(whole)[:, None])
    fraction = np.array([feed.fuel_fraction or 0.0 for feed in feeds])
    ratio = np.array([design.propellants.mixture_ratio for design in designs])
    run["fuel_share"] = shares * (fraction / (1.0 + ratio))[:, None]
    run["flow_factor"] = run["gas_factor"] = 1.0
    held = in_gas.models.barrel_factor, in_gas.models.throat_factor
    given = [(own.barrel_factor, own.throat_factor) for own in models]
    each: dict[str, list[Any]] = {
        "barrel_factor": [1.0 if factors == held else factors[0] for factors in given],
        "throat_factor": [1.0 if factors == held else factors[1] for factors in given],
        "inlet_temperature": [feed.inlet_temperature for feed in feeds],
        "outlet_given": [feed.outlet_pressure is not None for feed in feeds],
        "pressure": [feed.outlet_pressure or feed.inlet_pressure or 0.0 for feed in feeds],
        "inlet_loss": [feed.inlet_loss for feed in feeds],
        "outlet_loss": [feed.outlet_loss for feed in feeds],
        "roughness": [design.channels.roughness for design in designs],
        "curve_gain": [own.curvature == "both ways" for own in models],
        "entrance": [own.entrance for own in models],
        "rough_gain": [own.rough_gain for own in models],
        "returns": [feed.returns_to_injector for feed in feeds],
    }
    for name, values in each.items():
        run[name] = np.array(values)[:, None]
    run["h0"] = np.reshape(h0, (-1, 1))
    return run


def _distinct(parts: list[Any]) -> list[Any]:
    """Return the part of each design, or the one that all of them share."""
    return parts[:1] if all(part is parts[0] for part in parts) else parts


def prepare(
    design: Design,
    progress: Progress | None = None,
    *,
    hottest: float = 0.0,
    checked: bool = True,
) -> Prepared:
    """Build contour, passage, gas and coolant tables and the nominal run of a design.

    The gas beside the wall reaches at least up to a stagnation temperature ``hottest`` [K].
    Slots that cannot be cut and a coolant that is not fed as a liquid are refused by
    ``GeometryError`` and ``RangeError``, unless not ``checked``: what other designs share with
    this one needs neither.
    """
    say = progress or (lambda text: None)
    known = "the case's own" if design.coolant.table else "built once, then read from the cache"
    say(f"property table of {design.coolant.fluid} ({known})")
    table = coolant.table_of(design.coolant)
    if checked:
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
    return _on_contour(design, contour, table, gas_table, checked=checked)


def check_feed(design: Design, table: CoolantTable) -> None:
    """Refuse a coolant feed that is no liquid, or is outside the property table."""
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
    """Return the throat radius [m] that the shape gives or that its thrust asks for."""
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
    design: Design,
    contour: Contour,
    table: CoolantTable,
    gas_table: hotgas.GasTable,
    *,
    checked: bool,
) -> Prepared:
    paths = lay_paths(design, contour, checked=checked)
    x = np.unique(np.concatenate([path.x for path in paths]))
    beside = wall_gas(design, contour, gas_table, x)
    gas = _gas_along(beside.gas, x, paths)
    rows = rows_of(paths)
    (run,) = runs_of((design,), float(gas.h0[0, 0]), design)
    run["geometry"] = np.arange(len(paths))
    return Prepared(
        designs=(design,),
        contour=contour,
        paths=paths,
        grounds=tuple(ground_of(contour, path.circuit.channels, path.x) for path in paths),
        rows=rows,
        passage=joined_passage(paths, rows),
        gas_table=gas_table,
        gas=gas,
        film=beside.film,
        notes=beside.notes,
        coolant=table,
        walls=_walls(design),
        geometry=geometry_of(design, paths),
        run=run,
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
