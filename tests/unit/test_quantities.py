"""One registry: what a key's suffix says, and how its values are shown."""

from __future__ import annotations

import math

import numpy as np
import pytest

from regen import quantities as q
from regen.result import STATION_COLUMNS
from regen.units import KINDS


@pytest.mark.parametrize("key", q.NAMED)
def test_a_named_quantity_is_shown_in_a_unit_of_its_suffix(key):
    shown = q.quantity(key)
    assert q.UNITS[shown.unit][0] == (q.si_of(key) or "-")


@pytest.mark.parametrize(
    ("key", "si"),
    [
        ("h_gas_W_m2K", "W/(m2 K)"),
        ("q_W_m2", "W/m2"),
        ("coolant_mass_flow_kg_s", "kg/s"),
        ("v_coolant_m_s", "m/s"),
        ("x_m", "m"),
        ("growth_time_s", "s"),
        ("mach_coolant", ""),
        ("Re_coolant", ""),
    ],
)
def test_a_suffix_names_the_si_unit(key, si):
    assert q.si_of(key) == si


def test_every_kind_of_a_case_has_a_suffix():
    for kind in ("conductivity", "thermal resistance", "mass flow", "toughness", "molar mass"):
        assert q.suffix(KINDS[kind].si) in q.SUFFIXES, kind
    assert q.suffix("m^2*K/W") == "m2K_W"
    assert q.suffix("W/m/K") == "W_mK"


def test_a_unit_of_another_dimension_is_refused():
    assert q.quantity("x_m", unit="um").text(2.5e-6) == "2.5"
    with pytest.raises(ValueError, match="x_m is in m and cannot be shown in bar"):
        q.quantity("x_m", unit="bar")


@pytest.mark.parametrize(
    ("key", "value", "text"),
    [
        ("T_wall_hot_max_K", 763.4, "760 K"),
        ("coolant_mass_flow_kg_s", 0.4738, "0.474 kg/s"),
        ("characteristic_velocity_m_s", 1783.2, "1783 m/s"),
        ("coolant_pressure_drop_Pa", 20.64e5, "20.6 bar"),
        ("ligament_stress_Pa", 204.06e6, "204.1 MPa"),
        ("mach", 0.304, "0.30"),
        ("q_max_W_m2", None, "-"),
        ("q_max_W_m2", math.nan, "-"),
        ("x_m", -1e-9, "0.0 mm"),
    ],
)
def test_amounts(key, value, text):
    assert q.quantity(key).amount(value) == text


def test_temperatures_may_be_in_degrees_and_arrays_are_shown_too():
    assert q.quantity("wax_K", unit="degC").amount(343.15) == "70 degC"
    assert q.quantity("p_coolant_Pa").shown(np.array([1e5, 2e6])) == pytest.approx([1.0, 20.0])
    assert q.quantity("q_max_W_m2").axis == "peak heat flux [MW/m²]"
    assert q.quantity("q_max_W_m2").heading == "peak heat flux, MW/m2"


@pytest.mark.parametrize(
    ("name", "value", "unit", "text"),
    [
        ("pressure_channels", 171.4e5, "Pa", "171 bar"),
        ("ligament", 171.4e6, "Pa", "171 MPa"),
        ("creep", 2.348e-6, "m", "2.35 um"),
        ("need", 2.348e-3, "m", "2.35 mm"),
        ("thrust", 5432.0, "N", "5.43 kN"),
        ("heat", 9876.0, "J", "9.88 kJ"),
        ("flux", 43.21e6, "W/m2", "43.2 MW/m2"),
        ("time", 0.1234, "s", "0.123 s"),
        ("life", 123.4, "firings", "123 firings"),
        ("strain", 2.0, "%", "2.00 %"),
        ("none", None, "K", "-"),
        ("beyond", math.inf, "firings", "unlimited"),
    ],
)
def test_amounts_of_an_si_unit_have_three_figures(name, value, unit, text):
    assert q.amount(value, unit, name) == text


def test_every_station_column_has_a_unit_or_none():
    for key in STATION_COLUMNS:
        assert q.quantity(key).unit in {*q.UNITS, ""}, key
