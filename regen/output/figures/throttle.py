"""Figure of the throttle line of an operating envelope."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.output.figures import style
from regen.output.figures.along import legend_below
from regen.output.labels import limit_name
from regen.result import Array, Margin
from regen.studies.envelope.study import Envelope, Row

MARKERS = "osD^vP*X<>"

CLIP = 60.0
"""Margins beyond this are not told apart [%]."""

LEVEL: dict[str, Any] = {"color": "black", "ls": "-.", "lw": 1.1}


def throttle_figure(envelope: Envelope) -> Figure:
    """Return the throttle line: wall, flux, coolant pressure and margins over chamber pressure."""
    rows = envelope.throttle_line
    p = np.array([row.point.chamber_pressure for row in rows]) * 1e-5
    figure = style.sheet(10.0, f"{envelope.title}: throttle line", envelope.conditions)
    axes = list(figure.subplots(4, 1, sharex=True, height_ratios=(1, 1, 1, 1.5)))
    own = envelope.nominal.point.chamber_pressure * 1e-5
    _wall(axes[0], rows, p)
    _flux(axes[1], envelope.nominal, rows, p)
    _pressures(axes[2], envelope, rows, p)
    _margins(axes[3], rows, p)
    for ax in axes:
        ax.axvline(own, **style.THROAT)
        _hatch_not_solved(ax, rows, p)
    _name_not_solved(axes[3], rows, p)
    axes[3].set_xlabel("chamber pressure [bar]; dotted: the case's own")
    style.percent_on_top(axes[0], own, "chamber pressure [% of the case's]")
    return figure


def _values(rows: Sequence[Row], key: str) -> Array:
    return np.array([row.summary[key] if row.summary else np.nan for row in rows])


def _wall(ax: Axes, rows: Sequence[Row], p: Array) -> None:
    bands = np.array([row.T_wall_hot_band or (np.nan, np.nan) for row in rows])
    ax.fill_between(p, *bands.T, color=style.RED, alpha=0.2, lw=0, label="band of correlations")
    ax.plot(p, _values(rows, "T_wall_hot_max_K"), "o-", color=style.RED, ms=4, label="nominal")
    limits = {m.limit for row in rows for m in row.margins if m.name == "hot_wall_temperature"}
    for limit in limits - {None}:
        ax.axhline(limit or 0.0, **LEVEL, label=f"limit {limit:.0f} K")
    ax.set_ylabel("peak hot-wall\ntemperature [K]")
    ax.legend(loc="best", fontsize=8, ncols=3)


def _flux(ax: Axes, own: Row, rows: Sequence[Row], p: Array) -> None:
    q, label, unit = _values(rows, "q_max_W_m2") * 1e-6, "peak heat flux", "[MW/m²]"
    if own.summary:
        label, unit = "peak heat flux over the case's", "over the case's [-]"
        q = _values(rows, "q_max_W_m2") / own.summary["q_max_W_m2"]
    ax.plot(p, q, "o-", color=style.GREEN, ms=4, label=label)
    ax.set_ylabel(f"peak heat flux\n{unit}")
    if own.summary:
        whole = own.point.chamber_pressure * 1e-5
        ratio = np.linspace(p[0], p[-1], 60) / whole
        law = "(chamber pressure over the case's)$^{0.8}$"
        ax.plot(ratio * whole, ratio**0.8, color="black", ls="--", lw=1, label=law)
    ax.legend(loc="best", fontsize=8)


def _pressures(ax: Axes, envelope: Envelope, rows: Sequence[Row], p: Array) -> None:
    inlet, outlet = (
        np.array([row.coolant_pressure(end) for row in rows]) * 1e-5 for end in ("inlet", "outlet")
    )
    ax.plot(p, inlet, "^-", color=style.BLUE, ms=4, label="coolant inlet")
    ax.plot(p, outlet, "o--", color=style.BLUE, ms=4, label="coolant outlet")
    ax.plot(p, p, color=style.ORANGE, lw=1.2, ls=":", label="chamber")
    critical = envelope.p_critical * 1e-5
    if critical > 0.0:
        ax.axhline(critical, **LEVEL, label=f"critical, {critical:.1f} bar")
    ax.set_ylabel("pressure [bar]")
    ax.set_ylim(bottom=0)
    ax.legend(loc="best", fontsize=8, ncols=2)


def _margins(ax: Axes, rows: Sequence[Row], p: Array) -> None:
    margins: dict[str, Margin] = {m.name: m for row in reversed(rows) for m in row.margins}
    style.grey_below_zero(ax, -CLIP)
    beyond, shown = [], []
    for name, margin in margins.items():
        values = 100.0 * np.array(
            [getattr(row.margin(name), "nominal", None) for row in rows], float
        )
        known = values[np.isfinite(values)]
        if known.size and known.min() > CLIP:
            beyond.append(limit_name(name))
        elif known.size:
            shown.append((limit_name(name, margin.informative), values))
    for number, (text, values) in enumerate(shown):
        colour, dash = style.line_look(number)
        marker = MARKERS[number % len(MARKERS)]
        ax.plot(p, values, marker=marker, color=colour, ls=dash, ms=4.5, label=text)
    low = min((np.nanmin(values) for _, values in shown), default=0.0)
    ax.set_ylim(max(-CLIP, min(-0.2 * CLIP, 1.2 * low)), CLIP)
    ax.set_ylabel("nominal margin [% of the limit]\ngrey: broken")
    title = style.folded(f"above {CLIP:.0f} % throughout: {', '.join(beyond)}") if beyond else None
    if shown:
        legend_below(ax, 3, title=title, title_fontsize=8)


def _hatch_not_solved(ax: Axes, rows: Sequence[Row], p: Array) -> None:
    """Hatch the stretches without a solved point, up to the solved points beside them."""
    for solved, stretch in groupby(range(p.size), lambda n: rows[n].solved):
        if not solved:
            at = list(stretch)
            low, high = p[max(at[0] - 1, 0)], p[min(at[-1] + 1, p.size - 1)]
            ax.axvspan(low, high, zorder=0, **style.UNSOLVED)


def _name_not_solved(ax: Axes, rows: Sequence[Row], p: Array) -> None:
    """Say why points are not solved, at different levels so that neighbours stay apart."""
    for number, status in enumerate(dict.fromkeys(row.status for row in rows if not row.solved)):
        middle = p[[row.status == status for row in rows]].mean()
        text, level = style.folded(f"not solved: {status}", 20), 0.85 - 0.3 * (number % 3)
        ax.text(
            middle, level, text, transform=ax.get_xaxis_transform(), fontsize=8, **style.CENTRED
        )
