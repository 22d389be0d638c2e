"""Figures of a sweep: which are drawn; curves over one key, the front, land against drop."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.output import words
from regen.output.figures.style import BLUE, GREY, LINES, RC, RED, WIDTH, draw_each, folded
from regen.output.figures.sweep_grid import (
    BAR,
    DROP_LABEL,
    WALL_LABEL,
    Grid,
    limit_line,
    note_below,
    solved_of,
    wall_limit,
)
from regen.output.figures.sweep_map import CASING, family_figure, land_figure, map_figure
from regen.output.files import Drawn
from regen.output.sweep_digest import DROP, LAND, WALL, Digest
from regen.result import Array

SAME_LAND = 1e-6
"""Relative spread below which all rows have the same land [-]."""

MARGIN_SHOWN = 0.6
"""A limit whose margin never falls below this is not drawn over one key [-]."""

SIDES = {
    "nominal": ("nominal channel", "black", "-", "o"),
    "band": ("band edge", RED, (0, (6, 2)), "s"),
    "worst": ("worst channel", BLUE, (0, (1, 1.2)), "^"),
}
"""Runs as curves: name, colour, dash, marker."""


def drawn(digest: Digest, title: str) -> Drawn:
    """Return every figure of a sweep.

    Parameters
    ----------
    digest : Digest
        The sweep in short.
    title : str
        Stands on top.

    Returns
    -------
    Drawn
        SVG documents by path within the output folder; none where no row was solved.
    """
    solved = solved_of(digest)
    if not solved.any():
        return Drawn()
    figures: dict[str, Callable[[], Figure]] = {}
    if len(digest.plan.parameters) == 1:
        figures["figures/sweep_curves.svg"] = partial(curves_figure, digest, title)
    grid = Grid.of(digest)
    if grid is not None:
        figures["figures/sweep_family.svg"] = partial(family_figure, digest, grid, title)
        figures["figures/sweep_map.svg"] = partial(map_figure, digest, grid, title)
    figures["figures/sweep_front.svg"] = partial(front_figure, digest, title)
    land = digest.sample[LAND][solved]
    if np.ptp(land) > SAME_LAND * np.max(np.abs(land)):
        figures["figures/sweep_land.svg"] = partial(land_figure, digest, grid, title)
    return draw_each(figures)


def curves_figure(digest: Digest, title: str) -> Figure:
    """Return wall temperature, pressure drop and margins over the one key that varies.

    Parameters
    ----------
    digest : Digest
        A sweep of one key.
    title : str
        Stands on top.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    (key,) = digest.plan.parameters
    order = np.argsort(digest.sample[key.column])
    x = np.array([key.shown(value) for value in digest.sample[key.column][order]])

    def column(name: str, factor: float = 1.0) -> Array | None:
        values = digest.sample.get(name)
        return None if values is None else np.asarray(values[order] * factor)

    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 9.0), layout="constrained")
        wall, drop, margin = figure.subplots(3, 1, sharex=True)
        for side, name in (("nominal", ""), ("band", "_band"), ("worst", "_worst")):
            _curve(wall, x, column(WALL.replace("_K", f"{name}_K")), side)
            _curve(drop, x, column(DROP.replace("_Pa", f"{name}_Pa"), BAR), side)
        limit_line(wall, wall_limit(digest))
        wall.set_ylabel(WALL_LABEL)
        drop.set_ylabel(DROP_LABEL)
        unsolved = ~solved_of(digest)[order]
        for ax in (wall, drop):
            _mark_unsolved(ax, x, unsolved)
            ax.legend(loc="best")
        _margins(margin, x, digest, order)
        _mark_unsolved(margin, x, unsolved)
        margin.set_xlabel(key.label)
        figure.suptitle(title, fontsize=11)
        figure.supxlabel(note_below(digest), fontsize=8)
    return figure


def _curve(ax: Axes, x: Array, y: Array | None, side: str) -> None:
    if y is None or not np.isfinite(y).any():
        return
    name, colour, dash, marker = SIDES[side]
    marked = marker if len(x) <= 40 else ""
    ax.plot(x, y, color=colour, ls=dash, marker=marked, ms=4, mfc="white", label=name)


def _margins(ax: Axes, x: Array, digest: Digest, order: Any) -> None:
    deciding = [name for name in digest.limits if name not in digest.informative]
    styles = iter(LINES * 3)
    for name in deciding:
        values = 100.0 * digest.margin(name)[order]
        if np.isfinite(values).any() and np.nanmin(values) < 100.0 * MARGIN_SHOWN:
            colour, dash = next(styles)
            ax.plot(x, values, color=colour, ls=dash, lw=1.5, label=words.spoken(name))
    for run, side in (("band_edge", "band"), ("worst_channel", "worst")):
        if deciding and f"margin_{deciding[0]}_{run}" in digest.sample:
            name, colour, _, marker = SIDES[side]
            least = 100.0 * digest.least(run)[order]
            ax.plot(x, least, color=colour, lw=0, marker=marker, ms=4, label=f"least, {name}")
    ax.axhline(0.0, color="black", lw=0.8)
    low, high = ax.get_ylim()
    ax.set_ylim(low, min(high, 100.0 * MARGIN_SHOWN))
    ax.axhspan(min(low, 0.0), 0.0, facecolor="none", edgecolor="#999999", hatch="///", lw=0)
    ax.set_ylabel("margins, nominal [% of the limit]\nbelow 0: broken")
    if ax.get_legend_handles_labels()[0]:
        ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), fontsize=8)


def _mark_unsolved(ax: Axes, x: Array, unsolved: Any) -> None:
    if unsolved.any():
        at = ax.get_ylim()[0]
        low = np.full(int(unsolved.sum()), at)
        ax.plot(x[unsolved], low, "x", color=GREY, ms=6, clip_on=False, label="not solved")


def front_figure(digest: Digest, title: str) -> Figure:
    """Return pressure drop against wall temperature, with the front of those that keep the limits.

    Parameters
    ----------
    digest : Digest
        The sweep in short.
    title : str
        Stands on top.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    sample, keys = digest.sample, digest.plan.parameters
    solved, kept = solved_of(digest), sample["nominal_kept"] == 1.0
    drop, wall = sample[DROP] * BAR, sample[WALL]
    others = solved & ~kept
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 6.0), layout="constrained")
        ax = figure.subplots()
        label = "a limit broken or not evaluated"
        ax.plot(drop[others], wall[others], "x", color="#aaaaaa", ms=3.5, mew=0.8, label=label)
        label = "keeps every limit (nominal channel)"
        if len(keys) > 2:
            key = keys[0]
            shade = np.array([key.shown(value) for value in sample[key.column][kept]])
            points = ax.scatter(drop[kept], wall[kept], 14, shade, cmap="viridis", label=label)
            if kept.any():
                figure.colorbar(points, ax=ax, pad=0.02).set_label(key.label)
        else:
            ax.plot(drop[kept], wall[kept], "o", ms=4, mfc="white", mec=GREY, label=label)
        _front_line(ax, digest)
        if drop[solved].max() > 10.0 * drop[solved].min():
            ax.set_xscale("log")
            ax.xaxis.set_major_formatter("{x:g}")
        limit_line(ax, wall_limit(digest))
        ax.set_xlabel(DROP_LABEL)
        ax.set_ylabel(WALL_LABEL)
        ax.legend(loc="best")
        ax.set_title(
            "wall temperature against pressure drop: front of the designs that keep every limit"
        )
        figure.suptitle(title, fontsize=11)
        figure.supxlabel(note_below(digest), fontsize=8)
    return figure


def _front_line(ax: Axes, digest: Digest) -> None:
    front = digest.front
    if not len(front["row"]):
        return
    drop, wall = front[DROP] * BAR, front[WALL]
    label = "front: none keeps the limits with less drop and a cooler wall"
    size = 5 if len(drop) <= 40 else 2.5
    ax.plot(drop, wall, "-", color=BLUE, lw=1.6, marker="D", ms=size, mfc=BLUE, label=label)
    ends = {"A": 0, "B": len(drop) - 1} if len(drop) > 1 else {"A": 0}
    for letter, n in ends.items():
        at = drop[n], wall[n]
        style: dict[str, Any] = {"fontsize": 10, "fontweight": "bold", "path_effects": CASING}
        ax.annotate(letter, at, (-12, -12), textcoords="offset points", zorder=5, **style)
        keys = digest.plan.parameters
        names = [f"{key.path} {key.say(front[key.column][n])}" for key in keys]
        ax.plot([], [], lw=0, label=folded(f"{letter}: {', '.join(names)}", 60))
