"""The boundary layer's length along a chamber, and the flat-plate form that rests on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.gas import wall as gas_wall
from regen.gas.wall import effective_length, hot_gas_table, wall_gas
from regen.geometry.contour import build_contour
from regen.physics import arrays as A
from regen.physics.gasside import integral_layer
from regen.solver.prepare import prepare
from tests.helpers.places import CASES

TRAPEZOID = 2e-5  # 400 steps of a smooth curve
ROUNDED = 1e-12
SAME_LENGTH = 2e-4  # two grids, both a tenth of the throat radius fine
STATED_SHARE = 0.02  # what the assumed wall temperature may be worth on the coefficient
STATED_START = 0.015  # and what the start length is, "about 1 %"


def test_constant_everything_is_a_flat_plate():
    s, same = np.linspace(0.0, 0.3, 31), np.ones(31)
    found = effective_length(s, 0.05 * same, 800.0 * same, 9e6 * same, 0.01)
    assert found == pytest.approx(0.01 + s, rel=ROUNDED)


def test_a_mass_flux_that_grows_exponentially_has_a_layer_of_constant_length():
    a, start = 12.0, 0.02
    s = np.linspace(0.0, 0.4, 401)
    same = np.ones(s.size)
    found = effective_length(s, 0.05 * same, np.exp(a * s), 9e6 * same, start)
    assert found == pytest.approx(start * np.exp(-a * s) + (1 - np.exp(-a * s)) / a, rel=TRAPEZOID)


@pytest.mark.parametrize("power", [1.25])
def test_radius_and_drive_count_with_the_same_power(power):
    s = np.linspace(0.0, 0.2, 401)
    same, cone = np.ones(s.size), 1.0 + 3.0 * s
    # int (1 + 3 s)^1.25 ds in closed form
    grown = (cone ** (power + 1) - 1.0) / (3.0 * (power + 1))
    expected = (0.02 + grown) / cone**power
    for r, drive in ((cone, same), (same, cone)):
        found = effective_length(s, 0.05 * r, 800.0 * same, 9e6 * drive, 0.02)
        assert found == pytest.approx(expected, rel=TRAPEZOID)


def test_the_coefficient_is_that_of_a_flat_plate_whatever_the_diameter():
    G, mu, k, Pr, x = 900.0, 8e-5, 0.4, 0.6, 0.25
    by_hand = 0.0287 * k / x * (G * x / mu) ** 0.8 * Pr**0.6  # St Pr^0.4 Re_x^0.2 = 0.0287
    for D in (0.04, 0.3):
        found = integral_layer(Re_ref=G * D / mu, Pr_ref=Pr, k_ref=k, D=D, x_eff=x)
        assert found == pytest.approx(by_hand, rel=ROUNDED)


def lengths(*overrides: str):
    prepared = prepare(load_case(CASES / "b-hydrogen.toml", overrides).design)
    return prepared.passage.x, prepared.rows.joined([prepared.gas.core[0, 0]])[:, A.G_X_EFF]


def test_slots_that_begin_later_see_the_layer_grown_upstream_of_them():
    x, whole = lengths()
    middle = float(x[x.size // 3])
    later, part = lengths(f'channels.cooled_from="{middle * 1e3:.9g} mm"')
    assert later[0] == pytest.approx(middle, abs=1e-9)
    assert part == pytest.approx(np.interp(later, x, whole), rel=5e-3)  # linear between stations
    assert part[0] == pytest.approx(np.interp(later[0], x, whole), rel=SAME_LENGTH)


def test_the_layer_begins_with_its_stated_length_and_shortens_at_the_throat():
    x, x_eff = lengths()
    design = load_case(CASES / "b-hydrogen.toml").design
    barrel = design.contour.throat_diameter * design.contour.contraction_ratio**0.5
    assert x_eff[0] == pytest.approx(gas_wall.START_LENGTH * barrel, rel=1e-9)
    # acceleration thins the layer: shorter at the throat than ahead of the convergent part
    assert x_eff[np.argmin(np.abs(x))] < x_eff.max()


@pytest.fixture(scope="module")
def reference():
    """The core of case B on its own contour, at fine stations."""
    design = load_case(CASES / "b-hydrogen.toml").design
    design = replace(design, coolant=replace(design.coolant, returns_to_injector=False))
    contour = build_contour(design.contour)
    table = hot_gas_table(design, (contour.contraction_ratio, contour.area_ratio_exit))
    x = np.linspace(contour.x_injector, 0.0, 300)
    return design, contour, table, x


def test_the_assumed_wall_temperature_is_worth_less_than_stated(reference):
    """A wall from 450 K in the barrel to 850 K at the throat, against 700 K everywhere."""
    design, contour, table, x = reference
    gas = wall_gas(design, contour, table, x).gas
    core = gas.core[0, 0]
    r = contour.radius(x)
    s = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(r)))])
    T = gas.layer_T[0, 0] + gas.layer_T[0, 1] * np.arange(gas.layer.shape[2])
    flux = core[:, A.G_RHO] * core[:, A.G_U]
    start = gas_wall.START_LENGTH * 2 * r[0]
    wall = np.interp(core[:, A.G_AREA_RATIO], [1.0, core[0, A.G_AREA_RATIO]], [850.0, 450.0])
    for T_wall in (wall, wall[::-1], np.full(x.size, 400.0), np.full(x.size, 1000.0)):
        h_wall = [
            np.interp(t, T, row) for t, row in zip(T_wall, gas.layer[0, :, :, 0], strict=True)
        ]
        own = effective_length(s, r, flux, core[:, A.G_H_AW] - h_wall, start)
        worth = (own / core[:, A.G_X_EFF]) ** -0.2 - 1.0
        assert np.abs(worth).max() < STATED_SHARE


def test_the_start_length_is_worth_what_is_stated_at_the_throat(reference, monkeypatch):
    design, contour, table, x = reference
    found = []
    for start in (0.1, 0.02):
        monkeypatch.setattr(gas_wall, "START_LENGTH", start)
        core = wall_gas(design, contour, table, x).gas.core[0, 0]
        found.append(core[-1, A.G_X_EFF] ** -0.2)
    assert abs(found[1] / found[0] - 1.0) < STATED_START
