"""What would make slots that a saw does not: a smaller disc, an end mill, a larger arc."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from regen.design import ContourShape, Design
from regen.errors import GeometryError
from regen.geometry.circuits import Path
from regen.geometry.contour import Contour, build_contour, cooled_range
from regen.geometry.curves import mm
from regen.shop.cutters.floor import disc_floor, meridian
from regen.shop.cutters.plan import CutPlan, cutter_name
from regen.shop.cutters.slots import fine
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


def remedies(
    design: Design, contour: Contour, paths: Sequence[Path], plan: CutPlan
) -> tuple[Remedy, ...]:
    """Return what would leave no more copper than the tolerance of depth, where a saw leaves more.

    For each saw that bridges: the largest disc that does not, an end mill, and the arcs of the
    contour that this disc would follow; empty if none bridges.
    """
    result: list[Remedy] = []
    for path, circuit in zip(paths, plan.circuits, strict=True):
        for cut in circuit.tool_paths:
            if cut.cutter.diameter is not None and cut.bridge > design.shop.depth_tolerance:
                deepest = float(circuit.wanted_depth.max())
                plunge = float((circuit.wanted_depth / np.cos(circuit.slope)).max())
                saw = _Bridging(design, contour, path, cut, cut.cutter.diameter)
                result += [saw.smaller(deepest), saw.mill(plunge), *saw.arcs()]
    return tuple(result)


@dataclass(frozen=True)
class _Bridging:
    """A saw that leaves too much copper in one circuit's slots, its diameter [m]."""

    design: Design
    contour: Contour
    path: Path
    cut: ToolPath
    diameter: float

    def keeps(self, contour: Contour, diameter: float) -> bool:
        """Return whether a disc leaves no more copper than the tolerance, along the normal."""
        channels, wall = self.path.circuit.channels, self.design.liner.wall
        span = cooled_range(contour, channels)
        m = meridian(contour, wall, channels.depth, span, diameter, COARSE)
        *_, cut = disc_floor(m.x, m.floor, diameter / 2)
        within = slice(m.first, m.last + 1)
        cosine = 1.0 / np.hypot(1.0, np.gradient(m.floor[within], m.step))
        left = float(((cut - m.floor)[within] * cosine).max())
        return left <= self.design.shop.depth_tolerance

    def smaller(self, deepest: float) -> Remedy:
        """Return the largest disc that leaves no more than the tolerance."""
        least = 2 * (deepest + SHANK)
        least = float(np.ceil(least / DISC_STEP - 1e-9) * DISC_STEP)
        width, tolerance = mm(self.cut.cutter.width), mm(self.design.shop.depth_tolerance)
        if not self.keeps(self.contour, least):
            text = (
                f"no saw does: a disc of {mm(least)}, the smallest that reaches {mm(deepest)} deep "
                f"on a shank of {mm(2 * SHANK)}, still leaves more than {tolerance}"
            )
            return Remedy("shop.cutters", None, text)
        largest = _last_good(
            least, self.diameter, DISC_STEP, lambda diameter: self.keeps(self.contour, diameter)
        )
        text = (
            f"a smaller saw: {width} wide with a disc of at most {mm(largest)} leaves no more than "
            f"{tolerance} of copper"
        )
        return Remedy("shop.cutters", largest, text)

    def mill(self, plunge: float) -> Remedy:
        """Return an end mill that goes straight towards the axis by ``plunge`` [m]."""
        width = self.cut.cutter.width
        text = f"an end mill of at most {mm(width)} that reaches {fine(plunge)} follows the floor"
        return Remedy("shop.cutters", width, text)

    def arcs(self) -> Iterator[Remedy]:
        """Yield the arcs of the contour round the throat that the disc follows."""
        shape, name = self.design.contour, cutter_name(self.cut.cutter)
        needed = self.diameter / 2 + float(self.design.liner.wall.at(self.cut.x_bridge))
        if not isinstance(shape, ContourShape):
            text = (
                f"a contour whose radius of curvature is nowhere below {mm(needed)} round the "
                f"throat: the {name} then leaves nothing"
            )
            yield Remedy("contour.profile", needed, text)
            return
        own = {arc: float(getattr(shape, arc)) for arc in ARCS}
        throat = self.contour.throat_radius
        sure = np.ceil(needed / throat / RATIO_STEP) * RATIO_STEP

        def changed(ratio: float) -> dict[str, Any]:
            return {arc: max(value, ratio) for arc, value in own.items()}

        def keeps(ratio: float) -> bool:
            try:
                sized = throat if shape.throat_diameter is None else None
                made = build_contour(replace(shape, **changed(ratio)), sized)
                return self.keeps(made, self.diameter)
            except GeometryError:
                return False

        if not keeps(sure):
            text = (
                f"no arcs of this contour: the {name} needs radii of {sure:.2f} times the "
                "throat's, which do not fit into it"
            )
            yield Remedy("contour", None, text)
            return
        ratio = _last_good(sure, min(own.values()), RATIO_STEP, keeps)
        new = [(arc, value) for arc, value in changed(ratio).items() if value != own[arc]]
        if new:
            together = " and ".join(f"contour.{arc} = {value:.2f}" for arc, value in new)
            text = (
                f"larger arcs: with {together} the {name} leaves no more than "
                f"{mm(self.design.shop.depth_tolerance)}; the gas side changes with them, so solve "
                "again"
            )
            yield Remedy(f"contour.{new[0][0]}", ratio, text)


def _last_good(good: float, bad: float, step: float, keeps: Callable[[float], bool]) -> float:
    """Return the last multiple of a step from ``good`` towards ``bad`` that keeps a limit."""
    low, high = round(good / step), round(bad / step)
    while abs(high - low) > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if keeps(middle * step) else (low, middle)
    return low * step
