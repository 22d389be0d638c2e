"""Panels over x: their axes, and which rows of the stations make one curve."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from regen.output.figures.style import BLUE, THROAT, sheet
from regen.quantities import quantity
from regen.result import Array, Result, pieces

Stations = Mapping[str, Array]
"""Columns of ``result.STATION_COLUMNS`` (rows,)."""


def panels(rows: int, height: float, **options: Any) -> tuple[Figure, list[Axes]]:
    """Return a figure of a height [in] with axes one above the other that share x."""
    figure = sheet(height)
    axes = figure.subplots(rows, 1, sharex=True, squeeze=False, **options)[:, 0]
    return figure, list(axes)


def mark_x(axes: list[Axes], result: Result) -> None:
    """Mark the throat and name the axis of panels with x in mm."""
    x = result.stations["x_m"] * 1e3
    for ax in axes:
        ax.axvline(0.0, **THROAT)
    axes[-1].set_xlabel("x [mm], throat at 0 (dotted)")
    axes[-1].set_xlim(x[0] - 0.02 * np.ptp(x), x[-1] + 0.02 * np.ptp(x))


def mark_flow(axes: list[Axes], result: Result) -> None:
    """Mark x, the ends of the chamber and the direction in which the coolant flows."""
    mark_x(axes, result)
    level = 1.05
    above: dict[str, Any] = {"xycoords": "axes fraction", "va": "center", "fontsize": 8}
    axes[0].annotate("injector end", (0.0, level), ha="left", **above)
    axes[0].annotate("nozzle end", (1.0, level), ha="right", **above)
    from_nozzle = {enters_at_nozzle(result, number) for number in circuits(result)}
    if len(from_nozzle) > 1 or result.stations["pass_number"].max() > 1:
        text = "each circuit and pass has its own curve"
        axes[0].annotate(text, (0.5, level), ha="center", color=BLUE, **above)
        return
    tip, tail, side = (0.42, 0.56, "left") if from_nozzle == {True} else (0.58, 0.44, "right")
    arrow = {"arrowstyle": "-|>", "color": BLUE, "lw": 1.5}
    style: dict[str, Any] = {"ha": side, "color": BLUE, "arrowprops": arrow, **above}
    axes[0].annotate("coolant", (tip, level), (tail, level), **style)


def legend_below(ax: Axes, columns: int, drop: float = 0.2, **options: Any) -> None:
    """Put the legend under the axes, where it covers no curve, in so many columns."""
    place: dict[str, Any] = {"loc": "upper center", "bbox_to_anchor": (0.5, -drop)}
    ax.legend(**place, ncols=columns, fontsize=8, **options)


def pieces_of(stations: Stations) -> tuple[NDArray[np.int64], ...]:
    """Return the rows that may be joined: one circuit, one pass, no plenum between; x rises."""
    return pieces(stations["x_m"], stations["circuit"], stations["pass_number"])


def gaps(stations: Stations, values: Array) -> Array:
    """Return values by row, piece by piece, with a NaN where a curve must not be joined."""
    joined = [np.append(values[rows], np.nan) for rows in pieces_of(stations)]
    return np.asarray(np.concatenate(joined)[:-1], dtype=np.float64)


def curve(stations: Stations, key: str, values: Array | None = None) -> tuple[Array, Array]:
    """Return x [mm] and a column, or other values [SI] of its kind, as shown, with gaps."""
    y = quantity(key).shown(stations[key] if values is None else values)
    return gaps(stations, stations["x_m"] * 1e3), gaps(stations, y)


def circuits(result: Result) -> list[int]:
    """Return the numbers of the circuits."""
    return sorted({int(number) for number in result.stations["circuit"]})


def ends_of(result: Result, number: int) -> tuple[int, int]:
    """Return the rows of a circuit's inlet and outlet."""
    s = result.stations
    rows = np.flatnonzero(s["circuit"] == number)
    length = s["passage_length_m"][rows]
    return int(rows[np.argmin(length)]), int(rows[np.argmax(length)])


def enters_at_nozzle(result: Result, number: int) -> bool:
    """Return whether the coolant of a circuit enters at its nozzle end."""
    s, (inlet, _) = result.stations, ends_of(result, number)
    return bool(s["x_m"][inlet] == s["x_m"][s["circuit"] == number].max())


def manifolds(result: Result) -> Iterator[tuple[Array, Array]]:
    """Yield x [mm] and pressure [bar] of inlet and outlet manifold, circuit by circuit."""
    total = result.summary
    whole = (total["coolant_pressure_in_Pa"], total["coolant_pressure_out_Pa"])
    each = [(c.pressure_in_Pa, c.pressure_out_Pa) for c in result.circuits] or [whole]
    for number, pressures in enumerate(each, start=1):
        x = result.stations["x_m"][list(ends_of(result, number))]
        yield x * 1e3, quantity("p_coolant_Pa").shown(np.array(pressures))
