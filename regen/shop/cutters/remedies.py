"""What would make slots that a saw does not: a smaller disc, an end mill, a larger arc."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from regen.design import ContourShape, Cutter, Design, Profile
from regen.errors import GeometryError
from regen.geometry.circuits import Path
from regen.geometry.contour import Contour, build_contour, cooled_range
from regen.geometry.curves import mm
from regen.shop.cutters.checks import CutPlan, said
from regen.shop.cutters.floor import disc_floor, meridian
from regen.shop.cutters.slots import fine
from regen.shop.cutters.tool_paths import Cut

SHANK = 4e-3
"""Least radius of collar or shank that holds a disc (common practice) [m]."""

DISC_STEP = 0.5e-3
"""Diameters of discs are told in steps of this [m]: a disc is ground again and again."""

RATIO_STEP = 0.01
"""Arc radii over throat radius are told in steps of this [-]."""

COARSE = 0.1e-3
"""Grid of a search [m]: right to 1 um for discs of 10 mm and more."""

ARCS = ("throat_upstream_radius_ratio", "throat_downstream_radius_ratio")


@dataclass(frozen=True, slots=True)
class Remedy:
    """One change that would do: what to change, in words, and the number if there is one.

    ``key`` is the key of the case; ``value`` in SI.
    """

    key: str
    value: float | None
    text: str


def remedies(
    design: Design, contour: Contour, paths: Sequence[Path], found: CutPlan
) -> tuple[Remedy, ...]:
    """Return what would leave no more copper than the tolerance of depth, where a saw leaves more.

    Parameters
    ----------
    design : Design
        What is to be cut.
    contour : Contour
        Its contour.
    paths : sequence of Path
        Its circuits, laid along it.
    found : CutPlan
        From ``cutters.plan``.

    Returns
    -------
    tuple of Remedy
        For each saw that bridges: the largest disc that does not, an end mill, and the arcs of
        the contour that this disc would follow; empty if none bridges.
    """
    tolerance, said_of = design.shop.depth_tolerance, []
    for path, circuit in zip(paths, found.circuits, strict=True):
        for cut in circuit.cuts:
            if cut.cutter.diameter is not None and cut.bridge > tolerance:
                deepest = float(circuit.wanted_depth.max())
                plunge = float((circuit.wanted_depth / np.cos(circuit.slope)).max())
                slot = _Bridged(design, contour, path, cut, deepest, plunge)
                said_of += [_smaller(slot), _mill(slot), *_arcs(slot)]
    return tuple(said_of)


@dataclass(frozen=True)
class _Bridged:
    """A saw that leaves too much copper in one circuit's slots."""

    design: Design
    contour: Contour
    path: Path
    cut: Cut
    deepest: float
    plunge: float
    """Depth straight towards the axis, as a mill goes in [m]."""

    @property
    def tolerance(self) -> float:
        return self.design.shop.depth_tolerance

    @property
    def disc(self) -> float:
        return self.cut.cutter.diameter or 0.0


def bridge(
    contour: Contour,
    wall: Profile,
    depth: Profile,
    span: tuple[float, float],
    diameter: float,
) -> float:
    """Return the largest height of copper that a disc leaves on a slot floor.

    Parameters
    ----------
    contour : Contour
        Hot-gas contour.
    wall, depth : Profile
        Hot wall and slot depth [m].
    span : tuple of float
        Where the slot begins and ends [m].
    diameter : float
        Of the disc [m].

    Returns
    -------
    float
        Along the normal, from the height times the cosine of the slope [m].
    """
    m = meridian(contour, wall, depth, span, diameter, COARSE)
    *_, cut = disc_floor(m.x, m.floor, diameter / 2)
    within = slice(m.first, m.last + 1)
    cosine = 1.0 / np.hypot(1.0, np.gradient(m.floor[within], m.step))
    return float(((cut - m.floor)[within] * cosine).max())


def _left(slot: _Bridged, contour: Contour, diameter: float) -> float:
    channels = slot.path.circuit.channels
    span = cooled_range(contour, channels)
    return bridge(contour, slot.design.liner.wall, channels.depth, span, diameter)


def _edge(good: float, bad: float, step: float, keeps: Callable[[float], bool]) -> float:
    """Return the last multiple of a step from ``good`` towards ``bad`` that keeps a limit."""
    low, high = round(good / step), round(bad / step)
    while abs(high - low) > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if keeps(middle * step) else (low, middle)
    return low * step


def _smaller(slot: _Bridged) -> Remedy:
    """Return the largest disc that leaves no more than the tolerance."""
    least = 2 * (slot.deepest + SHANK)
    least = float(np.ceil(least / DISC_STEP - 1e-9) * DISC_STEP)
    width, tolerance = mm(slot.cut.cutter.width), mm(slot.tolerance)

    def keeps(diameter: float) -> bool:
        return _left(slot, slot.contour, diameter) <= slot.tolerance

    if not keeps(least):
        text = (
            f"no saw does: a disc of {mm(least)}, the smallest that a shank of {mm(2 * SHANK)} "
            f"leaves {mm(slot.deepest)} of depth, still leaves more than {tolerance}"
        )
        return Remedy("shop.cutters", None, text)
    largest = _edge(least, slot.disc, DISC_STEP, keeps)
    text = (
        f"a smaller saw: {width} wide with a disc of at most {mm(largest)} leaves no more than "
        f"{tolerance} of copper"
    )
    return Remedy("shop.cutters", largest, text)


def _mill(slot: _Bridged) -> Remedy:
    cutter: Cutter = slot.cut.cutter
    text = (
        f"an end mill of at most {mm(cutter.width)} that reaches {fine(slot.plunge)} follows "
        "the floor"
    )
    return Remedy("shop.cutters", cutter.width, text)


def _arcs(slot: _Bridged) -> list[Remedy]:
    """Return the arcs of the contour round the throat that the disc follows."""
    shape, name = slot.design.contour, said(slot.cut.cutter)
    needed = slot.disc / 2 + float(slot.design.liner.wall.at(slot.cut.x_bridge))
    if not isinstance(shape, ContourShape):
        text = (
            f"a contour whose radius of curvature is nowhere below {mm(needed)} round the waist: "
            f"the {name} then leaves nothing"
        )
        return [Remedy("contour.profile", needed, text)]
    own = {arc: float(getattr(shape, arc)) for arc in ARCS}
    sure = np.ceil(needed / slot.contour.throat_radius / RATIO_STEP) * RATIO_STEP

    def changed(ratio: float) -> dict[str, Any]:
        return {arc: max(value, ratio) for arc, value in own.items()}

    def keeps(ratio: float) -> bool:
        try:
            sized = slot.contour.throat_radius if shape.throat_diameter is None else None
            made = build_contour(replace(shape, **changed(ratio)), sized)
            return _left(slot, made, slot.disc) <= slot.tolerance
        except GeometryError:
            return False

    if not keeps(sure):
        text = (
            f"no arcs of this contour: radii of {sure:.2f} times the throat's would do for the "
            f"{name}, and do not fit into it"
        )
        return [Remedy("contour", None, text)]
    ratio = _edge(sure, min(own.values()), RATIO_STEP, keeps)
    new = [(arc, value) for arc, value in changed(ratio).items() if value != own[arc]]
    together = " and ".join(f"contour.{arc} = {value:.2f}" for arc, value in new)
    text = (
        f"larger arcs: with {together} the {name} leaves no more than {mm(slot.tolerance)}; the "
        "gas side changes with them, so solve again"
    )
    return [Remedy(f"contour.{new[0][0]}", ratio, text)] if new else []
