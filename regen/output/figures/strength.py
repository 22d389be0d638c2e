"""Figure of the strength checks: margins of primary stress along x, and the strain range."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.output.figures.style import GREY, LINES, RC, THROAT, WIDTH
from regen.output.rows import gaps
from regen.result import Array, Result

NAME = "strength"

CAPTION = (
    "Margins of primary stress along x, nominal channel, positive where the limit is kept: as the "
    "chamber runs, at start and at proof; and the strain range of the hot wall in one firing, "
    "between its conservative and its optimistic value. What is not drawn is not known: the "
    "margins' remarks and the findings say why."
)

MARGINS = {
    "margin_ligament_stress": "hot wall, run",
    "margin_ligament_proof": "hot wall, proof",
    "margin_land_tension": "lands, start",
    "margin_land_proof": "lands, proof",
    "margin_bond_stress": "bond, proof",
    "margin_jacket_stress": "jacket, run",
    "margin_roof_bending": "roof, run",
    "margin_jacket_proof": "jacket, proof",
}
"""Columns of ``Result.checked`` and their names in the legend."""

LOWEST = -100.0
"""Margins below this are drawn there, and the axis says so [%]."""


def draw(result: Result) -> Figure:
    """Draw margins above and strain range below.

    Parameters
    ----------
    result : Result
        Judged design with the columns of its strength checks.

    Returns
    -------
    Figure
        Two panels over x.
    """
    with mpl.rc_context(RC):
        figure = Figure(figsize=(WIDTH, 7.2), layout="constrained")
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(1.5, 1.0))
        _margins(upper, result)
        _strain(lower, result)
        x = result.stations["x_m"] * 1e3
        for ax in (upper, lower):
            ax.axvline(0.0, **THROAT)
            ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), fontsize=8)
        lower.set_xlabel("x [mm], throat at 0 (dotted)")
        lower.set_xlim(x[0] - 0.02 * np.ptp(x), x[-1] + 0.02 * np.ptp(x))
    return figure


def _curve(result: Result, values: Array) -> tuple[Array, Array]:
    return gaps(result.stations, result.stations["x_m"] * 1e3), gaps(result.stations, values)


def _margins(ax: Axes, result: Result) -> None:
    lowest = 0.0
    for (colour, dash), (name, label) in zip(LINES, MARGINS.items(), strict=False):
        values = 100.0 * result.checked[name]
        if not np.isfinite(values).any():
            ax.plot([], [], color=colour, ls=dash, label=f"{label}: not known")
            continue
        lowest = min(lowest, float(np.nanmin(values)))
        drawn = np.maximum(values, LOWEST)
        ax.plot(*_curve(result, drawn), color=colour, ls=dash, lw=1.6, label=label)
    ax.axhline(0.0, color="black", lw=1.2)
    bottom = max(lowest, LOWEST)
    ax.axhspan(1.1 * min(bottom, -9.0), 0.0, color="black", alpha=0.07, lw=0)
    ax.set_ylim(1.1 * min(bottom, -9.0), 104.0)
    cut = f",\ncut at {LOWEST:.0f} %" if lowest < LOWEST else ""
    ax.set_ylabel(f"margin [%]{cut}")


def _strain(ax: Axes, result: Result) -> None:
    high, low, plastic = (
        100.0 * result.checked[name]
        for name in ("strain_range", "strain_range_low", "strain_range_plastic")
    )
    x, top = _curve(result, high)
    ax.fill_between(x, _curve(result, low)[1], top, color=GREY, alpha=0.15, lw=0)
    for values, label, (colour, dash) in (
        (high, "conservative", LINES[0]),
        (plastic, "plastic part of it", LINES[2]),
        (low, "optimistic", LINES[1]),
    ):
        ax.plot(*_curve(result, values), color=colour, ls=dash, lw=1.6, label=label)
    ax.set_ylabel("strain range [%]")
    ax.set_ylim(bottom=0.0)
