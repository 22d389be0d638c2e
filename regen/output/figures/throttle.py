"""Figure of the throttle line of an operating envelope."""

from __future__ import annotations

from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.output import words
from regen.output.envelope_words import line_of, rules
from regen.output.figures.style import (
    BLUE,
    BOX,
    GREEN,
    GREY,
    LINES,
    ORANGE,
    RC,
    RED,
    UNSOLVED,
    WIDTH,
    folded,
    percent_on_top,
)
from regen.result import Array, Margin
from regen.studies.envelope.study import Envelope, Row

MARKERS = "osD^vP*X<>"

CLIP = 60.0
"""Margins beyond this are not told apart [%]."""


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
            _not_solved(ax, rows, p, named=ax is axes[3])
        axes[3].set_xlabel("chamber pressure [bar]; dotted: the case's own")
        percent_on_top(axes[0], own, "chamber pressure [% of the case's]")
        figure.suptitle(f"{envelope.title}: throttle line", fontsize=11)
        figure.supxlabel("\n".join(folded(text) for text in rules(envelope)), fontsize=8)
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
        given = np.array([getattr(row.point, f"{label}_pressure") or np.nan for row in rows])
        solved = _values(rows, f"coolant_pressure_{key}_Pa")
        values = np.where(np.isnan(given), solved, given) * 1e-5
        ax.plot(p, values, marker + dash, color=BLUE, ms=4, label=f"coolant {label}")
    ax.plot(p, p, color=ORANGE, lw=1.2, ls=":", label="chamber")
    critical = envelope.p_critical * 1e-5
    if critical > 0.0:
        ax.axhline(critical, color="black", ls="-.", lw=1.1, label=f"critical, {critical:.1f} bar")
    ax.set_ylabel("pressure [bar]")
    ax.set_ylim(bottom=0)
    ax.legend(loc="best", fontsize=8, ncols=2)


def _margins(ax: Axes, rows: list[Row], p: Array) -> None:
    margins: dict[str, Margin] = {m.name: m for row in reversed(rows) for m in row.margins}
    ax.axhspan(-CLIP, 0.0, color="black", alpha=0.07, lw=0)
    ax.axhline(0.0, color="black", lw=1.2)
    beyond, shown = [], []
    for name, margin in margins.items():
        values = np.array([_nominal(row, name) for row in rows]) * 100.0
        known = values[np.isfinite(values)]
        if known.size and known.min() > CLIP:
            beyond.append(words.short(margin))
        elif known.size:
            shown.append((margin, values))
    for number, (margin, values) in enumerate(shown):
        colour, dash = LINES[number % len(LINES)]
        marker = MARKERS[number % len(MARKERS)]
        text = words.short(margin) + (" (information)" if margin.informative else "")
        ax.plot(p, values, marker=marker, color=colour, ls=dash, ms=4.5, label=text)
    low = min((values[np.isfinite(values)].min() for _, values in shown), default=0.0)
    ax.set_ylim(max(-CLIP, min(-0.2 * CLIP, 1.2 * low)), CLIP)
    ax.set_ylabel("nominal margin [% of the limit]\ngrey: broken")
    title = folded(f"above {CLIP:.0f} % throughout: {', '.join(beyond)}") if beyond else None
    place: dict[str, Any] = {"loc": "upper center", "bbox_to_anchor": (0.5, -0.2)}
    if shown:
        ax.legend(**place, ncols=3, fontsize=8, title=title, title_fontsize=8)


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
    for number, status in enumerate(dict.fromkeys(row.status for row in rows if not row.solved)):
        if named:
            middle = p[[row.status == status for row in rows]].mean()
            across = ax.get_xaxis_transform()
            text = folded(f"not solved: {status}", 20)
            level = 0.85 - 0.3 * (number % 3)  # neighbours must not cover each other
            ax.text(
                middle,
                level,
                text,
                transform=across,
                ha="center",
                va="center",
                fontsize=8,
                bbox=BOX,
            )


def _stretches(flags: Any) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
