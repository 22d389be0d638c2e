"""All that goes from one design to the shop: rows of the mill, cutter paths, drawings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from regen.design import Design
from regen.geometry.contour import Contour
from regen.geometry.curves import MERGE, Array
from regen.result import Result
from regen.shop.cutters.plan import CutPlan
from regen.shop.cutters.tool_paths import ToolPath
from regen.shop.drawings.outlines import Curve, hot_wall, table_places
from regen.shop.drawings.stretches import Distance, Ring, Rows, Stretch, ring, stretches
from regen.shop.plating.plan import PlatingPlan

CONTOUR, SLOT_FLOOR, BLANK_OUTSIDE = "HOT_GAS_CONTOUR", "SLOT_FLOOR", "LINER_BLANK_OUTSIDE"
COPPER_OUTSIDE, JACKET_OUTSIDE = "COPPER_OUTSIDE", "JACKET_FINISHED_OUTSIDE"
PLATED_OUTSIDE, CUTTER_PATH = "JACKET_AS_PLATED_OUTSIDE", "CUTTER_PATH"
"""Layers of the meridional drawings."""

OUTSIDES = {"copper": COPPER_OUTSIDE, "jacket": JACKET_OUTSIDE, "jacket as plated": PLATED_OUTSIDE}
"""Layer of the drawing for what lies on the blank."""

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
    """One cutter on its path along the slots of one stretch.

    ``path`` is that along the whole circuit. ``x``, ``r`` (n,) are where the centre of a disc goes
    in this stretch, or the middle of a mill's flat end [m]; straight from one to the next.
    """

    label: str
    stretch: Stretch
    path: ToolPath
    x: Array
    r: Array


@dataclass(frozen=True, slots=True)
class Sheet:
    """One stretch of slots: its rows, which tool leaves the floor there, the remark on a row.

    ``gauged`` are the places where every slot is measured, a row each, ``gauges`` their names;
    ``volume`` is that of all its slots, to be filled with wax [m3].
    """

    stretch: Stretch
    rows: Rows
    tools: tuple[str, ...]
    remarks: tuple[str, ...]
    gauges: tuple[str, ...]
    gauged: Rows
    volume: float


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
    plan: CutPlan, result: Result, plated: PlatingPlan | None = None, case_hash: str = ""
) -> ShopSet:
    """Return all that a shop is given to cut and close the slots of a design as the case gives it.

    ``plan`` has its cutters, able to make it; ``result`` is solved with the floor that they leave;
    ``plated`` is the plan of an electroformed jacket.
    """
    design, contour = plan.circuits[0].slot.design, plan.circuits[0].slot.contour
    hottest = float(result.summary["x_T_wall_hot_max_m"])
    slots = stretches(plan)
    tools = _tools(slots)
    named = {0.0: "throat", hottest: "hottest wall"}
    sheets = tuple(_sheet(stretch, tools, named) for stretch in slots)
    turned = [(CONTOUR, hot_wall(contour))]
    cut = turned.copy()
    for stretch in slots:
        blank = _curve(stretch, stretch.to_top)
        if design.closeout.route != "printed":
            turned.append((BLANK_OUTSIDE, blank))
        for name, distance in _layers(design, stretch, plated).items():
            turned.append((OUTSIDES[name], _curve(stretch, distance)))
        cut += [(BLANK_OUTSIDE, blank), (SLOT_FLOOR, _curve(stretch, stretch.wall))]
    for tool in tools:
        cut.append((f"{CUTTER_PATH}_{tool.label}", Curve(tool.x, tool.r, np.zeros(tool.x.size))))
    rings = _rings(design, slots, contour, hottest)
    return ShopSet(
        design, result, contour, plan, case_hash, sheets, tools, tuple(turned), tuple(cut), rings
    )


def _curve(stretch: Stretch, distance: Distance) -> Curve:
    s = stretch.places
    x, r = stretch.surface(distance)
    if x.size != s.size:  # grown together in a groove
        return Curve.through(x, r)
    joints = np.array([*stretch.contour.breakpoints, *stretch.breaks])
    at = np.searchsorted(s, joints[(joints > s[0]) & (joints < s[-1])])
    return Curve.through(x, r, at.tolist())


def _layers(
    design: Design, stretch: Stretch, plated: PlatingPlan | None = None
) -> dict[str, Distance]:
    """Return what lies on the blank: copper if there is one, jacket, jacket as plated."""
    copper, jacket = design.closeout.copper, design.closeout.thickness
    layers: dict[str, Distance] = {}
    if copper > 0:
        layers["copper"] = lambda s: stretch.to_top(s) + copper
    layers["jacket"] = lambda s: stretch.to_top(s) + jacket
    if plated is not None:
        x, thick = plated.x, copper + plated.nickel.as_plated
        layers["jacket as plated"] = lambda s: stretch.to_top(s) + np.interp(s, x, thick)
    return layers


def _tools(slots: Sequence[Stretch]) -> tuple[Tool, ...]:
    """Return the path of every cutter along every stretch that it cuts in.

    Where the number of slots changes, those of one stretch end: a path that went on would cut the
    lands of the next.
    """
    tools: list[Tool] = []
    for stretch in slots:
        for path in stretch.cut.tool_paths:
            if path.stop < stretch.start + SAME or path.start > stretch.stop - SAME:
                continue
            low, high = path.x[[0, -1]]
            if stretch.start > path.start + SAME:
                low = max(low, _touching(stretch, stretch.start, path.radius))
            if stretch.stop < path.stop - SAME:
                high = min(high, _touching(stretch, stretch.stop, path.radius))
            own = np.concatenate([[low], path.x[(path.x > low) & (path.x < high)], [high]])
            r = np.interp(own, path.x, path.r)
            at = table_places(own, r, own[[0, -1]])
            label = f"C{len(tools) + 1}"
            tools.append(Tool(label, stretch, path, at, np.interp(at, own, r)))
    return tuple(tools)


def _touching(stretch: Stretch, s: float, radius: float) -> float:
    """Return where a disc's centre stands when it touches the floor over a place [m]."""
    rows = stretch.rows_at(np.array([s]))
    return float(rows.floor_x[0] - radius * np.sin(rows.floor_slope[0]))


def _sheet(stretch: Stretch, tools: Sequence[Tool], named: Mapping[float, str]) -> Sheet:
    rows = stretch.rows(tuple(named))
    mine = [tool for tool in tools if tool.stretch is stretch]
    labels = ("-",) * rows.x.size
    if mine:
        walls = [np.interp(rows.x, stretch.cut.slot.x, tool.path.wall) for tool in mine]
        labels = tuple(mine[n].label for n in np.argmin(walls, axis=0))
    remarks = tuple(_remark(x, stretch, named) for x in rows.x)
    gauges = _gauges(stretch, named)
    gauged = stretch.rows_at(np.array(list(gauges)))
    return Sheet(stretch, rows, labels, remarks, tuple(gauges.values()), gauged, _volume(stretch))


def _volume(stretch: Stretch) -> float:
    """Return what all slots of a stretch hold [m3]."""
    s = stretch.places
    x, r = stretch.points(lambda at: stretch.wall(at) + stretch.depth(at) / 2, s)
    area = stretch.width(s) * stretch.depth(s)
    return float(
        stretch.count * np.sum((area[1:] + area[:-1]) / 2 * np.hypot(np.diff(x), np.diff(r)))
    )


def _remark(x: float, stretch: Stretch, named: Mapping[float, str]) -> str:
    marks = [(stretch.start, "slots begin"), (stretch.stop, "slots end"), *named.items()]
    marks += [(at, "joint of the contour") for at in stretch.contour.breakpoints[1:-1] if at != 0.0]
    marks += [(at, "break of a profile") for at in stretch.breaks]
    return ", ".join(dict.fromkeys(text for at, text in marks if abs(x - at) < SAME))


def _gauges(stretch: Stretch, named: Mapping[float, str]) -> dict[float, str]:
    """Return where every slot is measured: near both ends, at throat and hottest wall, between."""
    inset = min(END, (stretch.stop - stretch.start) / 4)
    first, last = stretch.start + inset, stretch.stop - inset
    names = {first: "injector end", last: "nozzle end"}
    names |= {x: name for x, name in named.items() if first + MERGE < x < last - MERGE}
    apart = max(APART[0], APART[1] * (stretch.stop - stretch.start))
    for a, b in zip(sorted(names)[:-1], sorted(names)[1:], strict=True):
        parts = max(int(np.ceil((b - a) / apart - 0.2)), 1)
        names |= {float(x): "between" for x in np.linspace(a, b, parts + 1)[1:-1]}
    return {x: names[x] for x in sorted(names)}


def _rings(
    design: Design, slots: Sequence[Stretch], contour: Contour, hottest: float
) -> tuple[Ring, ...]:
    """Return the sections at throat, hottest station and in the barrel, where there are slots."""
    x = np.linspace(contour.x_injector, 0.0, 2000)
    barrel = x[contour.radius(x) >= BARREL * contour.radius(contour.x_injector)]
    wanted = [("throat", 0.0), ("hottest wall", hottest), ("barrel", float(barrel.mean()))]
    rings: list[Ring] = []
    for name, place in wanted:
        for stretch in slots:
            if not stretch.start <= place <= stretch.stop:
                continue
            at = float(stretch.points(stretch.wall, np.array([place]))[0][0])
            section = ring(stretch, _layers(design, stretch), name, at)
            if section is not None and all(abs(at - other.x) > SAME for other in rings):
                rings.append(section)
                break
    return tuple(rings)
