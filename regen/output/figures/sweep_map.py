"""Figures of a sweep of two keys: a family of curves, a map, and land against pressure drop."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from regen.output import words
from regen.output.figures.style import BOX, GREY, LINES, RC, RED, UNSOLVED, WIDTH
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
from regen.output.sweep_digest import DROP, LAND, WALL, Digest
from regen.result import Array

MOST_CURVES = 8
"""Curves of a family; of more values some are chosen, evenly."""

MOST_TEXTS = 60
"""Points that each have their wall temperature beside them; above, contour lines say it."""

LEAST_NAMED = 60.0
"""Extent of a line below which its name would hide it [px]."""

MARKERS = "os^Dv<>P"

CASING: list[Any] = [patheffects.withStroke(linewidth=3.0, foreground="white")]

BROKEN: dict[str, Any] = {"facecolor": "none", "edgecolor": "#555555", "hatch": "///", "lw": 0}


def family_figure(digest: Digest, grid: Grid, title: str) -> Figure:
    """Return pressure drop against wall temperature, a curve for each value of the second key.

    Parameters
    ----------
    digest : Digest
        A sweep of two keys.
    grid : Grid
        Its grid.
    title : str
        Stands on top.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    drop, wall = grid.field(digest.sample[DROP]) * BAR, grid.field(digest.sample[WALL])
    kept = grid.field(digest.sample["nominal_kept"] == 1.0)
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 6.0), layout="constrained")
        ax = figure.subplots()
        handles = list(_curves(ax, grid, drop, wall, kept))
        _logarithmic(ax, drop, "x")
        ax.margins(x=0.09)
        _ends(ax, grid, drop, wall)
        limit_line(ax, wall_limit(digest))
        ax.set_xlabel(DROP_LABEL)
        ax.set_ylabel(WALL_LABEL)
        ax.legend(handles=[*handles, *_marks()], title=grid.y_key.label, loc="best", fontsize=8)
        ax.set_title(f"along each curve: {grid.x_key.label}")
        figure.suptitle(title, fontsize=11)
        figure.supxlabel(note_below(digest), fontsize=8)
    return figure


def _curves(
    ax: Axes, grid: Grid, across: Array, up: Array, kept: NDArray[np.bool_]
) -> Iterator[Line2D]:
    """Draw a curve for each of the chosen values of the second key; yield what the legend says."""
    few = len(grid.x) <= 25
    for number, line in enumerate(chosen(len(grid.y))):
        colour, dash = LINES[number % len(LINES)]
        marker = MARKERS[number % len(MARKERS)]
        ax.plot(across[line], up[line], color=colour, ls=dash, lw=1.4, zorder=2)
        for fill, mask in ((colour, kept[line]), ("white", ~kept[line])):
            style: dict[str, Any] = {
                "color": colour,
                "mfc": fill,
                "ms": 5 if few else 2.5,
                "zorder": 3,
            }
            ax.plot(across[line][mask], up[line][mask], marker, **style)
        label = f"{grid.y[line]:.6g}"
        yield Line2D([], [], color=colour, ls=dash, marker=marker, ms=5, label=label)


def chosen(size: int) -> list[int]:
    """Return at most ``MOST_CURVES`` places of a row of values, evenly, both ends among them."""
    places = np.linspace(0, size - 1, min(size, MOST_CURVES)).round()
    return [int(place) for place in np.unique(places)]


def _marks() -> list[Line2D]:
    style: dict[str, Any] = {"color": GREY, "lw": 0, "marker": "o", "ms": 5}
    return [
        Line2D([], [], **style, label="filled: keeps every limit (nominal)"),
        Line2D([], [], **style, mfc="white", label="open: a limit broken or not evaluated"),
    ]


def _ends(ax: Axes, grid: Grid, across: Array, up: Array) -> None:
    """Name the first key's value at both ends of the last curve."""
    solved = np.flatnonzero(np.isfinite(across[-1]))
    for n in solved[[0, -1]] if solved.size > 1 else []:
        text = f"{grid.x[n]:.6g} {grid.x_key.unit}".rstrip()
        at = across[-1][n], up[-1][n]
        ax.annotate(text, at, (7, -3), textcoords="offset points", fontsize=8, bbox=BOX, va="top")


def _logarithmic(ax: Axes, values: Array, which: str) -> None:
    known = values[np.isfinite(values)]
    if known.size and known.min() > 0.0 and known.max() > 10.0 * known.min():
        axis = ax.xaxis if which == "x" else ax.yaxis
        (ax.set_xscale if which == "x" else ax.set_yscale)("log")
        axis.set_major_formatter("{x:g}")


def map_figure(digest: Digest, grid: Grid, title: str) -> Figure:
    """Return the map of two keys: wall temperature, pressure drop, and where limits are reached.

    Parameters
    ----------
    digest : Digest
        A sweep of two keys.
    grid : Grid
        Its grid.
    title : str
        Stands on top.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 7.2), layout="constrained")
        ax = figure.subplots()
        ax.grid(visible=False)
        ax.set_xlim(grid.x[0], grid.x[-1])
        ax.set_ylim(grid.y[0], grid.y[-1])
        ax.fill_between(grid.x[[0, -1]], grid.y[[0, 0]], grid.y[[-1, -1]], **UNSOLVED)
        handles: list[Any] = []
        if min(grid.place.shape) > 1:
            handles += _fills(figure, ax, digest, grid)
            handles += _limits(ax, digest, grid)
        handles += _places(ax, digest, grid)
        ax.set_xlabel(grid.x_key.label)
        ax.set_ylabel(grid.y_key.label)
        ax.legend(
            handles=handles,
            loc="upper center",
            bbox_to_anchor=(0.5, -0.1),
            ncols=2,
            fontsize=8,
            frameon=False,
        )
        ax.set_title("wall temperature, pressure drop, and where each limit is reached (nominal)")
        figure.suptitle(title, fontsize=11)
        figure.supxlabel(note_below(digest), fontsize=8)
    return figure


def _fills(figure: Figure, ax: Axes, digest: Digest, grid: Grid) -> list[Any]:
    wall = grid.field(digest.sample[WALL])
    levels = MaxNLocator(10, steps=[1, 2, 2.5, 5, 10]).tick_values(np.nanmin(wall), np.nanmax(wall))
    fill = ax.contourf(grid.x, grid.y, np.ma.masked_invalid(wall), levels, cmap="YlOrRd")
    figure.colorbar(fill, ax=ax, pad=0.02).set_label(WALL_LABEL)
    drop = grid.field(digest.sample[DROP]) * BAR
    style: dict[str, Any] = {"colors": "black", "linewidths": 0.8, "linestyles": ":"}
    values = np.ma.masked_invalid(drop)
    lines = ax.contour(grid.x, grid.y, values, _levels(drop), **style)
    for text in ax.clabel(lines, fmt="%g bar", fontsize=8):
        text.set_bbox({**BOX, "pad": 0.1})
    return [Line2D([], [], color="black", ls=":", lw=0.8, label=DROP_LABEL)]


def _levels(values: Array) -> list[float]:
    """Return values for contour lines: round ones, evenly or, over a decade, by ratios."""
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if low > 0.0 and high > 8.0 * low:
        decades = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))))
        return [m * 10.0**n for n in decades for m in (1, 2, 3, 5, 7) if low < m * 10.0**n < high]
    return [float(v) for v in MaxNLocator(7).tick_values(low, high) if low < v < high]


def _limits(ax: Axes, digest: Digest, grid: Grid) -> list[Any]:
    """Draw the zero line of every limit, and hatch where one that decides is broken."""
    handles: list[Any] = []
    for name in digest.limits:
        margin = grid.field(digest.margin(name))
        if not _reached(margin):
            continue
        colour, dash = LINES[len(handles) % len(LINES)]
        info = " (information)" if name in digest.informative else ""
        text = f"{words.spoken(name)} at its limit{info}"
        handles.append(_zero(ax, grid, margin, text, colour, dash))
    if any(f"margin_{n}_worst_channel" in digest.sample for n in digest.limits):
        edges = [digest.least(run) for run in _edge_runs(digest)]
        margin = grid.field(np.minimum.reduce(edges))
        if _reached(margin):
            text = "band edge or worst channel at a limit"
            handles.append(_zero(ax, grid, margin, text, GREY, (0, (10, 3))))
    deciding = [name for name in digest.limits if name not in digest.informative]
    broken = [name for name in deciding if _hatched(ax, grid, digest.margin(name))]
    return handles + ([Patch(label="a limit is broken", **BROKEN)] if broken else [])


def _hatched(ax: Axes, grid: Grid, margin: Array) -> bool:
    """Hatch where a limit is broken; the same hatch for every limit, so that they run together."""
    values = np.ma.masked_invalid(grid.field(margin))
    broken = bool(np.any(values < 0.0))
    if broken:
        levels = [float(values.min()) - 1.0, 0.0]
        ax.contourf(grid.x, grid.y, values, levels, colors="none", hatches=["///"])
    return broken


def _reached(margin: Array) -> bool:
    return bool(np.any(margin < 0.0) and np.any(margin > 0.0))


def _edge_runs(digest: Digest) -> list[str]:
    first = digest.limits[0]
    runs = ("band_edge", "worst_channel")
    return [run for run in runs if f"margin_{first}_{run}" in digest.sample]


def _zero(ax: Axes, grid: Grid, margin: Array, text: str, colour: str, dash: Any) -> Line2D:
    style: dict[str, Any] = {"colors": [colour], "linestyles": [dash], "linewidths": 1.8}
    line = ax.contour(grid.x, grid.y, np.ma.masked_invalid(margin), [0.0], **style)
    line.set_path_effects(CASING)
    return Line2D([], [], color=colour, ls=dash, lw=1.8, label=text)


def _places(ax: Axes, digest: Digest, grid: Grid) -> list[Any]:
    """Mark the designs that were computed, where they are few, and those that were not solved."""
    handles: list[Any] = []
    solved = grid.field(solved_of(digest))
    x, y = np.meshgrid(grid.x, grid.y)
    style: dict[str, Any] = {"color": "black", "clip_on": False, "zorder": 4, "ls": ""}
    if x.size <= 400:
        ax.plot(x[solved], y[solved], ".", ms=2.5, **style)
    if not solved.all():
        ax.plot(x[~solved], y[~solved], "x", ms=4 if x.size <= 400 else 2.5, mew=0.6, **style)
        handles.append(Patch(label="not solved (crosses)", **UNSOLVED))
    return handles


def land_figure(digest: Digest, grid: Grid | None, title: str) -> Figure:
    """Return the least land width against pressure drop, with the wall temperature.

    Parameters
    ----------
    digest : Digest
        A sweep whose rows differ in their land.
    grid : Grid or None
        Its grid, if two keys vary: the one of fewer values makes the curves.
    title : str
        Stands on top.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 6.6), layout="constrained")
        ax = figure.subplots()
        drop = digest.sample[DROP] * BAR
        _logarithmic(ax, drop, "y")
        if grid is not None:
            _land_family(ax, digest, grid)
        else:
            _land_points(figure, ax, digest)
        ax.use_sticky_edges = False  # contour lines would leave no room at the edges
        ax.autoscale_view()
        ax.set_xlabel("least land width at the slot floor [mm]")
        ax.set_ylabel(DROP_LABEL)
        figure.suptitle(title, fontsize=11)
        figure.supxlabel(note_below(digest), fontsize=8)
    return figure


def _land_family(ax: Axes, digest: Digest, grid: Grid) -> None:
    if len(grid.y) > len(grid.x):
        grid = grid.turned()
    land, drop = grid.field(digest.sample[LAND]) * 1e3, grid.field(digest.sample[DROP]) * BAR
    wall = grid.field(digest.sample[WALL])
    kept = grid.field(digest.sample["nominal_kept"] == 1.0)
    handles = list(_curves(ax, grid, land, drop, kept))
    ax.autoscale_view()  # where texts are placed depends on it
    said = f"along each curve: {grid.x_key.label}"
    if land.size > MOST_TEXTS and _wall_lines(ax, land, drop, wall, wall_limit(digest)):
        handles.append(Line2D([], [], color=GREY, lw=0.9, label="wall temperature [K]"))
    else:
        said += "; numbers: peak wall temperature [K]"
        _texts(ax, land[chosen(len(grid.y))], drop[chosen(len(grid.y))], wall[chosen(len(grid.y))])
    ax.legend(handles=[*handles, *_marks()], title=grid.y_key.label, loc="best", fontsize=8)
    ax.set_title(said)


def _texts(ax: Axes, across: Array, up: Array, wall: Array) -> None:
    for a, b, T in zip(across.ravel(), up.ravel(), wall.ravel(), strict=True):
        if np.isfinite(T):
            text = words.rounded(T, 10.0)
            ax.annotate(text, (a, b), (6, -8), textcoords="offset points", fontsize=7)


def _wall_lines(ax: Axes, across: Array, up: Array, wall: Array, limit: float | None) -> bool:
    """Draw lines of equal wall temperature over a grid of rows (y, x); False if there are none."""
    number = np.arange(across.size).reshape(across.shape)
    a, b = number[:-1, :-1].ravel(), number[:-1, 1:].ravel()
    c, d = number[1:, :-1].ravel(), number[1:, 1:].ravel()
    triangles = np.concatenate([np.stack([a, b, d], 1), np.stack([a, d, c], 1)])
    known = np.isfinite(wall.ravel())[triangles].all(axis=1)
    if not known.any():
        return False
    # a mesh takes no gaps: what fills them belongs to no triangle
    filled = [np.where(np.isfinite(v), v, np.nanmean(v)).ravel() for v in (across, up, wall)]
    mesh = Triangulation(filled[0], filled[1], triangles[known])
    low, high = float(np.nanmin(wall)), float(np.nanmax(wall))
    levels = [float(v) for v in MaxNLocator(8).tick_values(low, high) if low < v < high]
    if limit is not None and low < limit < high:
        levels = sorted({*levels, limit})
    if not levels:
        return False
    colours = [RED if level == limit else GREY for level in levels]
    widths = [1.8 if level == limit else 0.9 for level in levels]
    lines = ax.tricontour(mesh, filled[2], levels, colors=colours, linewidths=widths, zorder=1)
    for path, level, colour in zip(lines.get_paths(), levels, colours, strict=True):
        vertices = np.asarray(path.vertices)
        if vertices.shape[0] > 1:
            said = f"limit {level:.0f} K" if level == limit else f"{level:.0f} K"
            _name_line(ax, vertices, said, colour)
    return True


def _name_line(ax: Axes, vertices: Array, text: str, colour: str) -> None:
    """Write a text in the middle of the longest straight piece of a line, where most room is."""
    shown = ax.transData.transform(vertices)
    if np.ptp(shown, axis=0).max() < LEAST_NAMED:
        return
    longest = int(np.argmax(np.hypot(*np.diff(shown, axis=0).T)))
    a, b = ax.transData.inverted().transform(shown[longest : longest + 2].mean(axis=0))
    style: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 8, "color": colour}
    ax.text(a, b, text, bbox={**BOX, "pad": 0.1}, zorder=5, **style)


def _land_points(figure: Figure, ax: Axes, digest: Digest) -> None:
    sample, kept = digest.sample, digest.sample["nominal_kept"] == 1.0
    land, drop, wall = sample[LAND] * 1e3, sample[DROP] * BAR, sample[WALL]
    solved = solved_of(digest)
    if len(digest.plan.parameters) == 1:
        ax.plot(land, drop, "-", color=GREY, lw=1.0)
    limits = {"vmin": float(wall[solved].min()), "vmax": float(wall[solved].max())}
    for mask, marker, text in (
        (solved & ~kept, "x", "a limit broken or not evaluated"),
        (kept, "o", "keeps every limit (nominal channel)"),
    ):
        style: dict[str, Any] = {"marker": marker, "cmap": "viridis_r", "label": text, **limits}
        points = ax.scatter(land[mask], drop[mask], 18, wall[mask], **style)
    figure.colorbar(points, ax=ax, pad=0.02).set_label(WALL_LABEL)
    if solved.sum() <= MOST_TEXTS:
        _texts(ax, land, drop, wall)
    ax.legend(loc="best", fontsize=8)
