"""Plating by closed forms: Faraday's law, layers on a cylinder, stress and buckling of a layer."""

import math

import numpy as np
import pytest
from scipy.special import jn_zeros

from regen.checks.strength.stresses import bending_stress
from regen.shop.plating import deposit_stress as ds
from regen.shop.plating.baths import bath
from regen.shop.plating.faraday import metal
from regen.shop.plating.layers import cycles, plate
from regen.shop.plating.surface import Surface
from regen.shop.plating.values import LayerSpec, PlanError, Turning

# Worked example of a plating plan, printed to three or four digits (mark: computed).
DIGITS = 1e-3
# Closed forms against code: nothing but rounding.
SAME = 1e-12
R, LENGTH = 0.05, 0.25


def cylinder(stations=11, *, ends=False, extra=0.0):
    x = np.linspace(0.0, LENGTH, stations)
    flat = np.zeros(stations)
    return Surface(x, np.full(stations, R - 0.003), flat, flat + 1.0, flat + 0.003, extra, ends)


def spec(**more):
    given = {
        "bath": bath("sulfamate"),
        "current_density": 200.0,
        "efficiency": 0.97,
        "rate": None,
        "profile": None,
        "finished": 4e-3,
        "stock": 1e-3,
        "deposit": None,
        "temperature": 323.15,
        "stress": None,
        "stress_source": "given_in_case",
    }
    return LayerSpec(**(given | more))


def plated(surface, **more):
    """Return a sulfamate layer that needs no turning between; ``more`` changes its values."""
    ratio = more.pop("ratio", np.ones(surface.x.size))
    turning = Turning(more.pop("turn_each", 1.0), more.pop("cut", 0.0), 0.0, 0.0)
    return plate(surface, spec(**more), ratio, turning)


def test_worked_example_of_a_plating_plan():
    # 0.25 mm of copper at 2 A/dm2 and 0.98; 5 mm of nickel at 2 A/dm2 and 0.97
    assert 0.25e-3 / metal("copper").growth(200.0, 0.98) / 3600 == pytest.approx(9.64, rel=DIGITS)
    nickel = metal("nickel")
    assert 5e-3 / nickel.growth(200.0, 0.97) / 3600 == pytest.approx(209.7, rel=DIGITS)
    assert 5e-3 / nickel.growth(300.0, 0.97) / 86400 == pytest.approx(5.83, rel=DIGITS)
    # on a cylinder of 100 mm by 250 mm, its area taken as that of the bare part
    surface = cylinder()
    assert surface.area(0.0) * 100 == pytest.approx(7.854, rel=DIGITS)
    assert 200.0 * surface.area(0.0) == pytest.approx(15.7, rel=DIGITS)
    assert 5e-3 * surface.area(0.0) * nickel.density == pytest.approx(3.50, rel=DIGITS)
    # the layer grows outward, so that the plan's metal is a ring's, and its hours the same
    layer = plated(surface)
    ring = math.pi * ((R + 5e-3) ** 2 - R**2) * LENGTH
    assert layer.mass == pytest.approx(8908 * ring, rel=SAME)
    assert layer.time / 3600 == pytest.approx(209.7, rel=DIGITS)


def test_faces_and_racks_take_current_and_metal():
    bare, whole = cylinder(), cylinder(ends=True, extra=0.02)
    faces = 2.0 * math.pi * (R**2 - (R - 0.003) ** 2)
    assert whole.area(0.0) - bare.area(0.0) == pytest.approx(faces + 0.02, rel=SAME)
    one, other = plated(bare), plated(whole)
    half = 2.0 * math.pi * ((R + 2.5e-3) ** 2 - (R - 0.003) ** 2)
    assert other.mass - one.mass == pytest.approx(8908 * 5e-3 * (half + 0.02), rel=SAME)
    assert other.mass_left == one.mass_left


def test_what_stays_is_the_layer_as_drawn():
    surface = cylinder()
    layer = plated(surface, turn_each=1e-3, cut=0.2e-3)
    ring = math.pi * ((R + 4e-3) ** 2 - R**2) * LENGTH
    assert layer.mass_left == pytest.approx(8908 * ring, rel=SAME)


def test_cone_has_the_area_of_a_cone():
    x = np.array([0.0, 0.1])
    slope = math.atan(0.5)
    one = np.ones(2)
    cone = Surface(x, 0.02 + 0.5 * x, math.sin(slope) * one, math.cos(slope) * one, 0.0 * one)
    side = math.pi * (0.02 + 0.07) * math.hypot(0.1, 0.05)
    assert cone.areas(0.0).sum() == pytest.approx(side, rel=SAME)


def test_cycles_add_up_at_the_thinnest_place():
    # 3 drawn, 1 stock, 0.2 off at each turning between, thinnest 0.8 of the mean, 1 mm a cycle:
    # 6 cycles deposit (4 + 5 x 0.2)/0.8 = 6.25 > 6, 7 cycles (4 + 6 x 0.2)/0.8 = 6.5 <= 7
    drawn = spec(finished=3e-3, stock=1e-3)
    deposit, count = cycles(drawn, Turning(1e-3, 0.2e-3, 0.0, 0.0), 0.8)
    assert (deposit, count) == (pytest.approx(6.5e-3, rel=SAME), 7)
    with pytest.raises(PlanError, match="takes 0.9 mm off the thinnest place, where only 0.8 mm"):
        cycles(drawn, Turning(1e-3, 0.9e-3, 0.0, 0.0), 0.8)


def test_a_measured_rate_sets_the_hours_and_leaves_the_charge():
    surface = cylinder()
    theory = plated(surface)
    slow = plated(surface, rate=7e-6 / 3600)
    assert slow.time == pytest.approx(5e-3 / (7e-6 / 3600), rel=SAME)
    assert slow.charge == theory.charge
    assert slow.theory_time == pytest.approx(theory.time, rel=SAME)
    step = slow.steps[0]
    assert step.current_density == pytest.approx(200.0 * theory.time / slow.time, rel=SAME)


def test_liner_hoop_is_the_sum_of_thin_films():
    # 3 mm of nickel under 50 MPa in 30000 films on 2 mm of copper: each film's force goes into
    # the liner and the films below it by stiffness
    E_f, E_l, h_l, s = 180e9, 117e9, 2e-3, 50e6
    films, step, hoop = 30000, 3e-3 / 30000, 0.0
    for n in range(films):
        hoop -= s * step * E_l / (E_l * h_l + E_f * (n + 0.5) * step)
    assert ds.liner_hoop(s, 3e-3, E_f, E_l, E_l * h_l) == pytest.approx(hoop, rel=1e-6)
    assert hoop == pytest.approx(-38.9e6, rel=DIGITS)
    watts = ds.liner_hoop(150e6, 3e-3, E_f, E_l, E_l * h_l)
    assert watts == pytest.approx(-117e6, rel=5e-3)  # printed to three digits
    # the thin limit is force over area
    thin = ds.liner_hoop(s, 1e-9, E_f, E_l, E_l * h_l)
    assert thin == pytest.approx(-s * 1e-9 / h_l, rel=1e-5)


def test_strip_buckles_at_the_load_of_a_clamped_column():
    # D w'''' + N w'' = 0 between clamped ends by finite differences: lowest N = 4 pi^2 D/w^2
    n = 100
    d = 1.0 / (n + 1)
    second = (np.diag(np.full(n, -2.0)) + np.eye(n, k=1) + np.eye(n, k=-1)) / d**2
    fourth = np.diag(np.full(n, 6.0)) - 4 * (np.eye(n, k=1) + np.eye(n, k=-1))
    fourth += np.eye(n, k=2) + np.eye(n, k=-2)
    fourth[0, 0] = fourth[-1, -1] = 7.0  # a mirrored neighbour: no slope at the clamp
    loads = np.linalg.eigvals(np.linalg.solve(-second, fourth / d**4))
    lowest = float(np.min(loads.real))
    t, w, E, nu = 0.05e-3, 1.2e-3, 117e9, 0.34
    D = E * t**3 / (12 * (1 - nu**2))
    mesh = 1e-3  # second-order error of 100 points
    assert ds.strip_buckling(t, w, E, nu) == pytest.approx(lowest * D / (w**2 * t), rel=mesh)


def test_patch_buckles_at_the_first_zero_of_the_bessel_function():
    t, d, E, nu = 0.3e-3, 20e-3, 180e9, 0.31
    D = E * t**3 / (12 * (1 - nu**2))
    load = jn_zeros(1, 1)[0] ** 2 * D / (0.5 * d) ** 2
    assert ds.patch_buckling(t, d, E, nu) == pytest.approx(load / t, rel=DIGITS)


def test_largest_unbond_bends_at_just_the_stress_allowed():
    wide = ds.largest_unbond(300e6, 9e6, 3e-3)
    assert bending_stress(9e6, wide, 3e-3) == pytest.approx(300e6, rel=SAME)


def test_critical_thickness_stores_just_the_toughness():
    h = ds.critical_thickness(120e6, 260.0, 180e9, 0.31)
    assert ds.stored_energy(120e6, h, 180e9, 0.31) == pytest.approx(260.0, rel=SAME)
    # the two forms differ by (1 + nu)/2 for the same layer
    share = ds.edge_release(120e6, h, 180e9, 0.31) / ds.stored_energy(120e6, h, 180e9, 0.31)
    assert share == pytest.approx(1.31 / 2, rel=SAME)


def test_ratios_are_scaled_to_a_mean_of_one_over_the_area():
    # a cone of radii 20 and 60 mm, 30 along each of two steps: areas go as 30 and 50
    x = np.array([0.0, 0.03, 0.06])
    r = np.array([0.02, 0.04, 0.06])
    flat = np.zeros(3)
    cone = Surface(x, r, flat, flat + 1.0, flat)
    even = cone.even(np.array([3.0, 1.0, 1.0]))
    # means of the steps 2 and 1: (2 x 30 + 1 x 50)/80 = 1.375
    assert even == pytest.approx(np.array([3.0, 1.0, 1.0]) / 1.375, rel=SAME)
