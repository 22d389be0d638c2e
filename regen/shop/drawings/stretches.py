"""Slots as a shop cuts and measures them: floors, depths and lands in the drawing's coordinates.

The case counts wall and depth normal to the hot-gas contour. A machine moves along the axis and
across it, so a floor is given here by its own point (x, r): x from the throat, r from the axis.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from regen.design import Channels, Design
from regen.geometry.circuits import Path
from regen.geometry.contour import Contour
from regen.geometry.curves import MERGE, Array
from regen.shop.cutters.plan import CutPlan
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

Distance = Callable[[Array], Array]
"""Of a surface from the contour along its normal [m], by position on the contour (n,) [m]."""


@dataclass(frozen=True, slots=True)
class Course:
    """A size along the contour, straight between close places: ``x``, ``value`` (n,) [m]."""

    x: Array
    value: Array

    def at(self, x: Array) -> Array:
        """Return the size at ``x`` (n,) [m]."""
        return np.interp(x, self.x, self.value)


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


@dataclass(frozen=True, slots=True)
class Stretch:
    """Equal slots side by side, from one end of a circuit or change of the number to the next.

    ``start`` and ``stop`` are on the hot-gas contour [m]. ``wall``, ``width``, ``depth`` are as
    they come from the cutter, along the contour; wall and depth normal to it. ``width_top`` is
    that at the blank's outside: wider where a wider cutter has its ramp over a narrower. At
    ``breaks`` one of them changes its course [m]. ``back``: every second slot leads the coolant
    back.
    """

    contour: Contour
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

    def to_top(self, s: Array) -> Array:
        """Return the distance of the blank's outside from the contour at ``s`` [m]."""
        return self.wall.at(s) + self.depth.at(s)

    @property
    def index_angle(self) -> float:
        """Angle from slot to slot [deg]."""
        return 360.0 / self.count

    def places(self) -> Array:
        """Return close positions on the contour [m], with every joint and profile point."""
        return steps(self.start, self.stop, (*self.contour.breakpoints, *self.breaks))

    def points(self, distance: Distance, s: Array) -> tuple[Array, Array]:
        """Return x and r of a surface [m] on the normals at positions of the contour (n,) [m]."""
        slope, away = self.contour.slope_angle(s), distance(s)
        return s - away * np.sin(slope), self.contour.radius(s) + away * np.cos(slope)

    def surface(self, distance: Distance) -> tuple[Array, Array]:
        """Return close points of a surface by rising x (n,) [m], as it is seen from outside."""
        return outermost(*self.points(distance, self.places()))

    def below(self, distance: Distance, x: Array) -> Array:
        """Return where on the contour the normals start that meet a surface at given x (n,) [m].

        The surface does not fold; NaN where it has ended before.
        """
        s = self.places()
        along = self.points(distance, s)[0]
        at = np.clip(np.searchsorted(along, x), 1, along.size - 1)
        one, other = s[at - 1], s[at]
        off, off_other = along[at - 1] - x, along[at] - x
        for _ in range(SECANTS):
            apart = off_other - off
            step = np.divide(off_other, apart, out=np.zeros_like(apart), where=apart != 0.0)
            one, other, off = other, np.clip(other - step * (other - one), s[0], s[-1]), off_other
            off_other = self.points(distance, other)[0] - x
        inside = (x >= along[0] - MERGE) & (x <= along[-1] + MERGE)
        return np.where(inside, other, np.nan)

    def radius_at(self, distance: Distance, x: float) -> float:
        """Return the radius of a surface at a place on the axis [m], NaN where it has ended."""
        if np.all(np.diff(self.points(distance, self.places())[0]) > 0):
            s = self.below(distance, np.array([x]))
            return float(self.points(distance, s)[1][0]) if np.isfinite(s[0]) else np.nan
        points = self.surface(distance)  # grown together: no one normal leads to it
        return float(np.interp(x, *points, left=np.nan, right=np.nan))

    def rows(self, places: Sequence[float] = ()) -> Rows:
        """Return the rows of the cutting table.

        At the ends, at whole steps of the floor's x, closer where it is bent, at every joint of
        the contour and point of the profiles, and at ``places`` of the contour inside [m].
        """
        x, r = self.points(self.wall.at, self.places())
        joints = [*self.contour.breakpoints, *self.breaks, *places]
        inside = np.array([self.start, *(at for at in joints if self.start < at < self.stop)])
        fixed = np.append(self.points(self.wall.at, inside)[0], x[-1])
        return self.rows_at(self.below(self.wall.at, table_places(x, r, fixed)))

    def rows_at(self, s: Array) -> Rows:
        """Return a row for each rising position on the contour (n,) [m]."""
        wall, width, depth = (course.at(s) for course in (self.wall, self.width, self.depth))
        floor_x, floor_r = self.points(self.wall.at, s)
        top_x, top_r = self.points(self.to_top, s)
        blank_x, blank_r = self.surface(self.to_top)
        return Rows(
            x=s,
            r=self.contour.radius(s),
            slope=self.contour.slope_angle(s),
            wall=wall,
            width=width,
            depth=depth,
            floor_x=floor_x,
            floor_r=floor_r,
            floor_slope=self._floor_slope(s),
            top_x=top_x,
            top_r=top_r,
            blank_r=np.interp(floor_x, blank_x, blank_r, left=np.nan, right=np.nan),
            land_floor=2 * np.pi * floor_r / self.count - width,
            land_top=2 * np.pi * top_r / self.count - self.width_top.at(s),
        )

    def _floor_slope(self, s: Array) -> Array:
        """Return the angle of the slot floor to the axis [rad], by points a little to its sides."""
        a, b = (np.clip(s + side * FINE / 2, self.start, self.stop) for side in (-1, 1))
        (xa, ra), (xb, rb) = (self.points(self.wall.at, at) for at in (a, b))
        return np.asarray(np.arctan2(rb - ra, xb - xa))


def stretches(
    design: Design, contour: Contour, paths: Sequence[Path], plan: CutPlan
) -> tuple[Stretch, ...]:
    """Return the stretches of slots of a design as wanted, by rising x; those of a circuit adjoin.

    ``plan`` is what its cutters leave, circuit by circuit as ``paths``.
    """
    result = []
    for path, cut in zip(paths, plan.circuits, strict=True):
        channels, ends = path.circuit.channels, (float(path.x[0]), float(path.x[-1]))
        edges = [x for x, _ in channels.count_changes if ends[0] + MERGE < x < ends[1] - MERGE]
        profiles = (design.liner.wall, channels.width, channels.depth)
        breaks = [x for profile in profiles for x in profile.x]
        breaks += [x for tool in cut.tool_paths for x in (tool.start, tool.stop)]
        for start, stop in zip((ends[0], *edges), (*edges, ends[1]), strict=True):
            result.append(
                Stretch(
                    contour=contour,
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
    return tuple(sorted(result, key=lambda stretch: stretch.start))


def _count_at(channels: Channels, x: float) -> int:
    counts = [count for place, count in channels.count_changes if place <= x]
    return counts[-1] if counts else channels.count


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


def ring(stretch: Stretch, layers: Mapping[str, Distance], name: str, x: float) -> Ring | None:
    """Return the section of a stretch with its layers' outsides at a place on the axis [m].

    None where one of its surfaces has ended before the place.
    """
    surfaces = {FLOOR: stretch.wall.at, BLANK: stretch.to_top, **layers}
    radii = {HOT_WALL: float(stretch.contour.radius(x))}
    radii |= {key: stretch.radius_at(distance, x) for key, distance in surfaces.items()}
    if not np.all(np.isfinite(list(radii.values()))):
        return None
    s = stretch.below(stretch.wall.at, np.array([x]))
    return Ring(name, x, stretch, float(stretch.width.at(s)[0]), radii)
