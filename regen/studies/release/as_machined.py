"""A design solved again as the shop's cutters leave it, and at widths the shop has cutters for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regen.checks.review import review
from regen.design import Channels, Design, Profile
from regen.errors import GeometryError
from regen.geometry.circuits import lay_paths
from regen.result import Array, Margin, Result
from regen.shop.cutters.floor import reduced
from regen.shop.cutters.plan import CircuitCut, CutPlan, plan_cutting
from regen.shop.cutters.remedies import Remedy, remedies
from regen.shop.cutters.tool_paths import Place
from regen.solver.prepare import Progress, prepare
from regen.solver.solve import MarchError
from regen.studies.batch.designs import DesignBatch, solve_batch
from regen.studies.batch.parameters import applied, numeric_key

POINTS_WITHIN = 5e-6
"""Largest distance of the machined floor from the straight lines that stand for it [m]: a tenth
of the usual tolerance of depth."""

BESIDE = 1e-6
"""Where two circuits meet, distance of the second's first point from the first's last [m]."""

RANGE_OF_WIDTHS = (0.5, 2.0)
"""Widths of cutters that are tried, over the narrowest and the widest of the design [-]."""


@dataclass(frozen=True)
class Machined:
    """A design as drawn and as machined.

    ``remedies`` would leave no more copper than the tolerance of depth. ``design`` is what is
    solved ``as_machined``, ``as_drawn`` the result on the same stations, None where nothing is to
    be compared. ``as_machined`` is None where the cutters cannot make it, or where it was not
    solved and ``stopped`` says why.
    """

    plan: CutPlan
    remedies: tuple[Remedy, ...]
    design: Design | None = None
    as_drawn: Result | None = None
    as_machined: Result | None = None
    stopped: str = ""

    @property
    def both(self) -> tuple[Result, Result] | None:
        """Results as drawn and as machined, if both are there."""
        if self.as_drawn is None or self.as_machined is None:
            return None
        return self.as_drawn, self.as_machined

    @property
    def margins(self) -> tuple[tuple[Margin | None, Margin | None], ...]:
        """Margins of both by limit, as drawn and as machined, None where one has no such limit."""
        if self.both is None:
            return ()
        before, after = ({margin.name: margin for margin in one.margins} for one in self.both)
        return tuple((before.get(name), after.get(name)) for name in {**before, **after})

    def change(self, name: str) -> float:
        """Return as machined less as drawn of one summary quantity [SI], NaN if not solved."""
        if self.both is None:
            return float("nan")
        as_drawn, as_machined = (one.summary[name] for one in self.both)
        return float(as_machined - as_drawn)


def machine(design: Design, progress: Progress | None = None) -> Machined:
    """Plan the cutting of a design and solve it again with the floor that the cutters leave.

    Raises ``MarchError`` if the design as drawn is not solved, ``ValueError`` if the geometry is
    impossible or a material or property is not known.
    """
    say = progress or (lambda text: None)
    prepared = prepare(design, progress)
    plan = plan_cutting(design, prepared.contour, prepared.paths)
    better = remedies(plan)
    if plan.problems or not design.shop.cutters:
        return Machined(plan, better)
    made = machined_design(design, plan)
    models = replace(design.models, stations=made.models.stations)
    say("the design as drawn")
    as_drawn = review(replace(design, models=models))
    say("the design as machined")
    try:
        return Machined(plan, better, made, as_drawn, review(made))
    except (MarchError, GeometryError) as error:
        return Machined(plan, better, made, as_drawn, None, str(error))


def machined_design(design: Design, plan: CutPlan) -> Design:
    """Return a design whose hot wall, depths and widths are those that the cutters leave.

    The outside of the blank stays where it is: extra copper on the floor is hot wall, and the slot
    is shallower by it. Where a disc may not run out the manifold is taken to open above the ramp:
    the slots begin and end where the ramp does, and the wall under it is judged as an uncooled
    end. There are as many stations as the profiles ask for. Raises ``GeometryError`` with every
    reason why the cutters cannot make it.
    """
    if plan.problems:
        raise GeometryError(*plan.problems)
    kept = [_points(circuit) for circuit in plan.circuits]
    # as many more stations as there are new points that each ask for one
    stations = design.models.stations + max(at.size for at in kept)
    made = replace(
        design,
        liner=replace(design.liner, wall=_wall(design.liner.wall, plan.circuits, kept)),
        models=replace(design.models, stations=stations),
    )
    if not design.circuits:
        return replace(made, channels=_channels(design.channels, plan.circuits[0], kept[0]))
    parts = zip(design.circuits, plan.circuits, kept, strict=True)
    circuits = tuple(
        replace(own, channels=_channels(own.channels, circuit, at)) for own, circuit, at in parts
    )
    return replace(made, circuits=circuits)


def _points(circuit: CircuitCut) -> Array:
    """Return the places that carry the machined floor (n,) [-]."""
    slot = circuit.slot
    columns = (circuit.extra, circuit.made_width, slot.wall, slot.depth)
    return np.unique(np.concatenate([reduced(slot.x, column, POINTS_WITHIN) for column in columns]))


def _wall(own: Profile, circuits: Sequence[CircuitCut], kept: Sequence[Array]) -> Profile:
    """Return the hot wall of all circuits, by rising x, and the own one outside them."""
    points: dict[float, float] = {}
    for circuit, at in sorted(
        zip(circuits, kept, strict=True), key=lambda pair: pair[0].slot.span[0]
    ):
        for x, value in zip(circuit.slot.x[at].tolist(), circuit.wall[at].tolist(), strict=True):
            points[x + BESIDE * (x in points)] = value
    inside = [circuit.slot.span for circuit in circuits]
    for x, value in zip(own.x, own.value, strict=True):
        if not any(a <= x <= b for a, b in inside):
            points[x] = value
    x, value = zip(*sorted(points.items()), strict=True)
    return Profile(x, value)


def _channels(own: Channels, circuit: CircuitCut, at: Array) -> Channels:
    """Return the slots of one circuit as machined, without their ramps."""
    start, stop = circuit.slot.span
    first, last = start + _ramp(circuit, "injector end"), stop - _ramp(circuit, "nozzle end")
    slot = (circuit.slot.x >= first) & (circuit.slot.x <= last)
    at = at[slot[at]]
    x, width, depth = (
        tuple(values[at].tolist()) for values in (circuit.slot.x, circuit.made_width, circuit.depth)
    )
    made = replace(own, width=Profile(x, width), depth=Profile(x, depth))
    if first > start:
        made = replace(made, cooled_from=first)
    if last < stop:
        made = replace(made, cooled_to=last, cooled_to_area_ratio=None)
    return made


def _ramp(circuit: CircuitCut, end: Place) -> float:
    """Return how long the ramp at one end is, of the cutter that leaves the shortest [m]."""
    x = circuit.slot.span[0 if end == "injector end" else 1]
    lengths = (
        sum(ramp.length for ramp in path.ramps if ramp.place == end and ramp.inside)
        for path in circuit.tool_paths
        if x in (path.start, path.stop)
    )
    return min(lengths, default=0.0)


@dataclass(frozen=True)
class AtWidth:
    """A design with slots of one width all along, that of a cutter of the shop.

    ``width`` [m]; ``problems`` is why the shop cannot make it; ``bridge`` the largest extra
    copper on the floor [m]. Temperatures [K], pressures [Pa], ``margin`` [-], the nominal
    channel's least, and ``verdict`` without the band are those of the wanted floor; NaN where
    ``status`` is not "solved".
    """

    width: float
    problems: tuple[str, ...]
    bridge: float
    status: str
    T_wall_hot: float
    pressure_drop: float
    margin: float
    verdict: str


def at_cutter_widths(design: Design) -> tuple[AtWidth, ...]:
    """Solve a design with slots of each width that the shop has a cutter for, by rising width.

    From half the design's narrowest to twice its widest; none where there is no such cutter.
    """
    widths = design.channels.width.value
    low, high = RANGE_OF_WIDTHS[0] * min(widths), RANGE_OF_WIDTHS[1] * max(widths)
    tried = sorted({c.width for c in design.shop.cutters if low <= c.width <= high})
    if not tried:
        return ()
    key = numeric_key("channels.width", design)
    rows = solve_batch(DesignBatch(design, (key,), np.array(tried)[:, None]), judged="worst")
    contour, least, solved = prepare(design).contour, rows.least_margin(), []
    for n, width in enumerate(tried):
        other = applied(design, key, width)
        try:
            plan = plan_cutting(other, contour, lay_paths(other, contour))
            problems, left = plan.problems, plan.bridge[0]
        except GeometryError as error:
            problems, left = error.problems, float("nan")
        solved.append(
            AtWidth(
                width=width,
                problems=problems,
                bridge=left,
                status=str(rows.status[n]),
                T_wall_hot=float(rows.summary["T_wall_hot_max_K"][n]),
                pressure_drop=float(rows.summary["coolant_pressure_drop_Pa"][n]),
                margin=float(least[n]),
                verdict=str(rows.verdict[n]),
            )
        )
    return tuple(solved)
