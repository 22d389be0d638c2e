"""All that goes from one design to the shop: rows of the mill, ways of its cutters, drawings."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from regen.design import Cutter, Design
from regen.geometry.circuits import Path
from regen.geometry.contour import Contour
from regen.geometry.curves import MERGE, Array
from regen.result import Result
from regen.shop.cutters.checks import CircuitCut, CutPlan, Ramp
from regen.shop.drawings import drawing as drawings
from regen.shop.drawings.drawing import (
    Course,
    Layer,
    Ring,
    Rows,
    Stretch,
    off_wall,
    ring,
    rows_of,
    stretches,
)
from regen.shop.drawings.outlines import Curve, hot_wall

CONTOUR, SLOT_FLOOR, BLANK_OUTSIDE = "HOT_GAS_CONTOUR", "SLOT_FLOOR", "LINER_BLANK_OUTSIDE"
COPPER_OUTSIDE, JACKET_OUTSIDE = "COPPER_OUTSIDE", "JACKET_FINISHED_OUTSIDE"
PLATED_OUTSIDE, WAY = "JACKET_AS_PLATED_OUTSIDE", "CUTTER_PATH"
"""Layers of the meridional drawings."""

SAME = 1e-6
"""Two places on the contour are one if they are no farther apart [m]."""

BARREL = 0.999
"""The barrel is where the contour has this share of its radius at the injector face [-]."""

END = 3e-3
"""The last places that are measured are this far inside the slots' ends [m]."""

APART = (50e-3, 0.22)
"""Between places that are measured lie about so much [m], or this share of the slots' length."""


@dataclass(frozen=True, slots=True)
class Tool:
    """One cutter on its way along the slots of one stretch.

    ``stretch`` is its number, ``cut`` the place among the circuit's cuts [-]. ``x``, ``r`` (n,)
    are where the centre of a disc goes, or the middle of a mill's flat end [m]; straight from one
    to the next.
    """

    label: str
    stretch: int
    circuit: str
    count: int
    cut: int
    cutter: Cutter
    passes: int
    x: Array
    r: Array
    ramps: tuple[Ramp, ...]

    @property
    def radius(self) -> float:
        """From the listed point to the lowest of the cutter [m]."""
        return (self.cutter.diameter or 0.0) / 2 if self.cutter.kind == "saw" else 0.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """One stretch of slots: its rows, which tool leaves the floor there, what is said of a row."""

    number: int
    stretch: Stretch
    rows: Rows
    tools: tuple[str, ...]
    remarks: tuple[str, ...]
    gauged: tuple[tuple[str, Rows], ...]
    """Places where every slot is measured, by name, a row each."""
    volume: float
    """Of all its slots: what is filled with wax [m3]."""


@dataclass(frozen=True)
class ShopSet:
    """Drawings and tables of one design, lengths [m].

    ``turned`` and ``cut`` are the curves of the meridional drawings for lathe and mill by their
    layer, ``rings`` the cross-sections.
    """

    design: Design
    result: Result
    contour: Contour
    plan: CutPlan
    case_hash: str
    sheets: tuple[Sheet, ...]
    tools: tuple[Tool, ...]
    turned: tuple[tuple[str, Curve], ...]
    cut: tuple[tuple[str, Curve], ...]
    rings: tuple[Ring, ...]


def shop_set(
    design: Design,
    paths: Sequence[Path],
    contour: Contour,
    plan: CutPlan,
    result: Result,
    plated: Course | None = None,
    case_hash: str = "",
) -> ShopSet:
    """Return all that a shop is given to cut and close the slots of a design.

    Parameters
    ----------
    design : Design
        Checked design as the case gives it.
    paths : sequence of Path
        Its circuits.
    contour : Contour
        Its contour.
    plan : CutPlan
        Its cutters, able to make it.
    result : Result
        Solved with the floor that they leave.
    plated : Course, optional
        Thickness of copper and jacket together before the last turning, along the contour [m].
    case_hash : str
        Hash of the case file.

    Returns
    -------
    ShopSet
        Sheets by rising x.
    """
    hottest = float(result.summary["x_T_wall_hot_max_m"])
    laid = stretches(design, paths, plan)
    by_name = {circuit.name: circuit for circuit in plan.circuits}
    tools = _tools(laid, contour, by_name)
    sheets = tuple(
        _sheet(number, stretch, contour, by_name[stretch.circuit], tools, hottest)
        for number, stretch in enumerate(laid, start=1)
    )
    turned, cut = [(CONTOUR, hot_wall(contour))], [(CONTOUR, hot_wall(contour))]
    for stretch in laid:
        blank = _curve(contour, stretch, stretch.to_top)
        if design.closeout.route != "printed":
            turned.append((BLANK_OUTSIDE, blank))
        turned += [
            (layer.drawn, _curve(contour, stretch, layer.distance))
            for layer in layers(design, stretch, plated)
        ]
        cut += [(BLANK_OUTSIDE, blank), (SLOT_FLOOR, _curve(contour, stretch, stretch.wall.at))]
    cut += [(f"{WAY}_{tool.label}", Curve(tool.x, tool.r, np.zeros(tool.x.size))) for tool in tools]
    rings = _rings(design, laid, contour, hottest)
    return ShopSet(
        design, result, contour, plan, case_hash, sheets, tools, tuple(turned), tuple(cut), rings
    )


def _curve(contour: Contour, stretch: Stretch, distance: Callable[[Array], Array]) -> Curve:
    s = drawings.follow(contour, stretch)
    x, r = drawings.surface(contour, stretch, distance)
    if x.size != s.size:  # grown together in a groove
        return Curve.through(x, r)
    joints = np.array([*contour.breakpoints, *stretch.breaks])
    at = np.searchsorted(s, joints[(joints > s[0]) & (joints < s[-1])])
    return Curve.through(x, r, at.tolist())


def layers(design: Design, stretch: Stretch, plated: Course | None = None) -> list[Layer]:
    """Return the layers on the blank: copper if there is one, jacket, jacket as plated.

    Parameters
    ----------
    design : Design
        Gives the finished thicknesses.
    stretch : Stretch
        Slots under them.
    plated : Course, optional
        Thickness of all layers before the last turning, along the contour [m].

    Returns
    -------
    list of Layer
        From inside to outside.
    """
    closeout = design.closeout
    copper, whole = (_even(t) for t in (closeout.copper, closeout.thickness))
    named = [("copper", COPPER_OUTSIDE, copper)] if closeout.copper > 0 else []
    named.append(("jacket", JACKET_OUTSIDE, whole))
    if plated is not None:
        named.append(("jacket as plated", PLATED_OUTSIDE, plated))
    return [Layer(name, drawn, _above(stretch, thick)) for name, drawn, thick in named]


def _even(thickness: float) -> Course:
    return Course(np.zeros(1), np.array([thickness]))


def _above(stretch: Stretch, thickness: Course) -> Callable[[Array], Array]:
    """Return the distance from the contour of the outside of a layer on the blank."""
    return lambda s: stretch.to_top(s) + thickness.at(s)


def _tools(
    laid: Sequence[Stretch], contour: Contour, by_name: Mapping[str, CircuitCut]
) -> tuple[Tool, ...]:
    """Return the way of every cutter along every stretch that it cuts in.

    Where the number of slots changes, those of one stretch end: a way that went on would cut the
    lands of the next.
    """
    found: list[Tool] = []
    for number, stretch in enumerate(laid, start=1):
        for n, cut in enumerate(by_name[stretch.circuit].cuts):
            if cut.stop < stretch.start + SAME or cut.start > stretch.stop - SAME:
                continue
            radius = (cut.cutter.diameter or 0.0) / 2 if cut.cutter.kind == "saw" else 0.0
            low, high = cut.x[[0, -1]]
            if stretch.start > cut.start + SAME:
                low = max(low, _touching(contour, stretch, stretch.start, radius))
            if stretch.stop < cut.stop - SAME:
                high = min(high, _touching(contour, stretch, stretch.stop, radius))
            own = np.concatenate([[low], cut.x[(cut.x > low) & (cut.x < high)], [high]])
            r = np.interp(own, cut.x, cut.r)
            at = drawings.table_places(own, r, own[[0, -1]])
            ramps = [ramp for ramp in cut.ramps if stretch.start <= ramp.x <= stretch.stop]
            found.append(
                Tool(
                    label=f"C{len(found) + 1}",
                    stretch=number,
                    circuit=stretch.circuit,
                    count=stretch.count,
                    cut=n,
                    cutter=cut.cutter,
                    passes=cut.passes,
                    x=at,
                    r=np.interp(at, own, r),
                    ramps=tuple(ramps),
                )
            )
    return tuple(found)


def _touching(contour: Contour, stretch: Stretch, s: float, radius: float) -> float:
    """Return where a disc's centre stands when it touches the floor over a place [m]."""
    rows = drawings.rows_at(contour, stretch, np.array([s]))
    return float(rows.floor_x[0] - radius * np.sin(rows.floor_slope[0]))


def _sheet(
    number: int,
    stretch: Stretch,
    contour: Contour,
    circuit: CircuitCut,
    tools: Sequence[Tool],
    hottest: float,
) -> Sheet:
    named = {0.0: "throat", hottest: "hottest wall"}
    rows = rows_of(contour, stretch, tuple(named))
    mine = [tool for tool in tools if tool.stretch == number]
    if mine:
        cuts = [circuit.cuts[tool.cut] for tool in mine]
        walls = np.stack([np.interp(rows.x, circuit.x, cut.wall) for cut in cuts])
        labels = tuple(mine[n].label for n in np.argmin(walls, axis=0))
    else:
        labels = ("-",) * rows.x.size
    return Sheet(
        number=number,
        stretch=stretch,
        rows=rows,
        tools=labels,
        remarks=tuple(_remark(x, stretch, contour, named) for x in rows.x),
        gauged=_gauged(stretch, contour, named),
        volume=_volume(stretch, contour),
    )


def _volume(stretch: Stretch, contour: Contour) -> float:
    """Return what all slots of a stretch hold [m3]."""
    s = drawings.follow(contour, stretch)
    x, r = off_wall(contour, lambda at: stretch.wall.at(at) + stretch.depth.at(at) / 2, s)
    area = stretch.width.at(s) * stretch.depth.at(s)
    return float(
        stretch.count * np.sum((area[1:] + area[:-1]) / 2 * np.hypot(np.diff(x), np.diff(r)))
    )


def _remark(x: float, stretch: Stretch, contour: Contour, named: dict[float, str]) -> str:
    said = []
    if abs(x - stretch.start) < SAME:
        said.append("slots begin")
    if abs(x - stretch.stop) < SAME:
        said.append("slots end")
    said += [name for place, name in named.items() if abs(x - place) < SAME]
    if any(abs(x - at) < SAME for at in contour.breakpoints[1:-1] if at != 0.0):
        said.append("joint of the contour")
    if any(abs(x - at) < SAME for at in stretch.breaks):
        said.append("break of a profile")
    return ", ".join(said)


def _gauged(
    stretch: Stretch, contour: Contour, named: dict[float, str]
) -> tuple[tuple[str, Rows], ...]:
    """Return where every slot is measured: near both ends, at throat and hottest wall, between."""
    inset = min(END, (stretch.stop - stretch.start) / 4)
    first, last = stretch.start + inset, stretch.stop - inset
    found = {first: "injector end", last: "nozzle end"}
    found |= {x: name for x, name in named.items() if first + MERGE < x < last - MERGE}
    apart = max(APART[0], APART[1] * (stretch.stop - stretch.start))
    for a, b in zip(sorted(found)[:-1], sorted(found)[1:], strict=True):
        parts = int(np.ceil((b - a) / apart - 0.2))
        found |= (
            {float(x): "between" for x in np.linspace(a, b, parts + 1)[1:-1]} if parts > 1 else {}
        )
    places = sorted(found)
    rows = drawings.rows_at(contour, stretch, np.array(places))
    return tuple((found[x], rows.row(n)) for n, x in enumerate(places))


def _rings(
    design: Design, laid: Sequence[Stretch], contour: Contour, hottest: float
) -> tuple[Ring, ...]:
    """Return the sections at throat, hottest station and in the barrel, where there are slots."""
    x = np.linspace(contour.x_injector, 0.0, 2000)
    barrel = x[contour.radius(x) >= BARREL * contour.radius(contour.x_injector)]
    wanted = [("throat", 0.0), ("hottest wall", hottest), ("barrel", float(barrel.mean()))]
    found: list[Ring] = []
    for name, place in wanted:
        for stretch in laid:
            if not stretch.start <= place <= stretch.stop:
                continue
            at = float(off_wall(contour, stretch.wall.at, np.array([place]))[0][0])
            section = ring(contour, stretch, layers(design, stretch), name, at)
            if section is not None and all(abs(at - other.x) > SAME for other in found):
                found.append(section)
                break
    return tuple(found)
