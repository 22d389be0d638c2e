"""What the shop can cut as limits: lands, aspect and cutters, by hand on three stations."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks.limits import along
from regen.checks.registry import rules
from regen.checks.runs import Run, Solved
from regen.checks.verdict import column
from regen.design import Cutter
from regen.metals import selection as metals
from tests.helpers.places import CASES

ROUNDING = 1e-8
"""Limits have a billionth of room for rounding."""


@pytest.fixture(scope="module")
def design():
    return load_case(CASES / "a-methane.toml").design


def slots(**columns) -> Run:
    base = {
        "x_m": [-0.1, 0.0, 0.05],
        "channel_width_m": [1.0e-3, 0.8e-3, 1.0e-3],
        "channel_depth_m": [2.0e-3, 2.4e-3, 2.0e-3],
        "land_width_m": [1.6e-3, 0.6e-3, 1.2e-3],
    }
    return Run({n: np.array(columns.get(n, v), dtype=float) for n, v in base.items()}, {})


def shop(design, drawing):
    return rules(Solved(design, metals.liner(design), None, drawing), "shop")


def margins(design, run, **changes) -> dict[str, float]:
    made = replace(design, shop=replace(design.shop, **changes))
    return {
        rule.limit.name: float(column(*along(rule.limit, rule.compare, run)).margin)
        for rule in shop(made, run)
    }


def test_lands_and_aspect_are_held_against_what_the_shop_says(design):
    found = margins(design, slots(), least_land=0.5e-3, greatest_aspect=4.0)
    # 0.6 mm of 0.5 mm; 2.4 mm over 0.8 mm is 3 of 4
    assert found == pytest.approx({"land_width": 0.2, "slot_aspect": 0.25}, rel=ROUNDING)
    found = margins(design, slots(), least_land=0.8e-3, greatest_aspect=2.4)
    assert found == pytest.approx({"land_width": -0.25, "slot_aspect": -0.25}, rel=ROUNDING)


def test_a_limit_that_is_just_met_is_kept(design):
    # 3.76 over 0.47 is a bit more than 8
    run = slots(channel_width_m=[0.47e-3] * 3, channel_depth_m=[3.76e-3] * 3)
    found = margins(design, run, least_land=0.6e-3, greatest_aspect=8.0)
    assert all(0.0 <= value < 1e-8 for value in found.values())


def test_only_the_drawing_is_judged(design):
    thin = slots(land_width_m=[1.6e-3, 0.4e-3, 1.2e-3])
    drawing = slots()
    for rule in shop(design, drawing):
        assert column(*along(rule.limit, rule.compare, thin)).margin == 1.0  # no demand
        assert column(*along(rule.limit, rule.compare, drawing)).margin < 1.0


SAW = Cutter("saw", 0.8e-3, 5e-3, 63e-3)
WIDE, MILL = Cutter("saw", 1.0e-3, 5e-3, 63e-3), Cutter("end mill", 0.8e-3, 3e-3)


def test_slots_that_have_the_cutters_widths_can_be_cut(design):
    found = margins(design, slots(), cutters=(SAW, WIDE))
    # the least of: 2.4 mm of 5 mm, and 2.4 mm of 8 times 0.8 mm
    assert found["cutter_width"] == pytest.approx(1.0, rel=ROUNDING)
    assert found["cutter_depth"] == pytest.approx(1.0 - 2.4 / 5.005, rel=ROUNDING)


def test_a_saw_cuts_one_width_and_a_mill_any_wider(design):
    # 0.2 mm off, of 5 um
    assert margins(design, slots(), cutters=(SAW,))["cutter_width"] == pytest.approx(1.0 - 40.0)
    assert margins(design, slots(), cutters=(WIDE,))["cutter_width"] == pytest.approx(1.0 - 40.0)
    assert margins(design, slots(), cutters=(MILL,))["cutter_width"] == 1.0
    wider = replace(MILL, width=0.9e-3)
    assert margins(design, slots(), cutters=(wider,))["cutter_width"] == pytest.approx(1.0 - 20.0)


def test_depth_is_that_of_the_cutters_that_fit(design):
    short = replace(SAW, depth=2.0e-3)
    found = margins(design, slots(), cutters=(short, WIDE))  # the deep one is too wide there
    assert found["cutter_depth"] == pytest.approx(1.0 - 2.4 / 2.005, rel=ROUNDING)
    assert margins(design, slots(), cutters=(short, WIDE, MILL))["cutter_depth"] > 0.0
    disc = replace(SAW, depth=None, diameter=4.0e-3)
    found = margins(design, slots(), cutters=(disc, WIDE))
    assert found["cutter_depth"] == pytest.approx(1.0 - 2.4 / 2.0, rel=ROUNDING)
    thin = Cutter("end mill", 0.5e-3)
    found = margins(design, slots(), cutters=(thin,), greatest_aspect=4.0)
    assert found["slot_aspect"] == pytest.approx(0.25, rel=ROUNDING)
    assert found["cutter_depth"] == pytest.approx(1.0 - 2.4 / 2.0, rel=ROUNDING)


def test_a_step_between_two_widths_is_no_taper(design):
    x = [-0.1, -0.0009, -0.0005, -0.0001, 0.05]
    step = {
        "x_m": x,
        "channel_width_m": [1.0e-3, 1.0e-3, 0.9e-3, 0.8e-3, 0.8e-3],
        "channel_depth_m": [2.0e-3] * 5,
        "land_width_m": [1e-3] * 5,
    }
    assert margins(design, slots(**step), cutters=(SAW, WIDE))["cutter_width"] == 1.0
    taper = step | {"x_m": [-0.1, -0.009, -0.005, -0.001, 0.05]}
    assert margins(design, slots(**taper), cutters=(SAW, WIDE))["cutter_width"] < 0.0


def test_a_printed_chamber_asks_for_no_cutters(design):
    printed = replace(design, closeout=replace(design.closeout, route="printed"))
    assert set(margins(printed, slots(), cutters=(SAW,))) == {"land_width", "slot_aspect"}


def test_many_designs_at_once_are_each_as_alone(design):
    other = slots(channel_width_m=[0.8e-3] * 3, land_width_m=[0.9e-3] * 3)
    names = slots().stations
    both = Run({n: np.stack([slots().stations[n], other.stations[n]]) for n in names}, {})
    made = replace(design, shop=replace(design.shop, cutters=(SAW, MILL)))
    for rule in shop(made, both):
        found = column(*along(rule.limit, rule.compare, both)).margin.tolist()
        alone = [margins(made, run)[rule.limit.name] for run in (slots(), other)]
        assert found == alone
