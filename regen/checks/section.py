"""Two-dimensional finite elements on half a pitch of the wall: the judge of the closed form.

Biquadratic elements of a general library on a mesh graded towards the channel's corners, where
the temperature gradient is singular. The section is flat: y runs outward from the slot floor,
x along the pitch from the middle of the channel; the middle of the land leans outward. Metals
conduct, and films take heat, by their local temperature.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np

from regen.result import Array, Integers, SectionField

OfTemperature = Callable[[Array], Array]
"""Conductivity [W/(m K)] of a metal, or film coefficient [W/(m2 K)], of its temperature [K]."""

ELEMENTS = 6
"""Elements along each stretch of a section: leaves less than 0.01 % of wall less coolant."""

SETTLED = 1e-5
"""Largest last change of temperature over the span of the fluids'; a tenth of it is left."""

SLOPE_STEP = 1e-2
"""Step over which the slope of a film's flux is taken [K]."""

MAX_PASSES = 60


@dataclass(frozen=True, slots=True)
class Film:
    """A fluid beside the wall: coefficient of the local wall temperature, fluid temperature [K]."""

    h: OfTemperature
    T: float

    def flux(self, T_w: Array) -> Array:
        """Return the flux into a wall of temperature T_w [K], same shape [W/m2]."""
        return self.h(T_w) * (self.T - T_w)


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of the closeout: thickness [m] and conductivity."""

    thickness: float
    k: OfTemperature


@dataclass(frozen=True, slots=True)
class Section:
    """Half a pitch of wall across the slots: lengths [m].

    ``w`` and ``t`` are channel and land at the slot floor, whole; ``d`` the channel's depth.
    ``taper`` is the growth of the land's half-width per depth [-]; the hot wall narrows inward
    at the same rate. ``closeout`` lists its layers from the slot outward; ``coolant`` wets the
    slot floor, the land's side and the roof. The outside passes no heat.
    """

    w: float
    t: float
    d: float
    t_wall: float
    taper: float
    liner: OfTemperature
    closeout: tuple[Layer, ...]
    gas: Film
    coolant: Film

    @property
    def tops(self) -> Array:
        """Outer faces of lands and closeout layers from the slot floor (layers + 1,) [m]."""
        return np.cumsum([self.d, *(layer.thickness for layer in self.closeout)])


@dataclass(frozen=True, slots=True)
class SolvedSection:
    """A section's temperatures: of the hot surface and the slot floor [K], heat [W/m].

    Heat is for half a pitch and one metre of channel; ``q`` is its mean over the hot surface
    [W/m2].
    """

    hot_max: float
    hot_mean: float
    floor_mean: float
    q: float
    heat_in: float
    heat_out: float
    field: SectionField


@dataclass(frozen=True, slots=True, eq=False)
class Conducted:
    """Steady conduction in a body: temperatures at the mesh's corners and facets' middles [K].

    ``heat`` from each film into the body [W/m], in their order.
    """

    corners: Array
    middles: Array
    heat: tuple[float, ...]


def constant(value: float) -> OfTemperature:
    """Return a conductivity or coefficient that is ``value`` [SI] at every temperature."""
    return lambda T: np.full_like(T, value)


@cache
def _forms() -> tuple[Any, Any, Any]:
    """Return the forms of conduction, film and load; the library loads late."""
    from skfem import BilinearForm, LinearForm

    def conduction(u: Any, v: Any, w: Any) -> Any:
        return w["k"] * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1])

    return (
        BilinearForm(conduction),
        BilinearForm(lambda u, v, w: w["slope"] * u * v),
        LinearForm(lambda v, w: w["load"] * v),
    )


def conduct(
    mesh: Any,
    parts: Sequence[tuple[Integers, OfTemperature]],
    films: Sequence[tuple[Integers, Film]],
    start: float,
) -> Conducted:
    """Solve steady conduction in a plane body with films on part of its boundary.

    Parameters
    ----------
    mesh : skfem.MeshQuad
        Body; what no film touches is adiabatic.
    parts : sequence of (ndarray of int, callable)
        Numbers of the cells of each metal, all cells once, and its conductivity.
    films : sequence of (ndarray of int, Film)
        Numbers of the facets each film touches.
    start : float
        Temperature to start from [K]; near that of a boiling wall saves passes.

    Returns
    -------
    Conducted
        Temperatures and heat.

    Raises
    ------
    RuntimeError
        If the equations are singular, or the temperatures do not settle.

    Notes
    -----
    Conductivities follow one pass behind; the films' flux is taken with its slope, without
    which boiling would not settle.
    """
    from skfem import Basis, ElementQuad2, FacetBasis, solve

    conduction, film_form, load_form = _forms()
    basis = Basis(mesh, ElementQuad2())
    touched = np.concatenate([at for at, _ in films])
    side = FacetBasis(mesh, basis.elem, facets=touched, dofs=basis.dofs)
    ends = np.cumsum([0] + [at.size for at, _ in films])
    reach = [
        (slice(a, b), film) for a, b, (_, film) in zip(ends[:-1], ends[1:], films, strict=True)
    ]
    fluids = [film.T for _, film in films]
    T = np.full(basis.N, start)
    for _ in range(MAX_PASSES):
        local, at = np.asarray(basis.interpolate(T)), np.asarray(side.interpolate(T))
        k, q, slope = np.empty_like(local), np.empty_like(at), np.empty_like(at)
        for cells, metal in parts:
            k[cells] = metal(local[cells])
        for rows, film in reach:
            q[rows] = film.flux(at[rows])
            slope[rows] = (q[rows] - film.flux(at[rows] + SLOPE_STEP)) / SLOPE_STEP
        matrix = conduction.assemble(basis, k=k) + film_form.assemble(side, slope=slope)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the library warns of what is refused below
            last, T = T, solve(matrix, load_form.assemble(side, load=q + slope * at))
        if not np.all(np.isfinite(T)):
            message = "finite elements: the equations of the section are singular"
            raise RuntimeError(message)
        if np.abs(T - last).max() <= SETTLED * np.ptp(fluids):
            break
    else:
        message = "finite elements: the temperatures of the section do not settle"
        raise RuntimeError(message)
    at = np.asarray(side.interpolate(T))
    return Conducted(
        corners=T[basis.nodal_dofs[0]],
        middles=T[basis.facet_dofs[0]],
        heat=tuple(float(np.sum(film.flux(at[rows]) * side.dx[rows])) for rows, film in reach),
    )


def _along(mesh: Any, done: Conducted, facets: Integers) -> tuple[float, float, float]:
    """Return peak and mean temperature [K] along facets, and their length [m].

    Simpson's rule is exact for biquadratic elements.
    """
    ends = mesh.facets[:, facets]
    (xa, ya), (xb, yb) = mesh.p[:, ends[0]], mesh.p[:, ends[1]]
    lengths = np.hypot(xb - xa, yb - ya)
    a, b = done.corners[ends]
    middle = done.middles[facets]
    total = float(lengths.sum())
    mean = float(lengths @ (a + 4.0 * middle + b)) / 6.0 / total
    return float(max(a.max(), b.max(), middle.max())), mean, total


def _graded(a: float, b: float, n: int, towards: str) -> Array:
    """Nodes from a to b, closer quadratically towards "a", "b" or "both" ends."""
    if towards == "both":
        half = _graded(a, (a + b) / 2, n, "a")
        return np.concatenate([half, (a + b - half[:-1])[::-1]])
    s = np.linspace(0, 1, n + 1) ** 2
    return np.asarray(a + (b - a) * s if towards == "a" else (b - (b - a) * s)[::-1])


def _levels(section: Section, n: int) -> Array:
    """Rows of nodes across wall, channel and each layer of the closeout [m]."""
    layers = [_graded(a, b, n, "a")[1:] for a, b in pairwise(section.tops)]
    wall, channel = _graded(-section.t_wall, 0, n, "b"), _graded(0, section.d, n, "both")
    return np.concatenate([wall, channel[1:], *layers])


def _mesh(section: Section, n: int) -> Any:
    from skfem import MeshQuad

    half = section.w / 2
    left, right = _graded(0, half, n, "b"), _graded(0, 1, n, "a")
    y = _levels(section, n)
    rows, columns = y.size, 2 * n + 1
    land = section.t / 2 + section.taper * y
    x = np.hstack([np.tile(left, (rows, 1)), half + land[:, None] * right[1:]])
    points = np.vstack([x.ravel(), np.repeat(y, columns)])
    j, i = np.meshgrid(np.arange(rows - 1), np.arange(columns - 1), indexing="ij")
    in_channel = (i < n) & (j >= n) & (j < 3 * n)
    corner = (j * columns + i)[~in_channel]
    quads = np.vstack([corner, corner + 1, corner + columns + 1, corner + columns])
    used = np.unique(quads)
    renumber = np.zeros(points.shape[1], dtype=int)
    renumber[used] = np.arange(used.size)
    return MeshQuad(np.ascontiguousarray(points[:, used]), np.ascontiguousarray(renumber[quads]))


def solve_section(section: Section, n: int = ELEMENTS, start: float | None = None) -> SolvedSection:
    """Solve one section.

    Parameters
    ----------
    section : Section
        Half a pitch of wall with its films.
    n : int
        Elements along each stretch, twice as many along the channel's side [-].
    start : float, optional
        Temperature to start from [K], the coolant's without it.

    Returns
    -------
    SolvedSection
        Temperatures and heat.

    Raises
    ------
    RuntimeError
        If the equations are singular, or the temperatures do not settle.
    """
    mesh, eps = _mesh(section, n), 1e-9 * section.w
    boundary = mesh.boundary_facets()
    x, y = mesh.p[:, mesh.facets].mean(axis=1)[:, boundary]
    hot = boundary[np.abs(y + section.t_wall) < eps]
    # the symmetry line x = 0 above and below the channel is not wetted
    inside = (y > -eps) & (y < section.d + eps) & (x < section.w / 2 + eps)
    floor = inside & (np.abs(y) < eps)
    middle = np.mean(mesh.p[1][mesh.t], axis=0)
    metal = np.searchsorted(section.tops, middle)
    conductivities = [section.liner, *(layer.k for layer in section.closeout)]
    parts = [(np.flatnonzero(metal == n), k) for n, k in enumerate(conductivities)]
    wetted = boundary[inside]
    start = section.coolant.T if start is None else start
    done = conduct(mesh, parts, [(hot, section.gas), (wetted, section.coolant)], start)
    peak, mean, length = _along(mesh, done, hot)
    return SolvedSection(
        hot_max=peak,
        hot_mean=mean,
        floor_mean=_along(mesh, done, boundary[floor])[1],
        q=done.heat[0] / length,
        heat_in=done.heat[0],
        heat_out=-done.heat[1],
        field=SectionField(
            mesh.p.T.copy(), mesh.t.T.copy(), done.corners, tuple(section.tops[:-1].tolist())
        ),
    )
