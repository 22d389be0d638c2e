"""Remaining wall of the demo chamber's slots, against pixels that a disc cuts out along its way."""

from __future__ import annotations

import numpy as np
import pytest

from regen.case.read import load_case
from regen.geometry.circuits import lay_paths
from regen.geometry.contour import build_contour
from regen.shop.cutters.floor import reduced
from regen.shop.cutters.plan import plan_cutting
from tests.helpers.places import CASES
from tests.helpers.raster import cut_pixels

CASE = CASES / "a-methane.toml"
CLAIM = 0.02e-3
"""What a shop may hold the claim to [m]."""

PIXEL = 0.01e-3
OF_PIXELS = 1.0 * PIXEL
"""A pixel is cut by its middle: its edge is off by up to 0.7 of it, in this and that direction."""


def slots(*overrides):
    design = load_case(CASE, ("channels.width=0.8 mm", *overrides)).design
    contour = build_contour(design.contour)
    return plan_cutting(design, contour, lay_paths(design, contour)).circuits[0]


@pytest.fixture(scope="module")
def large():
    """The chamber cut by a saw of 63 mm that may not run out at the injector."""
    saw = 'shop.cutters=[{kind="saw",width="0.8 mm",diameter="63 mm",depth="5 mm"}]'
    return slots(saw, "shop.run_out=nozzle")


@pytest.mark.parametrize(
    ("window", "least"),
    [
        ((-18e-3, 10e-3, 18.5e-3, 28.5e-3), 0.7e-3),  # the throat, bridged
        ((-155e-3, -142e-3, 46.4e-3, 49.1e-3), 1.0e-3),  # the ramp
        ((78e-3, 89e-3, 39.5e-3, 46e-3), -1.0),  # the open end
    ],
)
def test_the_wall_that_pixels_leave(large, window, least):
    (cut,) = large.tool_paths
    raster = cut_pixels(cut.x, cut.r, 31.5e-3, window, PIXEL)
    here = (large.slot.x > window[0] + 2e-3) & (large.slot.x < window[1] - 2e-3)
    here &= large.depth > 0.05e-3
    at = np.flatnonzero(here)[::5]
    left = raster.wall(large.slot.x[at], large.slot.r[at], large.slot.slope[at], 4e-3)
    assert np.abs(left - large.wall[at]).max() < OF_PIXELS < CLAIM
    assert large.extra[at].max() > least


def test_a_table_of_few_rows_does_as_well(large):
    (cut,) = large.tool_paths
    rows = reduced(cut.x, cut.r, 2e-6)
    assert rows.size < 120
    raster = cut_pixels(cut.x[rows], cut.r[rows], 31.5e-3, (-18e-3, 10e-3, 18.5e-3, 28.5e-3))
    at = np.flatnonzero(np.abs(large.slot.x + 4e-3) < 12e-3)[::5]
    left = raster.wall(large.slot.x[at], large.slot.r[at], large.slot.slope[at], 4e-3)
    assert np.abs(left - large.wall[at]).max() < CLAIM


def test_ramp_and_run_out_lengths(large):
    """sqrt(d (2R - d)) with the depth at each end; the floor of the barrel is straight."""
    ramp, beyond = large.tool_paths[0].ramps
    assert ramp.inside
    assert ramp.length == pytest.approx(np.sqrt(1.6e-3 * (63e-3 - 1.6e-3)), abs=5e-6)
    assert not beyond.inside
    assert beyond.length == pytest.approx(np.sqrt(2e-3 * (63e-3 - 2e-3)), rel=1e-9)


def test_copper_left_is_wall_and_the_blank_stays(large):
    assert large.wall + large.depth == pytest.approx(large.slot.wall + large.slot.depth)
    assert np.all(large.extra >= 0.0)


def test_the_bridge_lies_between_those_of_its_two_arcs(large):
    """The throat turns by 30 degrees at 27.7 mm and by 15 degrees at 6.46 mm of floor radius.

    Three supports bound it: the floor contains the same turn on the larger radius alone, and lies
    on or above the sharp corner of both cones, which a disc bridges by R (1/cos 22.5 deg - 1).
    """
    half = np.deg2rad(22.5)
    share = 1.0 / np.cos(half) - 1.0
    assert (31.5e-3 - 27.7e-3) * share < large.bridge[0] < 31.5e-3 * share
