"""Walls that heat up, against finite differences of this file's own."""

from __future__ import annotations

import numpy as np
import pytest

from regen.checks import start_stop
from regen.metals.alloys import find

DIFFERENCES = 2e-3
"""A slab in 80 cells by an implicit scheme of first order in time, 2000 steps."""
ROUNDING = 1e-12

K, RHO_CP, T_WALL, Q = 340.0, 8900.0 * 380.0, 0.8e-3, 40e6


def marched(k, rho_cp, t, q, time):
    """Return the rise [K] of a slab's hot face after a time, its back insulated."""
    cells, steps = 80, 2000
    dx, dt = t / cells, time / steps
    r = k / rho_cp * dt / dx**2
    matrix = (1.0 + 2.0 * r) * np.eye(cells) - r * np.eye(cells, k=1) - r * np.eye(cells, k=-1)
    matrix[0, 0] = matrix[-1, -1] = 1.0 + r
    inverse, T = np.linalg.inv(matrix), np.zeros(cells)
    source = np.zeros(cells)
    source[0] = q * dt / (rho_cp * dx)
    for _ in range(steps):
        T = inverse @ (T + source)
    return T[0] + 0.5 * q * dx / k


@pytest.mark.parametrize("time", [0.5e-3, 3e-3, 30e-3])
def test_the_hot_face_of_a_dry_wall_follows_finite_differences(time):
    rise = marched(K, RHO_CP, T_WALL, Q, time)
    found = start_stop.dry_time(Q, K, RHO_CP, T_WALL, rise)
    assert found == pytest.approx(time, rel=DIFFERENCES)


def test_a_dry_wall_is_first_a_half_space_and_at_last_a_lump():
    early = start_stop.dry_time(Q, K, RHO_CP, 1.0, 300.0)
    assert early == pytest.approx(np.pi / 4.0 * K * RHO_CP * (300.0 / Q) ** 2, rel=ROUNDING)
    # late, the face is q t/(3 k) ahead of the mean: Fo = rise k/(q t) - 1/3
    thin = 0.05e-3
    late = (300.0 * K / (Q * thin) - 1.0 / 3.0) * RHO_CP * thin**2 / K
    assert start_stop.dry_time(Q, K, RHO_CP, thin, 300.0) == pytest.approx(late, rel=ROUNDING)


def test_both_bounds_are_later_than_the_wall():
    rise = np.geomspace(5.0, 1000.0, 60)
    wall = start_stop.dry_time(Q, K, RHO_CP, T_WALL, rise)
    assert np.all(np.diff(wall) > 0.0)
    slack = 1.0 + 1e-8  # the half-space stands in for the wall before Fo = 0.05
    assert np.all(wall <= slack * start_stop.half_space_time(Q, K, RHO_CP, rise))
    assert np.all(wall <= start_stop.lumped_time(Q, RHO_CP, T_WALL, rise))


def test_forms_join_where_one_takes_over_from_the_other():
    # Fo = 0.05: rise = 2 sqrt(Fo/pi) q t/k
    join = 2.0 * np.sqrt(0.05 / np.pi) * Q * T_WALL / K
    below, above = start_stop.dry_time(Q, K, RHO_CP, T_WALL, join * np.array([1 - 1e-9, 1 + 1e-9]))
    assert above == pytest.approx(float(below), rel=1e-7)


def test_a_wall_that_is_hot_already_takes_no_time():
    assert start_stop.dry_time(Q, K, RHO_CP, T_WALL, -20.0) == 0.0


def test_heat_capacity_holds_its_end_and_says_so():
    copper, alloy = find("Cu-OFHC", "annealed"), find("Cu-Cr-Zr", "hard-drawn")
    T = np.array([300.0, 500.0])
    # 8940 kg/m3; 385.3 and 408.9 J/(kg K), handbook form of copper
    expected = 8940.0 * np.array([385.3, 408.9])
    assert start_stop.heat_capacity(copper, T) == pytest.approx(expected, rel=1e-3)
    assert start_stop.held_capacity(copper, T) == ""
    assert start_stop.heat_capacity(alloy, T) == pytest.approx(8900.0 * 380.0, rel=ROUNDING)
    assert "its nearer end is taken for 300 to 500 K" in start_stop.held_capacity(alloy, T)
