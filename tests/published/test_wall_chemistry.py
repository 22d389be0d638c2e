"""Gas beside the wall: what drives the heat flux, and where soot is stable (chemistry.toml)."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from regen.design import (
    Chamber,
    Channels,
    ContourShape,
    Coolant,
    Design,
    Liner,
    Profile,
    Propellants,
)
from regen.gas import table as hotgas
from regen.gas.wall import hot_gas_table, wall_gas
from regen.geometry.contour import build_contour
from regen.physics import arrays as A
from regen.physics._dispatch import GAS_SIDE
from regen.physics.film import gas_flux
from regen.texts import text
from tests.published.ledger import Check, judge
from tests.published.test_chemistry import DATA, THREE_DIGITS, name

pytestmark = pytest.mark.usefixtures("fresh_cache")

# Where the study fixed the wall gas at 1500 K by another grid, and OH had its older enthalpy.
DRIVING = 0.01


# --- driving enthalpy --------------------------------------------------------------------------
@cache
def table_of(fuel, ratio, pressure, freeze=1500.0):
    return hotgas.gas_table(
        Propellants("oxygen", fuel, ratio),
        Chamber(pressure, "nozzle"),
        contraction_ratio=6.0,
        area_ratio_max=5.0,
        freeze_temperature=freeze,
    )


def throat_stations(table):
    return hotgas.gas_at_stations(
        table,
        np.array([1.0]),
        np.array([False]),
        factor=np.ones(1),
        throat_diameter=0.1,
        throat_curvature=0.05,
    )


def layer_enthalpy(stations, T_wall):
    T = stations.layer_T[0, 0] + stations.layer_T[0, 1] * np.arange(stations.layer.shape[2])
    return np.interp(T_wall, T, stations.layer[0, 0, :, hotgas.A.LAYER_H])


def driving_check(row):
    stations = throat_stations(table_of(row["fuel"], row["mixture_ratio"], row["pressure_Pa"]))
    h_aw = stations.core[0, 0, 0, hotgas.A.G_H_AW]
    ours = h_aw - layer_enthalpy(stations, 800.0)
    series = "driving enthalpy at the throat, wall 800 K, wall gas frozen below 1500 K"
    why = "another grid at 1500 K, older OH enthalpy"
    theirs = row["difference_J_kg"]
    return Check(row["source"], series, name(row), theirs, ours, DRIVING, why, "J/kg")


@pytest.mark.parametrize("row", DATA["driving_enthalpy"], ids=name)
def test_driving_enthalpy_with_the_wall_gas_frozen_below_1500_K(row):
    judge([driving_check(row)])


def freezing_checks(row):
    for freeze, times in zip(row["freeze_K"], row["times"], strict=True):
        table = table_of(row["fuel"], row["mixture_ratio"], row["pressure_Pa"], freeze)
        stations = throat_stations(table)
        ours = stations.core[0, 0, 0, hotgas.A.G_H_AW] - layer_enthalpy(stations, 800.0)
        theirs = times * row["frozen_edge_J_kg"]
        yield Check(
            row["source"], "driving enthalpy by where the wall gas freezes, 300 to 6000 K",
            f"{name(row)}, {freeze:.0f} K", theirs, ours, DRIVING,
            "another grid, older OH enthalpy", "J/kg",
        )  # fmt: skip


@pytest.mark.parametrize("row", DATA["freezing"], ids=name)
def test_driving_enthalpy_by_where_the_wall_gas_freezes(row):
    judge(freezing_checks(row))


def test_adiabatic_wall_temperature_is_that_of_equal_enthalpy():
    row = DATA["throat"]
    stations = throat_stations(table_of("hydrogen", row["mixture_ratio"], row["pressure_Pa"]))
    T_aw = stations.core[0, 0, 0, hotgas.A.G_T_AW]
    assert T_aw == pytest.approx(row["adiabatic_wall_K"], rel=THREE_DIGITS)


# --- boundary layer from the injector on ----------------------------------------------------------
# The contour of the separate study is not told: barrels of 0.1 to 0.4 m change the throat by
# +-8 %, and the injector's start by 1 %.
OTHER_CONTOUR = 0.10


def integral_layer_check():
    row = DATA["throat"]
    shape = ContourShape(
        contraction_ratio=3.0,
        area_ratio=5.0,
        throat_diameter=0.1,
        barrel_length=0.2,
        throat_upstream_radius_ratio=1.0,  # both: the study has one radius, that of the throat
        throat_downstream_radius_ratio=1.0,
    )
    design = Design(
        title="reference",
        propellants=Propellants("oxygen", "hydrogen", row["mixture_ratio"]),
        chamber=Chamber(row["pressure_Pa"], "nozzle"),
        contour=shape,
        liner=Liner("Cu-OFHC", "annealed", Profile.constant(1e-3)),
        channels=Channels(100, Profile.constant(1e-3), Profile.constant(2e-3), 1e-6),
        coolant=Coolant("hydrogen", 50.0, mass_flow=1.0, inlet_pressure=2e7),
    )
    contour = build_contour(shape)
    table = hot_gas_table(design, (contour.contraction_ratio, contour.area_ratio_exit))
    gas = wall_gas(design, contour, table, np.linspace(contour.x_injector, 0.0, 200)).gas
    side = A.GasSide(
        GAS_SIDE["integral_layer"],
        np.ascontiguousarray(gas.core[0, 0]),
        gas.stagnation[0, 0],
        gas.layer[0],
        gas.layer_T[0],
        np.ones((200, 3)),
    )
    q = gas_flux(side, 199, 0.1, row["wall_K"])
    return Check(
        row["source"], "flux by the integral layer at the throat, 100 bar", "hydrogen 6.0",
        row["integral_layer_W_m2"], q, OTHER_CONTOUR, "its contour is not told", "W/m2",
    )  # fmt: skip


def test_integral_layer_at_the_throat_of_the_reference_case():
    judge([integral_layer_check()])


# --- soot --------------------------------------------------------------------------------------
@pytest.mark.parametrize("fuel", ["RP-1", "methane"])
def test_soot_is_warned_of_below_the_mixture_ratio_where_it_is_stable(fuel):
    limit, p = DATA["soot"][fuel], DATA["soot"]["pressure_Pa"]
    assert table_of(fuel, 0.95 * limit, p).notes == (text("soot"),)
    assert table_of(fuel, 1.08 * limit, p).notes == ()


@pytest.mark.parametrize("fuel", ["RP-1", "propane", "methane", "ethanol"])
def test_soot_in_the_chamber_is_warned_of_below_its_mixture_ratio(fuel):
    limit, p = DATA["soot_in_chamber"][fuel], DATA["soot_in_chamber"]["pressure_Pa"]
    both = (text("soot"), text("soot in the core"))
    assert table_of(fuel, 0.95 * limit, p).notes == both
    assert table_of(fuel, 1.05 * limit, p).notes == both[:1]


def test_no_soot_without_carbon():
    assert table_of("hydrogen", 2.0, 70e5).notes == ()
