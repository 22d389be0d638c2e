"""Slots as a shop cuts and measures them: floors, depths and lands in the drawing's coordinates.

The case counts wall and depth normal to the hot-gas contour. A machine moves along the axis and
across it, so a floor is given here by its own point (x, r): x from the throat, r from the axis.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from regen.design import Channels, Design
from regen.geometry.circuits import Path
from regen.geometry.contour import Contour
from regen.geometry.curves import MERGE, Array
from regen.shop.cutters.checks import CutPlan
from regen.shop.drawings.outlines import FINE, NEAR, outermost, steps

STEP = 1e-3
"""Distance of the rows of a cutting table along the axis [m]; all rows are on whole steps."""

LONG = 0.25
"""Slots longer than this have rows twice as far apart [m]."""

STRAIGHT = 4e-6
"""Straight lines from row to row miss the slot floor by at most this [m]: a fifth of the 0.02 mm
that a wall is claimed to."""

HALVINGS = 5
"""How often a step is halved where the floor is bent."""

SECANTS = 4
"""Between points so close a surface is nearly straight: two would do, four are to the last bit."""

CLOSE = 0.03e-3
"""A row on a whole step is left out where another is nearer than this [m]."""


@dataclass(frozen=True, slots=True)
class Course:
    """A size along the contour, straight between close places: ``x``, ``value`` (n,) [m]."""

    x: Array
    value: Array

    def at(self, x: Array) -> Array:
        """Return the size at ``x`` (n,) [m]."""
        return np.interp(x, self.x, self.value)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Equal slots side by side, from one end of a circuit or change of the number to the next.

    Parameters
    ----------
    circuit : str
        Name of its circuit.
    count : int
        Number of slots [-].
    start, stop : float
        Positions on the hot-gas contour between which the slots are [m].
    wall, width, depth : Course
        As they come from the cutter, along the hot-gas contour; wall and depth normal to it [m].
    width_top : Course
        Width at the blank's outside: wider where a wider cutter has its ramp over a narrower [m].
    breaks : tuple of float
        Positions on the contour where one of them changes its course [m].
    back : bool
        Every second slot leads the coolant back.
    """

    circuit: str
    count: int
    start: float
    stop: float
    wall: Course
    width: Course
    depth: Course
    width_top: Course
    breaks: tuple[float, ...]
    back: bool = False

    def to_top(self, x: Array) -> Array:
        """Return the distance of the blank's outside from the contour at ``x`` [m]."""
        return self.wall.at(x) + self.depth.at(x)

    @property
    def index_angle(self) -> float:
        """Angle from slot to slot [deg]."""
        return 360.0 / self.count


@dataclass(frozen=True, slots=True)
class Rows:
    """Points of one stretch's slot floor, arrays (n,) by rising floor x, SI.

    ``x``, ``r``, ``slope`` are of the hot-gas contour [m, m, rad]; ``floor_x``, ``floor_r`` the
    slot floor on its normal, ``floor_slope`` the angle of the floor to the axis [rad]; ``top_x``,
    ``top_r`` the blank on the same normal. ``depth`` is along the normal, ``depth_radial`` from
    the blank straight down to the floor, NaN where the blank ends before. Lands are at the floor
    and at the blank's outside.
    """

    x: Array
    r: Array
    slope: Array
    wall: Array
    width: Array
    depth: Array
    floor_x: Array
    floor_r: Array
    floor_slope: Array
    top_x: Array
    top_r: Array
    blank_r: Array
    land_floor: Array
    land_top: Array

    @property
    def depth_radial(self) -> Array:
        """Depth straight down from the blank [m]."""
        return np.asarray(self.blank_r - self.floor_r)

    def row(self, number: int) -> Rows:
        """Return one row, arrays (1,)."""
        kept = slice(number, number + 1)
        return Rows(**{field.name: getattr(self, field.name)[kept] for field in fields(self)})


def stretches(design: Design, paths: Sequence[Path], plan: CutPlan) -> tuple[Stretch, ...]:
    """Return the stretches of slots of a design, by rising x.

    Parameters
    ----------
    design : Design
        Checked design, before it was cut.
    paths : sequence of Path
        Its circuits.
    plan : CutPlan
        What its cutters leave, circuit by circuit as ``paths``.

    Returns
    -------
    tuple of Stretch
        Those of one circuit adjoin.
    """
    found = []
    for path, cut in zip(paths, plan.circuits, strict=True):
        channels, ends = path.circuit.channels, (float(path.x[0]), float(path.x[-1]))
        edges = [x for x, _ in channels.count_changes if ends[0] + MERGE < x < ends[1] - MERGE]
        profiles = (design.liner.wall, channels.width, channels.depth)
        breaks = [x for profile in profiles for x in profile.x]
        breaks += [x for one in cut.cuts for x in (one.start, one.stop)]
        for start, stop in zip((ends[0], *edges), (*edges, ends[1]), strict=True):
            found.append(
                Stretch(
                    circuit=path.name,
                    count=_count_at(channels, (start + stop) / 2),
                    start=start,
                    stop=stop,
                    wall=Course(cut.x, cut.wall),
                    width=Course(cut.x, cut.made_width),
                    depth=Course(cut.x, cut.depth),
                    width_top=Course(cut.x, cut.width),
                    breaks=tuple(sorted({x for x in breaks if start < x < stop})),
                    back=channels.passes == "down and back",
                )
            )
    return tuple(sorted(found, key=lambda stretch: stretch.start))


def _count_at(channels: Channels, x: float) -> int:
    counts = [count for place, count in channels.count_changes if place <= x]
    return counts[-1] if counts else channels.count


def off_wall(contour: Contour, distance: Callable[[Array], Array], x: Array) -> tuple[Array, Array]:
    """Return the points at a distance outside the hot wall.

    Parameters
    ----------
    contour : Contour
        Hot-gas contour.
    distance : callable
        Distance along the outward normal [m] by position on the contour (n,) [m].
    x : ndarray
        Positions on the contour (n,) [m].

    Returns
    -------
    x, r : ndarray
        Axial position and radius of the points (n,) [m].
    """
    slope, away = contour.slope_angle(x), distance(x)
    return x - away * np.sin(slope), contour.radius(x) + away * np.cos(slope)


def below(
    contour: Contour, stretch: Stretch, distance: Callable[[Array], Array], place: Array
) -> Array:
    """Return where on the contour the normals start that meet a surface outside it at given x.

    Parameters
    ----------
    contour : Contour
        Hot-gas contour.
    stretch : Stretch
        Slots over which the surface goes; it does not fold there.
    distance : callable
        Distance of the surface along the normal [m] by position on the contour (n,) [m].
    place : ndarray
        Axial positions of points of the surface (n,) [m].

    Returns
    -------
    ndarray
        Positions on the contour (n,) [m]; NaN where the surface has ended before.
    """
    s = follow(contour, stretch)
    x = off_wall(contour, distance, s)[0]
    at = np.clip(np.searchsorted(x, place), 1, x.size - 1)
    one, other = s[at - 1], s[at]
    off, off_other = x[at - 1] - place, x[at] - place
    for _ in range(SECANTS):
        apart = off_other - off
        step = np.divide(off_other, apart, out=np.zeros_like(apart), where=apart != 0.0)
        one, other, off = other, np.clip(other - step * (other - one), s[0], s[-1]), off_other
        off_other = off_wall(contour, distance, other)[0] - place
    inside = (place >= x[0] - MERGE) & (place <= x[-1] + MERGE)
    return np.where(inside, other, np.nan)


def follow(contour: Contour, stretch: Stretch) -> Array:
    """Return close positions on the contour over a stretch, with every joint and profile point.

    Parameters
    ----------
    contour : Contour
        Hot-gas contour.
    stretch : Stretch
        Slots.

    Returns
    -------
    ndarray
        Rising positions (n,) [m].
    """
    return steps(stretch.start, stretch.stop, (*contour.breakpoints, *stretch.breaks))


def surface(
    contour: Contour, stretch: Stretch, distance: Callable[[Array], Array]
) -> tuple[Array, Array]:
    """Return a surface outside the hot wall over a stretch, as it is seen from outside.

    Parameters
    ----------
    contour : Contour
        Hot-gas contour.
    stretch : Stretch
        Slots.
    distance : callable
        Distance from the contour along its normal [m] by position on it (n,) [m].

    Returns
    -------
    x, r : ndarray
        Close points by rising x (n,) [m].
    """
    return outermost(*off_wall(contour, distance, follow(contour, stretch)))


def rows_of(contour: Contour, stretch: Stretch, places: Sequence[float] = ()) -> Rows:
    """Return the rows of a stretch's cutting table.

    Parameters
    ----------
    contour : Contour
        Hot-gas contour.
    stretch : Stretch
        Slots.
    places : sequence of float
        Positions on the contour that must have a row [m]; those outside are left out.

    Returns
    -------
    Rows
        At the ends, at whole steps of the floor's x, closer where it is bent, at every joint of
        the contour and point of the profiles, and at ``places``.
    """
    s = follow(contour, stretch)
    x, r = off_wall(contour, stretch.wall.at, s)
    joints = [*contour.breakpoints, *stretch.breaks, *places]
    inside = np.array([stretch.start, *(at for at in joints if stretch.start < at < stretch.stop)])
    fixed = np.append(off_wall(contour, stretch.wall.at, inside)[0], x[-1])
    at = table_places(x, r, fixed)
    return rows_at(contour, stretch, below(contour, stretch, stretch.wall.at, at))


def table_places(x: Array, r: Array, fixed: Array) -> Array:
    """Return the positions of a table's rows: close enough to go straight from one to the next.

    Parameters
    ----------
    x, r : ndarray
        Close points of the curve (n,) [m].
    fixed : ndarray
        Positions that must have a row, both ends among them (m,) [m].

    Returns
    -------
    ndarray
        Rising positions, on whole steps beside the fixed ones [m].
    """
    step = STEP if np.ptp(x) <= LONG else 2 * STEP
    whole = np.arange(np.ceil(x[0] / step), np.floor(x[-1] / step) + 1) * step
    at = np.concatenate([fixed, whole[_free(whole, fixed)]])
    for _ in range(HALVINGS):
        step /= 2
        at = np.unique(at)
        middle = np.round((at[:-1] + at[1:]) / 2 / step) * step
        new = middle[_bent(at, x, r) & _free(middle, fixed)]
        at = np.append(at, new)
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


def rows_at(contour: Contour, stretch: Stretch, s: Array) -> Rows:
    """Return the rows that stand on positions of the contour.

    Parameters
    ----------
    contour : Contour
        Hot-gas contour.
    stretch : Stretch
        Slots.
    s : ndarray
        Rising positions on the contour (n,) [m].

    Returns
    -------
    Rows
        One a position.
    """
    wall, width, depth = (p.at(s) for p in (stretch.wall, stretch.width, stretch.depth))
    floor_x, floor_r = off_wall(contour, stretch.wall.at, s)
    top_x, top_r = off_wall(contour, stretch.to_top, s)
    blank_x, blank_r = surface(contour, stretch, stretch.to_top)
    return Rows(
        x=s,
        r=contour.radius(s),
        slope=contour.slope_angle(s),
        wall=wall,
        width=width,
        depth=depth,
        floor_x=floor_x,
        floor_r=floor_r,
        floor_slope=_floor_slope(contour, stretch, s),
        top_x=top_x,
        top_r=top_r,
        blank_r=np.interp(floor_x, blank_x, blank_r, left=np.nan, right=np.nan),
        land_floor=2 * np.pi * floor_r / stretch.count - width,
        land_top=2 * np.pi * top_r / stretch.count - stretch.width_top.at(s),
    )


def _floor_slope(contour: Contour, stretch: Stretch, s: Array) -> Array:
    """Return the angle of the slot floor to the axis [rad], by the points a little to its sides."""
    a = np.clip(s - FINE / 2, stretch.start, stretch.stop)
    b = np.clip(s + FINE / 2, stretch.start, stretch.stop)
    (xa, ra), (xb, rb) = (off_wall(contour, stretch.wall.at, at) for at in (a, b))
    return np.asarray(np.arctan2(rb - ra, xb - xa))


@dataclass(frozen=True, slots=True)
class Layer:
    """Outside of one layer: ``distance`` from the contour along its normal [m] by position [m].

    ``drawn`` is its layer in the drawing.
    """

    name: str
    drawn: str
    distance: Callable[[Array], Array]


@dataclass(frozen=True, slots=True)
class Ring:
    """Cross-section in a plane normal to the axis; radii [m] in the middle of a slot.

    ``radii`` are those of hot wall, slot floor, blank and of each layer by its name.
    """

    name: str
    x: float
    stretch: Stretch
    width: float
    radii: dict[str, float]


HOT_WALL, FLOOR, BLANK = "hot wall", "slot floor", "blank"


def ring(
    contour: Contour, stretch: Stretch, layers: Sequence[Layer], name: str, x: float
) -> Ring | None:
    """Return the section of a stretch at a place on the axis.

    Parameters
    ----------
    contour : Contour
        Hot-gas contour.
    stretch : Stretch
        Slots.
    layers : sequence of Layer
        What closes them.
    name : str
        What the place is called.
    x : float
        Place on the axis [m].

    Returns
    -------
    Ring or None
        None where one of its surfaces has ended before the place.
    """
    curves: dict[str, Callable[[Array], Array]]
    curves = {FLOOR: stretch.wall.at, BLANK: stretch.to_top}
    curves |= {layer.name: layer.distance for layer in layers}
    radii = {HOT_WALL: float(contour.radius(x))}
    for key, distance in curves.items():
        radii[key] = _radius_at(contour, stretch, distance, x)
    if not np.all(np.isfinite(list(radii.values()))):
        return None
    s = below(contour, stretch, stretch.wall.at, np.array([x]))
    return Ring(name, x, stretch, float(stretch.width.at(s)[0]), radii)


def _radius_at(
    contour: Contour, stretch: Stretch, distance: Callable[[Array], Array], x: float
) -> float:
    """Return the radius of a surface at a place on the axis [m], NaN where it has ended before."""
    if np.all(np.diff(off_wall(contour, distance, follow(contour, stretch))[0]) > 0):
        s = below(contour, stretch, distance, np.array([x]))
        return float(off_wall(contour, distance, s)[1][0]) if np.isfinite(s[0]) else np.nan
    points = surface(contour, stretch, distance)  # grown together: no one normal leads to it
    return float(np.interp(x, *points, left=np.nan, right=np.nan))
