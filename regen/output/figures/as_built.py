"""Figure of measured slots: peak wall temperature and flow by slot number."""

from __future__ import annotations

from functools import partial
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from regen.output.figures.style import BLUE, GREEN, GREY, ORANGE, RC, RED, WIDTH, draw_each
from regen.output.files import Drawn
from regen.studies.as_built.slot_verdict import ORDER
from regen.studies.as_built.study import AsBuilt

MARKERS: dict[str, dict[str, Any]] = {
    "use": {"marker": "o", "color": BLUE},
    "rework": {"marker": "^", "color": ORANGE},
    "sleeve": {"marker": "s", "color": GREEN},
    "scrap": {"marker": "X", "color": RED},
    "unknown": {"marker": "P", "color": GREY},
}


def drawn(found: AsBuilt) -> Drawn:
    """Return the figure by its path within the output folder.

    Parameters
    ----------
    found : AsBuilt
        Solved slots.

    Returns
    -------
    Drawn
        SVG document.
    """
    return draw_each({"figures/as_built.svg": partial(slots_figure, found)})


def slots_figure(found: AsBuilt) -> Figure:
    """Return wall temperature above and flow below, by slot number.

    Parameters
    ----------
    found : AsBuilt
        Solved slots.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 6.2), layout="constrained")
        hot, flow = figure.subplots(2, 1, sharex=True, height_ratios=(2, 1))
        _temperatures(hot, found)
        _flows(flow, found)
        figure.suptitle(f"{found.design.title}: slots as made", fontsize=11)
    return figure


def _temperatures(ax: Axes, found: AsBuilt) -> None:
    numbers = np.array([slot.measured.number for slot in found.slots])
    own = np.array([slot.T_wall for slot in found.slots])
    streak = np.array([slot.T_streak for slot in found.slots])
    words = np.array([slot.verdict.word for slot in found.slots])
    for word in ORDER[::-1]:
        some = words == word
        if some.any():
            style = MARKERS[word]
            ax.plot(numbers[some], own[some], ls="", label=f"{word}: as measured", **style)
            ax.plot(numbers[some], streak[some], ls="", mfc="white", ms=5, alpha=0.9, **style)
    ax.plot([], [], ls="", marker="o", mfc="white", color=GREY, label="hollow: under the streak")
    if np.isfinite(found.T_limit):
        ax.axhline(found.T_limit, color=RED, lw=1.4, label="limit of the hot wall")
    ax.axhline(found.drawn.T_wall, color=GREY, lw=1, ls=(0, (5, 2)), label="slot as drawn")
    worst = found.design.worst_channel.get("T_wall_hot_max_K")
    if worst is not None:
        label = "worst channel of the design"
        ax.axhline(worst, color="black", lw=1, ls=(0, (1, 1.5)), label=label)
    unsolved = numbers[~np.isfinite(own)]
    for number in unsolved:
        ax.axvline(number, color=GREY, lw=0.8, ls=":")
    ax.set_ylabel("peak hot-wall temperature [K]")
    ax.legend(fontsize=8, ncols=3, loc="upper center", bbox_to_anchor=(0.5, -0.02))


def _flows(ax: Axes, found: AsBuilt) -> None:
    for slot in found.slots:
        ax.plot(slot.measured.number, slot.flow, ls="", ms=4, **MARKERS[slot.verdict.word])
    ax.axhline(found.drawn.flow, color=GREY, lw=1, ls=(0, (5, 2)))
    ax.set_ylabel("flow over the mean [-]")
    ax.set_xlabel("slot number")
    ax.set_xlim(0.0, found.count + 1.0)
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
