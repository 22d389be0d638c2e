"""Film cooling where all is known by hand: mixing, the liquid's length, what drives the heat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.gas.feeds import feed_enthalpy
from regen.gas.film import Wall, entrained, slot, with_film
from regen.gas.vapour import TEMPERATURES, vapour
from regen.physics import arrays as A
from regen.physics.gasside import bartz
from tests.helpers.places import CASES

ROUNDED = 1e-9
S, LENGTH, R = 401, 0.4, 0.03
TRAPEZOID = 1e-6
T_AW = 300.0 + 6e6 / 1900.0  # of the fixture, by its enthalpy


def design_of(**film):
    design = load_case(CASES / "c-ethanol-film.toml").design
    given = {"mass_flow": 0.05, "fuel_fraction": None, **film}
    return replace(design, film=replace(design.film, **given))


@pytest.fixture
def straight(plain_gas):
    """A cylinder that ends ahead of the throat, and one state of gas all along it."""
    x = np.linspace(-LENGTH - 0.01, -0.01, S)
    gas = plain_gas(S)
    gas.stagnation[..., A.S_THROAT_DIAMETER] = 0.1  # enough fuel for any film here
    return gas, Wall(x, np.full(S, R), x - x[0])


def rows(gas, field):
    return gas.core[0, 0, :, field]


def test_entrainment_and_slot_by_hand():
    # 3 kg/s passed for each kg/s of film, a twentieth of it mixed in: 1/(1 + 0.15)
    assert entrained(np.array([3.0]), 0.05)[0] == pytest.approx(1 / 1.15, rel=ROUNDED)
    # 3.03 * 100^-0.8 * 1000^0.2 = 3.03 * 0.0251189 * 3.98107
    assert slot(np.array([100.0]), 1000.0)[0] == pytest.approx(0.303, rel=1e-6)
    assert slot(np.array([1e-3, 10.0]), 1000.0) == pytest.approx([1.0, 1.0])


@pytest.mark.parametrize("model", ["entrainment", "slot"])
def test_a_gas_film_mixes_in_enthalpy(straight, model):
    gas, wall = straight
    made, report = with_film(gas, design_of(state="gas", model=model, temperature=500.0), wall)
    # int G 2 pi R ds over the flow: 1.6 kg/m3 at 800 m/s
    passed = 1.6 * 800.0 * 2 * np.pi * R * wall.s / 0.05
    if model == "entrainment":
        eta = 1 / (1 + 0.05 * passed)
    else:
        Re = 0.05 / (2 * np.pi * R * 9e-5)
        eta = np.minimum(3.03 * np.maximum(passed, 1e-12) ** -0.8 * Re**0.2, 1.0)
    assert report.effectiveness == pytest.approx(eta, rel=TRAPEZOID)
    h_film = feed_enthalpy("ethanol", phase="gas", temperature=500.0, pressure=20e5)
    mixed = (1 - eta) * 6e6 + eta * h_film
    # the vapour counts as an ideal gas: where there is hardly any core, its heat of departure at
    # 20 bar would make it colder than the film, so that is where enthalpy ends
    free = eta < 0.95
    assert rows(made, A.G_H_AW)[free] == pytest.approx(mixed[free], rel=ROUNDED)
    nodes = gas.layer_T[0, 0] + gas.layer_T[0, 1] * np.arange(90)
    pure = np.interp(nodes, TEMPERATURES, vapour("ethanol").h)
    i = S // 2
    expected = (1 - eta[i]) * gas.layer[0, i, :, A.LAYER_H] + eta[i] * pure
    assert made.layer[0, i, :, A.LAYER_H] == pytest.approx(expected, rel=ROUNDED)
    # temperature and enthalpy of the adiabatic wall belong together everywhere
    T_aw, h_aw = rows(made, A.G_T_AW), rows(made, A.G_H_AW)
    for k in range(0, S, 40):
        at = np.interp(T_aw[k], nodes, made.layer[0, k, :, A.LAYER_H])
        assert h_aw[k] == pytest.approx(at, abs=1.0)
    assert np.all(T_aw >= 500.0 - 1e-6)
    assert np.all(np.diff(T_aw) >= -1e-6)
    # what the coefficient rests on is untouched
    for field in (A.LAYER_MU, A.LAYER_K, A.LAYER_CP, A.LAYER_MOLAR_MASS):
        np.testing.assert_array_equal(made.layer[..., field], gas.layer[..., field])
    # the edge keeps its distance to the adiabatic wall, which is what velocity adds
    recovered = rows(made, A.G_H_AW) - rows(made, A.G_H)
    assert recovered == pytest.approx(np.full(S, 6e6 - 5.7e6), rel=1e-6)


def test_a_film_drives_less_in_enthalpy_than_its_temperature_says(straight):
    """Ethanol takes more heat to warm than the core gives: the trap of mixing temperatures."""
    gas, wall = straight
    made, report = with_film(gas, design_of(state="gas", temperature=500.0), wall)
    eta = report.effectiveness
    by_temperature = (1 - eta) * T_AW + eta * 500.0
    some = (eta > 0.2) & (eta < 0.9)
    assert np.all(np.abs(rows(made, A.G_T_AW)[some] / by_temperature[some] - 1.0) > 0.02)


def test_ahead_of_its_injection_there_is_no_film(straight):
    gas, wall = straight
    begins = float(wall.x[100])
    made, report = with_film(
        gas, design_of(state="gas", temperature=500.0, injected_at=begins), wall
    )
    for before, after in ((gas.core, made.core), (gas.layer[:, None], made.layer[:, None])):
        np.testing.assert_array_equal(after[:, :, :100], before[:, :, :100])
    assert np.all(report.effectiveness[:100] == 0.0)
    assert report.effectiveness[100] == pytest.approx(1.0)


def surface_flux(T, factor=1.0):
    """The closed form on a surface of temperature T for the fixture, its throat at 0.1 m."""
    throat = 0.026 / 0.1**0.2 * (1e-4**0.2 * 2200.0 / 0.6**0.6) * (30e5 / 1750.0) ** 0.8
    throat *= (0.1 / 0.02) ** 0.1
    rise = 1 + 0.075 * 0.7**2
    h = bartz(h_flow=throat * 1.2**-0.9 * rise**-0.12, rise=rise, T0=3300.0, T_w=T)
    return factor * h * (3200.0 - T)


@pytest.mark.parametrize("radiation", [0.0, 4e6])
def test_a_liquid_lasts_as_long_as_its_heat_of_evaporation(straight, radiation):
    gas, wall = straight
    gas.core[..., A.G_RADIATION] = radiation
    film = design_of(state="liquid", temperature=300.0, mass_flow=0.5)
    made, report = with_film(gas, film, wall)
    T_sat, h_vapour = (v[0] for v in vapour("ethanol").saturation(np.array([20e5])))
    liquid = feed_enthalpy("ethanol", phase="liquid", temperature=300.0, pressure=20e5, fixed=True)
    q = surface_flux(T_sat) + radiation * (1 - (T_sat / 3000.0) ** 4)
    length = 0.5 * (h_vapour - liquid) / (q * 2 * np.pi * R)
    assert 0.02 < length < LENGTH
    assert report.dry_at - wall.x[0] == pytest.approx(length, rel=1e-6)
    wet = wall.x < report.dry_at
    # saturation drives both forms, and radiation ends in the liquid
    assert rows(made, A.G_T_AW)[wet] == pytest.approx(np.full(wet.sum(), T_sat))
    nodes = gas.layer_T[0, 0] + gas.layer_T[0, 1] * np.arange(90)
    h_sat = np.interp(T_sat, nodes, gas.layer[0, 0, :, A.LAYER_H])
    assert rows(made, A.G_H_AW)[wet] == pytest.approx(np.full(wet.sum(), h_sat))
    assert np.all(rows(made, A.G_RADIATION)[wet] == 0.0)
    assert np.all(rows(made, A.G_RADIATION)[~wet] == radiation)
    # beyond, all of it is vapour at saturation, and mixes
    passed = 1.6 * 800.0 * 2 * np.pi * R * (wall.x - report.dry_at)[~wet] / 0.5
    eta = 1 / (1 + 0.05 * passed)
    assert report.effectiveness[~wet] == pytest.approx(eta, rel=TRAPEZOID)
    mixed = (1 - eta) * 6e6 + eta * h_vapour
    free = eta < 0.9
    assert rows(made, A.G_H_AW)[~wet][free] == pytest.approx(mixed[free], rel=ROUNDED)


def test_twice_the_liquid_wets_twice_as_far_and_half_the_flux_too(straight):
    gas, wall = straight

    def length(flow, factor=1.0):
        gas.core[..., A.G_FACTOR] = factor
        film = design_of(state="liquid", temperature=300.0, mass_flow=flow)
        return with_film(gas, film, wall)[1].dry_at - wall.x[0]

    one = length(0.4)
    assert length(0.8) == pytest.approx(2 * one, rel=1e-9)
    assert length(0.4, 0.5) == pytest.approx(2 * one, rel=1e-9)


def test_more_film_is_colder_everywhere(straight):
    gas, wall = straight
    walls = [
        rows(
            with_film(gas, design_of(state="gas", temperature=500.0, mass_flow=m), wall)[0],
            A.G_T_AW,
        )
        for m in (0.01, 0.03, 0.09)
    ]
    assert np.all(walls[0][1:] > walls[1][1:])
    assert np.all(walls[1][1:] > walls[2][1:])
    assert np.all(walls[0] < T_AW)


@pytest.fixture
def returned(straight):
    """The cylinder at two total enthalpies: the hotter core carries more, and heats more."""
    gas, wall = straight
    stagnation = np.repeat(gas.stagnation, 2, axis=1)
    core = np.repeat(gas.core, 2, axis=1)
    core[:, 1, :, A.G_U] *= 1.25
    core[:, 1, :, A.G_FACTOR] *= 1.5
    return gas._replace(h0=np.array([[0.0, 1e6]]), core=core, stagnation=stagnation), wall


def test_a_film_mixes_at_the_rate_of_the_hottest_core(returned):
    """1.6 kg/m3 at 1.25 x 800 m/s, not at 800: the film ends soonest in the hottest gas."""
    gas, wall = returned
    made, report = with_film(gas, design_of(state="gas", temperature=500.0), wall)
    passed = 1.6 * 1000.0 * 2 * np.pi * R * wall.s / 0.05
    eta = 1 / (1 + 0.05 * passed)
    assert report.effectiveness == pytest.approx(eta, rel=TRAPEZOID)
    h_film = feed_enthalpy("ethanol", phase="gas", temperature=500.0, pressure=20e5)
    free = eta < 0.95
    for node in (0, 1):
        h_aw = made.core[0, node, :, A.G_H_AW]
        assert h_aw[free] == pytest.approx(((1 - eta) * 6e6 + eta * h_film)[free], rel=ROUNDED)


def test_a_liquid_is_dry_where_the_hottest_core_dries_it(returned):
    gas, wall = returned
    film = design_of(state="liquid", temperature=300.0, mass_flow=0.5)
    _, report = with_film(gas, film, wall)
    T_sat, h_vapour = (v[0] for v in vapour("ethanol").saturation(np.array([20e5])))
    liquid = feed_enthalpy("ethanol", phase="liquid", temperature=300.0, pressure=20e5, fixed=True)
    length = 0.5 * (h_vapour - liquid) / (surface_flux(T_sat, 1.5) * 2 * np.pi * R)
    assert report.dry_at - wall.x[0] == pytest.approx(length, rel=1e-6)
