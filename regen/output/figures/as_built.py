"""Figure of measured slots: peak wall temperature and flow by slot number."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from regen.output.figures.along import legend_below
from regen.output.figures.style import BLUE, GREEN, GREY, ORANGE, RED, sheet
from regen.studies.as_built.slot_verdict import ORDER
from regen.studies.as_built.study import AsBuilt

FLOW = "flow_over_mean"
DRAWN: dict[str, Any] = {"color": GREY, "lw": 1, "ls": (0, (5, 2))}
MARKERS: dict[str, dict[str, Any]] = {
    "use": {"marker": "o", "color": BLUE},
    "rework": {"marker": "^", "color": ORANGE},
    "sleeve": {"marker": "s", "color": GREEN},
    "scrap": {"marker": "X", "color": RED},
    "unknown": {"marker": "P", "color": GREY},
}


def slots_figure(study: AsBuilt) -> Figure:
    """Return wall temperature above and flow below, by slot number."""
    figure = sheet(6.2, f"{study.design.title}: slots as made")
    hot, flow = figure.subplots(2, 1, sharex=True, height_ratios=(2, 1))
    _temperatures(hot, study)
    _flows(flow, study)
    return figure


def _temperatures(ax: Axes, study: AsBuilt) -> None:
    numbers = np.array([slot.measured.number for slot in study.slots])
    own = np.array([slot.summary["T_wall_hot_max_K"] for slot in study.slots])
    streak = np.array([slot.summary["T_wall_hot_max_streak_K"] for slot in study.slots])
    verdicts = np.array([slot.verdict.word for slot in study.slots])
    for verdict in ORDER[::-1]:
        some = verdicts == verdict
        if some.any():
            style = MARKERS[verdict]
            ax.plot(numbers[some], own[some], ls="", label=f"{verdict}: as measured", **style)
            ax.plot(numbers[some], streak[some], ls="", mfc="white", ms=5, alpha=0.9, **style)
    ax.plot([], [], ls="", marker="o", mfc="white", color=GREY, label="hollow: under the streak")
    if np.isfinite(study.T_limit):
        ax.axhline(study.T_limit, color=RED, lw=1.4, label="limit of the hot wall")
    ax.axhline(study.drawn.summary["T_wall_hot_max_K"], **DRAWN, label="slot as drawn")
    worst = study.design.worst_channel.get("T_wall_hot_max_K")
    if worst is not None:
        label = "worst channel of the design"
        ax.axhline(worst, color="black", lw=1, ls=(0, (1, 1.5)), label=label)
    for number in numbers[~np.isfinite(own)]:
        ax.axvline(number, color=GREY, lw=0.8, ls=":")
    ax.set_ylabel("peak hot-wall temperature [K]")
    legend_below(ax, 3, 0.02)


def _flows(ax: Axes, study: AsBuilt) -> None:
    for slot in study.slots:
        ax.plot(slot.measured.number, slot.summary[FLOW], ls="", ms=4, **MARKERS[slot.verdict.word])
    ax.axhline(study.drawn.summary[FLOW], **DRAWN)
    ax.set(ylabel="flow over the mean [-]", xlabel="slot number", xlim=(0.0, study.count + 1.0))
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
