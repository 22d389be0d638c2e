"""Directions that physics fixes, on random passages with a coolant of constant properties."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as some

from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from tests.helpers.passages import metal, models, passage, runs

STATIONS = 11
# Two runs may differ by what the wall balance leaves, 1e-7 of the flux.
NOISE = 1e-6

passages = some.fixed_dictionaries(
    {
        "width": some.floats(0.6e-3, 1.4e-3),
        "depth": some.floats(0.8e-3, 4e-3),
        "wall": some.floats(0.5e-3, 1.2e-3),
        "closeout": some.floats(1e-3, 5e-3),
        "r": some.floats(0.035, 0.06),
    }
)
streams = some.fixed_dictionaries(
    {
        "mass_flow": some.floats(1.0, 2.5),  # half as much again still passes the least slots
        "gas_factor": some.floats(0.3, 1.2),
        "inlet_temperature": some.floats(120.0, 320.0),
        "roughness": some.floats(0.0, 1e-5),
    }
)
conductivities = some.floats(60.0, 380.0)
forms = some.sampled_from(["dittus_boelter", "gnielinski", "sieder_tate", "jackson"])
factors = some.floats(1.05, 1.5)

few = settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@pytest.fixture
def pair(constant_coolant, plain_gas):
    """Return a function that solves a base and a changed passage: both rows, both totals."""

    def solve(shape, stream, k, form, shape_change=None, stream_change=None, k_change=1.0):
        changed = {**shape, **(shape_change or {})}
        both = {n: np.array([[v], [changed[n]]]) for n, v in shape.items()}
        flow = {**stream, **(stream_change or {})}
        rows = runs(
            2,
            geometry=[0, 1],
            wall=[0, 1],
            pressure=350e5,
            **{n: [v, flow[n]] for n, v in stream.items()},
        )
        out, status = march_all(
            passage(STATIONS, **both),
            plain_gas(STATIONS),
            constant_coolant,
            metal(np.array([k, k * k_change]), np.array([80.0, 80.0])),
            rows,
            models(2, coolant=form),
        )
        assert np.all(status[:, 0] == st.OK)
        return out.station, out.total

    return solve


def hottest(station):
    return station[:, :, A.O_T_WALL_HOT].max(axis=1)


def drop(total):
    return total[:, A.T_P_IN] - total[:, A.T_P_OUT]


def above(x, y):
    return x > y * (1 + NOISE)


@few
@given(passages, streams, conductivities, forms, factors)
def test_more_flow_cools_the_wall_and_costs_pressure(pair, shape, stream, k, form, factor):
    change = {"mass_flow": factor * stream["mass_flow"]}
    station, total = pair(shape, stream, k, form, stream_change=change)
    assert above(hottest(station)[0], hottest(station)[1])
    assert above(total[1, A.T_HEAT], total[0, A.T_HEAT])  # a cooler wall takes more heat
    assert above(station[0, -1, A.O_T_COOLANT], station[1, -1, A.O_T_COOLANT])
    assert drop(total)[1] > 0.8 * factor**2 * drop(total)[0]  # entry in full, friction nearly
    assert drop(total)[1] < factor**2 * drop(total)[0] * (1 + NOISE)  # friction falls with Re


@few
@given(passages, streams, conductivities, forms, factors)
def test_a_hotter_gas_side_heats_everything(pair, shape, stream, k, form, factor):
    change = {"gas_factor": factor * stream["gas_factor"]}
    station, total = pair(shape, stream, k, form, stream_change=change)
    for field in (A.O_T_WALL_HOT, A.O_T_WALL_COLD, A.O_Q):
        assert np.all(above(station[1, :, field], station[0, :, field]))
    assert above(total[1, A.T_HEAT], total[0, A.T_HEAT])
    # but not in proportion: the wall comes nearer to the gas
    assert total[1, A.T_HEAT] < factor * total[0, A.T_HEAT]


@few
@given(passages, streams, conductivities, forms, factors)
def test_a_better_conductor_is_cooler_and_a_thicker_wall_hotter(
    pair, shape, stream, k, form, factor
):
    station, _ = pair(shape, stream, k, form, k_change=factor)
    assert above(hottest(station)[0], hottest(station)[1])
    change = {"wall": factor * shape["wall"], "r": shape["r"] - (factor - 1) * shape["wall"]}
    station, _ = pair(shape, stream, k, form, shape_change=change)
    # same slots and lands: only the metal below them is thicker
    assert above(hottest(station)[1], hottest(station)[0])


@few
@given(passages, streams, conductivities, forms, factors)
def test_a_deeper_slot_is_slower_and_hotter(pair, shape, stream, k, form, factor):
    station, total = pair(shape, stream, k, form, shape_change={"depth": factor * shape["depth"]})
    assert np.all(above(station[0, :, A.O_V_COOLANT], station[1, :, A.O_V_COOLANT]))
    assert np.all(above(station[0, :, A.O_H_COOLANT], station[1, :, A.O_H_COOLANT]))
    assert drop(total)[1] < drop(total)[0]


@few
@given(passages, streams, conductivities, forms)
def test_warmer_coolant_warms_the_wall_by_less_than_itself(pair, shape, stream, k, form):
    change = {"inlet_temperature": stream["inlet_temperature"] + 50.0}
    station, total = pair(shape, stream, k, form, stream_change=change)
    warmer = hottest(station)[1] - hottest(station)[0]
    # 50 K at the coolant is at most 50 K at the wall, when no property changes
    assert 0.0 < warmer < 50.0
    assert total[1, A.T_HEAT] < total[0, A.T_HEAT]


@few
@given(passages, streams, conductivities, forms)
def test_roughness_costs_pressure_and_no_heat_is_credited(pair, shape, stream, k, form):
    change = {"roughness": stream["roughness"] + 5e-6}
    station, total = pair(shape, stream, k, form, stream_change=change)
    assert drop(total)[1] > drop(total)[0]
    assert hottest(station)[1] == pytest.approx(hottest(station)[0], rel=NOISE)


@few
@given(passages, streams, conductivities, forms)
def test_temperatures_and_pressures_stand_in_order(pair, shape, stream, k, form):
    station, total = pair(shape, stream, k, form)
    row = station[0]
    steps = [A.O_T_AW, A.O_T_WALL_HOT, A.O_T_WALL_HOT_MEAN, A.O_T_WALL_COLD]
    for hot, cold in zip(steps, steps[1:], strict=False):
        assert np.all(row[:, hot] >= row[:, cold])
    assert np.all(row[:, A.O_T_WALL_COLD] > row[:, A.O_T_COOLANT])
    assert np.all(np.diff(row[:, A.O_T_COOLANT]) > 0.0)
    assert np.all(np.diff(row[:, A.O_P_COOLANT]) < 0.0)
