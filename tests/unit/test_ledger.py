"""The judge of the published checks fails when it should."""

from __future__ import annotations

import pytest

from tests.published.ledger import Check, Window, judge


def check(ours, tolerance=0.01, theirs=200.0, **more):
    return Check("naca1135", "Mach", "a point", theirs, ours, tolerance, "digits", **more)


def window(ours):
    return Window("wall_flux_record", "flux", "a case", 10.0, 160.0, ours, "seen", "MW/m2")


def test_records_within_their_tolerance_pass():
    judge([check(201.9), check(198.1), check(200.0, 0.0), window(10.0), window(160.0)])
    judge([check(-2.01, theirs=-2.0), check(0.2, 0.3, theirs=0.0, absolute=True)])


@pytest.mark.parametrize(
    "record",
    [
        check(202.1),
        check(197.9),
        check(float("nan")),
        check(-2.03, theirs=-2.0),
        check(0.4, 0.3, theirs=0.0, absolute=True),
        window(9.9),
        window(161.0),
        window(float("nan")),
    ],
    ids=str,
)
def test_records_out_of_their_tolerance_fail(record):
    with pytest.raises(AssertionError, match="a point|a case"):
        judge([check(200.0), record])


def test_nothing_compared_fails():
    with pytest.raises(AssertionError, match="nothing was compared"):
        judge([])


def test_the_mark_of_the_source_holds_unless_the_number_has_its_own():
    assert check(200.0).mark == "memory-high"
    assert check(200.0, own_mark="computed").mark == "computed"
