"""Notes on ranges left, deterioration, buoyancy, acceleration and deep slots."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from regen.case.read import load_case
from regen.checks import flags
from regen.checks.review import review
from regen.physics import arrays as A
from regen.physics._dispatch import COOLANT_SIDE, FRICTION, GAS_SIDE
from regen.physics.registry import CORRELATIONS
from regen.solver.models import chosen_models
from regen.solver.solve import Solution, solve
from tests.helpers.places import CASES, WATER

T_PC_READ = 1.0  # K: reading a flat maximum off a scan in steps of 0.25 K, and the table's own
BULK_TABLE = 0.02  # expansion by a small difference in a table against the equation of state
FILM_READ = 2e-3  # the corrector moves the bulk a little after the wall was balanced


@pytest.fixture(scope="module")
def methane() -> Solution:
    return solve(load_case(CASES / "a-methane.toml").design)


@pytest.fixture(scope="module")
def water() -> Solution:
    return solve(load_case(WATER).design)


def with_rows(solution: Solution, **columns) -> Solution:
    """Return the solution with columns of the nominal run replaced (by index name)."""
    station = solution.nominal.station.copy()
    for name, value in columns.items():
        station[:, getattr(A, name)] = value
    return replace(solution, nominal=replace(solution.nominal, station=station))


def codes(found) -> list[str]:
    return [note.code for note in found]


def test_a_pressure_that_falls_through_the_critical_is_told(methane):
    high = load_case(CASES / "c-ethanol-measured.toml", ('coolant.inlet_pressure="70 bar"',))
    crossing = solve(high.design)
    p = crossing.nominal.station[:, A.O_P_COOLANT]
    below = int(np.count_nonzero(p < PropsSI("PCRIT", "Ethanol")))  # 62.7 bar
    assert 0 < below < p.size
    found = flags.watch(crossing.prepared, crossing.nominal)
    note = next(note for note in found if note.code == "critical pressure")
    assert "62.7 bar" in note.text
    assert f"{below} of {p.size} stations" in note.text
    assert "critical pressure" not in codes(flags.watch(methane.prepared, methane.nominal))


def test_deterioration_where_the_equation_of_state_says(methane):
    s, x = methane.nominal.station, methane.prepared.passage.x
    p, T_b, T_w = s[:, A.O_P_COOLANT], s[:, A.O_T_COOLANT], s[:, A.O_T_WALL_COLD]
    T = np.arange(190.0, 260.0, 0.25)
    T_pc = np.array([T[np.argmax(PropsSI("C", "T", T, "P", one, "Methane"))] for one in p])
    critical = PropsSI("PCRIT", "Methane")

    def near(slack: float) -> np.ndarray:
        cold, hot = T_b < T_pc + slack, T_w > T_pc - slack
        return np.flatnonzero((p < 2.0 * critical) & cold & hot)

    surely, perhaps = near(-T_PC_READ), near(T_PC_READ)
    assert 0 < surely.size < x.size
    assert perhaps.size - surely.size <= 1
    (note,) = flags.watch(methane.prepared, methane.nominal)
    assert note.code == "deterioration"
    count = int(re.search(r"(\d+) of 75 stations", note.text)[1])
    assert surely.size <= count <= perhaps.size
    # between here and the inlet the wall is above and the bulk below
    assert f"to {x[surely[-1]] * 1e3:.0f} mm" in note.text
    assert note.x_m in (x[surely[0]], x[perhaps[0]])


def test_no_deterioration_at_twice_the_critical_pressure_or_in_a_liquid(methane, water):
    # cold stations below the critical pressure, where the wall boils: another note
    cold = methane.nominal.station[:, A.O_T_COOLANT] < 150.0
    assert cold.any()
    p_critical = methane.prepared.coolant.p_critical
    other = with_rows(methane, O_P_COOLANT=np.where(cold, 0.9, 2.05) * p_critical)
    assert "deterioration" not in codes(flags.watch(other.prepared, other.nominal))
    assert flags.watch(water.prepared, water.nominal) == []


def test_buoyancy_and_acceleration_by_hand(water):
    """Water at one station, from the equation of state: 1 g, flux of the slot floor."""
    prepared, run, i = water.prepared, water.nominal, 40
    T, p = run.station[i, A.O_T_COOLANT], run.station[i, A.O_P_COOLANT]
    mu, k, cp, rho, beta = (
        PropsSI(name, "T", T, "P", p, "Water")
        for name in ("V", "L", "C", "D", "ISOBARIC_EXPANSION_COEFFICIENT")
    )
    w, d = prepared.passage.width[i], prepared.passage.depth[i]
    D, q = 4.0 * w * d / (2.0 * (w + d)), run.station[i, A.O_Q_WETTED]
    G = 0.6 / (36 * w * d)
    Re, Pr = G * D / mu, mu * cp / k
    Gr = 9.80665 * beta * q * D**4 / (k * (mu / rho) ** 2)
    number = Gr / (Re**3.425 * Pr**0.8)
    assert flags.heated_flow(prepared, run)[0][i] == pytest.approx(number, rel=BULK_TABLE)
    number = 4.0 * q / (G * cp * T) / Re
    assert flags.heated_flow(prepared, run)[1][i] == pytest.approx(number, rel=BULK_TABLE)


def test_slow_flow_is_flagged_at_the_largest_number(water):
    prepared = water.prepared
    slow = np.where(
        np.arange(prepared.passage.x.size) == 30, 300.0, water.nominal.station[:, A.O_RE]
    )
    run = with_rows(water, O_RE=slow).nominal
    numbers = flags.heated_flow(prepared, run)
    found = flags.watch(prepared, run)
    assert codes(found) == ["buoyancy", "acceleration"]
    for note, values, limit in zip(found, numbers, ("5.6e-07", "3e-06"), strict=True):
        assert int(np.argmax(values)) == 30
        assert note.x_m == prepared.passage.x[30]
        assert f"above {limit} at 1 of" in note.text
        assert f"{values[30]:.2g}" in note.text


def test_deep_slots(methane):
    prepared = methane.prepared
    assert flags.deep_slots(prepared) == []
    depth = prepared.passage.width * np.where(prepared.passage.x > 0.0, 6.0, 4.0)
    (note,) = flags.deep_slots(replace(prepared, passage=replace(prepared.passage, depth=depth)))
    assert note.code == "stratification"
    assert "6.0 times as deep as wide" in note.text
    assert note.x_m > 0.0


def test_every_range_of_a_role_in_use_is_judged(water):
    """A range of an input that is not worked out would be left in silence."""
    at = np.arange(3)
    given = {*flags.inputs(water.prepared, water.nominal, at), "Re_ref"}
    roles = {*chosen_models(water.prepared), "roughness_heat", "curvature", "entrance"}
    for correlation in CORRELATIONS.values():
        if correlation.role in roles:
            assert set(correlation.ranges) <= given, correlation.name


def test_only_the_inputs_that_left_are_named(methane):
    # Re 20 000 to 8.6e6, Pr 0.86 to 86
    (before,) = [n for n in flags.ranges(methane) if "krasnoshchekov" in n.text]
    assert "Pr 0.86 to 86" in before.text
    assert "Re" not in before.text
    slow = methane.nominal.station[:, A.O_RE].copy()
    slow[:2] = 1e4
    (after,) = [n for n in flags.ranges(with_rows(methane, O_RE=slow)) if "krasno" in n.text]
    assert "(Re 20000 to 8.6e+06, Pr 0.86 to 86" in after.text
    laminar = with_rows(methane, O_RE=1e3, O_FLAGS=float(A.FLAG_LAMINAR))
    assert not [n for n in flags.ranges(laminar) if "krasno" in n.text]  # it is not called on


def test_a_chosen_form_of_the_gas_side_is_judged_too():
    design = load_case(WATER, ["models.gas_side=pipe_film"]).design
    solution = solve(design)
    Re = flags.reference_reynolds(
        solution.prepared,
        solution.nominal,
        "pipe_film",
        np.arange(solution.prepared.passage.x.size),
    )
    low = int(np.argmin(Re))
    inside = CORRELATIONS["pipe_film"].ranges["Re_ref"]
    assert inside[0] < Re[low] < inside[1]
    assert not [n for n in flags.ranges(solution) if "pipe_film" in n.text]
    # a gas a hundred times as thin
    gas = solution.prepared.gas
    layer = gas.layer.copy()
    layer[..., A.LAYER_MU] *= 1e3
    thin = replace(solution.prepared, gas=gas._replace(layer=layer))
    (note,) = [n for n in flags.ranges(replace(solution, prepared=thin)) if "pipe_film" in n.text]
    assert "(Re_ref 10000 to 1e+08)" in note.text


@pytest.mark.parametrize("i", [5, 40, 60])
def test_reference_reynolds_gives_the_film_coefficient_of_the_run(water, i):
    """0.023 k/D Re^0.8 Pr^0.4 at the film temperature is what the march has on its wall."""
    prepared = water.prepared
    run = next(m for m in water.members if m.name.startswith("pipe_film"))
    (Re,) = flags.reference_reynolds(prepared, run, "pipe_film", np.array([i]))
    row = run.station[i]
    T_nodes = prepared.gas.layer_T[0, 0] + prepared.gas.layer_T[0, 1] * np.arange(
        prepared.gas.layer.shape[2]
    )
    core = prepared.rows.joined([prepared.gas.core[0, 0]])[i]  # nothing returns: one enthalpy
    T = 0.5 * (row[A.O_T_WALL_HOT_MEAN] + core[A.G_T])
    k, mu, cp = (
        np.interp(T, T_nodes, prepared.rows.joined([prepared.gas.layer[0]])[i, :, column])
        for column in (A.LAYER_K, A.LAYER_MU, A.LAYER_CP)
    )
    h = 0.023 * k / (2.0 * prepared.passage.r[i]) * Re**0.8 * (mu * cp / k) ** 0.4
    assert row[A.O_H_GAS] == pytest.approx(h, rel=FILM_READ)


def test_members_outside_their_range_are_named_in_one_note(methane):
    members = []
    for member in methane.members:
        station = member.station.copy()
        station[:, A.O_RE] = 1e6  # jackson's data end at 5e5
        members.append(replace(member, station=station))
    (note,) = flags.member_ranges(replace(methane, members=tuple(members)))
    assert note.code == "band range"
    (jackson,) = [part for part in note.text.split("; ") if "jackson (" in part]
    assert "Re 80000 to 500000" in jackson
    assert "D 1.6 to 20 mm" in jackson
    assert chosen_models(methane.prepared)["coolant_side"] not in note.text
    assert not any(name in note.text for name in (*GAS_SIDE, *FRICTION))
    assert any(name in note.text for name in COOLANT_SIDE)


def test_flags_of_the_march_have_words(methane):
    bits = [value for name, value in vars(A).items() if name.startswith("FLAG_")]
    assert set(bits) == set(flags.FLAGS)
    row = methane.nominal.station[:, A.O_FLAGS] * 0.0
    row[3] = A.FLAG_NO_HEAT | A.FLAG_SEVERAL_ROOTS
    found = flags.marched(with_rows(methane, O_FLAGS=row))
    assert codes(found) == ["no-heat", "several-walls"]
    assert all(note.x_m == methane.prepared.passage.x[3] for note in found)


def test_the_result_has_the_notes():
    result = review(load_case(CASES / "a-methane.toml").design)
    assert {"deterioration", "range", "sulfur"} <= set(codes(result.notes))
    assert "deterioration_watch" in result.provenance["sources"]
    floor, root = result.stations["T_wall_floor_K"], result.stations["T_wall_cold_K"]
    assert np.all(floor > root)  # the lands take more than the floor here
    assert np.all(result.stations["T_wall_hot_K"] > floor)
    low, high = result.station_bands["T_wall_floor_K"]
    assert np.all((low <= floor) & (floor <= high))
