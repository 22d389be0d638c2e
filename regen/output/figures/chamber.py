"""The chamber's half-section, its throat and two pitches of its wall, each to scale."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from numpy.typing import NDArray

from regen.design import NICKEL as NICKEL_JACKET
from regen.design import Design
from regen.output.figures import style
from regen.output.figures.along import circuits, ends_of, legend_below, pieces_of
from regen.output.review import slots
from regen.result import Array, Result

MEASURE: dict[str, Any] = {"arrowstyle": "<->", "lw": 0.8, "shrinkA": 0, "shrinkB": 0}
"""Arrow of a dimension."""


def _thickness(result: Result, design: Design) -> Array:
    """Return the thickness of the wall with slots and closeout [m]."""
    s = result.stations
    return np.asarray(s["wall_m"] + s["channel_depth_m"] + design.closeout.thickness)


def _offset(result: Result, distance: Array, rows: NDArray[np.int64]) -> tuple[Array, Array]:
    """Return the curve that lies a distance outside the cooled contour along its normal [mm]."""
    x, r, distance = result.stations["x_m"][rows], result.stations["r_m"][rows], distance[rows]
    slope = np.arctan(np.gradient(r, x))
    return (x - distance * np.sin(slope)) * 1e3, (r + distance * np.cos(slope)) * 1e3


def chamber(result: Result, design: Design) -> Figure:
    """Draw the chamber's half-section, its throat and two pitches of wall, each to scale."""
    figure = style.sheet(7.6)
    grid = figure.add_gridspec(2, 2, height_ratios=(1.0, 1.25), width_ratios=(1.0, 1.25))
    whole = figure.add_subplot(grid[0, :])
    _half_section(whole, result, design)
    _throat(figure.add_subplot(grid[1, 0]), result, design)
    _pitch(figure.add_subplot(grid[1, 1]), result, design)
    legend_below(whole, 5, 0.26)
    return figure


def _jacket(design: Design) -> str:
    """Return the jacket as a legend names it."""
    alloy = design.closeout.jacket_alloy
    return "electroformed nickel" if alloy == NICKEL_JACKET else f"jacket of {alloy}"


def _layers(ax: Axes, result: Result, design: Design) -> float:
    """Draw gas, wall, slot and closeout in a plane through a slot; return the largest radius."""
    s = result.stations
    wall, depth = s["wall_m"], s["wall_m"] + s["channel_depth_m"]
    plated = depth + design.closeout.copper
    levels = (np.zeros_like(wall), wall, depth, plated, plated + design.closeout.jacket)
    x, r = result.contour_x * 1e3, result.contour_r * 1e3
    ax.fill_between(x, 0, r, color=style.GAS, lw=0, label="hot gas")
    ax.plot(x, r, color="black", lw=0.5)
    layers = {
        **{"hot wall": style.COPPER, "slot": style.COOLANT, "electroformed copper": style.PLATED},
        _jacket(design): style.NICKEL,
    }
    top = float(np.max(r))
    stretches = [rows for rows in pieces_of(s) if s["pass_number"][rows[0]] == 1]
    for (inner, outer), (label, colour) in zip(pairwise(levels), layers.items(), strict=True):
        for n, rows in enumerate(stretches):
            (x0, r0), (x1, r1) = _offset(result, inner, rows), _offset(result, outer, rows)
            ring = np.column_stack([np.r_[x0, x1[::-1]], np.r_[r0, r1[::-1]]])
            look: dict[str, Any] = {"facecolor": colour, "edgecolor": "black", "lw": 0.2}
            ax.add_patch(Polygon(ring, label=label if n == 0 else None, **look))
            top = max(top, float(np.max(r1)))
    ax.set(xlabel="x [mm], throat at 0 (dotted)", ylabel="r [mm]")
    ax.grid(visible=False)
    return top


def _half_section(ax: Axes, result: Result, design: Design) -> None:
    top = _layers(ax, result, design)
    s = result.stations
    start, stop = s["x_m"][0] * 1e3, s["x_m"][-1] * 1e3
    bore = float(s["r_m"].min()) * 1e3
    ax.vlines(0.0, bore, 1.3 * top, **style.THROAT)
    ax.annotate("", (start, 0.3 * bore), (stop, 0.3 * bore), arrowprops=MEASURE)
    text = f"cooled length {stop - start:.0f} mm, from x = {start:.0f} to {stop:.0f} mm"
    ax.text(0.5 * (start + stop), 0.34 * bore, text, ha="center", va="bottom", fontsize=8)
    outer = s["r_m"] * 1e3 + _thickness(result, design) * 1e3
    for number in circuits(result):
        _ports(ax, result, number, outer, top)
    if len(result.circuits) > 1:
        for circuit in result.circuits:
            middle = 0.5e3 * (circuit.x_from_m + circuit.x_to_m)
            ax.text(middle, 1.2 * top, circuit.name, fontsize=7, ha="center", color=style.BLUE)
    ax.set_title(f"half-section through a slot, to scale; {slots(design)} slots")
    ax.set(ylim=(0, 1.3 * top), aspect="equal")


def _ports(ax: Axes, result: Result, number: int, outer: Array, top: float) -> None:
    """Draw an arrow into and one out of a circuit's slots; those of a circuit alone are named."""
    x, alone = result.stations["x_m"] * 1e3, len(result.circuits) <= 1
    inlet, outlet = ends_of(result, number)
    middle = x[result.stations["circuit"] == number].mean()
    for enters, row in ((True, inlet), (False, outlet)):
        lean = 0.0 if alone else 0.012 * (x[-1] - x[0])
        if x[inlet] == x[outlet] and not enters:  # down and back: beside the inlet
            lean = max(3.0 * lean, 0.05 * np.ptp(x))
        at = float(x[row] + np.sign(middle - x[row]) * lean)
        ends = [(at, outer[row] + lift * top) for lift in (0.02, 0.2)]
        tip, tail = ends if enters else ends[::-1]
        arrow = {"arrowstyle": "-|>", "color": style.BLUE, "lw": 1.5}
        ax.annotate("", tip, tail, arrowprops=arrow)
        right = at > 0.5 * (x[0] + x[-1])
        side, shift = ("right", (-6, 0)) if right else ("left", (6, 0))
        text = f"coolant {'in' if enters else 'out'}" if alone else ""
        ax.annotate(text, ends[1], shift, color=style.BLUE, ha=side, **style.BESIDE)


def _throat(ax: Axes, result: Result, design: Design) -> None:
    _layers(ax, result, design)
    s = result.stations
    i = int(np.argmin(s["r_m"]))
    centre, bore = (float(s[name][i]) * 1e3 for name in ("x_m", "r_m"))
    thick = float(_thickness(result, design)[i]) * 1e3
    ax.axvline(0.0, **style.THROAT)
    where = "the throat" if abs(centre) < 1.0 else f"x = {centre:.0f} mm"
    ax.set_title(f"{where}, enlarged to scale")
    around = (centre - 1.1 * thick, centre + 1.1 * thick)
    ax.set(xlim=around, ylim=(bore - 0.5 * thick, bore + 1.9 * thick), aspect="equal")


def _pitch(ax: Axes, result: Result, design: Design) -> None:
    s = result.stations
    i = int(np.argmax(s["T_wall_hot_K"]))
    names = ("channel_width_m", "channel_depth_m", "land_width_m", "wall_m")
    w, d, t, wall = (float(s[name][i]) * 1e3 for name in names)
    copper, jacket = design.closeout.copper * 1e3, design.closeout.jacket * 1e3
    pitch, shown = w + t, min(jacket, 1.5 * (wall + d))
    width, top = 2 * pitch + t, wall + d + copper + shown
    layers = (
        (0.0, wall + d, style.COPPER),
        (wall + d, copper, style.PLATED),
        (wall + d + copper, shown, style.NICKEL),
    )
    for level, height, colour in layers:
        ax.add_patch(Rectangle((0, level), width, height, fc=colour, ec="black", lw=0.5))
    for left in (t, t + pitch):
        ax.add_patch(Rectangle((left, wall), w, d, fc=style.COOLANT, ec="black", lw=0.8))
    gap = 0.07 * max(width, top)
    _dimensions(ax, w, d, t, wall, gap)
    shortened = ",\n  not drawn in full" if shown < jacket else ""
    beside = (
        (0.5 * wall, "hot wall"),
        (wall + 0.5 * d, "slots and lands"),
        (wall + d + 0.5 * copper, f"copper {copper:.2f}"),
        (top - 0.5 * shown, f"{_jacket(design).split()[-1]} {jacket:.2f}{shortened}"),
    )
    for level, text in beside:
        ax.text(width, level, f"  {text}", va="center", fontsize=8)
    ax.text(width, -gap, "  hot gas", va="center", fontsize=8, color=style.RED)
    at = f"x = {s['x_m'][i] * 1e3:.1f} mm"
    ax.set_title(f"wall to scale where it is hottest,\n{at}; lengths in mm")
    ax.set(xlim=(-5 * gap, width + 6 * gap), ylim=(-4 * gap, top + gap), aspect="equal")
    ax.axis("off")


def _dimensions(ax: Axes, w: float, d: float, t: float, wall: float, gap: float) -> None:
    """Draw width, depth, land and wall of the first slot [mm], a gap beside the section."""
    ax.vlines([t, t + w, w + 2 * t], -3.2 * gap, wall, color=style.GREY, lw=0.5)
    ax.hlines([0.0, wall, wall + d], -1.4 * gap, [0.0, t, t], color=style.GREY, lw=0.5)
    level, arrow = -2.6 * gap, {**MEASURE, "mutation_scale": 7}
    for a, b, at, text, side in (
        ((t, -gap), (t + w, -gap), (t, -gap), f"width {w:.2f}  ", "right"),
        ((t + w, level), (w + 2 * t, level), (w + 2 * t, level), f"  land {t:.2f}", "left"),
        ((-gap, wall), (-gap, wall + d), (-gap, wall + 0.5 * d), f"depth {d:.2f}  ", "right"),
        ((-gap, 0.0), (-gap, wall), (-gap, 0.5 * wall), f"wall {wall:.2f}  ", "right"),
    ):
        ax.annotate("", a, b, arrowprops=arrow)
        ax.text(*at, text, fontsize=8, ha=side, va="center")
