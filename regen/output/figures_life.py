"""Strain range and life along the axis, of a design whose life was assessed."""

from __future__ import annotations

from collections.abc import Mapping

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.design import Design
from regen.output.figure_style import BLUE, GREY, RC, RED
from regen.output.figures import Plate, along_x, below, panels
from regen.output.rows import curve
from regen.result import Array, Result

NAME = "life"
CONSERVATIVE, OPTIMISTIC = "life_conservative_firings", "life_optimistic_firings"

CAPTION = (
    "Equivalent strain range of the hot wall in one firing, and the firings it lives by that: "
    "conservative (held both ways, a tenth of the law in the creep range, creep added) and "
    "optimistic (held across the channels alone, the law as it is). A gap: not known there."
)


def plates(result: Result) -> Mapping[str, Plate]:
    """Return the figure of a result by name; none where no life is known.

    Parameters
    ----------
    result : Result
        Solved design.

    Returns
    -------
    mapping
        With one figure or none.
    """
    lives = (result.checked.get(name) for name in (CONSERVATIVE, OPTIMISTIC))
    known = any(life is not None and np.isfinite(life).any() for life in lives)
    return {NAME: Plate(draw, CAPTION)} if known else {}


def draw(result: Result, design: Design) -> Figure:
    """Draw strain range above and life below.

    Parameters
    ----------
    result : Result
        With columns of strain and life among ``checked``.
    design : Design
        Firings asked for.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    with mpl.rc_context(RC):
        figure, (strain, life) = panels(2, 6.4)
        s = {**result.stations, **result.checked}
        _pair(strain, s, ("strain_range", "strain_range_low"), 100.0)
        strain.set_ylabel("strain range [%]")
        strain.set_ylim(bottom=0.0)
        strain.legend(loc="best", fontsize=8)
        _pair(life, s, (CONSERVATIVE, OPTIMISTIC), 1.0)
        life.set_yscale("log")
        life.set_ylabel("life of the hot wall [firings]")
        firings, factor = design.life.firings, design.limits.life_factor
        if firings is not None:
            label = f"{firings} firings, {factor:g} times over"
            life.axhline(factor * firings, color=GREY, lw=1.2, ls=(0, (4, 2)), label=label)
        below(life, 3)
        along_x([strain, life], result, design)
        return figure


def _pair(ax: Axes, s: Mapping[str, Array], names: tuple[str, str], factor: float) -> None:
    looks = (("conservative", RED, "-"), ("optimistic", BLUE, "--"))
    for name, (label, colour, dash) in zip(names, looks, strict=True):
        ax.plot(*curve(s, name, factor), color=colour, lw=1.7, ls=dash, label=label)
