"""The unfavourable edge of a band, over two members made by hand from a solved chamber.

One has lost pressure and is hotter, the other has more pressure and is faster; each quantity must
take the member that is worse for what is judged by it.
"""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from regen.case.read import load_case
from regen.checks.band_extremes import band_extremes
from regen.checks.runs import INJECTOR, LOWEST_PRESSURE, Run
from regen.checks.stations import columns, headline
from regen.physics import arrays as A
from regen.solver.solve import solve
from tests.helpers.places import WATER

LOST, GAINED, FASTER = 5e5, 2e5, 1.3
"""Pressure one member lacks and the other has more [Pa]; its speed over the nominal."""

FACE = 12.3e5
"""Pressure at the injector's face, of no member [Pa]."""

FLOOR = 0.25
"""Least reach of wall less coolant and of the pressure drop either way: the stated floor."""

SAME = 1e-9
TABLE = 1e-3
"""The coolant's table against its equation of state [-]."""


@pytest.fixture(scope="module")
def solution():
    return solve(load_case(WATER, ("models.stations=31",)).design)


@pytest.fixture(scope="module")
def nominal(solution):
    prepared, run = solution.prepared, solution.nominal
    stations = columns(prepared, run)
    summary = headline(prepared, run)
    return Run(stations, summary | {INJECTOR: FACE})


@pytest.fixture(scope="module")
def edge(solution, nominal):
    """The edge over a member of low pressure with one far hotter row, and a fast cold one."""
    run = solution.nominal
    station = np.repeat(run.station[None], 2, axis=0)
    total = np.repeat(run.total[None], 2, axis=0)
    station[0, :, A.O_P_COOLANT] -= LOST
    total[0, A.T_P_OUT] -= LOST
    station[0, 7, A.O_T_WALL_HOT] += 300.0
    station[0, :, A.O_Q] *= 1.1
    station[0, :, A.O_Q_WETTED] *= 1.4
    station[0, :, A.O_H_GAS] *= 1.1
    station[0, :, A.O_T_COOLANT] += 3.0
    station[0, :, A.O_T_AW] += 40.0
    station[0, :, A.O_T_WALL_HOT_MEAN] -= 1.0
    station[0, :, A.O_H_COOLANT] *= 1.2
    station[1, :, A.O_P_COOLANT] += GAINED
    total[1, A.T_P_OUT] += GAINED
    station[1, :, A.O_V_COOLANT] *= FASTER
    station[1, :, A.O_Q] *= 0.8
    station[1, :, A.O_Q_WETTED] *= 0.7
    station[1, :, A.O_T_COOLANT] -= 2.0
    station[1, :, A.O_T_AW] -= 50.0
    station[1, :, A.O_H_COOLANT] *= 0.6
    prepared = solution.prepared
    return band_extremes(prepared, nominal, station, total)


def test_the_injector_is_judged_by_the_lowest_outlet_pressure(edge, nominal):
    summary = nominal.totals
    drop = summary["coolant_pressure_drop_Pa"]
    assert (1.0 + FLOOR) * drop < drop + LOST  # the member decides, not the floor
    lowest = summary["coolant_pressure_out_Pa"] - LOST
    assert edge.run.totals["coolant_pressure_out_Pa"] == pytest.approx(lowest, rel=SAME)


def test_stress_asks_for_the_highest_pressure_and_boiling_for_the_lowest(edge, nominal):
    p = nominal.stations["p_coolant_Pa"]
    np.testing.assert_allclose(edge.run.stations["p_coolant_Pa"], p + GAINED, rtol=SAME)
    np.testing.assert_allclose(edge.run.stations[LOWEST_PRESSURE], p - LOST, rtol=SAME)


def test_choking_is_judged_by_the_fastest_over_its_own_speed_of_sound(edge, nominal, solution):
    """The sound speed of water by the equation of state, at the member's own state."""
    stations = nominal.stations
    v = FASTER * stations["v_coolant_m_s"]
    np.testing.assert_allclose(edge.run.stations["v_coolant_m_s"], v, rtol=SAME)
    h = solution.nominal.station[:, A.O_ENTHALPY]
    sound = PropsSI("A", "H", h, "P", stations["p_coolant_Pa"] + GAINED, "Water")
    np.testing.assert_allclose(edge.run.stations["mach_coolant"], v / sound, rtol=TABLE)


def test_a_member_fast_because_it_is_warm_has_the_mach_number_of_warm_coolant(solution, nominal):
    """Sound in water rises with temperature up to 347 K: the same speed is a lower Mach number."""
    stations = nominal.stations
    run, prepared = solution.nominal, solution.prepared
    station = np.repeat(run.station[None], 1, axis=0)
    station[0, :, A.O_V_COOLANT] *= 1.05
    station[0, :, A.O_ENTHALPY] += 1.2e5
    found = band_extremes(prepared, nominal, station, run.total[None]).run.stations
    v, h, p = (station[0, :, n] for n in (A.O_V_COOLANT, A.O_ENTHALPY, A.O_P_COOLANT))
    own = v / PropsSI("A", "H", h, "P", p, "Water")
    scaled = 1.05 * stations["mach_coolant"]
    assert (own < 0.99 * scaled).any()  # at the nominal's speed of sound it would be higher
    wanted = np.maximum(own, stations["mach_coolant"])
    np.testing.assert_allclose(found["mach_coolant"], wanted, rtol=TABLE)


def test_a_warm_closeout_and_a_hot_gas_are_the_worse(edge, nominal):
    """The lowest coolant film, the hottest gas; the hot wall's mean by the stated floor."""
    stations = nominal.stations
    found = edge.run.stations
    film = 0.6 * stations["h_coolant_W_m2K"]
    np.testing.assert_allclose(found["h_coolant_W_m2K"], film, rtol=SAME)
    np.testing.assert_allclose(found["T_aw_K"], stations["T_aw_K"] + 40.0, rtol=SAME)
    mean, bulk = stations["T_wall_hot_mean_K"], stations["T_coolant_K"]
    np.testing.assert_allclose(
        found["T_wall_hot_mean_K"], bulk + (1.0 + FLOOR) * (mean - bulk), rtol=SAME
    )


def test_what_no_member_changes_is_the_nominals(edge, nominal):
    """Slots and gas pressure, and the face; nothing else is there to be asked for."""
    stations = nominal.stations
    shared = {
        *("x_m", "r_m", "area_ratio", "wall_m", "circuit", "pass_number", "passage_length_m"),
        *("channel_width_m", "channel_depth_m", "land_width_m", "p_gas_Pa"),
    }
    for name in shared:
        np.testing.assert_array_equal(edge.run.stations[name], stations[name], err_msg=name)
    moved = {
        *("T_wall_hot_K", "T_wall_hot_mean_K", "T_wall_cold_K", "T_wall_floor_K", "T_coolant_K"),
        *("T_aw_K", "q_W_m2", "q_wetted_W_m2", "h_gas_W_m2K", "h_coolant_W_m2K", "p_coolant_Pa"),
        *("p_coolant_lowest_Pa", "v_coolant_m_s", "mach_coolant"),
    }
    assert set(edge.run.stations) == shared | moved
    assert edge.run.totals["injector_pressure_Pa"] == FACE


def test_proof_is_judged_by_the_highest_inlet_pressure(solution, nominal):
    summary = nominal.totals
    run, prepared = solution.nominal, solution.prepared
    total = np.repeat(run.total[None], 2, axis=0)
    total[:, A.T_P_IN] += (-LOST, GAINED)
    station = np.repeat(run.station[None], 2, axis=0)
    found = band_extremes(prepared, nominal, station, total).run.totals
    highest = summary["coolant_pressure_in_Pa"] + GAINED
    assert found["coolant_pressure_in_Pa"] == pytest.approx(highest, rel=SAME)


def test_the_wall_reaches_a_quarter_of_wall_less_coolant_or_its_hottest_member(edge, nominal):
    stations = nominal.stations
    T, bulk = stations["T_wall_hot_K"], stations["T_coolant_K"]
    wanted = bulk + (1.0 + FLOOR) * (T - bulk)
    hot = T[7] + 300.0
    assert hot > wanted[7]
    wanted[7] = hot
    np.testing.assert_allclose(edge.run.stations["T_wall_hot_K"], wanted, rtol=SAME)
    low, high = edge.along["T_wall_hot_K"]
    np.testing.assert_allclose(high, wanted, rtol=SAME)
    np.testing.assert_allclose(low, bulk + (1.0 - FLOOR) * (T - bulk), rtol=SAME)
    cold = stations["T_wall_cold_K"]
    np.testing.assert_allclose(
        edge.run.stations["T_wall_cold_K"], bulk + (1.0 + FLOOR) * (cold - bulk), rtol=SAME
    )
    assert edge.run.totals["T_wall_hot_max_K"] >= wanted.max()


def test_fluxes_and_coolant_are_those_of_the_worst_member(edge, nominal):
    stations, summary = nominal.stations, nominal.totals
    for name, worst in (("q_W_m2", 1.1), ("q_wetted_W_m2", 1.4), ("h_gas_W_m2K", 1.1)):
        np.testing.assert_allclose(
            edge.run.stations[name], worst * stations[name], rtol=SAME, err_msg=name
        )
    np.testing.assert_allclose(edge.along["q_W_m2"][0], 0.8 * stations["q_W_m2"], rtol=SAME)
    np.testing.assert_allclose(
        edge.along["q_wetted_W_m2"][0], 0.7 * stations["q_wetted_W_m2"], rtol=SAME
    )
    np.testing.assert_allclose(
        edge.run.stations["T_coolant_K"], stations["T_coolant_K"] + 3.0, rtol=SAME
    )
    top = 1.1 * summary["q_max_W_m2"]
    assert edge.run.totals["q_max_W_m2"] == pytest.approx(top, rel=SAME)


def test_the_heads_are_the_least_and_the_greatest(edge, nominal):
    summary = nominal.totals
    inlet, drop = summary["coolant_pressure_in_Pa"], summary["coolant_pressure_drop_Pa"]
    low, high = edge.heads["coolant_pressure_drop_Pa"]
    assert (low, high) == pytest.approx((min(drop - GAINED, 0.75 * drop), drop + LOST), rel=SAME)
    low, high = edge.heads["coolant_pressure_out_Pa"]
    most = max(inlet - drop + GAINED, inlet - 0.75 * drop)
    assert (low, high) == pytest.approx((inlet - drop - LOST, most), rel=SAME)
    low, high = edge.heads["q_max_W_m2"]
    q = summary["q_max_W_m2"]
    assert (low, high) == pytest.approx((0.8 * q, 1.1 * q), rel=SAME)


def test_members_alike_leave_the_floors(solution, nominal):
    """Where all members agree, a quarter either way is what is left."""
    stations, summary = nominal.stations, nominal.totals
    run, prepared = solution.nominal, solution.prepared
    same = run.station[None], run.total[None]
    found = band_extremes(prepared, nominal, *same)
    inlet, drop = summary["coolant_pressure_in_Pa"], summary["coolant_pressure_drop_Pa"]
    assert found.run.totals["coolant_pressure_out_Pa"] == pytest.approx(inlet - 1.25 * drop)
    assert found.heads["coolant_pressure_drop_Pa"] == pytest.approx((0.75 * drop, 1.25 * drop))
    bulk, floor = stations["T_coolant_K"], stations["T_wall_floor_K"]
    np.testing.assert_allclose(
        found.run.stations["T_wall_floor_K"], bulk + 1.25 * (floor - bulk), rtol=SAME
    )
    np.testing.assert_allclose(
        found.run.stations["mach_coolant"], stations["mach_coolant"], rtol=SAME
    )
