"""The outside of a liner in the bath: area and volume of layers on it, along x."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from regen.geometry.contour import Contour
from regen.result import Array


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """Liner as the bath sees it, all arrays (S,) by strictly rising x, SI.

    Parameters
    ----------
    x, r : ndarray
        Points of the hot-gas contour that normals stand on [m].
    sine, cosine : ndarray
        Of the contour's angle to the axis [-].
    liner : ndarray
        Wall and slot depth together, along the normal [m].
    extra_area : float
        Plated beside the part [m2].
    ends : bool
        True where the faces at both ends are in the bath too.
    """

    x: Array
    r: Array
    sine: Array
    cosine: Array
    liner: Array
    extra_area: float = 0.0
    ends: bool = True

    def outside(self, thickness: Array | float) -> tuple[Array, Array]:
        """Return x and r of the outside of a layer.

        Parameters
        ----------
        thickness : ndarray or float
            Of all layers on the liner, normal to the contour, (S,) or one for all [m].

        Returns
        -------
        tuple of ndarray
            Both (S,) [m].
        """
        off = self.liner + thickness
        return self.x - off * self.sine, self.r + off * self.cosine

    def areas(self, thickness: Array | float) -> Array:
        """Return the area between neighbouring stations, of cones through the outside.

        Parameters
        ----------
        thickness : ndarray or float
            Of all layers on the liner, (S,) or one for all [m].

        Returns
        -------
        ndarray
            (S - 1,) [m2].
        """
        x, r = self.outside(thickness)
        return np.asarray(np.pi * (r[1:] + r[:-1]) * np.hypot(np.diff(x), np.diff(r)))

    def faces(self, thickness: Array | float) -> Array:
        """Return the area of the faces at both ends that is in the bath.

        Parameters
        ----------
        thickness : ndarray or float
            Of all layers on the liner, (S,) or one for all [m].

        Returns
        -------
        ndarray
            First and last (2,) [m2]; nothing where they are masked.
        """
        if not self.ends:
            return np.zeros(2)
        _, r = self.outside(thickness)
        off = np.asarray(self.liner + thickness)
        return np.asarray(np.pi * ((self.r + r) * off)[[0, -1]])

    def area(self, thickness: Array | float) -> float:
        """Return all that is in the bath: outside, faces, extra area.

        Parameters
        ----------
        thickness : ndarray or float
            Of all layers on the liner, (S,) or one for all [m].

        Returns
        -------
        float
            Area [m2].
        """
        sides = self.areas(thickness).sum() + self.faces(thickness).sum()
        return float(sides) + self.extra_area

    def even(self, ratio: Array) -> Array:
        """Return local over mean thickness, scaled so that its mean over the liner is 1.

        Parameters
        ----------
        ratio : ndarray
            Local thicknesses to any scale (S,) [any].

        Returns
        -------
        ndarray
            (S,) [-].
        """
        areas = self.areas(0.0)
        return np.asarray(ratio / (np.sum(_middle(ratio) * areas) / np.sum(areas)))

    def volume(self, base: Array | float, growth: Array | float) -> float:
        """Return the volume of a layer on the outside alone.

        Parameters
        ----------
        base : ndarray or float
            What lies on the liner already, (S,) or one for all [m].
        growth : ndarray or float
            Thickness of the layer, (S,) or one for all [m].

        Returns
        -------
        float
            Volume [m3], by Simpson's rule through the layer: its area is a parabola in the
            thickness but for the slope of what varies along x.
        """
        layer = np.broadcast_to(np.asarray(growth, dtype=np.float64), self.x.shape)
        thick = _middle(layer)
        shares = ((0.0, 1.0), (0.5, 4.0), (1.0, 1.0))
        parts = [weight * np.sum(thick * self.areas(base + f * layer)) for f, weight in shares]
        return float(sum(parts)) / 6.0


def _middle(values: Array) -> Array:
    return np.asarray(0.5 * (values[1:] + values[:-1]))


def surface_of(
    contour: Contour,
    stations: Mapping[str, Array],
    *,
    extra_area: float = 0.0,
    ends: bool = True,
) -> Surface:
    """Return the liner's outside at the stations of a solved design.

    Parameters
    ----------
    contour : Contour
        Hot-gas contour.
    stations : mapping of str to ndarray
        Columns of the result.
    extra_area : float
        Plated beside the part [m2].
    ends : bool
        True where the faces at both ends are in the bath too.

    Returns
    -------
    Surface
        Each x once.

    Notes
    -----
    Of several rows at one x, such as both passes of a circuit, the thickest liner counts.
    """
    solid = stations["wall_m"] + stations["channel_depth_m"]
    order = np.lexsort((-solid, stations["x_m"]))
    x = stations["x_m"][order]
    rows = order[np.concatenate([[True], np.diff(x) > 0.0])]
    x = stations["x_m"][rows]
    slope = contour.slope_angle(x)
    return Surface(
        x=x,
        r=stations["r_m"][rows],
        sine=np.sin(slope),
        cosine=np.cos(slope),
        liner=solid[rows],
        extra_area=extra_area,
        ends=ends,
    )
