"""Files and words of the studies, on made-up results: whole rows, every cell worked by hand."""

from __future__ import annotations

import csv
import dataclasses
import io
import math
from types import SimpleNamespace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.output import (
    alternatives_files,
    alternatives_words,
    envelope_files,
    envelope_words,
    sweep_words,
    uncertainty_words,
)
from regen.output.figures.alternatives import routes_figure
from regen.output.files import Drawn
from regen.output.sizing_files import size_object
from regen.output.sizing_words import lines as sizing_lines
from regen.output.sweep_digest import digest_of
from regen.result import Finding, Margin
from regen.studies.alternatives.study import Alternatives, Row
from regen.studies.batch.parameters import numeric_key
from regen.studies.envelope.axes import axes_of
from regen.studies.envelope.operation import Point
from regen.studies.envelope.study import Envelope
from regen.studies.envelope.study import Row as PointRow
from regen.studies.size.problem import Constraint
from regen.studies.size.space import Variable
from regen.studies.size.study import Sized
from regen.studies.sweep.plan import grid_of
from regen.studies.uncertainty.study import LEAST_MARGIN, Kept
from tests.helpers.html_rows import row
from tests.helpers.places import CASES
from tests.helpers.rows import columns

SUMMARY = {
    "T_wall_hot_max_K": 748.3,
    "x_T_wall_hot_max_m": -0.0111,
    "T_wall_cold_max_K": 661.2,
    "q_max_W_m2": 31.44e6,
    "heat_total_W": 712.4e3,
    "coolant_temperature_out_K": 414.0,
    "coolant_pressure_in_Pa": 90.0e5,
    "coolant_pressure_drop_Pa": 19.27e5,
    "coolant_pressure_out_Pa": 70.73e5,
    "coolant_mach_max": 0.123,
    "coolant_mass_flow_kg_s": 0.4738,
    "gas_mass_flow_kg_s": 1.8954,
    "characteristic_velocity_m_s": 1783.4,
    "mass_cooled_kg": 3.456,
}


def margin(name, *margins, **more):
    given = {"unit": "K", "limit": 800.0, "kind": "max", "x_m": 0.0, "verdict": "pass"}
    given |= {"source": "common_practice"} | more
    return Margin(name, name, columns=columns(*margins), **given)


@pytest.fixture
def solved(drawn_result):
    return dataclasses.replace(
        drawn_result,
        verdict="at risk",
        summary=SUMMARY,
        worst_channel={"T_wall_hot_max_K": 903.4},
        margins=(
            margin("hot_wall_temperature", 0.065, -0.2, -0.13),
            margin("coolant_mach", 0.041, 0.02, 0.03),
            margin("thermal_stress", -0.5, verdict=None),
        ),
    )


# --- other routes


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
    case = load_case(CASES / "a-methane.toml", ("limits.T_wall_hot=800 K",))
    first = Row("as the case", "electroformed", "as the case", {}, case, solved, "", plan=plan)
    return Alternatives("Linnet", (dataclasses.replace(first, life=life),))


def test_one_row_of_other_routes(compared):
    head = dict(zip(alternatives_words.HEAD, alternatives_words.UNITS, strict=True))
    assert (head["pressure drop"], head["hot wall"], head["mass"]) == ("bar", "K", "kg")
    cells = alternatives_words.cells(compared.rows[0])
    assert dict(zip(head, cells, strict=True)) == {
        "": "as the case",
        "route": "electroformed",
        "hot wall": "748",
        "worst": "903",
        "pressure drop": "19.3",
        "least margin": "coolant Mach number +4 %",
        "life": "123 (4567)",
        "mass": "3.46",
        "hours": "245",
        "verdict": "at risk",
    }
    assert (
        "245 h with current, 341 h with all turnings; a calendar of 51 to 204 days is usual"
        in alternatives_words.remarks(compared.rows[0])
    )
    page = alternatives_files.page(compared, compared.rows[0].case, Drawn())
    assert row(page, "as the case") == list(cells)


def test_one_row_of_the_table_of_other_routes(compared):
    (found,) = csv.DictReader(io.StringIO(alternatives_files.table_text(compared)))
    numbers = {
        **{name: SUMMARY[name] for name in alternatives_files.SUMMARY},
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


def test_the_figure_of_other_routes(compared):
    hot, drop = routes_figure(compared).axes
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


# --- operating envelope


@pytest.fixture
def throttled():
    design = load_case(CASES / "a-methane.toml").design
    axes = axes_of({"chamber_pressure": "15:30:2:bar", "mixture_ratio": "3:3.2:2"}, design)

    def point(p, nominal, **more):
        given = {
            "status": "solved",
            "verdict": "pass",
            "summary": SUMMARY,
            "margins": (margin("hot_wall_temperature", 0.065, -0.2, -0.13),),
            "regime": "above",
            "coolant_side": "gnielinski",
        }
        at = Point(p, 3.0, 120.0, 3 * p, None)
        return PointRow(at, True, True, nominal, **(given | more))

    broken = (margin("hot_wall_temperature", -0.25, verdict="fail"),)
    rows = (
        point(15e5, False, margins=broken, verdict="fail"),
        point(22.5e5, False, margins=(margin("hot_wall_temperature", 0.01),)),
        point(30e5, True),
    )
    return Envelope("Linnet", axes, {}, rows, 45.99e5, {})


def test_one_row_of_the_envelope(throttled):
    found = list(csv.DictReader(io.StringIO(envelope_files.table_text(throttled))))[1]
    numbers = {
        "chamber_pressure_Pa": 22.5e5,
        "chamber_pressure_over_nominal": 0.75,
        "mixture_ratio": 3.0,
        "coolant_inlet_temperature_K": 120.0,
        "coolant_inlet_pressure_given_Pa": 67.5e5,
        **{name: SUMMARY[name] for name in envelope_files.SUMMARY},
        "margin_hot_wall_temperature_nominal": 0.01,
    }
    assert {name: float(found[name]) for name in numbers} == pytest.approx(numbers)
    assert found["coolant_outlet_pressure_given_Pa"] == ""
    assert (found["nominal_point"], found["on_map"]) == ("no", "yes")


def test_margins_of_the_envelope_are_those_of_their_run(throttled):
    *_, own = csv.DictReader(io.StringIO(envelope_files.table_text(throttled)))
    runs = {"nominal": 0.065, "band_edge": -0.2, "worst_channel": -0.13}
    for run, value in runs.items():
        assert float(own[f"margin_hot_wall_temperature_{run}"]) == value


def test_the_envelope_in_words(throttled):
    said = envelope_words.lines(throttled)
    assert (
        "throttle line, 15 to 30 bar (50% to 100%): every nominal limit is kept from 22.5 to 30 "
        "bar (75% to 100%); at 15 bar (50%): hot wall temperature -25 %"
    ) in said
    (broken,) = [line for line in said if line.startswith("hot wall temperature: broken")]
    assert "at 1 point, by up to -25 %" in broken
    assert "chamber pressure 15 bar" in broken
    assert any("least nominal margin: hot wall temperature at 3 of 3 points" in x for x in said)


def test_the_worst_of_what_is_broken_and_the_least_of_what_is_kept(throttled):
    first, second, own = throttled.rows
    by_name = [
        (("hot_wall_temperature", -0.1), ("coolant_mach", 0.2)),
        (("hot_wall_temperature", -0.25), ("coolant_mach", 0.3)),
        (("hot_wall_temperature", 0.3), ("coolant_mach", 0.1)),
    ]
    rows = tuple(
        dataclasses.replace(at, margins=tuple(margin(*one) for one in given))
        for at, given in zip((first, second, own), by_name, strict=True)
    )
    said = envelope_words.lines(dataclasses.replace(throttled, rows=rows))
    (broken,) = [line for line in said if "broken by the nominal channel" in line]
    assert broken.startswith("hot wall temperature: broken by the nominal channel at 2 points, by ")
    assert "by up to -25 %: chamber pressure 15 to 22.5 bar" in broken
    assert (
        "least nominal margin: hot wall temperature at 2, coolant Mach number at 1 of 3 points"
        in said
    )


# --- sweep


def test_the_best_rows_of_a_sweep(tmp_path):
    """Three rows: one breaks a limit, one loses least, one is coolest."""
    case = load_case(CASES / "a-methane.toml")
    plan = grid_of(["liner.wall=0.6:0.8:3:mm"], case)
    path = tmp_path / "sweep.csv"
    path.write_text(
        "row,liner.wall_m,status,verdict,nominal_kept,T_wall_hot_max_K,coolant_pressure_drop_Pa,"
        "margin_hot_wall_temperature_nominal\n"
        "0,0.0006,solved,fail,0,650,500000,-0.1\n"
        "1,0.0007,solved,pass,1,748.3,1927000,0.065\n"
        "2,0.0008,solved,pass,1,702.4,2318000,0.12\n"
    )
    digest = digest_of(path, plan, "nominal", ("hot_wall_temperature",), frozenset())
    said = sweep_words.lines(digest)
    assert "  least pressure drop: row 1, liner.wall 0.7 mm: 19.3 bar, wall 750 K" in said
    assert "  coolest wall:        row 2, liner.wall 0.8 mm: 23.2 bar, wall 700 K" in said
    best = sweep_words.told(digest)["best"]
    assert best["least_pressure_drop"]["row"] == 1
    assert best["coolest_wall"]["coolant_pressure_drop_Pa"] == 2318000.0
    # none of the two beats the other in both
    assert digest.front["row"].tolist() == [1.0, 2.0]


# --- uncertainty


def test_how_often_a_limit_is_kept():
    one = Kept("hot_wall_temperature", 90, 6, 3, 1, False, 0.826, 0.945)
    assert uncertainty_words.probability(one) == (
        "0.900 (0.826 to 0.945); not kept: broken 6, not evaluated 3, not solved 1 of 100"
    )


def test_quantiles_in_the_units_of_an_engineer():
    def said(key, value):
        quantity = uncertainty_words.QUANTITIES[key]
        return uncertainty_words.value(quantity, value), quantity.unit

    assert said("T_wall_hot_max_K", 748.3) == ("750", "K")
    assert said("coolant_pressure_drop_Pa", 19.27e5) == ("19.3", "bar")
    assert said("q_max_W_m2", 31.44e6) == ("31.4", "MW/m2")
    assert said(LEAST_MARGIN, 0.123) == ("12", "%")
    assert said(LEAST_MARGIN, math.inf)[0] == "not solved"


# --- sizing


def test_the_sizes_before_and_now(solved):
    case = load_case(CASES / "a-methane.toml", ("sizing.margin=0.05",))
    wall = Variable(numeric_key("liner.wall", case.design), "wall", 0.6e-3, 1.2e-3)
    kept = Kept("every limit", 90, 10, 0, 0, False, 0.826, 0.945)
    sized = Sized(
        space=SimpleNamespace(base=case.design, variables=(wall,)),
        design=case.design,
        values=np.array([0.65e-3]),
        own=np.array([0.8e-3]),
        objective=19.27e5,
        own_objective=23.18e5,
        names=(
            Constraint("hot_wall_temperature", "nominal", (-0.012, 0.004)),
            Constraint("land"),
        ),
        constraints=np.array([0.0023, 0.006]),
        violation=0.0,
        unknown=frozenset(),
        solved=True,
    )
    answer = SimpleNamespace(good=True, result=solved, kept=kept, case=case, not_cut=("an arc",))
    found = size_object(sized, answer, case, 7, {})
    assert (found["objective"], found["objective_of_the_case"]) == (19.27e5, 23.18e5)
    (size,) = found["sizes"]
    numbers = {"case": 0.8e-3, "sized": 0.65e-3, "low": 0.6e-3, "high": 1.2e-3}
    assert {name: size[name] for name in numbers} == numbers
    assert found["probability"]["probability"] == 0.9
    assert found["not_cut_as_drawn"] == ["an arc"]
    said = sizing_lines(sized, answer)
    assert "the shop does not cut it as drawn: an arc; regen shop solves it as it is cut" in said
    assert "pressure drop: 19.27 bar (the case's own sizes: 23.18 bar)" in said
    (row,) = [line.split() for line in said if line.startswith("wall ")]
    assert row == "wall 0.8 mm 0.65 mm 0.6 mm and 1.2 mm".split()
    assert any(
        "hot wall 750 K, worst channel 900 K, band to 990 K; pressure drop 19.27 bar" in line
        for line in said
    )
    assert "probability that every limit is kept: 90% (83% to 94%, 100 designs" in " ".join(said)
    held = "hot wall temperature, nominal channel, x = -12 to 4 mm"
    assert f"  {held}: 0.23% left beyond the 5% to spare" in said
    # 0.6 per cent of the least land of 0.5 mm
    assert "  thinnest land (shop.least_land): 0.003 mm left" in said
