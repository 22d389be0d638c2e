"""What holds for every contour that can be built."""

from dataclasses import replace
from itertools import pairwise
from math import cos, pi, radians

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from regen.design import Channels, ContourShape, Liner, Profile
from regen.geometry.channels import build_passage
from regen.geometry.contour import build_contour, place_stations

# a joint is evaluated this far to either side, in throat radii
NEAR = 1e-9


@st.composite
def shapes(draw):
    """Shapes that leave room for the convergent cone."""
    number = st.floats
    angle = radians(draw(number(15, 60)))
    blend, up = draw(number(0.2, 2.0)), draw(number(0.4, 2.0))
    least = (1 + (blend + up) * (1 - cos(angle))) ** 2
    shape = ContourShape(
        contraction_ratio=least * draw(number(1.01, 4.0)),
        area_ratio=draw(number(2.0, 30.0)),
        throat_diameter=draw(number(0.005, 0.5)),
        barrel_length=0.0,
        convergent_half_angle=angle,
        barrel_radius_ratio=blend,
        throat_upstream_radius_ratio=up,
        throat_downstream_radius_ratio=draw(number(0.2, 1.5)),
        divergent_half_angle=radians(draw(number(8, 20))),
    )
    if draw(st.booleans()):
        return replace(
            shape,
            nozzle="bell",
            bell_length_fraction=draw(number(0.75, 0.95)),
            bell_start_angle=radians(draw(number(26, 35))),
            bell_exit_angle=radians(draw(number(3, 8))),
            throat_downstream_radius_ratio=0.382,
            area_ratio=draw(number(4.0, 30.0)),
        )
    return shape


@given(shapes(), st.floats(0.01, 1.0))
def test_radius_and_slope_are_continuous(shape, barrel):
    contour = build_contour(replace(shape, barrel_length=barrel))
    rt = contour.throat_radius
    joints = np.array(contour.breakpoints[1:-1])
    before, after = joints - NEAR * rt, joints + NEAR * rt
    # the steepest slope here is tan 60 deg; curvature is below 5 / rt
    assert contour.radius(before) == pytest.approx(contour.radius(after), abs=4e-9 * rt)
    assert contour.slope_angle(before) == pytest.approx(contour.slope_angle(after), abs=1e-7)


@given(shapes(), st.floats(0.2, 3.0))
def test_least_radius_is_the_throat(shape, barrel):
    contour = build_contour(replace(shape, barrel_length=barrel))
    x = np.linspace(contour.x_injector, contour.x_exit, 2001)
    r = contour.radius(x)
    assert contour.radius(0.0) == pytest.approx(shape.throat_diameter / 2, rel=1e-14)
    assert r.min() >= contour.throat_radius * (1 - 1e-14)
    assert np.all(np.diff(r[x <= 0]) <= 1e-14)
    assert np.all(np.diff(r[x >= 0]) > 0)
    assert contour.contraction_ratio == pytest.approx(shape.contraction_ratio, rel=1e-12)
    assert contour.area_ratio_exit == pytest.approx(shape.area_ratio, rel=1e-12)


def upstream_volume(contour):
    """Return the volume ahead of the throat, by a quadrature that knows of no lines and arcs."""
    joints = [x for x in contour.breakpoints if x <= 0.0]
    pieces = [np.linspace(a, b, 401)[:-1] for a, b in pairwise(joints)]
    x = np.append(np.concatenate(pieces), 0.0)
    return np.trapezoid(pi * contour.radius(x) ** 2, x)


@given(shapes(), st.floats(1.01, 5.0))
def test_volume_is_characteristic_length_times_throat_area(shape, factor):
    throat = pi * (shape.throat_diameter / 2) ** 2
    length = factor * upstream_volume(build_contour(shape)) / throat
    sized = build_contour(replace(shape, barrel_length=None, characteristic_length=length))
    assert upstream_volume(sized) == pytest.approx(length * throat, rel=1e-4)


@given(shapes(), st.floats(0.2, 5.0))
def test_a_scaled_contour_is_the_contour_of_a_scaled_throat(shape, scale):
    small = build_contour(replace(shape, barrel_length=0.1))
    big = build_contour(replace(shape, barrel_length=0.1 * scale), small.throat_radius * scale)
    assert np.array(big.breakpoints) == pytest.approx(
        np.array(small.breakpoints) * scale, rel=1e-12
    )
    x = np.linspace(small.x_injector, small.x_exit, 101)[1:-1]
    assert big.radius(scale * x) == pytest.approx(scale * small.radius(x), rel=1e-9)


@given(shapes(), st.floats(0.0, 0.2), st.floats(0.05, 0.9))
def test_a_passage_differs_from_the_contour_by_offset_times_turning(shape, offset, place):
    # for any smooth curve at constant offset: length = contour length - offset * turning angle
    contour = build_contour(replace(shape, barrel_length=0.1))
    tightest = contour.throat_radius * min(
        shape.throat_upstream_radius_ratio, shape.throat_downstream_radius_ratio
    )
    wall = depth = max(offset, 1e-3) * tightest
    x_to = contour.x_exit * place
    x = place_stations(contour, contour.x_injector, x_to, 60)
    channels = Channels(3, Profile.constant(1e-6), Profile.constant(depth), 1e-6)
    assume(x.size == 60)
    slot = build_passage(contour, channels, Liner("a", "b", Profile.constant(wall)), 1e-3, x)
    turning = np.diff(contour.slope_angle(x))
    expected = slot.step_gas[1:] - 1.5 * wall * turning
    # 1.2e-6 where one step holds the whole of the tightest bend
    assert slot.step_passage[1:] == pytest.approx(expected, rel=2e-6)


@given(shapes(), st.integers(12, 150), st.lists(st.floats(-0.05, 0.05), max_size=4))
def test_stations_rise_and_hold_every_break(shape, count, extra):
    contour = build_contour(replace(shape, barrel_length=0.1))
    x_from, x_to = contour.x_injector, contour.x_exit
    x = place_stations(contour, x_from, x_to, count, extra)
    assert x.size == count
    assert x[0] == x_from
    assert x[-1] == x_to
    assert np.all(np.diff(x) > 0)
    for place in (*contour.breakpoints, *extra):
        if x_from <= place <= x_to:
            assert np.min(np.abs(x - place)) <= 1e-7
