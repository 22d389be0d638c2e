"""Maps of an operating envelope: what limits where."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray

from regen.output import words
from regen.output.envelope_map import Map, least, map_of, refine, refined
from regen.output.envelope_words import line_of, rules
from regen.output.figures.style import (
    BOX,
    GREY,
    LINES,
    RC,
    UNKNOWN,
    UNSOLVED,
    WIDTH,
    draw_each,
    folded,
    percent_on_top,
)
from regen.output.figures.throttle import throttle_figure
from regen.output.files import Drawn
from regen.result import Array
from regen.studies.envelope.axes import Axis
from regen.studies.envelope.study import Envelope, Row

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

CASING: list[Any] = [patheffects.withStroke(linewidth=3.2, foreground="white")]

CRITICAL = (("inlet", (0, (1, 1))), ("outlet", (0, (4, 1, 1, 1))))
"""Ends of the coolant's way, and the dash of the line where each is at the critical pressure."""

MAPS = {
    "envelope_nominal": (("nominal",), "nominal channel"),
    "envelope_band": (("band_edge", "worst_channel"), "band edge and worst channel"),
}
"""Which runs each map shows the least of, and what it is called."""


def drawn(envelope: Envelope) -> Drawn:
    """Return every figure of an envelope.

    Parameters
    ----------
    envelope : Envelope
        Solved envelope.

    Returns
    -------
    Drawn
        SVG documents by path within the output folder; the throttle line only where the chamber
        pressure is an axis.
    """
    figures: dict[str, Callable[[], Figure]] = {
        f"figures/{name}.svg": partial(map_figure, envelope, name) for name in MAPS
    }
    if line_of(envelope):
        figures["figures/throttle_line.svg"] = partial(throttle_figure, envelope)
    return draw_each(figures)


def map_figure(envelope: Envelope, name: str) -> Figure:
    """Return one map: the least margin with every limit's line above, what governs below.

    Parameters
    ----------
    envelope : Envelope
        Solved envelope.
    name : str
        Key of ``MAPS``.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    runs, title = MAPS[name]
    found = map_of(envelope, runs)
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 10.0), layout="constrained")
        margin, which = figure.subplots(2, 1, sharex=True, sharey=True)
        for ax in (margin, which):
            _frame(ax, found)
            _points(ax, envelope, found)  # first: texts keep clear of them
        _least_margin(figure, margin, found)
        handles, said = _limit_lines(margin, found)
        handles += _critical_lines(margin, envelope, found)
        _legend(margin, [*handles, *_patches(found)], said)
        _regions(which, found)
        own, kind = found.x.nominal, found.x.kind
        if own is not None and kind.unit != "K":
            percent_on_top(margin, own * kind.factor, f"{kind.label} [% of the case's]")
        which.set_xlabel(_label(found.x))
        margin.set_title(f"{title}: least margin, and where each limit is reached")
        which.set_title(f"{title}: which limit has the least margin")
        figure.suptitle(envelope.title, fontsize=11)
        figure.supxlabel(_said_below(envelope), fontsize=8)
    return figure


def _said_below(envelope: Envelope) -> str:
    said = "Dots: computed points; between them everything is drawn straight."
    return "\n".join(folded(text) for text in (said, *rules(envelope)))


def _label(axis: Axis) -> str:
    return f"{axis.kind.label} [{axis.kind.unit or '-'}]"


def _shown(axis: Axis) -> Array:
    """Return the refined values of an axis in the unit it is drawn in [any]."""
    return refined(axis) * axis.kind.factor


def _frame(ax: Axes, found: Map) -> None:
    """Hatch everything: what is solved, and then what is judged, is drawn over it."""
    x, y = _shown(found.x), _shown(found.y)
    pad = 0.03 * np.ptp(x), 0.05 * np.ptp(y)
    ax.set_xlim(x[0] - pad[0], x[-1] + pad[0])
    ax.set_ylim(y[0] - pad[1], y[-1] + pad[1])
    ax.set_ylabel(_label(found.y))
    ax.grid(visible=False)
    ax.fill_between(x[[0, -1]], y[[0, 0]], y[[-1, -1]], **UNSOLVED)
    solved = refine(found.field(lambda row: 1.0 if row.solved else np.nan))
    if np.isfinite(solved).any():
        fill = ax.contourf(x, y, solved, [0.5, 1.5], colors=["white"], hatches=[".."])
        fill.set_edgecolor("#999999")


def _least_margin(figure: Figure, ax: Axes, found: Map) -> None:
    if not found.deciding:
        return
    value, _ = least({name: refine(values) for name, values in found.deciding.items()})
    colours = ListedColormap(list(FILLS[1:-1])).with_extremes(under=FILLS[0], over=FILLS[-1])
    fill = ax.contourf(
        _shown(found.x),
        _shown(found.y),
        100.0 * value,
        LEVELS,
        cmap=colours,
        norm=BoundaryNorm(LEVELS, colours.N),
        extend="both",
    )
    bar = figure.colorbar(fill, ax=ax, pad=0.02, ticks=LEVELS)
    bar.set_label("least margin [% of the limit]\nbelow 0, dark: a limit is broken")


def _limit_lines(ax: Axes, found: Map) -> tuple[list[Line2D], list[str]]:
    """Draw where each limit is just reached; return the lines, and what is said of the others."""
    groups: dict[str, list[str]] = {"kept": [], "broken": [], "not evaluated": [], "reached": []}
    for name, values in found.margins.items():
        known = values[np.isfinite(values)]
        how = "reached"
        if not known.size:
            how = "not evaluated"
        elif known.min() >= 0.0:
            how = "kept"
        elif known.max() < 0.0:
            how = "broken"
        groups[how].append(name)
    lines = []
    for number, name in enumerate(groups.pop("reached")):
        colour, dash = LINES[number % len(LINES)]
        info = " (information)" if name in found.informative else ""
        text = f"{words.spoken(name)} at its limit{info}"
        if _zero_line(ax, found, found.margins[name], words.spoken(name), (colour, dash)):
            lines.append(Line2D([], [], color=colour, ls=dash, lw=1.8, label=text))
    said = [
        f"{how} wherever solved: {', '.join(words.spoken(name) for name in names)}"
        for how, names in groups.items()
        if names
    ]
    return lines, said


def _zero_line(ax: Axes, found: Map, values: Array, text: str, style: tuple[str, Any]) -> bool:
    """Draw and name the line where values (y, x) [any] are zero; False if there is none."""
    fine = refine(values)
    if not np.isfinite(fine).any() or not np.nanmin(fine) < 0.0 < np.nanmax(fine):
        return False
    colour, dash = style
    line = ax.contour(
        *(_shown(found.x), _shown(found.y), fine, [0.0]),
        colors=[colour],
        linestyles=[dash],
        linewidths=1.8,
    )
    line.set_path_effects(CASING)
    vertices = np.concatenate([path.vertices for path in line.get_paths()])
    if not len(vertices):  # solved along one edge of the map alone: no cell has a line
        return False
    at = _clear_place(ax, vertices)
    ax.text(
        at[0], at[1], text, color=colour, fontsize=8, ha="center", va="center", bbox=BOX, zorder=5
    )
    return True


def _clear_place(ax: Axes, candidates: Array) -> tuple[float, float]:
    """Return the candidate (n, 2) [axes' units] farthest from all texts and marks, and inside."""
    low = np.array([ax.get_xlim()[0], ax.get_ylim()[0]])
    size = np.array([np.ptp(ax.get_xlim()), np.ptp(ax.get_ylim())])
    place = (candidates - low) / size
    taken = [np.array(text.get_position()) for text in ax.texts]
    own = (line for line in ax.lines if line.get_gid() == OWN)
    taken += [np.array([line.get_xdata(), line.get_ydata()]).ravel() for line in own]
    distance = np.full(len(place), np.inf)
    for other in ((at - low) / size for at in taken):
        # a text is wide and flat: what is above it is farther than what is beside it
        apart = np.hypot(*((place - other) * np.array([1.0, 2.5])).T)
        distance = np.minimum(distance, apart)
    inside = np.minimum(place, 1.0 - place) * np.array([1.0, 2.5])
    a, b = candidates[np.argmax(np.minimum(distance, 2.0 * inside.min(axis=1)))]
    return float(a), float(b)


def _critical_lines(ax: Axes, envelope: Envelope, found: Map) -> list[Line2D]:
    """Draw where the coolant's inlet and outlet are at its critical pressure."""
    lines = []
    for end, dash in CRITICAL:
        values = found.field(_pressure(end)) - envelope.p_critical
        if _zero_line(ax, found, values, f"coolant {end} critical", (GREY, dash)):
            text = f"coolant {end} at its critical pressure"
            lines.append(Line2D([], [], color=GREY, ls=dash, lw=1.8, label=text))
    return lines


def _pressure(end: str) -> Callable[[Row], float]:
    """Return the coolant's pressure at one end as given or as solved [Pa]."""

    def at(row: Row) -> float:
        given: float | None = getattr(row.point, f"{end}_pressure")
        if given is not None:
            return given
        return row.summary[f"coolant_pressure_{end[:-3]}_Pa"] if row.summary else np.nan

    return at


def _patches(found: Map) -> list[Patch]:
    patches = []
    solved = found.field(lambda row: 1.0 if row.solved else np.nan)
    if np.isnan(solved).any():
        patches.append(Patch(label="not solved (crosses)", **UNSOLVED))
    if found.deciding:
        value, _ = least({name: refine(values) for name, values in found.deciding.items()})
        if np.any(np.isnan(value) & np.isfinite(refine(solved))):
            patches.append(Patch(label="a limit not evaluated, the others kept", **UNKNOWN))
    return patches


def _legend(ax: Axes, handles: list[Any], said: list[str]) -> None:
    ax.legend(
        handles=handles,
        loc="upper center",
        bbox_to_anchor=(0.5, -0.06),
        ncols=2,
        fontsize=8,
        title="\n".join(folded(text) for text in said),
        title_fontsize=8,
        frameon=False,
    )


def _regions(ax: Axes, found: Map) -> None:
    """Fill where each limit has the least margin, and name it there."""
    x, y = _shown(found.x), _shown(found.y)
    if not found.deciding:
        return
    _, which = least({name: refine(values) for name, values in found.deciding.items()})
    for number, name in enumerate(found.deciding):
        inside = which == number
        if not inside.any():
            continue
        share = inside.astype(float)
        ax.contourf(x, y, share, [0.5, 1.5], colors=[REGIONS[number % len(REGIONS)]])
        if not inside.all():
            ax.contour(x, y, share, [0.5], colors="black", linewidths=0.6)
        rows, columns = np.nonzero(inside)
        at = _clear_place(ax, np.column_stack([x[columns], y[rows]])[_deep(inside)])
        ax.text(at[0], at[1], words.spoken(name), ha="center", va="center", fontsize=9, bbox=BOX)


def _deep(inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which of the cells of a region (y, x) are deep inside, at least a quarter of them."""
    depth = np.zeros(inside.shape, dtype=int)
    rest = inside
    while rest.any():
        depth += rest
        padded = np.pad(rest, 1)
        rest = rest & padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2] & padded[1:-1, 2:]
    found = depth[inside]
    return np.asarray(found >= np.quantile(found, 0.75))


def _points(ax: Axes, envelope: Envelope, found: Map) -> None:
    """Mark the points that were computed, the case's own, and why some were not solved."""
    x, y = (np.array(axis.values) * axis.kind.factor for axis in (found.x, found.y))
    groups: dict[str, list[tuple[float, float]]] = {}
    for line, b in zip(found.rows, y, strict=True):
        for row, a in zip(line, x, strict=True):
            groups.setdefault(row.status, []).append((float(a), float(b)))
    for status, at in groups.items():
        marker, size = (".", 3.0) if status == "solved" else ("x", 5.0)
        ax.plot(*zip(*at, strict=True), marker, color="black", ms=size, mew=0.9, zorder=4)
        if status != "solved":
            a, b = np.array(at).mean(axis=0)
            text = folded(f"not solved: {status}", 20)
            ax.text(a, b, text, ha="center", va="center", fontsize=8, bbox=BOX, zorder=5)
    _own_point(ax, envelope, found)


def _own_point(ax: Axes, envelope: Envelope, found: Map) -> None:
    row = envelope.nominal
    place = []
    for axis in (found.x, found.y):
        value = getattr(row.point, axis.kind.name)
        if value is None:  # an inlet pressure that the case leaves to be solved
            value = row.summary["coolant_pressure_in_Pa"] if row.summary else np.nan
        place.append(float(value) * axis.kind.factor)
    ax.plot(*place, "o", ms=9, mfc="white", mec="black", mew=1.6, zorder=6, gid=OWN)
    at = place[0], place[1]
    # towards the middle, where there is room
    left, low = (
        v < np.mean(span) for v, span in zip(at, (ax.get_xlim(), ax.get_ylim()), strict=True)
    )
    ax.annotate(
        "nominal",
        at,
        (9 if left else -9, 8 if low else -8),
        textcoords="offset points",
        ha="left" if left else "right",
        va="bottom" if low else "top",
        fontsize=9,
        bbox=BOX,
        zorder=6,
    )
