"""What would make slots that a saw does not: a smaller disc, an end mill, a larger arc."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from regen.design import ContourShape
from regen.errors import GeometryError
from regen.geometry.contour import Contour, build_contour, cooled_range
from regen.shop.cutters.floor import disc_floor, meridian
from regen.shop.cutters.plan import CutPlan, cutter_name
from regen.shop.cutters.slots import Slot, fine, text
from regen.shop.cutters.tool_paths import ToolPath

SHANK = 4e-3
"""Least radius of collar or shank that holds a disc (common practice) [m]."""

DISC_STEP = 0.5e-3
"""Diameters of discs are given in steps of this [m]: a disc is ground again and again."""

RATIO_STEP = 0.01
"""Arc radii over throat radius are given in steps of this [-]."""

COARSE = 0.1e-3
"""Grid of a search [m]: right to 1 um for discs of 10 mm and more."""

ARCS = ("throat_upstream_radius_ratio", "throat_downstream_radius_ratio")


@dataclass(frozen=True, slots=True)
class Remedy:
    """One change that would do: a key of the case, its value [SI] if there is one, and a text."""

    key: str
    value: float | None
    text: str


def remedies(plan: CutPlan) -> tuple[Remedy, ...]:
    """Return what would leave no more copper than the tolerance of depth, where a saw leaves more.

    For each saw that bridges: the largest disc that does not, an end mill, and the arcs of the
    contour that this disc would follow; empty if none bridges.
    """
    result: list[Remedy] = []
    for circuit in plan.circuits:
        slot = circuit.slot
        for cut in circuit.tool_paths:
            if cut.radius > 0.0 and cut.bridge > slot.design.shop.depth_tolerance:
                result += [_smaller(slot, cut), _mill(slot, cut), *_arcs(slot, cut)]
    return tuple(result)


def _keeps(slot: Slot, contour: Contour, diameter: float) -> bool:
    """Return whether a disc leaves no more copper than the tolerance, along the normal [m]."""
    design, channels = slot.design, slot.channels
    span = cooled_range(contour, channels)
    m = meridian(contour, design.liner.wall, channels.depth, span, diameter, COARSE)
    *_, cut = disc_floor(m.x, m.floor, diameter / 2)
    within = slice(m.first, m.last + 1)
    cosine = 1.0 / np.hypot(1.0, np.gradient(m.floor[within], m.step))
    left = float(((cut - m.floor)[within] * cosine).max())
    return left <= design.shop.depth_tolerance


def _smaller(slot: Slot, cut: ToolPath) -> Remedy:
    """Return the largest disc that leaves no more than the tolerance."""
    deepest, tolerance = float(slot.depth.max()), slot.design.shop.depth_tolerance
    least = float(np.ceil(2 * (deepest + SHANK) / DISC_STEP - 1e-9) * DISC_STEP)
    keeps = partial(_keeps, slot, slot.contour)
    if not keeps(least):
        sizes = {"disc": least, "deepest": deepest, "shank": 2 * SHANK}
        return Remedy("shop.cutters", None, text("no saw", **sizes, tolerance=tolerance))
    largest = _last_good(least, 2 * cut.radius, DISC_STEP, keeps)
    width = cut.cutter.width
    smaller = text("smaller saw", width=width, disc=largest, tolerance=tolerance)
    return Remedy("shop.cutters", largest, smaller)


def _mill(slot: Slot, cut: ToolPath) -> Remedy:
    """Return an end mill, which goes straight towards the axis."""
    reach, width = float((slot.depth / np.cos(slot.slope)).max()), cut.cutter.width
    return Remedy("shop.cutters", width, text("end mill", width=width, reach=fine(reach)))


def _arcs(slot: Slot, cut: ToolPath) -> Iterator[Remedy]:
    """Yield the arcs of the contour round the throat that the disc follows."""
    shape, name = slot.design.contour, cutter_name(cut.cutter)
    needed = cut.radius + float(slot.design.liner.wall.at(cut.x_bridge))
    if not isinstance(shape, ContourShape):
        curvature = text("curvature", radius=needed, cutter=name)
        yield Remedy("contour.profile", needed, curvature)
        return
    own = {arc: float(getattr(shape, arc)) for arc in ARCS}
    throat = slot.contour.throat_radius
    sure = np.ceil(needed / throat / RATIO_STEP) * RATIO_STEP

    def changed(ratio: float) -> dict[str, Any]:
        return {arc: max(value, ratio) for arc, value in own.items()}

    def keeps(ratio: float) -> bool:
        try:
            sized = throat if shape.throat_diameter is None else None
            made = build_contour(replace(shape, **changed(ratio)), sized)
            return _keeps(slot, made, 2 * cut.radius)
        except GeometryError:
            return False

    if not keeps(sure):
        yield Remedy("contour", None, text("no arcs", cutter=name, ratio=f"{sure:.2f}"))
        return
    ratio = _last_good(sure, min(own.values()), RATIO_STEP, keeps)
    new = [(arc, value) for arc, value in changed(ratio).items() if value != own[arc]]
    if new:
        arcs = " and ".join(f"contour.{arc} = {value:.2f}" for arc, value in new)
        tolerance = slot.design.shop.depth_tolerance
        larger = text("arcs", arcs=arcs, cutter=name, tolerance=tolerance)
        yield Remedy(f"contour.{new[0][0]}", ratio, larger)


def _last_good(good: float, bad: float, step: float, keeps: Callable[[float], bool]) -> float:
    """Return the last multiple of a step from ``good`` towards ``bad`` that keeps a limit."""
    low, high = round(good / step), round(bad / step)
    while abs(high - low) > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if keeps(middle * step) else (low, middle)
    return low * step
