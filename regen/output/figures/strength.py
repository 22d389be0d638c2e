"""Strength and life along x: margins of primary stress, strain range, firings."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.checks.limits import LIMITS
from regen.design import Design
from regen.output.figures.along import curve, gaps, legend_below, mark_flow, mark_x, panels
from regen.output.figures.style import BLUE, GREY, LINES, RED
from regen.result import Array, Result

CAPTION = (
    "Margins of primary stress along x, nominal channel, positive where the limit is met: in "
    "operation, at start and at proof; and the strain range of the hot wall in one firing, between "
    "its conservative and its optimistic value. What is not drawn is not known: the margins' "
    "remarks and the findings say why."
)

LIFE_CAPTION = (
    "Firings to failure of the hot wall, nominal channel: conservative (held both ways, a tenth of "
    "the law above half the solidus, creep added), whose least value along x is the life that is "
    "judged, and optimistic (held across the channels alone, the law as it is), which judges "
    "nothing. A gap: not known there, and then not of the part."
)

MARGINS = {f"margin_{o.name}": o.label for o in LIMITS.values() if o.group == "strength"}
"""Columns of ``Result.checked`` and their names in the legend."""

STRAINS = {
    "strain_range": ("conservative", LINES[0]),
    "strain_range_plastic": ("plastic part of it", LINES[2]),
    "strain_range_low": ("optimistic", LINES[1]),
}

LIVES = {
    "life_conservative_firings": ("conservative", RED, "-", 1.7),
    "life_optimistic_firings": ("optimistic", BLUE, "--", 0.9),
}
"""Columns of ``Result.checked``: names in the legend, colours, dashes, line widths."""

LOWEST = -100.0
"""Margins below this are drawn there, and the axis says so [%]."""


def strength(result: Result) -> Figure:
    """Draw margins above and strain range below."""
    figure, (upper, lower) = panels(2, 7.2, height_ratios=(1.5, 1.0))
    _margins(upper, result)
    _strain(lower, result)
    for ax in (upper, lower):
        ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), fontsize=8)
    mark_x([upper, lower], result)
    return figure


def _curve(result: Result, values: Array) -> tuple[Array, Array]:
    return gaps(result.stations, result.stations["x_m"] * 1e3), gaps(result.stations, values)


def _margins(ax: Axes, result: Result) -> None:
    lowest = 0.0
    for (colour, dash), (name, label) in zip(LINES, MARGINS.items(), strict=False):
        values = 100.0 * result.checked[name]
        if not np.isfinite(values).any():
            ax.plot([], [], color=colour, ls=dash, label=f"{label}: not known")
            continue
        lowest = min(lowest, float(np.nanmin(values)))
        drawn = np.maximum(values, LOWEST)
        ax.plot(*_curve(result, drawn), color=colour, ls=dash, lw=1.6, label=label)
    bottom = 1.1 * min(max(lowest, LOWEST), -9.0)
    ax.axhline(0.0, color="black", lw=1.2)
    ax.axhspan(bottom, 0.0, color="black", alpha=0.07, lw=0)
    ax.set_ylim(bottom, 104.0)
    clipped = f",\ncut at {LOWEST:.0f} %" if lowest < LOWEST else ""
    ax.set_ylabel(f"margin [%]{clipped}")


def _strain(ax: Axes, result: Result) -> None:
    drawn = {name: _curve(result, 100.0 * result.checked[name]) for name in STRAINS}
    (x, top), (_, bottom) = drawn["strain_range"], drawn["strain_range_low"]
    ax.fill_between(x, bottom, top, color=GREY, alpha=0.15, lw=0)
    for name, (label, (colour, dash)) in STRAINS.items():
        ax.plot(*drawn[name], color=colour, ls=dash, lw=1.6, label=label)
    ax.set_ylabel("strain range [%]")
    ax.set_ylim(bottom=0.0)


def life_is_known(result: Result) -> bool:
    """Return whether a life is known anywhere, so that there is something to draw."""
    lives = (result.checked.get(name) for name in LIVES)
    return any(life is not None and bool(np.isfinite(life).any()) for life in lives)


def life(result: Result, design: Design) -> Figure:
    """Draw life over x and the firings that the design is to last."""
    figure, (ax,) = panels(1, 3.8)
    columns = {**result.stations, **result.checked}
    for name, (label, colour, dash, width) in LIVES.items():
        ax.plot(*curve(columns, name), color=colour, lw=width, ls=dash, label=label)
    ax.set_yscale("log")
    ax.set_ylabel("life of the hot wall [firings]")
    firings, times = design.life.firings, design.limits.life_factor
    if firings is not None:
        label = f"{firings} firings times {times:g}"
        ax.axhline(times * firings, color=GREY, lw=1.2, ls=(0, (4, 2)), label=label)
    legend_below(ax, 3)
    mark_flow([ax], result)
    return figure
