"""What the plating shop is told of a plain barrel, every number of it worked by hand.

The bare part is 45 mm in radius and 100 mm long, 1 dm2 hangs beside it, its faces are masked.
Copper: 0.5 + 0.1 mm of stock in one cycle, grown at a measured 20 um/h. Nickel: 1.2, 0.9, 1.2 over
their mean of 1.05 are 1.142857, 0.857143, 1.142857; 3 mm drawn, 1 mm of stock and two turnings of
0.2 mm make (4 + 0.4)/0.857143 = 5.13333 mm, three cycles of 1.71111 mm (two would need 2.45), and
1.466667 mm a cycle at the thinnest place, 1.955556 mm at the ends.
"""

from __future__ import annotations

import csv
import dataclasses
import io
import json
from types import SimpleNamespace

import numpy as np
import pytest
from rich.console import Console

from regen.case.read import load_case
from regen.metals import selection as metals
from regen.output import closeout
from regen.output.figures.closeout import layers_figure
from regen.output.page import Picture
from regen.output.table import Table
from regen.shop.plating.plan import plan_plating
from regen.shop.plating.surface import Surface
from tests.helpers import barrel
from tests.helpers.html_rows import row, rows

# sums by hand carry four or five digits
HAND = 2e-4

# A shell on the cylinder, straight from a at the ends to b in the middle, has pi L (2 R (a + b)/2 +
# (a^2 + a b + b^2)/3). First nickel: R = 45.5, pi 100 (155.711 + 2.948) = 49844 mm3, and 1 dm2 x
# 1.71111 = 17111 mm3 beside it: 8908 kg/m3 make 0.5964 kg. At 0.97 and 58.693/(2 x 96485.33) g/C
# that is 2.0216 MC = 561.6 Ah. Area 2 pi 45.5 x 100 mm2 + 1 dm2 = 3.859 dm2 at first, 3.913 in the
# middle, 3.967 last; 2 A/dm2 of it are 7.72 to 7.93 A, and 561.6 Ah take 71.76 h.
# Copper: pi 100 (2 x 45 x 0.6 + 0.36) = 17078 mm3 and 6000 mm3 beside: 0.2068 kg, 178.0 Ah at 0.98;
# 0.6 mm at 20 um/h take 30 h: a mean of 1.5425 A/dm2 on 3.827 to 3.865 dm2, 5.90 to 5.96 A.
COPPER = ["copper", "0.50", "0.60", "1.00", "1", "3.00", "0.98", "3.83-3.87", "5.9-6.0"]
COPPER += ["30.0", "178", "0.21", "0.13"]  # stays: pi 100 (2 x 45 x 0.5 + 0.25) mm3 = 0.1274 kg
NICKEL = ["nickel", "3.00", "5.13", "0.86", "3", "2.00", "0.97", "3.86-4.13", "7.7-8.3"]
NICKEL += ["215.3", "1719", "1.83", "0.79"]  # stays: pi 100 (2 x 45.5 x 3 + 9) mm3 = 0.7892 kg
STEPS = [
    # grows, thinnest before and plated, thickest, dm2, A, h, Ah, kg, turned to
    ["copper 1", "0.60", "0.00", "0.60", "0.60", "3.83-3.87", "5.9-6.0"]
    + ["30.0", "178", "0.21", "0.50"],
    ["nickel 1", "1.71", "0.00", "1.47", "1.96", "3.86-3.97", "7.7-7.9"]
    + ["71.8", "562", "0.60", "1.27"],
    ["nickel 2", "1.71", "1.27", "2.73", "3.22", "3.94-4.05", "7.9-8.1"]
    + ["71.8", "573", "0.61", "2.53"],
    ["nickel 3", "1.71", "2.53", "4.00", "4.49", "4.02-4.13", "8.0-8.3"]
    + ["71.8", "584", "0.62", "3.00"],
]
HOURS = [
    # 30 + 3 x 71.76 h; 4 turnings of 24 h; 245.29 h are 10.22 days, over 0.2 and 0.05
    "current on for 245 h (10.2 days)",
    "calendar 14 days with 4 turnings of 24 h, without masking, waxing, activating and waiting; "
    "current is usually on for 5 to 20 % of the calendar: 51 to 204 days",
    # 0.2068 + 1.8257 kg less 0.1274 + 0.7892 kg
    "metal 2.03 kg, of which 1.12 kg is turned off or sits on ends and racks",
]
NOTES = [
    # 0.6 mm over 38.9 um/h, by 3 A/dm2 on each moment's area
    "copper: hours by the shop's measured 20 um/h, 30 h; by Faraday's law at the set current, 15 h",
    # 4.4 mm in place of 5.1333: 215.3 x 0.857143
    "nickel: x = -250 mm governs the hours. It gets 0.86 of the mean deposit; an even deposit "
    "would take about 185 h instead of 215 h",
]

# E by the tables at 294 K: nickel 180, liner 122.853, copper 116.956 GPa
CHECKS = {
    "copper before its last turning, at its thinnest place": ("0.600 mm", ">= 0.600 mm", "-300"),
    "nickel before its last turning, at its thinnest place": ("4.00 mm", ">= 4.00 mm", "-250"),
    # 3.00 - 0.05 against 2.0, which is nearer than 1.5 and 1.0 at the ends
    "nickel after turning, less tolerance, against strength": (
        "2.95 mm",
        ">= 2.00 mm",
        "-250",
    ),
    "copper current density": ("3.00 A/dm2", "<= 20.0 A/dm2", ""),
    "copper cathode efficiency": ("0.980", "<= 1.00", ""),
    # 63.546 g x 300/(2 x 96485.33)/8960 at efficiency 1
    "copper growth rate, measured": ("20.0 um/h", "<= 39.7 um/h", ""),
    "copper bath temperature": ("30 degC", "<= 55 degC", ""),
    "copper stress as deposited": ("-10.0 MPa", "", ""),
    "nickel current density": ("2.00 A/dm2", "<= 4.31 A/dm2", ""),
    "nickel cathode efficiency": ("0.970", "<= 1.00", ""),
    "nickel bath temperature": ("50 degC", "<= 63 degC", ""),
    "nickel stress as deposited": ("40.0 MPa", "<= 55.0 MPa", ""),
    "wax melting point above the hottest bath": ("70 degC", ">= 60 degC", ""),
    # 0.69 x 40^2 MPa^2 x 4.4889 mm/180 GPa; the ends are thickest
    "stored energy of the nickel, as plated, in the bath": ("27.5 J/m2", "<= 250 J/m2", "-300"),
    # from 50 to 21 degC the liner shrinks by 463.5e-6, nickel by 375.2e-6: over 4.5 mm of copper,
    # 1.977 and 0.69, -11.65 MPa; 28.35 MPa in 3 mm
    "stored energy of the nickel, cooled to 21 degC": ("9.24 J/m2", "<= 250 J/m2", "-300"),
    # the jacket at 310 K, the liner as in the bath: 171.9e-6, +22.69 MPa; 62.69 MPa in 3 mm
    "stored energy of the nickel, running": ("45.2 J/m2", "<= 250 J/m2", "-300"),
    # 40 x 122.853/180 x ln(1 + 180 x 4.4889/(122.853 x 1 + 116.956 x 0.5))
    "hoop stress in hot wall and copper from the growing nickel": (
        "46.3 MPa",
        "<= 283 MPa",
        "-300",
    ),
    # its own 10 MPa of compression on top
    "compression of the copper over the slots": ("56.3 MPa", "> 1000 MPa", "-300"),
    # 9 MPa x 1.25/3.75
    "bond tension on the lands": ("3.00 MPa", "<= 70.0 MPa", "-300"),
    # 3 mm sqrt(2 x 437/1.25/9); the slot, then the patch that inspection may miss
    "widest unbonded strip that the nickel spans at inlet pressure": (
        "26.4 mm",
        ">= 1.25 mm",
        "-300",
    ),
    "widest unbonded strip against the patch that inspection may miss": (
        "26.4 mm",
        ">= 5.00 mm",
        "-300",
    ),
    # drawn 0.5 less 0.05
    "copper as a hydrogen barrier: not needed, the coolant is methane": ("0.450 mm", "", "-300"),
}


@pytest.fixture(scope="module")
def plan():
    return barrel.plated()


@pytest.fixture(scope="module")
def page(plan):
    design = load_case(barrel.CASE, ()).design
    return closeout.sheet(plan, design, Picture("layers", "", b"<svg/>"))


def test_each_layer_of_the_sheet(page):
    head = [" ".join(cells) for cells in rows(page) if cells[0] == "layer"]
    assert head == [
        "layer drawn, mm plated, mean, mm thinnest / mean cycles current density, A/dm\u00b2 "
        "efficiency area, dm\u00b2 current, A time, h charge, Ah metal, kg stays, kg"
    ]
    assert row(page, "copper") == COPPER
    assert row(page, "nickel") == NICKEL


def test_each_step_of_the_sheet(page):
    head = [" ".join(cells) for cells in rows(page) if cells[0] == "step"]
    assert head == [
        "step grows by, mean, mm thinnest, before, mm thinnest, plated, mm thickest, plated, mm "
        "area, dm\u00b2 current, A time, h charge, Ah metal, kg then turn to, mm measured, mm "
        "signed"
    ]
    for wanted in STEPS:
        assert row(page, wanted[0]) == [*wanted, "", ""]


def test_the_baths_of_the_sheet(page):
    assert row(page, "acid copper sulfate")[1:3] == ["3.00", "30"]
    assert row(page, "nickel sulfamate")[1:3] == ["2.00", "50"]


def test_hours_days_and_metal(plan, page):
    assert closeout.hours_lines(plan) == HOURS
    assert list(plan.notes) == NOTES
    for line in (*HOURS, *NOTES):
        assert line.replace("'", "&#39;").replace(" %", "\u00a0%") in page


def test_each_check_of_the_sheet(page):
    found = {cells[0]: tuple(cells[1:4]) for cells in rows(page) if len(cells) == 6}
    for text, said in CHECKS.items():
        assert found[text] == said, text
    assert {cells[4] for cells in rows(page) if len(cells) == 6} == {"verdict", "kept", ""}


def test_both_limits_of_the_jackets_temperature(plan):
    found = {one.name: one for one in plan.checks}
    # the hottest of 310, 323.15 and 320 K
    for name, limit in (("jacket_softening", 673.15), ("jacket_sulfur", 550.0)):
        one = found[name]
        assert (one.value, one.x_m) == (323.15, -0.25)
        assert one.limit == pytest.approx(limit, abs=0.5)


def test_notes_of_the_stress_checks(plan):
    found = {one.name: one.note for one in plan.checks}
    # at an edge (1 - 0.31^2) 40^2 4.4889/(2 x 180); 250 J/m2 are reached at 250/(0.69 40^2/180) mm
    assert found["stored_energy_1"] == (
        "+40 MPa in 4.49 mm; 18 J/m2 at a straight edge; the bond holds up to 40.8 mm at this "
        "stress"
    )
    assert found["stored_energy_2"].startswith("+28 MPa in 3.00 mm; ")
    assert found["stored_energy_3"].startswith("+63 MPa in 3.00 mm; ")
    assert found["liner_shrink"].startswith("-46 MPa; ")
    assert found["roof_bending"].startswith("factor 1.25 on yield; the slot there is 1.25 mm wide")
    assert found["copper_rate"] == (
        "0.51 of the 38.9 um/h from 3 A/dm2 at efficiency 0.98; equivalent to a steady 1.5 A/dm2"
    )


def test_the_liner_gives_at_most_its_yield():
    """700 K above a cold jacket: 80 MPa over 4.5 mm of copper pull 3 mm of nickel by 120 MPa."""
    weak = 'liner.yield_strength=[["20 degC", "80 MPa"], ["500 degC", "80 MPa"]]'
    of = barrel.plated(weak, result=barrel.solved(700.0))
    found = {one.name: one for one in of.checks}
    one = found["stored_energy_3"]
    assert one.note.startswith("+160 MPa in 3.00 mm; ")
    assert one.value == pytest.approx(0.69 * 160e6**2 * 3e-3 / 180e9, rel=HAND)
    assert (one.verdict, found["liner_shrink"].limit) == ("watch", 80e6)


def test_compressed_nickel_is_held_against_a_patch_and_the_slots():
    of = barrel.plated("plating.nickel_stress=-60 MPa", "plating.unbond=50 mm")
    found = {one.name: one for one in of.checks}
    # running adds +22.69 at the cold end, cooling -11.65: the worst is -71.65 MPa
    patch = found["patch_buckling"]
    assert patch.value == pytest.approx(71.65e6, rel=HAND)
    # 14.68 x 180 GPa (2 x 3/50)^2/(12 x 0.9039)
    assert patch.limit == pytest.approx(3508e6, rel=HAND)
    # pi^2 180 GPa (3/1.25)^2/(3 x 0.9039)
    assert found["nickel_buckling"].limit == pytest.approx(3.774e12, rel=HAND)
    # the nickel now pulls the copper: 46.32 - 10 MPa in tension
    assert found["copper_buckling"].value == 0.0


def test_places_along_the_sheet(page):
    assert row(page, "-300.0") == ["-300.0", "45.00", "0.50", "1.50", "3.00", "4.49", "48.50"]
    assert row(page, "-250.0") == ["-250.0", "45.00", "0.50", "2.00", "3.00", "4.00", "48.50"]
    assert row(page, "-200.0") == ["-200.0", "45.00", "0.50", "1.00", "3.00", "4.49", "48.50"]


def test_values_taken_are_told_with_their_units(tmp_path):
    left_out = ("turn_time", "turn_cut", "nickel_current", "nickel_bath_t", "nickel_stress")
    lines = [line for line in barrel.CASE.read_text().splitlines() if not line.startswith(left_out)]
    path = tmp_path / "bare.toml"
    path.write_text("\n".join(lines))
    design = load_case(path, ()).design
    bare = closeout.sheet(plan_plating(design, barrel.solved()), design, "")
    for key, said in {
        "turn_time": "24.0 h",
        "turn_cut": "0.200 mm",
        "nickel_current_density": "2.00 A/dm2",
        "nickel_bath_temperature": "50 degC",
        "nickel_stress": "40.0 MPa",
    }.items():
        assert row(bare, f"plating.{key}")[3] == said
    assert sum(cells[0].startswith("plating.") for cells in rows(bare) if cells) == len(left_out)


def test_a_thick_jacket_asks_for_more_stock(tmp_path):
    """0.3 of 5 mm is more than 1 mm; the copper has its own 0.1 mm."""
    lines = barrel.CASE.read_text().replace('nickel = "3 mm"', 'nickel = "5 mm"').splitlines()
    path = tmp_path / "thick.toml"
    path.write_text("\n".join(line for line in lines if "_stock = " not in line))
    design = load_case(path, ()).design
    thick = closeout.sheet(plan_plating(design, barrel.solved()), design, "")
    assert row(thick, "plating.nickel_stock")[3] == "1.50 mm"
    assert row(thick, "plating.copper_stock")[3] == "0.100 mm"


def test_the_outside_of_a_bent_liner():
    """An arc of 30 mm about a centre outside the gas, 10 mm of liner: Pappus on an arc of 20.

    From -30 to 30 degrees, the centre at 60 mm: 2 pi x 20 (60 x 60 deg - 2 x 20 sin 30 deg).
    """
    turn = np.deg2rad(np.linspace(-30.0, 30.0, 601))
    x, r = 0.03 * np.sin(turn), 0.06 - 0.03 * np.cos(turn)
    bent = Surface(x, r, np.sin(turn), np.cos(turn), np.full(turn.size, 0.01))
    wanted = 2 * np.pi * 0.02 * (0.06 * np.pi / 3 - 2 * 0.02 * 0.5)
    assert bent.areas(0.0).sum() == pytest.approx(wanted, rel=1e-5)


def test_one_row_of_the_table_along_x(plan):
    found = list(csv.DictReader(io.StringIO(Table.of_arrays(closeout.columns(plan)).csv())))[0]
    assert {name: float(value) for name, value in found.items()} == pytest.approx(
        {
            "x_m": -0.3,
            "r_liner_m": 0.045,
            "r_finished_m": 0.0485,
            "nickel_need_m": 1.5e-3,
            "copper_local_over_mean": 1.0,
            "copper_deposit_m": 0.6e-3,
            "copper_before_last_turning_m": 0.6e-3,
            "copper_stock_m": 0.1e-3,
            "copper_finished_m": 0.5e-3,
            "nickel_local_over_mean": 1.142857,
            "nickel_deposit_m": 5.866667e-3,
            "nickel_before_last_turning_m": 4.488889e-3,
            "nickel_stock_m": 1.488889e-3,
            "nickel_finished_m": 3e-3,
        },
        rel=1e-6,
    )


def test_of_two_passes_at_one_place_the_worse_counts():
    """Down and back on the same stations: the greater need, and the thicker liner."""
    one = barrel.solved()
    twice = {name: np.repeat(column, 2) for name, column in one.stations.items()}
    twice["channel_depth_m"] = np.tile([3.9e-3, 4e-3], 3)
    need = np.array([1.5, 1.7, 2.0, 1.9, 1.0, 1.2]) * 1e-3
    checked = {"jacket_needed_m": need, "T_jacket_K": np.full(6, barrel.T_BATH)}
    of = barrel.plated(result=dataclasses.replace(one, stations=twice, checked=checked))
    np.testing.assert_allclose(closeout.columns(of)["nickel_need_m"], (1.7e-3, 2.0e-3, 1.2e-3))
    np.testing.assert_allclose(closeout.columns(of)["r_liner_m"], 0.045)


def test_the_object_of_the_plan(plan, tmp_path):
    case = SimpleNamespace(design=load_case(barrel.CASE, ()).design, hash="abc")
    closeout.write(plan, case, tmp_path)
    found = json.loads((tmp_path / "plating.json").read_text())
    whole = {
        "time_with_current_s": 245.286 * 3600,
        "calendar_time_s": (245.286 + 96) * 3600,
        "turnings": 4,
        "mass_kg": 2.0325,
    }
    for name, value in whole.items():
        assert found[name] == pytest.approx(value, rel=HAND), name
    assert found["calendar_range_s"] == pytest.approx(
        [245.286 * 3600 / 0.2, 245.286 * 3600 / 0.05], rel=HAND
    )
    nickel = found["layers"][1]
    wanted = {
        "finished_m": 3e-3,
        "stock_m": 1e-3,
        "mean_deposit_m": 5.13333e-3,
        "mean_deposit_needed_m": 5.13333e-3,
        "thinnest_over_mean": 0.857143,
        "current_density_A_m2": 200.0,
        "efficiency": 0.97,
        "growth_by_theory_m_s": 6.6233e-9,  # 23.844 um/h
        "time_s": 215.286 * 3600,
        "time_by_theory_s": 215.286 * 3600,
        "charge_C": 1718.94 * 3600,
        "mass_kg": 1.8257,
        "mass_finished_kg": 0.7892,
    }
    for name, value in wanted.items():
        assert nickel[name] == pytest.approx(value, rel=HAND), name
    assert (nickel["metal"], nickel["bath"]) == ("nickel", "nickel sulfamate")
    assert nickel["measured_rate_m_s"] is None
    copper = found["layers"][0]
    assert copper["measured_rate_m_s"] == pytest.approx(20e-6 / 3600)
    assert copper["time_s"] == pytest.approx(30.0 * 3600)
    assert copper["time_by_theory_s"] == pytest.approx(15.425 * 3600, rel=HAND)
    step = {
        "number": 2,
        "layer": "nickel",
        "growth": 1.711111e-3,
        "least_from": 1.266667e-3,
        "least_plated": 2.733333e-3,
        "most_plated": 3.222222e-3,
        "least_to": 2.533333e-3,
        "area_from": 0.039384,
        "area": 0.039922,
        "area_to": 0.040461,
        "time": 71.762 * 3600,
        "theory_time": 71.762 * 3600,
        "charge": 572.98 * 3600,
        "mass": 0.60856,
        "current_density_A_m2": 200.0,
        "current_from_A": 7.877,
        "current_to_A": 8.092,
    }
    assert nickel["steps"][1] == {
        name: value if isinstance(value, str) else pytest.approx(value, rel=HAND)
        for name, value in step.items()
    }


def test_the_terminal_has_the_layers_side_by_side(plan):
    console = Console(record=True, width=160, file=io.StringIO())
    for part in closeout.summary(plan):
        console.print(part)
    shown = [line.split() for line in console.export_text().splitlines()]
    headings = closeout.layers_table(plan).headings
    for heading, copper, nickel in list(zip(headings, COPPER, NICKEL, strict=True))[1:]:
        assert [*heading.split(), copper, nickel] in shown, heading


def test_the_figure_draws_millimetres_of_the_right_curves(plan):
    nickel, copper = layers_figure(plan).axes
    curves = {line.get_label(): line.get_xydata() for line in nickel.get_lines()}
    x = [-300.0, -250.0, -200.0]
    for label, y in {
        "deposited in all, all turnings": [5.866667, 4.4, 5.866667],
        "before the last turning": [4.488889, 4.0, 4.488889],
        "finished, as drawn": [3.0, 3.0, 3.0],
        "needed by strength": [1.5, 2.0, 1.0],
    }.items():
        np.testing.assert_allclose(curves[label], np.stack([x, y], axis=-1), rtol=1e-6)
    assert (nickel.get_ylabel(), copper.get_ylabel()) == ("nickel [mm]", "copper [mm]")
    assert [text.get_text() for text in nickel.texts] == ["thinnest: 0.86 of mean"]
    # what stays from the copper up, and what is turned off above it
    spans = [fill.get_paths()[0].get_extents() for fill in nickel.collections]
    np.testing.assert_allclose([(s.y0, s.y1) for s in spans], [(0.0, 3.0), (3.0, 4.488889)], 1e-6)
    finished = {line.get_label(): line.get_ydata() for line in copper.get_lines()}
    np.testing.assert_allclose(finished["finished, as drawn"], 0.5, rtol=1e-6)


@pytest.mark.parametrize(
    ("value", "unit", "name", "said"),
    [
        (86400.0, "s", "", "24.0 h"),
        (1.2345e-3, "m", "", "1.23 mm"),
        (437e6, "Pa", "", "437 MPa"),
        (250.0, "J/m2", "", "250 J/m2"),
        (343.15, "K", "plating.wax_melts", "70 degC"),
    ],
)
def test_amounts_in_the_shops_units(value, unit, name, said):
    assert closeout.shown(value, unit, name) == said


def test_the_moduli_of_these_sums_are_those_of_the_tables():
    design = load_case(barrel.CASE, ()).design
    found = (
        metals.jacket(design).value("youngs_modulus", 293.15).value,
        metals.liner(design).value("youngs_modulus", 294.15).value,
        metals.plated_copper(design).value("youngs_modulus", 294.15).value,
    )
    assert found == pytest.approx((180e9, 122.853e9, 116.956e9), rel=1e-5)
