"""Curves of a meridional drawing: the contour in lines and arcs, and surfaces outside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from regen.geometry.contour import Contour
from regen.geometry.curves import Arc, Array, Line, Segment
from regen.shop.cutters.floor import split

FINE = 0.02e-3
"""Spacing of the points that a curve is followed by [m]; between them it is straight to a tenth of
a micrometre in a bend of 0.5 mm."""

DRAWN = 0.5e-6
"""A drawn polyline misses its curve by at most this [m]."""


NEAR = 1e-9
"""Points closer than this are one [m]."""

STEP = 1e-3
"""Distance of the rows of a cutting table along the axis [m]; all rows are on whole steps."""

LONG = 0.25
"""Slots longer than this have rows twice as far apart [m]."""

STRAIGHT = 4e-6
"""Straight lines from row to row miss the slot floor by at most this [m]: a fifth of the 0.02 mm
that a wall is claimed to."""

HALVINGS = 5
"""How often a step is halved where the floor is bent."""

CLOSE = 0.03e-3
"""A row on a whole step is left out where another is nearer than this [m]."""


@dataclass(frozen=True, slots=True)
class Curve:
    """An open curve by rising x: straight from vertex to vertex, or an arc where it has a bulge.

    ``x``, ``r`` (n,) [m]; ``bulge`` (n,) is the tangent of a quarter of the arc's angle from the
    vertex to the next, positive where the arc goes counterclockwise, 0 for a line [-].
    """

    x: Array
    r: Array
    bulge: Array

    @classmethod
    def through(cls, x: Array, r: Array, corners: Sequence[int] = ()) -> Curve:
        """Return the polyline through as few of the points (n,) [m] as ``DRAWN`` allows.

        ``corners`` are numbers of points that are kept whatever they miss.
        """

        def missed(a: int, b: int) -> tuple[Array, float]:
            along, across = x[b] - x[a], r[b] - r[a]
            away = np.abs(along * (r[a : b + 1] - r[a]) - across * (x[a : b + 1] - x[a]))
            return away, DRAWN * np.hypot(along, across)

        kept = split(x.size, missed, corners)
        return cls(x[kept], r[kept], np.zeros(kept.size))


def hot_wall(contour: Contour) -> Curve:
    """Return the hot-gas contour from face to exit: lines and arcs as they are, else points."""
    pieces = [_piece(segment) for segment in contour.segments]
    x, r, bulge = (np.concatenate(parts) for parts in zip(*pieces, strict=True))
    end = contour.radius(contour.x_exit)
    return Curve(np.append(x, contour.x_exit), np.append(r, end), np.append(bulge, 0.0))


def _piece(segment: Segment) -> tuple[Array, Array, Array]:
    """Return vertices and bulges of one segment without its last vertex."""
    ends = np.array([segment.x0, segment.x1])
    if isinstance(segment, Line | Arc):
        r, slope, _ = segment.at(ends)
        turned = np.diff(np.arctan(slope))  # rising x: a bulge to the axis turns counterclockwise
        return ends[:1], r[:1], np.tan(turned / 4)
    x = np.linspace(ends[0], ends[1], 2 + int((ends[1] - ends[0]) / FINE))
    piece = Curve.through(x, segment.at(x)[0])
    return piece.x[:-1], piece.r[:-1], piece.bulge[:-1]


def outermost(x: Array, r: Array) -> tuple[Array, Array]:
    """Return the points of a curve (n,) [m] by rising x that are seen from outside.

    A layer in a groove narrower than its thickness grows together: of the branches that cross, the
    outer one is its surface. All points are kept where nothing folds.
    """
    steps = np.diff(x)
    if np.all(steps > 0):
        return x, r
    turns = np.flatnonzero(np.diff(steps > 0)) + 1
    edges = [0, *turns, x.size - 1]
    branches = [np.arange(a, b + 1) for a, b in zip(edges[:-1], edges[1:], strict=True)]
    forward = [branch for branch in branches if x[branch[-1]] > x[branch[0]]]
    places = np.unique(np.concatenate([x[branch] for branch in forward]))
    heights = [
        np.interp(places, x[branch], r[branch], left=-np.inf, right=-np.inf) for branch in forward
    ]
    return places, np.max(heights, axis=0)


def table_places(x: Array, r: Array, fixed: Array) -> Array:
    """Return the positions of a table's rows [m]: close enough to go straight between them.

    ``x``, ``r`` are close points of the curve; ``fixed`` positions, both ends among them, must
    have a row.
    """
    step = STEP if np.ptp(x) <= LONG else 2 * STEP
    whole = np.arange(np.ceil(x[0] / step), np.floor(x[-1] / step) + 1) * step
    at = np.concatenate([fixed, whole[_free(whole, fixed)]])
    for _ in range(HALVINGS):
        step /= 2
        at = np.unique(at)
        middle = np.round((at[:-1] + at[1:]) / 2 / step) * step
        at = np.append(at, middle[_bent(at, x, r) & _free(middle, fixed)])
    at = np.unique(at)
    return np.asarray(at[np.concatenate([[True], np.diff(at) > NEAR])])


def _free(at: Array, fixed: Array) -> NDArray[np.bool_]:
    """Return which positions have no fixed one so near that a row for each would confuse."""
    return np.asarray(np.min(np.abs(at[:, None] - fixed), axis=1) > CLOSE)


def _bent(at: Array, x: Array, r: Array) -> NDArray[np.bool_]:
    """Return between which positions (n,) a straight line would miss the floor (n - 1,)."""
    miss = np.abs(r - np.interp(x, at, np.interp(at, x, r)))
    bent = np.zeros(at.size - 1, dtype=bool)
    off = miss > STRAIGHT
    bent[np.clip(np.searchsorted(at, x[off], side="right") - 1, 0, at.size - 2)] = True
    return bent
