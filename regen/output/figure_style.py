"""What every figure has in common: colours, settings, size, and how it becomes a file.

Colours are told apart by the colour-blind (Okabe and Ito's set) and every curve also differs by
dash or marker, so that the figures survive a grey printer.
"""

from __future__ import annotations

from io import BytesIO
from typing import Any

import matplotlib as mpl
from matplotlib.figure import Figure

RED, BLUE, ORANGE, GREEN, GREY = (
    "#D55E00",
    "#0072B2",
    "#E69F00",
    "#009E73",
    "#555555",
)
COPPER, PLATED, NICKEL, COOLANT, GAS = "#D9A066", "#A65E2E", "#B8BCC2", "#BFE3F5", "#FBE3D0"

RC: dict[Any, Any] = {
    "font.size": 9,
    "axes.grid": True,
    "grid.alpha": 0.3,
    "axes.axisbelow": True,
    "svg.hashsalt": "regen",
    "legend.frameon": True,
    "legend.framealpha": 0.9,
}

WIDTH = 8.2
"""Width of every figure [in]."""

BESIDE: dict[str, Any] = {"textcoords": "offset points", "va": "top", "fontsize": 8}
"""An annotation just beside the point it is about."""

THROAT: dict[str, Any] = {"color": GREY, "lw": 0.8, "ls": (0, (1, 2))}


def svg(figure: Figure) -> bytes:
    """Return a figure as SVG, the same bytes for the same figure.

    Parameters
    ----------
    figure : Figure
        From ``draw``.

    Returns
    -------
    bytes
        SVG document without a date.
    """
    buffer = BytesIO()
    with mpl.rc_context(RC):
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": "regen"})
    return buffer.getvalue()
