"""The verdict of a row, over every combination of what its columns can say."""

from itertools import product

import numpy as np
import pytest

from regen.checks import verdict as v
from regen.checks.limits import LIMITS
from regen.checks.runs import Compared
from regen.physics import status as st

STATES = ("kept", "kept*", "broken", "broken*", "unknown")
"""A star is "indicative"; what is unknown indicates nothing."""

EXPECTED = {
    # nominal: verdict by the worse of the two other columns, in the order of STATES
    "kept": ("pass", "open", "at risk", "open", "open"),
    "kept*": ("open", "open", "at risk", "open", "open"),
    "broken": ("fail",) * 5,
    "broken*": ("open",) * 5,
    "unknown": ("open",) * 5,
}
"""Worked by hand from the contract: nominal broken, fail; nominal kept and any other broken, at
risk; else open where anything is unknown or indicative; else pass."""

WEIGHT = {"broken": 3, "unknown": 2, "broken*": 1, "kept*": 1, "kept": 0}
"""Which of two columns decides beside a nominal that is kept: broken before what is open."""


def columns(*states):
    state = [v.STATES.index(one.removesuffix("*")) for one in states]
    star = [one.endswith("*") for one in states]
    nothing = np.full(len(states), np.nan)
    return v.Columns(np.array(state), np.array(star), nothing, np.full(len(states), -1))


@pytest.mark.parametrize(("nominal", "band", "worst"), list(product(STATES, repeat=3)))
def test_every_combination_of_three_columns(nominal, band, worst):
    heavier = max(band, worst, key=lambda one: WEIGHT[one])
    expected = EXPECTED[nominal][STATES.index(heavier)]
    found = v.row(columns(nominal), [columns(band), columns(worst)])
    assert v.VERDICTS[int(found[0])] == expected


def test_many_rows_at_once_are_as_each_alone():
    every = list(product(STATES, repeat=3))
    nominal, *others = (columns(*of_all) for of_all in zip(*every, strict=True))
    together = v.row(nominal, others)
    alone = [v.row(columns(a), [columns(b), columns(c)])[0] for a, b, c in every]
    assert together.tolist() == alone


def test_a_column_that_was_not_asked_for_counts_for_nothing():
    none = v.constant(v.NOT_ASKED, (1,))
    assert v.VERDICTS[int(v.row(columns("kept"), [none, columns("kept")])[0])] == "pass"
    assert v.VERDICTS[int(v.row(columns("kept"), [])[0])] == "pass"


@pytest.mark.parametrize(
    ("verdicts", "expected"),
    [
        (["pass", "at risk", "open"], "at risk"),
        (["open", "pass"], "open"),
        (["fail", "at risk"], "fail"),
        (["pass", "pass", None], "pass"),
        ([None], "open"),
        ([], "open"),
    ],
)
def test_overall(verdicts, expected):
    assert v.overall(verdicts) == expected


def judged(value, limit=1.0, indicative=None):
    value = np.array(value)
    compared = Compared(value, np.full(value.shape, limit), indicative=indicative)
    return v.column(v.relative(compared, "max"), indicative)


def test_a_station_broken_beyond_doubt_decides_whatever_is_not_known():
    found = judged([0.5, 1.2, np.nan])
    assert (v.STATES[int(found.state)], int(found.at)) == ("broken", 1)
    assert found.margin == pytest.approx(-0.2)
    assert v.STATES[int(judged([0.5, 0.9, np.nan]).state)] == "unknown"
    assert np.isnan(judged([0.5, 0.9, np.nan]).margin)


def test_an_indicative_station_makes_its_column_so_unless_another_is_broken_beyond_doubt():
    hot = np.array([False, False, True])
    kept = judged([0.5, 0.9, 0.7], indicative=hot)
    assert (v.STATES[int(kept.state)], bool(kept.indicative)) == ("kept", True)
    assert kept.margin == pytest.approx(0.1)
    doubtful = judged([0.5, 0.9, 1.7], indicative=hot)
    assert (v.STATES[int(doubtful.state)], bool(doubtful.indicative)) == ("broken", True)
    surely = judged([0.5, 1.1, 1.7], indicative=hot)
    assert (v.STATES[int(surely.state)], bool(surely.indicative)) == ("broken", False)
    assert surely.margin == pytest.approx(-0.1)  # of what is beyond doubt, not of what indicates


def test_a_column_of_several_runs_takes_what_decides():
    corners = [judged([0.5, 0.9]), judged([0.5, 1.3]), judged([0.5, np.nan])]
    found = v.together(corners)
    assert (v.STATES[int(found.state)], int(found.at)) == ("broken", 1)
    assert found.margin == pytest.approx(-0.3)
    assert v.STATES[int(v.together(corners[::2]).state)] == "unknown"
    assert v.together(corners[:1]).margin == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("code", "row", "expected"),
    [
        (st.COOLANT_RANGE, "hot_wall_temperature", "broken"),
        (st.COOLANT_RANGE, "coolant_temperature", "broken"),
        (st.COOLANT_RANGE, "coolant_mach", None),
        (st.BOILED, "coolant_temperature", "broken"),
        (st.BOILED, "burnout", "broken"),
        (st.BOILED, "land_tension", None),
        (st.CHOKED, "coolant_mach", "broken"),
        (st.CHOKED, "injector_pressure", "broken"),
        (st.CHOKED, "hot_wall_temperature", None),
        (st.PRESSURE_LOST, "injector_pressure", "broken"),
        (st.NOT_CONVERGED, "hot_wall_temperature", "unknown"),
        (st.NOT_CONVERGED, "coolant_mach", "unknown"),
        (st.NO_WALL_ROOT, "coolant_temperature", "unknown"),
        (st.NOT_CONVERGED, "jacket_stress", None),
    ],
)
def test_a_run_that_stopped_bears_on_the_rows_it_belongs_to(code, row, expected):
    found = v.stopped(LIMITS[row], code)
    assert (None if found == v.NOT_ASKED else v.STATES[found]) == expected


def test_every_way_to_stop_bears_on_some_row():
    for code in set(st.TEXTS) - {st.OK}:
        assert any(v.stopped(one, code) is not None for one in LIMITS.values())
