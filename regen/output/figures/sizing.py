"""Figure of a sizing: slots and wall temperature along the chamber, before and after."""

from __future__ import annotations

from functools import partial

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.design import Design
from regen.output.figures.style import BLUE, GREY, ORANGE, RC, RED, THROAT, WIDTH, draw_each
from regen.output.files import Drawn
from regen.result import Array, Result
from regen.studies.size.sized_case import Answer

SIZES = (
    ("depth", "slot depth", BLUE),
    ("width", "slot width", ORANGE),
    ("wall", "hot-wall thickness", RED),
)


def drawn(answer: Answer, own: Result | None, before: Design) -> Drawn:
    """Return the figure of a sizing.

    Parameters
    ----------
    answer : Answer
        The sized case and its proof.
    own : Result or None
        The case before, None where it was not solved.
    before : Design
        The case before.

    Returns
    -------
    Drawn
        SVG document by path within the output folder.
    """
    return draw_each({"figures/sizing.svg": partial(figure_of, answer, own, before)})


def figure_of(answer: Answer, own: Result | None, before: Design) -> Figure:
    """Return the figure, not shown, not saved.

    Parameters
    ----------
    answer : Answer
        The sized case and its proof.
    own : Result or None
        The case before, None where it was not solved.
    before : Design
        The case before.

    Returns
    -------
    Figure
        Wall temperature above, slots and wall below.
    """
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 7.6), layout="constrained")
        wall, slots = figure.subplots(2, 1, sharex=True)
        _temperatures(wall, answer, own)
        _sizes(slots, answer, before)
        for ax in (wall, slots):
            ax.axvline(0.0, **THROAT)
        drops = [f"{answer.result.summary['coolant_pressure_drop_Pa'] / 1e5:.3g} bar"]
        if own is not None:
            drops.insert(0, f"{own.summary['coolant_pressure_drop_Pa'] / 1e5:.3g} bar before")
        counts = f"{before.channels.count} slots before, {answer.case.design.channels.count} now"
        slots.set_xlabel(f"x [mm], throat at 0.  {counts}; pressure drop {', '.join(drops)} now")
        figure.suptitle(f"{answer.case.design.title}: {_aim(answer)}", fontsize=11)
    return figure


def _aim(answer: Answer) -> str:
    sizing = answer.case.design.sizing
    more = f" with {sizing.margin:.0%} to spare" if sizing.margin else ""
    return f"sized for least {sizing.minimise}\nevery limit kept at the {sizing.held_at}{more}"


def _temperatures(ax: Axes, answer: Answer, own: Result | None) -> None:
    result, spare = answer.result, answer.case.design.sizing.margin
    s = result.stations
    x = s["x_m"] * 1e3
    if own is not None:
        before = own.stations
        ax.plot(
            before["x_m"] * 1e3,
            before["T_wall_hot_K"],
            color=GREY,
            ls="--",
            label="hot wall before, nominal",
        )
    ax.fill_between(
        x, *result.station_bands["T_wall_hot_K"], color=RED, alpha=0.15, lw=0, label="band now"
    )
    ax.plot(x, s["T_wall_hot_K"], color=RED, label="hot wall now, nominal")
    if result.worst_stations:
        worst = result.worst_stations["T_wall_hot_K"]
        ax.plot(x, worst, color="black", ls=":", label="hot wall now, worst channel")
    limit = next((m.limit for m in result.margins if m.name == "hot_wall_temperature"), None)
    if limit:
        ax.axhline(limit, color="black", ls="-.", lw=1.1, label=f"limit {limit:.0f} K")
        if spare:
            kept = (1.0 - spare) * limit
            label = f"{kept:.0f} K: {spare:.0%} to spare"
            ax.axhline(kept, color=GREY, ls="-.", lw=0.8, label=label)
    ax.set_ylabel("hot-wall temperature [K]")
    ax.legend(loc="best", fontsize=8)


def _sizes(ax: Axes, answer: Answer, before: Design) -> None:
    x = answer.result.stations["x_m"]
    for name, label, colour in SIZES:
        now, was = (_along(design, name, x) for design in (answer.case.design, before))
        ax.plot(x * 1e3, now * 1e3, color=colour, label=f"{label} now")
        ax.plot(x * 1e3, was * 1e3, color=colour, ls="--", lw=1.0, label=f"{label} before")
    ax.plot(
        x * 1e3,
        answer.result.stations["land_width_m"] * 1e3,
        color=GREY,
        label="land now",
    )
    ax.set_ylim(0.0, 1.4 * ax.get_ylim()[1])  # the legend hides no line
    ax.set_ylabel("width, depth, thickness [mm]")
    ax.legend(loc="upper center", fontsize=8, ncols=4)


def _along(design: Design, name: str, x: Array) -> Array:
    owner = design.liner if name == "wall" else design.channels
    return np.asarray(getattr(owner, name).at(x))
