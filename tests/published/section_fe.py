"""Two-dimensional finite elements on half a pitch of the wall: the judge of the closed form.

Biquadratic elements of a general library on a mesh graded towards the channel's corners, where
the temperature gradient is singular. The section is flat: y runs outward from the slot floor,
x along the pitch from the middle of the channel; the middle of the land leans outward.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from skfem import (
    Basis,
    BilinearForm,
    ElementQuad2,
    FacetBasis,
    Functional,
    LinearForm,
    MeshQuad,
    condense,
    solve,
)
from skfem.helpers import dot, grad

__all__ = ["FeResult", "Section", "solve_section"]


@dataclass(frozen=True)
class Section:
    """One pitch: lengths [m], conductivities [W/(m K)], film coefficients [W/(m2 K)].

    ``t`` is the land at the slot floor, ``taper`` the growth of its half-width per depth; the
    hot wall narrows inward at the same rate.
    """

    w: float
    t: float
    d: float
    t_wall: float
    t_closeout: float
    taper: float
    k_w: float
    k_c: float
    h_c: float
    h_g: float


@dataclass(frozen=True)
class FeResult:
    """Temperatures over coolant, as fractions of T_aw - T_coolant, and heat per length [W/m].

    Heat is for half a pitch and one kelvin between gas and coolant.
    """

    hot_max: float
    hot_mean: float
    root_floor_mean: float
    heat_in: float
    heat_out: float


@BilinearForm
def _conduction(u, v, _):
    return dot(grad(u), grad(v))


@BilinearForm
def _film(u, v, _):
    return u * v


@LinearForm
def _source(v, _):
    return v


@Functional
def _integral(w):
    return w["u"]


@Functional
def _length(w):
    return 1.0 + 0.0 * w.x[0]


def _graded(a: float, b: float, n: int, towards: str) -> np.ndarray:
    """Nodes from a to b, closer quadratically towards "a", "b" or "both" ends."""
    if towards == "both":
        half = _graded(a, (a + b) / 2, n, "a")
        return np.concatenate([half, (a + b - half[:-1])[::-1]])
    s = np.linspace(0, 1, n + 1) ** 2
    return a + (b - a) * s if towards == "a" else (b - (b - a) * s)[::-1]


def _mesh(s: Section, n: int) -> MeshQuad:
    half = s.w / 2
    left, right = _graded(0, half, n, "b"), _graded(0, 1, n, "a")
    y = np.concatenate(
        [
            _graded(-s.t_wall, 0, n, "b"),
            _graded(0, s.d, n, "both")[1:],
            _graded(s.d, s.d + s.t_closeout, n, "a")[1:],
        ]
    )
    rows, columns = y.size, 2 * n + 1
    land = s.t / 2 + s.taper * y
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


def solve_section(s: Section, n: int = 8) -> FeResult:
    """Solve one section with ``n`` elements along each stretch (2 n along the channel's side)."""
    mesh, element, eps = _mesh(s, n), ElementQuad2(), 1e-9 * s.w
    middle = mesh.p[:, mesh.facets].mean(axis=1)
    boundary = mesh.boundary_facets()
    x, y = middle[:, boundary]
    hot = boundary[np.abs(y + s.t_wall) < eps]
    inside = (y > -eps) & (y < s.d + eps) & (x < s.w / 2 + eps)
    # the symmetry line x = 0 above and below the channel is not wetted
    wetted = boundary[inside]
    floor = boundary[inside & (np.abs(y) < eps)]
    outer = np.mean(mesh.p[1][mesh.t], axis=0) > s.d
    liner = Basis(mesh, element, elements=np.flatnonzero(~outer))
    closeout = Basis(mesh, element, elements=np.flatnonzero(outer))
    gas, coolant = FacetBasis(mesh, element, facets=hot), FacetBasis(mesh, element, facets=wetted)
    matrix = (
        s.k_w * _conduction.assemble(liner)
        + s.k_c * _conduction.assemble(closeout)
        + s.h_g * _film.assemble(gas)
        + s.h_c * _film.assemble(coolant)
    )
    load = s.h_g * _source.assemble(gas)
    u = solve(*condense(matrix, load, D=np.empty(0, dtype=int)))
    length = _length.assemble(gas)
    total = _integral.assemble(gas, u=gas.interpolate(u))
    root = FacetBasis(mesh, element, facets=floor)
    return FeResult(
        hot_max=float(u[liner.get_dofs(hot).all()].max()),
        hot_mean=float(total / length),
        root_floor_mean=float(
            _integral.assemble(root, u=root.interpolate(u)) / _length.assemble(root)
        ),
        heat_in=float(s.h_g * (length - total)),
        heat_out=float(s.h_c * _integral.assemble(coolant, u=coolant.interpolate(u))),
    )
