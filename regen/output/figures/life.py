"""Life along the axis, of a design whose life was assessed."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure

from regen.design import Design
from regen.output.figures.review import along_x, below, panels
from regen.output.figures.style import BLUE, GREY, RC, RED
from regen.output.rows import curve
from regen.result import Result

NAME = "life"

CAPTION = (
    "Firings that the hot wall lives, nominal channel: conservative (held both ways, a tenth of "
    "the law above half the solidus, creep added), whose least value along x is the life that is "
    "judged, and optimistic (held across the channels alone, the law as it is), which judges "
    "nothing. A gap: not known there, and then not of the part."
)

LOOKS = {
    "life_conservative_firings": ("conservative", RED, "-", 1.7),
    "life_optimistic_firings": ("optimistic", BLUE, "--", 0.9),
}
"""Columns of ``Result.checked``: names in the legend, colours, dashes, line widths."""


def known(result: Result) -> bool:
    """Return whether a life is known anywhere, so that there is something to draw."""
    lives = (result.checked.get(name) for name in LOOKS)
    return any(life is not None and bool(np.isfinite(life).any()) for life in lives)


def draw(result: Result, design: Design) -> Figure:
    """Draw life over x.

    Parameters
    ----------
    result : Result
        With columns of life among ``checked``.
    design : Design
        Firings asked for.

    Returns
    -------
    Figure
        Not shown, not saved.
    """
    with mpl.rc_context(RC):
        figure, (life,) = panels(1, 3.8)
        s = {**result.stations, **result.checked}
        for name, (label, colour, dash, width) in LOOKS.items():
            life.plot(*curve(s, name), color=colour, lw=width, ls=dash, label=label)
        life.set_yscale("log")
        life.set_ylabel("life of the hot wall [firings]")
        firings, factor = design.life.firings, design.limits.life_factor
        if firings is not None:
            label = f"{firings} firings, {factor:g} times over"
            life.axhline(factor * firings, color=GREY, lw=1.2, ls=(0, (4, 2)), label=label)
        below(life, 3)
        along_x([life], result, design)
        return figure
