"""Measured slots made up by hand: what file, page, terminal and figure say of them."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import pytest

from regen.case.measured import Sheet
from regen.output.as_built import chamber, headline, lines, sheet_page, table, write
from regen.output.figures.as_built import slots_figure
from regen.studies.as_built.slot_verdict import Margins, SlotVerdict
from regen.studies.as_built.slots import AS_DRAWN, Deviation, MeasuredSlot
from regen.studies.as_built.study import AsBuilt, SlotResult
from tests.helpers.html_rows import row
from tests.helpers.rows import csv_rows

SUMMARY = {
    "flow_over_mean": 0.9631,
    "T_wall_hot_max_K": 731.4,
    "x_T_wall_hot_max_m": -0.0123,
    "T_wall_hot_max_streak_K": 842.6,
    "coolant_temperature_out_K": 415.2,
    "life_conservative_firings": 123.4,
    "life_optimistic_firings": 4567.0,
}


def slot(number, word="use", **more):
    """Return a slot, its sizes off by other amounts at two places."""
    off = {
        "width": Deviation((-0.05, 0.0), (0.011e-3, -0.023e-3)),
        "depth": Deviation((-0.05, 0.0), (0.034e-3, 0.012e-3)),
        "wall": Deviation((-0.05, 0.0), (-0.009e-3, -0.045e-3)),
    }
    given = {
        "measured": MeasuredSlot(number, off, wall_inferred=True) if number else AS_DRAWN,
        "verdict": SlotVerdict(word, "broken under the streak", ("hot_wall_temperature",))
        if word != "use"
        else SlotVerdict(word, ""),
        "outside": (),
        "margins": {
            "hot_wall_temperature": Margins(0.087, -0.053, -0.011),
            "coolant_mach": Margins(0.31, 0.28, -0.09),
            "injector_pressure": Margins(),
        },
    }
    summary = SUMMARY | {name: more.pop(name) for name in SUMMARY if name in more}
    return SlotResult(summary=summary, **(given | more))


@pytest.fixture
def found(drawn_result):
    cool = {
        "hot_wall_temperature": Margins(0.12, 0.07),
        "coolant_mach": Margins(0.105, 0.2),
        "injector_pressure": Margins(),
    }
    return AsBuilt(
        design=drawn_result,
        sheet=Sheet("measured.csv", b"x", (), (), ()),
        count=80,
        drawn=slot(0, flow_over_mean=1.0021, T_wall_hot_max_K=712.0, T_wall_hot_max_streak_K=801.0),
        slots=(
            slot(
                3,
                margins=cool,
                T_wall_hot_max_K=704.0,
                T_wall_hot_max_streak_K=790.0,
                flow_over_mean=1.0102,
            ),
            slot(17, "sleeve", outside=("width", "depth")),
        ),
        flow=0.4738,
        drop=21.34e5,
        drop_drawn=20.61e5,
        flow_at_drop_drawn=0.4667,
        no_life="",
        left_out=(),
        notes=(),
    )


def test_slots_without_a_flow_are_no_slots_as_drawn(found):
    """What was not solved is neither hidden in the chamber's numbers nor taken for them."""
    lost = slot(17, "unknown", flow_over_mean=float("nan"))
    some = chamber(replace(found, slots=(found.slots[0], lost)))
    assert some.endswith("; 1 of the measured slots, whose flow was not found, are taken as drawn")
    assert "21.34 bar between the manifolds as made" in some
    none = chamber(replace(found, slots=(lost,)))
    assert none == "whole chamber: not known, the flow of no measured slot was found"


def test_the_least_margin_is_the_least():
    one = slot(5)
    assert one.least("own") == ("hot_wall_temperature", 0.087)
    assert one.least("streak") == ("hot_wall_temperature", -0.053)
    other = slot(6, margins={"a": Margins(0.5, 0.1), "b": Margins(0.2, 0.3)})
    assert other.least("own") == ("b", 0.2)
    assert other.least("streak") == ("a", 0.1)
    assert slot(7, margins={}).least("own")[0] == ""


def test_one_row_of_the_table(found):
    """The slot to be looked at first is on top; lengths and temperatures in SI."""
    first, second = csv_rows(table(found))
    words = {
        "slot": "17",
        "verdict": "sleeve",
        "why": "broken under the streak",
        "limits": "hot_wall_temperature",
        "out_of_tolerance": "width; depth",
        "wall_inferred": "yes",
        "margin_injector_pressure": "",
        "margin_injector_pressure_streak": "",
        "x_margin_injector_pressure_m": "",
    }
    numbers = {
        # the largest of each size, with its sign
        "width_deviation_max_m": -0.023e-3,
        "depth_deviation_max_m": 0.034e-3,
        "wall_deviation_max_m": -0.045e-3,
        **SUMMARY,
        "margin_hot_wall_temperature": 0.087,
        "margin_hot_wall_temperature_streak": -0.053,
        "x_margin_hot_wall_temperature_m": -0.011,
        "margin_coolant_mach": 0.31,
        "margin_coolant_mach_streak": 0.28,
        "x_margin_coolant_mach_m": -0.09,
    }
    assert set(first) == set(words) | set(numbers)
    assert {name: first[name] for name in words} == words
    assert {name: float(first[name]) for name in numbers} == pytest.approx(numbers)
    assert (second["slot"], second["verdict"]) == ("3", "use")


def test_one_row_of_the_page(found):
    made = sheet_page(found, "no figure")
    head = row(made, "slot")
    said = dict(zip(head, row(made, "17"), strict=True))
    assert said == {
        "slot": "17",
        "verdict": "sleeve",
        "width off, mm": "-0.023",
        "depth off, mm": "+0.034",
        "wall off, mm": "-0.045*",
        "flow / mean": "0.963",
        "hot wall, K": "731",
        "under streak, K": "843",
        "life, firings": "123 (4567)",
        "least margin": "hot wall temperature +9 %",
        "least under streak": "hot wall temperature -5 %",
        "why": "hot wall temperature: broken under the streak; width and depth out of tolerance",
    }
    said = dict(zip(head, row(made, "3"), strict=True))
    assert said["least margin"].endswith("Mach number +10 %")
    assert said["least under streak"] == "hot wall temperature +7 %"
    said = dict(zip(head, row(made, "as drawn"), strict=True))
    assert (said["flow / mean"], said["hot wall, K"], said["under streak, K"]) == (
        "1.002",
        "712",
        "801",
    )
    assert (said["width off, mm"], said["why"]) == ("", "")


def test_the_chamber_in_words(found):
    assert headline(found) == "2 of 80 slots measured: 1 use, 1 sleeve (17)"
    # 0.4667/0.4738 - 1
    assert chamber(found) == (
        "whole chamber: 21.34 bar between the manifolds as made, 20.61 bar as drawn, at the same "
        "0.4738 kg/s; at the drawn drop 0.4667 kg/s would pass (-1.50 %)"
    )
    shown = [line.split() for line in lines(found)]
    assert any(
        line[:8] == "17 sleeve -0.023 +0.034 -0.045* 0.963 731 843".split() for line in shown
    )


def test_the_object(found, tmp_path):
    write(found, SimpleNamespace(hash="abc"), tmp_path)
    got = json.loads((tmp_path / "as_built.json").read_text())
    for name, value in {
        "slots_of_the_chamber": 80,
        "all_usable": False,
        "coolant_mass_flow_kg_s": 0.4738,
        "pressure_drop_Pa": 21.34e5,
        "pressure_drop_as_drawn_Pa": 20.61e5,
        "flow_at_drop_as_drawn_kg_s": 0.4667,
        "T_wall_hot_limit_K": 800.0,
    }.items():
        assert got[name] == value, name
    assert [one["slot"] for one in got["slots"]] == [17, 3]
    assert got["slots"][0]["T_wall_hot_max_streak_K"] == 842.6
    assert got["as_drawn"]["T_wall_hot_max_K"] == 712.0
    assert got["as_drawn"]["verdict"] is None


def test_the_figure(found):
    hot, flow = slots_figure(found).axes
    ends = {line.get_label(): line.get_xydata().tolist() for line in hot.get_lines()}
    assert ends["use: as measured"] == [[3.0, 704.0]]
    assert ends["sleeve: as measured"] == [[17.0, 731.4]]
    hollow = [
        line.get_xydata().tolist()
        for line in hot.get_lines()
        if line.get_markerfacecolor() == "white" and len(line.get_xdata())
    ]
    assert hollow == [[[3.0, 790.0]], [[17.0, 842.6]]]
    level = {name: points[0][1] for name, points in ends.items() if points}
    assert level["limit of the hot wall"] == 800.0
    assert level["slot as drawn"] == 712.0
    assert level["worst channel of the design"] == 913.0
    points = [line.get_xydata()[0].tolist() for line in flow.get_lines()]
    assert points[:2] == [[3.0, 1.0102], [17.0, 0.9631]]
    assert list(flow.get_lines()[2].get_ydata()) == [1.0021, 1.0021]
