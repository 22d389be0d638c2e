"""Pieces a hot-gas contour is made of: lines, arcs, a parabola, a cubic through points."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Two breakpoints closer than a tenth of a micrometre are one for a shop and for the march.
MERGE = 1e-7


@dataclass(frozen=True, slots=True)
class Line:
    """Straight generator from (x0, r0) to x1 with slope dr/dx."""

    x0: float
    x1: float
    r0: float
    slope: float

    def at(self, x: Array) -> tuple[Array, Array, Array]:
        """Return radius [m], first [-] and second derivative [1/m]."""
        return self.r0 + self.slope * (x - self.x0), np.full_like(x, self.slope), np.zeros_like(x)


@dataclass(frozen=True, slots=True)
class Arc:
    """Circular arc of ``radius`` about (xc, rc); ``side`` -1: it bulges towards the axis."""

    x0: float
    x1: float
    xc: float
    rc: float
    radius: float
    side: int

    def at(self, x: Array) -> tuple[Array, Array, Array]:
        """Return radius [m], first [-] and second derivative [1/m]."""
        u = x - self.xc
        root = np.sqrt(self.radius**2 - u**2)
        return (
            self.rc + self.side * root,
            -self.side * u / root,
            -self.side * self.radius**2 / root**3,
        )


@dataclass(frozen=True, slots=True)
class Parabola:
    """Quadratic Bezier curve with control points (x0, r0), (xq, rq), (x1, r1)."""

    x0: float
    x1: float
    r0: float
    r1: float
    xq: float
    rq: float

    def at(self, x: Array) -> tuple[Array, Array, Array]:
        """Return radius [m], first [-] and second derivative [1/m]."""
        bx, ax = 2 * (self.xq - self.x0), self.x0 - 2 * self.xq + self.x1
        br, ar = 2 * (self.rq - self.r0), self.r0 - 2 * self.rq + self.r1
        # this form of the root of a quadratic stays exact where ax vanishes
        root = np.sqrt(bx**2 + 4 * ax * (x - self.x0))
        t = 2 * (x - self.x0) / (bx + root)
        return (
            self.r0 + t * (br + t * ar),
            (br + 2 * t * ar) / root,
            2 * (ar * bx - br * ax) / root**3,
        )


@dataclass(frozen=True, slots=True)
class MonotoneCubic:
    """Cubic Hermite pieces through points, with slopes that add no new extremum."""

    x: Array
    r: Array
    slope: Array

    @property
    def x0(self) -> float:
        """First axial position [m]."""
        return float(self.x[0])

    @property
    def x1(self) -> float:
        """Last axial position [m]."""
        return float(self.x[-1])

    def at(self, x: Array) -> tuple[Array, Array, Array]:
        """Return radius [m], first [-] and second derivative [1/m]."""
        i = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, self.x.size - 2)
        h, u = self.x[i + 1] - self.x[i], x - self.x[i]
        secant, d0, d1 = (self.r[i + 1] - self.r[i]) / h, self.slope[i], self.slope[i + 1]
        c2, c3 = (3 * secant - 2 * d0 - d1) / h, (d0 + d1 - 2 * secant) / h**2
        return (
            self.r[i] + u * (d0 + u * (c2 + u * c3)),
            d0 + u * (2 * c2 + 3 * u * c3),
            2 * c2 + 6 * u * c3,
        )


Segment = Line | Arc | Parabola | MonotoneCubic
"""One smooth stretch of the contour between ``x0`` and ``x1`` [m]."""


def running_integral(values: Array, steps: Array) -> Array:
    """Return the trapezoidal integral of values (S,) up to each, with steps (S - 1,) between."""
    return np.append(0.0, np.cumsum(0.5 * (values[1:] + values[:-1]) * steps))


def monotone_slopes(x: Array, r: Array) -> Array:
    """Return three-point slopes, limited so that the cubic keeps the points' monotonicity.

    A cubic Hermite piece is monotone if both end slopes have the sign of its secant and at
    most three times its size (Fritsch and Carlson); the same limit is applied at the ends.
    """
    h, secant = np.diff(x), np.diff(r) / np.diff(x)
    slope = np.empty_like(x)
    slope[1:-1] = (h[1:] * secant[:-1] + h[:-1] * secant[1:]) / (h[1:] + h[:-1])
    slope[0] = secant[0] + (secant[0] - slope[1])
    slope[-1] = secant[-1] + (secant[-1] - slope[-2])
    left, right = np.append(secant[0], secant), np.append(secant, secant[-1])
    cap = 3 * np.minimum(np.abs(left), np.abs(right))
    agree = (left * right > 0) & (slope * left > 0)
    return np.where(agree, np.sign(left) * np.minimum(np.abs(slope), cap), 0.0)


def volume(segment: Segment, start: float, stop: float) -> float:
    """Return the volume of revolution of a segment from ``start`` to ``stop``."""
    if isinstance(segment, Line):
        r, _, _ = segment.at(np.array([start, stop]))
        return float(np.pi / 3 * (stop - start) * (r[0] ** 2 + r[0] * r[1] + r[1] ** 2))
    if isinstance(segment, Arc):
        big = segment.radius
        u = np.array([start, stop]) - segment.xc
        half_disc = 0.5 * (u * np.sqrt(big**2 - u**2) + big**2 * np.arcsin(u / big))
        total = (segment.rc**2 + big**2) * u - u**3 / 3 + 2 * segment.side * segment.rc * half_disc
        return float(np.pi * (total[1] - total[0]))
    # r^2 of a cubic is of sixth degree: four Gauss points a piece are exact
    inner = segment.x if isinstance(segment, MonotoneCubic) else np.empty(0)
    edges = np.concatenate([[start], inner[(inner > start) & (inner < stop)], [stop]])
    nodes, weights = np.polynomial.legendre.leggauss(4)
    half = np.diff(edges)[:, None] / 2
    r, _, _ = segment.at(edges[:-1, None] + half * (1 + nodes))
    return float(np.pi * np.sum(weights * half * r**2))


def mm(length: float) -> str:
    """Return the text of a length [m]."""
    return f"{length * 1e3:.4g} mm"
