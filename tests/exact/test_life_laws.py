"""Life laws against roots found another way, and the arithmetic of creep against exact cases."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest

from regen.checks.life import laws

LOG_N = 1e-9
"""What the law's root is promised to, in the logarithm of cycles."""

ROUNDING = 1e-12
"""Closed forms in a handful of operations."""


def bisected(elastic, a, plastic, b, de):
    """Return log N of one law, by halving in plain Python."""
    low, high = -60.0, 400.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        range_there = elastic * math.exp(a * middle) + plastic * math.exp(b * middle)
        low, high = (middle, high) if range_there > de else (low, middle)
    return 0.5 * (low + high)


@pytest.mark.parametrize(
    ("uts", "E", "D", "de"),
    [*product((60e6, 500e6), (90e9, 130e9), (0.05, 2.3), (1e-3, 0.02, 0.3))],
)
def test_universal_slopes_are_solved_for_the_cycles(uts, E, D, de):
    expected = bisected(3.5 * uts / E, -0.12, D**0.6, -0.6, de)
    found = laws.universal_slopes(uts, E, D).cycles(de)
    assert math.log(found) == pytest.approx(expected, abs=LOG_N)


def test_the_modified_slopes_hold_the_amplitude_over_reversals():
    uts, E, D, N = 300e6, 110e9, 1.1, 850.0
    amplitude = 0.623 * (uts / E) ** 0.832 * (2 * N) ** -0.09
    amplitude += 0.0196 * D**0.155 * (uts / E) ** -0.53 * (2 * N) ** -0.56
    law = laws.modified_universal_slopes(uts, E, D)
    assert law.strain_range(N) == pytest.approx(2 * amplitude, rel=ROUNDING)
    assert math.log(law.cycles(2 * amplitude)) == pytest.approx(math.log(N), abs=LOG_N)


def test_own_constants_hold_the_amplitude_over_reversals():
    amplitude = (600e6 / 120e9) * 400.0**-0.09 + 0.45 * 400.0**-0.6
    law = laws.coffin_manson_basquin(600e6, 120e9, -0.09, 0.45, -0.6)
    assert math.log(law.cycles(2 * amplitude)) == pytest.approx(math.log(200.0), abs=LOG_N)


def test_many_stations_are_solved_at_once_as_one_by_one():
    uts, de = np.array([[80e6], [400e6]]), np.array([1e-4, 5e-3, 0.05])
    together = laws.universal_slopes(uts, 100e9, 1.0).cycles(de)
    for i, j in np.ndindex(2, 3):
        alone = laws.universal_slopes(float(uts[i, 0]), 100e9, 1.0).cycles(de[j])
        assert together[i, j] == pytest.approx(float(alone), rel=ROUNDING)


def test_no_strain_lives_for_ever_and_the_unknown_stays_unknown():
    law = laws.universal_slopes(np.array([200e6, np.nan, 200e6]), 100e9, 1.0)
    found = law.cycles(np.array([0.0, 0.01, np.nan]))
    assert found[0] == np.inf
    assert np.isnan(found[1:]).all()


def test_ductility_of_a_bar_that_necks_to_a_third():
    assert laws.true_ductility(2.0 / 3.0) == pytest.approx(math.log(3.0), rel=ROUNDING)


def test_a_power_law_goes_through_points_that_lie_on_one():
    de = np.array([0.005, 0.01, 0.03])
    law = laws.fit_power_law(de, 0.08 * de**-2.1)
    assert law.coefficient == pytest.approx(0.08, rel=1e-10)
    assert law.exponent == pytest.approx(-2.1, rel=1e-10)
    assert law.scatter == pytest.approx(1.0, rel=1e-10)
    assert law.cycles(0.02) == pytest.approx(0.08 * 0.02**-2.1, rel=1e-10)


@pytest.mark.parametrize(
    ("de", "N", "said"), [((0.01, 0.01), (90, 100), "two"), ((0.01, 0.02), (90, 100), "longer")]
)
def test_points_that_make_no_law_are_refused(de, N, said):
    with pytest.raises(ValueError, match=said):
        laws.fit_power_law(de, N)


def test_creep_counts_above_half_the_melting_temperature():
    assert laws.in_creep_range(np.array([677.9, 678.1]), 1356.0).tolist() == [False, True]


def test_the_parameter_gives_back_its_time():
    P = laws.larson_miller(900.0, 360_000.0)  # 100 h: T (20 + 2)
    assert P == pytest.approx(900.0 * 22.0, rel=ROUNDING)
    assert laws.rupture_time(P, 900.0) == pytest.approx(360_000.0, rel=1e-11)
