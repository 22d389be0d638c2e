"""What every figure has in common: colours, settings, size, and how it becomes a file.

Colours are told apart by the colour-blind (Okabe and Ito's set) and every curve also differs by
dash or marker, so that the figures survive a grey printer.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable
from io import BytesIO
from typing import Any

import matplotlib as mpl
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

RED, BLUE, ORANGE, GREEN, GREY = "#D55E00", "#0072B2", "#E69F00", "#009E73", "#555555"
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

WIDTH = 8.2
"""Width of every figure [in]."""

BESIDE: dict[str, Any] = {"textcoords": "offset points", "va": "top", "fontsize": 8}
"""An annotation just beside the point it is about."""

THROAT: dict[str, Any] = {"color": GREY, "lw": 0.8, "ls": (0, (1, 2))}

UNSOLVED: dict[str, Any] = {"facecolor": "#f2f2f2", "edgecolor": "#999999", "hatch": "xxx", "lw": 0}
UNKNOWN: dict[str, Any] = {"facecolor": "#ffffff", "edgecolor": "#777777", "hatch": "..", "lw": 0}
"""Where nothing is solved; and where it is, but a limit could not be evaluated."""

LINES: tuple[tuple[str, Any], ...] = (
    ("black", "-"),
    (BLUE, (0, (6, 2))),
    (RED, (0, (1, 1.2))),
    (GREEN, (0, (6, 2, 1, 2))),
    ("#7A3E9D", (0, (3, 1.5))),
    (ORANGE, (0, (2, 2, 6, 2))),
    (GREY, (0, (8, 2, 1, 2, 1, 2))),
    ("#56B4E9", "-"),
    ("#8C6D1F", (0, (9, 3))),
    ("#CC79A7", (0, (1, 3))),
)
"""Colour and dash of the limits that are reached, in the judge's order."""

BOX: dict[str, Any] = {"boxstyle": "round,pad=0.25", "fc": "white", "ec": "none", "alpha": 0.9}
"""Behind a text on a curve or a fill."""

CENTRED: dict[str, Any] = {"ha": "center", "va": "center", "bbox": BOX}
"""A text on a fill, about a point."""

CORNER: dict[str, Any] = {"loc": "upper left", "bbox_to_anchor": (1.0, 1.0), "fontsize": 8}
"""A legend at the right, where it covers no curve."""


def sheet(height: float, title: str = "", below: Iterable[str] = ()) -> Figure:
    """Return an empty figure of a height [in], a title above it and paragraphs below."""
    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    if title:
        figure.suptitle(title, fontsize=11)
    if text := "\n".join(map(folded, below)):
        figure.supxlabel(text, fontsize=8)
    return figure


def line_look(number: int) -> tuple[str, Any]:
    """Return colour and dash of the limit or curve of a number, see ``LINES``."""
    return LINES[number % len(LINES)]


def handle(label: str, colour: str = GREY, dash: Any = "-", **options: Any) -> Line2D:
    """Return an entry of a legend: a line of this look."""
    return Line2D([], [], color=colour, ls=dash, label=label, **options)


def casing(width: float = 3.0) -> list[Any]:
    """Return white edges for a line or a text, so that it is seen on a fill."""
    return [patheffects.withStroke(linewidth=width, foreground="white")]


def zero_line(
    ax: Axes, fields: tuple[Any, Any, Any], look: tuple[str, Any], text: str, edge: float = 3.0
) -> tuple[Any, Line2D]:
    """Draw where a field (x, y, values) is zero, with white edges [pt]; return line and handle."""
    colour, dash = look
    line = ax.contour(*fields, [0.0], colors=[colour], linestyles=[dash], linewidths=1.8)
    line.set_path_effects(casing(edge))
    return line, handle(text, colour, dash, lw=1.8)


def grey_below_zero(ax: Axes, bottom: float) -> None:
    """Shade negative margins down to ``bottom`` [%] and draw the line of zero."""
    ax.axhspan(bottom, 0.0, color="black", alpha=0.07, lw=0)
    ax.axhline(0.0, color="black", lw=1.2)


def render(make: Callable[[], Figure]) -> bytes:
    """Draw a figure in the common style and return it as SVG without a date, always the same."""
    buffer = BytesIO()
    with mpl.rc_context(RC):
        make().savefig(buffer, format="svg", metadata={"Date": None, "Creator": "regen"})
    return buffer.getvalue()


def folded(text: str, width: int = 105) -> str:
    """Return a text in lines of at most ``width`` letters."""
    return textwrap.fill(text, width)


def percent_on_top(ax: Axes, whole: float, label: str) -> None:
    """Name the horizontal axis a second time, above, as per cent of ``whole`` [its unit]."""
    ways: Any = (lambda value: 100.0 * value / whole, lambda percent: percent * whole / 100.0)
    ax.secondary_xaxis("top", functions=ways).set_xlabel(label)
