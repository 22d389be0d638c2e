"""Figures of a sweep of two keys (curves, map, land), and what all figures of a sweep share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from regen.output.figures import style
from regen.output.figures.along import legend_below
from regen.output.labels import limit_name
from regen.output.sweep_table import DROP, LAND, TEXTS, WALL, SweepSummary
from regen.quantities import decimal, quantity
from regen.result import Array
from regen.studies.batch.parameters import Parameter
from regen.studies.batch.rows import ASKED

WALL_LABEL, DROP_LABEL = quantity(WALL).axis, quantity(DROP).axis

SAME_LIMIT = 1e-3
"""Relative spread of the wall's limit over the rows below which it is one line [-]."""

MOST_CURVES = 8
"""Curves of a family; of more values some are chosen, evenly."""

MOST_TEXTS = 60
"""Points that each have their wall temperature beside them; above, contour lines give it."""

LEAST_NAMED = 60.0
"""Extent of a line below which its name would hide it [px]."""

KEPT_LABELS = "a limit exceeded or not evaluated", "meets every limit (nominal channel)"

MARKERS = "os^Dv<>P"

OTHER_RUNS = (style.GREY, (0, (10, 3)))
"""Look of the line where a band edge or the worst channel is at a limit."""

EXCEEDED: dict[str, Any] = {"facecolor": "none", "edgecolor": "#555555", "hatch": "///", "lw": 0}


def solved_of(summary: SweepSummary) -> NDArray[np.bool_]:
    """Return which of the drawn rows were solved."""
    return np.asarray(summary.sample["status"] == "solved")


def framed(
    summary: SweepSummary, height: float, rows: int = 1, **labels: str
) -> tuple[Figure, list[Axes]]:
    """Return a figure with axes, the case's title above and what must be known of it below."""
    kept = f"every limit met (nominal) by {summary.kept}"
    notes = [f"{summary.rows} designs, {summary.solved} solved; {kept}."]
    if summary.thinned:
        drawn = len(summary.sample["row"])
        notes.append(f"{drawn} of the designs are drawn, evenly chosen; the front is from all.")
    if summary.plan.judged != "full":
        notes.append(f"Judged: {TEXTS['judged'][summary.plan.judged]}.")
    figure = style.sheet(height, summary.plan.design.title, [" ".join(notes)])
    axes = list(figure.subplots(rows, 1, sharex=True, squeeze=False)[:, 0])
    axes[-1].set(**labels)
    return figure, axes


def wall_limit(summary: SweepSummary) -> float | None:
    """Return the limit of the hot-gas-side wall [K], None if there is none or rows differ in it."""
    if "hot_wall_temperature" not in summary.limits:
        return None
    # margin = (limit - T)/limit, at the hottest place
    limit = summary.sample[WALL] / (1.0 - summary.margin("hot_wall_temperature"))
    known = limit[np.isfinite(limit)]
    one = known.size and np.ptp(known) <= SAME_LIMIT * known.max()
    return float(np.median(known)) if one else None


def limit_line(ax: Axes, limit: float | None) -> None:
    """Draw the limit of the wall [K], if it is one and not far above everything else."""
    low, high = ax.get_ylim()
    if limit is None or limit > high + (high - low):
        return
    ax.axhline(limit, color=style.RED, lw=1.2, ls=(0, (8, 2, 1, 2)))
    look: dict[str, Any] = {"xycoords": ("axes fraction", "data"), "ha": "right", "va": "bottom"}
    _annotate(ax, f"limit {limit:.0f} K", (1.0, limit), (-4, 3), color=style.RED, **look)


def _annotate(ax: Axes, text: str, at: Any, offset: tuple[int, int], **look: Any) -> None:
    ax.annotate(text, at, offset, textcoords="offset points", **{"fontsize": 8, **look})


def logarithmic(ax: Axes, values: Array, which: str) -> None:
    """Make the axis "x" or "y" logarithmic if the values span more than a decade."""
    known = values[np.isfinite(values)]
    if known.size and known.min() > 0.0 and known.max() > 10.0 * known.min():
        ax.set(**{f"{which}scale": "log"})
        getattr(ax, f"{which}axis").set_major_formatter("{x:g}")


def shown_values(parameter: Parameter, values: Array) -> Array:
    """Return values of a parameter [SI] as they are shown."""
    return np.array([parameter.shown(value) for value in values])


@dataclass(frozen=True)
class Grid:
    """Drawn rows over two parameters: rising values as shown, and each row's place (y, x)."""

    x_parameter: Parameter
    y_parameter: Parameter
    x: Array
    y: Array
    place: NDArray[np.int64]

    @classmethod
    def of(cls, summary: SweepSummary) -> Grid | None:
        """Return the grid of a sweep of two parameters, None for any other."""
        plan = summary.plan
        if len(plan.parameters) != 2 or plan.table is not None:
            return None
        columns = [summary.sample[parameter.column] for parameter in plan.parameters]
        (x, nx), (y, ny) = (np.unique(column, return_inverse=True) for column in columns)
        place = np.zeros((len(y), len(x)), dtype=np.int64)
        place[ny, nx] = np.arange(len(nx))
        first, second = plan.parameters
        return cls(first, second, shown_values(first, x), shown_values(second, y), place)

    def field(self, column: Any) -> Any:
        """Return a column of the drawn rows as (y, x)."""
        return np.asarray(column)[self.place]

    def shown(self, summary: SweepSummary, key: str) -> Array:
        """Return a quantity of the drawn rows as (y, x) in the unit shown."""
        return np.asarray(quantity(key).shown(self.field(summary.sample[key])))

    def turned(self) -> Grid:
        """Return the same grid with the parameters changed over."""
        return Grid(self.y_parameter, self.x_parameter, self.y, self.x, self.place.T)


def family_figure(summary: SweepSummary, grid: Grid) -> Figure:
    """Draw pressure drop against wall temperature, a curve for each value of the second key."""
    drop, wall = grid.shown(summary, DROP), grid.shown(summary, WALL)
    title = f"along each curve: {grid.x_parameter.label}"
    figure, (ax,) = framed(summary, 6.0, xlabel=DROP_LABEL, ylabel=WALL_LABEL, title=title)
    handles = _curves(ax, grid, drop, wall, summary)
    logarithmic(ax, drop, "x")
    ax.margins(x=0.09)
    solved = np.flatnonzero(np.isfinite(drop[-1]))
    for n in solved[[0, -1]] if solved.size > 1 else []:  # ends of the last curve
        text = f"{grid.x[n]:.6g} {grid.x_parameter.unit}".rstrip()
        _annotate(ax, text, (drop[-1][n], wall[-1][n]), (7, -3), bbox=style.BOX, va="top")
    limit_line(ax, wall_limit(summary))
    ax.legend(handles=handles, title=grid.y_parameter.label, loc="best", fontsize=8)
    return figure


def _curves(ax: Axes, grid: Grid, across: Array, up: Array, summary: SweepSummary) -> list[Line2D]:
    """Draw a curve for each of the chosen values of the second key; return the legend."""
    kept = grid.field(summary.sample["nominal_kept"] == 1.0)
    size = 5 if len(grid.x) <= 25 else 2.5
    handles = []
    for number, line in enumerate(chosen(len(grid.y))):
        colour, dash = style.line_look(number)
        marker = MARKERS[number % len(MARKERS)]
        ax.plot(across[line], up[line], color=colour, ls=dash, lw=1.4, zorder=2)
        for fill, mask in ((colour, kept[line]), ("white", ~kept[line])):
            look: dict[str, Any] = {"color": colour, "mfc": fill, "ms": size, "zorder": 3}
            ax.plot(across[line][mask], up[line][mask], marker, **look)
        handles.append(style.handle(f"{grid.y[line]:.6g}", colour, dash, marker=marker, ms=5))
    return handles + _marks()


def chosen(size: int) -> list[int]:
    """Return at most ``MOST_CURVES`` places of a row of values, evenly, both ends among them."""
    places = np.linspace(0, size - 1, min(size, MOST_CURVES)).round()
    return [int(place) for place in np.unique(places)]


def _marks() -> list[Line2D]:
    look: dict[str, Any] = {"lw": 0, "marker": "o", "ms": 5}
    return [
        style.handle("filled: meets every limit (nominal)", **look),
        style.handle("open: a limit exceeded or not evaluated", **look, mfc="white"),
    ]


def map_figure(summary: SweepSummary, grid: Grid) -> Figure:
    """Draw the map of two keys: wall temperature, pressure drop, and where limits are reached."""
    title = "wall temperature, pressure drop, and where each limit is reached (nominal)"
    x, y = grid.x_parameter.label, grid.y_parameter.label
    figure, (ax,) = framed(summary, 7.2, xlabel=x, ylabel=y, title=title)
    ax.grid(visible=False)
    ax.set(xlim=(grid.x[0], grid.x[-1]), ylim=(grid.y[0], grid.y[-1]))
    ax.fill_between(grid.x[[0, -1]], grid.y[[0, 0]], grid.y[[-1, -1]], **style.UNSOLVED)
    handles: list[Any] = []
    if min(grid.place.shape) > 1:
        handles += _fills(figure, ax, summary, grid)
        handles += _limits(ax, summary, grid)
    handles += _places(ax, summary, grid)
    legend_below(ax, 2, 0.1, handles=handles, frameon=False)
    return figure


def _fills(figure: Figure, ax: Axes, summary: SweepSummary, grid: Grid) -> list[Any]:
    wall, drop = grid.shown(summary, WALL), grid.shown(summary, DROP)
    levels = MaxNLocator(10, steps=[1, 2, 2.5, 5, 10]).tick_values(np.nanmin(wall), np.nanmax(wall))
    fill = ax.contourf(grid.x, grid.y, np.ma.masked_invalid(wall), levels, cmap="YlOrRd")
    figure.colorbar(fill, ax=ax, pad=0.02).set_label(WALL_LABEL)
    look: dict[str, Any] = {"colors": "black", "linewidths": 0.8, "linestyles": ":"}
    lines = ax.contour(grid.x, grid.y, np.ma.masked_invalid(drop), _levels(drop), **look)
    for text in ax.clabel(lines, fmt="%g bar", fontsize=8):
        text.set_bbox({**style.BOX, "pad": 0.1})
    return [style.handle(DROP_LABEL, "black", ":", lw=0.8)]


def _levels(values: Array) -> list[float]:
    """Return values for contour lines: round ones, evenly or, over a decade, by ratios."""
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if low > 0.0 and high > 8.0 * low:
        decades = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))))
        ticks = [m * 10.0**n for n in decades for m in (1, 2, 3, 5, 7)]
    else:
        ticks = [float(tick) for tick in MaxNLocator(7).tick_values(low, high)]
    return [tick for tick in ticks if low < tick < high]


def _limits(ax: Axes, summary: SweepSummary, grid: Grid) -> list[Any]:
    """Draw the zero line of every limit, and hatch where one that decides is exceeded."""
    margins = {
        limit_name(f"{name} at its limit", name in summary.informative): summary.margin(name)
        for name in summary.limits
    }
    others = "band edge or worst channel at a limit"
    runs = [run for run in ASKED[summary.plan.judged] if run != "nominal"]
    if runs and summary.limits:
        margins[others] = np.minimum.reduce([summary.least(run) for run in runs])
    handles: list[Any] = []
    for text, values in margins.items():
        margin = np.ma.masked_invalid(grid.field(values))
        if margin.min() < 0.0 < margin.max():
            look = OTHER_RUNS if text == others else style.line_look(len(handles))
            handles.append(style.zero_line(ax, (grid.x, grid.y, margin), look, text)[1])
    exceeded = False
    for name in summary.deciding:  # hatched alike, so that they run together
        values = np.ma.masked_invalid(grid.field(summary.margin(name)))
        if np.any(values < 0.0):
            exceeded, levels = True, [float(values.min()) - 1.0, 0.0]
            ax.contourf(grid.x, grid.y, values, levels, colors="none", hatches=["///"])
    return handles + [Patch(label="a limit is exceeded", **EXCEEDED)] * exceeded


def _places(ax: Axes, summary: SweepSummary, grid: Grid) -> list[Any]:
    """Mark the designs that were computed, where they are few, and those that were not solved."""
    solved = grid.field(solved_of(summary))
    x, y = np.meshgrid(grid.x, grid.y)
    few = x.size <= 400
    look: dict[str, Any] = {"color": "black", "clip_on": False, "zorder": 4, "ls": ""}
    if few:
        ax.plot(x[solved], y[solved], ".", ms=2.5, **look)
    if solved.all():
        return []
    ax.plot(x[~solved], y[~solved], "x", ms=4 if few else 2.5, mew=0.6, **look)
    return [Patch(label="not solved (crosses)", **style.UNSOLVED)]


def land_figure(summary: SweepSummary, grid: Grid | None) -> Figure:
    """Draw the least land width against pressure drop, with the wall temperature.

    Of a grid of two parameters the one of fewer values makes the curves.
    """
    x = "least land width at the slot floor [mm]"
    figure, (ax,) = framed(summary, 6.6, xlabel=x, ylabel=DROP_LABEL)
    logarithmic(ax, quantity(DROP).shown(summary.sample[DROP]), "y")
    if grid is not None:
        _land_family(ax, summary, grid if len(grid.y) <= len(grid.x) else grid.turned())
    else:
        _land_points(figure, ax, summary)
    ax.use_sticky_edges = False  # contour lines would leave no room at the edges
    ax.autoscale_view()
    return figure


def _land_family(ax: Axes, summary: SweepSummary, grid: Grid) -> None:
    land, drop, wall = (grid.shown(summary, key) for key in (LAND, DROP, WALL))
    handles = _curves(ax, grid, land, drop, summary)
    ax.autoscale_view()  # where texts are placed depends on it
    title = f"along each curve: {grid.x_parameter.label}"
    if land.size > MOST_TEXTS and _wall_lines(ax, land, drop, wall, wall_limit(summary)):
        line = style.handle("hot-gas-side wall temperature [K]", lw=0.9)
        handles.insert(-len(_marks()), line)
    else:
        title += "; numbers: peak wall temperature [K]"
        lines = chosen(len(grid.y))
        _texts(ax, land[lines], drop[lines], wall[lines])
    ax.legend(handles=handles, title=grid.y_parameter.label, loc="best", fontsize=8)
    ax.set_title(title)


def _texts(ax: Axes, across: Array, up: Array, wall: Array) -> None:
    for a, b, T in zip(across.ravel(), up.ravel(), wall.ravel(), strict=True):
        if np.isfinite(T):
            _annotate(ax, decimal(float(T), -1), (a, b), (6, -8), fontsize=7)


def _wall_lines(ax: Axes, across: Array, up: Array, wall: Array, limit: float | None) -> bool:
    """Draw lines of equal wall temperature over a grid of rows (y, x); False if there are none."""
    n = np.arange(across.size).reshape(across.shape)
    a, b, c, d = (part.ravel() for part in (n[:-1, :-1], n[:-1, 1:], n[1:, :-1], n[1:, 1:]))
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
    colours = [style.RED if level == limit else style.GREY for level in levels]
    widths = [1.8 if level == limit else 0.9 for level in levels]
    lines = ax.tricontour(mesh, filled[2], levels, colors=colours, linewidths=widths, zorder=1)
    for path, level, colour in zip(lines.get_paths(), levels, colours, strict=True):
        vertices = np.asarray(path.vertices)
        if vertices.shape[0] > 1:
            text = f"limit {level:.0f} K" if level == limit else f"{level:.0f} K"
            _name_line(ax, vertices, text, colour)
    return True


def _name_line(ax: Axes, vertices: Array, text: str, colour: str) -> None:
    """Write a text in the middle of the longest straight piece of a line, where most room is."""
    shown = ax.transData.transform(vertices)
    if np.ptp(shown, axis=0).max() < LEAST_NAMED:
        return
    longest = int(np.argmax(np.hypot(*np.diff(shown, axis=0).T)))
    a, b = ax.transData.inverted().transform(shown[longest : longest + 2].mean(axis=0))
    box = {**style.BOX, "pad": 0.1}
    ax.text(a, b, text, fontsize=8, color=colour, zorder=5, **{**style.CENTRED, "bbox": box})


def _land_points(figure: Figure, ax: Axes, summary: SweepSummary) -> None:
    sample, solved = summary.sample, solved_of(summary)
    kept = sample["nominal_kept"] == 1.0
    land, drop, wall = (quantity(key).shown(sample[key]) for key in (LAND, DROP, WALL))
    if len(summary.plan.parameters) == 1:
        ax.plot(land, drop, "-", color=style.GREY, lw=1.0)
    limits = {"vmin": float(wall[solved].min()), "vmax": float(wall[solved].max())}
    for mask, marker, text in zip((solved & ~kept, kept), "xo", KEPT_LABELS, strict=True):
        look: dict[str, Any] = {"marker": marker, "cmap": "viridis_r", "label": text, **limits}
        points = ax.scatter(land[mask], drop[mask], 18, wall[mask], **look)
    figure.colorbar(points, ax=ax, pad=0.02).set_label(WALL_LABEL)
    if solved.sum() <= MOST_TEXTS:
        _texts(ax, land, drop, wall)
    ax.legend(loc="best", fontsize=8)
