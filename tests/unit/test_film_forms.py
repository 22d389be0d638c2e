"""Forms on film and wall properties inside the core, against the equation of state itself."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from regen.coolant.table import coolant_table
from regen.physics._dispatch import COOLANT_SIDE
from regen.physics.arrays import Stream
from regen.physics.enhance import entrance_rise
from regen.physics.film import ON_FILM, ON_WALL, dense_film, liquid_film
from regen.physics.registry import CORRELATIONS, of_role
from regen.physics.tables import (
    coolant_h,
    coolant_hp,
    dense_at,
    isobar,
    pseudo_critical_T,
    saturation_temperature,
)

# The table's conductivity and heat capacity are within 0.4 % of the equation of state.
TABLE = 0.006
G, DH, X_D = 8000.0, 1.5e-3, 40.0


def stream(table, p: float, T: float, entrance: float = 0.0) -> Stream:
    h, _ = coolant_h(table, T, p)
    T, rho, mu, k, cp, _ = coolant_hp(table, h, p)
    return Stream(p, h, T, rho, mu, k, cp, G * DH / mu, mu * cp / k, X_D, DH, 1.0, entrance)


def true(T: float, p: float, name: str = "ParaHydrogen") -> tuple[float, ...]:
    keys = ("Dmass", "viscosity", "conductivity", "Cpmass", "Hmass")
    return tuple(PropsSI(key, "T", T, "P", p, name) for key in keys)


def at_wall(table, name: str, p: float, T_b: float, T_w: float, entrance: float = 0.0) -> float:
    bar, h_w = isobar(table, p), coolant_h(table, T_w, p)[0]
    bulk = stream(table, p, T_b, entrance)
    return dense_film(COOLANT_SIDE[name], table, bar, bulk, h_w, pseudo_critical_T(table, p))[0]


@pytest.mark.parametrize("T_b", [40.0, 80.0, 200.0])
@pytest.mark.parametrize("T_w", [300.0, 700.0])
@pytest.mark.parametrize(
    ("name", "constant", "slope"), [("hess_kunz", 0.0208, 0.01457), ("miller", 0.0204, 0.00983)]
)
def test_film_forms_take_their_properties_at_the_film(name, constant, slope, T_b, T_w):
    """h = C k_f/D Re_f^0.8 Pr_f^0.4 (1 + c nu_w/nu_b), Re_f = rho_f u_b D/mu_f."""
    table, p = coolant_table("hydrogen"), 120e5
    rho_b, mu_b, *_ = true(T_b, p)
    rho_w, mu_w, *_ = true(T_w, p)
    rho_f, mu_f, k_f, cp_f, _ = true(0.5 * (T_b + T_w), p)
    Re_f, Pr_f = rho_f * (G / rho_b) * DH / mu_f, mu_f * cp_f / k_f
    ratio = (mu_w / rho_w) / (mu_b / rho_b)
    expected = constant * k_f / DH * Re_f**0.8 * Pr_f**0.4 * (1.0 + slope * ratio)
    assert at_wall(table, name, p, T_b, T_w) == pytest.approx(expected, rel=TABLE)


def test_the_wall_form_takes_conductivity_at_the_wall():
    """Swenson: h = 0.00459 k_w/D Re_w^0.923 Pr_w^0.613 (rho_w/rho_b)^0.231."""
    table, p, T_b, T_w = coolant_table("methane"), 55e5, 150.0, 420.0
    rho_b, *_, h_b = true(T_b, p, "Methane")
    rho_w, mu_w, k_w, _, h_w = true(T_w, p, "Methane")
    Pr_w = mu_w * (h_w - h_b) / (T_w - T_b) / k_w
    expected = 0.00459 * k_w / DH * (G * DH / mu_w) ** 0.923 * Pr_w**0.613
    expected *= (rho_w / rho_b) ** 0.231
    assert at_wall(table, "swenson", p, T_b, T_w) == pytest.approx(expected, rel=TABLE)


def test_film_forms_below_the_critical_pressure_take_the_liquid():
    table, p, T_b, T_w = coolant_table("hydrogen"), 8e5, 20.0, 26.0
    rho_b, mu_b, *_ = true(T_b, p)
    rho_w, mu_w, *_ = true(T_w, p)
    rho_f, mu_f, k_f, cp_f, _ = true(23.0, p)
    Re_f = rho_f * (G / rho_b) * DH / mu_f
    ratio = (mu_w / rho_w) / (mu_b / rho_b)
    expected = 0.0208 * k_f / DH * Re_f**0.8 * (mu_f * cp_f / k_f) ** 0.4 * (1.0 + 0.01457 * ratio)
    bar = isobar(table, p)
    T_sat = saturation_temperature(table, bar)
    assert T_w < T_sat
    model, bulk = COOLANT_SIDE["hess_kunz"], stream(table, p, T_b)
    h_c, h_side, flag = liquid_film(model, 1, table, bar, bulk, T_w, T_sat, T_w)
    assert (h_c, flag) == (h_side, 0)
    assert h_c == pytest.approx(expected, rel=TABLE)


def test_oxygen_form_in_the_core():
    """0.0025 Re Pr^0.4 (rho_w/rho_b k_b/k_w)^1/2 (cp_bar/cp_b)^2/3 (p/pc)^-1/5 (1 + 2 D/L)."""
    table, p, T_b, T_w = coolant_table("oxygen"), 200e5, 140.0, 500.0
    rho_b, mu_b, k_b, cp_b, h_b = true(T_b, p, "Oxygen")
    rho_w, _, k_w, _, h_w = true(T_w, p, "Oxygen")
    cp_bar = (h_w - h_b) / (T_w - T_b)
    nu = 0.0025 * (G * DH / mu_b) * (mu_b * cp_b / k_b) ** 0.4
    nu *= (rho_w / rho_b * k_b / k_w) ** 0.5 * (cp_bar / cp_b) ** (2 / 3)
    nu *= (p / 5.043e6) ** -0.2 * (1.0 + 2.0 / X_D)
    assert at_wall(table, "spencer_rousar", p, T_b, T_w) == pytest.approx(nu * k_b / DH, rel=TABLE)


def test_forms_that_know_the_inlet_are_not_raised_twice():
    table, p, T_b, T_w = coolant_table("hydrogen"), 120e5, 80.0, 400.0
    for name in ("taylor", "mccarthy_wolf", "hess_kunz"):
        raised = at_wall(table, name, p, T_b, T_w, 1.0) / at_wall(table, name, p, T_b, T_w)
        usual = entrance_rise(X_D, T_w / T_b) if name != "taylor" else 1.0
        assert raised == pytest.approx(usual, rel=1e-6)


def test_the_basis_of_each_form_is_its_own():
    film = {name for name, number in COOLANT_SIDE.items() if ON_FILM[number]}
    assert film == {c.name for c in of_role("coolant_side") if "Re_f" in c.arguments}
    assert [name for name, number in COOLANT_SIDE.items() if ON_WALL[number]] == ["swenson"]
    assert CORRELATIONS["hess_kunz"].traits["basis"] == "film"
    referred = {c.name for c in of_role("gas_side") if "reference" in c.traits}
    assert referred == {c.name for c in of_role("gas_side") if "Re_ref" in c.arguments}


@pytest.mark.parametrize("T", [25.0, 60.0, 150.0, 900.0])
def test_properties_at_a_temperature_are_those_at_its_enthalpy(T):
    table, p = coolant_table("hydrogen"), 120e5
    by_T = dense_at(table, isobar(table, p), T)
    _, *by_h, _ = coolant_hp(table, coolant_h(table, T, p)[0], p)
    # the same cell, its place found by inverting the temperature to 1e-13
    assert by_T == pytest.approx(by_h, rel=1e-9)
