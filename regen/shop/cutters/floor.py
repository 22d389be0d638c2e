"""The floor that a cutter leaves: the envelope of a disc, or of a flat end, along a slot.

All in the meridional plane: axial position and radius. A floor is a height over axial position on
an even grid; below it is copper that must stay.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from regen.design import Profile
from regen.errors import GeometryError
from regen.geometry.contour import Contour
from regen.geometry.curves import Array
from regen.shop.cutters.slots import text

STEP = 0.05e-3
"""Grid along the slot [m]: heights are right to 0.2 um for discs of 5 mm and more, since the
error goes with the square of the grid over eight radii."""

HALVINGS = 45

SHARP, TURN_PARTS = 0.02, 64
"""A centre's path whose slope changes by more than ``SHARP`` over three intervals [-] is looked at
between the grid points too, at ``TURN_PARTS`` parts of one: a chord over such a turn would leave
some 10 um too much copper, over a gentler one less than 0.3 um."""


@dataclass(frozen=True, slots=True)
class Meridian:
    """Wanted floor and blank of a slot over axial position, all (G,) on an even grid [m].

    ``x[first]`` and ``x[last]`` are the slot's ends at its floor. Beyond them the wanted floor
    goes on as the contour does, and straight beyond the contour's ends.
    """

    x: Array
    floor: Array
    blank: Array
    first: int
    last: int

    @property
    def step(self) -> float:
        """Distance between grid points [m]."""
        return float(self.x[1] - self.x[0])


def meridian(
    contour: Contour,
    wall: Profile,
    depth: Profile,
    span: tuple[float, float],
    reach: float,
    step: float = STEP,
) -> Meridian:
    """Return the wanted floor and the blank around a slot that spans part of the contour [m].

    ``wall`` and ``depth`` are normal to the contour; the grid, ``step`` at most, goes beyond the
    slot's ends by ``reach``, the diameter of the disc. GeometryError if the wanted floor folds
    back on itself.
    """
    places = int(np.ceil((contour.x_exit - contour.x_injector) / step * 2)) + 1
    s = np.linspace(contour.x_injector, contour.x_exit, places)
    s = np.unique(np.concatenate([s, span]))
    r, slope = contour.radius(s), contour.slope_angle(s)
    beyond = reach + 10.0 * step

    def curve(distance: Array) -> tuple[Array, Array]:
        """Return the points at a distance outside the contour, straight on at both ends."""
        x, y = s - distance * np.sin(slope), r + distance * np.cos(slope)
        more = np.array([-beyond, beyond])
        far_x, far_y = x[[0, -1]] + more, y[[0, -1]] + more * np.tan(slope[[0, -1]])
        return np.r_[far_x[0], x, far_x[1]], np.r_[far_y[0], y, far_y[1]]

    floor = curve(wall.at(s))
    if np.any(np.diff(floor[0]) <= 0.0):
        at = float(s[max(int(np.argmax(np.diff(floor[0]) <= 0.0)) - 1, 0)])
        raise GeometryError(text("folds", x=at))
    blank = curve(wall.at(s) + depth.at(s))
    ends = np.asarray(span) - wall.at(span) * np.sin(contour.slope_angle(span))
    count = int(np.ceil((ends[1] - ends[0]) / step))
    even = float(ends[1] - ends[0]) / count
    pad = int(np.ceil(reach / even)) + 2
    x = ends[0] + even * np.arange(-pad, count + pad + 1)
    # a roof that folds (noted with the slots) leaves a step of the blank where it does
    roof = np.interp(x, np.maximum.accumulate(blank[0]), blank[1])
    return Meridian(x, np.interp(x, *floor), roof, pad, pad + count)


def disc_floor(x: Array, floor: Array, radius: float) -> tuple[Array, Array, Array]:
    """Return what a disc of a radius [m] leaves that never cuts below a floor (G,) [m].

    ``x`` is an even grid. Returned are ``x_centre`` and ``centre``, the disc's centre at its
    lowest (P,): at the grid points, and where it turns from one contact to another between them;
    and ``cut``, the floor that is left (G,), nowhere below the wanted one.

    centre(x) = max over x' of floor(x') + sqrt(R^2 - (x - x')^2): the disc rests on the wanted
    floor. cut(x) = min over x' of centre(x') - sqrt(R^2 - (x - x')^2): the discs' lower envelope.
    Right where the grid goes on by two radii on both sides.
    """
    step = float(x[1] - x[0])
    offsets = step * np.arange(int(radius / step * (1 + 1e-12)) + 1)
    shape = np.sqrt(np.maximum(radius**2 - offsets**2, 0.0))
    centre = _raised(floor, shape)
    cut = -_raised(-centre, shape)
    slope = np.diff(centre) / step
    sharp = np.flatnonzero(slope[2:] - slope[:-2] > SHARP)
    turns = [_turn(x, floor, centre, radius, i + 1) for i in sharp.tolist()]
    more = np.array(turns).reshape(-1, 2)
    for at, height in more:
        near = np.abs(x - at) < radius
        rim = height - np.sqrt(radius**2 - (x[near] - at) ** 2)
        cut[near] = np.minimum(cut[near], rim)
    x_centre = np.concatenate([x, more[:, 0]])
    order = np.argsort(x_centre)
    # the least rounding must not put the cut below the floor that it touches
    both = x_centre[order], np.concatenate([centre, more[:, 1]])[order]
    return *both, np.maximum(cut, floor)


def _turn(x: Array, floor: Array, centre: Array, radius: float, i: int) -> tuple[float, float]:
    """Return the lowest point of a centre's path below its chord over one interval [m]."""
    between = np.linspace(x[i], x[i + 1], TURN_PARTS + 1)[1:-1]
    near = slice(*np.searchsorted(x, (x[i] - radius, x[i + 1] + radius)))
    off = radius**2 - (between[:, None] - x[None, near]) ** 2
    rest = np.where(off >= 0.0, floor[near] + np.sqrt(np.maximum(off, 0.0)), -np.inf).max(axis=1)
    chord = np.interp(between, x[i : i + 2], centre[i : i + 2])
    at = int(np.argmax(chord - rest))
    return float(between[at]), float(rest[at])


def flat_floor(floor: Array, step: float, width: float) -> tuple[Array, Array]:
    """Return tip and floor left (G,) of an end mill with a radial axis and a flat end [m].

    ``step`` is the even grid's, a whole part of half the mill's ``width``; the floor left is
    nowhere below the wanted one.
    """
    shape = np.zeros(int(width / 2 / step * (1 + 1e-9)) + 1)
    tip = _raised(floor, shape)
    return tip, np.maximum(-_raised(-tip, shape), floor)


def _raised(floor: Array, shape: Array) -> Array:
    """Return the upper envelope of a shape, its heights at 0, 1, ... steps, set on a floor."""
    raised: Array = floor + shape[0]
    for k, height in enumerate(shape[1 : floor.size], start=1):
        np.maximum(raised[k:], floor[:-k] + height, out=raised[k:])
        np.maximum(raised[:-k], floor[k:] + height, out=raised[:-k])
    return raised


def wall_left(
    x: Array, r: Array, slope: Array, least: Array, most: Array, grid: Array, cut: Array
) -> Array:
    """Return the wall between contour and cut floor along the contour's normals (F,) [m].

    ``x``, ``r``, ``slope`` (F,) are points of the contour and its angle to the axis; the answer
    lies between ``least``, the wall wanted, and ``most``, wall with the slot's whole depth (F,);
    ``grid``, ``cut`` (G,) are the cut floor over axial position.
    """
    low, high = least.copy(), most.copy()
    cos, sin = np.cos(slope), np.sin(slope)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        copper = r + middle * cos < np.interp(x - middle * sin, grid, cut)
        low, high = np.where(copper, middle, low), np.where(copper, high, middle)
    return np.asarray(0.5 * (low + high))


def reduced(x: Array, y: Array, tolerance: float) -> NDArray[np.int64]:
    """Return the points of a curve (F,) that straight lines miss by at most a tolerance in y.

    Numbers of the points kept, both ends among them; x rises.
    """

    def missed(a: int, b: int) -> tuple[Array, float]:
        line = y[a] + (y[b] - y[a]) * (x[a : b + 1] - x[a]) / (x[b] - x[a])
        return np.abs(y[a : b + 1] - line), tolerance

    return split(x.size, missed)


def split(
    size: int, missed: Callable[[int, int], tuple[Array, float]], corners: Sequence[int] = ()
) -> NDArray[np.int64]:
    """Return the points of a curve that are kept: each stretch is split where it is missed most.

    ``missed`` says by how much a line from one point to another misses each from the first to the
    last, and by how much it may; both ends and ``corners`` are kept.
    """
    kept = {0, size - 1, *corners}
    waiting = list(pairwise(sorted(kept)))
    while waiting:
        a, b = waiting.pop()
        if b - a < 2:
            continue
        away, allowed = missed(a, b)
        worst = a + int(np.argmax(away))
        if away[worst - a] > allowed:
            kept.add(worst)
            waiting += [(a, worst), (worst, b)]
    return np.array(sorted(kept))
