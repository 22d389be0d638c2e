"""The march where every coefficient is known by hand: cylinder, cone, tapering slot, outer loops.

The walls have no resistance and the gas is so hot inside its closed form that its coefficient
does not move with the wall, so that temperatures follow exponentials and integrals of r.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.physics.march import march
from tests.helpers.passages import energy_miss, metal, models, of_constants, passage, runs

RHO, MU, K, CP = 800.0, 2e-4, 0.15, 3000.0  # of the fixture constant_coolant
W, D, SLOTS, LENGTH, RADIUS = 1e-3, 2e-3, 80.0, 0.4, 0.03
FLOW, T_IN, T_AW = 0.6, 300.0, 3200.0
PERFECT = 1e10  # conductivity of a wall without resistance [W/(m K)]

# A rise of 1000 K in 160 steps: the trapezoid leaves about (0.4/160)^2 of it, the wall 1e-7.
CLOSED_FORM = 1e-5
# Heat and enthalpy are the same sum: only rounding is left.
ENERGY = 1e-12
# Between grids of 2:1 an error of second order falls by 4; a little off where h^3 still counts.
ORDER = 1.85


def coolant_coefficient() -> float:
    """0.023 k/Dh Re^0.8 Pr^0.4 by hand."""
    Dh = 2 * W * D / (W + D)
    Re = FLOW / SLOTS / (W * D) * Dh / MU
    return 0.023 * K / Dh * Re**0.8 * (MU * CP / K) ** 0.4


def gas_coefficient(factor: float = 1.0) -> float:
    """The closed throat form by hand for the fixture plain_gas, its bracket at 0.5."""
    throat = 0.026 / 0.04**0.2 * (1e-4**0.2 * 2200.0 / 0.6**0.6) * (30e5 / 1750.0) ** 0.8 * 2**0.1
    rise = 1 + 0.075 * 0.7**2
    return factor * throat * 1.2**-0.9 * 0.5**-0.68 * rise**-0.12


@pytest.fixture
def gas(plain_gas):
    def build(stations):
        made = plain_gas(stations)
        # stagnation temperature enters the closed form only through wall over stagnation
        made.stagnation[..., A.S_T0] = 1e12
        return made

    return build


def solve(geometry, gas, table, factor=1.0, **run):
    given = {"mass_flow": FLOW, "gas_factor": factor, **run}
    out, status = march_all(geometry, gas, table, metal(PERFECT, PERFECT), runs(**given), models())
    assert status[0, 0] == st.OK
    return out


def start_temperature() -> float:
    """Static temperature of the inlet: the made-up coolant has enthalpy cp T."""
    u = FLOW / SLOTS / (RHO * W * D)
    return T_IN - u * u / (2 * CP)


def cylinder(stations, table, gas):
    return solve(
        passage(stations, LENGTH, r=RADIUS, width=W, depth=D, slots=SLOTS), gas(stations), table
    )


def heated_cylinder() -> float:
    """Outlet temperature of the cylinder in closed form."""
    area = 2 * math.pi * RADIUS / SLOTS  # hot surface a slot and length
    wetted = 2 * (W + D)
    conductance = 1 / (1 / (gas_coefficient() * area) + 1 / (coolant_coefficient() * wetted))
    decay = math.exp(-conductance * LENGTH / (FLOW / SLOTS * CP))
    return T_AW - (T_AW - start_temperature()) * decay


def test_cylinder_heats_exponentially(constant_coolant, gas):
    rows = cylinder(161, constant_coolant, gas).station[0]
    assert rows[:, A.O_H_COOLANT] == pytest.approx(coolant_coefficient(), rel=1e-12)
    assert rows[:, A.O_H_GAS] == pytest.approx(gas_coefficient(), rel=1e-6)
    rise = heated_cylinder() - start_temperature()
    assert rise > 200.0
    assert rows[-1, A.O_T_COOLANT] - start_temperature() == pytest.approx(rise, rel=CLOSED_FORM)


def test_wall_temperatures_divide_the_drop_as_the_resistances(constant_coolant, gas):
    rows = cylinder(161, constant_coolant, gas).station[0]
    cold = 1 / (coolant_coefficient() * 2 * (W + D))
    hot = 1 / (gas_coefficient() * 2 * math.pi * RADIUS / SLOTS)
    share = (rows[:, A.O_T_WALL_COLD] - rows[:, A.O_T_COOLANT]) / (T_AW - rows[:, A.O_T_COOLANT])
    assert share[0] == pytest.approx(cold / (cold + hot), rel=1e-6)
    # the wall is solved at the predictor's coolant: of second order, 1e-5 with 161 stations
    assert share == pytest.approx(cold / (cold + hot), rel=2e-5)


def test_observed_order_is_two_against_the_closed_form(constant_coolant, gas):
    exact = heated_cylinder()
    errors = [
        abs(cylinder(n, constant_coolant, gas).station[0, -1, A.O_T_COOLANT] - exact)
        for n in (6, 11, 21, 41)
    ]
    assert min(np.log2(np.divide(errors[:-1], errors[1:]))) > ORDER
    assert max(np.log2(np.divide(errors[:-1], errors[1:]))) < 2.3


def cone(stations, table, gas, half_angle=0.25, r_in=0.15):
    """Counterflow up a cone: the radius falls along the flow by the slant times its sine."""
    s = np.linspace(0.0, LENGTH, stations)
    r = r_in - s * math.sin(half_angle)
    shape = passage(
        stations, LENGTH, r=r, width=W, depth=D, slots=SLOTS, cos_slope=math.cos(half_angle)
    )
    return solve(shape, gas(stations), table, factor=0.3), r


def heated_cone(r) -> float:
    """Outlet temperature of the cone: integral of g a r/(a r + g) over the slant."""
    g = coolant_coefficient() * 2 * (W + D)
    a = gas_coefficient(0.3) * 2 * math.pi / SLOTS

    def antiderivative(x):
        return g * (x - g / a * math.log(a * x + g))

    sine = (r[0] - r[-1]) / LENGTH
    integral = (antiderivative(r[0]) - antiderivative(r[-1])) / sine
    decay = math.exp(-integral / (FLOW / SLOTS * CP))
    return T_AW - (T_AW - start_temperature()) * decay


def test_cone_in_closed_form(constant_coolant, gas):
    out, r = cone(161, constant_coolant, gas)
    rise = heated_cone(r) - start_temperature()
    assert rise > 200.0
    assert out.station[0, -1, A.O_T_COOLANT] - start_temperature() == pytest.approx(
        rise, rel=CLOSED_FORM
    )


def test_cone_is_second_order(constant_coolant, gas):
    errors = []
    for n in (6, 11, 21, 41):
        out, r = cone(n, constant_coolant, gas)
        errors.append(abs(out.station[0, -1, A.O_T_COOLANT] - heated_cone(r)))
    assert min(np.log2(np.divide(errors[:-1], errors[1:]))) > ORDER


# --- pressure -----------------------------------------------------------------------------------


def tapering(stations, table, gas, viscosity=0.5):
    """A slot that keeps its aspect 1:2 and narrows to two thirds, so viscous that it is laminar."""
    oil = of_constants(table, RHO, viscosity, K, CP)
    width = 3e-3 * np.linspace(1.0, 2 / 3, stations)
    shape = passage(stations, LENGTH, r=0.1, width=width, depth=2 * width, slots=SLOTS)
    run = {"mass_flow": 3.0, "roughness": 0.0, "pressure": 300e5}
    return solve(shape, gas(stations), oil, factor=1e-9, **run)


def viscous_drop(viscosity=0.5) -> tuple[float, float, float]:
    """Friction in closed form, and dynamic pressures at both ends [Pa].

    dp/ds = 32 mu u/(phi Dh^2), u Dh^2 constant over Dh^2, so the integral of Dh^-4 is
    (Dh2^-3 - Dh1^-3)/(3 slope).
    """
    phi = 2 / 3 + 11 / 24 * 0.5 * 1.5
    Dh = [2 * w * 2 * w / (3 * w) for w in (3e-3, 2e-3)]
    area = [2 * w * w for w in (3e-3, 2e-3)]
    u = [3.0 / SLOTS / (RHO * a) for a in area]
    slope = (Dh[0] - Dh[1]) / LENGTH
    friction = 32 * viscosity / phi * u[0] * Dh[0] ** 2 * (Dh[1] ** -3 - Dh[0] ** -3) / (3 * slope)
    return friction, 0.5 * RHO * u[0] ** 2, 0.5 * RHO * u[1] ** 2


def test_tapering_slot_in_closed_form(constant_coolant, gas):
    """Entry loss 1.5 of the first dynamic pressure, Bernoulli, friction, and the last one lost."""
    out = tapering(161, constant_coolant, gas)
    friction, first, last = viscous_drop()
    p = out.station[0, :, A.O_P_COOLANT]
    assert p[0] == pytest.approx(300e5 - 1.5 * first, rel=1e-10)
    # the trapezoid of Dh^-4 on 161 stations is 2e-5 high
    assert p[0] - p[-1] == pytest.approx(friction + last - first, rel=3e-5)
    assert out.total[0, A.T_P_OUT] == pytest.approx(p[-1], rel=1e-12)


def test_pressure_is_second_order(constant_coolant, gas):
    friction, first, last = viscous_drop()
    exact = 300e5 - 1.5 * first - friction - (last - first)
    errors = [
        abs(tapering(n, constant_coolant, gas).total[0, A.T_P_OUT] - exact) for n in (6, 11, 21, 41)
    ]
    assert min(np.log2(np.divide(errors[:-1], errors[1:]))) > ORDER


def test_narrowing_trades_pressure_for_speed(constant_coolant, plain_gas):
    """Bernoulli over a taper so short that friction is 1e-5 of it, whatever the steps."""
    for stations in (2, 3, 21):
        width = np.linspace(1.5e-3, 1e-3, stations)
        shape = passage(stations, 1e-6, width=width)
        row = march_all(shape, plain_gas(stations), constant_coolant, metal(), runs(), models())[0]
        p, u = row.station[0, :, A.O_P_COOLANT], row.station[0, :, A.O_V_COOLANT]
        assert u == pytest.approx(2.0 / 80 / (RHO * 2e-3 * width), rel=1e-12)
        assert p[0] - p[-1] == pytest.approx(0.5 * RHO * (u[-1] ** 2 - u[0] ** 2), rel=1e-4)


@pytest.mark.parametrize("coolant", ["taylor", "jackson", "gnielinski"])
@pytest.mark.parametrize("hot_side", ["bartz", "reference_enthalpy", "pipe_film"])
def test_flux_of_gas_and_of_coolant_are_one(coolant, hot_side, constant_coolant, plain_gas):
    """At the inlet, where no corrector follows: what the gas gives is what the slot takes."""
    shape = passage(2, 1e-3, r=RADIUS, width=W, depth=D, slots=SLOTS)
    metals = metal(PERFECT, PERFECT)
    ids = models(gas=hot_side, coolant=coolant)
    out, status = march_all(
        shape, plain_gas(2), constant_coolant, metals, runs(mass_flow=FLOW), ids
    )
    assert status[0, 0] == st.OK
    row = out.station[0, 0]
    given = row[A.O_Q] * 2 * math.pi * RADIUS / SLOTS
    taken = row[A.O_H_COOLANT] * 2 * (W + D) * (row[A.O_T_WALL_COLD] - row[A.O_T_COOLANT])
    # the balance stops at 1e-5 of the flux before its last step, which leaves about 1e-7
    assert given == pytest.approx(taken, rel=2e-6)


# --- energy, outer loops, batches ---------------------------------------------------------------


@pytest.mark.parametrize("coolant", ["dittus_boelter", "gnielinski", "taylor", "jackson"])
def test_heat_is_conserved_in_every_run(constant_coolant, plain_gas, coolant):
    random = np.random.default_rng(3)
    count = 64
    many = runs(
        count,
        mass_flow=random.uniform(0.8, 4.0, count),
        gas_factor=random.uniform(0.3, 1.5, count),
        flow_factor=random.uniform(0.8, 1.0, count),
    )
    out, status = march_all(
        passage(31), plain_gas(31), constant_coolant, metal(), many, models(count, coolant=coolant)
    )
    assert np.all(status[:, 0] == st.OK)
    assert energy_miss(passage(31), out).max() <= ENERGY
    # and the heat is the trapezoid of the rows that are reported
    q = out.station[:, :, A.O_Q]
    ds = 0.2 / 30
    heat = 2 * math.pi * 0.03 * ds * (q[:, 1:] + q[:, :-1]).sum(axis=1) / 2
    assert out.total[:, A.T_HEAT] == pytest.approx(heat, rel=ENERGY)


def warm(plain_gas, stations):
    """A gas of three total enthalpies: adiabatic wall and pressure rise with what is fed back."""
    one = plain_gas(stations)
    nodes = np.array([[-1e6, 0.0, 1e6]])
    core = np.repeat(one.core, 3, axis=1)
    core[0, :, :, A.G_T_AW] += 3e-4 * nodes.T
    stag = np.repeat(one.stagnation, 3, axis=1)
    stag[0, :, A.S_P0] += 0.1 * nodes[0]
    return A.GasStations(nodes, core, stag, one.layer, one.layer_T)


def test_heat_that_returns_raises_the_gas_it_came_from(constant_coolant, plain_gas):
    """Fixed point: total enthalpy = as fed + heat over gas flow; the gas flow is p0 At/c*."""
    gas = warm(plain_gas, 31)
    out, status = march_all(
        passage(31), gas, constant_coolant, metal(), runs(h0=-2e5, returns=1.0), models()
    )
    assert status[0, 0] == st.OK
    total = out.total[0]
    p0 = 30e5 + 0.1 * total[A.T_H0]
    flow = p0 * math.pi / 4 * 0.04**2 / 1750.0
    assert total[A.T_GAS_FLOW] == pytest.approx(flow, rel=1e-9)
    # the loop stops within 1 J/kg
    assert total[A.T_H0] == pytest.approx(-2e5 + total[A.T_HEAT] / flow, abs=1.0)
    assert out.station[0, :, A.O_T_AW] == pytest.approx(3200.0 + 3e-4 * total[A.T_H0], rel=1e-9)
    alone, _ = march_all(passage(31), gas, constant_coolant, metal(), runs(h0=-2e5), models())
    assert total[A.T_HEAT] > alone.total[0, A.T_HEAT]


def test_coolant_flow_as_a_share_of_the_gas(constant_coolant, plain_gas):
    out, _ = march_all(
        passage(31), plain_gas(31), constant_coolant, metal(), runs(fuel_share=0.8), models()
    )
    flow = 0.8 * 30e5 * math.pi / 4 * 0.04**2 / 1750.0
    assert out.total[0, A.T_MASS_FLOW] == pytest.approx(flow, rel=1e-12)


def test_given_outlet_with_returned_heat_meets_both(constant_coolant, plain_gas):
    args = passage(31), warm(plain_gas, 31), constant_coolant, metal()
    run = runs(h0=-2e5, returns=1.0, outlet_given=1, pressure=70e5)
    out, status = march_all(*args, run, models())
    assert status[0, 0] == st.OK
    total = out.total[0]
    assert total[A.T_P_OUT] == pytest.approx(70e5, rel=2e-7)
    assert total[A.T_H0] == pytest.approx(-2e5 + total[A.T_HEAT] / total[A.T_GAS_FLOW], abs=1.0)


def test_a_channel_with_half_the_flow_is_a_chamber_with_half_the_flow(constant_coolant, plain_gas):
    args = passage(31), plain_gas(31), constant_coolant, metal()
    both = runs(2, mass_flow=[2.0, 1.0], flow_factor=[0.5, 1.0])
    out, _ = march_all(*args, both, models(2))
    assert np.array_equal(out.station[0], out.station[1])


def test_runs_of_their_own_geometry_and_metal_equal_single_runs(constant_coolant, plain_gas):
    count = 9
    width = np.linspace(0.8e-3, 1.6e-3, count)
    r = np.linspace(0.03, 0.05, 21)
    shape = passage(21, width=width[:, None], r=r)
    k = np.linspace(20.0, 380.0, count)
    many = runs(count, geometry=np.arange(count), wall=np.arange(count))
    args = plain_gas(21), constant_coolant
    batch, status = march_all(shape, *args, metal(k, 80.0 + 0 * k), many, models(count))
    assert np.all(status[:, 0] == st.OK)
    for n in range(count):
        one = passage(21, width=width[n], r=r)
        single, _ = march_all(one, *args, metal(k[n]), runs(), models())
        assert np.array_equal(single.station[0], batch.station[n])
        assert np.array_equal(single.total[0], batch.total[n])
    assert np.unique(batch.total[:, A.T_HEAT]).size == count


def test_one_compiled_signature_whatever_is_solved(constant_coolant, plain_gas):
    """One run and many, shared and own geometry, one gas node and three: one kernel."""
    args = constant_coolant, metal()
    march_all(passage(11), plain_gas(11), *args, runs(), models())
    own = passage(11, width=np.array([[0.9e-3], [1e-3]]))
    march_all(own, warm(plain_gas, 11), *args, runs(2, returns=1.0, geometry=[0, 1]), models(2))
    march_all(passage(11), plain_gas(11), *args, runs(600), models(600), threads=2)
    if hasattr(march, "signatures"):
        assert len(march.signatures) == 1


def test_friction_of_the_march_is_colebrooks(constant_coolant, gas):
    """Turbulent drop in a straight rough slot: f from the implicit equation by bisection."""
    out = cylinder(11, constant_coolant, gas)
    Dh, u = 2 * W * D / (W + D), FLOW / SLOTS / (RHO * W * D)
    Re = RHO * u * Dh / MU * (2 / 3 + 11 / 24 * 0.5 * 1.5)
    f = brentq(
        lambda f: 1 / f**0.5 + 2 * math.log10(2e-6 / Dh / 3.7 + 2.51 / (Re * f**0.5)), 5e-3, 0.1,
        xtol=1e-16,
    )  # fmt: skip
    drop = 0.5 * RHO * u * u * f * LENGTH / Dh
    p = out.station[0, :, A.O_P_COOLANT]
    assert p[0] - p[-1] == pytest.approx(drop, rel=1e-8)
    assert np.diff(p) == pytest.approx(-drop / 10, rel=1e-6)
