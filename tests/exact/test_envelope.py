"""The floor that a disc leaves, against circles, cones and steps worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from regen.design import ContourShape, Profile
from regen.geometry.contour import build_contour
from regen.shop.cutters.floor import disc_floor, flat_floor, meridian, reduced, wall_left

WITHIN = 1e-6
"""The geometry's own claim [m]."""

STEP = 0.05e-3


def grid(half: float, shift: float = 0.0) -> np.ndarray:
    return np.arange(-half, half, STEP) + shift * STEP


def waist(x, rho, half_turn):
    """A circle of radius rho that two tangent straight lines go on from, lowest at (0, 0)."""
    edge = rho * np.sin(half_turn)
    circle = rho - np.sqrt(np.maximum(rho**2 - x**2, 0.0))
    lines = rho * (1.0 - np.cos(half_turn)) + (np.abs(x) - edge) * np.tan(half_turn)
    return np.where(np.abs(x) <= edge, circle, lines)


@pytest.mark.parametrize("shift", [0.0, 0.31, 0.5])
@pytest.mark.parametrize("rho", [2e-3, 6.46e-3, 20e-3])
@pytest.mark.parametrize("radius", [10e-3, 31.5e-3])
def test_a_disc_bridges_a_tight_waist(radius, rho, shift):
    """It touches both lines: its centre is (R - rho)/cos above that of the waist's circle."""
    turn = np.deg2rad(22.5)
    x = grid(80e-3, shift)
    floor = waist(x, rho, turn)
    middle = np.abs(x) < 10e-3
    expected = floor
    if radius > rho:
        centre = rho + (radius - rho) / np.cos(turn)
        bridged = np.abs(x) < radius * np.sin(turn)
        arc = centre - np.sqrt(np.maximum(radius**2 - x**2, 0.0))
        expected = np.where(bridged, arc, floor)
    *_, cut = disc_floor(x, floor, radius)
    assert np.abs(cut - expected)[middle].max() < WITHIN
    assert np.all(cut >= floor)
    if radius > rho:
        highest = (radius - rho) * (1.0 / np.cos(turn) - 1.0)
        assert (cut - floor).max() == pytest.approx(highest, abs=WITHIN)


@pytest.mark.parametrize("slope", [0.0, -np.tan(np.pi / 6), np.tan(np.pi / 12)])
def test_a_disc_follows_a_cone(slope):
    x = grid(60e-3)
    way, centre, cut = disc_floor(x, slope * x, 20e-3)
    inner = np.abs(x) < 15e-3
    assert np.abs(cut - slope * x)[inner].max() < WITHIN
    # the centre runs beside the cone at one radius
    beside = (centre - slope * way) / np.hypot(1.0, slope)
    assert np.abs(beside - 20e-3)[np.abs(way) < 15e-3].max() < WITHIN


@pytest.mark.parametrize("rho", [15e-3, 40e-3])
def test_a_disc_follows_a_bulge(rho):
    x = grid(60e-3)
    floor = -waist(x, rho, np.deg2rad(30.0))
    *_, cut = disc_floor(x, floor, 31.5e-3)
    assert np.abs(cut - floor)[np.abs(x) < 20e-3].max() < WITHIN


@pytest.mark.parametrize("depth", [1.0e-3, 4.5e-3])
@pytest.mark.parametrize("radius", [10e-3, 31.5e-3])
def test_a_disc_leaves_a_ramp_before_a_wall(radius, depth):
    """Length sqrt(d (2R - d)); the ramp is the rim of the disc that touches the corner."""
    x = grid(4 * radius + 5e-3)
    corner = float(x[np.searchsorted(x, 0.0)])
    floor = np.where(x >= corner, depth, 0.0)
    length = np.sqrt(depth * (2 * radius - depth))
    before = corner - x
    rim = radius - np.sqrt(np.maximum(radius**2 - (before - length) ** 2, 0.0))
    expected = np.where(before < length, rim, 0.0)
    way, centre, cut = disc_floor(x, floor, radius)
    here = (before >= 0.0) & (before < 2 * radius)
    assert np.abs(cut - expected)[here].max() < WITHIN
    # and the way has its turn where the disc leaves the floor
    on_floor = way[centre < radius + 1e-9]
    assert corner - on_floor[on_floor < corner].max() == pytest.approx(length, abs=STEP / 64)


def test_an_end_mill_lies_across_a_waist():
    """Its end touches at both corners: w^2/(8 rho) of copper in the middle."""
    rho, width = 6.46e-3, 0.8e-3
    x = np.arange(-5e-3, 5e-3, width / 16)
    x -= x[np.argmin(np.abs(x))]
    floor = rho - np.sqrt(rho**2 - x**2)
    _, cut = flat_floor(floor, float(x[1] - x[0]), width)
    middle = np.argmin(np.abs(x))
    sagitta = rho - np.sqrt(rho**2 - (width / 2) ** 2)
    assert cut[middle] - floor[middle] == pytest.approx(sagitta, abs=1e-12)
    assert sagitta == pytest.approx(width**2 / (8 * rho), rel=1e-3)


def test_wall_along_the_normals_of_a_cone():
    """A floor parallel to a cone of 30 degrees, 1.3 mm off it."""
    x, angle = np.linspace(0.0, 10e-3, 41), np.pi / 6
    r = 20e-3 - np.tan(angle) * x
    axis = np.linspace(-5e-3, 15e-3, 400)
    cut = 20e-3 - np.tan(angle) * axis + 1.3e-3 / np.cos(angle)
    least, most = np.full(41, 0.8e-3), np.full(41, 2.8e-3)
    found = wall_left(x, r, np.full(41, -angle), least, most, axis, cut)
    assert found == pytest.approx(np.full(41, 1.3e-3), abs=1e-9)


def test_the_floor_of_a_contour():
    """Round the throat the wanted floor is a circle, the wall's thickness smaller."""
    shape = ContourShape(
        contraction_ratio=6.0, area_ratio=5.0, throat_diameter=38e-3, barrel_length=90e-3
    )
    contour = build_contour(shape)
    span = contour.x_injector, contour.x_exit
    wall, depth = Profile.constant(0.8e-3), Profile.constant(2e-3)
    m = meridian(contour, wall, depth, span, 20e-3)
    ahead = (m.x > -10e-3) & (m.x < 0.0)
    circle = 19e-3 + 28.5e-3 - np.sqrt((28.5e-3 - 0.8e-3) ** 2 - m.x[ahead] ** 2)
    assert np.abs(m.floor[ahead] - circle).max() < 0.1e-6
    assert m.x[m.first] == pytest.approx(span[0], abs=1e-12)  # the barrel's wall is radial
    far = m.x < span[0]
    assert m.floor[far] == pytest.approx(np.full(far.sum(), m.floor[m.first]), abs=1e-12)
    cone = np.gradient(m.floor[m.last :], m.step)
    assert cone == pytest.approx(np.full(cone.size, np.tan(np.pi / 12)), rel=1e-6)


def test_a_curve_by_few_points():
    x = np.linspace(-1.0, 1.0, 2001)
    y = x**2
    kept = reduced(x, y, 1e-3)
    assert np.abs(np.interp(x, x[kept], y[kept]) - y).max() <= 1e-3
    # chords of a parabola of length h are off by h^2/4: at least 1/sqrt(1e-3) of them are needed
    assert 2.0 / np.sqrt(4e-3) <= kept.size - 1 <= 2 * 2.0 / np.sqrt(4e-3)
