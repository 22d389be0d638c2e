"""Figure of a plating plan: copper and nickel along x, as needed, drawn and plated."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from regen.output.figures.along import panels
from regen.output.figures.style import BESIDE, BLUE, COPPER, GREY, NICKEL, RED, THROAT
from regen.shop.plating.layers import Layer
from regen.shop.plating.plan import PlatingPlan

STOCK = "#E4E6E9"


def layers_figure(plan: PlatingPlan) -> Figure:
    """Return the figure of a plan: nickel above, copper below."""
    count = len(plan.layers)
    figure, axes = panels(count, 2.2 + 2.0 * count, height_ratios=[2.0, 1.0][:count])
    for ax, layer in zip(axes, reversed(plan.layers), strict=True):
        _layer(ax, plan, layer)
    axes[-1].set_xlabel("x [mm], throat at 0")
    axes[-1].set_xlim(plan.x[0] * 1e3, plan.x[-1] * 1e3)
    figure.suptitle(f"{plan.title}: layers along x")
    return figure


def _layer(ax: Axes, plan: PlatingPlan, layer: Layer) -> None:
    x, mm = plan.x * 1e3, 1e3
    colour = NICKEL if layer.metal == "nickel" else COPPER
    deposit = layer.deposit * layer.ratio
    ax.fill_between(x, 0.0, layer.left * mm, color=colour, lw=0)
    ax.fill_between(x, layer.left * mm, layer.as_plated * mm, color=STOCK, lw=0)
    ax.plot(x, deposit * mm, color=BLUE, ls=(0, (1, 1.2)), label="deposited in all, all turnings")
    ax.plot(x, layer.as_plated * mm, color=GREY, lw=1.2, label="before the last turning")
    ax.plot(x, layer.left * mm, color="black", lw=1.8, label="finished, as drawn")
    if layer.metal == "nickel" and not np.isnan(plan.need).all():
        ax.plot(x, plan.need * mm, color=RED, ls=(0, (6, 2)), label="needed by strength")
    i = layer.thinnest
    ax.plot(x[i], layer.as_plated[i] * mm, "o", color=GREY, ms=4)
    text = f"thinnest: {layer.ratio[i]:.2f} of mean"
    ax.annotate(text, (x[i], layer.as_plated[i] * mm), (6, -4), **BESIDE)
    ax.axvline(0.0, **THROAT)
    ax.set_ylim(0.0, None)
    ax.set_ylabel(f"{layer.metal} [mm]")
    if layer.metal == "nickel":
        ax.legend(loc="upper center", bbox_to_anchor=(0.5, 1.0), ncols=2, fontsize=8)
        low, high = ax.get_ylim()
        ax.set_ylim(low, high + 0.22 * (high - low))
