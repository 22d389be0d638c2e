"""The temperatures of one section, as finite elements give them."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from regen.output.figures.style import BESIDE
from regen.result import SectionCheck, SectionField

LEVELS = 12
"""About as many lines of constant temperature."""


def step_of(field: SectionField) -> float:
    """Return a round step that makes about ``LEVELS`` lines [K]."""
    rough = float(np.ptp(field.T)) / LEVELS
    power = 10.0 ** np.floor(np.log10(rough))
    return float(power * min((1.0, 2.0, 5.0, 10.0), key=lambda s: abs(s * power - rough)))


def section(field: SectionField, check: SectionCheck) -> Figure:
    """Draw one pitch of wall: the half of a field and its mirror image, with isotherms."""
    x, y = field.points.T * 1e3
    a, b, c, d = field.cells.T
    corners = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    step = step_of(field)
    levels = np.arange(np.floor(field.T.min() / step), np.ceil(field.T.max() / step) + 1) * step
    figure = Figure(figsize=(5.2, 6.0), layout="compressed")
    ax = figure.subplots()
    for side in (-1.0, 1.0):
        mesh = Triangulation(side * x, y, corners)
        filled = ax.tricontourf(mesh, field.T, levels=levels, cmap="cividis")
        ax.tricontour(mesh, field.T, levels=levels, colors="k", linewidths=0.4)
    for joint in field.joints:
        edge = x[np.abs(y - joint * 1e3) < 1e-6].max()
        ax.plot([-edge, edge], [joint * 1e3] * 2, color="w", lw=0.9, ls=(0, (1, 2)))
    figure.colorbar(filled, ax=ax, shrink=0.9, label="T [K]")
    coolant, middle = f"coolant {check.T_coolant_K:.0f} K", 0.5e3 * field.joints[0]
    ax.text(0.0, middle, coolant, rotation=90, ha="center", va="center", fontsize=8)
    hot = f"hot gas side:\nat most {check.T_wall_hot_fe_K:.0f} K"
    ax.annotate(hot, (0.0, y.min()), (0.0, -4.0), ha="center", **BESIDE)
    ax.grid(visible=False)
    ax.set(aspect="equal", ylim=(y.min() - 0.12 * np.ptp(y), y.max()))
    ax.set(xlabel="along the pitch [mm]", ylabel="outward from the slot floor [mm]")
    ax.set_title(f"x = {check.x_m * 1e3:.1f} mm", fontsize=9)
    return figure
