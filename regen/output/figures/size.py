"""Figure of a sizing: slots and wall temperature along the chamber, before and after."""

from __future__ import annotations

from operator import attrgetter

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.design import Design
from regen.output.figures.style import BLUE, GREY, ORANGE, RED, THROAT, sheet
from regen.output.labels import limit_of
from regen.output.size import aim
from regen.quantities import amount
from regen.studies.size.sized_case import Answer
from regen.studies.size.space import PATHS

SIZES = (
    ("depth", "slot depth", BLUE),
    ("width", "slot width", ORANGE),
    ("wall", "wall thickness", RED),
)


def sizing_figure(answer: Answer, before: Design) -> Figure:
    """Draw the wall temperature above, slots and wall below."""
    design = answer.case.design
    goal = "\n".join(aim(design.sizing))
    figure = sheet(7.6, f"{design.title}: sized for {goal}")
    wall, slots = figure.subplots(2, 1, sharex=True)
    _temperatures(wall, answer)
    _sizes(slots, answer, before)
    for ax in (wall, slots):
        ax.axvline(0.0, **THROAT)
    drops = [
        f"{amount(result.summary['coolant_pressure_drop_Pa'], 'Pa', 'pressure')} {when}"
        for result, when in ((answer.before, "before"), (answer.result, "now"))
        if result is not None
    ]
    counts = f"{before.channels.count} slots before, {design.channels.count} now"
    slots.set_xlabel(f"x [mm], throat at 0.  {counts}; pressure drop {', '.join(drops)}")
    return figure


def _temperatures(ax: Axes, answer: Answer) -> None:
    result, spare = answer.result, answer.case.design.sizing.margin
    s = result.stations
    x = s["x_m"] * 1e3
    if answer.before is not None:
        own, label = answer.before.stations, "wall before, nominal"
        ax.plot(own["x_m"] * 1e3, own["T_wall_hot_K"], color=GREY, ls="--", label=label)
    band = result.station_bands["T_wall_hot_K"]
    ax.fill_between(x, *band, color=RED, alpha=0.15, lw=0, label="band now")
    ax.plot(x, s["T_wall_hot_K"], color=RED, label="wall now, nominal")
    if result.worst_stations:
        worst = result.worst_stations["T_wall_hot_K"]
        ax.plot(x, worst, color="black", ls=":", label="wall now, worst channel")
    if limit := limit_of(result.margins, "hot_wall_temperature"):
        ax.axhline(limit, color="black", ls="-.", lw=1.1, label=f"limit {limit:.0f} K")
        if spare:
            kept = (1.0 - spare) * limit
            label = f"{kept:.0f} K: margin of {100.0 * spare:g} %"
            ax.axhline(kept, color=GREY, ls="-.", lw=0.8, label=label)
    ax.set_ylabel("hot-gas-side wall temperature [K]")
    ax.legend(loc="best", fontsize=8)


def _sizes(ax: Axes, answer: Answer, before: Design) -> None:
    x, land = (answer.result.stations[key] for key in ("x_m", "land_width_m"))
    for size, label, colour in SIZES:
        profile = attrgetter(PATHS[size])  # width, depth and wall are profiles
        now, was = (profile(design).at(x) for design in (answer.case.design, before))
        ax.plot(x * 1e3, now * 1e3, color=colour, label=f"{label} now")
        ax.plot(x * 1e3, was * 1e3, color=colour, ls="--", lw=1.0, label=f"{label} before")
    ax.plot(x * 1e3, land * 1e3, color=GREY, label="land now")
    ax.set(ylim=(0.0, 1.4 * ax.get_ylim()[1]), ylabel="width, depth, thickness [mm]")
    ax.legend(loc="upper center", fontsize=8, ncols=4)
