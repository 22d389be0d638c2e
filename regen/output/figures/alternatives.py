"""Figure of alternatives: wall temperature and pressure drop of each route."""

from __future__ import annotations

from functools import partial

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.metals import selection as metals
from regen.output.figures.style import BLUE, GREY, RC, RED, WIDTH, draw_each
from regen.output.files import Drawn
from regen.studies.alternatives.study import Alternatives, Row


def drawn(found: Alternatives) -> Drawn:
    """Return the figure by its path within the output folder.

    Parameters
    ----------
    found : Alternatives
        Solved rows.

    Returns
    -------
    Drawn
        SVG document.
    """
    return draw_each({"figures/alternatives.svg": partial(routes_figure, found)})


def routes_figure(found: Alternatives) -> Figure:
    """Return wall temperatures at the left and pressure drops at the right, a line a route.

    Parameters
    ----------
    found : Alternatives
        Solved rows.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    count = len(found.rows)
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 1.6 + 0.45 * count), layout="constrained")
        hot, drop = figure.subplots(1, 2, sharey=True, width_ratios=(3, 2))
        for place, row in enumerate(found.rows):
            _route(hot, drop, place, row)
        for style, label in ((("o", BLUE, BLUE), "nominal"), (("o", BLUE, "white"), "worst")):
            marker, color, fill = style
            hot.plot([], [], ls="", marker=marker, color=color, mfc=fill, label=label)
        hot.plot([], [], ls="", marker="|", ms=14, mew=2, color=RED, label="limit of the liner")
        hot.set_xlabel("peak hot-wall temperature [K]")
        drop.set_xlabel("coolant pressure drop [bar]")
        drop.set_xlim(left=0.0)
        hot.set_yticks(range(count), [row.name for row in found.rows])
        hot.set_ylim(count - 0.5, -0.5)
        figure.legend(*hot.get_legend_handles_labels(), loc="outside lower center", ncols=3)
        figure.suptitle(f"{found.title}: by other routes", fontsize=11)
    return figure


def _route(hot: Axes, drop: Axes, place: int, row: Row) -> None:
    if row.result is None or row.case is None:
        for ax in (hot, drop):
            ax.text(0.02, place, "not solved", transform=ax.get_yaxis_transform(), color=GREY)
        return
    design = row.case.design
    nominal = row.result.summary["T_wall_hot_max_K"]
    worst = row.result.worst_channel.get("T_wall_hot_max_K")
    if worst is not None:
        hot.plot([nominal, worst], [place, place], color=BLUE, lw=1)
        hot.plot(worst, place, marker="o", color=BLUE, mfc="white", ls="")
    hot.plot(nominal, place, marker="o", color=BLUE, ls="")
    fact = metals.liner(design).limit(design.limits.service)
    limit = design.limits.T_wall_hot or (fact.value if fact else None)
    if limit is not None:
        hot.plot(limit, place, marker="|", ms=14, mew=2, color=RED, ls="")
    drop.barh(place, row.result.summary["coolant_pressure_drop_Pa"] * 1e-5, 0.5, color=BLUE)
