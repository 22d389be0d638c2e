"""Figure of alternatives: wall temperature and pressure drop of each process."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.output.figures.style import BLUE, GREY, RED, sheet
from regen.output.labels import limit_of
from regen.result import Result
from regen.studies.alternatives.study import Alternatives

LIMIT: dict[str, Any] = {"marker": "|", "ms": 14, "mew": 2, "color": RED, "ls": ""}


def processes_figure(study: Alternatives) -> Figure:
    """Return wall temperatures at the left and pressure drops at the right, a line a process."""
    count = len(study.rows)
    figure = sheet(1.6 + 0.45 * count, f"{study.title}: by other processes")
    hot, drop = figure.subplots(1, 2, sharey=True, width_ratios=(3, 2))
    for place, row in enumerate(study.rows):
        if row.result is not None:
            _process(hot, drop, place, row.result)
            continue
        for ax in (hot, drop):
            ax.text(0.02, place, "not solved", transform=ax.get_yaxis_transform(), color=GREY)
    for fill, label in ((BLUE, "nominal"), ("white", "worst")):
        hot.plot([], [], ls="", marker="o", color=BLUE, mfc=fill, label=label)
    hot.plot([], [], label="limit of the liner", **LIMIT)
    hot.set_xlabel("peak hot-wall temperature [K]")
    drop.set_xlabel("coolant pressure drop [bar]")
    drop.set_xlim(left=0.0)
    hot.set_yticks(range(count), [row.name for row in study.rows])
    hot.set_ylim(count - 0.5, -0.5)
    figure.legend(*hot.get_legend_handles_labels(), loc="outside lower center", ncols=3)
    return figure


def _process(hot: Axes, drop: Axes, place: int, result: Result) -> None:
    nominal = result.summary["T_wall_hot_max_K"]
    worst = result.worst_channel.get("T_wall_hot_max_K")
    if worst is not None:
        hot.plot([nominal, worst], [place, place], color=BLUE, lw=1)
        hot.plot(worst, place, marker="o", color=BLUE, mfc="white", ls="")
    hot.plot(nominal, place, marker="o", color=BLUE, ls="")
    limit = limit_of(result.margins, "hot_wall_temperature")
    if limit is not None:
        hot.plot(limit, place, **LIMIT)
    drop.barh(place, result.summary["coolant_pressure_drop_Pa"] * 1e-5, 0.5, color=BLUE)
