"""The uncooled end where a fin has an exact answer."""

from __future__ import annotations

import numpy as np
import pytest

from regen.checks.uncooled_ends import NODES, solve_fin

T_AW, T_BASE = 3000.0, 700.0
PERIMETER, AREA = 0.12, 6e-4  # heated width [m], cross-section [m2]

# (m ds)^2/12 of gas less wall for the longest fin here, m L = 3 over 80 steps: 1.2e-4
GRID = 2e-4


def constant(h: float):
    return lambda T: h * (T_AW - T)


@pytest.mark.parametrize("mL", [0.1, 0.5, 1.0, 3.0])
def test_constant_coefficient_and_conductivity(mL):
    """T = T_aw + (T_b - T_aw) cosh(m (L - s))/cosh(m L); heat k A m (T_aw - T_b) tanh(m L)."""
    h, k = 5e3, 340.0
    m = np.sqrt(h * PERIMETER / (k * AREA))
    L = mL / m
    s = np.linspace(0.0, L, NODES)
    found = solve_fin(
        s, np.full(NODES, PERIMETER), lambda T: np.full(NODES, k * AREA), constant(h), T_BASE
    )
    exact = T_AW + (T_BASE - T_AW) * np.cosh(m * (L - s)) / np.cosh(mL)
    assert (found.T - exact) / (T_AW - T_BASE) == pytest.approx(0.0, abs=GRID)
    assert found.heat == pytest.approx(k * AREA * m * (T_AW - T_BASE) * np.tanh(mL), rel=5 * GRID)


def test_given_flux_and_conductivity_that_changes():
    """With q given, k A dT/ds = q P (L - s): the integral of k from T_b is q P (L s - s^2/2)/A."""
    k0, b, q, L = 340.0, -1e-4, 2e6, 10e-3
    s = np.linspace(0.0, L, NODES)
    found = solve_fin(
        s,
        np.full(NODES, PERIMETER),
        lambda T: k0 * (1.0 + b * T) * AREA,
        lambda T: np.full(NODES, q),
        T_BASE,
    )
    integral = T_BASE + 0.5 * b * T_BASE**2 + q * PERIMETER * (L * s - 0.5 * s**2) / (k0 * AREA)
    exact = (-1.0 + np.sqrt(1.0 + 2.0 * b * integral)) / b
    # the cells' mean of k is right for k linear in T, and the flux is even: no error of the grid
    assert found.T == pytest.approx(exact, rel=1e-6)
    assert found.heat == pytest.approx(q * PERIMETER * L, rel=1e-9)


def test_a_coefficient_that_falls_with_the_wall_temperature():
    """First integral of k A T'' = -P q: heat^2 = 2 k A P int q dT from base to tip."""
    kA = 340.0 * AREA

    def flux(T):
        return 5e3 * (0.5 * T / T_AW + 0.5) ** -0.68 * (T_AW - T)

    s = np.linspace(0.0, 20e-3, NODES)
    found = solve_fin(s, np.full(NODES, PERIMETER), lambda T: np.full(NODES, kA), flux, T_BASE)
    T = np.linspace(T_BASE, found.T[-1], 2001)
    q = flux(T)
    integral = np.sum(0.5 * (q[1:] + q[:-1]) * np.diff(T))
    assert found.T[-1] > T_BASE + 500.0
    assert found.heat == pytest.approx(np.sqrt(2.0 * kA * PERIMETER * integral), rel=5 * GRID)


def test_temperatures_that_do_not_settle_are_no_answer():
    s = np.linspace(0.0, 10e-3, NODES)
    # conducts only while it is hot, and is cold while it conducts
    fickle = lambda T: np.where(T < 1500.0, 1e-3, 1.0)  # noqa: E731
    with pytest.raises(RuntimeError, match="do not settle"):
        solve_fin(s, np.full(NODES, PERIMETER), fickle, constant(5e3), T_BASE)
