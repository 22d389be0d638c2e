"""Finite elements of the wall where conduction has an exact answer, and that they converge."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from skfem import MeshQuad

from regen.checks.section import Film, Layer, Section, conduct, constant, solve_section

ROUNDING = 1e-10  # the elements hold a straight line; what is left is the linear solver's
FOLLOWED = 1e-6  # conductivities are followed to 1e-5 of the span, of which a tenth is left
MESH = 1e-4  # of wall less coolant, promised of the mesh in use


def plane(thicknesses, metals, gas, coolant, width=1e-3):
    """Conduct through layers from the hot side, y = 0, to the wetted one; return it and y."""
    joints = np.concatenate([[0.0], np.cumsum(thicknesses)])
    y = np.unique(np.concatenate([np.linspace(a, b, 5) for a, b in pairwise(joints)]))
    mesh = MeshQuad.init_tensor(np.linspace(0.0, width, 4), y)
    middle = mesh.p[1][mesh.t].mean(axis=0)
    parts = [
        (np.flatnonzero((middle > a) & (middle < b)), metal)
        for (a, b), metal in zip(pairwise(joints), metals, strict=True)
    ]
    sides = (
        mesh.facets_satisfying(lambda x: x[1] < 1e-12),
        mesh.facets_satisfying(lambda x: x[1] > y[-1] - 1e-12),
    )
    done = conduct(mesh, parts, list(zip(sides, (gas, coolant), strict=True)), coolant.T)
    return done, mesh.p[1]


def test_layers_in_series():
    """q = (T_gas - T_coolant)/(1/h + t1/k1 + t2/k2 + 1/h), straight lines between the joints."""
    t, k = (0.8e-3, 3.2e-3), (330.0, 80.0)
    gas, coolant = Film(constant(8e3), 3200.0), Film(constant(5e4), 150.0)
    q = (3200.0 - 150.0) / (1 / 8e3 + t[0] / k[0] + t[1] / k[1] + 1 / 5e4)
    done, y = plane(t, [constant(value) for value in k], gas, coolant)
    hot = 3200.0 - q / 8e3
    joint = hot - q * t[0] / k[0]
    expected = np.where(y < t[0], hot - q * y / k[0], joint - q * (y - t[0]) / k[1])
    assert done.corners == pytest.approx(expected, rel=ROUNDING)
    assert done.heat == pytest.approx((q * 1e-3, -q * 1e-3), rel=ROUNDING)


def test_conductivity_that_falls_with_temperature():
    """k = k0 (1 + b T): the integral of k over T falls by q t; T follows from a quadratic."""
    k0, b, t, q, cold = 400.0, -2e-4, 3e-3, 4e7, 500.0
    integral = cold + 0.5 * b * cold**2 + q * t / k0
    hot = (-1.0 + np.sqrt(1.0 + 2.0 * b * integral)) / b
    gas = Film(constant(q / (3000.0 - hot)), 3000.0)
    coolant = Film(constant(q / (cold - 100.0)), 100.0)
    done, y = plane([t], [lambda T: k0 * (1.0 + b * T)], gas, coolant)
    assert done.corners[y == 0.0] == pytest.approx(hot, rel=FOLLOWED)
    assert done.corners[y == y.max()] == pytest.approx(cold, rel=FOLLOWED)


def test_a_film_that_grows_with_the_wall_temperature():
    """q = c (T_w - T_f)^3, as boiling does: T_w = T_f + (q/c)^(1/3)."""
    q, k, t, c = 2e7, 300.0, 1e-3, 2e7 / 40.0**3
    wetted = 450.0 + 40.0
    hot = wetted + q * t / k
    gas = Film(constant(q / (3000.0 - hot)), 3000.0)
    coolant = Film(lambda T: c * (T - 450.0) ** 2, 450.0)
    done, y = plane([t], [constant(k)], gas, coolant)
    assert done.corners[y == y.max()] == pytest.approx(wetted, rel=FOLLOWED)
    assert done.corners[y == 0.0] == pytest.approx(hot, rel=FOLLOWED)


CUT = Section(
    w=0.8e-3,
    t=1.0e-3,
    d=2e-3,
    t_wall=0.8e-3,
    taper=0.04,
    liner=constant(330.0),
    closeout=(Layer(0.3e-3, constant(380.0)), Layer(3e-3, constant(80.0))),
    gas=Film(constant(8e3), 3200.0),
    coolant=Film(constant(5e4), 200.0),
)


def test_what_enters_leaves():
    found = solve_section(CUT)
    assert found.heat_in == pytest.approx(found.heat_out, rel=1e-9)
    half = 0.5 * (CUT.w + CUT.t) - CUT.taper * CUT.t_wall
    assert found.heat_in == pytest.approx(found.q * half, rel=ROUNDING)


def test_metal_without_resistance():
    """One temperature: h_g (T_aw - T) times the hot surface is h_c (T - T_c) times the wetted."""
    metal = constant(1e9)
    cut = replace(CUT, liner=metal, closeout=(Layer(3e-3, metal),))
    wetted, hot = 5e4 * (0.4e-3 + 2e-3 + 0.4e-3), 8e3 * (0.9e-3 - 0.04 * 0.8e-3)
    T = (hot * 3200.0 + wetted * 200.0) / (hot + wetted)
    found = solve_section(cut)
    assert found.hot_max == pytest.approx(T, rel=1e-5)  # resistance is 1e-6 of the films'
    assert found.floor_mean == pytest.approx(T, rel=1e-5)


def test_a_layer_of_the_same_metal_is_no_layer():
    one = replace(CUT, closeout=(Layer(3.3e-3, constant(80.0)),))
    two = replace(CUT, closeout=(Layer(0.3e-3, constant(80.0)), Layer(3e-3, constant(80.0))))
    found = [solve_section(cut).hot_max - 200.0 for cut in (one, two)]
    assert found[0] == pytest.approx(found[1], rel=MESH)


def test_a_layer_that_does_not_conduct_might_as_well_be_absent():
    inner = CUT.closeout[0]
    alone = replace(CUT, closeout=(inner,))
    wrapped = replace(CUT, closeout=(inner, Layer(3e-3, constant(1e-6))))
    found = [solve_section(cut).hot_max for cut in (alone, wrapped)]
    assert found[0] == pytest.approx(found[1], rel=1e-8)  # 1e-6 over 380 W/(m K)
    assert abs(found[0] - solve_section(CUT).hot_max) > 0.01


def test_the_mesh_in_use_is_fine_enough_and_converges():
    """Halving the elements' size divides the error by four or more in spite of the corners.

    The corner's singularity goes with r^(2/3), which on a mesh graded by squares leaves an error
    in energy of order h^(8/3): a factor of 6.3. Four allows for the other parts of the error.
    """
    coarse, used, fine, finest = (solve_section(CUT, n).heat_in for n in (3, 6, 12, 24))
    assert abs(used / finest - 1.0) < MESH
    assert abs(coarse - finest) > 4.0 * abs(used - finest) > 16.0 * abs(fine - finest)


def test_temperatures_that_do_not_settle_are_no_answer():
    """A metal that conducts only while it is hot, and is cold while it conducts."""

    def fickle(T):
        return np.where(T < 700.0, 1.0, 400.0)

    with pytest.raises(RuntimeError, match="do not settle"):
        solve_section(replace(CUT, liner=fickle))
