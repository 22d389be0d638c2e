"""Figures of an operating envelope: maps of what limits where, and the throttle line."""

from __future__ import annotations

from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from regen.output import words
from regen.output.envelope_map import Map, least, map_of, refine, refined
from regen.output.envelope_words import line_of
from regen.output.figure_style import BLUE, GREEN, GREY, ORANGE, RC, RED, WIDTH, svg
from regen.result import Array, Margin
from regen.studies.axes import Axis
from regen.studies.envelope import Envelope, Row

LEVELS = (-30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0)
"""Edges of the fills of the least margin [%]."""

FILLS = (
    *("#5e2305", "#8f3f0c", "#c26a2a", "#eaa772"),
    *("#cfe3f1", "#e0edf6", "#eff5fa", "#fbfdfe"),
)
"""From broken, dark, to kept, pale: also in grey a limit is broken where it is dark."""

REGIONS = ("#cfe3f1", "#fbe3c0", "#cdebdd", "#f3d3bd", "#e6e6f5", "#f7f3c6", "#e8d7e8", "#dddddd")

UNSOLVED: dict[str, Any] = {"facecolor": "#f2f2f2", "edgecolor": "#999999", "hatch": "xxx", "lw": 0}

LINES: tuple[tuple[str, Any], ...] = (
    ("black", "-"),
    (BLUE, (0, (6, 2))),
    (RED, (0, (1, 1.2))),
    (GREEN, (0, (6, 2, 1, 2))),
    ("#7A3E9D", (0, (3, 1.5))),
    (GREY, (0, (8, 2, 1, 2, 1, 2))),
    (ORANGE, (0, (2, 2, 6, 2))),
)
"""Colour and dash of the limits that are reached on a map, in the judge's order."""

CASING = [patheffects.withStroke(linewidth=3.0, foreground="white")]

BOX: dict[str, Any] = {"boxstyle": "round,pad=0.25", "fc": "white", "ec": "none", "alpha": 0.9}

MARKERS = "osD^vP*X<>"

CLIP = 60.0
"""Margins beyond this are not told apart on the throttle line [%]."""

MAPS = {
    "envelope_nominal": (("nominal",), "nominal channel"),
    "envelope_band": (("band_edge", "worst_channel"), "band edge and worst channel"),
}
"""Which lanes each map shows the least of."""


def drawn(envelope: Envelope) -> dict[str, bytes]:
    """Return every figure of an envelope.

    Parameters
    ----------
    envelope : Envelope
        Solved envelope.

    Returns
    -------
    dict of str to bytes
        SVG documents by path within the output folder; the throttle line only where the chamber
        pressure is an axis.
    """
    figures = {name: map_figure(envelope, name) for name in MAPS}
    if line_of(envelope):
        figures["throttle_line"] = throttle_figure(envelope)
    return {f"figures/{name}.svg": svg(figure) for name, figure in figures.items()}


def map_figure(envelope: Envelope, name: str) -> Figure:
    """Return one map: least margin with every limit's line above, what governs below.

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
    lanes, title = MAPS[name]
    found = map_of(envelope, lanes)
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 9.4), layout="constrained")
        margin, which = figure.subplots(2, 1, sharex=True, sharey=True)
        for ax in (margin, which):
            _frame(ax, envelope, found)
        _least_margin(figure, margin, found)
        _regions(which, found)
        for ax in (margin, which):
            _points(ax, envelope, found)
        _percent_on_top(margin, found.x)
        which.set_xlabel(_label(found.x))
        margin.set_title(f"{title}: least margin, and where each limit is reached")
        which.set_title(f"{title}: which limit has the least margin")
    return figure


def _label(axis: Axis) -> str:
    return f"{axis.kind.label} [{axis.kind.unit or '-'}]"


def _shown(axis: Axis) -> Array:
    """Return the refined values of an axis in the unit it is drawn in [any]."""
    return refined(axis) * axis.kind.factor


def _frame(ax: Axes, envelope: Envelope, found: Map) -> None:
    """Hatch everything: what is solved is drawn over it."""
    x, y = _shown(found.x), _shown(found.y)
    pad = 0.03 * np.ptp(x), 0.04 * np.ptp(y)
    ax.set_xlim(x[0] - pad[0], x[-1] + pad[0])
    ax.set_ylim(y[0] - pad[1], y[-1] + pad[1])
    ax.set_ylabel(_label(found.y))
    ax.grid(visible=False)
    corners = [x[0], x[-1]], [y[0], y[0]], [y[-1], y[-1]]
    ax.fill_between(*corners, **UNSOLVED)


def _percent_on_top(ax: Axes, axis: Axis) -> None:
    if axis.nominal is None or axis.kind.unit == "K":
        return
    whole = axis.nominal * axis.kind.factor
    top = ax.secondary_xaxis(
        "top", functions=(lambda v: 100 * v / whole, lambda v: v * whole / 100)
    )
    top.set_xlabel(f"{axis.kind.label} [% of the case's]")


def _least_margin(figure: Figure, ax: Axes, found: Map) -> None:
    x, y = _shown(found.x), _shown(found.y)
    if not found.deciding:
        return
    fine = {name: refine(values) for name, values in found.deciding.items()}
    value, _ = least(fine)
    colours = ListedColormap(list(FILLS[1:-1])).with_extremes(under=FILLS[0], over=FILLS[-1])
    norm = BoundaryNorm(LEVELS, colours.N)
    fill = ax.contourf(x, y, 100.0 * value, LEVELS, cmap=colours, norm=norm, extend="both")
    bar = figure.colorbar(fill, ax=ax, pad=0.02, ticks=LEVELS)
    bar.set_label("least margin [% of the limit]; dark: a limit is broken")
    _limit_lines(ax, found)


def _limit_lines(ax: Axes, found: Map) -> None:
    """Draw where each limit is just reached, name it there, and list the limits that are not."""
    x, y = _shown(found.x), _shown(found.y)
    reached, kept, broken, unknown = [], [], [], []
    for name, values in found.margins.items():
        known = values[np.isfinite(values)]
        spoken = _spoken(name)
        if not known.size:
            unknown.append(spoken)
        elif known.min() >= 0.0:
            kept.append(spoken)
        elif known.max() < 0.0:
            broken.append(spoken)
        else:
            reached.append((name, spoken))
    handles = []
    for (name, spoken), (colour, dash) in zip(reached, _styles(len(reached)), strict=True):
        fine = refine(found.margins[name])
        line = ax.contour(x, y, fine, [0.0], colors=[colour], linestyles=[dash], linewidths=1.8)
        line.set_path_effects(CASING)
        named = ax.clabel(line, fmt={0.0: spoken}, fontsize=8, inline=True, inline_spacing=3)
        for text in named:
            text.set_bbox(BOX)
        info = ", for information" if name in found.informative else ""
        handles.append(
            Line2D([], [], color=colour, ls=dash, lw=1.8, label=f"{spoken} = limit{info}")
        )
    handles.append(Patch(label="not solved or not evaluated", **UNSOLVED))
    said = [
        f"{what}: {', '.join(names)}"
        for what, names in (
            ("kept wherever solved", kept),
            ("broken wherever solved", broken),
            ("not evaluated anywhere", unknown),
        )
        if names
    ]
    ax.legend(
        handles=handles,
        loc="upper center",
        bbox_to_anchor=(0.5, -0.03),
        ncols=2,
        fontsize=8,
        title="\n".join(_wrapped(text) for text in said),
        title_fontsize=8,
        frameon=False,
    )


def _styles(count: int) -> list[tuple[str, Any]]:
    return [LINES[i % len(LINES)] for i in range(count)]


def _wrapped(text: str, width: int = 105) -> str:
    import textwrap

    return textwrap.fill(text, width)


def _spoken(name: str) -> str:
    return name.replace("_", " ").replace("mach", "Mach number")


def _regions(ax: Axes, found: Map) -> None:
    x, y = _shown(found.x), _shown(found.y)
    if not found.deciding:
        return
    _, which = least({name: refine(values) for name, values in found.deciding.items()})
    for number, name in enumerate(found.deciding):
        inside = which == number
        if not inside.any():
            continue
        ax.contourf(x, y, inside.astype(float), [0.5, 1.5], colors=[REGIONS[number % len(REGIONS)]])
        ax.contour(x, y, inside.astype(float), [0.5], colors="black", linewidths=0.6)
        rows, columns = np.nonzero(inside)
        middle = np.argmin(np.hypot(rows - rows.mean(), columns - columns.mean()))
        at = x[columns[middle]], y[rows[middle]]
        ax.text(*at, _spoken(name), ha="center", va="center", fontsize=9, bbox=BOX)


def _points(ax: Axes, envelope: Envelope, found: Map) -> None:
    """Mark the points that were computed, the case's own, and why some were not solved."""
    x = np.array(found.x.values) * found.x.kind.factor
    y = np.array(found.y.values) * found.y.kind.factor
    groups: dict[str, list[tuple[float, float]]] = {}
    for line, b in zip(found.rows, y, strict=True):
        for row, a in zip(line, x, strict=True):
            groups.setdefault(row.status, []).append((float(a), float(b)))
    for status, at in groups.items():
        solved = status == "solved"
        marker = {"marker": ".", "s": 9} if solved else {"marker": "x", "s": 20}
        ax.scatter(*np.array(at).T, color="black", lw=0.9, zorder=4, **marker)
        if not solved:
            middle = np.array(at).mean(axis=0)
            ax.text(
                *middle, _folded(status), ha="center", va="center", fontsize=8, bbox=BOX, zorder=5
            )
    own = [getattr(envelope.nominal.point, axis.kind.name) for axis in (found.x, found.y)]
    if None not in own:
        place = [
            value * axis.kind.factor for value, axis in zip(own, (found.x, found.y), strict=True)
        ]
        ax.plot(*place, "o", ms=9, mfc="white", mec="black", mew=1.6, zorder=6)
        ax.annotate(
            "case", place, (8, 6), textcoords="offset points", fontsize=9, bbox=BOX, zorder=6
        )


def _folded(text: str) -> str:
    return _wrapped(f"not solved: {text}", 20)


def throttle_figure(envelope: Envelope) -> Figure:
    """Return the throttle line: wall, flux, coolant pressure and margins over chamber pressure.

    Parameters
    ----------
    envelope : Envelope
        Solved envelope with the chamber pressure as an axis.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    rows = line_of(envelope)
    p = np.array([row.point.chamber_pressure for row in rows]) * 1e-5
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 10.0), layout="constrained")
        axes = list(figure.subplots(4, 1, sharex=True, height_ratios=(1, 1, 1, 1.5)))
        _wall(axes[0], rows, p)
        _flux(axes[1], envelope, rows, p)
        _pressures(axes[2], envelope, rows, p)
        _margins(axes[3], rows, p)
        own = envelope.nominal.point.chamber_pressure * 1e-5
        for ax in axes:
            ax.axvline(own, color=GREY, lw=0.8, ls=(0, (1, 2)))
            _not_solved(ax, rows, p, named=ax is axes[0])
        axes[3].set_xlabel("chamber pressure [bar]; dotted: the case's own")
        top = axes[0].secondary_xaxis(
            "top", functions=(lambda v: 100 * v / own, lambda v: v * own / 100)
        )
        point = envelope.nominal.point
        top.set_xlabel(
            f"chamber pressure [% of the case's], at mixture ratio {point.mixture_ratio:g}, "
            f"coolant inlet {point.inlet_temperature:g} K"
        )
        figure.supxlabel(
            "\n".join(
                _wrapped(envelope.rules[key]) for key in ("coolant flow", "coolant pressure")
            ),
            fontsize=8,
        )
    return figure


def _values(rows: list[Row], key: str, factor: float = 1.0) -> Array:
    return np.array([row.summary[key] * factor if row.summary else np.nan for row in rows])


def _wall(ax: Axes, rows: list[Row], p: Array) -> None:
    bands = np.array([row.T_wall_hot_band or (np.nan, np.nan) for row in rows])
    ax.fill_between(p, *bands.T, color=RED, alpha=0.2, lw=0, label="band of correlations")
    ax.plot(p, _values(rows, "T_wall_hot_max_K"), "o-", color=RED, ms=4, label="nominal")
    limits = {m.limit for row in rows for m in row.margins if m.name == "hot_wall_temperature"}
    for limit in limits - {None}:
        ax.axhline(limit or 0.0, color="black", ls="-.", lw=1.1, label=f"limit {limit:.0f} K")
    ax.set_ylabel("peak hot-wall\ntemperature [K]")
    ax.legend(loc="best", fontsize=8, ncols=3)


def _flux(ax: Axes, envelope: Envelope, rows: list[Row], p: Array) -> None:
    own = envelope.nominal
    power = np.linspace(p[0], p[-1], 60) / (own.point.chamber_pressure * 1e-5)
    if own.summary:
        ax.plot(
            p,
            _values(rows, "q_max_W_m2") / own.summary["q_max_W_m2"],
            "o-",
            color=GREEN,
            ms=4,
            label="peak heat flux over the case's",
        )
        ax.plot(
            power * own.point.chamber_pressure * 1e-5,
            power**0.8,
            color="black",
            ls="--",
            lw=1,
            label="(chamber pressure over the case's)$^{0.8}$",
        )
        ax.set_ylabel("peak heat flux\nover the case's [-]")
    else:
        ax.plot(
            p, _values(rows, "q_max_W_m2", 1e-6), "o-", color=GREEN, ms=4, label="peak heat flux"
        )
        ax.set_ylabel("peak heat flux\n[MW/m²]")
    ax.legend(loc="best", fontsize=8)


def _pressures(ax: Axes, envelope: Envelope, rows: list[Row], p: Array) -> None:
    ends = (("in", "^", "-", "inlet"), ("out", "o", "--", "outlet"))
    for key, marker, dash, label in ends:
        values = _values(rows, f"coolant_pressure_{key}_Pa", 1e-5)
        ax.plot(p, values, marker + dash, color=BLUE, ms=4, label=f"coolant {label}")
    ax.plot(p, p, color=ORANGE, lw=1.2, ls=":", label="chamber")
    critical = envelope.p_critical * 1e-5
    ax.axhline(critical, color="black", ls="-.", lw=1.1, label=f"critical, {critical:.1f} bar")
    ax.set_ylabel("pressure [bar]")
    ax.set_ylim(bottom=0)
    ax.legend(loc="best", fontsize=8, ncols=2)


def _margins(ax: Axes, rows: list[Row], p: Array) -> None:
    first: dict[str, Margin] = {m.name: m for row in reversed(rows) for m in row.margins}
    ax.axhspan(-CLIP, 0.0, color="black", alpha=0.07, lw=0)
    ax.axhline(0.0, color="black", lw=1.2)
    beyond = []
    for number, (name, margin) in enumerate(first.items()):
        values = np.array([_nominal(row, name) for row in rows]) * 100.0
        colour, dash = LINES[number % len(LINES)]
        info = " (information)" if margin.informative else ""
        if np.nanmin(np.append(values, np.inf)) > CLIP:
            beyond.append(words.short(margin))
            continue
        marker = MARKERS[number % len(MARKERS)]
        ax.plot(
            p,
            values,
            marker=marker,
            color=colour,
            ls=dash,
            ms=4.5,
            label=words.short(margin) + info,
        )
    ax.set_ylim(-CLIP if _any_below(rows, -0.3) else -0.5 * CLIP, CLIP)
    ax.set_ylabel("nominal margin [% of the limit]\ngrey: broken")
    title = f"above {CLIP:.0f} %: {', '.join(beyond)}" if beyond else None
    ax.legend(
        loc="upper center",
        bbox_to_anchor=(0.5, -0.22),
        ncols=3,
        fontsize=8,
        title=title,
        title_fontsize=8,
    )


def _any_below(rows: list[Row], least_margin: float) -> bool:
    return any(m.nominal is not None and m.nominal < least_margin for r in rows for m in r.margins)


def _nominal(row: Row, name: str) -> float:
    found = next((m.nominal for m in row.margins if m.name == name), None)
    return np.nan if found is None else found


def _not_solved(ax: Axes, rows: list[Row], p: Array, *, named: bool) -> None:
    """Hatch the stretches without a solved point, and say why."""
    solved = np.array([row.solved for row in rows])
    for start, stop in _stretches(~solved):
        low = p[start - 1] if start else p[0]
        high = p[stop] if stop < p.size else p[-1]
        ax.axvspan(low, high, zorder=0, **UNSOLVED)
        if named:
            text = "\n".join(dict.fromkeys(row.status for row in rows[start:stop]))
            ax.text(
                0.5 * (low + high),
                0.5,
                _folded(text),
                transform=ax.get_xaxis_transform(),
                ha="center",
                va="center",
                fontsize=8,
                bbox=BOX,
            )


def _stretches(flags: Any) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
