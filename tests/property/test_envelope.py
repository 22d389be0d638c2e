"""What holds for any floor and any disc."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from regen.shop.cutters.floor import disc_floor, flat_floor

STEP = 0.1e-3
BELOW = 1e-12
"""Rounding of sums of heights [m]."""

GRID_ERROR = 1e-6
"""Of a grid of 0.1 mm with discs of 10 mm and more: its square over eight radii, and turns."""


@st.composite
def floors(draw):
    """Return smooth floors with steps of up to 3 mm, on 60 mm."""
    x = np.arange(0.0, 60e-3, STEP)
    floor = np.zeros(x.size)
    for _ in range(draw(st.integers(1, 4))):
        size = draw(st.floats(-3e-3, 3e-3))
        wave = draw(st.floats(5e-3, 60e-3))
        floor += size * np.sin(2 * np.pi * (x / wave + draw(st.floats(0.0, 1.0))))
    if draw(st.booleans()):
        floor += np.where(x > draw(st.floats(10e-3, 50e-3)), draw(st.floats(0.0, 3e-3)), 0.0)
    return x, floor


@settings(max_examples=15, deadline=None)
@given(floors(), st.floats(5e-3, 15e-3), st.floats(1.01, 2.0))
def test_never_below_and_more_with_a_larger_disc(made, radius, larger):
    x, floor = made
    *_, small = disc_floor(x, floor, radius)
    *_, large = disc_floor(x, floor, larger * radius)
    inner = (x > 2 * larger * radius) & (x < x[-1] - 2 * larger * radius)
    assert np.all(small >= floor)
    assert np.all(large[inner] >= small[inner] - GRID_ERROR)


@settings(max_examples=10, deadline=None)
@given(floors(), st.floats(5e-3, 10e-3))
def test_cutting_again_changes_nothing(made, radius):
    x, floor = made
    *_, once = disc_floor(x, floor, radius)
    *_, twice = disc_floor(x, once, radius)
    inner = (x > 4 * radius) & (x < x[-1] - 4 * radius)
    assert np.all(np.abs(twice - once)[inner] < GRID_ERROR)


@settings(max_examples=15, deadline=None)
@given(floors(), st.floats(0.3e-3, 3e-3))
def test_an_end_mill_is_never_below_either(made, width):
    x, floor = made
    _, cut = flat_floor(floor, STEP, width)
    assert np.all(cut >= floor - BELOW)


@settings(max_examples=10, deadline=None)
@given(floors())
def test_a_disc_of_nothing_leaves_the_wanted_floor(made):
    x, floor = made
    *_, cut = disc_floor(x, floor, STEP / 2)
    assert cut == pytest.approx(floor, abs=BELOW)
