"""Life laws against what is printed: a textbook example of creep, an alloy's own fatigue tests."""

from __future__ import annotations

from pathlib import Path

from regen.checks.life import laws
from regen.metals.alloys import find
from tests.published.ledger import Check, Window, judge

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
    tests = find("Cu-Ag-Zr", "solution-annealed-aged").fatigue_tests()[0]
    whole = laws.fit_power_law(tests.strain_range, tests.cycles)
    at_one_percent = float(whole.cycles(0.01))
    series = "Cu-3Ag-0.5Zr at 811 K: power law through seven tests"
    source, why = "power_law_fit", "four digits"
    yield Check(source, series, "cycles at 1 %", 1559.0, at_one_percent, FOUR_DIGITS, why, "cycles")
    yield Check(source, series, "exponent", -2.154, whole.exponent, FOUR_DIGITS, why)
    yield Check(source, series, "largest scatter", 1.33, whole.scatter, PRINTED, "three digits")


FAILED, STRAIN = 39.0, 0.0246
"""Firing in which the chamber failed, and its strain range there."""
DUCTILITIES = (0.4, 0.6, 0.8)
"""Reduction of area of hot soft copper, assumed: the source's was not seen."""
MOST_DUCTILE = 0.9
FACTOR = 3.0
"""What no computed life is better than."""


def by_slopes(reduction_of_area):
    """Return the cycles of universal slopes; 110 MPa and 94.4 GPa of copper at 800 K.

    The strength is assumed; twice as much is 15 % more cycles.
    """
    law = laws.universal_slopes(110e6, 94.4e9, laws.true_ductility(reduction_of_area))
    return float(law.cycles(STRAIN))


def chamber_windows():
    """A chamber that failed, by what judges: a tenth of universal slopes in the creep range."""
    series = "chamber that failed in firing 39: a tenth of the law"
    why = "a factor of three; ductility assumed"
    for area in DUCTILITIES:
        tenth = laws.TEN_PERCENT * by_slopes(area)
        point = f"reduction of area {100 * area:.0f} %"
        source, span = "nasa_cr_134841", (FAILED / FACTOR, FAILED * FACTOR)
        yield Window(source, series, point, *span, tenth, why, "firings")


def test_a_failed_chamber():
    judge(chamber_windows())


def test_the_page_says_by_how_much_the_bare_law_misses_the_chamber():
    low, high = (by_slopes(area) / FAILED for area in (DUCTILITIES[0], MOST_DUCTILE))
    page = (Path(__file__).parent / "page.md").read_text(encoding="utf-8")
    assert f"{low:.0f} to {high:.0f} times that" in page
    assert f"by {laws.TEN_PERCENT * high:.1f}" in page


def test_rupture_of_a_textbook():
    judge(rupture_checks())


def test_six_tests_tell_the_seventh_within_a_factor_of_two():
    tests = find("Cu-Ag-Zr", "solution-annealed-aged").fatigue_tests()[0]
    six = tests.strain_range != 0.02
    told = laws.fit_power_law(tests.strain_range[six], tests.cycles[six]).cycles(0.02)
    assert 331.0 / 2.0 < told < 331.0 * 2.0


def test_fatigue_tests_and_their_law():
    judge(fatigue_checks())
