"""The wall form where it has an exact answer: plane wall, fins, no resistance, no heat."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.optimize import brentq

from regen.checks.coolant import CoolantFacts, Saturation, State
from regen.checks.limits import margins, overall
from regen.checks.runs import INJECTOR, Run, Solved
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
from regen.metals.alloys import find
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.physics.wall import first_mode, wall_form
from tests.helpers.passages import metal, models, passage, runs

ROUNDING = 1e-12  # closed form against closed form, a few operations each
LIMIT = 1e-6  # a parameter is at 1e6 to 1e12 of its limit, not at the limit


@dataclass(frozen=True)
class Pitch:
    """One pitch of wall: lengths [m], conductivities [W/(m K)], coefficients [W/(m2 K)]."""

    w: float = 1e-3
    t: float = 1e-3
    d: float = 3e-3
    t_wall: float = 1e-3
    t_closeout: float = 1e-3
    taper: float = 0.0
    k_w: float = 330.0
    k_l: float = 330.0
    k_c: float = 330.0
    h_c: float = 5e4
    h_g: float = 5e3

    def solve(self):
        """Return h_eff, spread, floor and land_mean."""
        mode = first_mode(self.w, self.t, self.t_wall)
        return wall_form(
            mode,
            self.w,
            self.t,
            self.d,
            self.t_closeout,
            self.taper,
            self.k_w,
            self.k_l,
            self.k_c,
            self.h_c,
            self.h_c,
            self.h_g,
        )


def test_first_mode_is_the_first_cosine_of_the_pitch():
    w, t, t_wall = 0.7e-3, 0.9e-3, 0.8e-3
    b, sine, sine2, ch, sh = first_mode(w, t, t_wall)
    assert b == pytest.approx(math.pi / (0.5 * (w + t)), rel=ROUNDING)
    assert sine == pytest.approx(math.sin(b * w / 2), rel=ROUNDING)
    assert sine2 == pytest.approx(math.sin(2 * b * w / 2) / (4 * b), rel=ROUNDING)
    assert ch == pytest.approx(math.cosh(b * t_wall), rel=ROUNDING)
    assert sh == pytest.approx(math.sinh(b * t_wall), rel=ROUNDING)


def test_without_lands_the_wall_is_plane():
    """As the land narrows its conductance falls as sqrt(t); 1e-18 m leaves 1e-7."""
    h_eff, spread, floor, _ = Pitch(t=1e-18).solve()
    assert h_eff == pytest.approx(5e4, rel=LIMIT)
    assert spread == pytest.approx(0.0, abs=LIMIT)
    assert floor == pytest.approx(1.0, rel=LIMIT)


def test_metal_without_resistance_wets_every_side():
    """Floor, both sides and the closeout over the channel all work at the root's temperature."""
    p = Pitch(k_w=1e12, k_l=1e12, k_c=1e12)
    h_eff, spread, floor, land_mean = p.solve()
    assert h_eff == pytest.approx(p.h_c * (2 * p.w + 2 * p.d) / (p.w + p.t), rel=LIMIT)
    assert spread == pytest.approx(0.0, abs=LIMIT)
    assert floor == pytest.approx(1.0, rel=LIMIT)
    assert land_mean == pytest.approx(1.0, rel=LIMIT)


@pytest.mark.parametrize("d", [0.5e-3, 3e-3, 20e-3])
def test_a_thin_land_without_closeout_is_the_textbook_fin(d):
    """eta = tanh(m d)/(m d), m = sqrt(2 h/(k t)); h t/k is 1e-7, so the fin is one-dimensional."""
    p = Pitch(t=1e-7, d=d, k_w=1e12, k_l=1e5, k_c=1e-12, h_c=1e5)
    m = math.sqrt(2 * p.h_c / (p.k_l * p.t))
    eta = math.tanh(m * d) / (m * d)
    h_eff, _, _, land_mean = p.solve()
    assert h_eff == pytest.approx(p.h_c * (p.w + 2 * d * eta) / (p.w + p.t), rel=LIMIT)
    assert land_mean == pytest.approx(eta, rel=LIMIT)


def test_an_even_closeout_lengthens_the_land_by_half_a_channel():
    """A closeout of half the land's thickness, wetted on one side, is the same fin continued."""
    p = Pitch(w=2e-3, t=2e-4, d=3e-3, t_closeout=1e-4, k_w=1e12, k_l=40.0, k_c=40.0, h_c=50.0)
    m = math.sqrt(2 * p.h_c / (p.k_l * p.t))
    fin = p.k_l * m * p.t * math.tanh(m * (p.d + p.w / 2))
    h_eff, _, _, _ = p.solve()
    # h t/(6 k) is 4e-5, h t_closeout/(3 k) the same: resistances across the fins
    assert h_eff == pytest.approx((p.h_c * p.w + fin) / (p.w + p.t), rel=1e-4)


def test_land_of_uniform_sink_spreads_nothing():
    """Where the land takes exactly what the floor takes, the wall is plane again."""

    def over(d):
        p = Pitch(d=d, k_c=1e-12)
        h_eff = p.solve()[0]
        return h_eff - p.h_c

    d = brentq(over, 1e-5, 5e-3, xtol=1e-16)
    _, spread, floor, _ = Pitch(d=d, k_c=1e-12).solve()
    assert spread == pytest.approx(0.0, abs=LIMIT)
    assert floor == pytest.approx(1.0, abs=LIMIT)


def test_nearly_uniform_sink_spreads_as_the_first_mode_of_a_plane_wall():
    """A sink h + e between land and floor on a wall of thickness L: separation of variables.

    The mode cos(b x) of the hot wall decays as k b sinh(b L) + h_g cosh(b L) at the root, where
    the mean sink h takes its share; the amplitude at the hot wall is 2 e sin(b a)/(b P) over that.
    """
    p = Pitch(w=1.2e-3, t=0.8e-3, k_c=1e-12, k_w=20.0)
    half, b = 0.5 * (p.w + p.t), 2 * math.pi / (p.w + p.t)

    def land_sink(d):
        """The land's sink over its own area: everything but the floor on an isothermal root."""
        h_eff = replace(p, d=d, k_w=1e12).solve()[0]
        return (h_eff * half - p.h_c * p.w / 2) / (p.t / 2)

    d = brentq(lambda d: land_sink(d) - 1.001 * p.h_c, 1e-6, 5e-3, xtol=1e-18)
    excess = land_sink(d) - p.h_c
    ch, sh = math.cosh(b * p.t_wall), math.sinh(b * p.t_wall)
    at_root = ch + p.h_g / (p.k_w * b) * sh
    resists = p.k_w * b * sh + p.h_g * ch + p.h_c * at_root
    amplitude = 2 / half * excess * math.sin(b * p.w / 2) / b / resists
    _, spread, _, _ = replace(p, d=d).solve()
    assert spread == pytest.approx(amplitude, rel=2e-3)  # of second order in the excess, 1e-3


def test_taper_helps_and_a_poor_closeout_does_not():
    base = Pitch().solve()[0]
    assert Pitch(taper=0.05).solve()[0] > base
    assert Pitch(k_c=80.0).solve()[0] < base
    assert Pitch(d=4e-3).solve()[0] > base


# --- through the whole balance ----------------------------------------------------------------

WALL, K_STEEL, FLUX, ROOT = 3e-3, 26.0, 2e7, 408.15  # 3 mm, 20 MW/m2, 135 degC


def plane(constant_coolant, plain_gas, T_aw, **run):
    """Solve a wide channel with hardly any land on a huge radius: a plane wall."""
    radius, slots = 1e4, 1e6
    width = 2 * math.pi * (radius + WALL) / slots - 1e-9
    gas = plain_gas(2)
    gas.core[..., A.G_T_AW] = T_aw
    flow = slots * width * 2e-3 * 800.0 * 80.0  # 80 m/s
    shape = passage(2, 1e-6, r=radius, width=width, wall=WALL, slots=slots)
    return march_all(
        shape,
        gas,
        constant_coolant,
        metal(K_STEEL, 1e-9),
        runs(mass_flow=flow, **run),
        models(),
    )


@pytest.fixture
def absurd(constant_coolant, plain_gas):
    """Find the gas factor that gives 20 MW/m2 and the inlet that puts the root at 135 degC."""

    def solve(factor, T_in):
        out, status = plane(
            constant_coolant, plain_gas, 4773.15, gas_factor=factor, inlet_temperature=T_in
        )
        assert status[0, 0] == st.OK
        return out.station[0, 0]

    T_in = 300.0
    for _ in range(4):  # the two unknowns hardly see each other
        factor = brentq(lambda f, T: solve(f, T)[A.O_Q] - FLUX, 0.1, 100.0, (T_in,), xtol=1e-13)
        T_in += ROOT - solve(factor, T_in)[A.O_T_WALL_COLD]
    return solve(factor, T_in)


def test_absurd_wall_is_computed(absurd):
    """3 mm of k = 26 W/(m K) under 20 MW/m2 over a wall at 135 degC: 2443 degC."""
    assert absurd[A.O_T_WALL_COLD] == pytest.approx(ROOT, abs=0.01)
    assert absurd[A.O_T_WALL_HOT] - 273.15 == pytest.approx(2443.0, rel=1e-3)
    # the closed form itself: q t/k, on a plane without lands
    rise = absurd[A.O_T_WALL_HOT_MEAN] - absurd[A.O_T_WALL_COLD]
    assert rise == pytest.approx(FLUX * WALL / K_STEEL, rel=1e-6)


def test_absurd_wall_is_flagged(absurd):
    """The answer is not refused: the margin to the steel's working limit fails."""
    columns = {
        name: np.array([value, value])
        for name, value in {
            "x_m": 0.0,
            "r_m": 50e-3,
            "T_wall_hot_K": absurd[A.O_T_WALL_HOT],
            "T_wall_cold_K": absurd[A.O_T_WALL_COLD],
            "T_wall_floor_K": absurd[A.O_T_WALL_COLD],
            "T_coolant_K": 300.0,
            "h_coolant_W_m2K": 2e4,
            "p_coolant_Pa": 90e5,
            "p_gas_Pa": 20e5,
            "q_W_m2": absurd[A.O_Q],
            "q_wetted_W_m2": absurd[A.O_Q_WETTED],
            "v_coolant_m_s": 20.0,
            "channel_width_m": 1e-3,
            "channel_depth_m": 2e-3,
            "land_width_m": 1e-3,
            "wall_m": WALL,
            "passage_length_m": 0.1,
            "mach_coolant": 0.02,
        }.items()
    }
    columns["x_m"] = np.array([0.0, 1e-3])
    design = Design(
        title="Linnet plane wall",
        propellants=Propellants("oxygen", "methane", 3.0),
        chamber=Chamber(30e5),
        contour=ContourShape(6.0, 5.0, throat_diameter=0.038, barrel_length=0.1),
        liner=Liner("316L", "annealed-minimum", Profile.constant(WALL)),
        channels=Channels(80, Profile.constant(1e-3), Profile.constant(2e-3), 3e-6),
        coolant=Coolant("methane", 120.0),
    )
    case = Solved(
        design=design,
        alloy=find("316L", "annealed-minimum"),
        coolant=CoolantFacts(
            fluid="methane",
            p_critical=46e5,
            T_max=600.0,
            saturation=lambda p: Saturation(180.0, 2e5, 5e5, 300.0, 60.0, 2e-3),
            state=lambda T, p: State(2e5 + 3000.0 * (T - 180.0), 400.0),
        ),
        nominal=Run(
            columns,
            {
                "T_wall_hot_max_K": absurd[A.O_T_WALL_HOT],
                "q_max_W_m2": absurd[A.O_Q],
                "coolant_pressure_in_Pa": 90e5,
                "coolant_pressure_out_Pa": 75e5,
                INJECTOR: 30e5,
            },
        ),
    )
    judged = margins(case)
    (hot,) = [m for m in judged if m.name == "hot_wall_temperature"]
    assert hot.verdict == "fail"
    assert hot.nominal < -1.0  # over twice the limit, and above the melting point of any steel
    assert overall(judged) == "fail"


def test_without_heat_everything_is_at_the_coolants_temperature(constant_coolant, plain_gas):
    out, status = march_all(
        passage(11),
        plain_gas(11),
        constant_coolant,
        metal(),
        runs(gas_factor=1e-12),
        models(),
    )
    assert status[0, 0] == st.OK
    rows = out.station[0]
    # the made-up coolant has enthalpy cp T, so its speed takes u^2/(2 cp) of the temperature
    T = 300.0 - rows[:, A.O_V_COOLANT] ** 2 / (2 * 3000.0)
    for field in (A.O_T_WALL_HOT, A.O_T_WALL_COLD, A.O_T_COOLANT):
        assert rows[:, field] == pytest.approx(T, rel=1e-9)
    assert rows[:, A.O_Q] == pytest.approx(0.0, abs=1e-4)


def test_without_resistance_the_hot_wall_is_at_the_roots_temperature(constant_coolant, plain_gas):
    args = passage(11), plain_gas(11), constant_coolant
    out, _ = march_all(*args, metal(1e12, 1e12), runs(), models())
    rows = out.station[0]
    assert rows[:, A.O_T_WALL_HOT] == pytest.approx(rows[:, A.O_T_WALL_COLD], rel=LIMIT)
