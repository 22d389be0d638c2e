"""Slots as a shop cuts and measures them: floors, depths and lands in the drawing's coordinates.

The case counts wall and depth normal to the hot-gas contour. A machine moves along the axis and
across it, so a floor is given here by its own point (x, r): x from the throat, r from the axis.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from regen.geometry.contour import Contour
from regen.geometry.curves import MERGE, Array
from regen.shop.cutters.plan import CircuitCut, CutPlan
from regen.shop.drawings.outlines import FINE, NEAR, outermost, table_places

SECANTS = 4
"""Between points so close a surface is nearly straight: two would do, four are to the last bit."""

Distance = Callable[[Array], Array]
"""Of a surface from the contour along its normal [m], by position on the contour (n,) [m]."""


@dataclass(frozen=True, slots=True)
class Rows:
    """Points of one stretch's slot floor, arrays (n,) by rising floor x, SI.

    ``x``, ``r`` are of the hot-gas contour [m]; ``floor_x``, ``floor_r`` the slot floor on its
    normal, ``floor_slope`` the angle of the floor to the axis [rad]; ``blank_r`` the blank straight
    above the floor, NaN where it ends before. ``depth`` is along the normal. Lands are at the floor
    and at the blank's outside.
    """

    x: Array
    r: Array
    wall: Array
    width: Array
    depth: Array
    floor_x: Array
    floor_r: Array
    floor_slope: Array
    blank_r: Array
    land_floor: Array
    land_top: Array

    @property
    def depth_radial(self) -> Array:
        """Depth straight down from the blank [m]."""
        return np.asarray(self.blank_r - self.floor_r)


@dataclass(frozen=True)
class Stretch:
    """Equal slots side by side, from one end of a circuit or change of the number to the next.

    ``start`` and ``stop`` are on the hot-gas contour [m]; stretches are numbered by rising x from
    1. ``wall``, ``width`` and ``depth`` are as they come from the cutter, by position on the
    contour (n,) [m]; wall and depth normal to it.
    """

    number: int
    start: float
    stop: float
    cut: CircuitCut

    @property
    def contour(self) -> Contour:
        """Hot-gas contour."""
        return self.cut.slot.contour

    @property
    def circuit(self) -> str:
        """Name of the circuit."""
        return self.cut.slot.path.name

    @property
    def count(self) -> int:
        """Number of slots."""
        channels, middle = self.cut.slot.channels, (self.start + self.stop) / 2
        counts = [count for x, count in channels.count_changes if x <= middle]
        return counts[-1] if counts else channels.count

    @cached_property
    def breaks(self) -> tuple[float, ...]:
        """Positions on the contour where wall, width or depth changes its course [m]."""
        slot = self.cut.slot
        profiles = (slot.design.liner.wall, slot.channels.width, slot.channels.depth)
        breaks = {x for profile in profiles for x in profile.x}
        breaks |= {x for tool in self.cut.tool_paths for x in (tool.start, tool.stop)}
        return tuple(sorted(x for x in breaks if self.start < x < self.stop))

    def wall(self, s: Array) -> Array:
        """Return the hot wall at ``s`` [m]."""
        return np.interp(s, self.cut.slot.x, self.cut.wall)

    def width(self, s: Array) -> Array:
        """Return the width at the floor [m]."""
        return np.interp(s, self.cut.slot.x, self.cut.made_width)

    def depth(self, s: Array) -> Array:
        """Return the depth [m]."""
        return np.interp(s, self.cut.slot.x, self.cut.depth)

    def to_top(self, s: Array) -> Array:
        """Return the distance of the blank's outside from the contour at ``s`` [m]."""
        return self.wall(s) + self.depth(s)

    @property
    def index_angle(self) -> float:
        """Angle from slot to slot [deg]."""
        return 360.0 / self.count

    @cached_property
    def places(self) -> Array:
        """Close positions on the contour [m], with every joint and profile point."""
        even = np.linspace(self.start, self.stop, 2 + int((self.stop - self.start) / FINE))
        inside = [x for x in self.contour.breakpoints if self.start < x < self.stop]
        places = np.unique(np.concatenate([even, inside, self.breaks]))
        return np.asarray(places[np.concatenate([[True], np.diff(places) > NEAR])])

    def points(self, distance: Distance, s: Array) -> tuple[Array, Array]:
        """Return x and r of a surface [m] on the normals at positions of the contour (n,) [m]."""
        slope, away = self.contour.slope_angle(s), distance(s)
        return s - away * np.sin(slope), self.contour.radius(s) + away * np.cos(slope)

    def surface(self, distance: Distance) -> tuple[Array, Array]:
        """Return close points of a surface by rising x (n,) [m], as it is seen from outside."""
        return outermost(*self.points(distance, self.places))

    def below(self, distance: Distance, x: Array) -> Array:
        """Return where on the contour the normals start that meet a surface at given x (n,) [m].

        The surface does not fold; NaN where it has ended before.
        """
        s = self.places
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
        if np.all(np.diff(self.points(distance, self.places)[0]) > 0):
            s = self.below(distance, np.array([x]))
            return float(self.points(distance, s)[1][0]) if np.isfinite(s[0]) else np.nan
        points = self.surface(distance)  # grown together: no one normal leads to it
        return float(np.interp(x, *points, left=np.nan, right=np.nan))

    def rows(self, places: Sequence[float] = ()) -> Rows:
        """Return the rows of the cutting table.

        At the ends, at whole steps of the floor's x, closer where it is bent, at every joint of
        the contour and point of the profiles, and at ``places`` of the contour inside [m].
        """
        x, r = self.points(self.wall, self.places)
        joints = [*self.contour.breakpoints, *self.breaks, *places]
        inside = np.array([self.start, *(at for at in joints if self.start < at < self.stop)])
        fixed = np.append(self.points(self.wall, inside)[0], x[-1])
        return self.rows_at(self.below(self.wall, table_places(x, r, fixed)))

    def rows_at(self, s: Array) -> Rows:
        """Return a row for each rising position on the contour (n,) [m]."""
        width, wide = self.width(s), np.interp(s, self.cut.slot.x, self.cut.slot.width)
        floor_x, floor_r = self.points(self.wall, s)
        _, top_r = self.points(self.to_top, s)
        blank = self.surface(self.to_top)
        return Rows(
            x=s,
            r=self.contour.radius(s),
            wall=self.wall(s),
            width=width,
            depth=self.depth(s),
            floor_x=floor_x,
            floor_r=floor_r,
            floor_slope=self._floor_slope(s),
            blank_r=np.interp(floor_x, *blank, left=np.nan, right=np.nan),
            land_floor=2 * np.pi * floor_r / self.count - width,
            # wider at the blank where a wider cutter has its ramp over a narrower
            land_top=2 * np.pi * top_r / self.count - wide,
        )

    def _floor_slope(self, s: Array) -> Array:
        """Return the angle of the slot floor to the axis [rad], by points a little to its sides."""
        a, b = (np.clip(s + side * FINE / 2, self.start, self.stop) for side in (-1, 1))
        (xa, ra), (xb, rb) = (self.points(self.wall, at) for at in (a, b))
        return np.asarray(np.arctan2(rb - ra, xb - xa))


def stretches(plan: CutPlan) -> tuple[Stretch, ...]:
    """Return the stretches of slots of a design by rising x; those of a circuit adjoin."""
    parts: list[tuple[float, float, CircuitCut]] = []
    for cut in plan.circuits:
        first, last = cut.slot.span
        changes = [x for x, _ in cut.slot.channels.count_changes]
        edges = [x for x in changes if first + MERGE < x < last - MERGE]
        parts += [(start, stop, cut) for start, stop in pairwise((first, *edges, last))]
    parts.sort(key=lambda part: part[0])
    return tuple(Stretch(number, *part) for number, part in enumerate(parts, start=1))


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
    surfaces = {FLOOR: stretch.wall, BLANK: stretch.to_top, **layers}
    radii = {HOT_WALL: float(stretch.contour.radius(x))}
    radii |= {key: stretch.radius_at(distance, x) for key, distance in surfaces.items()}
    if not np.all(np.isfinite(list(radii.values()))):
        return None
    s = stretch.below(stretch.wall, np.array([x]))
    return Ring(name, x, stretch, float(stretch.width(s)[0]), radii)
