"""Mass of the cooled length: liner, lands and closeout, of one design or many."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from regen.design import Design
from regen.geometry.circuits import Path
from regen.metals import selection as metals
from regen.result import Array


class MassParts(NamedTuple):
    """Masses along the slots, () or (L,) [kg]: wall and lands; copper layer; jacket."""

    liner: Array
    copper: Array
    jacket: Array


def cooled_mass(design: Design, paths: tuple[Path, ...]) -> Array:
    """Return the mass of wall, lands and closeout along the slots.

    Parameters
    ----------
    design : Design
        Says metals and layers.
    paths : tuple of Path
        All circuits, of one design or of L.

    Returns
    -------
    ndarray
        Mass, () or (L,) [kg]; without coolant, manifolds and ends.
    """
    return np.asarray(sum(mass_parts(design, paths)))


def mass_parts(design: Design, paths: tuple[Path, ...]) -> MassParts:
    """Return the masses of the metals along the slots.

    Parameters
    ----------
    design : Design
        Says metals and layers.
    paths : tuple of Path
        All circuits, of one design or of L.

    Returns
    -------
    MassParts
        Without coolant, manifolds and ends.

    Notes
    -----
    Layers normal to the contour on their mean radius, by trapezoids along the contour: exact for
    a cylinder, and on a cone up to the change of slope across a layer.
    """
    liner = metals.liner(design).alloy.density.value
    whole = [np.zeros(()), np.zeros(()), np.zeros(())]
    for path in paths:
        slots = path.passage
        cosine = np.cos(slots.slope_angle)
        roof = slots.floor_radius + slots.depth * cosine
        solid = _ring(slots.r, slots.wall + slots.depth, cosine)
        lines = [liner * (solid - slots.count * slots.width * slots.depth)]
        for metal, thickness in metals.closeout(design):
            lines.append(metal.alloy.density.value * _ring(roof, thickness, cosine))
            roof = roof + thickness * cosine
        step = slots.step_gas[..., 1:]
        for n, line in enumerate(lines):
            whole[n] = whole[n] + np.sum(0.5 * (line[..., 1:] + line[..., :-1]) * step, axis=-1)
    return MassParts(*whole)


def _ring(inner: Array, thickness: Array | float, cosine: Array) -> Array:
    """Return the area of a layer cut normal to the contour [m2], from its inner radius."""
    return np.asarray(2.0 * np.pi * (inner + 0.5 * thickness * cosine) * thickness)
