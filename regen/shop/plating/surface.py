"""The outside of a liner in the bath: area and volume of layers on it, along x."""

from dataclasses import dataclass

import numpy as np

from regen.design import ContourShape, Design
from regen.geometry.contour import build_contour
from regen.result import Array, Result


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """Liner as the bath sees it, all arrays (S,) by strictly rising x, SI.

    ``x``, ``r`` are points of the hot-gas contour that normals stand on, ``sine`` and ``cosine``
    of the contour's angle to the axis; ``liner`` is wall and slot depth together along the normal.
    ``extra_area`` is plated beside the part [m2]; ``ends``: the faces at both ends too.
    """

    x: Array
    r: Array
    sine: Array
    cosine: Array
    liner: Array
    extra_area: float = 0.0
    ends: bool = True

    def outside(self, thickness: Array | float) -> tuple[Array, Array]:
        """Return x and r (S,) of the outside of layers of a thickness along the normal [m]."""
        off = self.liner + thickness
        return self.x - off * self.sine, self.r + off * self.cosine

    def areas(self, thickness: Array | float) -> Array:
        """Return the area of the cones between neighbouring stations (S - 1,) [m2]."""
        x, r = self.outside(thickness)
        return np.asarray(np.pi * (r[1:] + r[:-1]) * np.hypot(np.diff(x), np.diff(r)))

    def faces(self, thickness: Array | float) -> Array:
        """Return the area of both end faces that is in the bath (2,) [m2], 0 where masked."""
        if not self.ends:
            return np.zeros(2)
        _, r = self.outside(thickness)
        off = np.asarray(self.liner + thickness)
        return np.asarray(np.pi * ((self.r + r) * off)[[0, -1]])

    def area(self, thickness: Array | float) -> float:
        """Return all that is in the bath [m2]: outside, faces, extra area."""
        sides = self.areas(thickness).sum() + self.faces(thickness).sum()
        return float(sides) + self.extra_area

    def even(self, ratio: Array) -> Array:
        """Return local over mean thickness (S,), scaled to a mean of 1 over the liner's area."""
        areas = self.areas(0.0)
        return np.asarray(ratio / (np.sum(_middle(ratio) * areas) / np.sum(areas)))

    def volume(self, base: Array | float, growth: Array | float) -> float:
        """Return the volume [m3] of a layer ``growth`` thick on ``base`` [m], outside alone.

        By Simpson's rule through the layer: its area is a parabola in the thickness but for the
        slope of what varies along x.
        """
        layer = np.broadcast_to(np.asarray(growth, dtype=np.float64), self.x.shape)
        thick = _middle(layer)
        shares = ((0.0, 1.0), (0.5, 4.0), (1.0, 1.0))
        parts = [weight * np.sum(thick * self.areas(base + f * layer)) for f, weight in shares]
        return float(sum(parts)) / 6.0


def _middle(values: Array) -> Array:
    return np.asarray(0.5 * (values[1:] + values[:-1]))


def surface_of(design: Design, result: Result) -> Surface:
    """Return the liner's outside at the stations of a solved design, each x once.

    Of several rows at one x, such as both passes of a circuit, the thickest liner counts.
    """
    stations, sized = result.stations, isinstance(design.contour, ContourShape)
    throat = 0.5 * result.summary["throat_diameter_m"] if sized else None
    solid = stations["wall_m"] + stations["channel_depth_m"]
    order = np.lexsort((-solid, stations["x_m"]))
    x = stations["x_m"][order]
    rows = order[np.concatenate([[True], np.diff(x) > 0.0])]
    x = stations["x_m"][rows]
    slope = build_contour(design.contour, throat).slope_angle(x)
    return Surface(
        x=x,
        r=stations["r_m"][rows],
        sine=np.sin(slope),
        cosine=np.cos(slope),
        liner=solid[rows],
        extra_area=design.plating.extra_area,
        ends=design.plating.ends == "plated",
    )
