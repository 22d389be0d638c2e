"""Figures of a design review. The only file that draws; nothing here solves or shows.

Colours are told apart by the colour-blind (Okabe and Ito's set) and every curve also differs by
dash or marker, so that the figures survive a grey printer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from regen.design import Design
from regen.output import words
from regen.result import Array, Margin, Result

RED, BLUE, ORANGE, GREEN, SKY, GREY = (
    "#D55E00",
    "#0072B2",
    "#E69F00",
    "#009E73",
    "#56B4E9",
    "#555555",
)
COPPER, PLATED, NICKEL, COOLANT, GAS = "#D9A066", "#A65E2E", "#B8BCC2", "#BFE3F5", "#FBE3D0"

RC: dict[Any, Any] = {
    "font.size": 9,
    "axes.grid": True,
    "grid.alpha": 0.3,
    "axes.axisbelow": True,
    "svg.hashsalt": "regen",
    "legend.frameon": True,
    "legend.framealpha": 0.9,
}

CLIP = 100.0
"""Margins beyond this are drawn at the edge with their number [%]."""


@dataclass(frozen=True)
class Plate:
    """One figure of the report: its drawing function and its caption."""

    draw: Callable[[Result, Design], Figure]
    caption: str


def _figure(rows: int, height: float) -> tuple[Figure, list[Axes]]:
    figure = Figure(figsize=(8.2, height), layout="constrained")
    axes = figure.subplots(rows, 1, sharex=True, squeeze=False)[:, 0]
    return figure, list(axes)


def _along_x(axes: list[Axes], result: Result, design: Design) -> None:
    """Mark the throat, name the axis, and say which way the coolant flows."""
    x = result.stations["x_m"] * 1e3
    for ax in axes:
        ax.axvline(0.0, color=GREY, lw=0.8, ls=(0, (1, 2)))
        ax.margins(x=0.02)
    from_nozzle = design.coolant.enters_at == "nozzle"
    arrow = "coolant flows right to left" if from_nozzle else "coolant flows left to right"
    axes[-1].set_xlabel(f"x [mm]: injector at the left, throat at 0 (dotted); {arrow}")
    axes[-1].set_xlim(x[0] - 0.02 * np.ptp(x), x[-1] + 0.02 * np.ptp(x))


def _offset(result: Result, distance: Array) -> tuple[Array, Array]:
    """Return the curve that lies a distance outside the cooled contour along its normal [mm]."""
    x, r = result.stations["x_m"], result.stations["r_m"]
    slope = np.arctan(np.gradient(r, x))
    return (x - distance * np.sin(slope)) * 1e3, (r + distance * np.cos(slope)) * 1e3


def chamber(result: Result, design: Design) -> Figure:
    """Draw the chamber's half-section and one pitch of wall, both to scale."""
    figure = Figure(figsize=(8.2, 6.8), layout="constrained")
    upper, lower = figure.subplots(2, 1, height_ratios=(1.0, 1.3))
    _half_section(upper, result, design)
    _pitch(lower, result, design)
    return figure


def _half_section(ax: Axes, result: Result, design: Design) -> None:
    s = result.stations
    wall, depth = s["wall_m"], s["wall_m"] + s["channel_depth_m"]
    plated = depth + design.closeout.copper
    outside = plated + design.closeout.nickel
    zero = np.zeros_like(wall)
    layers = (
        (zero, wall, COPPER, "hot wall of the liner"),
        (wall, depth, COOLANT, "coolant channel"),
        (depth, plated, PLATED, "electroformed copper"),
        (plated, outside, NICKEL, "electroformed nickel"),
    )
    for inner, outer, colour, label in layers:
        (x0, r0), (x1, r1) = _offset(result, inner), _offset(result, outer)
        ring = np.column_stack([np.r_[x0, x1[::-1]], np.r_[r0, r1[::-1]]])
        ax.add_patch(Polygon(ring, facecolor=colour, edgecolor="black", lw=0.3, label=label))
    x, r = result.contour_x * 1e3, result.contour_r * 1e3
    ax.fill_between(x, 0, r, color=GAS, lw=0, label="hot gas")
    ax.plot(x, r, color="black", lw=0.9)
    ax.axhline(0.0, color=GREY, lw=0.8, ls=(0, (8, 2, 1, 2)))
    ax.axvline(0.0, color=GREY, lw=0.8, ls=(0, (1, 2)))
    start, stop = s["x_m"][0] * 1e3, s["x_m"][-1] * 1e3
    top = float(np.max(r)) + float(outside.max()) * 1e3
    level = 1.12 * top
    ax.annotate("", (start, level), (stop, level), arrowprops={"arrowstyle": "<->", "lw": 0.8})
    text = f"cooled from x = {start:.0f} to {stop:.0f} mm"
    ax.text(0.5 * (start + stop), 1.02 * level, text, ha="center", va="bottom")
    arrow = "in at the nozzle" if design.coolant.enters_at == "nozzle" else "in at the injector"
    ax.set_title(f"half-section to scale; {design.channels.count} slots, coolant {arrow}")
    ax.set_xlabel("x [mm], throat at 0")
    ax.set_ylabel("r [mm]")
    ax.set_aspect("equal")
    ax.set_ylim(0, 1.3 * top)
    ax.grid(visible=False)
    ax.legend(loc="upper left", bbox_to_anchor=(1.01, 1.0), fontsize=8)


def _pitch(ax: Axes, result: Result, design: Design) -> None:
    s = result.stations
    i = int(np.argmax(s["T_wall_hot_K"]))
    w, d, t, wall = (
        s[name][i] * 1e3
        for name in ("channel_width_m", "channel_depth_m", "land_width_m", "wall_m")
    )
    copper, nickel = design.closeout.copper * 1e3, design.closeout.nickel * 1e3
    shown = min(nickel, 1.5 * d)
    pitch, pitches = w + t, 2
    width = pitches * pitch + t
    ax.add_patch(Rectangle((0, 0), width, wall + d, facecolor=COPPER, edgecolor="black", lw=0.5))
    for n in range(pitches):
        slot = (t + n * pitch, wall)
        ax.add_patch(Rectangle(slot, w, d, facecolor=COOLANT, edgecolor="black", lw=0.8))
    ax.add_patch(Rectangle((0, wall + d), width, copper, facecolor=PLATED, ec="black", lw=0.3))
    nickel_layer = Rectangle(
        (0, wall + d + copper), width, shown, facecolor=NICKEL, edgecolor="black", lw=0.5
    )
    ax.add_patch(nickel_layer)

    def measure(a: tuple[float, float], b: tuple[float, float], text: str, **where: Any) -> None:
        ax.annotate(
            "", a, b, arrowprops={"arrowstyle": "<->", "lw": 0.8, "shrinkA": 0, "shrinkB": 0}
        )
        ax.text(0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]), text, fontsize=8, **where)

    middle = wall + 0.55 * d
    measure((t, middle), (t + w, middle), f"{w:.2f}", ha="center", va="bottom")
    measure((t + w, middle), (pitch + t, middle), f"{t:.2f}", ha="center", va="bottom")
    x_depth = t + pitch + 0.85 * w
    measure((x_depth, wall), (x_depth, wall + d), f"{d:.2f} ", ha="right", va="center")
    measure((0.3 * t, 0), (0.3 * t, wall), f" {wall:.2f}", ha="left", va="center")
    ax.text(width, wall + d + 0.5 * copper, f"  copper {copper:.2f}", va="center", fontsize=8)
    cut = " (cut off here)" if shown < nickel else ""
    text = f"  nickel {nickel:.2f}{cut}"
    ax.text(width, wall + d + copper + 0.5 * shown, text, va="center", fontsize=8)
    ax.text(0.5 * width, -0.06 * (wall + d), "hot-gas side", ha="center", va="top", fontsize=8)
    ax.set_title(
        f"channels to scale at the hottest wall, x = {s['x_m'][i] * 1e3:.1f} mm\n"
        "(normal to the contour, drawn flat; lengths in mm)"
    )
    ax.set_xlim(-0.1 * pitch, width + 1.2 * pitch)
    ax.set_ylim(-0.3 * (wall + d), 1.03 * (wall + d + copper + shown))
    ax.set_aspect("equal")
    ax.axis("off")


def _band(ax: Axes, result: Result, column: str, factor: float, colour: str) -> None:
    low, high = result.station_bands[column]
    x = result.stations["x_m"] * 1e3
    ax.fill_between(
        x, low * factor, high * factor, color=colour, alpha=0.22, lw=0, label="band of correlations"
    )


def _hot_wall(ax: Axes, result: Result) -> None:
    """Draw the hot-wall temperature with its band, its worst channel and its limit."""
    x = result.stations["x_m"] * 1e3
    _band(ax, result, "T_wall_hot_K", 1.0, RED)
    ax.plot(x, result.stations["T_wall_hot_K"], color=RED, lw=1.8, label="hot wall, nominal")
    if result.worst_stations:
        worst = result.worst_stations["T_wall_hot_K"]
        ax.plot(x, worst, color=RED, lw=1.2, ls="--", label="hot wall, worst channel")
    limit = _limit_of(result.margins, "hot_wall_temperature")
    if limit is not None:
        ax.axhline(limit, color="black", lw=1.0, ls="-.", label=f"hot-wall limit {limit:.0f} K")


def _limit_of(margins: tuple[Margin, ...], name: str) -> float | None:
    return next((m.limit for m in margins if m.name == name), None)


def temperatures(result: Result, design: Design) -> Figure:
    """Draw gas temperatures above and wall and coolant temperatures below."""
    figure, (gas, wall) = _figure(2, 7.2)
    s = result.stations
    x = s["x_m"] * 1e3
    gas.plot(x, s["T_aw_K"], color=RED, lw=1.6, label="adiabatic wall")
    gas.plot(x, s["T_gas_K"], color=ORANGE, lw=1.6, ls="--", label="gas, static")
    gas.set_ylabel("gas temperature [K]")
    gas.legend(loc="lower left")
    _hot_wall(wall, result)
    wall.plot(x, s["T_wall_cold_K"], color=ORANGE, lw=1.6, ls="-.", label="channel root, nominal")
    wall.plot(x, s["T_coolant_K"], color=BLUE, lw=1.6, ls="--", label="coolant bulk, nominal")
    wall.set_ylabel("wall and coolant temperature [K]")
    wall.legend(loc="upper left", bbox_to_anchor=(0.0, -0.16), ncols=3)
    _along_x([gas, wall], result, design)
    return figure


def heat_flux(result: Result, design: Design) -> Figure:
    """Draw heat flux and hot-wall temperature with their bands."""
    figure, (flux, wall) = _figure(2, 7.2)
    s = result.stations
    x = s["x_m"] * 1e3
    _band(flux, result, "q_W_m2", 1e-6, GREEN)
    flux.plot(x, s["q_W_m2"] * 1e-6, color=GREEN, lw=1.8, label="hot-gas surface, nominal")
    wetted = s["q_wetted_W_m2"] * 1e-6
    flux.plot(x, wetted, color=BLUE, lw=1.2, ls="-.", label="slot floor (wetted), nominal")
    flux.set_ylabel("heat flux [MW/m2]")
    flux.set_ylim(bottom=0)
    flux.legend(loc="upper left")
    _hot_wall(wall, result)
    wall.set_ylabel("hot-wall temperature [K]")
    wall.legend(loc="upper left", bbox_to_anchor=(0.0, -0.16), ncols=2)
    _along_x([flux, wall], result, design)
    return figure


def coolant(result: Result, design: Design) -> Figure:
    """Draw coolant pressure, velocity and Mach number."""
    figure, axes = _figure(3, 7.6)
    s, worst = result.stations, result.worst_stations
    x = s["x_m"] * 1e3
    curves = (
        ("p_coolant_Pa", 1e-5, "static pressure [bar]"),
        ("v_coolant_m_s", 1.0, "velocity [m/s]"),
        ("mach_coolant", 1.0, "Mach number [-]"),
    )
    for ax, (name, factor, label) in zip(axes, curves, strict=True):
        ax.plot(x, s[name] * factor, color=BLUE, lw=1.8, label="nominal")
        if worst:
            ax.plot(x, worst[name] * factor, color=SKY, lw=1.4, ls="--", label="worst channel")
        ax.set_ylabel(label)
    total = result.summary
    plena = (total["coolant_pressure_in_Pa"], total["coolant_pressure_out_Pa"])
    ends = x[[-1, 0]] if design.coolant.enters_at == "nozzle" else x[[0, -1]]
    axes[0].plot(ends, np.array(plena) * 1e-5, "o", color="black", ms=4, label="plena, at rest")
    limit = _limit_of(result.margins, "coolant_mach")
    if limit is not None:
        axes[2].axhline(limit, color="black", lw=1.0, ls="-.", label=f"limit {limit:.2g}")
        axes[2].legend(loc="best")
    axes[0].legend(loc="best")
    _along_x(axes, result, design)
    return figure


def film_coefficients(result: Result, design: Design) -> Figure:
    """Draw the film coefficients of gas and coolant."""
    figure, (gas, cold) = _figure(2, 6.4)
    s = result.stations
    x = s["x_m"] * 1e3
    gas.plot(x, s["h_gas_W_m2K"] * 1e-3, color=RED, lw=1.8)
    gas.set_ylabel("gas side [kW/(m2 K)]\non adiabatic less hot wall")
    cold.plot(x, s["h_coolant_W_m2K"] * 1e-3, color=BLUE, lw=1.8)
    cold.set_ylabel("coolant side [kW/(m2 K)]\non the wetted area")
    for ax in (gas, cold):
        ax.set_ylim(bottom=0)
    _along_x([gas, cold], result, design)
    return figure


def margins(result: Result, design: Design) -> Figure:
    """Draw every margin: nominal, band edge and worst channel."""
    del design  # every figure has the same arguments
    count = len(result.margins)
    figure = Figure(figsize=(8.2, 1.6 + 0.52 * count), layout="constrained")
    ax = figure.subplots()
    lanes = (
        ("nominal", "nominal", "o", BLUE, 0.22),
        ("band_edge", "band edge", "D", ORANGE, 0.0),
        ("worst_channel", "worst channel", "s", RED, -0.22),
    )
    ax.axvspan(-CLIP * 1.12, 0.0, color="black", alpha=0.07, lw=0)
    ax.axvline(0.0, color="black", lw=1.2)
    for row, margin in enumerate(result.margins):
        for name, _, marker, colour, shift in lanes:
            _mark(ax, getattr(margin, name), count - 1 - row + shift, marker, colour)
    for _, label, marker, colour, _ in lanes:
        ax.plot([], [], marker, color=colour, mec="black", label=label)
    ax.set_yticks(range(count), [_row_label(m) for m in reversed(result.margins)])
    ax.set_xlim(-CLIP * 1.12, CLIP * 1.25)
    ax.set_ylim(-0.6, count - 0.4)
    ax.set_xlabel("margin [% of the limit]; a limit is broken in the grey field")
    ax.legend(loc="lower center", bbox_to_anchor=(0.4, 1.0), ncols=3)
    return figure


def _row_label(margin: Margin) -> str:
    info = ", information" if margin.informative else ""
    return f"{margin.name.replace('_', ' ')}{info}\n[{margin.verdict}]"


def _mark(ax: Axes, value: float | None, y: float, marker: str, colour: str) -> None:
    if value is None:
        box = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
        ax.plot(1.5, y, marker, color="white", mec=colour, ms=6)
        ax.text(5.0, y, "not evaluated", color="black", fontsize=7, va="center", bbox=box)
        return
    at = float(np.clip(100.0 * value, -CLIP, CLIP))
    ax.plot(at, y, marker, color=colour, mec="black", ms=6)
    if abs(100.0 * value) > CLIP:
        ax.text(at + 3.0, y, words.percent(value), fontsize=7, va="center")


FIGURES: Mapping[str, Plate] = {
    "chamber": Plate(
        chamber,
        "The chamber's half-section and the channels at the hottest wall, both to scale.",
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
        "is counted from plenum to plenum (dots).",
    ),
    "film_coefficients": Plate(
        film_coefficients, "Film coefficients of the nominal channel on either side."
    ),
    "margins": Plate(
        margins,
        "Margins as per cent of each limit. Beyond 100 % a marker stands at the edge with its "
        "number.",
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


def svg(figure: Figure) -> bytes:
    """Return a figure as SVG, the same bytes for the same figure.

    Parameters
    ----------
    figure : Figure
        From ``draw``.

    Returns
    -------
    bytes
        SVG document without a date.
    """
    buffer = BytesIO()
    with mpl.rc_context(RC):
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": "regen"})
    return buffer.getvalue()
