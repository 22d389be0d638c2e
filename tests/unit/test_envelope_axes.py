"""Ranges of an envelope's axes: what is read, what joins, and what is refused in which words."""

from __future__ import annotations

import pytest

from regen.case.read import load_case
from regen.errors import CaseError
from regen.studies.envelope.axes import KINDS, MOST_POINTS, axes_of
from tests.helpers.places import CASES

PSI = 6894.757293168361
"""Pascals in a pound-force per square inch, by definition."""


@pytest.fixture(scope="module")
def design():
    return load_case(CASES / "a-methane.toml").design


def test_without_a_range_pressure_and_mixture_ratio_go_around_the_case(design):
    pressure, ratio = axes_of({}, design)
    assert pressure.kind.name == "chamber_pressure"
    assert pressure.values == pytest.approx([12e5, 15e5, 18e5, 21e5, 24e5, 27e5, 30e5, 33e5])
    assert ratio.values == pytest.approx([2.4, 2.6, 2.8, 3.0, 3.2, 3.4, 3.6])
    # the case's own values to the last bit: its point is solved once, and is that of the case
    assert design.chamber.pressure in pressure.values
    assert design.propellants.mixture_ratio in ratio.values


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("12:33:8:bar", (12e5, 33e5)),
        ("12 bar:33 bar:8", (12e5, 33e5)),
        ("1.2:3.3:8:MPa", (12e5, 33e5)),
        ("200:400:8:psi", (200 * PSI, 400 * PSI)),
        ("200 psi gauge:400 psi gauge:8", (200 * PSI + 101325.0, 400 * PSI + 101325.0)),
        (" 50 % : 100 % : 8 ", (15e5, 30e5)),
        ("12 bar:110%:8", (12e5, 33e5)),
    ],
)
def test_a_range_of_pressure(design, text, ends):
    axis = axes_of({"chamber_pressure": text}, design)[0]
    assert len(axis.values) == 8
    assert (axis.values[0], axis.values[-1]) == pytest.approx(ends)
    steps = [b - a for a, b in zip(axis.values, axis.values[1:], strict=False)]
    assert steps == pytest.approx([steps[0]] * 7)


def test_temperatures_have_their_own_zero(design):
    axis = axes_of({"inlet_temperature": "-160:-140:3:degC"}, design)[1]
    assert axis.values == pytest.approx([113.15, 123.15, 133.15])


def test_one_range_is_joined_by_the_first_that_is_missing(design):
    names = [a.kind.name for a in axes_of({"inlet_pressure": "60:90:3:bar"}, design)]
    assert names == ["chamber_pressure", "inlet_pressure"]
    names = [a.kind.name for a in axes_of({"chamber_pressure": "50%:100%:3"}, design)]
    assert names == ["chamber_pressure", "mixture_ratio"]


def test_two_ranges_are_the_axes_whatever_they_are(design):
    given = {"inlet_pressure": "60:90:3:bar", "inlet_temperature": "110:150:3:K"}
    names = [a.kind.name for a in axes_of(given, design)]
    assert names == ["inlet_temperature", "inlet_pressure"]


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("chamber_pressure", "12:33:8", ("the unit is missing", "12:33:8:bar")),
        ("chamber_pressure", "33:12:8:bar", ("start is above stop", "write 12:33:8:bar")),
        ("chamber_pressure", "12:12:8:bar", ("the step is zero",)),
        ("chamber_pressure", "12:33:1:bar", ("1 values make no range", "--set chamber.pressure")),
        ("chamber_pressure", "12:33:0:bar", ("0 values make no range", "from 2 to 100")),
        ("chamber_pressure", "12:33:101:bar", ("101 values make no range", "from 2 to 100")),
        ("chamber_pressure", "12:33:2.5:bar", ('"2.5" is not a number of values',)),
        ("chamber_pressure", "12:33", ("not a range", "START:STOP:N:UNIT")),
        ("chamber_pressure", "", ("not a range",)),
        ("chamber_pressure", "12:33:bar:8", ('"bar" is not a number of values', "the order is")),
        ("chamber_pressure", "12:33:8:mm", ('"mm" is a unit of length',)),
        ("chamber_pressure", "1:33:8:bar", ("out of range", "from 0.2 MPa to 40 MPa")),
        ("chamber_pressure", "1%:110%:8", ("out of range", "from 0.2 MPa to 40 MPa")),
        ("chamber_pressure", "nan:33:8:bar", ("finite",)),
        ("chamber_pressure", "40%:110%:8:bar", ("per cent has no unit",)),
        ("mixture_ratio", "2.4:3.6:7:bar", ("propellants.mixture_ratio has no unit",)),
        ("mixture_ratio", "2.4:99:7", ("out of range", "from 0.05 to 60")),
        ("mixture_ratio", "two:3:7", ('"two" is not a number',)),
        ("inlet_temperature", "90%:110%:3", ("per cent of a temperature",)),
        ("inlet_pressure", "90:500:3:bar", ("out of range", "400 bar")),
    ],
)
def test_a_range_that_is_refused_says_why_and_what_is_accepted(design, name, text, said):
    with pytest.raises(CaseError) as caught:
        axes_of({name: text}, design)
    message = str(caught.value)
    (kind,) = (kind for kind in KINDS if kind.name == name)
    for words in (kind.option, f'"{text}"', "Accepted: START:STOP:N", *said):
        assert words in message


def test_all_that_is_wrong_is_said_at_once(design):
    with pytest.raises(CaseError) as caught:
        axes_of({"chamber_pressure": "12:33:8", "mixture_ratio": "3:2:4"}, design)
    assert "2 problems" in str(caught.value)


def test_per_cent_of_what_the_case_does_not_give(design):
    from dataclasses import replace

    feed = replace(design.coolant, inlet_pressure=None, outlet_pressure=70e5)
    with pytest.raises(CaseError, match=r"the case gives no coolant.inlet_pressure"):
        axes_of({"inlet_pressure": "50%:100%:3"}, replace(design, coolant=feed))


def test_too_many_points_are_refused(design):
    given = {"chamber_pressure": "12:33:100:bar", "mixture_ratio": "2.4:3.6:60"}
    with pytest.raises(CaseError, match=f"6000 points.*at most {MOST_POINTS}"):
        axes_of(given, design)
