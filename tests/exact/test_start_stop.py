"""Start and stop of a solved chamber against balances that use none of its parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.optimize import brentq

from regen.case import load_case
from regen.checks import start_stop
from regen.checks.columns import columns, headline
from regen.checks.lane import Lane
from regen.checks.mass import mass_parts
from regen.prepare import prepare
from regen.properties import metals
from regen.solve import solve_nominal
from tests.places import CASES

MIDLINE = 0.03
"""The slot's mid-line is longer or shorter than the contour by about the depth over the radius."""
TABLE = 2e-3
"""Property table against the equation of state, and trapezoids over 40 stations."""


@pytest.fixture(scope="module")
def ethanol():
    """Return the bare ethanol chamber: subcooled all through, below the critical pressure."""
    design = load_case(CASES / "c-ethanol-bare.toml", ["models.stations=40"]).design
    prepared = prepare(design)
    marched = solve_nominal(prepared)
    lane = Lane(
        columns(prepared, marched, prepared.paths), headline(prepared, marched, prepared.paths)
    )
    return prepared, lane


def said(prepared, lane):
    return {f.name: f for f in start_stop.findings(prepared, lane)}


def test_the_flow_sweeps_the_slots_in_the_time_it_needs_to_pass(ethanol):
    prepared, lane = ethanol
    s = lane.stations
    order = np.argsort(s["passage_length_m"])
    along, slow = s["passage_length_m"][order], 1.0 / s["v_coolant_m_s"][order]
    passing = np.trapezoid(slow, along)
    assert said(prepared, lane)["sweep_time"].value == pytest.approx(passing, rel=MIDLINE)


def test_heat_to_boil_is_that_of_the_equation_of_state(ethanol):
    prepared, lane = ethanol
    s = lane.stations
    states = list(zip(s["T_coolant_K"], s["p_coolant_Pa"], strict=True))
    rho = np.array([PropsSI("D", "T", T, "P", p, "Ethanol") for T, p in states])
    h = np.array([PropsSI("H", "T", T, "P", p, "Ethanol") for T, p in states])
    h_l = np.array([PropsSI("H", "Q", 0, "P", p, "Ethanol") for _, p in states])
    line = prepared.passage.count * s["channel_width_m"] * s["channel_depth_m"] * rho * (h_l - h)
    length = np.concatenate([[0.0], np.cumsum(prepared.passage.step_gas[1:])])
    expected = np.trapezoid(line, length)
    assert said(prepared, lane)["heat_to_boil"].value == pytest.approx(expected, rel=TABLE)


def test_metal_of_one_temperature_holds_its_mass_times_the_rise(ethanol):
    prepared, lane = ethanol
    s = dict(lane.stations)
    T = np.full(s["x_m"].shape, 700.0)
    for name in ("T_wall_hot_mean_K", "T_wall_hot_K", "T_wall_cold_K"):
        s[name] = T
    # a coolant that takes nothing up leaves the whole land, and the closeout, at its foot's 700 K
    s["h_coolant_W_m2K"] = np.full(T.shape, 1e-6)
    s["p_coolant_Pa"] = np.full(T.shape, 20e5)
    rise = 700.0 - PropsSI("T", "Q", 0, "P", 20e5, "Ethanol")
    masses = mass_parts(prepared.design, prepared.paths)
    # 380 J/(kg K) is the liner's only row; 425.2 copper's at 700 K and, between 592 at 600 K and
    # 530 at 800 K, 561 nickel's, both from handbooks
    expected = rise * (masses.liner * 380.0 + masses.copper * 425.2 + masses.jacket * 561.0)
    stored = said(prepared, Lane(s, lane.totals))["stored_heat"].value
    assert stored == pytest.approx(float(expected), rel=TABLE)


def test_a_dry_wall_is_told_from_the_temperature_the_case_gives(ethanol):
    prepared, lane = ethanol
    found = said(prepared, lane)
    limit, solidus = (found[f"dry_wall_time_to_{n}"].value for n in ("limit", "solidus"))
    assert 0.0 < limit < solidus
    design = prepared.design
    warm = replace(
        prepared, design=replace(design, life=replace(design.life, start_temperature=600.0))
    )
    assert said(warm, lane)["dry_wall_time_to_limit"].value < limit
    flux = np.max(lane.stations["h_gas_W_m2K"] * (lane.stations["T_aw_K"] - 293.15))
    assert found["ignition_flux"].value == pytest.approx(flux, rel=0.01)  # peak between stations


def slab_rise(time, q, k, t):
    """Return the rise of a slab's hot face [K], its back insulated; 8900 x 380 J/(m3 K)."""
    Fo = time * k / (8900.0 * 380.0 * t**2)
    n = np.arange(1, 200)
    series = np.sum(np.exp(-((n * np.pi) ** 2) * Fo) / n**2)
    return q * t / k * (Fo + 1.0 / 3.0 - 2.0 / np.pi**2 * series)


def test_a_dry_wall_that_conducts_half_as_well_is_hot_sooner(ethanol):
    prepared, lane = ethanol
    design = prepared.design
    half = replace(
        prepared, design=replace(design, models=replace(design.models, conductivity_factor=0.5))
    )
    name = "dry_wall_time_to_limit"
    whole, sooner = said(prepared, lane)[name], said(half, lane)[name]
    assert whole.x_m == sooner.x_m
    limit = float(metals.liner(design).limit(design.limits.service).value)
    middle, rise = 0.5 * (293.15 + limit), limit - 293.15
    k = float(metals.liner(design).value("thermal_conductivity", middle).value)
    t = float(lane.stations["wall_m"][lane.stations["x_m"] == whole.x_m][0])
    # the flux of that station is what makes the whole conductivity take its time
    q = rise / slab_rise(whole.value, 1.0, k, t)
    by_hand = brentq(lambda time: slab_rise(time, q, 0.5 * k, t) - rise, 1e-4, 10.0, xtol=1e-12)
    assert sooner.value == pytest.approx(by_hand, rel=1e-6)
    assert sooner.value < 0.98 * whole.value


def test_what_has_no_heat_capacity_is_not_assessed_and_said(ethanol):
    prepared, lane = ethanol
    liner = replace(prepared.design.liner, alloy="Cu-Ag-Zr")
    found = said(replace(prepared, design=replace(prepared.design, liner=liner)), lane)
    assert found["purge_time"].value is None
    assert "specific_heat of Cu-Ag-Zr" in found["purge_time"].note
