import numpy as np
import pytest

from regen.checks.strength.stresses import (
    bending_stress,
    buckling_stress,
    collapse_pressure,
    land_tension,
    ligament_stress,
    membrane_stress,
    mismatch_stress,
    ratchet_limit,
    reduced_modulus,
    shear_stress,
    thermal_stress,
    von_mises,
)

# Worked example: p_c 10, p_g 5 MPa, w = b = 1.0 mm, t = 0.8 mm, r = 40 mm, q = 30 MW/m2, k = 330,
# E = 120 GPa, alpha = 17e-6, nu = 0.34, jacket of mean radius 45 mm, 3 mm thick. Closed forms;
# printed to three or four digits (mark: computed).
DIGITS = 1e-3
P_C, P_G, W, B, T_WALL, R = 10e6, 5e6, 1e-3, 1e-3, 0.8e-3, 40e-3
E, NU, R_J, T_J = 120e9, 0.34, 45e-3, 3e-3
EXACT = 1e-12  # rounding of a few operations


def test_worked_example_of_a_channel_wall():
    assert bending_stress(P_C - P_G, W, T_WALL) == pytest.approx(3.906e6, rel=DIGITS)
    assert bending_stress(P_C - P_G, W, T_WALL) / 2 == pytest.approx(1.953e6, rel=DIGITS)
    assert shear_stress(P_C - P_G, W, T_WALL) == pytest.approx(3.125e6, rel=DIGITS)
    drop = 30e6 * T_WALL / 330.0
    assert drop == pytest.approx(72.73, rel=DIGITS)
    heat = thermal_stress(E, 17e-6, drop, NU)
    assert heat == pytest.approx(112.40e6, rel=DIGITS)
    assert bending_stress(P_C - P_G, W, T_WALL) + heat == pytest.approx(116.3e6, rel=DIGITS)
    assert land_tension(P_C, W, B) == pytest.approx(10.0e6, rel=DIGITS)


def test_worked_example_of_a_jacket():
    assert membrane_stress(P_G, R_J, T_J) == pytest.approx(75e6, rel=EXACT)
    assert membrane_stress(P_C, R_J, T_J) == pytest.approx(150e6, rel=EXACT)
    assert bending_stress(P_C, W, T_J) == pytest.approx(0.556e6, rel=DIGITS)


@pytest.mark.parametrize(("tangent", "MPa"), [(120e9, 1473.0), (12e9, 340.0), (1.2e9, 48.7)])
def test_worked_example_of_buckling(tangent, MPa):  # noqa: N803
    found = buckling_stress(reduced_modulus(E, tangent), T_WALL, R, NU)
    assert found == pytest.approx(MPa * 1e6, rel=DIGITS)


def test_reduced_modulus_between_its_ends():
    assert reduced_modulus(E, E) == pytest.approx(E, rel=EXACT)
    assert reduced_modulus(120e9, 12e9) == pytest.approx(27.71e9, rel=DIGITS)
    assert reduced_modulus(E, 0.0) == 0.0
    # Engesser's own form for a rectangle: half of both stiffnesses at the shifted neutral axis
    t, E_t = 1.0, 12e9
    y = t * np.sqrt(E_t) / (np.sqrt(E) + np.sqrt(E_t))  # depth of the side that unloads
    by_hand = 12.0 * (E * y**3 / 3.0 + E_t * (t - y) ** 3 / 3.0)
    assert reduced_modulus(E, E_t) == pytest.approx(by_hand, rel=EXACT)


def test_a_ring_collapses_as_its_bending_stiffness_says():
    # p = 3 E' I/r^3 of an inextensible ring in two waves, E' = E/(1 - nu^2), I = t^3/12
    t, r = 0.8e-3, 40e-3
    by_hand = 3.0 * E / (1.0 - NU**2) * t**3 / 12.0 / r**3
    assert collapse_pressure(E, t, r, NU) == pytest.approx(by_hand, rel=EXACT)


def test_bending_balances_the_moment_of_a_clamped_strip():
    # moment dp w^2/12 over the section modulus t^2/6 of a strip of unit width
    dp, w, t = 3e6, 1.7e-3, 0.6e-3
    assert bending_stress(dp, w, t) == pytest.approx((dp * w**2 / 12.0) / (t**2 / 6.0), rel=EXACT)


def test_shear_governs_a_thick_wall_and_pressure_counts_either_way():
    # bending over sqrt(3) times shear is w/(sqrt(3) t)
    assert ligament_stress(4e6, 1e-3, 1e-3) == pytest.approx(np.sqrt(3.0) * 2e6, rel=EXACT)
    assert ligament_stress(-4e6, 3e-3, 1e-3) == pytest.approx(18e6, rel=EXACT)


def test_land_carries_the_pressure_on_its_channel():
    # force balance over one pitch: p w = stress b
    p, w, b = 9e6, np.array([0.7e-3, 1.2e-3]), np.array([0.9e-3, 0.5e-3])
    assert land_tension(p, w, b) * b == pytest.approx(p * w, rel=EXACT)


def test_von_mises_of_known_states():
    assert von_mises(7e6, 0.0) == pytest.approx(7e6, rel=EXACT)
    assert von_mises(7e6, 7e6) == pytest.approx(7e6, rel=EXACT)
    assert von_mises(7e6, -7e6) == pytest.approx(np.sqrt(3.0) * 7e6, rel=EXACT)


@pytest.mark.parametrize("e", [2e-4, -3e-4])
def test_two_layers_of_unequal_growth_by_linear_algebra(e):
    # unknown: both stresses and the common strain; equal forces, both follow the common strain
    E_l, t_l, E_j, t_j = 110e9, 1.8e-3, 180e9, 3e-3
    equations = np.array(
        [
            [t_l, t_j, 0.0],  # no force from outside
            [(1.0 - NU) / E_l, 0.0, -1.0],  # liner: elastic strain + e = common
            [0.0, (1.0 - NU) / E_j, -1.0],  # jacket, of the same Poisson ratio
        ]
    )
    liner, jacket, _ = np.linalg.solve(equations, [0.0, -e, 0.0])
    stiffness = E_l * t_l / (E_j * t_j)
    assert mismatch_stress(E_l, e, NU, stiffness, 1e12) == pytest.approx(liner, rel=1e-9)
    capped = mismatch_stress(E_l, e, NU, stiffness, 20e6)
    assert capped == np.sign(liner) * 20e6
    # beyond the cap the liner's force is its yield, and the jacket's the same the other way
    assert abs(capped) * t_l / t_j < abs(jacket)


def test_bree_meets_itself_at_half_of_yield_and_ends_at_yield():
    s_y = 200e6
    low, high = ratchet_limit([0.5 * s_y * (1.0 - 1e-12), 0.5 * s_y * (1.0 + 1e-12)], s_y)
    assert low == pytest.approx(2.0 * s_y, rel=1e-9)
    assert high == pytest.approx(2.0 * s_y, rel=1e-9)
    assert ratchet_limit(0.1 * s_y, s_y) == pytest.approx(10.0 * s_y, rel=EXACT)
    assert ratchet_limit(0.75 * s_y, s_y) == pytest.approx(s_y, rel=EXACT)
    assert ratchet_limit(1.2 * s_y, s_y) == 0.0
    assert ratchet_limit(0.0, s_y) == np.inf
