"""Life laws against what is printed: a textbook example of creep, an alloy's own fatigue tests."""

from __future__ import annotations

from regen.checks import life_laws as laws
from regen.properties.alloys import find
from tests.published.ledger import Check, judge

PRINTED = 5e-3
"""Three digits."""
FOUR_DIGITS = 5e-4


def rupture_checks():
    """Callister, S-590 at 140 MPa: the parameter is 24.0e3 there."""
    hours = float(laws.rupture_time(24.0e3, 1073.0)) / 3600.0
    series = "S-590 at 140 MPa: time to rupture by the Larson-Miller parameter"
    yield Check("callister_rupture", series, "1073 K", 233.0, hours, PRINTED, "three digits", "h")


def fatigue_checks():
    """The power law through the tests of Cu-3Ag-0.5Zr; its numbers are of another least squares."""
    tests = find("Cu-Ag-Zr", "solution-annealed-aged").fatigue(811.15)
    whole = laws.fit_power_law(tests.strain_range, tests.cycles)
    at_one_percent = float(whole.cycles(0.01))
    series = "Cu-3Ag-0.5Zr at 811 K: power law through seven tests"
    source, why = "power_law_fit", "four digits"
    yield Check(source, series, "cycles at 1 %", 1559.0, at_one_percent, FOUR_DIGITS, why, "cycles")
    yield Check(source, series, "exponent", -2.154, whole.exponent, FOUR_DIGITS, why)
    yield Check(source, series, "largest scatter", 1.33, whole.scatter, PRINTED, "three digits")


def test_rupture_of_a_textbook():
    judge(rupture_checks())


def test_six_tests_tell_the_seventh_within_a_factor_of_two():
    tests = find("Cu-Ag-Zr", "solution-annealed-aged").fatigue(811.15)
    six = tests.strain_range != 0.02
    told = laws.fit_power_law(tests.strain_range[six], tests.cycles[six]).cycles(0.02)
    assert 331.0 / 2.0 < told < 331.0 * 2.0


def test_fatigue_tests_and_their_law():
    judge(fatigue_checks())
