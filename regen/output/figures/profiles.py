"""What a solved design does along x: temperatures, flux, coolant and film coefficients."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, cast

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.checks.limits import LIMITS
from regen.output.figures import along
from regen.output.figures.style import BESIDE, BLUE, GREEN, GREY, ORANGE, RED
from regen.result import Result

WORST: dict[str, Any] = {"ls": "--", "lw": 1.2, "marker": "s", "ms": 3.5, "markevery": 0.1}
WORST |= {"mec": "black", "mew": 0.5}


def _band(ax: Axes, result: Result, key: str, colour: str) -> None:
    low, high = result.station_bands[key]
    (x, bottom), (_, top) = (along.curve(result.stations, key, edge) for edge in (low, high))
    # members that were not solved are the hottest: the edge drawn is not the end
    label = "band of correlations" + (", or higher" if result.bands["q_max_W_m2"].open else "")
    ax.fill_between(x, bottom, top, color=colour, alpha=0.22, lw=0, label=label)
    for edge in (bottom, top):
        ax.plot(x, edge, color=colour, lw=0.5)


def _nominal(ax: Axes, result: Result, key: str, colour: str, label: str, **style: Any) -> None:
    ax.plot(*along.curve(result.stations, key), color=colour, label=label, **({"lw": 1.8} | style))


def _worst(ax: Axes, result: Result, key: str, colour: str, surface: str = "") -> None:
    """Draw the worst channel, if it was solved: dashed, with squares as in the margins."""
    if result.worst_stations:
        line = along.curve(result.worst_stations, key)
        ax.plot(*line, color=colour, label=f"{surface}worst channel", **WORST)


def _limits(result: Result, key: str) -> Iterator[tuple[str, float]]:
    """Yield label and value of the limits that are drawn beside a column."""
    for margin in result.margins:
        limit = LIMITS.get(margin.name)
        if limit is not None and limit.column == key and margin.limit is not None:
            yield f"{limit.label} limit".strip(), margin.limit


def _limit(ax: Axes, result: Result, key: str, dashes: Any = "-.") -> None:
    for label, value in _limits(result, key):
        ax.axhline(value, color="black", lw=1.1, ls=dashes, label=f"{label} {value:.0f} K")


def _hot_wall(ax: Axes, result: Result) -> None:
    """Draw the hot-gas-side wall temperature with band, worst channel and limit."""
    _band(ax, result, "T_wall_hot_K", RED)
    _nominal(ax, result, "T_wall_hot_K", RED, "hot-gas side, nominal")
    _worst(ax, result, "T_wall_hot_K", RED, "hot-gas side, ")
    _limit(ax, result, "T_wall_hot_K")


def _least_span(ax: Axes, span: float) -> None:
    """Open the vertical axis: a curve that hardly changes must not fill it."""
    low, high = ax.get_ylim()
    if high - low < span:
        middle = 0.5 * (low + high)
        ax.set_ylim(middle - 0.5 * span, middle + 0.5 * span)


def _walls(ax: Axes, result: Result) -> None:
    """Draw both sides of the wall and the coolant, with the hot side's band and the limits."""
    _hot_wall(ax, result)
    _nominal(ax, result, "T_wall_cold_K", GREEN, "coolant side, nominal", lw=1.6, ls="-.")
    _nominal(ax, result, "T_coolant_K", BLUE, "coolant bulk, nominal", lw=1.6, ls=":")
    _limit(ax, result, "T_wall_cold_K", (0, (1, 1)))
    ax.set_ylabel("wall and coolant temperature [K]")


def _fluxes(ax: Axes, result: Result) -> None:
    """Draw the flux on the hot-gas surface with its band, and that into the coolant."""
    _band(ax, result, "q_W_m2", GREEN)
    _nominal(ax, result, "q_W_m2", GREEN, "hot-gas surface, nominal")
    _worst(ax, result, "q_W_m2", GREEN, "hot-gas surface, ")
    label = "slot floor (wetted), nominal"
    _nominal(ax, result, "q_wetted_W_m2", BLUE, label, lw=1.2, ls="-.")
    ax.set_ylabel("heat flux [MW/m²]")
    ax.set_ylim(bottom=0)


ON_AXES = {"temperatures": _walls, "heat_flux": _fluxes}
"""Figures whose main panel can be drawn into axes of somebody's own."""


def draw_on(name: str, ax: Axes, result: Result) -> Figure:
    """Draw the main panel of a figure into axes, with throat and legend; return their figure."""
    if name not in ON_AXES:
        message = f"{name} has more than one panel: only {', '.join(ON_AXES)} take axes"
        raise ValueError(message)
    ON_AXES[name](ax, result)
    along.mark_x([ax], result)
    ax.legend(fontsize=8)
    return cast("Figure", ax.get_figure(root=True))


def temperatures(result: Result) -> Figure:
    """Draw gas temperatures above and wall and coolant temperatures below."""
    figure, (gas, wall) = along.panels(2, 6.4)
    _nominal(gas, result, "T_aw_K", RED, "adiabatic wall", lw=1.6)
    _nominal(gas, result, "T_gas_K", ORANGE, "gas, static", lw=1.6, ls="--")
    _least_span(gas, 200.0)
    gas.set_ylabel("gas temperature [K]")
    gas.legend(loc="lower left")
    _walls(wall, result)
    along.legend_below(wall, 3)
    along.mark_flow([gas, wall], result)
    return figure


def heat_flux(result: Result) -> Figure:
    """Draw heat flux and hot-gas-side wall temperature with their bands."""
    figure, (flux, wall) = along.panels(2, 6.4)
    _fluxes(flux, result)
    flux.legend(loc="best", fontsize=8)
    _hot_wall(wall, result)
    wall.set_ylabel("hot-gas-side wall temperature [K]")
    along.legend_below(wall, 2)
    along.mark_flow([flux, wall], result)
    return figure


def coolant(result: Result) -> Figure:
    """Draw coolant pressure, velocity and Mach number."""
    figure, axes = along.panels(3, 7.0)
    labels = {
        "p_coolant_Pa": "static pressure [bar]",
        "v_coolant_m_s": "velocity [m/s]",
        "mach_coolant": "Mach number [-]",
    }
    for ax, (key, label) in zip(axes, labels.items(), strict=True):
        _nominal(ax, result, key, BLUE, "nominal")
        _worst(ax, result, key, RED)
        ax.set_ylabel(label)
        for text, value in _limits(result, key):
            ax.axhline(value, color="black", lw=1.1, ls="-.")
            side = "right" if along.enters_at_nozzle(result, 1) else "left"
            at = (result.stations["x_m"][along.ends_of(result, 1)[0]] * 1e3, value)
            ax.annotate(f"{text} {value:.2g}", at, (0, -4), ha=side, **BESIDE)
    for n, (x, p) in enumerate(along.manifolds(result)):
        label = "_manifolds" if n else "manifolds, at rest"
        axes[0].plot(x, p, "o", color="black", ms=5, label=label)
    for ax in axes[1:]:
        ax.set_ylim(bottom=0)
    for ax in axes[:2]:
        ax.legend(loc="best", fontsize=8)
    along.mark_flow(axes, result)
    return figure


def film_coefficients(result: Result) -> Figure:
    """Draw the film coefficients of gas and coolant."""
    figure, axes = along.panels(2, 5.6)
    sides = (
        ("h_gas_W_m2K", RED, "gas side [kW/(m² K)]\non adiabatic less hot-gas-side wall"),
        ("h_coolant_W_m2K", BLUE, "coolant side [kW/(m² K)]\non the wetted area"),
    )
    for ax, (key, colour, label) in zip(axes, sides, strict=True):
        _nominal(ax, result, key, colour, "nominal")
        _worst(ax, result, key, GREY)
        ax.set_ylabel(label)
        ax.set_ylim(bottom=0)
        ax.legend(loc="best", fontsize=8)
    along.mark_flow(axes, result)
    return figure


PROFILES: dict[str, Callable[[Result], Figure]] = {
    "temperatures": temperatures,
    "heat_flux": heat_flux,
    "coolant": coolant,
    "film_coefficients": film_coefficients,
}
"""Figures along x."""
