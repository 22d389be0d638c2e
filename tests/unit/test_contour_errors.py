"""Refusals of a geometry: what was given, where, and what to do."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest

from regen.design import Channels, ContourProfile, ContourShape, Liner, Profile
from regen.errors import GeometryError
from regen.geometry.channels import build_passage
from regen.geometry.contour import build_contour, cooled_range, place_stations

SHAPE = ContourShape(6.0, 8.0, throat_diameter=0.038, barrel_length=0.1)
LINER = Liner("a", "b", Profile.constant(0.8e-3))
CHANNELS = Channels(60, Profile.constant(0.7e-3), Profile.constant(2e-3), 1e-6)
X = tuple(np.linspace(-0.05, 0.05, 21))
R = tuple(0.02 + np.square(X))


def refusal(**changes):
    with pytest.raises(GeometryError) as caught:
        build_contour(replace(SHAPE, **changes))
    return str(caught.value)


def points(x=X, r=R):
    with pytest.raises(GeometryError) as caught:
        build_contour(ContourProfile(tuple(x), tuple(r), "points.csv"))
    return str(caught.value)


def laid(contour=None, channels=CHANNELS, liner=LINER, x=(-0.05, 0.0, 0.05)):
    return build_passage(contour or build_contour(SHAPE), channels, liner, 3e-3, x)


def test_all_bad_numbers_are_told_at_once():
    with pytest.raises(GeometryError) as caught:
        build_contour(replace(SHAPE, contraction_ratio=0.9, area_ratio=float("nan")))
    assert len(caught.value.problems) == 2
    assert "contour.contraction_ratio: 0.9 given; must be above 1" in str(caught.value)
    assert "contour.area_ratio: nan given" in str(caught.value)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"throat_diameter": None}, "Give throat_diameter, or thrust"),
        ({"throat_diameter": -0.01}, "contour.throat_diameter: -10 mm given; must be positive"),
        ({"barrel_length": None}, "0 of barrel_length and characteristic_length"),
        ({"characteristic_length": 0.8}, "2 of barrel_length and characteristic_length"),
        ({"barrel_length": -0.1}, "must not be negative"),
        ({"barrel_radius_ratio": 0.0}, "contour.barrel_radius_ratio: 0 given; must be above 0"),
        ({"convergent_half_angle": pi / 2}, "contour.convergent_half_angle: 90 deg given"),
        ({"divergent_half_angle": 0.0}, "contour.divergent_half_angle: 0 deg given"),
        ({"area_ratio": 1.01}, "contour.area_ratio: 1.01 given, but the throat arc of 7.258 mm"),
        ({"nozzle": "bell"}, "bell needs bell_start_angle and bell_exit_angle"),
        (
            {"nozzle": "bell", "bell_start_angle": pi, "bell_exit_angle": 0.1},
            "contour.bell_start_angle: 180 deg given",
        ),
        (
            {"nozzle": "bell", "bell_start_angle": 0.3, "bell_exit_angle": 0.4},
            "contour: no parabola joins a bell_start_angle of 17.19 deg",
        ),
    ],
)
def test_shape_refusals(changes, words):
    assert words in refusal(**changes)


def test_no_room_for_the_cone_says_the_angle_that_fits():
    words = refusal(contraction_ratio=1.5, convergent_half_angle=radians(45))
    assert "no room for the convergent cone" in words
    steepest = float(words.split("convergent_half_angle to ")[1].split(" deg")[0])
    # the remedy works, and a little more than it does not
    fits = replace(SHAPE, contraction_ratio=1.5)
    build_contour(replace(fits, convergent_half_angle=radians(steepest - 0.01)))
    with pytest.raises(GeometryError):
        build_contour(replace(fits, convergent_half_angle=radians(steepest + 0.01)))


def test_characteristic_length_below_the_convergent_says_what_it_holds():
    words = refusal(barrel_length=None, characteristic_length=0.1)
    least = float(words.split("alone holds ")[1].split(" m of it")[0])
    build_contour(replace(SHAPE, barrel_length=None, characteristic_length=least * 1.001))
    with pytest.raises(GeometryError):
        build_contour(replace(SHAPE, barrel_length=None, characteristic_length=least * 0.999))


@pytest.mark.parametrize(
    ("x", "r", "words"),
    [
        (X[:5], R[:5], "5 x and 5 r given; at least 8"),
        (X, R[:-1], "21 x and 20 r given"),
        (X, (float("nan"), *R[1:]), "finite and positive"),
        (X, (-1.0, *R[1:]), "finite and positive"),
        ((X[0], X[2], X[1], *X[3:]), R, "x must rise: point 3 at -45 mm follows -40 mm"),
        (tuple(np.add(X, 0.003)), R, "Shift x by -3 mm"),
        (X[9:], R[9:], "two points are needed on each side"),
        (X, (*R[:-1], 0.021), "narrows again after x = 45 mm"),
        (X, (*R[:8], 0.02, 0.02, 0.02, 0.02, 0.02, *R[13:]), "curvature cannot be read"),
    ],
)
def test_point_refusals(x, r, words):
    if words.startswith("two points"):
        x, r = X[9:], R[9:]
    message = points(x, r)
    assert "points.csv" in message
    assert words in message


def test_a_profile_is_not_sized_from_thrust():
    with pytest.raises(GeometryError, match="cannot be sized from thrust"):
        build_contour(ContourProfile(X, R, "points.csv"), throat_radius=0.02)


def test_off_the_contour():
    with pytest.raises(GeometryError, match=r"x = 1000 mm is off the contour, which runs from"):
        build_contour(SHAPE).radius(1.0)


def test_vanishing_lands_say_how_many_slots_fit():
    contour = build_contour(SHAPE)
    with pytest.raises(GeometryError) as caught:
        laid(contour, replace(CHANNELS, count=200))
    words = str(caught.value)
    assert "land width <= 0 at x = 0 mm: 200 slots have a pitch of 0.622 mm" in words
    most = int(words.split("at most ")[1].split(" ")[0])
    assert laid(contour, replace(CHANNELS, count=most)).land.min() > 0
    with pytest.raises(GeometryError):
        laid(contour, replace(CHANNELS, count=most + 1))


def test_a_thin_land_is_noted_with_its_place():
    (note,) = laid(channels=replace(CHANNELS, count=150)).notes
    assert note.code == "thin land"
    assert note.x_m == 0.0
    # 2 pi (19 + 0.8) / 150 - 0.7 = 0.1294 mm
    assert "0.1294 mm" in note.text


def test_folding_mid_line_is_refused_and_folding_roof_noted():
    contour = build_contour(SHAPE)  # tightest radius 0.382 * 19 = 7.258 mm
    x = np.linspace(-0.02, 0.02, 41)
    few = replace(CHANNELS, count=20)
    assert laid(contour, replace(few, depth=Profile.constant(6.4e-3)), x=x).notes == ()
    (note,) = laid(contour, replace(few, depth=Profile.constant(6.6e-3)), x=x).notes
    assert note.code == "folding roof"
    with pytest.raises(GeometryError, match=r"folds back on itself, radius of curvature 7.258 mm"):
        laid(contour, replace(few, depth=Profile.constant(13e-3)), x=x)


def test_sizes_must_be_positive():
    with pytest.raises(GeometryError) as caught:
        laid(
            channels=replace(CHANNELS, count=0, depth=Profile((-0.05, 0.0), (1e-3, 0.0))),
            liner=Liner("a", "b", Profile.constant(-1e-3)),
        )
    text = str(caught.value)
    assert "channels.depth: 0 mm at x = 0 mm; must be positive everywhere" in text
    assert "liner.wall: -1 mm" in text
    assert "channels.count: 0 given" in text


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"cooled_from": -1.0}, "channels.cooled_from: -1000 mm is off the contour"),
        ({"cooled_to": 1.0}, "channels.cooled_to: 1000 mm is off the contour"),
        ({"cooled_from": 0.05, "cooled_to": 0.0}, "they would run from x = 50 mm to 0 mm"),
        ({"cooled_to_area_ratio": 9.0}, "must be above 1 and at most the nozzle's 8"),
        ({"cooled_to_area_ratio": 1.0}, "channels.cooled_to_area_ratio: 1 given"),
        ({"cooled_to": 0.01, "cooled_to_area_ratio": 2.0}, "remove one"),
    ],
)
def test_cooled_range_refusals(changes, words):
    with pytest.raises(GeometryError) as caught:
        cooled_range(build_contour(SHAPE), replace(CHANNELS, **changes))
    assert words in str(caught.value)


def test_too_few_stations_say_how_many_are_needed():
    contour = build_contour(SHAPE)
    with pytest.raises(GeometryError, match="8 are needed"):
        place_stations(contour, contour.x_injector, contour.x_exit, 7, (0.05,))
    assert place_stations(contour, contour.x_injector, contour.x_exit, 8, (0.05,)).size == 8
