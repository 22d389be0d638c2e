"""Operating envelope: a case solved and judged over chamber pressure, mixture ratio and feed."""

from __future__ import annotations

import platform
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Literal, NamedTuple

import numpy as np

import regen
from regen.case_checks import FLOWS_AS_FUEL
from regen.checks.judge import PACKAGES, review
from regen.design import ContourProfile, Design
from regen.paths import shares_of
from regen.physics import arrays as A
from regen.prepare import Prepared, prepare
from regen.properties.alloys import RangeError
from regen.properties.coolant import coolant_table
from regen.properties.store import library
from regen.result import Margin, Result
from regen.solve import MarchError, chosen_models
from regen.studies.axes import Axis

Rule = Literal["proportional", "constant"]
Refused = MarchError | RangeError
Progress = Callable[[int, int], None]

OF_THE_CASE = ("case", "not assessed", "liner", "fitted factors", "iterations", "worst channel")
"""Notes that say nothing of one operating point."""


class Point(NamedTuple):
    """An operating point [SI]; the coolant's pressure is given at its inlet or at its outlet."""

    chamber_pressure: float
    mixture_ratio: float
    inlet_temperature: float
    inlet_pressure: float | None
    outlet_pressure: float | None


@dataclass(frozen=True, slots=True)
class Following:
    """What follows the chamber: the coolant's pressure, and its flow where that is a value."""

    pressure: Rule = "proportional"
    flow: Rule = "proportional"


@dataclass(frozen=True, slots=True)
class FlowShare:
    """A coolant flow as a share of a propellant's flow, or of all the hot gas.

    ``of_gas`` is its share of the hot gas [-] at the case's own ``mixture_ratio`` [-].
    """

    of: str
    of_gas: float
    mixture_ratio: float

    def of_fuel(self, mixture_ratio: float) -> float:
        """Return the share of the fuel flow [-] at a mixture ratio [-]."""
        whole = self.of_gas * (1.0 + self.mixture_ratio)
        if self.of == "fuel":
            return whole
        if self.of == "oxidizer":
            return whole * mixture_ratio / self.mixture_ratio
        return self.of_gas * (1.0 + mixture_ratio)


@dataclass(frozen=True, slots=True)
class Row:
    """One operating point: how it was solved, what came out, every margin.

    ``status`` is "solved" or why not, in a word or two; ``reason`` the same with a remedy, and
    ``x_m`` the station. ``regime`` is "above", "below" or "crosses" (the critical pressure), of
    the feed alone where it was not solved, "" where the feed itself was refused.
    """

    point: Point
    on_map: bool
    on_line: bool
    nominal: bool
    status: str = ""
    reason: str = ""
    x_m: float | None = None
    verdict: str = ""
    summary: Mapping[str, float] | None = None
    T_wall_hot_band: tuple[float, float] | None = None
    margins: tuple[Margin, ...] = ()
    regime: str = ""
    coolant_side: str = ""
    notes: tuple[str, ...] = ()

    @property
    def solved(self) -> bool:
        """True if the nominal lane was solved here."""
        return self.status == "solved"

    def kept(self) -> bool:
        """Return whether the nominal lane is solved and shown to keep every limit."""
        return self.solved and all(
            m.nominal is not None and m.nominal >= 0.0 for m in self.margins if not m.informative
        )


@dataclass(frozen=True, slots=True)
class Envelope:
    """A solved envelope. ``rules`` says in words what follows what; rows are never dropped."""

    title: str
    axes: tuple[Axis, ...]
    rules: Mapping[str, str]
    rows: tuple[Row, ...]
    p_critical: float
    provenance: Mapping[str, Any]

    @property
    def nominal(self) -> Row:
        """The case's own operating point."""
        return next(row for row in self.rows if row.nominal)


def envelope(
    design: Design,
    axes: tuple[Axis, ...],
    following: Following,
    *,
    case_hash: str = "",
    progress: Progress | None = None,
) -> Envelope:
    """Solve and judge a case at every operating point of its envelope.

    Parameters
    ----------
    design : Design
        Checked design; its contour keeps its size, also where thrust sized it.
    axes : tuple of Axis
        All combinations are solved. The map of the first two at the case's own value of the
        others, the throttle line and the case's own point are added where they are not among
        them.
    following : Following
        What follows the chamber pressure.
    case_hash : str
        Hash of the case file, kept in the provenance.
    progress : callable, optional
        Told how many points are done, of how many.

    Returns
    -------
    Envelope
        A row for each point, solved or not.

    Raises
    ------
    RangeError
        If the throat, or the flow that the coolant follows, cannot be had from the case's own
        operating point; or if a flow that is a share of the fuel is to be held.
    GeometryError
        If the geometry is impossible.
    """
    if design.coolant.fuel_fraction is not None and following.flow == "constant":
        message = (
            "--coolant-flow constant: the case gives coolant.mass_flow as a share of the fuel, "
            'which follows the chamber; give it as a value such as "0.48 kg/s" to hold it'
        )
        raise RangeError(message)
    points = _points(design, axes, following)
    say = progress or (lambda done, total: None)
    say(0, len(points))
    own, nominal = _own(design), _judged(design)
    fixed = _fixed(design)
    share = _share(design, nominal, following)
    p_critical = coolant_table(design.coolant.fluid).p_critical
    rows: list[Row] = []
    sources: set[str] = set()
    for point, (on_map, on_line) in points.items():
        blank = Row(point, on_map, on_line, nominal=point == own)
        placed = operated(fixed, point, share)
        outcome = nominal if blank.nominal else _judged(placed)
        if isinstance(outcome, Result):
            sources |= set(outcome.provenance["sources"])
            rows.append(_solved(blank, outcome, p_critical))
        else:
            rows.append(_unsolved(blank, outcome, placed))
        say(len(rows), len(points))
    return Envelope(
        title=design.title,
        axes=axes,
        rules=_rules(design, axes, following),
        rows=tuple(rows),
        p_critical=p_critical,
        provenance={
            "regen": regen.__version__,
            "python": platform.python_version(),
            "packages": {name: library(name) for name in PACKAGES},
            "case_sha256": case_hash,
            "sources": sorted(sources),
        },
    )


def _own(design: Design) -> Point:
    """Return the case's own operating point."""
    coolant = design.coolant
    return Point(
        design.chamber.pressure,
        design.propellants.mixture_ratio,
        coolant.inlet_temperature,
        coolant.inlet_pressure,
        coolant.outlet_pressure,
    )


def _points(
    design: Design, axes: tuple[Axis, ...], following: Following
) -> dict[Point, tuple[bool, bool]]:
    """Return every point, and whether it lies on the map and on the throttle line."""
    own = _own(design)
    varied = {axis.kind.name: axis.values for axis in axes}

    def at(**values: float) -> Point:
        pressure = values.get("chamber_pressure", own.chamber_pressure)
        ratio = pressure / own.chamber_pressure if following.pressure == "proportional" else 1.0
        fed = own._replace(
            inlet_pressure=own.inlet_pressure and own.inlet_pressure * ratio,
            outlet_pressure=own.outlet_pressure and own.outlet_pressure * ratio,
        )
        if "inlet_pressure" in values:
            fed = fed._replace(outlet_pressure=None)
        return fed._replace(**values)

    def grid(names: Iterable[str]) -> list[Point]:
        chosen = {name: varied[name] for name in names}
        return [
            at(**dict(zip(chosen, values, strict=True))) for values in product(*chosen.values())
        ]

    on_map = grid([axis.kind.name for axis in axes[:2]])
    throttled = "chamber_pressure" in varied
    on_line = [*grid(["chamber_pressure"]), own] if throttled else []
    every = sorted({*grid(varied), *on_map, *on_line, own}, key=_order)
    return {point: (point in set(on_map), point in set(on_line)) for point in every}


def _order(point: Point) -> tuple[float, ...]:
    return tuple(value or 0.0 for value in point)


def operated(design: Design, point: Point, share: FlowShare | None) -> Design:
    """Return a design at an operating point.

    Parameters
    ----------
    design : Design
        With a throat of its own.
    point : Point
        Where it is operated.
    share : FlowShare or None
        What the coolant's flow follows; None: as the design has it.

    Returns
    -------
    Design
        The same chamber at that point.
    """
    coolant = replace(
        design.coolant,
        inlet_temperature=point.inlet_temperature,
        inlet_pressure=point.inlet_pressure,
        outlet_pressure=point.outlet_pressure,
    )
    if share is not None:
        fraction = share.of_fuel(point.mixture_ratio)
        coolant = replace(coolant, mass_flow=None, fuel_fraction=fraction)
    return replace(
        design,
        circuits=design.circuits if share is None else shares_of(design.circuits),
        chamber=replace(design.chamber, pressure=point.chamber_pressure),
        propellants=replace(design.propellants, mixture_ratio=point.mixture_ratio),
        coolant=coolant,
    )


def _fixed(design: Design) -> Design:
    """Return the design with its throat as built: thrust sizes it once, at the case's own point."""
    shape = design.contour
    if isinstance(shape, ContourProfile) or shape.thrust is None:
        return design
    throat = 2.0 * prepare(design).contour.throat_radius
    return replace(design, contour=replace(shape, thrust=None, throat_diameter=throat))


def followed(design: Design) -> str:
    """Return what a coolant flow given as a value follows: "fuel", "oxidizer" or "hot gas"."""
    fluid, pair = design.coolant.fluid, design.propellants
    if FLOWS_AS_FUEL.get(fluid, fluid) == pair.fuel:
        return "fuel"
    return "oxidizer" if fluid == pair.oxidizer else "hot gas"


def _share(design: Design, nominal: Result | Refused, following: Following) -> FlowShare | None:
    """Return what the coolant flow is a share of, None if it is held or the fuel's already."""
    flow = design.coolant.mass_flow
    if flow is None or following.flow == "constant":
        return None
    gas_flow = (
        nominal.summary["gas_mass_flow_kg_s"]
        if isinstance(nominal, Result)
        else _gas_flow(prepare(design))
    )
    return FlowShare(followed(design), flow / gas_flow, design.propellants.mixture_ratio)


def _gas_flow(prepared: Prepared) -> float:
    """Return the hot-gas flow before any heat returns [kg/s]."""
    stagnation = prepared.gas.stagnation[0, 0]
    throat = np.pi * prepared.contour.throat_radius**2
    return float(stagnation[A.S_P0] * throat / stagnation[A.S_CSTAR])


def _judged(design: Design) -> Result | Refused:
    try:
        return review(design)
    except (MarchError, RangeError) as error:
        return error


def _solved(row: Row, result: Result, p_critical: float) -> Row:
    summary = dict(result.summary)
    summary["coolant_mach_max"] = float(result.stations["mach_coolant"].max())
    ends = summary["coolant_pressure_in_Pa"], summary["coolant_pressure_out_Pa"]
    above = [pressure >= p_critical for pressure in ends]
    band = result.bands["T_wall_hot_max_K"]
    codes = dict.fromkeys(n.code for n in result.notes if n.code not in OF_THE_CASE)
    return replace(
        row,
        status="solved",
        verdict=result.verdict,
        summary=summary,
        T_wall_hot_band=(band.min, band.max),
        margins=result.margins,
        regime="above" if all(above) else "crosses" if any(above) else "below",
        coolant_side=result.provenance["models"]["coolant_side"],
        notes=tuple(codes),
    )


def _unsolved(row: Row, error: Refused, design: Design) -> Row:
    if isinstance(error, RangeError):
        return replace(row, status="out of range", reason=str(error))
    prepared = prepare(design)
    return replace(
        row,
        status=error.status,
        reason=str(error),
        x_m=error.station_x,
        regime="above" if prepared.supercritical else "below",
        coolant_side=chosen_models(prepared)["coolant_side"],
    )


def _rules(design: Design, axes: tuple[Axis, ...], following: Following) -> dict[str, str]:
    """Return in words what follows what when the chamber is throttled."""
    coolant = design.coolant
    where = "inlet" if coolant.inlet_pressure is not None else "outlet"
    pressure = {
        "proportional": f"coolant {where} pressure in proportion to the chamber pressure, as with "
        "a pump or a throttle ahead of the channels",
        "constant": f"coolant {where} pressure as the case has it, as with a tank and a throttle "
        "behind the channels",
    }[following.pressure]
    varied = {axis.kind.name for axis in axes}
    if "inlet_pressure" in varied:
        on_line = f"; on the throttle line {pressure}" if "chamber_pressure" in varied else ""
        pressure = f"coolant inlet pressure: an axis{on_line}"
    if coolant.fuel_fraction is not None:
        share = coolant.fuel_fraction
        flow = f"coolant flow: {'all' if share == 1.0 else f'{share:g}'} of the fuel flow"
    elif following.flow == "constant":
        flow = f"coolant flow {coolant.mass_flow:g} kg/s, as the case has it"
    else:
        flow = (
            f"coolant flow in proportion to the {followed(design)} flow, "
            f"{coolant.mass_flow:g} kg/s at the case's own point"
        )
    return {
        "hot gas flow": "hot-gas flow: by chamber pressure, mixture ratio and the throat as built",
        "coolant flow": flow,
        "coolant pressure": pressure,
    }
