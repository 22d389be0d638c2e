"""Maps of an operating envelope: what limits where."""

from __future__ import annotations

from operator import methodcaller
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_cdt

from regen.output.figures import style
from regen.output.figures.along import legend_below
from regen.output.figures.envelope_map import Map, map_of, refine
from regen.output.labels import limit_name
from regen.result import Array
from regen.studies.envelope.study import Envelope

_FARES = {(): "not evaluated", (True,): "kept", (False,): "broken", (False, True): "reached"}
"""How a limit fares over a map, by whether its known margins are met."""

OWN = "own point"
"""Marks the case's own point among what is drawn."""

LEVELS = (-20.0, -10.0, -5.0, 0.0, 5.0, 10.0, 20.0)
"""Edges of the fills of the least margin [%]."""

FILLS = (
    *("#5e2305", "#8f3f0c", "#b9601f", "#e09a5f"),
    *("#bcd8ec", "#d3e5f3", "#e8f1f9", "#fbfdfe"),
)
"""From broken, dark, to kept, pale: also in grey a limit is broken where it is dark."""

REGIONS = ("#bcd8ec", "#fbe3c0", "#cdebdd", "#f3d3bd", "#e6e6f5", "#f7f3c6", "#e8d7e8", "#dddddd")

CRITICAL: dict[Any, Any] = {"inlet": (0, (1, 1)), "outlet": (0, (4, 1, 1, 1))}
"""Dash of the line where each end of the coolant's way is at the critical pressure."""

MAPS = {
    "envelope_nominal": (("nominal",), "nominal channel"),
    "envelope_band": (("band_edge", "worst_channel"), "band edge and worst channel"),
}
"""Which runs each map shows the least of, and what it is called."""


def map_figure(envelope: Envelope, name: str) -> Figure:
    """Return one of ``MAPS``: the least margin and the limits' lines above, the governing below."""
    runs, title = MAPS[name]
    area = map_of(envelope, runs)
    below = "Dots: computed points; between them everything is drawn straight."
    figure = style.sheet(10.0, envelope.title, (below, *envelope.conditions))
    margin, which = figure.subplots(2, 1, sharex=True, sharey=True)
    for ax in (margin, which):
        _frame(ax, area)
        _points(ax, envelope, area)  # first: texts keep clear of them
    _least_margin(figure, margin, area)
    handles, elsewhere = _limit_lines(margin, area)
    handles += _critical_lines(margin, envelope, area)
    others = "\n".join(map(style.folded, elsewhere))
    options: dict[str, Any] = {"title": others, "title_fontsize": 8, "frameon": False}
    legend_below(margin, 2, 0.06, handles=[*handles, *_patches(area)], **options)
    _regions(which, area)
    x = area.x.kind.quantity
    if area.x.nominal is not None and x.unit != "K":
        style.percent_on_top(margin, x.shown(area.x.nominal), f"{x.label} [% of the case's]")
    which.set_xlabel(x.axis)
    margin.set_title(f"{title}: least margin, and where each limit is reached")
    which.set_title(f"{title}: which limit has the least margin")
    return figure


def _frame(ax: Axes, area: Map) -> None:
    """Hatch everything: what is solved, and then what is judged, is drawn over it."""
    x, y = area.fine
    pad = 0.03 * np.ptp(x), 0.05 * np.ptp(y)
    ax.set_xlim(x[0] - pad[0], x[-1] + pad[0])
    ax.set_ylim(y[0] - pad[1], y[-1] + pad[1])
    ax.set_ylabel(area.y.kind.quantity.axis)
    ax.grid(visible=False)
    ax.fill_between(x[[0, -1]], y[[0, 0]], y[[-1, -1]], **style.UNSOLVED)
    if np.isfinite(area.solved).any():
        fill = ax.contourf(x, y, area.solved, [0.5, 1.5], colors=["white"], hatches=[".."])
        fill.set_edgecolor("#999999")


def _least_margin(figure: Figure, ax: Axes, area: Map) -> None:
    if area.least is None:
        return
    colours = ListedColormap(list(FILLS[1:-1])).with_extremes(under=FILLS[0], over=FILLS[-1])
    norm = BoundaryNorm(LEVELS, colours.N)
    percent = 100.0 * area.least[0]
    fill = ax.contourf(*area.fine, percent, LEVELS, cmap=colours, norm=norm, extend="both")
    bar = figure.colorbar(fill, ax=ax, pad=0.02, ticks=LEVELS)
    bar.set_label("least margin [% of the limit]\nbelow 0, dark: a limit is broken")


def _limit_lines(ax: Axes, area: Map) -> tuple[list[Line2D], list[str]]:
    """Draw where each limit is just reached; return the lines, and how the others fare."""
    groups: dict[str, list[str]] = {"kept": [], "broken": [], "not evaluated": [], "reached": []}
    for name, values in area.margins.items():
        met = np.unique(values[np.isfinite(values)] >= 0.0).tolist()
        groups[_FARES[tuple(met)]].append(name)
    lines = []
    for number, name in enumerate(groups.pop("reached")):
        text = limit_name(f"{name} at its limit", name in area.informative)
        values, look = area.margins[name], style.line_look(number)
        lines += _zero_line(ax, area, values, limit_name(name), text, look)
    elsewhere = [
        f"{how} wherever solved: {', '.join(map(limit_name, names))}"
        for how, names in groups.items()
        if names
    ]
    return lines, elsewhere


def _zero_line(
    ax: Axes, area: Map, values: Array, name: str, text: str, look: tuple[str, Any]
) -> list[Line2D]:
    """Draw and name the line where values (y, x) [any] are zero; return it for the legend."""
    fine = refine(values)
    if not np.isfinite(fine).any() or not np.nanmin(fine) < 0.0 < np.nanmax(fine):
        return []
    line, entry = style.zero_line(ax, (*area.fine, fine), look, text, 3.2)
    vertices = np.concatenate([path.vertices for path in line.get_paths()])
    if not len(vertices):  # solved along one edge of the map alone: no cell has a line
        return []
    ax.text(*_clear_place(ax, vertices), name, color=look[0], fontsize=8, zorder=5, **style.CENTRED)
    return [entry]


def _clear_place(ax: Axes, candidates: Array) -> tuple[float, float]:
    """Return the candidate (n, 2) [axes' units] farthest from all texts and marks, and inside."""
    low = np.array([ax.get_xlim()[0], ax.get_ylim()[0]])
    size = np.array([np.ptp(ax.get_xlim()), np.ptp(ax.get_ylim())])
    place = (candidates - low) / size
    taken = [np.array(text.get_position()) for text in ax.texts]
    own = (line for line in ax.lines if line.get_gid() == OWN)
    taken += [np.array([line.get_xdata(), line.get_ydata()]).ravel() for line in own]
    distance = np.full(len(place), np.inf)
    flat = np.array([1.0, 2.5])  # a text is wide and flat: what is above it is farther
    for other in ((at - low) / size for at in taken):
        distance = np.minimum(distance, np.hypot(*((place - other) * flat).T))
    inside = np.minimum(place, 1.0 - place) * flat
    a, b = candidates[np.argmax(np.minimum(distance, 2.0 * inside.min(axis=1)))]
    return float(a), float(b)


def _critical_lines(ax: Axes, envelope: Envelope, area: Map) -> list[Line2D]:
    """Draw where the coolant's inlet and outlet are at its critical pressure."""
    lines: list[Line2D] = []
    for end, dash in CRITICAL.items():
        pressure = area.field(methodcaller("coolant_pressure", end))
        values = pressure - envelope.p_critical
        name, text = f"coolant {end} critical", f"coolant {end} at its critical pressure"
        lines += _zero_line(ax, area, values, name, text, (style.GREY, dash))
    return lines


def _patches(area: Map) -> list[Patch]:
    patches = []
    if any(not row.solved for line in area.rows for row in line):
        patches.append(Patch(label="not solved (crosses)", **style.UNSOLVED))
    if area.least is not None and np.any(np.isnan(area.least[0]) & np.isfinite(area.solved)):
        patches.append(Patch(label="a limit not evaluated, the others kept", **style.UNKNOWN))
    return patches


def _regions(ax: Axes, area: Map) -> None:
    """Fill where each limit has the least margin, and name it there."""
    if area.least is None:
        return
    x, y = area.fine
    for number, name in enumerate(area.deciding):
        inside = area.least[1] == number
        if not inside.any():
            continue
        share = inside.astype(float)
        ax.contourf(x, y, share, [0.5, 1.5], colors=[REGIONS[number % len(REGIONS)]])
        if not inside.all():
            ax.contour(x, y, share, [0.5], colors="black", linewidths=0.6)
        rows, columns = np.nonzero(inside)
        at = _clear_place(ax, np.column_stack([x[columns], y[rows]])[_deep(inside)])
        ax.text(*at, limit_name(name), fontsize=9, **style.CENTRED)


def _deep(inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which of the cells of a region (y, x) are deep inside, at least a quarter of them."""
    depth = distance_transform_cdt(np.pad(inside, 1), metric="taxicab")[1:-1, 1:-1][inside]
    return np.asarray(depth >= np.quantile(depth, 0.75))


def _points(ax: Axes, envelope: Envelope, area: Map) -> None:
    """Mark the points that were computed, the case's own, and why some were not solved."""
    x, y = (axis.kind.quantity.shown(np.array(axis.values)) for axis in (area.x, area.y))
    statuses = np.array([[row.status for row in line] for line in area.rows])
    for status in dict.fromkeys(statuses.ravel().tolist()):
        a, b = (values[statuses == status] for values in np.meshgrid(x, y))
        marker, size = (".", 3.0) if status == "solved" else ("x", 5.0)
        ax.plot(a, b, marker, color="black", ms=size, mew=0.9, zorder=4)
        if status != "solved":
            text = style.folded(f"not solved: {status}", 20)
            ax.text(a.mean(), b.mean(), text, fontsize=8, zorder=5, **style.CENTRED)
    _own_point(ax, envelope, area)


def _own_point(ax: Axes, envelope: Envelope, area: Map) -> None:
    row = envelope.nominal
    place = []
    for axis in (area.x, area.y):
        value = getattr(row.point, axis.kind.name)
        if value is None:  # an inlet pressure that the case leaves to be solved
            value = row.coolant_pressure("inlet")
        place.append(axis.kind.quantity.shown(float(value)))
    ax.plot(*place, "o", ms=9, mfc="white", mec="black", mew=1.6, zorder=6, gid=OWN)
    # towards the middle, where there is room
    left, low = (
        v < np.mean(span) for v, span in zip(place, (ax.get_xlim(), ax.get_ylim()), strict=True)
    )
    shift = (9 if left else -9, 8 if low else -8)
    side: dict[str, Any] = {"ha": "left" if left else "right", "va": "bottom" if low else "top"}
    options = {"textcoords": "offset points", "bbox": style.BOX, "zorder": 6, **side}
    ax.annotate("nominal", (place[0], place[1]), shift, fontsize=9, **options)
