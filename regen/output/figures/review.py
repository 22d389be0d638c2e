"""Figures of a design review; nothing here solves or shows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from numpy.typing import NDArray

from regen.design import NICKEL as NICKEL_JACKET
from regen.design import Design
from regen.output import words
from regen.output.figures.style import (
    BESIDE,
    BLUE,
    COOLANT,
    COPPER,
    GAS,
    GREEN,
    GREY,
    NICKEL,
    ORANGE,
    PLATED,
    RC,
    RED,
    THROAT,
    WIDTH,
)
from regen.output.rows import curve, ends_of, from_nozzle, gaps, manifolds, numbers, pieces_of
from regen.result import Array, Margin, Result

Point = tuple[float, float]

CLIP = 100.0
"""Bars of margins beyond this end in an arrow head [%]."""


@dataclass(frozen=True)
class Run:
    """How the margins figure shows one column: told apart by colour, marker and place."""

    field: str
    label: str
    marker: str
    colour: str
    shift: float


RUNS = (
    Run("nominal", "nominal", "o", BLUE, 0.28),
    Run("band_edge", "band edge", "D", ORANGE, 0.0),
    Run("worst_channel", "worst channel", "s", RED, -0.28),
)


@dataclass(frozen=True)
class Plate:
    """One figure of the report: its drawing function and its caption."""

    draw: Callable[[Result, Design], Figure]
    caption: str


def panels(rows: int, height: float) -> tuple[Figure, list[Axes]]:
    """Return a figure with axes one above the other that share x.

    Parameters
    ----------
    rows : int
        Number of axes [-].
    height : float
        Height of the figure [in].

    Returns
    -------
    figure : Figure
        Empty.
    axes : list of Axes
        From the top.
    """
    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    axes = figure.subplots(rows, 1, sharex=True, squeeze=False)[:, 0]
    return figure, list(axes)


def along_x(axes: list[Axes], result: Result, design: Design) -> None:
    """Mark the throat, name the axis and its ends, and show which way the coolant flows.

    Parameters
    ----------
    axes : list of Axes
        One above the other, x in [mm].
    result, design : Result, Design
        What is drawn.
    """
    x = result.stations["x_m"] * 1e3
    for ax in axes:
        ax.axvline(0.0, **THROAT)
    axes[-1].set_xlabel("x [mm], throat at 0 (dotted)")
    axes[-1].set_xlim(x[0] - 0.02 * np.ptp(x), x[-1] + 0.02 * np.ptp(x))
    over: dict[str, Any] = {"xycoords": "axes fraction", "va": "center", "fontsize": 8}
    level = 1.05
    axes[0].annotate("injector end", (0.0, level), ha="left", **over)
    axes[0].annotate("nozzle end", (1.0, level), ha="right", **over)
    ways = {from_nozzle(result, number) for number in numbers(result)}
    if len(ways) > 1 or result.stations["pass_number"].max() > 1:
        text = "each circuit and pass has its own curve"
        axes[0].annotate(text, (0.5, level), ha="center", color=BLUE, **over)
        return
    tip, tail, side = (0.42, 0.56, "left") if ways == {True} else (0.58, 0.44, "right")
    arrow = {"arrowstyle": "-|>", "color": BLUE, "lw": 1.5}
    axes[0].annotate(
        "coolant", (tip, level), (tail, level), ha=side, color=BLUE, arrowprops=arrow, **over
    )


def below(ax: Axes, columns: int) -> None:
    """Put the legend under the axes, where it covers no curve, in so many columns [-]."""
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.2), ncols=columns, fontsize=8)


def _offset(result: Result, distance: Array, rows: NDArray[np.int64]) -> tuple[Array, Array]:
    """Return the curve that lies a distance outside the cooled contour along its normal [mm]."""
    x, r, distance = result.stations["x_m"][rows], result.stations["r_m"][rows], distance[rows]
    slope = np.arctan(np.gradient(r, x))
    return (x - distance * np.sin(slope)) * 1e3, (r + distance * np.cos(slope)) * 1e3


def chamber(result: Result, design: Design) -> Figure:
    """Draw the chamber's half-section, its throat and two pitches of wall, each to scale."""
    figure = Figure(figsize=(WIDTH, 7.6), layout="constrained")
    grid = figure.add_gridspec(2, 2, height_ratios=(1.0, 1.25), width_ratios=(1.0, 1.25))
    whole = figure.add_subplot(grid[0, :])
    _half_section(whole, result, design)
    _throat(figure.add_subplot(grid[1, 0]), result, design)
    _pitch(figure.add_subplot(grid[1, 1]), result, design)
    whole.legend(loc="upper center", bbox_to_anchor=(0.5, -0.26), ncols=5, fontsize=8)
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
    outside = plated + design.closeout.jacket
    x, r = result.contour_x * 1e3, result.contour_r * 1e3
    ax.fill_between(x, 0, r, color=GAS, lw=0, label="hot gas")
    ax.plot(x, r, color="black", lw=0.5)
    layers = (
        (np.zeros_like(wall), wall, COPPER, "hot wall"),
        (wall, depth, COOLANT, "slot"),
        (depth, plated, PLATED, "electroformed copper"),
        (plated, outside, NICKEL, _jacket(design)),
    )
    top = float(np.max(r))
    stretches = [rows for rows in pieces_of(s) if s["pass_number"][rows[0]] == 1]
    for inner, outer, colour, label in layers:
        for n, rows in enumerate(stretches):
            (x0, r0), (x1, r1) = _offset(result, inner, rows), _offset(result, outer, rows)
            ring = np.column_stack([np.r_[x0, x1[::-1]], np.r_[r0, r1[::-1]]])
            style: dict[str, Any] = {"facecolor": colour, "edgecolor": "black", "lw": 0.2}
            ax.add_patch(Polygon(ring, label=label if n == 0 else None, **style))
            top = max(top, float(np.max(r1)))
    ax.set_xlabel("x [mm], throat at 0 (dotted)")
    ax.set_ylabel("r [mm]")
    ax.grid(visible=False)
    return top


def _half_section(ax: Axes, result: Result, design: Design) -> None:
    top = _layers(ax, result, design)
    s = result.stations
    start, stop = s["x_m"][0] * 1e3, s["x_m"][-1] * 1e3
    bore = float(s["r_m"].min()) * 1e3
    ax.vlines(0.0, bore, 1.3 * top, **THROAT)
    measure = {"arrowstyle": "<->", "lw": 0.8, "shrinkA": 0, "shrinkB": 0}
    ax.annotate("", (start, 0.3 * bore), (stop, 0.3 * bore), arrowprops=measure)
    text = f"cooled length {stop - start:.0f} mm, from x = {start:.0f} to {stop:.0f} mm"
    ax.text(0.5 * (start + stop), 0.34 * bore, text, ha="center", va="bottom", fontsize=8)
    depth = s["wall_m"] + s["channel_depth_m"] + design.closeout.thickness
    outer = s["r_m"] * 1e3 + depth * 1e3
    alone = len(result.circuits) <= 1
    for number in numbers(result):
        for at, into, x in _ports(result, number, 0.0 if alone else 0.012 * (stop - start)):
            text = ("coolant in" if into else "coolant out") if alone else ""
            _port(ax, x, outer[at], top, into, text, x > 0.5 * (start + stop))
    if not alone:
        for circuit in result.circuits:
            middle = 0.5e3 * (circuit.x_from_m + circuit.x_to_m)
            ax.text(middle, 1.2 * top, circuit.name, fontsize=7, ha="center", color=BLUE)
    ax.set_title(f"half-section through a slot, to scale; {words.slots(design)} slots")
    ax.set_ylim(0, 1.3 * top)
    ax.set_aspect("equal")


def _ports(result: Result, number: int, inwards: float) -> Iterator[tuple[int, bool, float]]:
    """Yield row, whether the coolant goes in, and x [mm] of a circuit's two manifolds."""
    x = result.stations["x_m"] * 1e3
    inlet, outlet = ends_of(result, number)
    middle = x[result.stations["circuit"] == number].mean()
    for at, into in ((inlet, True), (outlet, False)):
        lean = inwards
        if x[inlet] == x[outlet] and not into:
            lean = max(3.0 * inwards, 0.05 * np.ptp(x))  # down and back: beside the inlet
        yield at, into, float(x[at] + np.sign(middle - x[at]) * lean)


def _port(ax: Axes, x: float, level: float, top: float, into: bool, text: str, right: bool) -> None:
    """Draw one arrow into or out of the slots [mm], its name beside it."""
    ends = [(x, level + lift * top) for lift in (0.02, 0.2)]
    tip, tail = ends if into else ends[::-1]
    ax.annotate("", tip, tail, arrowprops={"arrowstyle": "-|>", "color": BLUE, "lw": 1.5})
    side: dict[str, Any] = {"ha": "left" if not right else "right", "va": "top"}
    shift = (-6 if right else 6, 0)
    ax.annotate(text, ends[1], shift, textcoords="offset points", color=BLUE, fontsize=8, **side)


def _throat(ax: Axes, result: Result, design: Design) -> None:
    _layers(ax, result, design)
    s = result.stations
    i = int(np.argmin(s["r_m"]))
    centre = float(s["x_m"][i]) * 1e3
    bore = float(s["r_m"][i]) * 1e3
    closeout = design.closeout.thickness
    thick = float(s["wall_m"][i] + s["channel_depth_m"][i] + closeout) * 1e3
    ax.axvline(0.0, **THROAT)
    where = "the throat" if abs(centre) < 1.0 else f"x = {centre:.0f} mm"
    ax.set_title(f"{where}, enlarged to scale")
    ax.set_xlim(centre - 1.1 * thick, centre + 1.1 * thick)
    ax.set_ylim(bore - 0.5 * thick, bore + 1.9 * thick)
    ax.set_aspect("equal")


def _pitch(ax: Axes, result: Result, design: Design) -> None:
    s = result.stations
    i = int(np.argmax(s["T_wall_hot_K"]))
    w, d, t, wall = (
        float(s[name][i]) * 1e3
        for name in ("channel_width_m", "channel_depth_m", "land_width_m", "wall_m")
    )
    copper, jacket = design.closeout.copper * 1e3, design.closeout.jacket * 1e3
    pitch, shown = w + t, min(jacket, 1.5 * (wall + d))
    width, top = 2 * pitch + t, wall + d + copper + shown
    layers = (
        (0.0, wall + d, COPPER),
        (wall + d, copper, PLATED),
        (wall + d + copper, shown, NICKEL),
    )
    for level, height, colour in layers:
        box = Rectangle((0, level), width, height, facecolor=colour, edgecolor="black", lw=0.5)
        ax.add_patch(box)
    for left in (t, t + pitch):
        ax.add_patch(Rectangle((left, wall), w, d, facecolor=COOLANT, edgecolor="black", lw=0.8))
    gap = 0.07 * max(width, top)

    def measure(a: Point, b: Point, at: Point, text: str, side: str) -> None:
        arrow = {"arrowstyle": "<->", "lw": 0.8, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 7}
        ax.annotate("", a, b, arrowprops=arrow)
        ax.text(*at, text, fontsize=8, ha=side, va="center")

    ax.vlines([t, t + w, t + pitch], -3.2 * gap, wall, color=GREY, lw=0.5)
    ax.hlines([0.0, wall, wall + d], -1.4 * gap, [0.0, t, t], color=GREY, lw=0.5)
    measure((t, -gap), (t + w, -gap), (t, -gap), f"width {w:.2f}  ", "right")
    level = -2.6 * gap
    measure((t + w, level), (t + pitch, level), (t + pitch, level), f"  land {t:.2f}", "left")
    measure((-gap, wall), (-gap, wall + d), (-gap, wall + 0.5 * d), f"depth {d:.2f}  ", "right")
    measure((-gap, 0.0), (-gap, wall), (-gap, 0.5 * wall), f"wall {wall:.2f}  ", "right")
    cut = ",\n  not drawn in full" if shown < jacket else ""
    beside = (
        (0.5 * wall, "hot wall"),
        (wall + 0.5 * d, "slots and lands"),
        (wall + d + 0.5 * copper, f"copper {copper:.2f}"),
        (top - 0.5 * shown, f"{_jacket(design).split()[-1]} {jacket:.2f}{cut}"),
    )
    for level, text in beside:
        ax.text(width, level, f"  {text}", va="center", fontsize=8)
    ax.text(width, -gap, "  hot gas", va="center", fontsize=8, color=RED)
    ax.set_title(
        f"wall to scale where it is hottest,\nx = {s['x_m'][i] * 1e3:.1f} mm; lengths in mm"
    )
    ax.set_xlim(-5 * gap, width + 6 * gap)
    ax.set_ylim(-4 * gap, top + gap)
    ax.set_aspect("equal")
    ax.axis("off")


def _band(ax: Axes, result: Result, column: str, factor: float, colour: str) -> None:
    s = result.stations
    x = gaps(s, s["x_m"] * 1e3)
    low, high = (gaps(s, edge * factor) for edge in result.station_bands[column])
    # members that were not solved are the hottest: the edge drawn is not the end
    label = "band of correlations" + (", or higher" if result.bands["q_max_W_m2"].open else "")
    ax.fill_between(x, low, high, color=colour, alpha=0.22, lw=0, label=label)
    ax.plot(x, np.column_stack([low, high]), color=colour, lw=0.5)


def _worst(ax: Axes, result: Result, column: str, factor: float, colour: str, what: str) -> None:
    """Draw the worst channel, if it was solved: dashed, with squares as in the margins."""
    if result.worst_stations:
        x, y = curve(result.worst_stations, column, factor)
        style: dict[str, Any] = {"ls": "--", "lw": 1.2, "marker": "s", "ms": 3.5, "markevery": 0.1}
        ax.plot(x, y, color=colour, mec="black", mew=0.5, label=f"{what}worst channel", **style)


def _limit_of(margins: tuple[Margin, ...], name: str) -> float | None:
    return next((m.limit for m in margins if m.name == name), None)


def _limit(ax: Axes, result: Result, name: str, text: str, dashes: Any = "-.") -> None:
    value = _limit_of(result.margins, name)
    if value is not None:
        ax.axhline(value, color="black", lw=1.1, ls=dashes, label=text.format(value))


def _hot_wall(ax: Axes, result: Result) -> None:
    """Draw the hot-wall temperature with its band, its worst channel and its limit."""
    _band(ax, result, "T_wall_hot_K", 1.0, RED)
    ax.plot(*curve(result.stations, "T_wall_hot_K"), color=RED, lw=1.8, label="hot wall, nominal")
    _worst(ax, result, "T_wall_hot_K", 1.0, RED, "hot wall, ")
    _limit(ax, result, "hot_wall_temperature", "hot-wall limit {:.0f} K")


def _least_span(ax: Axes, span: float) -> None:
    """Open the vertical axis: a curve that hardly changes must not fill it."""
    low, high = ax.get_ylim()
    if high - low < span:
        middle = 0.5 * (low + high)
        ax.set_ylim(middle - 0.5 * span, middle + 0.5 * span)


def temperatures(result: Result, design: Design) -> Figure:
    """Draw gas temperatures above and wall and coolant temperatures below."""
    figure, (gas, wall) = panels(2, 6.4)
    s = result.stations
    gas.plot(*curve(s, "T_aw_K"), color=RED, lw=1.6, label="adiabatic wall")
    gas.plot(*curve(s, "T_gas_K"), color=ORANGE, lw=1.6, ls="--", label="gas, static")
    _least_span(gas, 200.0)
    gas.set_ylabel("gas temperature [K]")
    gas.legend(loc="lower left")
    _hot_wall(wall, result)
    root, bulk = curve(s, "T_wall_cold_K"), curve(s, "T_coolant_K")
    wall.plot(*root, color=GREEN, lw=1.6, ls="-.", label="channel root, nominal")
    wall.plot(*bulk, color=BLUE, lw=1.6, ls=":", label="coolant bulk, nominal")
    _limit(wall, result, "coolant_wall_temperature", "channel-root limit {:.0f} K", (0, (1, 1)))
    wall.set_ylabel("wall and coolant temperature [K]")
    below(wall, 3)
    along_x([gas, wall], result, design)
    return figure


def heat_flux(result: Result, design: Design) -> Figure:
    """Draw heat flux and hot-wall temperature with their bands."""
    figure, (flux, wall) = panels(2, 6.4)
    s = result.stations
    _band(flux, result, "q_W_m2", 1e-6, GREEN)
    flux.plot(*curve(s, "q_W_m2", 1e-6), color=GREEN, lw=1.8, label="hot-gas surface, nominal")
    _worst(flux, result, "q_W_m2", 1e-6, GREEN, "hot-gas surface, ")
    flux.plot(
        *curve(s, "q_wetted_W_m2", 1e-6),
        color=BLUE,
        lw=1.2,
        ls="-.",
        label="slot floor (wetted), nominal",
    )
    flux.set_ylabel("heat flux [MW/m²]")
    flux.set_ylim(bottom=0)
    flux.legend(loc="best", fontsize=8)
    _hot_wall(wall, result)
    wall.set_ylabel("hot-wall temperature [K]")
    below(wall, 4)
    along_x([flux, wall], result, design)
    return figure


def coolant(result: Result, design: Design) -> Figure:
    """Draw coolant pressure, velocity and Mach number."""
    figure, axes = panels(3, 7.0)
    s = result.stations
    curves = (
        ("p_coolant_Pa", 1e-5, "static pressure [bar]"),
        ("v_coolant_m_s", 1.0, "velocity [m/s]"),
        ("mach_coolant", 1.0, "Mach number [-]"),
    )
    for ax, (name, factor, label) in zip(axes, curves, strict=True):
        ax.plot(*curve(s, name, factor), color=BLUE, lw=1.8, label="nominal")
        _worst(ax, result, name, factor, RED, "")
        ax.set_ylabel(label)
    for n, (x, p) in enumerate(manifolds(result)):
        dots = axes[0].plot(x, p * 1e-5, "o", color="black", ms=5)
        if n == 0:
            dots[0].set_label("manifolds, at rest")
    limit = _limit_of(result.margins, "coolant_mach")
    if limit is not None:
        axes[2].axhline(limit, color="black", lw=1.1, ls="-.")
        first = ends_of(result, 1)[0]
        side = "right" if from_nozzle(result, 1) else "left"
        at = (s["x_m"][first] * 1e3, limit)
        axes[2].annotate(f"limit {limit:.2g}", at, (0, -4), ha=side, **BESIDE)
    for ax in axes[1:]:
        ax.set_ylim(bottom=0)
    for ax in axes[:2]:
        ax.legend(loc="best", fontsize=8)
    along_x(axes, result, design)
    return figure


def film_coefficients(result: Result, design: Design) -> Figure:
    """Draw the film coefficients of gas and coolant."""
    figure, (gas, cold) = panels(2, 5.6)
    sides = (
        (gas, "h_gas_W_m2K", RED, "gas side [kW/(m² K)]\non adiabatic less hot wall"),
        (cold, "h_coolant_W_m2K", BLUE, "coolant side [kW/(m² K)]\non the wetted area"),
    )
    for ax, name, colour, label in sides:
        ax.plot(*curve(result.stations, name, 1e-3), color=colour, lw=1.8, label="nominal")
        _worst(ax, result, name, 1e-3, GREY, "")
        ax.set_ylabel(label)
        ax.set_ylim(bottom=0)
        ax.legend(loc="best", fontsize=8)
    along_x([gas, cold], result, design)
    return figure


def margins(result: Result, design: Design) -> Figure:
    """Draw every margin as bars: nominal, band edge and worst channel."""
    del design  # every figure has the same arguments
    count = len(result.margins)
    figure = Figure(figsize=(WIDTH, 1.4 + 0.56 * count), layout="constrained")
    ax = figure.subplots()
    ax.axvspan(-CLIP, 0.0, color="black", alpha=0.07, lw=0)
    ax.axvline(0.0, color="black", lw=1.2)
    ax.axvline(CLIP, color="black", lw=0.8)
    for row, margin in enumerate(result.margins):
        middle = count - 1 - row
        ax.axhline(middle - 0.5, color=GREY, lw=0.4)
        for run in RUNS:
            _bar(ax, margin, middle + run.shift, run)
    for run in RUNS:
        ax.plot([], [], run.marker + "-", color=run.colour, mec="black", label=run.label)
    ax.set_yticks(range(count), [_row_label(m) for m in reversed(result.margins)])
    ax.tick_params(axis="y", length=0)
    ax.grid(visible=False, axis="y")
    ax.set_xticks([-100, -50, 0, 50, 100])
    ax.set_xlim(-CLIP, 1.6 * CLIP)
    ax.set_ylim(-0.5, count - 0.5)
    ax.set_xlabel("margin [% of the limit]; a limit is broken in the grey field")
    ax.legend(loc="lower center", bbox_to_anchor=(0.4, 1.0), ncols=3)
    return figure


def _row_label(margin: Margin) -> str:
    info = " (information)" if margin.informative else ""
    return f"{words.short(margin)}{info}\n{margin.verdict or ''}"


def _bar(ax: Axes, margin: Margin, y: float, run: Run) -> None:
    """Draw one bar with its number beside it; a bar beyond the axis ends in an arrow head."""
    found = margin.columns.get(run.field)
    value = found.margin if found is not None and found.asked else None
    ax.text(CLIP * 1.06, y, words.column(margin, run.field), fontsize=8, va="center")
    if value is None:
        return
    percent = 100.0 * value
    at = float(np.clip(percent, -0.96 * CLIP, 0.96 * CLIP))
    beyond = ">" if percent > CLIP else "<"
    marker = run.marker if abs(percent) <= CLIP else beyond
    ax.hlines(y, 0.0, at, color=run.colour, lw=2.5)
    ax.plot(at, y, marker, color=run.colour, mec="black", ms=6)


FIGURES: Mapping[str, Plate] = {
    "chamber": Plate(
        chamber,
        "The chamber in a plane through a slot, its throat enlarged, and two pitches of wall at "
        "the hottest station: normal to the contour, drawn flat. Each is to its own scale.",
    ),
    "temperatures": Plate(
        temperatures,
        "Temperatures along the axis; those of the gas include the combustion efficiency. The "
        "hot wall's is the maximum over one pitch. The band is the envelope of full marches with "
        "every applicable combination of correlations, and at "
        "least 25 % of wall less coolant temperature either way.",
    ),
    "heat_flux": Plate(
        heat_flux,
        "Heat flux and hot-wall temperature with their bands. The flux on the hot-gas surface is "
        "the mean over one pitch; the wetted flux at the slot floor is what burnout is judged by.",
    ),
    "coolant": Plate(
        coolant,
        "The coolant in its channels: static pressure, velocity and Mach number. Pressure drop "
        "is counted from manifold to manifold (dots). The worst channel starts from the same inlet "
        "with its shortfall of flow, which is assumed: its end pressure is not the manifold's.",
    ),
    "film_coefficients": Plate(
        film_coefficients,
        "Film coefficients on either side of the wall, in the nominal and in the worst channel.",
    ),
    "margins": Plate(
        margins,
        "Margins as per cent of each limit, numbers at the right. A bar beyond 100 % ends in an "
        "arrow head.",
    ),
}


def draw(name: str, result: Result, design: Design) -> Figure:
    """Return one figure of the report.

    Parameters
    ----------
    name : str
        Key of ``FIGURES``.
    result : Result
        Solved design.
    design : Design
        What was solved.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    with mpl.rc_context(RC):
        return FIGURES[name].draw(result, design)
