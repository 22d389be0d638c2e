"""Coverings, bends, roughness, entrance, plenums and passes in the march, by hand.

The coolant has constant properties, the gas a constant coefficient, the metal no resistance.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from tests.helpers.passages import metal, models, passage, runs

RHO, MU, K, CP = 800.0, 2e-4, 0.15, 3000.0  # of the fixture constant_coolant
W, D, SLOTS, LENGTH, RADIUS = 1e-3, 2e-3, 80.0, 0.4, 0.03
DH = 2 * W * D / (W + D)
FLOW, T_IN, T_AW = 0.6, 300.0, 3200.0
PERFECT = 1e10  # conductivity of a wall without resistance [W/(m K)]
G = FLOW / SLOTS / (W * D)
RE, PR = G * DH / MU, MU * CP / K

HAND = 1e-9  # one formula typed twice
BALANCE = 1e-6  # the wall balance leaves 1e-7 of the flux
# pressures of 1e7 Pa carry a drop of 1e4 Pa or more with seven digits left of sixteen
DROP = 1e-8


@pytest.fixture
def gas(plain_gas):
    def build(stations, **core):
        made = plain_gas(stations)
        made.stagnation[..., A.S_T0] = 1e12  # the closed form does not feel the wall
        for name, value in core.items():
            made.core[..., getattr(A, name)] = value
        return made

    return build


def solve(geometry, gas, table, **run):
    given = {"mass_flow": FLOW, **run}
    out, status = march_all(geometry, gas, table, metal(PERFECT, PERFECT), runs(**given), models())
    assert status[0, 0] == st.OK
    return out


def straight(stations=21, **fields):
    return passage(stations, LENGTH, r=RADIUS, width=W, depth=D, slots=SLOTS, **fields)


def test_a_covering_is_a_resistance_in_series(constant_coolant, gas):
    resistance = 4e-4
    bare = solve(straight(), gas(21), constant_coolant).station[0]
    rows = solve(straight(resistance=resistance), gas(21), constant_coolant).station[0]
    h = bare[0, A.O_H_GAS]
    # surface, metal and coolant share the drop from T_aw as 1/h, the covering, and the rest
    cold = (bare[0, A.O_T_WALL_HOT_MEAN] - bare[0, A.O_T_COOLANT]) / bare[0, A.O_Q]
    q = (T_AW - rows[0, A.O_T_COOLANT]) / (1 / h + resistance + cold)
    assert rows[0, A.O_Q] == pytest.approx(q, rel=BALANCE)
    assert rows[0, A.O_T_SURFACE] == pytest.approx(T_AW - q / h, rel=BALANCE)
    assert rows[0, A.O_T_WALL_HOT_MEAN] == pytest.approx(T_AW - q / h - q * resistance, rel=BALANCE)
    assert rows[0, A.O_H_GAS] == pytest.approx(1 / (1 / h + resistance), rel=BALANCE)


def test_without_covering_the_surface_is_the_metals(constant_coolant, gas):
    rows = solve(straight(), gas(21), constant_coolant).station[0]
    np.testing.assert_array_equal(rows[:, A.O_T_SURFACE], rows[:, A.O_T_WALL_HOT_MEAN])


def test_radiation_adds_its_flux_less_what_the_wall_returns(constant_coolant, gas):
    q_cold = 1.5e6
    plain = solve(straight(), gas(21), constant_coolant).station[0]
    rows = solve(straight(), gas(21, G_RADIATION=q_cold, G_T=3000.0), constant_coolant).station[0]
    h = plain[0, A.O_H_GAS]
    T_w = rows[0, A.O_T_WALL_HOT_MEAN]
    expected = h * (T_AW - T_w) + q_cold * (1.0 - (T_w / 3000.0) ** 4)
    assert rows[0, A.O_Q] == pytest.approx(expected, rel=BALANCE)


def test_gas_no_hotter_than_the_coolant_leaves_the_wall_at_the_coolant(constant_coolant, gas):
    rows = solve(straight(), gas(21, G_T_AW=250.0, G_H_AW=0.0), constant_coolant).station[0]
    assert np.all(rows[:, A.O_Q] == 0.0)
    assert np.all(rows[:, A.O_T_WALL_HOT] == rows[:, A.O_T_COOLANT])
    assert np.all(rows[:, A.O_FLAGS].astype(int) & A.FLAG_NO_HEAT)
    assert np.all(rows[:, A.O_H_COOLANT] > 0.0)


def long_bend(curvature):
    """[Re (r/R)^2]^0.05 by hand."""
    return (RE * (0.5 * DH * curvature) ** 2) ** 0.05


@pytest.mark.parametrize("gains", [0.0, 1.0])
@pytest.mark.parametrize("curvature", [50.0, -50.0])
def test_a_long_bend_changes_heat_on_one_side_and_friction_always(
    constant_coolant, gas, curvature, gains
):
    plain = solve(straight(), gas(21), constant_coolant)
    bent = solve(straight(bend=curvature), gas(21), constant_coolant, curve_gain=gains)
    factor = long_bend(curvature) ** math.copysign(1.0, curvature)
    if not gains:
        factor = min(factor, 1.0)
    heat = bent.station[0, -1, A.O_H_COOLANT] / plain.station[0, -1, A.O_H_COOLANT]
    # 0.4 m are 300 diameters: a lag of 15 leaves e^-20
    assert heat == pytest.approx(factor, rel=1e-8)
    falls = [-np.diff(out.station[0, -2:, A.O_P_COOLANT])[0] for out in (bent, plain)]
    assert falls[0] / falls[1] == pytest.approx(long_bend(curvature), rel=1e-6)


def test_a_bend_grows_and_decays_over_fifteen_diameters(constant_coolant, gas):
    bend = np.zeros((1, 21))
    bend[0, 5] = -50.0  # over one step of 20 mm, from station 4 to 5
    out = solve(straight(bend=bend), gas(21), constant_coolant)
    plain = solve(straight(), gas(21), constant_coolant)
    log = np.log(out.station[0, :, A.O_H_COOLANT] / plain.station[0, :, A.O_H_COOLANT])
    decay = math.exp(-LENGTH / 20 / (15 * DH))
    assert log[4] == 0.0
    assert log[5] == pytest.approx(-math.log(long_bend(50.0)) * (1 - decay), rel=1e-6)
    assert log[6] == pytest.approx(log[5] * decay, rel=1e-6)


def test_a_bend_too_wide_to_be_felt_does_nothing(constant_coolant, gas):
    assert RE * (0.5 * DH * 20.0) ** 2 < 6.0
    plain = solve(straight(), gas(21), constant_coolant).station
    bent = solve(straight(bend=-20.0), gas(21), constant_coolant).station
    np.testing.assert_array_equal(bent, plain)


def test_a_bend_is_capped(constant_coolant, gas):
    tight = 3e4  # [Re (r/R)^2]^0.05 is far above 1.4
    assert long_bend(tight) > 1.5
    plain = solve(straight(), gas(21), constant_coolant).station[0, -1, A.O_H_COOLANT]
    bent = solve(straight(bend=tight), gas(21), constant_coolant, curve_gain=1.0)
    assert bent.station[0, -1, A.O_H_COOLANT] / plain == pytest.approx(1.4, rel=1e-9)


def colebrook(roughness):
    a = 1.0
    phi = 2 / 3 + 11 / 24 * 0.5 * 1.5  # Jones, aspect 1:2
    for _ in range(100):
        a = -2 * math.log10(roughness / 3.7 + 2.51 * a / (phi * RE))
    return a**-2


def test_roughness_raises_heat_by_norris_only_when_asked(constant_coolant, gas):
    grain = 10e-6
    plain, same, raised = (
        solve(straight(), gas(21), constant_coolant, roughness=rough, rough_gain=asked).station[
            0, 0, A.O_H_COOLANT
        ]
        for rough, asked in ((0.0, 1.0), (grain, 0.0), (grain, 1.0))
    )
    assert same == plain
    ratio = colebrook(grain / DH) / colebrook(0.0)
    assert 1.2 < ratio < 4.0
    assert raised / plain == pytest.approx(ratio ** (0.68 * PR**0.215), rel=1e-8)


def test_the_entrance_is_credited_only_when_asked(constant_coolant, gas):
    plain = solve(straight(), gas(21), constant_coolant).station[0]
    rows = solve(straight(), gas(21), constant_coolant, entrance=1.0).station[0]
    x_D = LENGTH / 2 / DH
    ratio = (rows[10, A.O_T_WALL_COLD] / rows[10, A.O_T_COOLANT]) ** 0.1
    expected = 1 + x_D**-0.7 * ratio
    # the wall of the predictor's state: the ratio's tenth root is worth 1e-6
    found = rows[10, A.O_H_COOLANT] / plain[10, A.O_H_COOLANT]
    assert found == pytest.approx(expected, rel=1e-5)


def two_parts(stations, after, **fields):
    """A passage cut in two at half length, slots and share of the second part given."""
    half = stations // 2
    geometry = straight(stations, **fields)
    for name, value in after.items():
        getattr(geometry, name)[0, half:] = value
    geometry.step_gas[0, half] = geometry.step_passage[0, half] = 0.0
    geometry.plenum[0, half] = 1.0
    return geometry


def test_the_entrance_begins_anew_behind_a_plenum(constant_coolant, gas):
    geometry = two_parts(20, {"slots": SLOTS / 2, "share": 0.5})
    plain = solve(geometry, gas(20), constant_coolant).station[0]
    rows = solve(geometry, gas(20), constant_coolant, entrance=1.0).station[0]
    # the plenum is at the eleventh station, of nineteen steps; three steps behind it
    x_D = 3 * LENGTH / 19 / DH
    ratio = (rows[13, A.O_T_WALL_COLD] / rows[13, A.O_T_COOLANT]) ** 0.1
    found = rows[13, A.O_H_COOLANT] / plain[13, A.O_H_COOLANT]
    assert found == pytest.approx(1 + x_D**-0.7 * ratio, rel=1e-5)


def friction_drop(slots, length):
    """Darcy's law by hand for a passage that is not heated."""
    flux = FLOW / slots / (W * D)
    Re = flux * DH / MU
    phi = 2 / 3 + 11 / 24 * 0.5 * 1.5
    a = 1.0
    for _ in range(100):
        a = -2 * math.log10(2e-6 / DH / 3.7 + 2.51 * a / (phi * Re))
    head = 0.5 * flux**2 / RHO
    return a**-2 * length / DH * head, head


@pytest.mark.parametrize("outlet_loss", [1.0, 0.4])
def test_fewer_slots_after_a_plenum_lose_a_head_out_and_enter_anew(
    constant_coolant, gas, outlet_loss
):
    cold = {"G_T_AW": 250.0, "G_H_AW": 0.0}
    geometry = two_parts(20, {"slots": SLOTS / 2})
    out = solve(geometry, gas(20, **cold), constant_coolant, outlet_loss=outlet_loss)
    length = LENGTH / 19 * 9
    first, head = friction_drop(SLOTS, length)
    second, head_2 = friction_drop(SLOTS / 2, length)
    # each part: entry loss 0.5, then a part of its own dynamic pressure in the plenum behind it
    expected = first + second + (0.5 + outlet_loss) * (head + head_2)
    assert out.total[0, A.T_P_IN] - out.total[0, A.T_P_OUT] == pytest.approx(expected, rel=DROP)


def test_a_turn_loses_its_dynamic_pressures(constant_coolant, gas):
    cold = {"G_T_AW": 250.0, "G_H_AW": 0.0}
    loss = np.zeros((1, 21))
    loss[0, 10] = 1.7
    plain = solve(straight(), gas(21, **cold), constant_coolant)
    turned = solve(straight(loss=loss), gas(21, **cold), constant_coolant)
    extra = plain.total[0, A.T_P_OUT] - turned.total[0, A.T_P_OUT]
    assert extra == pytest.approx(1.7 * 0.5 * G**2 / RHO, rel=1e-6)


def test_half_the_slots_with_half_the_wall_are_as_good_as_all(constant_coolant, gas):
    whole = solve(straight(), gas(21), constant_coolant)
    half = solve(
        passage(21, LENGTH, r=RADIUS, width=W, depth=D, slots=SLOTS / 2, share=0.5),
        gas(21),
        constant_coolant,
        mass_flow=FLOW / 2,
    )
    np.testing.assert_allclose(half.station, whole.station, rtol=1e-12)
    assert half.total[0, A.T_HEAT] == pytest.approx(0.5 * whole.total[0, A.T_HEAT], rel=1e-12)
