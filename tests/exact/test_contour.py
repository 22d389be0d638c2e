"""Contours and passages against elementary geometry worked out beside each test."""

from itertools import pairwise
from math import cos, pi, radians, sin, sqrt, tan

import numpy as np
import pytest

from regen.design import Channels, ContourProfile, ContourShape, Liner, Profile
from regen.geometry.channels import build_passage
from regen.geometry.contour import build_contour, cooled_range, place_stations
from regen.geometry.curves import Arc, Line, MonotoneCubic, Parabola, monotone_slopes, volume

# closed forms in double precision; sums over a few segments
EXACT = 1e-12
# lengths are extrapolated chord sums, specified to 1e-5
LENGTH = 1e-7


def shape(**changes):
    given = {
        "contraction_ratio": 6.0,
        "area_ratio": 8.0,
        "throat_diameter": 0.038,
        "barrel_length": 0.1,
    }
    return ContourShape(**(given | changes))


def passage(contour, x, depth=2e-3, wall=0.8e-3, count=60, width=0.7e-3):
    channels = Channels(count, Profile.constant(width), Profile.constant(depth), 1e-6)
    return build_passage(contour, channels, Liner("a", "b", Profile.constant(wall)), 3e-3, x)


def test_volume_of_a_cylinder():
    assert volume(Line(0.0, 0.3, 0.05, 0.0), 0.0, 0.3) == pytest.approx(
        pi * 0.05**2 * 0.3, rel=EXACT
    )


def test_volume_of_a_cone():
    # a whole cone with its tip on the axis: pi R^2 h / 3
    assert volume(Line(0.0, 0.2, 0.1, -0.5), 0.0, 0.2) == pytest.approx(
        pi * 0.1**2 * 0.2 / 3, rel=EXACT
    )


def test_volume_of_a_sphere():
    ball = Arc(-0.1, 0.1, 0.0, 0.0, 0.1, 1)
    assert volume(ball, -0.1, 0.1) == pytest.approx(4 / 3 * pi * 0.1**3, rel=EXACT)


def test_volume_inside_a_torus():
    # the inner half of a torus tube of radius a about the circle R takes from the cylinder of
    # radius R half the tube's disc; by Pappus its centroid sits at R - 4a/(3 pi)
    R, a = 0.05, 0.02
    half_disc = pi * a**2 / 2 * 2 * pi * (R - 4 * a / (3 * pi))
    expected = pi * R**2 * 2 * a - half_disc
    assert volume(Arc(-a, a, 0.0, R, a, -1), -a, a) == pytest.approx(expected, rel=EXACT)


def test_every_joint_of_the_contour():
    rt, theta, alpha = 0.019, radians(30), radians(15)
    rc, drop = rt * sqrt(6), 1 - cos(theta)
    cone = (rc - rt - 2.5 * rt * drop) / tan(theta)
    up = 1.5 * rt * sin(theta)
    blend = rt * sin(theta)
    down = 0.382 * rt * sin(alpha)
    r_down = rt * (1 + 0.382 * (1 - cos(alpha)))
    divergent = (rt * sqrt(8) - r_down) / tan(alpha)
    joints = np.cumsum([-up - cone - blend - 0.1, 0.1, blend, cone, up, down, divergent])
    assert build_contour(shape()).breakpoints == pytest.approx(joints, rel=1e-12, abs=1e-15)


def test_cone_reaches_its_area_ratio_at_the_textbook_length():
    # L = [rt (sqrt(eps) - 1) + R (1/cos a - 1)] / tan a, a cone tangent to the throat arc
    rt, R, a = 0.019, 0.382 * 0.019, radians(15)
    length = (rt * (sqrt(8) - 1) + R * (1 / cos(a) - 1)) / tan(a)
    contour = build_contour(shape())
    assert contour.x_exit == pytest.approx(length, rel=EXACT)
    assert contour.area_ratio_exit == pytest.approx(8, rel=EXACT)


def test_bell_has_its_angles_and_its_fraction_of_the_cone():
    cone = build_contour(shape())
    angles = {"bell_start_angle": radians(25), "bell_exit_angle": radians(10)}
    bell = build_contour(shape(nozzle="bell", bell_length_fraction=0.8, **angles))
    start, stop = bell.breakpoints[-2:]
    assert stop == pytest.approx(0.8 * cone.x_exit, rel=EXACT)
    assert bell.area_ratio_exit == pytest.approx(8, rel=EXACT)
    assert bell.slope_angle([start, stop]) == pytest.approx([radians(25), radians(10)], rel=1e-10)


def test_parabola_against_its_own_definition():
    # points of the Bezier form, and its slope by a central difference
    p = Parabola(0.0, 1.0, 0.0, 0.8, 0.4, 0.6)
    t = np.linspace(0.05, 0.95, 7)
    x = 2 * t * (1 - t) * 0.4 + t**2
    r, first, second = p.at(x)
    assert r == pytest.approx(2 * t * (1 - t) * 0.6 + t**2 * 0.8, rel=1e-13)
    h = 1e-5
    assert first == pytest.approx((p.at(x + h)[0] - p.at(x - h)[0]) / (2 * h), rel=1e-8)
    assert second == pytest.approx((p.at(x + h)[1] - p.at(x - h)[1]) / (2 * h), rel=1e-7)


def test_curvature_is_one_over_radius_with_its_sign():
    contour = build_contour(shape())
    x_inj, x1, x2, x3, _, x5, x6 = contour.breakpoints
    rt = contour.throat_radius
    middles = np.array([(x_inj + x1), (x1 + x2), (x2 + x3), x3, x5, (x5 + x6)]) / 2
    expected = [0, -1 / rt, 0, 1 / (1.5 * rt), 1 / (0.382 * rt), 0]
    assert contour.curvature(middles) == pytest.approx(expected, rel=1e-10, abs=1e-10)
    assert contour.throat_curvature == pytest.approx(rt * (1.5 + 0.382) / 2, rel=EXACT)


def test_passage_along_a_barrel_and_a_cone():
    contour = build_contour(shape())
    x_inj, x1, x2, x3 = contour.breakpoints[:4]
    barrel = passage(contour, np.linspace(x_inj, x1, 4))
    assert barrel.step_passage.sum() == pytest.approx(0.1, rel=LENGTH)
    cone = passage(contour, np.linspace(x2, x3, 5))
    expected = (x3 - x2) / cos(radians(30))
    assert cone.step_gas.sum() == pytest.approx(expected, rel=LENGTH)
    assert cone.step_passage.sum() == pytest.approx(expected, rel=LENGTH)
    assert cone.step_gas[0] == cone.step_passage[0] == 0.0


def test_passage_along_arcs_is_longer_outside_and_shorter_inside():
    contour = build_contour(shape())
    _, x1, x2, x3 = contour.breakpoints[:4]
    rt, theta, offset = contour.throat_radius, radians(30), 0.8e-3 + 1e-3
    blend = passage(contour, np.linspace(x1, x2, 3))
    assert blend.step_gas.sum() == pytest.approx(rt * theta, rel=LENGTH)
    assert blend.step_passage.sum() == pytest.approx((rt + offset) * theta, rel=LENGTH)
    throat = passage(contour, np.linspace(x3, 0, 3))
    assert throat.step_gas.sum() == pytest.approx(1.5 * rt * theta, rel=LENGTH)
    assert throat.step_passage.sum() == pytest.approx((1.5 * rt - offset) * theta, rel=LENGTH)


def test_passage_of_a_deepening_slot():
    # on the barrel the mid-line climbs by half the growth of the depth: hypotenuse
    contour = build_contour(shape())
    start = contour.x_injector
    depth = Profile((start, start + 0.1), (1e-3, 9e-3))
    channels = Channels(20, Profile.constant(1e-3), depth, 1e-6)
    slot = build_passage(
        contour, channels, Liner("a", "b", Profile.constant(1e-3)), 3e-3, [start, start + 0.1]
    )
    assert slot.step_passage.sum() == pytest.approx(sqrt(0.1**2 + 0.004**2), rel=LENGTH)


def test_floor_radius_and_land():
    contour = build_contour(shape())
    x2, x3 = contour.breakpoints[2:4]
    slot = passage(contour, [x2, x3], wall=1e-3, count=60, width=0.7e-3)
    floor = contour.radius([x2, x3]) + 1e-3 * cos(radians(30))
    assert slot.floor_radius == pytest.approx(floor, rel=EXACT)
    assert slot.land == pytest.approx(2 * pi * floor / 60 - 0.7e-3, rel=EXACT)


def test_cooled_end_at_an_area_ratio():
    contour = build_contour(shape())
    channels = Channels(60, Profile.constant(1e-3), Profile.constant(1e-3), 1e-6)
    assert cooled_range(contour, channels) == (contour.x_injector, contour.x_exit)
    limited = Channels(
        60, Profile.constant(1e-3), Profile.constant(1e-3), 1e-6, cooled_to_area_ratio=5.0
    )
    rt, a = contour.throat_radius, radians(15)
    x5, r5 = 0.382 * rt * sin(a), rt * (1 + 0.382 * (1 - cos(a)))
    assert cooled_range(contour, limited)[1] == pytest.approx(
        x5 + (rt * sqrt(5) - r5) / tan(a), rel=EXACT
    )


def test_profile_from_points_of_known_arcs():
    # sample a known contour; the cubic must return its radius, throat circle and volume
    known = build_contour(shape())
    parts = [np.linspace(a, b, 25)[:-1] for a, b in pairwise(known.breakpoints)]
    x = np.append(np.concatenate(parts), known.x_exit)
    read = build_contour(ContourProfile(tuple(x), tuple(known.radius(x)), "points.csv"))
    between = (x[1:] + x[:-1]) / 2
    # where curvature jumps by k a three-point slope is off by up to h k / 2, the radius between
    # points by h / 8 of that: 5 um for the 1.5 mm steps next to the throat arc of 28.5 mm
    assert read.radius(between) == pytest.approx(known.radius(between), abs=5e-6)
    # and its slope by h k / 2: 0.027 rad; where curvature does not jump far less
    error = np.abs(read.slope_angle(x) - known.slope_angle(x))
    assert error.max() < 0.027
    assert np.median(error) < 1e-3
    assert read.throat_curvature == pytest.approx(known.throat_curvature, rel=0.03)
    fine = np.linspace(known.x_injector, 0.0, 4001)
    of_points, of_arcs = (np.trapezoid(c.radius(fine) ** 2, fine) for c in (read, known))
    assert of_points == pytest.approx(of_arcs, rel=1e-4)
    assert read.throat_radius == known.throat_radius
    assert read.breakpoints == (known.x_injector, 0.0, known.x_exit)


def test_stations_meet_their_count_and_breaks():
    contour = build_contour(shape())
    for count in (10, 75, 200):
        x = place_stations(contour, -0.1, contour.x_exit, count, (-0.05, 0.02))
        assert x.size == count
        wanted = [b for b in (*contour.breakpoints, -0.05, 0.02) if -0.1 <= b]
        assert set(wanted) <= set(x)
        assert np.all(np.diff(x) > 0)


def test_stations_are_three_to_four_times_finer_at_the_throat():
    contour = build_contour(shape())
    x = place_stations(contour, contour.x_injector, contour.x_exit, 300)
    step = np.diff(x)
    barrel, throat = step[5], step[np.searchsorted(x, 0.0) - 3]
    assert 3 < barrel / throat < 4.2


def test_cubic_through_points_adds_no_extremum():
    # a step of rising points, on which plain three-point slopes overshoot
    x = np.arange(9.0)
    r = np.array([0.0, 0.01, 0.02, 0.03, 1.0, 2.0, 2.01, 2.02, 2.03])
    curve = MonotoneCubic(x, r, monotone_slopes(x, r))
    fine, _, _ = curve.at(np.linspace(0, 8, 801))
    assert np.all(np.diff(fine) >= 0)
