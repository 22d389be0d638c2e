"""Figure of measured slots: peak wall temperature and flow by slot number."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from regen.output.figures.along import legend_below
from regen.output.figures.style import BLUE, GREEN, GREY, ORANGE, RED, sheet
from regen.output.labels import limit_of
from regen.studies.as_built.slot_verdict import ORDER
from regen.studies.as_built.study import AsBuilt

FLOW, PEAK, PEAK_STREAK = "flow_over_mean", "T_wall_hot_max_K", "T_wall_hot_max_streak_K"
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
    for verdict in ORDER[::-1]:
        slots = [slot for slot in study.slots if slot.verdict.word == verdict]
        if slots:
            numbers = [slot.measured.number for slot in slots]
            own, streak = ([slot.summary[key] for slot in slots] for key in (PEAK, PEAK_STREAK))
            style = MARKERS[verdict]
            ax.plot(numbers, own, ls="", label=f"{verdict}: as measured", **style)
            ax.plot(numbers, streak, ls="", mfc="white", ms=5, alpha=0.9, **style)
    ax.plot([], [], ls="", marker="o", mfc="white", color=GREY, label="hollow: under the streak")
    limit = limit_of(study.design.margins, "hot_wall_temperature")
    if limit is not None:
        ax.axhline(limit, color=RED, lw=1.4, label="limit of the hot wall")
    ax.axhline(study.drawn.summary[PEAK], **DRAWN, label="slot as drawn")
    worst = study.design.worst_channel.get(PEAK)
    if worst is not None:
        label = "worst channel of the design"
        ax.axhline(worst, color="black", lw=1, ls=(0, (1, 1.5)), label=label)
    for slot in study.slots:
        if not slot.solved:
            ax.axvline(slot.measured.number, color=GREY, lw=0.8, ls=":")
    ax.set_ylabel("peak hot-wall temperature [K]")
    legend_below(ax, 3, 0.02)


def _flows(ax: Axes, study: AsBuilt) -> None:
    for slot in study.slots:
        ax.plot(slot.measured.number, slot.summary[FLOW], ls="", ms=4, **MARKERS[slot.verdict.word])
    ax.axhline(study.drawn.summary[FLOW], **DRAWN)
    ax.set(ylabel="flow over the mean [-]", xlabel="slot number", xlim=(0.0, study.count + 1.0))
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
