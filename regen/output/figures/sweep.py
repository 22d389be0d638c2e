"""Figures of a sweep: which are drawn, curves over one key, and the front of the best rows."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.output.figures import sweep_map
from regen.output.figures.style import BLUE, CORNER, GREY, LINES, RED, casing, folded
from regen.output.labels import limit_name
from regen.output.sweep_table import DROP, LAND, WALL, SweepSummary
from regen.quantities import quantity
from regen.result import Array

SAME_LAND = 1e-6
"""Relative spread below which all rows have the same land [-]."""

MARGIN_SHOWN = 0.6
"""A limit whose margin never falls below this is not drawn over one key [-]."""

RUNS: tuple[tuple[str, str, str, str, Any, str], ...] = (
    ("", "nominal", "nominal channel", "black", "-", "o"),
    ("_band", "band_edge", "band edge", RED, (0, (6, 2)), "s"),
    ("_worst", "worst_channel", "worst channel", BLUE, (0, (1, 1.2)), "^"),
)
"""Runs as curves: part of the column's name, run of the margins, label, colour, dash, marker."""


def figures(summary: SweepSummary) -> dict[str, Callable[[], Figure]]:
    """Return what draws each figure, by its path in the folder; none where no row was solved."""
    solved = sweep_map.solved_of(summary)
    if not solved.any():
        return {}
    drawings: dict[str, Callable[[], Figure]] = {}
    if len(summary.plan.parameters) == 1:
        drawings["curves"] = partial(curves_figure, summary)
    grid = sweep_map.Grid.of(summary)
    if grid is not None:
        drawings["family"] = partial(sweep_map.family_figure, summary, grid)
        drawings["map"] = partial(sweep_map.map_figure, summary, grid)
    drawings["front"] = partial(front_figure, summary)
    land = summary.sample[LAND][solved]
    if np.ptp(land) > SAME_LAND * np.max(np.abs(land)):
        drawings["land"] = partial(sweep_map.land_figure, summary, grid)
    return {f"figures/sweep_{name}.svg": drawing for name, drawing in drawings.items()}


def curves_figure(summary: SweepSummary) -> Figure:
    """Draw wall temperature, pressure drop and margins over the one key that varies."""
    (parameter,) = summary.plan.parameters
    order = np.argsort(summary.sample[parameter.column])
    x = sweep_map.shown_values(parameter, summary.sample[parameter.column][order])
    figure, (wall, drop, margins) = sweep_map.framed(summary, 9.0, 3, xlabel=parameter.label)
    for name, _, label, colour, dash, marker in RUNS:
        look = {"color": colour, "ls": dash, "marker": marker if len(x) <= 40 else ""}
        for ax, key, unit in ((wall, WALL, "K"), (drop, DROP, "Pa")):
            column = summary.sample.get(key.replace(f"_{unit}", f"{name}_{unit}"))
            if column is not None and np.isfinite(column).any():
                y = quantity(key).shown(column[order])
                ax.plot(x, y, ms=4, mfc="white", label=label, **look)
    sweep_map.limit_line(wall, sweep_map.wall_limit(summary))
    wall.set_ylabel(sweep_map.WALL_LABEL)
    drop.set_ylabel(sweep_map.DROP_LABEL)
    unsolved = ~sweep_map.solved_of(summary)[order]
    for ax in (wall, drop):
        _mark_unsolved(ax, x, unsolved)
        ax.legend(loc="best")
    _margins(margins, x, summary, order)
    _mark_unsolved(margins, x, unsolved)
    return figure


def _margins(ax: Axes, x: Array, summary: SweepSummary, order: Any) -> None:
    looks = iter(LINES * 3)
    for name in summary.deciding:
        values = 100.0 * summary.margin(name)[order]
        if np.isfinite(values).any() and np.nanmin(values) < 100.0 * MARGIN_SHOWN:
            colour, dash = next(looks)
            ax.plot(x, values, color=colour, ls=dash, lw=1.5, label=limit_name(name))
    for _, run, label, colour, _, marker in RUNS[1:]:
        if summary.deciding and f"margin_{summary.deciding[0]}_{run}" in summary.sample:
            least = 100.0 * summary.least(run)[order]
            ax.plot(x, least, color=colour, lw=0, marker=marker, ms=4, label=f"least, {label}")
    ax.axhline(0.0, color="black", lw=0.8)
    low, high = ax.get_ylim()
    ax.set_ylim(low, min(high, 100.0 * MARGIN_SHOWN))
    ax.axhspan(min(low, 0.0), 0.0, facecolor="none", edgecolor="#999999", hatch="///", lw=0)
    ax.set_ylabel("margins, nominal [% of the limit]\nbelow 0: exceeded")
    if ax.get_legend_handles_labels()[0]:
        ax.legend(**CORNER)


def _mark_unsolved(ax: Axes, x: Array, unsolved: Any) -> None:
    if unsolved.any():
        low = np.full(int(unsolved.sum()), ax.get_ylim()[0])
        ax.plot(x[unsolved], low, "x", color=GREY, ms=6, clip_on=False, label="not solved")


def front_figure(summary: SweepSummary) -> Figure:
    """Draw pressure drop against wall temperature, with the front of the rows within the limits."""
    sample, (first, *more) = summary.sample, summary.plan.parameters
    solved, kept = sweep_map.solved_of(summary), sample["nominal_kept"] == 1.0
    drop, wall = quantity(DROP).shown(sample[DROP]), sample[WALL]
    others = solved & ~kept
    title = "wall temperature against pressure drop: front of the designs within the limits"
    figure, (ax,) = sweep_map.framed(
        summary, 6.0, xlabel=sweep_map.DROP_LABEL, ylabel=sweep_map.WALL_LABEL, title=title
    )
    exceeded, label = sweep_map.KEPT_LABELS
    ax.plot(drop[others], wall[others], "x", color="#aaaaaa", ms=3.5, mew=0.8, label=exceeded)
    if len(more) > 1:
        shade = sweep_map.shown_values(first, sample[first.column][kept])
        points = ax.scatter(drop[kept], wall[kept], 14, shade, cmap="viridis", label=label)
        if kept.any():
            figure.colorbar(points, ax=ax, pad=0.02).set_label(first.label)
    else:
        ax.plot(drop[kept], wall[kept], "o", ms=4, mfc="white", mec=GREY, label=label)
    _front_line(ax, summary)
    sweep_map.logarithmic(ax, drop, "x")
    sweep_map.limit_line(ax, sweep_map.wall_limit(summary))
    ax.legend(loc="best")
    return figure


def _front_line(ax: Axes, summary: SweepSummary) -> None:
    front = summary.front
    drop, wall = quantity(DROP).shown(front[DROP]), front[WALL]
    if not len(drop):
        return
    label = "front: no other within the limits has less drop and a cooler wall"
    size = 5 if len(drop) <= 40 else 2.5
    ax.plot(drop, wall, "-", color=BLUE, lw=1.6, marker="D", ms=size, mfc=BLUE, label=label)
    look: dict[str, Any] = {"fontsize": 10, "fontweight": "bold", "path_effects": casing()}
    for letter, n in ("A", 0), ("B", len(drop) - 1):
        if letter == "B" and not n:
            break
        at = drop[n], wall[n]
        ax.annotate(letter, at, (-12, -12), textcoords="offset points", zorder=5, **look)
        names = [f"{p.path} {p.say(front[p.column][n])}" for p in summary.plan.parameters]
        ax.plot([], [], lw=0, label=folded(f"{letter}: {', '.join(names)}", 60))
