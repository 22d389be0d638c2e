"""Figure of the cut slots: wanted floor against cut floor at the throat and the ends."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.output.figures import style
from regen.shop.cutters.floor import reduced
from regen.shop.cutters.plan import CircuitCut, CutPlan, cutter_name
from regen.shop.cutters.tool_paths import ToolPath

THROAT_WINDOW, END_WINDOW = 22.0, 14.0
"""Length along the axis that the panels show, either side of the throat and from an end [mm]."""

BESIDE_IT = 5e-3
"""What is drawn on both sides of a panel, since floors do not lie where the contour does [m]."""

SEEN = 1e-5
"""Copper less than this is not pointed at [m]."""


def cutters_figure(plan: CutPlan, tolerance: float, title: str) -> Figure:
    """Return sections through a slot to scale, and the copper left on the wanted floor along x.

    Of the sections the throat stands above, both ends below; ``tolerance`` is of the depth [m].
    """
    by_x = sorted(plan.circuits, key=lambda circuit: circuit.slot.span[0])
    figure = Figure(figsize=(style.WIDTH, 8.0), layout="constrained")
    grid = figure.add_gridspec(3, 2, height_ratios=(1.25, 0.75, 0.9))
    places = (grid[0, :], grid[1, 0], grid[1, 1], grid[2, :])
    throat, first, last, copper = (figure.add_subplot(place) for place in places)
    _throat(throat, by_x)
    _end(first, by_x[0], 0)
    _end(last, by_x[-1], -1)
    _copper(copper, by_x, tolerance)
    names = dict.fromkeys(cutter_name(cut.cutter) for c in by_x for cut in c.tool_paths)
    figure.suptitle(f"{title}: slots cut by {'; '.join(names) or 'no cutter'}", fontsize=11)
    return figure


def _section(ax: Axes, circuit: CircuitCut, low: float, high: float) -> None:
    """Draw one slot in section between two positions [mm]: copper, slot, outside of the blank."""
    slot = circuit.slot
    near = (slot.x > low / 1e3 - BESIDE_IT) & (slot.x < high / 1e3 + BESIDE_IT)
    here = np.flatnonzero(near)
    here = np.unique(np.append(here[::2], here[-1:]))
    distances = (np.zeros_like(slot.x), slot.wall, circuit.wall, slot.wall + slot.depth)
    gas, wanted, cut, blank = (
        [values[here] * 1e3 for values in slot.points(distance)] for distance in distances
    )
    for (inner, outer), colour in (
        ((gas, wanted), style.COPPER),
        ((cut, blank), style.COOLANT),
        ((wanted, cut), style.RED),
    ):
        x, r = (np.concatenate([a, b[::-1]]) for a, b in zip(inner, outer, strict=True))
        ax.fill(x, r, color=colour, lw=0, alpha=0.75)
    ax.plot(*gas, color="black", lw=1.0)
    ax.plot(*wanted, color=style.BLUE, ls=(0, (4, 2)), lw=1.1, label="wanted floor")
    ax.plot(*cut, color=style.RED, lw=1.2, label="cut floor")
    ax.plot(*blank, color=style.GREY, lw=0.9, label="outside of the blank")


def _window(ax: Axes, low: float, high: float, circuits: list[CircuitCut]) -> None:
    """Show a stretch of the axis [mm] to scale, at the height of what is there."""
    heights: list[float] = []
    for slot in (circuit.slot for circuit in circuits):
        here = (slot.x * 1e3 >= low) & (slot.x * 1e3 <= high)
        top = slot.r + (slot.wall + slot.depth) / np.cos(slot.slope)
        heights += [*(slot.r[here] * 1e3), *(top[here] * 1e3)]
    ax.set_xlim(low, high)
    if heights:
        ax.set_ylim(min(heights) - 0.5, max(heights) + 0.5)
    ax.set_aspect("equal")
    ax.locator_params(axis="x", nbins=5)
    ax.set_ylabel("radius [mm]")


def _throat(ax: Axes, circuits: list[CircuitCut]) -> None:
    circuit = max(circuits, key=lambda circuit: circuit.bridge)
    left, where = circuit.bridge
    middle = where * 1e3 if left > SEEN else 0.0
    low = max(middle - THROAT_WINDOW, circuits[0].slot.span[0] * 1e3)
    high = min(middle + THROAT_WINDOW, circuits[-1].slot.span[1] * 1e3)
    for one in circuits:
        _section(ax, one, low, high)
        for cut in one.tool_paths:
            if cut.cutter.diameter and cut.bridge == left:
                _rim(ax, cut, where)
    _window(ax, low, high, circuits)
    handles, labels = ax.get_legend_handles_labels()
    once = dict(zip(labels, handles, strict=True))
    ax.legend(once.values(), once.keys(), loc="upper center", fontsize=8, ncols=4)
    ax.set_title("to scale, where most copper is left (red)", fontsize=9)
    if left > SEEN:
        k = int(np.argmin(np.abs(circuit.slot.x - where)))
        x, r = (float(one[k]) * 1e3 for one in circuit.slot.points(circuit.wall))
        text = (
            f"{left * 1e3:.3f} mm of copper left\nslot {circuit.depth[k] * 1e3:.2f} mm deep "
            f"instead of {circuit.slot.depth[k] * 1e3:.2f} mm"
        )
        arrow = {"arrowstyle": "->", "lw": 0.8}
        look: dict[str, Any] = {"ha": "center", "fontsize": 8, "bbox": style.BOX}
        look |= {"textcoords": "axes fraction", "arrowprops": arrow}
        ax.annotate(text, (x, r), (0.5, 0.62), **look)


def _rim(ax: Axes, cut: ToolPath, x: float) -> None:
    """Draw the rim of the disc that makes the floor at a place [m]."""
    radius = cut.radius
    k = int(np.argmin(cut.r - np.sqrt(np.maximum(radius**2 - (cut.x - x) ** 2, 0.0))))
    turn = np.linspace(-np.pi, 0.0, 361)
    at = (cut.x[k] + radius * np.cos(turn)) * 1e3, (cut.r[k] + radius * np.sin(turn)) * 1e3
    ax.plot(*at, color="black", ls=":", lw=1.0, label="rim of the disc")


def _end(ax: Axes, circuit: CircuitCut, side: int) -> None:
    """Draw one end of the slots."""
    x = circuit.slot.span[side] * 1e3
    low, high = (x - 1.0, x + END_WINDOW) if side == 0 else (x - END_WINDOW, x + 1.0)
    _section(ax, circuit, low, high)
    _window(ax, low, high, [circuit])
    name = "injector" if side == 0 else "nozzle"
    ramps = [ramp for cut in circuit.tool_paths for ramp in cut.ramps]
    there = [ramp for ramp in ramps if abs(ramp.x * 1e3 - x) < 1e-3]
    text = "no ramp"
    if ramp := max(there, key=lambda ramp: ramp.length, default=None):
        length = f"{ramp.length * 1e3:.1f} mm"
        text = f"ramp of {length}" if ramp.inside else f"open, the disc goes {length} beyond"
    ax.set_title(f"{name} end: {text}", fontsize=9)
    ax.set_xlabel("x [mm]")


def _copper(ax: Axes, circuits: list[CircuitCut], tolerance: float) -> None:
    """Draw the copper left on the wanted floor along x, away from ramps to be read."""
    highest = max(c.bridge[0] for c in circuits) * 1e3
    for circuit in circuits:
        kept = reduced(circuit.slot.x, circuit.extra, 0.2e-6)
        x, extra = circuit.slot.x[kept] * 1e3, circuit.extra[kept] * 1e3
        ax.fill_between(x, extra, color=style.RED, alpha=0.35, lw=0)
        ax.plot(x, extra, color=style.RED, lw=1.2)
        left, where = circuit.bridge
        if left > SEEN:
            text, at = f"{left * 1e3:.3f} mm at x = {where * 1e3:.1f} mm", (where * 1e3, left * 1e3)
            ax.annotate(text, at, (8, -2), bbox=style.BOX, **style.BESIDE)
    ax.axhline(tolerance * 1e3, color="black", ls="-.", lw=1.0)
    look = style.BESIDE | {"va": "baseline", "xycoords": ("axes fraction", "data")}
    text = f"shop.depth_tolerance {tolerance * 1e3:g} mm"
    ax.annotate(text, (0.01, tolerance * 1e3), (0, 3), **look)
    ax.axvline(0.0, **style.THROAT)
    ax.set_ylim(0.0, 1.35 * max(highest, tolerance * 1e3))
    ax.set_xlim(circuits[0].slot.span[0] * 1e3, circuits[-1].slot.span[1] * 1e3)
    ax.set_ylabel("copper left on the floor [mm]")
    ax.set_xlabel("x [mm], throat at 0; ramps at closed ends go beyond the top")
