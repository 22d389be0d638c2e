"""Hot-gas contour, and stations along it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from regen.design import Channels, ContourProfile, ContourShape
from regen.errors import GeometryError
from regen.geometry.curves import MERGE, Array, Segment, running_integral
from regen.geometry.shapes import from_points, from_rules
from regen.texts import text

# Station density relative to the far barrel: 1 + CLUSTER at the throat, falling with (A_t/A)^2,
# so that the throat is about 3.6 times finer than a barrel of contraction ratio 5.
CLUSTER = 3.0


@dataclass(frozen=True, slots=True)
class Contour:
    """Hot-gas contour: smooth segments in rising x, throat at x = 0.

    Parameters
    ----------
    segments : tuple of Segment
        Adjoining stretches.
    breakpoints : tuple of float
        Rising axial positions [m] of both ends, the throat and every joint: the places
        where curvature may jump.
    throat_radius : float
        Radius at x = 0 [m].
    throat_curvature : float
        Mean of the radii of curvature of the contour just up- and downstream of the
        throat [m].
    """

    segments: tuple[Segment, ...]
    breakpoints: tuple[float, ...]
    throat_radius: float
    throat_curvature: float

    @property
    def x_injector(self) -> float:
        """Axial position of the injector face [m]."""
        return self.breakpoints[0]

    @property
    def x_exit(self) -> float:
        """Axial position of the nozzle exit [m]."""
        return self.breakpoints[-1]

    @property
    def contraction_ratio(self) -> float:
        """Area at the injector face over throat area [-]."""
        return float((self.radius(self.x_injector) / self.throat_radius) ** 2)

    @property
    def area_ratio_exit(self) -> float:
        """Exit area over throat area [-]."""
        return float((self.radius(self.x_exit) / self.throat_radius) ** 2)

    def radius(self, x: ArrayLike) -> Array:
        """Return the hot-gas radius [m] at ``x`` [m], same shape as ``x``."""
        return self._at(x)[0]

    def slope_angle(self, x: ArrayLike) -> Array:
        """Return the angle of the contour to the axis [rad] at ``x`` [m].

        Negative where the chamber converges, positive in the nozzle.
        """
        return np.asarray(np.arctan(self._at(x)[1]))

    def curvature(self, x: ArrayLike) -> Array:
        """Return d(slope angle)/d(length) [1/m] at ``x`` [m].

        Positive where the contour bulges towards the axis, as at the throat (centre of
        curvature outside the gas); negative at the blend from barrel to cone and along a
        bell. At a joint it is the value of the stretch downstream.
        """
        _, first, second = self._at(x)
        return np.asarray(second / (1 + first**2) ** 1.5)

    def _at(self, x: ArrayLike) -> tuple[Array, Array, Array]:
        x = np.asarray(x, dtype=np.float64)
        low, high = self.x_injector, self.x_exit
        outside = (x < low - MERGE) | (x > high + MERGE)
        if np.any(outside):
            raise GeometryError(text("off contour", x=x[outside].flat[0], low=low, high=high))
        flat = np.clip(x, low, high).ravel()
        starts = np.array([s.x0 for s in self.segments])
        index = np.clip(np.searchsorted(starts, flat, side="right") - 1, 0, None)
        out = np.empty((3, flat.size))
        for i, segment in enumerate(self.segments):
            here = index == i
            out[:, here] = segment.at(flat[here])
        r, first, second = out.reshape(3, *x.shape)
        return r, first, second


def build_contour(
    spec: ContourShape | ContourProfile, throat_radius: float | None = None
) -> Contour:
    """Build the hot-gas contour from rules or from points.

    Barrel, blend arc, cone, two throat arcs, then a cone or a parabola, all joined at equal
    slopes. ``barrel_length`` is the cylinder alone, from the injector face to the start of
    the blend; ``characteristic_length`` counts everything upstream of the throat. A bell's
    length is ``bell_length_fraction`` of the 15 degree cone with the same throat arc and
    area ratio. Its two angles must be given: they come from a design chart of the nozzle
    maker's choice, and no built-in value would be better than a guess. ``throat_radius`` [m]
    takes the place of ``spec.throat_diameter`` where the throat is sized from thrust.
    """
    if isinstance(spec, ContourProfile):
        if throat_radius is not None:
            raise GeometryError(text("profile and thrust"))
        curve, rt, curvature = from_points(spec)
        return Contour((curve,), (curve.x0, 0.0, curve.x1), rt, curvature)
    if throat_radius is None:
        if spec.throat_diameter is None:
            raise GeometryError(text("throat unknown"))
        throat_radius = spec.throat_diameter / 2
    segments = from_rules(spec, throat_radius)
    ratios = spec.throat_upstream_radius_ratio + spec.throat_downstream_radius_ratio
    joints = tuple(float(x) for x in (segments[0].x0, *(s.x1 for s in segments)))
    return Contour(tuple(segments), joints, float(throat_radius), throat_radius * ratios / 2)


def cooled_range(contour: Contour, channels: Channels) -> tuple[float, float]:
    """Return where the channels begin and end along the axis, rising [m].

    ``cooled_from`` and ``cooled_to`` of None are the contour's ends. Raises ``GeometryError`` if
    the range lies off the contour, is empty, or its end is given twice.
    """
    problems, low, high = [], contour.x_injector, contour.x_exit
    ends = {"cooled_from": channels.cooled_from, "cooled_to": channels.cooled_to}
    for name, x in ends.items():
        if x is not None and not low - MERGE <= x <= high + MERGE:
            problems.append(text("cooled end", name=name, x=x, low=low, high=high))
    ratio = channels.cooled_to_area_ratio
    if ratio is not None and channels.cooled_to is not None:
        problems.append(text("two ends"))
    if ratio is not None and not 1 < ratio <= contour.area_ratio_exit * (1 + 1e-9):
        problems.append(text("cooled ratio", given=ratio, most=contour.area_ratio_exit))
    if problems:
        raise GeometryError(*problems)
    x_from = low if channels.cooled_from is None else channels.cooled_from
    x_to = high if channels.cooled_to is None else channels.cooled_to
    if ratio is not None:
        x_to = _where_area_ratio(contour, ratio)
    if x_to - x_from <= MERGE:
        raise GeometryError(text("cooled range", start=x_from, stop=x_to))
    return max(x_from, low), min(x_to, high)


def _where_area_ratio(contour: Contour, ratio: float) -> float:
    """Return the position in the nozzle that has an area ratio, by bisection [m]."""
    target = contour.throat_radius * np.sqrt(ratio)
    low, high = 0.0, contour.x_exit
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if contour.radius(middle) < target else (low, middle)
    return high


def place_stations(
    contour: Contour, x_from: float, x_to: float, count: int, extra: Sequence[float] = ()
) -> Array:
    """Return stations with a node on every break, denser towards the throat.

    Density per length of contour ~ 1 + 3 (A_t/A)^2, the same over each stretch between two
    breaks; how many steps each stretch gets follows its share.
    """
    inside = [x for x in (*contour.breakpoints, *extra) if x_from + MERGE < x < x_to - MERGE]
    breaks = [x_from]
    for place in sorted(inside):
        if place - breaks[-1] > MERGE:
            breaks.append(place)
    breaks.append(x_to)
    if count < len(breaks):
        raise GeometryError(text("stations", given=count, least=len(breaks)))
    fine = [np.linspace(a, b, 201) for a, b in pairwise(breaks)]
    weight = [_cumulative_density(contour, x) for x in fine]
    total = np.array([w[-1] for w in weight])
    steps = np.ones(total.size, dtype=int)
    for _ in range(count - len(breaks)):
        steps[np.argmax(total / steps)] += 1
    nodes = [np.array([x_from])]
    for x, w, n in zip(fine, weight, steps, strict=True):
        nodes.append(np.interp(np.linspace(0, w[-1], n + 1)[1:], w, x))
    return np.concatenate(nodes)


def _cumulative_density(contour: Contour, x: Array) -> Array:
    """Return the integral of station density over contour length from ``x[0]``."""
    r = contour.radius(x)
    density = 1 + CLUSTER * (contour.throat_radius / r) ** 4
    return running_integral(density, np.hypot(np.diff(x), np.diff(r)))
