"""Margins as bars: nominal, band edge and worst channel of every limit."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.output.figures.style import BLUE, GREY, ORANGE, RED, sheet
from regen.output.labels import COLUMN_LABELS, column_text, limit_name
from regen.result import Margin, Result

CLIP = 100.0
"""Bars of margins beyond this end in an arrow head [%]."""

LOOKS = {
    "nominal": ("o", BLUE, 0.28),
    "band_edge": ("D", ORANGE, 0.0),
    "worst_channel": ("s", RED, -0.28),
}
"""Marker, colour and place of each column, so that they differ in grey too."""


def margins(result: Result) -> Figure:
    """Draw every margin as three bars."""
    count = len(result.margins)
    figure = sheet(1.4 + 0.56 * count)
    ax = figure.subplots()
    ax.axvspan(-CLIP, 0.0, color="black", alpha=0.07, lw=0)
    ax.axvline(0.0, color="black", lw=1.2)
    ax.axvline(CLIP, color="black", lw=0.8)
    for level, margin in enumerate(reversed(result.margins)):
        ax.axhline(level - 0.5, color=GREY, lw=0.4)
        for column in LOOKS:
            _bar(ax, margin, level, column)
    for column, (marker, colour, _) in LOOKS.items():
        label = COLUMN_LABELS[column]
        ax.plot([], [], f"{marker}-", color=colour, mec="black", label=label)
    names = [
        f"{limit_name(m.name, m.informative)}\n{m.verdict or ''}" for m in reversed(result.margins)
    ]
    ax.set_yticks(range(count), names)
    ax.tick_params(axis="y", length=0)
    ax.grid(visible=False, axis="y")
    ax.set_xticks([-100, -50, 0, 50, 100])
    ax.set(xlim=(-CLIP, 1.6 * CLIP), ylim=(-0.5, count - 0.5))
    ax.set_xlabel("margin [% of the limit]; grey: limit exceeded")
    ax.legend(loc="lower center", bbox_to_anchor=(0.4, 1.0), ncols=3)
    return figure


def _bar(ax: Axes, margin: Margin, level: float, name: str) -> None:
    """Draw one bar with its number beside it; a bar beyond the axis ends in an arrow head."""
    marker, colour, shift = LOOKS[name]
    y = level + shift
    ax.text(CLIP * 1.06, y, column_text(margin, name), fontsize=8, va="center")
    column = margin.columns.get(name)
    if column is None or column.margin is None or not column.asked:
        return
    percent = 100.0 * column.margin
    if abs(percent) > CLIP:
        marker = ">" if percent > CLIP else "<"
    end = float(np.clip(percent, -0.96 * CLIP, 0.96 * CLIP))
    ax.hlines(y, 0.0, end, color=colour, lw=2.5)
    ax.plot(end, y, marker, color=colour, mec="black", ms=6)
