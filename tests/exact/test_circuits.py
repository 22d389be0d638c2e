"""Circuits side by side and passes down and back, against closed forms for constant properties.

The coolant has constant properties, the gas a constant coefficient, the metal no resistance.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq

from regen.design import Channels, Circuit, Profile
from regen.geometry.channels import Passage
from regen.geometry.circuits import Path, geometry_of
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.solver.flow_split import SPLIT_TOLERANCE, through_circuits
from tests.helpers.passages import metal, models, passage, runs

RHO, MU, CP = 800.0, 2e-4, 3000.0  # of the fixture constant_coolant
W, D, SLOTS, RADIUS = 1e-3, 2e-3, 80.0, 0.03
DH = 2 * W * D / (W + D)
FLOW, T_IN, T_AW = 2.0, 300.0, 3200.0
PERFECT = 1e10  # conductivity of a wall without resistance [W/(m K)]

SPLIT = 3.0 * SPLIT_TOLERANCE  # drops differ by that much at most, shares by half of it
ROUNDING = 1e-12
TRAPEZOID = 1e-5  # second order, 200 steps over a rise of a few per cent of T_aw - T


@pytest.fixture
def gas(plain_gas):
    def build(stations):
        made = plain_gas(stations)
        made.stagnation[..., A.S_T0] = 1e12  # the closed form does not feel the wall
        return made

    return build


def together(geometry, gas, table, rows=None, *, share=None):
    """Return what ``through_circuits`` needs of a design: one row of the geometry a circuit."""
    count = geometry.r.shape[0]
    rows = runs(count, mass_flow=FLOW, roughness=1e-9) if rows is None else rows
    rows["geometry"] = np.arange(count)
    path = SimpleNamespace(circuit=SimpleNamespace(share=share, mass_flow=None))
    return SimpleNamespace(
        paths=[path] * count,
        run=rows,
        geometry=geometry,
        gas=gas,
        coolant=table,
        walls=metal(PERFECT, PERFECT),
    )


def side_by_side(*ones):
    return A.Geometry(*(np.concatenate(fields) for fields in zip(*ones, strict=True)))


def straight(length, stations=21, **fields):
    return passage(stations, length, **{"r": RADIUS, "width": W, "depth": D, **fields})


def flows(solved):
    return solved.total[..., A.T_MASS_FLOW]


def drops(solved):
    return solved.total[..., A.T_P_IN] - solved.total[..., A.T_P_OUT]


def test_two_circuits_alike_take_half_each(constant_coolant, gas):
    both = side_by_side(straight(0.2), straight(0.2))
    solved = through_circuits(together(both, gas(21), constant_coolant), models())
    assert solved.settled.all()
    assert flows(solved)[0] == pytest.approx([FLOW / 2, FLOW / 2], rel=ROUNDING)
    # and each does what it would do alone with half the flow
    alone, status = march_all(
        straight(0.2),
        gas(21),
        constant_coolant,
        metal(PERFECT, PERFECT),
        runs(mass_flow=FLOW / 2, roughness=1e-9),
        models(),
    )
    assert status[0, 0] == st.OK
    np.testing.assert_array_equal(solved.station[0, 0], alone.station[0])


def test_without_friction_flows_go_as_area_over_the_root_of_the_loss(constant_coolant, gas):
    """rho u^2/2 K is the same for both, K = 1.5 and with a turn 1.5 + 4.5: u is as 2 to 1."""
    turn = np.zeros(21)
    turn[10] = 4.5
    tiny = 1e-9  # a passage so short that friction is nothing
    both = side_by_side(straight(tiny), straight(tiny, loss=turn, slots=120.0))
    solved = through_circuits(together(both, gas(21), constant_coolant), models())
    first, second = flows(solved)[0]
    assert first / second == pytest.approx(2.0 * 80.0 / 120.0, rel=SPLIT)


def darcy(flow, length):
    """Loss by hand of one circuit: entry 0.5, dynamic pressure, Colebrook's friction."""
    u = flow / SLOTS / (RHO * W * D)
    Re = RHO * u * DH / MU * (2 / 3 + 11 / 24 * 0.5 * 1.5)
    f = brentq(
        lambda f: 1 / math.sqrt(f) + 2 * math.log10(2.51 / (Re * math.sqrt(f)) + 1e-9 / DH / 3.7),
        0.004,
        0.1,
        xtol=1e-15,
    )
    return 0.5 * RHO * u * u * (1.5 + f * length / DH)


def test_unlike_lengths_split_by_their_resistance(constant_coolant, gas):
    lengths = 0.1, 0.4
    both = side_by_side(*(straight(length) for length in lengths))
    solved = through_circuits(together(both, gas(21), constant_coolant), models())
    share = brentq(
        lambda w: darcy(w * FLOW, lengths[0]) - darcy((1 - w) * FLOW, lengths[1]), 0.1, 0.9
    )
    assert flows(solved)[0] == pytest.approx([share * FLOW, (1 - share) * FLOW], rel=SPLIT)
    assert drops(solved)[0] == pytest.approx(darcy(share * FLOW, lengths[0]), rel=SPLIT)


def test_an_outlet_pressure_leads_back_to_the_same_split(constant_coolant, gas):
    both = side_by_side(straight(0.1), straight(0.4), straight(0.2, slots=40.0))
    solved = through_circuits(together(both, gas(21), constant_coolant), models())
    p_out = solved.total[0, 0, A.T_P_OUT]
    rows = runs(3, mass_flow=FLOW, roughness=1e-9, pressure=p_out, outlet_given=1)
    again = through_circuits(together(both, gas(21), constant_coolant, rows), models())
    assert flows(again)[0] == pytest.approx(flows(solved)[0], rel=SPLIT)
    assert again.total[0, :, A.T_P_IN] == pytest.approx(100e5, rel=SPLIT)


def test_members_side_by_side_are_each_as_alone(constant_coolant, gas):
    both = side_by_side(straight(0.1), straight(0.4))
    given = together(both, gas(21), constant_coolant)
    many = np.concatenate([models(friction=f) for f in ("colebrook", "haaland")])
    solved = through_circuits(given, many)
    for n, row in enumerate(many):
        one = through_circuits(given, np.array([row]))
        np.testing.assert_array_equal(one.station[0], solved.station[n])
        np.testing.assert_array_equal(one.total[0], solved.total[n])
    assert not np.array_equal(flows(solved)[0], flows(solved)[1])


def test_metered_circuits_are_left_as_they_are(constant_coolant, gas):
    both = side_by_side(straight(0.1), straight(0.4))
    rows = runs(2, mass_flow=[0.5, 1.5])
    solved = through_circuits(together(both, gas(21), constant_coolant, rows, share=0.5), models())
    assert flows(solved)[0] == pytest.approx([0.5, 1.5], rel=0)
    assert drops(solved)[0, 1] > 9.0 * drops(solved)[0, 0]


def warmer(made, span):
    """Return the gas with a second node of total enthalpy, hotter by 400 K at the wall."""
    hot = A.GasStations(
        np.array([[0.0, span]]),
        np.repeat(made.core, 2, axis=1),
        np.repeat(made.stagnation, 2, axis=1),
        made.layer,
        made.layer_T,
    )
    hot.core[0, 1, :, A.G_T_AW] += 400.0
    return hot


def test_the_heat_of_all_circuits_returns_to_the_chamber(constant_coolant, gas):
    """Total enthalpy of the gas: as fed, plus the heat of all circuits over the gas flow."""
    both = side_by_side(straight(0.1), straight(0.4))
    rows = runs(2, mass_flow=FLOW, returns=1.0)
    given = together(both, warmer(gas(21), 4e6), constant_coolant, rows)
    solved = through_circuits(given, models())
    assert solved.settled.all()
    total = solved.total[0]
    expected = total[:, A.T_HEAT].sum() / total[0, A.T_GAS_FLOW]
    assert total[0, A.T_H0] == total[1, A.T_H0]
    assert total[0, A.T_H0] == pytest.approx(expected, abs=1.0)  # the loop's own tolerance, J/kg
    assert expected > 1e5
    cold = through_circuits(together(both, gas(21), constant_coolant), models())
    assert total[:, A.T_HEAT].sum() > cold.total[0, :, A.T_HEAT].sum()


def test_heat_beyond_the_gas_table_is_a_status(constant_coolant, gas):
    both = side_by_side(straight(0.1), straight(0.4))
    rows = runs(2, mass_flow=FLOW, returns=1.0)
    given = together(both, warmer(gas(21), 1e4), constant_coolant, rows)
    solved = through_circuits(given, models())
    assert st.GAS_RANGE in solved.code
    assert not solved.settled.any()


def test_more_flow_than_any_split_lets_through_is_a_status(constant_coolant, gas):
    both = side_by_side(straight(0.2), straight(0.3))
    rows = runs(2, mass_flow=60.0)
    solved = through_circuits(together(both, gas(21), constant_coolant, rows), models())
    assert not solved.settled.any()
    assert set(solved.code[0]) <= {st.CHOKED, st.PRESSURE_LOST}
    assert solved.steps[0] == 1  # at once: what one gave up the other could not take


def test_a_circuit_that_starves_at_one_drop_is_named_by_its_status(constant_coolant, gas):
    """At the drop of the short one the long one gets too little; with more it is solved."""
    shape = side_by_side(straight(0.02, slots=120.0), straight(0.4, depth=1e-3, slots=20.0))
    solved = through_circuits(together(shape, gas(21), constant_coolant), models())
    assert not solved.settled.any()
    assert solved.code[0].tolist() == [st.OK, st.COOLANT_RANGE]
    assert solved.steps[0] < 30
    fed = runs(2, mass_flow=[1.4, 0.6])
    given = together(shape, gas(21), constant_coolant, fed, share=0.5)
    assert through_circuits(given, models()).settled.all()


def even_passage(stations, length):
    """A cylinder's slots, cut every so often."""
    x = np.linspace(0.0, length, stations)
    o = np.ones(stations)
    step = np.full(stations, length / (stations - 1))
    step[0] = 0.0
    wall = 1e-3
    return Passage(
        x=x,
        r=RADIUS * o,
        slope_angle=0.0 * o,
        wall=wall * o,
        width=W * o,
        depth=D * o,
        land=(2 * math.pi * (RADIUS + wall) / SLOTS - W) * o,
        floor_radius=(RADIUS + wall) * o,
        count=SLOTS * o,
        closeout=3e-3 * o,
        step_gas=step,
        step_passage=step.copy(),
    )


def test_down_and_back_warms_as_a_passage_of_twice_the_length(constant_coolant, gas):
    """Coefficients are uniform: T_aw - T falls as exp(-U pi r s/(m cp)) over both passes.

    Each pass has half the circumference, 2 pi r/2. U is that of the first station.
    """
    stations, length = 101, 0.3
    channels = Channels(
        int(SLOTS), Profile.constant(W), Profile.constant(D), 1e-9, passes="down and back"
    )
    row = np.arange(stations)
    path = Path(
        Circuit("a", channels, "nozzle"),
        1,
        even_passage(stations, length),
        np.linspace(0.0, length, stations),
        np.concatenate([row[::-1], row]),
        np.repeat([1, 2], stations),
    )
    bare = SimpleNamespace(
        models=SimpleNamespace(curvature="off", deposit_resistance=None),
        liner=SimpleNamespace(coating=None),
    )
    geometry = geometry_of(bare, (path,))
    out, status = march_all(
        geometry,
        gas(2 * stations),
        constant_coolant,
        metal(PERFECT, PERFECT),
        runs(mass_flow=FLOW, roughness=1e-9),
        models(),
    )
    assert status[0, 0] == st.OK
    station, total = out.station[0], out.total[0]
    T = station[:, A.O_T_COOLANT]
    u = station[0, A.O_Q] / (T_AW - T[0])
    decay = np.exp(-u * math.pi * RADIUS * path.length / (FLOW * CP))
    assert T_AW - T == pytest.approx((T_AW - T[0]) * decay, rel=TRAPEZOID)
    assert T[-1] - T[0] > 100.0
    # where they turn both passes are alike; at the manifolds they differ most
    apart = station[stations - 1 :: -1, A.O_T_COOLANT] - station[stations:, A.O_T_COOLANT]
    assert abs(apart[0]) < 1e-9
    assert np.all(np.diff(-apart) > 0.0)
    # energy and pressure by hand: one entry, two lengths of friction, one turn
    line = math.pi * RADIUS * station[:, A.O_Q]
    on_wall = np.sum(0.5 * (line[1:] + line[:-1]) * geometry.step_gas[0, 1:])
    assert on_wall == pytest.approx(FLOW * (total[A.T_H_OUT] - total[A.T_H_IN]), rel=ROUNDING)
    u_pass = FLOW / (SLOTS / 2) / (RHO * W * D)
    by_hand = darcy(2 * FLOW, 2 * length) + 2.2 * 0.5 * RHO * u_pass**2
    assert total[A.T_P_IN] - total[A.T_P_OUT] == pytest.approx(by_hand, rel=1e-8)
