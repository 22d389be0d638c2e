"""From rules or points to the segments of a contour, or the reason why there is none."""

from collections.abc import Sequence

import numpy as np

from regen.design import ContourProfile, ContourShape
from regen.errors import GeometryError
from regen.geometry import curves
from regen.geometry.curves import Arc, Array, Line, MonotoneCubic, Parabola, Segment
from regen.texts import text

# A reference cone of this half-angle defines the length fraction of a bell.
REFERENCE_CONE = np.deg2rad(15.0)
MIN_PROFILE_POINTS = 8
ABOVE = {
    **dict.fromkeys(("contraction_ratio", "area_ratio"), 1.0),
    **dict.fromkeys(("throat_upstream_radius_ratio", "throat_downstream_radius_ratio"), 0.0),
    **dict.fromkeys(("barrel_radius_ratio", "bell_length_fraction"), 0.0),
}
"""What the ratios of a contour must be greater than."""


def from_rules(spec: ContourShape, throat_radius: float) -> list[Segment]:
    """Return the segments of a contour given by rules, in rising x; the throat radius in m.

    They join at equal radii and slopes; parts of no length are left out.
    """
    problems = _bad_numbers(spec, throat_radius)
    if problems:
        raise GeometryError(*problems)
    return _convergent(spec, throat_radius) + _divergent(spec, throat_radius)


def _bad_numbers(spec: ContourShape, throat_radius: float) -> list[str]:
    """Return what is wrong with single values."""
    problems = []
    if not (np.isfinite(throat_radius) and throat_radius > 0):
        problems.append(text("throat diameter", given=2 * throat_radius))
    for name, bound in ABOVE.items():
        value = getattr(spec, name)
        if not bound < value < np.inf:
            problems.append(text("contour ratio", name=name, given=value, bound=bound))
    bell = ("bell_start_angle",) if spec.nozzle == "bell" else ()
    for name in ("convergent_half_angle", "divergent_half_angle", *bell):
        value = getattr(spec, name)
        if value is not None and not 0 < value < np.pi / 2:
            problems.append(text("contour angle", name=name, given=value))
    given = [v for v in (spec.barrel_length, spec.characteristic_length) if v is not None]
    if len(given) != 1:
        problems.append(text("barrel lengths", count=len(given)))
    elif not (np.isfinite(given[0]) and given[0] >= 0):
        problems.append(text("barrel length", given=given[0]))
    return problems


def _convergent(spec: ContourShape, rt: float) -> list[Segment]:
    """Return barrel, blend, cone and upstream throat arc; parts of no length are left out."""
    angle, rc = spec.convergent_half_angle, rt * np.sqrt(spec.contraction_ratio)
    r_blend, r_up = rt * spec.barrel_radius_ratio, rt * spec.throat_upstream_radius_ratio
    drop = 1 - np.cos(angle)
    height = rc - rt - (r_blend + r_up) * drop
    if height < -1e-9 * rt:
        steepest = np.arccos(1 - (rc - rt) / (r_blend + r_up))
        radii = {"barrel": rc, "throat": rt, "blend": r_blend, "upstream": r_up}
        heights = {"height": rc - rt, "needed": (r_blend + r_up) * drop}
        angles = {"angle": angle, "steepest": steepest}
        raise GeometryError(text("convergent cone", **radii, **heights, **angles))
    x3 = -r_up * np.sin(angle)
    x2 = x3 - max(height, 0.0) / np.tan(angle)
    x1 = x2 - r_blend * np.sin(angle)
    parts: list[Segment] = [
        Arc(x1, x2, x1, rc - r_blend, r_blend, 1),
        Line(x2, x3, rc - r_blend * drop, -np.tan(angle)),
        Arc(x3, 0.0, 0.0, rt + r_up, r_up, -1),
    ]
    barrel, length = spec.barrel_length, spec.characteristic_length
    if length is not None:
        barrel = _barrel_for(length, parts, rt, rc)
    parts.insert(0, Line(x1 - (barrel or 0.0), x1, rc, 0.0))
    return [p for p in parts if p.x1 > p.x0]


def _barrel_for(length: float, parts: Sequence[Segment], rt: float, rc: float) -> float:
    """Return the barrel length that gives a characteristic length [m]."""
    throat_area = np.pi * rt**2
    convergent = sum(curves.volume(p, p.x0, p.x1) for p in parts)
    barrel = (length * throat_area - convergent) / (np.pi * rc**2)
    if barrel < 0:
        least = convergent / throat_area
        raise GeometryError(text("characteristic length", given=length, least=least))
    return float(barrel)


def _divergent(spec: ContourShape, rt: float) -> list[Segment]:
    """Return the downstream throat arc and the cone or bell."""
    bell, start, stop = spec.nozzle == "bell", spec.bell_start_angle, spec.bell_exit_angle
    if bell and (start is None or stop is None):
        raise GeometryError(text("bell angles"))
    angle = start if bell and start is not None else spec.divergent_half_angle
    radius, r_exit = rt * spec.throat_downstream_radius_ratio, rt * np.sqrt(spec.area_ratio)
    x0, r0 = radius * np.sin(angle), rt + radius * (1 - np.cos(angle))
    if r_exit <= r0:
        arc_end = {"radius": radius, "angle": angle, "reached": (r0 / rt) ** 2}
        raise GeometryError(text("area ratio", given=spec.area_ratio, **arc_end))
    arc = Arc(0.0, x0, 0.0, rt + radius, radius, -1)
    if not bell or stop is None:
        x1 = x0 + (r_exit - r0) / np.tan(angle)
        return [arc, Line(x0, x1, r0, np.tan(angle))]
    cone = (r_exit - rt + radius * (1 / np.cos(REFERENCE_CONE) - 1)) / np.tan(REFERENCE_CONE)
    x1 = spec.bell_length_fraction * cone
    return [arc, _bell(x0, r0, x1, r_exit, angle, stop)]


def _bell(x0: float, r0: float, x1: float, r1: float, start: float, stop: float) -> Parabola:
    """Return the parabola that leaves (x0, r0) at one angle and reaches (x1, r1) at another."""
    chord = np.arctan2(r1 - r0, x1 - x0)
    if not 0 <= stop < chord < start:
        raise GeometryError(text("no parabola", start=start, stop=stop, chord=chord))
    t0, t1 = np.tan(start), np.tan(stop)
    xq = (r1 - r0 + t0 * x0 - t1 * x1) / (t0 - t1)
    return Parabola(x0, x1, r0, r1, float(xq), float(r0 + t0 * (xq - x0)))


def from_points(spec: ContourProfile) -> tuple[MonotoneCubic, float, float]:
    """Return the curve through the points of a file, its throat radius and curvature."""
    x, r = np.array(spec.x, dtype=np.float64), np.array(spec.r, dtype=np.float64)
    problem = _bad_points(x, r)
    if problem:
        raise GeometryError(text("profile", source=spec.source, problem=problem))
    throat = int(np.argmin(np.abs(x)))
    x[throat] = 0.0
    rt = float(r[throat])
    upstream = _fitted_radius(-x[:throat][::-1], r[:throat][::-1] - rt, rt)
    downstream = _fitted_radius(x[throat + 1 :], r[throat + 1 :] - rt, rt)
    if not (upstream and downstream):
        problem = text("profile flat", radius=rt)
        raise GeometryError(text("profile", source=spec.source, problem=problem))
    curve = MonotoneCubic(x, r, curves.monotone_slopes(x, r))
    return curve, rt, (upstream + downstream) / 2


def _bad_points(x: Array, r: Array) -> str:
    """Return what is wrong with a table of points, "" if nothing is."""
    if x.size != r.size or x.size < MIN_PROFILE_POINTS:
        return text("profile points", x=x.size, r=r.size, least=MIN_PROFILE_POINTS)
    if not (np.all(np.isfinite(x)) and np.all(np.isfinite(r)) and np.all(r > 0)):
        return text("profile values")
    falls = np.flatnonzero(np.diff(x) <= 0)
    if falls.size:
        i = int(falls[0])
        return text("profile falls", number=i + 2, x=x[i + 1], before=x[i])
    least = int(np.argmin(r))
    throat = int(np.argmin(np.abs(x)))
    # a flat throat is as good as a sharp one, so compare radii and not positions
    if abs(x[throat]) > 1e-6 or r[throat] > r[least] * (1 + 1e-6):
        return text("profile throat", radius=r[least], x=x[least], shift=-x[least])
    if throat < 2 or throat > x.size - 3:
        return text("profile sides")
    narrowing = np.flatnonzero(np.diff(r[throat:]) < 0)
    if narrowing.size:
        return text("profile narrows", x=x[throat + int(narrowing[0])])
    return ""


def _fitted_radius(x: Array, rise: Array, rt: float) -> float:
    """Return the radius of the circle tangent at the throat that fits one side [m], 0 if flat.

    ``x``, ``rise`` are distance and radius above the throat, nearest first. Points within
    0.15 throat radii, but at least two: a short downstream arc ends about there.
    """
    use = max(2, int(np.count_nonzero(np.abs(x) <= 0.15 * rt)))
    x, rise = x[:use], rise[:use]
    square = float(np.sum(rise**2))
    # least squares on x^2 + y^2 = 2 R y, exact for points of one circle
    return float(np.sum((x**2 + rise**2) * rise) / (2 * square)) if square > 0 else 0.0
