"""Internal convection as textbooks work it: through the correlations, then the whole march.

Inputs are second-hand (transcriptions of the books), results computed from them with the books'
equations unless a printed result is named. Properties are the books', so what is left is the
rounding of printed digits.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from regen.physics import arrays as A
from regen.physics import coolside, friction
from regen.physics import status as st
from regen.physics.batch import march_all
from tests.helpers.passages import metal, models, of_constants, passage, runs
from tests.published.ledger import Check, judge

# Three or four printed digits carried through a few operations.
PRINTED = 3e-3
# The example's Sieder-Tate value follows from Pr^0.3 where the form has Pr^(1/3): 1.92^0.033 is
# 1.022, and its viscosities are those of a water table read to three digits.
OTHER_EXPONENT = 0.03
# Forms of one family, fitted to the same data by several hands.
SAME_FAMILY = 0.06
# Jones' effective diameter of a 4:1 slot against the exact laminar series.
JONES = 0.015
PERFECT = 1e9  # conductivity of walls that are to have no say [W/(m K)]


DIGITS = "printed digits, carried through"


def holman_checks():
    """Holman 6-1: air at 2 atm, 473 K, 10 m/s in 25.4 mm; Re 14 756, Nu 42.67, 64.85 W/m2K.

    Printed result from memory, high confidence.
    """
    rho, mu, k, Pr, D = 1.493, 2.57e-5, 0.0386, 0.681, 25.4e-3
    Re = rho * 10.0 * D / mu
    Nu = coolside.dittus_boelter(Re, Pr)
    for what, theirs, ours, tolerance in (
        ("Reynolds number", 14756.0, Re, 1e-3),
        ("Nusselt number", 42.67, Nu, PRINTED),
        ("film coefficient, W/(m2 K)", 64.85, Nu * k / D, PRINTED),
        ("heat a metre, W/m", 103.5, Nu * k / D * math.pi * D * 20.0, PRINTED),
    ):
        series = "air in a heated tube: closed form"
        yield Check(
            "holman_example", series, what, theirs, ours, tolerance, DIGITS, own_mark="memory-high"
        )


def test_air_in_a_heated_tube():
    judge(holman_checks())


def kreith_checks():
    """Kreith 6.5: Re 125 000, Pr 1.92, wall Pr 4.64, water cooled from 180 F by a wall at 100 F.

    Printed Nusselt numbers: Dittus-Boelter 334.5 (exponent 0.3 of cooling), Sieder-Tate 358,
    Petukhov-Popov 370.
    """
    Re, Pr = 125e3, 1.92
    mu_b, mu_w = 3.47e-4, 6.82e-4  # water at 82 and 38 degC, any steam table
    petukhov = coolside.krasnoshchekov_protopopov(Re, Pr, 1, 1, 1, 1, 1, 1)
    for what, theirs, ours, tolerance, why in (
        # the form here is for heating, exponent 0.4
        ("Dittus-Boelter", 334.5, coolside.dittus_boelter(Re, Pr) * Pr**-0.1, PRINTED, DIGITS),
        (
            "Sieder-Tate", 358.0, coolside.sieder_tate(Re, Pr, mu_b, mu_w), OTHER_EXPONENT,
            "the example takes Pr^0.3 for Pr^(1/3)",
        ),
        # an older member of the family of the fully developed form: within its 6 %
        ("Petukhov", 370.0, petukhov, SAME_FAMILY, "another member of the same family"),
        (
            "Gnielinski beside Petukhov", 370.0, coolside.gnielinski(Re, Pr, Pr), SAME_FAMILY,
            "another member of the same family",
        ),
    ):  # fmt: skip
        yield Check(
            "kreith_example", f"water in an annulus: Nusselt number, {what}", "Re 125 000",
            theirs, ours, tolerance, why, own_mark="computed",
        )  # fmt: skip


def test_water_in_an_annulus_by_several_forms():
    judge(kreith_checks())


def duct_checks():
    """Incropera 8.6: 0.05 kg/s in 0.15 m, 103 to 77 degC over 5 m, outside 6 W/m2K at 0 degC.

    Re 20 385, h 11.58, heat lost 1313 W, flux at the end 304.3 W/m2, wall there 50.7 degC.
    """
    m, D, mu, k, Pr, cp = 0.05, 0.15, 208.2e-7, 0.030, 0.70, 1010.0
    Re = 4 * m / (math.pi * D * mu)
    h = coolside.dittus_boelter(Re, Pr) * Pr**-0.1 * k / D
    q = 77.0 / (1 / h + 1 / 6.0)
    for what, theirs, ours, tolerance in (
        ("Reynolds number", 20385.0, Re, 1e-3),
        ("film coefficient, W/(m2 K)", 11.58, h, PRINTED),
        ("heat lost, W", -1313.0, m * cp * (77.0 - 103.0), 1e-3),
        ("flux at the end, W/m2", 304.3, q, PRINTED),
        ("wall there, degC", 50.7, 77.0 - q / h, 2e-3),
    ):
        series = "hot air in a bare duct"
        yield Check(
            "incropera_examples", series, what, theirs, ours, tolerance, DIGITS,
            own_mark="computed",
        )  # fmt: skip


def test_hot_air_in_an_uninsulated_duct():
    judge(duct_checks())


# --- through the march ------------------------------------------------------------------------


def even_flux(plain_gas, stations):
    """Return a gas so hot that neither wall nor coolant changes the flux."""
    gas = plain_gas(stations)
    gas.core[..., A.G_T_AW] = 1e8
    gas.stagnation[..., A.S_T0] = 1e8
    return gas


def duct_march_checks(constant_coolant, plain_gas):
    """Holman 6-1 in a square duct of the same hydraulic diameter: 20 K to the wall, 40.04 K in 3 m.

    Perimeter over area is 4/Dh for every shape, so the temperature rise is that of the tube.
    """
    D, stations, slots = 25.4e-3, 31, 10.0
    air = of_constants(constant_coolant, 1.493, 2.57e-5, 0.0386, 1025.0)
    radius = slots * 2 * D / (2 * math.pi) - 1e-3
    shape = passage(stations, 3.0, r=radius, width=D, depth=D, slots=slots)

    def solve(factor):
        run = runs(
            mass_flow=slots * 1.493 * 10.0 * D * D,
            inlet_temperature=473.0,
            pressure=2.0265e5,
            roughness=0.0,
            gas_factor=factor,
        )
        gas = even_flux(plain_gas, stations)
        out, status = march_all(shape, gas, air, metal(PERFECT, PERFECT), run, models())
        assert status[0, 0] == st.OK
        return out.station[0]

    first = solve(1e-9)
    rise = first[0, A.O_T_WALL_COLD] - first[0, A.O_T_COOLANT]
    rows = solve(1e-9 * 20.0 / rise)
    to_wall = rows[:, A.O_T_WALL_HOT] - rows[:, A.O_T_COOLANT]
    gained = rows[-1, A.O_T_COOLANT] - rows[0, A.O_T_COOLANT]
    ends = ((0, "inlet"), (-1, "outlet"))
    compared = [
        (f"{what} at the {place}", theirs, column[i], tolerance)
        for i, place in ends
        for what, theirs, column, tolerance in (
            ("Reynolds number", 14756.0, rows[:, A.O_RE], 1e-3),
            ("film coefficient, W/(m2 K)", 64.85, rows[:, A.O_H_COOLANT], PRINTED),
            ("rise to the wall, K", 20.0, to_wall, 1e-4),
        )
    ]
    compared.append(("rise along 3 m, K", 40.04, gained, PRINTED))
    for what, theirs, ours, tolerance in compared:
        series = "air in a heated duct: whole march"
        yield Check(
            "holman_example", series, what, theirs, ours, tolerance, DIGITS, own_mark="memory-high"
        )


def test_air_in_a_heated_duct_by_the_march(constant_coolant, plain_gas):
    judge(duct_march_checks(constant_coolant, plain_gas))


# Ethylene glycol at 288 and 338 K: rho, mu, k, cp, wall and outlet in degC; speed, Re, h and the
# length after which the outlet temperature is reached, as printed.
GLYCOL = {
    "288 K": (1120.2, 2.82e-2, 0.247, 2359.0, 25.0, 24.0, 0.0995, 0.253, 17136.0, 0.735e-3),
    "338 K": (1085.0, 0.427e-2, 0.261, 2583.0, 125.0, 124.0, 0.657, 10.7, 18107.0, 7.79e-3),
}


def glycol_checks(state, constant_coolant, plain_gas):
    """Incropera 8.7: slots 40 um x 160 um, 20 mm long, 500 kPa, f Re 73, Nu 4.44 at constant wall.

    Friction is met with Jones' diameter. The march takes Nu 3.66 of a pipe in every laminar slot
    and flags it: 0.82 of the slot's own value, on the safe side. The length for the outlet
    temperature grows as much.
    """
    rho, mu, k, cp, wall, outlet, speed, Re, h, length = GLYCOL[state]
    w, d, slots, stations = 40e-6, 160e-6, 100.0, 401
    glycol = of_constants(constant_coolant, rho, mu, k, cp)
    radius = slots * 2 * w / (2 * math.pi) - 1e-5
    at = {"r": radius, "width": w, "depth": d, "wall": 1e-5, "slots": slots, "closeout": 1e-5}
    gas = plain_gas(stations)
    gas.core[..., A.G_T_AW] = 273.15 + wall

    def solve(length, factor):
        run = runs(
            mass_flow=slots * rho * speed * w * d,
            inlet_temperature=278.15,
            inlet_loss=0.0,
            roughness=0.0,
            gas_factor=factor,
        )
        shape = passage(stations, length, **at)
        out, status = march_all(shape, gas, glycol, metal(PERFECT, PERFECT), run, models())
        assert status[0, 0] == st.OK
        return out

    cold = solve(20e-3, 1e-6)
    rows = cold.station[0]
    assert np.all(rows[:, A.O_FLAGS].astype(int) & A.FLAG_LAMINAR)
    # a gas side without resistance holds the wall at its temperature
    hot = solve(length * 4.44 / 3.66, 1e4).station[0]
    assert hot[:, A.O_T_WALL_COLD] == pytest.approx(273.15 + wall, abs=0.1)

    def check(what, theirs, ours, tolerance, why, **more):
        return Check(
            "incropera_examples", f"microchannel of glycol, whole march: {what}", state,
            theirs, ours, tolerance, why, own_mark="computed", **more,
        )  # fmt: skip

    drop = cold.total[0, A.T_P_IN] - cold.total[0, A.T_P_OUT]
    jones = "Jones' diameter of a 4:1 slot is 1 % off the laminar series"
    scaled = "theirs times 3.66/4.44: the march takes a pipe's laminar Nusselt number, and flags it"
    yield check("Reynolds number", Re, rows[0, A.O_RE], 5e-3, DIGITS)
    yield check("pressure drop", 500e3, drop, JONES, jones, unit="Pa")
    yield check("f Re", 73.0, 64.0 / friction.jones_factor(0.25), JONES, jones)
    h_pipe = h * 3.66 / 4.44
    for place, i in (("inlet", 0), ("outlet", -1)):
        yield check(f"film coefficient, {place}", h_pipe, rows[i, A.O_H_COOLANT], 5e-3, scaled)
    yield check(
        "outlet temperature", outlet, hot[-1, A.O_T_COOLANT] - 273.15, 0.02,
        f"length scaled likewise; {DIGITS}", unit="degC", absolute=True,
    )  # fmt: skip


@pytest.mark.parametrize("state", GLYCOL)
def test_laminar_microchannel_by_the_march(state, constant_coolant, plain_gas):
    judge(glycol_checks(state, constant_coolant, plain_gas))
