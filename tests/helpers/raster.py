"""A slot cut out of pixels by a disc that runs along a table: nothing of the product's geometry.

The disc's centre goes in straight lines from row to row of a table; a pixel is cut if its middle
comes within the disc's radius of that way. What is left is measured along rays.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Raster:
    """Pixels of a window of the meridional plane: ``cut`` (rows by radius, columns by x)."""

    x0: float
    r0: float
    pixel: float
    cut: NDArray[np.bool_]

    def at(self, x: Array, r: Array) -> NDArray[np.bool_]:
        """Return whether points are cut; outside the window nothing is."""
        column = np.floor((x - self.x0) / self.pixel).astype(int)
        row = np.floor((r - self.r0) / self.pixel).astype(int)
        rows, columns = self.cut.shape
        inside = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
        found = np.zeros(np.shape(x), dtype=bool)
        found[inside] = self.cut[row[inside], column[inside]]
        return found

    def wall(self, x: Array, r: Array, slope: Array, most: float) -> Array:
        """Return the copper left from points of the contour outwards along its normals [m].

        ``slope`` is the contour's angle to the axis [rad]; ``most`` where rays end [m].
        """
        along = np.arange(0.0, most, self.pixel / 5)
        met = self.at(
            x[:, None] - along * np.sin(slope)[:, None],
            r[:, None] + along * np.cos(slope)[:, None],
        )
        return np.where(met.any(axis=1), along[np.argmax(met, axis=1)], np.inf)


def cut_pixels(
    x: Array,
    r: Array,
    radius: float,
    window: tuple[float, float, float, float],
    pixel: float = 0.01e-3,
) -> Raster:
    """Run a disc along the rows (x, r) of a table over a window (x from, to, r from, to) [m]."""
    low, high, inner, outer = window
    near = (x > low - radius - 1e-3) & (x < high + radius + 1e-3)
    first, last = np.flatnonzero(near)[[0, -1]]
    x, r = x[max(first - 1, 0) : last + 2], r[max(first - 1, 0) : last + 2]
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(r)))])
    fine = np.unique(np.concatenate([length, np.arange(0.0, length[-1], 2 * pixel)]))
    x, r = np.interp(fine, length, x), np.interp(fine, length, r)
    rows = np.arange(inner + pixel / 2, outer, pixel)
    columns = round((high - low) / pixel)
    cut = np.zeros((rows.size, columns), dtype=bool)
    for n, height in enumerate(rows):
        # each disc covers one run of pixels of a row: count where runs begin and end
        off = radius**2 - (height - r) ** 2
        met = off >= 0.0
        half, middle = np.sqrt(off[met]), (x[met] - low) / pixel - 0.5
        start = np.clip(np.ceil(middle - half / pixel), 0, columns).astype(int)
        stop = np.clip(np.floor(middle + half / pixel) + 1, 0, columns).astype(int)
        begun = np.bincount(start, minlength=columns + 1) - np.bincount(stop, minlength=columns + 1)
        cut[n] = np.cumsum(begun)[:columns] > 0
    return Raster(low, inner, pixel, cut)
