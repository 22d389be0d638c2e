"""Files of a solved chamber: every column of a row, every number of the summary, from elsewhere.

What the core alone knows is compared with the core's own field; all else is worked out from the
drawing and from the properties of water.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from regen.case.read import load_case
from regen.checks.review import review
from regen.checks.stations import headline
from regen.geometry.contour import build_contour
from regen.output import review as output
from regen.physics import arrays as A
from regen.result import STATION_COLUMNS
from regen.solver.prepare import prepare
from regen.solver.solve import solve, solve_nominal
from tests.helpers.places import WATER

DIGITS = 6e-9
"""Nine digits are written."""

TABLE = 4e-3
"""Water between the nodes of its table, and the sound speed of the core's."""

TRAPEZOID = 2e-3
"""Sums over 41 stations that know no curvature between them."""

PEAK = 1e-2
"""A peak lies between two rows, a little above both."""

COUNT, FLOW, WALL, DEPTH = 36, 0.6, 1.0e-3, 1.0e-3


@pytest.fixture(scope="module")
def design():
    return load_case(WATER, ("models.stations=41",)).design


@pytest.fixture(scope="module")
def result(design):
    return review(design)


@pytest.fixture(scope="module")
def run(design):
    return solve(design).nominal


@pytest.fixture(scope="module")
def table(result):
    folder = output.result_folder(result, Path("unused"))
    rows = list(csv.DictReader(io.StringIO(folder.files["stations.csv"].decode())))
    return {name: np.array([float(row[name]) for row in rows]) for name in STATION_COLUMNS}


def test_columns_of_the_core(table, run):
    for name, field in {
        "T_wall_hot_K": A.O_T_WALL_HOT,
        "T_wall_hot_mean_K": A.O_T_WALL_HOT_MEAN,
        "T_wall_cold_K": A.O_T_WALL_COLD,
        "T_coolant_K": A.O_T_COOLANT,
        "p_coolant_Pa": A.O_P_COOLANT,
        "v_coolant_m_s": A.O_V_COOLANT,
        "h_coolant_W_m2K": A.O_H_COOLANT,
        "h_gas_W_m2K": A.O_H_GAS,
        "q_W_m2": A.O_Q,
        "q_wetted_W_m2": A.O_Q_WETTED,
        "Re_coolant": A.O_RE,
        "T_aw_K": A.O_T_AW,
    }.items():
        np.testing.assert_allclose(table[name], run.station[:, field], rtol=DIGITS, err_msg=name)


def test_columns_of_the_drawing(table, design):
    x = table["x_m"]
    contour = build_contour(design.contour)
    r = contour.radius(x)
    width = np.interp(x, (-0.08, -0.01, 0.01, 0.04), (2e-3, 1e-3, 1e-3, 2e-3))
    cosine = np.cos(contour.slope_angle(x))
    floor = r + WALL * cosine
    for name, wanted in {
        "r_m": r,
        "area_ratio": (r / 0.0125) ** 2,
        "channel_width_m": width,
        "channel_depth_m": np.full_like(x, DEPTH),
        "wall_m": np.full_like(x, WALL),
        "circuit": np.ones_like(x),
        "pass_number": np.ones_like(x),
    }.items():
        np.testing.assert_allclose(table[name], wanted, rtol=DIGITS, err_msg=name)
    # a slot is cut across, so its floor is on the circle that its normal meets
    np.testing.assert_allclose(table["land_width_m"], 2 * np.pi * floor / COUNT - width, rtol=1e-6)
    # the coolant comes in at the nozzle: there the way is none, and it grows towards the injector
    length = table["passage_length_m"]
    assert length[-1] == 0.0
    middle_x = x - (WALL + DEPTH / 2) * np.sin(contour.slope_angle(x))
    middle_r = r + (WALL + DEPTH / 2) * cosine
    steps = np.hypot(np.diff(middle_x), np.diff(middle_r))
    np.testing.assert_allclose(length, np.append(np.cumsum(steps[::-1])[::-1], 0.0), rtol=TRAPEZOID)


def test_columns_of_water(table):
    T, p, v = table["T_coolant_K"], table["p_coolant_Pa"], table["v_coolant_m_s"]
    rho, mu, sound = (PropsSI(what, "T", T, "P", p, "Water") for what in ("D", "V", "A"))
    area = table["channel_width_m"] * DEPTH
    around = 2.0 * (table["channel_width_m"] + DEPTH)
    np.testing.assert_allclose(v, FLOW / (COUNT * area * rho), rtol=TABLE)
    np.testing.assert_allclose(table["Re_coolant"], 4 * rho * v * area / around / mu, rtol=TABLE)
    np.testing.assert_allclose(table["mach_coolant"], v / sound, rtol=TABLE)


def test_columns_of_the_wall(table):
    """Flux by the gas's coefficient; the floor's mean; the hottest place of floor and hot wall."""
    q = table["h_gas_W_m2K"] * (table["T_aw_K"] - table["T_wall_hot_mean_K"])
    np.testing.assert_allclose(table["q_W_m2"], q, rtol=1e-6)
    floor = table["T_coolant_K"] + table["q_wetted_W_m2"] / table["h_coolant_W_m2K"]
    assert np.all(table["T_wall_floor_K"] >= floor)
    assert np.all(table["T_wall_hot_K"] >= table["T_wall_hot_mean_K"])
    assert np.all(table["T_wall_hot_mean_K"] > table["T_wall_floor_K"])
    # one straight conduction through 1 mm of copper at 280 to 360 W/(m K), pitch means
    through = (table["T_wall_hot_mean_K"] - table["T_wall_cold_K"]) / (table["q_W_m2"] * WALL)
    assert np.all((through > 1 / 360) & (through < 1 / 250))


def test_columns_of_the_gas(table):
    """Sonic at the throat, where the pressure is 0.55 to 0.59 of the nozzle's; hotter upstream."""
    throat = int(np.argmin(np.abs(table["x_m"])))
    assert abs(table["mach"][throat] - 1.0) < 0.02
    assert np.all(table["mach"][:throat] < 1.0)
    assert np.all(table["mach"][throat + 1 :] > 1.0)
    assert 0.54e6 < table["p_gas_Pa"][throat] < 0.59e6
    falls = table["x_m"][1:] > -0.03  # behind the barrel
    assert np.all(np.diff(table["p_gas_Pa"])[falls] < 0.0)
    assert np.all(np.diff(table["T_gas_K"])[falls] < 0.0)
    assert np.all(table["T_aw_K"] > table["T_gas_K"] - 30.0)


def test_the_summary(result, design, table, tmp_path):
    output.write(result, design, tmp_path)
    found = json.loads((tmp_path / "result.json").read_text())["summary"]
    x, r = table["x_m"], table["r_m"]
    line = 2 * np.pi * r * table["q_W_m2"]
    heat = np.sum((line[1:] + line[:-1]) / 2 * np.hypot(np.diff(x), np.diff(r)))
    assert found["heat_total_W"] == pytest.approx(heat, rel=TRAPEZOID)
    p_in, p_out = found["coolant_pressure_in_Pa"], found["coolant_pressure_out_Pa"]
    assert p_in == pytest.approx(20e5)
    assert found["coolant_pressure_drop_Pa"] == pytest.approx(p_in - p_out)
    h_in = PropsSI("H", "T", 290.0, "P", p_in, "Water")
    h_out = PropsSI("H", "T", found["coolant_temperature_out_K"], "P", p_out, "Water")
    assert FLOW * (h_out - h_in) == pytest.approx(found["heat_total_W"], rel=TABLE)
    assert found["coolant_mass_flow_kg_s"] == FLOW
    # peaks by the parabola through the highest three rows
    for column, top, place in (
        ("T_wall_hot_K", "T_wall_hot_max_K", "x_T_wall_hot_max_m"),
        ("q_W_m2", "q_max_W_m2", "x_q_max_m"),
    ):
        three = np.argmax(table[column]) + np.array([-1, 0, 1])
        a, b, c = np.polyfit(1e3 * x[three], table[column][three], 2)
        assert found[top] == pytest.approx(c - b**2 / (4 * a), rel=1e-6), top
        assert 1e3 * found[place] == pytest.approx(-b / (2 * a), abs=1e-3), place
    assert abs(found["x_q_max_m"] - found["x_T_wall_hot_max_m"]) > 1e-5
    cold = table["T_wall_cold_K"].max()
    assert found["T_wall_cold_max_K"] == pytest.approx(cold, rel=PEAK)
    assert found["throat_diameter_m"] == pytest.approx(0.025)
    # p0 A_t/c*, both of the nozzle
    through = found["nozzle_stagnation_pressure_Pa"] * np.pi * 0.0125**2
    through /= found["characteristic_velocity_m_s"]
    assert found["gas_mass_flow_kg_s"] == pytest.approx(through, rel=1e-9)
    assert 0.95e6 < found["nozzle_stagnation_pressure_Pa"] < 1.0e6


def test_the_chamber_temperature_counts_the_efficiency(design, result):
    """The gas's own, at rest: hardly above that in the barrel, and colder than without losses."""
    whole = replace(design, chamber=replace(design.chamber, combustion_efficiency=1.0))
    prepared = prepare(whole)
    head = headline(prepared, solve_nominal(prepared))
    T = result.summary["chamber_temperature_K"]
    # an efficiency of 0.93 on c*, which goes about with the root of T: some 7 to 13 % of it
    assert 0.86 < T / head["chamber_temperature_K"] < 0.95
    assert 0.99 < result.stations["T_gas_K"][0] / T < 1.0


def test_the_worst_channel_has_its_own_columns(result):
    """One slot at an end of each tolerance, 0.03 and twice 0.05 mm, hotter and short of flow."""
    own, worst = result.stations, result.worst_stations
    for column, tolerance in (
        ("channel_width_m", 0.03e-3),
        ("channel_depth_m", 0.05e-3),
        ("wall_m", 0.05e-3),
    ):
        np.testing.assert_allclose(np.abs(worst[column] - own[column]), tolerance, rtol=1e-6)
    np.testing.assert_array_equal(worst["x_m"], own["x_m"])
    assert result.worst_channel["coolant_mass_flow_kg_s"] < FLOW
    assert np.all(worst["T_wall_hot_K"] > own["T_wall_hot_K"])
    hottest = worst["T_wall_hot_K"].max()
    assert result.worst_channel["T_wall_hot_max_K"] == pytest.approx(hottest, rel=PEAK)
