"""The march against closed forms: energy, constant-property heating, friction, batch = single."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics._dispatch import COOLANT_SIDE, FRICTION, GAS_SIDE
from regen.physics.batch import march_all
from tests.helpers.passages import energy_miss

ENERGY_TOLERANCE = 1e-12  # the scheme is conservative: only rounding is left
CLOSED_FORM_TOLERANCE = 2e-5  # trapezoid on 51 uniform stations, second order
HYDRAULIC_TOLERANCE = 1e-9  # constant properties: the momentum balance is exact

RHO, MU, K, CP = 800.0, 2e-4, 0.15, 3000.0
LENGTH, RADIUS, WIDTH, DEPTH, WALL, SLOTS = 0.2, 0.03, 1e-3, 2e-3, 1e-3, 80
FLOW, T_IN, P_IN = 2.0, 300.0, 100e5


def straight(stations: int) -> A.Geometry:
    o = np.ones((1, stations))
    step = np.full((1, stations), LENGTH / (stations - 1))
    step[0, 0] = 0.0
    plenum = np.zeros((1, stations))
    plenum[0, 0] = 1.0
    return A.Geometry(
        r=RADIUS * o,
        floor_radius=(RADIUS + WALL) * o,
        cos_slope=o.copy(),
        width=WIDTH * o,
        depth=DEPTH * o,
        wall=WALL * o,
        slots=SLOTS * o,
        closeout=3e-3 * o,
        step_gas=step,
        step_passage=step.copy(),
        share=o.copy(),
        plenum=plenum,
        loss=0.0 * o,
        resistance=0.0 * o,
        bend=0.0 * o,
    )


def copper() -> A.Walls:
    return A.Walls(np.array([10.0, 10.0]), np.full((1, 149), 330.0), np.full((1, 149), 80.0))


def runs(count: int) -> np.ndarray:
    row = np.zeros(count, A.RUN)
    row["mass_flow"] = FLOW
    for factor in ("flow_factor", "gas_factor", "barrel_factor", "throat_factor"):
        row[factor] = 1.0
    row["inlet_temperature"] = T_IN
    row["pressure"] = P_IN
    row["inlet_loss"] = 0.5
    row["outlet_loss"] = 1.0
    row["roughness"] = 2e-6
    return row


def models(count: int, gas: str = "bartz", coolant: str = "dittus_boelter") -> np.ndarray:
    row = np.zeros(count, A.MODEL)
    row["throat_factor"] = 1.0
    row["gas_side"] = GAS_SIDE[gas]
    row["coolant_side"] = COOLANT_SIDE[coolant]
    row["friction"] = FRICTION["colebrook"]
    return row


@pytest.fixture(scope="module")
def solved(constant_coolant, plain_gas):
    out, status = march_all(
        straight(51), plain_gas(51), constant_coolant, copper(), runs(1), models(1)
    )
    assert status[0, 0] == st.OK
    return out


def test_the_scheme_conserves_energy(solved):
    assert energy_miss(straight(51), solved).max() <= ENERGY_TOLERANCE


def test_pressure_falls_by_entry_loss_and_colebrook_friction(solved):
    u = FLOW / SLOTS / (RHO * WIDTH * DEPTH)
    Dh = 2 * WIDTH * DEPTH / (WIDTH + DEPTH)
    aspect = WIDTH / DEPTH
    Re = RHO * u * Dh / MU * (2 / 3 + 11 / 24 * aspect * (2 - aspect))
    rough = 2e-6 / Dh

    def colebrook(f):
        return 1 / math.sqrt(f) + 2 * math.log10(rough / 3.7 + 2.51 / (Re * math.sqrt(f)))

    f = brentq(colebrook, 0.005, 0.1, xtol=1e-15)
    drop = 0.5 * RHO * u * u * (1.5 + f * LENGTH / Dh)
    p_in, p_out = solved.total[0, [A.T_P_IN, A.T_P_OUT]]
    assert p_in - p_out == pytest.approx(drop, rel=HYDRAULIC_TOLERANCE)


def test_uniform_coefficients_heat_the_coolant_exponentially(solved, constant_coolant, plain_gas):
    """With fixed coefficients dT/dx = U P (T_aw - T)/(m cp), so T_aw - T decays exponentially.

    The gas coefficient of ``bartz`` moves with the wall temperature; it is frozen here by
    comparing two neighbouring stations, over which it changes by less than the tolerance.
    """
    s = solved.station[0]
    T = s[:, A.O_T_COOLANT]
    q = s[:, A.O_Q]
    u = q / (3200.0 - T)
    rate = 0.5 * (u[1:] + u[:-1]) * 2 * math.pi * RADIUS * (LENGTH / 50) / (FLOW * CP)
    assert T[1:] == pytest.approx(3200.0 - (3200.0 - T[:-1]) * np.exp(-rate), rel=1e-6)


def test_the_march_is_second_order(constant_coolant, plain_gas):
    outlet = {}
    for n in (11, 21, 41, 641):
        out, _ = march_all(
            straight(n), plain_gas(n), constant_coolant, copper(), runs(1), models(1)
        )
        outlet[n] = out.total[0, A.T_H_OUT]
    errors = [abs(outlet[n] - outlet[641]) for n in (11, 21, 41)]
    order = np.log2(errors[0] / errors[1]), np.log2(errors[1] / errors[2])
    assert min(order) > 1.8


@pytest.mark.parametrize("gas", sorted(GAS_SIDE))
@pytest.mark.parametrize("coolant", ["gnielinski", "jackson", "taylor"])
def test_a_batch_equals_its_single_runs_to_the_last_bit(constant_coolant, plain_gas, gas, coolant):
    many = runs(300)
    many["mass_flow"] = np.linspace(1.0, 3.0, 300)
    args = straight(21), plain_gas(21), constant_coolant, copper()
    batch, _ = march_all(*args, many, models(300, gas, coolant), threads=2)
    for n in (0, 137, 299):
        one, _ = march_all(*args, many[n : n + 1], models(1, gas, coolant))
        assert np.array_equal(one.station[0], batch.station[n])
        assert np.array_equal(one.total[0], batch.total[n])


def test_outlet_pressure_given_gives_back_the_inlet(constant_coolant, plain_gas):
    args = straight(51), plain_gas(51), constant_coolant, copper()
    first, _ = march_all(*args, runs(1), models(1))
    back = runs(1)
    back["outlet_given"] = 1
    back["pressure"] = first.total[0, A.T_P_OUT]
    second, status = march_all(*args, back, models(1))
    assert status[0, 0] == st.OK
    # the loop stops within 1e-7 of the outlet pressure
    assert second.total[0, A.T_P_IN] == pytest.approx(P_IN, rel=2e-7)


def test_too_little_pressure_is_a_status_not_an_exception(constant_coolant, plain_gas):
    row = runs(1)
    row["pressure"] = 3e5
    _, status = march_all(straight(51), plain_gas(51), constant_coolant, copper(), row, models(1))
    assert status[0, 0] in (st.CHOKED, st.PRESSURE_LOST)


def test_one_compiled_signature(solved):
    from regen.physics.march import march

    if hasattr(march, "signatures"):
        assert len(march.signatures) == 1
