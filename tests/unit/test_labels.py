"""What several outputs say alike: margins, limits, reasons, lives."""

from __future__ import annotations

import dataclasses

import pytest

from regen.output import labels
from regen.result import Column, Margin
from tests.helpers.rows import columns


def made(**changes) -> Margin:
    whole = {"name": "hot_wall_temperature", "text": "t", "unit": "K", "limit": 800.0}
    of_columns = columns(changes.pop("nominal", 0.05), -0.26, None)
    rest = {"kind": "max", "x_m": -0.005, "verdict": "at risk", "source": "common_practice"}
    return Margin(**(whole | {"columns": of_columns} | rest | changes))


@pytest.mark.parametrize(
    ("margin", "expected"),
    [
        (None, "not evaluated"),
        (0.046, "+5 %"),
        (-0.26, "-26 %"),
        (5.56, "+556 %"),
        (0.0, "+0 %"),
        (-0.004, "-0.4 %"),
        (-0.0001, "-0.1 %"),
        (0.0001, "+0.1 %"),
    ],
)
def test_a_margin_never_rounds_to_the_other_side(margin, expected):
    assert labels.percent(margin) == expected


def test_limit_and_value_are_in_shown_units():
    assert labels.limit_text(made()) == "at most 800 K"
    assert labels.nominal_text(made()) == "760 K"
    stress = made(name="ligament_stress", unit="Pa", limit=204.1e6, nominal=0.5)
    assert (labels.limit_text(stress), labels.nominal_text(stress)) == (
        "at most 204.1 MPa",
        "102.0 MPa",
    )
    left = made(name="injector_pressure", unit="Pa", kind="min", limit=6e5, nominal=0.5)
    assert (labels.limit_text(left), labels.nominal_text(left)) == ("at least 6.0 bar", "9.0 bar")
    assert labels.limit_text(made(unit="-", limit=0.3)) == "at most 0.30"


def test_an_absent_limit_differs_from_one_that_does_not_apply():
    assert labels.limit_text(made(limit=None, nominal=None)) == "not known"
    assert labels.limit_text(made(limit=None, nominal=1.0)) == "does not apply"
    assert labels.nominal_text(made(limit=None)) == "-"


def test_reasons_name_what_is_exceeded_and_what_is_unknown(drawn_result):
    why = labels.reasons(drawn_result)
    assert why == [
        "at risk: hot wall temperature, at most 800 K: nominal +5 %; band edge -26 % "
        "(exceeded); worst channel -14 % (exceeded)",
        "open: ligament stress, at most 204.0 MPa: nominal +96 %; band edge unknown; worst "
        "channel unknown",
    ]


def test_reasons_go_from_the_worst_and_an_open_row_names_the_key_that_closes_it(drawn_result):
    failing = made(name="burnout", nominal=-0.1, verdict="fail")
    unknown = made(name="melting", nominal=None, verdict="open", closes="limits.T_wall_hot")
    at_risk = drawn_result.margins[0]
    result = dataclasses.replace(drawn_result, margins=(unknown, at_risk, failing))
    reasons = labels.reasons(result)
    assert [line.split(":")[0] for line in reasons] == ["fail", "at risk", "open"]
    assert reasons[-1].endswith("give limits.T_wall_hot")
    assert labels.counts(result) == "1 fail, 1 at risk, 1 open of 3 limits"


def test_a_column_is_starred_where_it_indicates_and_a_question_mark_where_it_is_not_known():
    marked = columns(0.2, None, -0.1, indicative=("nominal", "worst_channel"))
    found = made(columns=marked)
    texts = [labels.column_text(found, name) for name in marked]
    assert texts == ["+20 %*", "?", "-10 %*"]
    alone = made(columns={"nominal": Column("broken")})
    assert [labels.column_text(alone, name) for name in marked] == ["exceeded", "-", "-"]


def test_a_pass_names_its_tightest_margin(drawn_result):
    good = [m for m in drawn_result.margins if m.verdict == "pass"]
    result = dataclasses.replace(drawn_result, margins=tuple(good), verdict="pass")
    (why,) = labels.reasons(result)
    assert why.startswith("tightest: pass: coolant Mach number, at most 0.30: nominal +9 %")


def test_a_life_is_the_conservative_one_and_the_optimistic_in_brackets():
    assert labels.firings(23.4, 1470.4) == "23 (1470)"
    assert labels.firings(2.34, 14.7) == "2.3 (15)"
    assert labels.firings(None, 1470.0) == "- (1470)"
    assert labels.firings(None, None) == "-"
