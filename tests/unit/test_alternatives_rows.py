"""Alternatives made up by hand: what file, page, terminal and figure say of them."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import pytest

from regen.case.read import load_case
from regen.output import alternatives as output
from regen.output.figures.alternatives import processes_figure
from regen.result import Finding
from regen.studies.alternatives.study import Alternatives, Row
from tests.helpers.html_rows import row
from tests.helpers.places import CASES
from tests.helpers.rows import SUMMARY, csv_rows, shown_rows


@pytest.fixture
def compared(solved):
    life = (
        Finding("life", "life_conservative", "t", 123.4, "firings", "common_practice", note="n"),
        Finding("life", "life_optimistic", "t", 4567.0, "firings", "common_practice"),
    )
    plan = SimpleNamespace(
        on_time=245.3 * 3600,
        calendar_time=341.3 * 3600,
        calendar_range=(51.1 * 86400, 204.4 * 86400),
    )
    case = load_case(CASES / "a-methane.toml")
    result = dataclasses.replace(solved, findings=life)
    first = Row("as the case", "electroformed", "as the case", {}, case, result, plan=plan)
    return Alternatives("Linnet", (first,))


def test_one_row_as_shown(compared):
    (shown,) = shown_rows(output.shown_table(compared))
    assert shown == {
        "": "as the case",
        "process": "electroformed",
        "hot wall, K": "748",
        "worst channel, K": "903",
        "pressure drop, bar": "19.3",
        "least nominal margin": "coolant Mach number +4 %",
        "life, firings": "123 (4567)",
        "mass, kg": "3.46",
        "hours": "245",
        "verdict": "at risk",
    }
    assert (
        "245 h with current, 341 h with all turnings; a calendar of 51 to 204 days is usual"
        in output.notes(compared.rows[0])
    )
    page = output.comparison_page(compared, compared.rows[0].case, "no figure")
    assert row(page, "as the case") == list(shown.values())


def test_one_row_of_the_file(compared):
    (found,) = csv_rows(output.table(compared))
    numbers = {
        **{name: SUMMARY[name] for name in output.SUMMARY},
        "T_wall_hot_max_worst_K": 903.4,
        "life_conservative_firings": 123.4,
        "life_optimistic_firings": 4567.0,
        "plating_hours": 245.3,
        "plating_calendar_hours": 341.3,
    }
    assert {name: float(found[name]) for name in numbers} == pytest.approx(numbers)
    assert (found["name"], found["route"], found["status"]) == (
        *("as the case", "electroformed"),
        "solved",
    )


def test_the_figure(compared):
    hot, drop = processes_figure(compared).axes
    points = {
        line.get_markerfacecolor(): line.get_xdata()[0]
        for line in hot.get_lines()
        if len(line.get_xdata()) == 1 and line.get_marker() == "o"
    }
    assert points.pop("white") == 903.4
    assert list(points.values()) == [748.3]
    (limit,) = [
        one.get_xdata()[0]
        for one in hot.get_lines()
        if one.get_marker() == "|" and len(one.get_xdata())
    ]
    assert limit == 800.0
    (bar,) = drop.patches
    assert bar.get_width() == pytest.approx(19.27)
    assert drop.get_xlabel() == "coolant pressure drop [bar]"
