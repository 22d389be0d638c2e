"""Operating envelope: a case solved and judged over chamber pressure, mixture ratio and feed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Literal

from regen.checks.review import PACKAGES, review
from regen.coolant.table import table_of
from regen.design import Design
from regen.errors import RangeError
from regen.result import Margin, Result
from regen.solver.models import chosen_models
from regen.solver.prepare import prepare
from regen.solver.solve import MarchError
from regen.storage.cache import made_with
from regen.studies.envelope import operation
from regen.studies.envelope.axes import KINDS, Axis
from regen.studies.envelope.operation import Following, Point

Refused = MarchError | RangeError
Progress = Callable[[int, int], None]

OF_THE_CASE = ("case", "not assessed", "liner", "fitted factors", "iterations", "worst channel")
"""Notes that are of the case, not of one operating point."""


@dataclass(frozen=True, slots=True)
class Row:
    """One operating point: how it was solved, what came out, every margin.

    ``status`` is "solved" or why not, in short; ``reason`` the same with a remedy, and ``x_m`` the
    station. ``regime`` is "above", "below" or "crosses" (the critical pressure), of
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
        """True if the nominal run was solved here."""
        return self.status == "solved"

    @property
    def deciding(self) -> list[Margin]:
        """Margins that decide the verdict."""
        return [margin for margin in self.margins if not margin.informative]

    @property
    def kept(self) -> bool:
        """True if the nominal run is solved and shown to keep every limit."""
        return self.solved and all(margin.nominal_kept for margin in self.deciding)

    def margin(self, name: str) -> Margin | None:
        """Return the margin of a limit, None where it makes no demand or nothing was solved."""
        return next((margin for margin in self.margins if margin.name == name), None)

    @property
    def exceeded(self) -> list[Margin]:
        """Deciding margins that the nominal channel exceeds."""
        return [m for m in self.deciding if m.nominal is not None and m.nominal < 0.0]

    @property
    def not_evaluated(self) -> list[Margin]:
        """Deciding margins without a nominal number."""
        return [margin for margin in self.deciding if margin.nominal is None]

    def coolant_pressure(self, end: Literal["inlet", "outlet"]) -> float:
        """Return the coolant's pressure at one end as given, else as solved [Pa], else NaN."""
        given: float | None = getattr(self.point, f"{end}_pressure")
        if given is not None:
            return given
        return self.summary[f"coolant_pressure_{end[:-3]}_Pa"] if self.summary else math.nan


@dataclass(frozen=True, slots=True)
class Envelope:
    """A solved envelope. ``rules`` says what follows what, by subject; rows are never dropped."""

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

    @property
    def throttle_line(self) -> tuple[Row, ...]:
        """The throttle line by rising chamber pressure, empty if it is no axis."""
        line = (row for row in self.rows if row.on_line)
        return tuple(sorted(line, key=lambda row: row.point.chamber_pressure))

    @property
    def conditions(self) -> list[str]:
        """What follows what, and what of the case is held at one value."""
        varied = {axis.kind.name for axis in self.axes}
        held = [
            f"{kind.quantity.label} {kind.text(getattr(self.nominal.point, kind.name))}"
            for kind in KINDS[:3]
            if kind.name not in varied
        ]
        return [*self.rules.values(), *([f"held: {', '.join(held)}"] if held else [])]


def envelope(
    design: Design,
    axes: tuple[Axis, ...],
    following: Following,
    *,
    case_hash: str = "",
    progress: Progress | None = None,
) -> Envelope:
    """Solve and judge a case at every operating point of its envelope.

    All combinations of the axes are solved. The map of the first two at the case's own value of
    the others, the throttle line and the case's own point are added where they are not among
    them. The contour keeps its size, also where thrust sized it. ``progress`` is called with how
    many points are done, of how many.

    Raises ``RangeError`` if the throat, or what the flows follow, has no solution at the case's own
    operating point, or if flows are to be held and the case gives none as a value;
    ``GeometryError`` if the geometry is impossible.
    """
    points = _points(design, axes, following)
    say = progress or (lambda done, total: None)
    say(0, len(points))
    own, nominal = operation.own_point(design), _judged(design)
    known = nominal.summary["gas_mass_flow_kg_s"] if isinstance(nominal, Result) else None
    follow = operation.shares(design, following, known)
    fixed = operation.with_fixed_throat(design)
    feed = design.coolant
    # a table of the case's own may have no critical pressure
    p_critical = table_of(feed).p_critical if feed.table is None else feed.critical_pressure or 0.0
    rows: list[Row] = []
    sources: set[str] = set()
    for point, (on_map, on_line) in points.items():
        row = Row(point, on_map, on_line, nominal=point == own)
        placed = operation.operated(fixed, point, follow)
        outcome = nominal if row.nominal else _judged(placed)
        if isinstance(outcome, Result):
            sources |= set(outcome.provenance["sources"])
            rows.append(_solved(row, outcome, p_critical))
        else:
            rows.append(_unsolved(row, outcome, placed))
        say(len(rows), len(points))
    return Envelope(
        title=design.title,
        axes=axes,
        rules=operation.rules(design, {axis.kind.name for axis in axes}, following),
        rows=tuple(rows),
        p_critical=p_critical,
        provenance=made_with(*PACKAGES) | {"case_sha256": case_hash, "sources": sorted(sources)},
    )


def _points(
    design: Design, axes: tuple[Axis, ...], following: Following
) -> dict[Point, tuple[bool, bool]]:
    """Return every point, and whether it lies on the map and on the throttle line."""
    own = operation.own_point(design)
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
        names = tuple(names)
        combinations = product(*(varied[name] for name in names))
        return [at(**dict(zip(names, values, strict=True))) for values in combinations]

    on_map = set(grid(axis.kind.name for axis in axes[:2]))
    on_line = {*grid(["chamber_pressure"]), own} if "chamber_pressure" in varied else set()
    every = {*grid(varied), *on_map, *on_line, own}
    in_order = sorted(every, key=lambda point: tuple(value or 0.0 for value in point))
    return {point: (point in on_map, point in on_line) for point in in_order}


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
        regime="above" if prepared.run["pressure"][0] >= prepared.coolant.p_critical else "below",
        coolant_side=chosen_models(prepared)["coolant_side"],
    )
