"""Start and stop of a solved chamber against balances that use none of its parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.optimize import brentq

from regen.case.read import load_case
from regen.checks import start_stop
from regen.checks.mass import mass_parts
from regen.checks.runs import Run
from regen.checks.stations import columns, headline
from regen.design import Models
from regen.gas.flux import surface_flux
from regen.metals import selection as metals
from regen.physics import arrays as A
from regen.solver.prepare import prepare
from regen.solver.solve import solve_nominal
from tests.helpers.places import CASES

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
    run = Run(columns(prepared, marched), headline(prepared, marched))
    return prepared, run


def said(prepared, run):
    return {f.name: f for f in start_stop.findings(prepared, run)}


def test_the_flow_sweeps_the_slots_in_the_time_it_needs_to_pass(ethanol):
    prepared, run = ethanol
    s = run.stations
    order = np.argsort(s["passage_length_m"])
    along, slow = s["passage_length_m"][order], 1.0 / s["v_coolant_m_s"][order]
    passing = np.trapezoid(slow, along)
    assert said(prepared, run)["sweep_time"].value == pytest.approx(passing, rel=MIDLINE)


def test_heat_to_boil_is_that_of_the_equation_of_state(ethanol):
    prepared, run = ethanol
    s = run.stations
    states = list(zip(s["T_coolant_K"], s["p_coolant_Pa"], strict=True))
    rho = np.array([PropsSI("D", "T", T, "P", p, "Ethanol") for T, p in states])
    h = np.array([PropsSI("H", "T", T, "P", p, "Ethanol") for T, p in states])
    h_l = np.array([PropsSI("H", "Q", 0, "P", p, "Ethanol") for _, p in states])
    line = prepared.passage.count * s["channel_width_m"] * s["channel_depth_m"] * rho * (h_l - h)
    length = np.concatenate([[0.0], np.cumsum(prepared.passage.step_gas[1:])])
    expected = np.trapezoid(line, length)
    assert said(prepared, run)["heat_to_boil"].value == pytest.approx(expected, rel=TABLE)


def test_metal_of_one_temperature_holds_its_mass_times_the_rise(ethanol):
    prepared, run = ethanol
    s = dict(run.stations)
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
    stored = said(prepared, Run(s, run.totals))["stored_heat"].value
    assert stored == pytest.approx(float(expected), rel=TABLE)


def test_a_dry_wall_is_told_from_the_temperature_the_case_gives(ethanol):
    prepared, run = ethanol
    found = said(prepared, run)
    limit, solidus = (found[f"dry_wall_time_to_{n}"].value for n in ("limit", "solidus"))
    assert 0.0 < limit < solidus
    design = prepared.design
    warm = replace(
        prepared, designs=(replace(design, life=replace(design.life, start_temperature=600.0)),)
    )
    assert said(warm, run)["dry_wall_time_to_limit"].value < limit
    flux = np.max(closed_form(prepared))
    assert found["ignition_flux"].value == pytest.approx(flux, rel=0.01)  # peak between stations


def slab_rise(time, q, k, t):
    """Return the rise of a slab's hot face [K], its back insulated; 8900 x 380 J/(m3 K)."""
    Fo = time * k / (8900.0 * 380.0 * t**2)
    n = np.arange(1, 200)
    series = np.sum(np.exp(-((n * np.pi) ** 2) * Fo) / n**2)
    return q * t / k * (Fo + 1.0 / 3.0 - 2.0 / np.pi**2 * series)


def test_a_dry_wall_that_conducts_half_as_well_is_hot_sooner(ethanol):
    prepared, run = ethanol
    design = prepared.design
    half = replace(
        prepared, designs=(replace(design, models=replace(design.models, conductivity_factor=0.5)),)
    )
    name = "dry_wall_time_to_limit"
    whole, sooner = said(prepared, run)[name], said(half, run)[name]
    assert whole.x_m == sooner.x_m
    limit = float(metals.liner(design).limit(design.limits.service).value)
    middle, rise = 0.5 * (293.15 + limit), limit - 293.15
    k = float(metals.liner(design).value("thermal_conductivity", middle).value)
    t = float(run.stations["wall_m"][run.stations["x_m"] == whole.x_m][0])
    # the flux of that station is what makes the whole conductivity take its time
    q = rise / slab_rise(whole.value, 1.0, k, t)
    by_hand = brentq(lambda time: slab_rise(time, q, 0.5 * k, t) - rise, 1e-4, 10.0, xtol=1e-12)
    assert sooner.value == pytest.approx(by_hand, rel=1e-6)
    assert sooner.value < 0.98 * whole.value


def closed_form(prepared, T_wall=293.15):
    """Flux of the closed form on a cold wall by rising x, term by term, propellants as fed."""
    stag = prepared.gas.stagnation[0, 0]
    mu, cp, Pr, p0, cstar, T0, g, D, rc = stag[
        [A.S_MU, A.S_CP, A.S_PR, A.S_P0, A.S_CSTAR, A.S_T0, A.S_GAMMA, A.S_THROAT_DIAMETER,
         A.S_THROAT_CURVATURE]
    ]  # fmt: skip
    throat = 0.026 / D**0.2 * mu**0.2 * cp / Pr**0.6 * (p0 / cstar) ** 0.8 * (D / rc) ** 0.1
    core = prepared.rows.joined(list(prepared.gas.core[:, 0]))
    rise = 1.0 + 0.5 * (g - 1.0) * core[:, A.G_MACH] ** 2
    sigma = (0.5 * T_wall / T0 * rise + 0.5) ** -0.68 * rise**-0.12
    area = (D / 2.0 / prepared.passage.r) ** 2
    return throat * area**0.9 * sigma * (core[:, A.G_T_AW] - T_wall)


@pytest.mark.parametrize("name", ["a-methane", "c-ethanol-bare", "d-water-calorimeter"])
def test_ignition_flux_is_that_of_the_form_on_the_cold_wall(name):
    """Counterflow, returned heat, six circuits: every row, and well above the running h."""
    prepared = prepare(load_case(CASES / f"{name}.toml").design)
    found = start_stop.ignition_flux(prepared)
    np.testing.assert_allclose(found, closed_form(prepared), rtol=1e-9)
    marched = solve_nominal(prepared)
    s = columns(prepared, marched)
    fed = prepared.rows.joined(list(prepared.gas.core[:, 0]))[:, A.G_T_AW]
    running = s["h_gas_W_m2K"] * (fed - 293.15)
    throat = int(np.argmin(prepared.passage.r))
    # sigma by hand, gamma 1.15, M 1, T0 3000 K: 1.48 at 293 K, 1.42 at 500 K, 1.36 at 730 K
    assert 1.02 < found[throat] / running[throat] < 1.12


def test_sigma_on_a_cold_wall_as_worked_by_hand():
    """T0 3000 K, gamma 1.2, M 1: rise 1.1, first bracket 0.5 0.1 1.1 + 0.5 = 0.555.

    0.555^-0.68 = 1.4923 and 1.1^-0.12 = 0.98863, so sigma is 1.4753 on a wall of 300 K.
    """
    prepared = prepare(load_case(CASES / "d-water-calorimeter.toml").design)
    gas = A.GasStations(*(values[:1].copy() for values in prepared.gas))
    core, stag = gas.core[0, 0, :1], gas.stagnation[0, 0]
    stag[[A.S_MU, A.S_CP, A.S_PR, A.S_P0, A.S_CSTAR]] = 1.0
    stag[[A.S_THROAT_DIAMETER, A.S_THROAT_CURVATURE]] = 1.0
    stag[A.S_T0], stag[A.S_GAMMA] = 3000.0, 1.2
    core[0, [A.G_MACH, A.G_AREA_RATIO, A.G_FACTOR]] = 1.0
    core[0, A.G_T_AW], core[0, A.G_RADIATION] = 2900.0, 0.0
    q = surface_flux(gas, core, stag, Models(), np.array([0.5]), np.array([300.0]))
    assert q[0] == pytest.approx(0.026 * 1.4753 * 2600.0, rel=1e-4)  # the digits above


def test_ignition_flux_knows_factors_and_film():
    bare, fitted, filmed = (
        start_stop.ignition_flux(prepare(load_case(CASES / f"{name}.toml", sets).design))
        for name, sets in (
            ("c-ethanol-bare", []),
            ("c-ethanol-bare", ["models.barrel_factor=0.5", "models.throat_factor=0.5"]),
            ("c-ethanol-film", []),
        )
    )
    np.testing.assert_allclose(fitted, 0.5 * bare, rtol=1e-12)
    # ethanol boils at 430 K: the wet wall of 293 K takes 137 of some 2130 K
    assert filmed[0] == pytest.approx(bare[0] * (430.6 - 293.15) / (2425.0 - 293.15), rel=0.02)


# --- a film colder than the coolant -------------------------------------------------------------
def test_stations_without_heat_are_left_out_and_said():
    sets = ['film.mass_flow="0.5 fuel"']
    prepared = prepare(load_case(CASES / "a-methane.toml", sets).design)
    marched = solve_nominal(prepared)
    s = columns(prepared, marched)
    run = Run(s, headline(prepared, marched))
    cold = s["q_W_m2"] == 0.0
    assert 5 < cold.sum() < 40
    found = said(prepared, run)
    for name in ("wall_time_constant", "structure_time_constant", "purge_time"):
        assert 0.0 < found[name].value < 30.0
        assert found[name].x_m > s["x_m"][cold].max()
        assert f"without {cold.sum()} of {cold.size} stations" in found[name].note
    # the film's 112 K are below the wall's 293 K: nothing to heat it where it is wet
    assert np.all(start_stop.ignition_flux(prepared)[cold] < 0.0)
    assert 0.0 < found["dry_wall_time_to_limit"].value < 1.0


def test_without_any_heat_nothing_is_made_up():
    sets = ['film.mass_flow="fuel"', 'coolant.inlet_temperature="445 K"']
    prepared = prepare(load_case(CASES / "c-ethanol-bare.toml", sets).design)
    marched = solve_nominal(prepared)
    head = headline(prepared, marched)
    assert head["heat_total_W"] == 0.0
    assert head["energy_residual"] == 0.0
    found = said(prepared, Run(columns(prepared, marched), head))
    for name in ("wall_time_constant", "structure_time_constant", "purge_time"):
        assert found[name].value is None
        assert found[name].note


def test_what_has_no_heat_capacity_is_not_assessed_and_said(ethanol):
    prepared, run = ethanol
    liner = replace(prepared.design.liner, alloy="Cu-Ag-Zr")
    found = said(replace(prepared, designs=(replace(prepared.design, liner=liner),)), run)
    assert found["purge_time"].value is None
    assert "specific_heat of Cu-Ag-Zr" in found["purge_time"].note
