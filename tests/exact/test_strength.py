import numpy as np
import pytest

from regen.checks.strength import bending_stress, land_tension, shear_stress, thermal_stress

# Worked example: p_c 10, p_g 5 MPa, w = b = 1.0 mm, t = 0.8 mm, q = 30 MW/m2, k = 330,
# E = 120 GPa, alpha = 17e-6, nu = 0.34. Closed forms; printed to four digits (mark: computed).
DIGITS = 1e-3
P_C, P_G, W, B, T_WALL = 10e6, 5e6, 1e-3, 1e-3, 0.8e-3


def test_worked_example_of_a_channel_wall():
    assert bending_stress(P_C - P_G, W, T_WALL) == pytest.approx(3.906e6, rel=DIGITS)
    assert shear_stress(P_C - P_G, W, T_WALL) == pytest.approx(3.125e6, rel=DIGITS)
    drop = 30e6 * T_WALL / 330.0
    assert drop == pytest.approx(72.73, rel=DIGITS)
    heat = thermal_stress(120e9, 17e-6, drop, 0.34)
    assert heat == pytest.approx(112.40e6, rel=DIGITS)
    assert bending_stress(P_C - P_G, W, T_WALL) + heat == pytest.approx(116.3e6, rel=DIGITS)
    assert land_tension(P_C, W, B) == pytest.approx(10.0e6, rel=DIGITS)


def test_bending_balances_the_moment_of_a_clamped_strip():
    # moment dp w^2/12 over the section modulus t^2/6 of a strip of unit width
    dp, w, t = 3e6, 1.7e-3, 0.6e-3
    assert bending_stress(dp, w, t) == pytest.approx((dp * w**2 / 12.0) / (t**2 / 6.0), rel=1e-12)


def test_land_carries_the_pressure_on_its_channel():
    # force balance over one pitch: p w = stress b
    p, w, b = 9e6, np.array([0.7e-3, 1.2e-3]), np.array([0.9e-3, 0.5e-3])
    assert land_tension(p, w, b) * b == pytest.approx(p * w, rel=1e-12)
