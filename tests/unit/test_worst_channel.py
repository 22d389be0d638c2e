"""The worst channel against jackets of such slots, set up by hand: every slot is like it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks import limits
from regen.checks.circuits import stopped, worst_notes
from regen.checks.registry import Limit
from regen.checks.review import review
from regen.checks.runs import Compared, Run, Solved, Stopped
from regen.design import Shop
from regen.errors import GeometryError
from regen.geometry.channels import build_passage
from regen.geometry.circuits import geometry_of
from regen.output.review import side_by_side
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.solver.prepare import prepare
from regen.solver.solve import solve
from regen.solver.worst_channel import DROP_TOLERANCE, Corner, corners
from regen.studies.batch.designs import DesignBatch, solve_batch
from regen.studies.batch.parameters import numeric_key
from tests.helpers.places import CASES, WATER

BY = {"width": 0.03e-3, "depth": 0.05e-3, "wall": 0.05e-3}  # the shop's usual tolerances
STREAK, LESS = 1.20, 0.90
# one more step of the secant follows the last look, so that the drop is missed by far less
SAME_DROP = DROP_TOLERANCE
SAME_WALL = 0.01  # what that leaves of a wall some 500 K above its coolant [K]


@cache
def solution_of(name: str):
    path = WATER if name == "water" else CASES / f"{name}.toml"
    return solve(load_case(path).design)


@cache
def result_of(name: str):
    path = WATER if name == "water" else CASES / f"{name}.toml"
    return review(load_case(path).design)


def jacket(solution, width: float, depth: float, wall: float, share: float):
    """March a whole jacket of slots with other sizes, under the streak, at a share of the flow.

    Its feed and its hot gas are those the neighbours have; the heat does not return.
    """
    prepared, total = solution.prepared, solution.nominal.total
    (path,) = prepared.paths
    design = prepared.design
    channels = replace(
        design.channels,
        width=design.channels.width.raised(width),
        depth=design.channels.depth.raised(depth),
    )
    liner = replace(design.liner, wall=design.liner.wall.raised(wall))
    passage = build_passage(prepared.contour, channels, liner, design.closeout.thickness, path.x)
    run = prepared.run.copy()
    run["fuel_share"], run["returns"], run["outlet_given"] = 0.0, 0.0, 0
    run["mass_flow"] = share * total[A.T_MASS_FLOW]
    run["pressure"], run["h0"] = total[A.T_P_IN], total[A.T_H0]
    run["gas_factor"] = STREAK
    geometry = geometry_of(design, (replace(path, passage=passage),))
    tables = prepared.gas, prepared.coolant, prepared.walls
    models = np.zeros(1, dtype=A.MODEL)
    models["throat_factor"] = 1.0
    for role, number in _numbers(solution).items():
        models[role] = number
    out, status = march_all(geometry, *tables, run, models)
    assert status[0, 0] == st.OK
    return out


def _numbers(solution):
    from regen.physics._dispatch import BOILING, COOLANT_SIDE, FRICTION, GAS_SIDE

    known = {
        "gas_side": GAS_SIDE,
        "coolant_side": COOLANT_SIDE,
        "friction": FRICTION,
        "boiling": BOILING,
    }
    return {role: known[role][name] for role, name in solution.models.items()}


def test_every_corner_of_the_tolerances_is_there_once():
    found = corners(Shop())
    signs = {tuple(int(np.sign(by)) for by in corner) for corner in found}
    assert len(found) == 8
    assert signs == set(product((-1, 1), repeat=3))
    assert all(tuple(map(abs, corner)) == tuple(BY.values()) for corner in found)
    assert found[0].text == "width -0.03, depth -0.05, wall +0.05 mm"
    assert len(corners(Shop(depth_tolerance=0.0))) == 4
    sharp = corners(Shop(width_tolerance=0.0, depth_tolerance=0.0, wall_tolerance=0.0))
    assert sharp == (Corner(0.0, 0.0, 0.0),)
    assert sharp[0].text == "sizes as drawn"


@pytest.mark.parametrize("name", ["water", "b-hydrogen", "c-ethanol-measured"])
def test_its_flow_loses_the_neighbours_drop_under_the_streak(name):
    solution = solution_of(name)
    total = solution.nominal.total
    wanted = total[A.T_P_IN] - total[A.T_P_OUT]
    for slot in solution.corners:
        assert slot.run.ok
        share = slot.run.total[A.T_MASS_FLOW] / total[A.T_MASS_FLOW] / LESS
        out = jacket(solution, *slot.corner, share)
        found = out.total[0, A.T_P_IN] - out.total[0, A.T_P_OUT]
        assert found == pytest.approx(wanted, rel=SAME_DROP)


@pytest.mark.parametrize("name", ["water", "b-hydrogen"])
def test_the_shortfall_is_taken_off_after(name):
    solution = solution_of(name)
    total = solution.nominal.total
    walls = []
    for slot in solution.corners:
        share = slot.run.total[A.T_MASS_FLOW] / total[A.T_MASS_FLOW]
        by_hand = jacket(solution, *slot.corner, share)
        walls.append(by_hand.station[0, :, A.O_T_WALL_HOT].max())
        found = slot.run.station[:, A.O_T_WALL_HOT].max()
        assert found == pytest.approx(walls[-1], abs=SAME_WALL)
    # the summary is of the hottest corner
    peak = result_of(name).worst_channel["T_wall_hot_max_K"]
    assert peak == pytest.approx(max(walls), abs=2.0)  # a parabola through the highest row
    assert result_of(name).worst_stations["T_wall_hot_K"].max() == pytest.approx(
        max(walls), abs=SAME_WALL
    )


def test_each_row_takes_its_own_worse_corner():
    solution, result = solution_of("water"), result_of("water")
    total = solution.nominal.total
    wall, bulk, speed = [], [], []
    for slot in solution.corners:
        share = slot.run.total[A.T_MASS_FLOW] / total[A.T_MASS_FLOW]
        rows = jacket(solution, *slot.corner, share).station[0]
        wall.append(rows[:, A.O_T_WALL_HOT].max())
        bulk.append(rows[:, A.O_T_COOLANT].max())
        speed.append(rows[:, A.O_V_COOLANT].max())
    margins = {margin.name: margin for margin in result.margins}
    hot = margins["hot_wall_temperature"]
    assert hot.worst_channel == pytest.approx(1.0 - max(wall) / hot.limit, abs=2e-3)
    # not one corner serves every row
    assert len({int(np.argmax(values)) for values in (wall, bulk, speed)}) > 1
    # ligaments are widest and thinnest at another corner than that of the hottest wall
    slot = solution.corners[int(np.argmax(wall))]
    assert slot.corner.wall > 0.0
    stress = margins["ligament_stress"]
    drawn = stress.nominal
    s = result.stations
    thin = (s["channel_width_m"] + BY["width"]) / (s["wall_m"] - BY["wall"])
    ratio = (thin / (s["channel_width_m"] / s["wall_m"])) ** 2
    # bending goes with (w/t)^2, at about the same pressure: the margin's loss grows by that
    grown = (1.0 - stress.worst_channel) / (1.0 - drawn)
    assert grown == pytest.approx(float(ratio.mean()), rel=0.1)


def test_the_note_says_which_corner_and_what_flow():
    texts = worst_notes(solution_of("b-hydrogen"))
    solution = solution_of("b-hydrogen")
    peaks = [slot.run.station[:, A.O_T_WALL_HOT].max() for slot in solution.corners]
    corner = solution.corners[int(np.argmax(peaks))].corner
    text = texts[0].text
    assert text.startswith(f"worst corner for the hot wall: {corner.text}; takes ")
    assert text.endswith("less 10 % by shop.flow_shortfall")
    several = replace(solution.corners[3], several=True)
    slots = (*solution.corners[:3], several, *solution.corners[4:])
    (last,) = worst_notes(replace(solution, corners=slots))[1:]
    assert "the lowest stable one is taken" in last.text


def test_where_it_stops_the_true_reason_is_given():
    """The demo's narrow slots run out of the coolant's tables; an examiner found some 990 K."""
    solution, result = solution_of("a-methane"), result_of("a-methane")
    lost = [slot for slot in solution.corners if not slot.run.ok]
    assert lost
    for slot in lost:
        stop = stopped(solution.prepared, slot)
        assert stop.code == st.COOLANT_RANGE
        part = slot.run.circuits[0]
        x = solution.prepared.paths[0].flowing("x")[part.stop]
        reached = part.station[: part.stop, A.O_T_WALL_HOT].max()
        assert 900.0 < reached < 1100.0
        assert stop.x_m == x
        for word in ("beyond the property tables", f"x = {x * 1e3:.1f} mm", f"{reached:.0f} K"):
            assert word in stop.why
        assert "did not converge" not in stop.why
    (note,) = [n for n in result.notes if n.text.startswith("not solved at")]
    assert f"{len(lost)} of 8 corners" in note.text
    rows = {margin.name: margin for margin in result.margins}
    for name in ("hot_wall_temperature", "coolant_wall_temperature", "coolant_temperature"):
        found = rows[name].columns["worst_channel"]
        assert found.state == "broken"
        assert "a coolant state lies beyond" in found.why
    # what a coolant beyond its tables says nothing of is judged by the other corners
    assert rows["coolant_mach"].columns["worst_channel"].state == "kept"
    assert side_by_side(result, "T_wall_hot_max_K")[2].endswith("or more")
    assert result.worst_channel["corners_not_solved"] == len(lost)


def test_a_corner_that_cannot_be_cut_is_refused_alone_and_in_a_batch():
    design = load_case(WATER, ["models.stations=21", 'coolant.inlet_pressure="60 bar"']).design
    land = prepare(design).passage.land
    wide = [float(land.min()) - by for by in (0.05e-3, 0.01e-3, -0.01e-3)]  # left of the lands
    key = replace(numeric_key("channels.width", design), shift=True)
    rows = solve_batch(DesignBatch(design, (key,), np.array(wide)[:, None]), judged="worst")
    # the second has lands as drawn, but none where its slots are 0.03 mm wider
    assert list(rows.status) == ["solved", "no such geometry", "no such geometry"]
    other = replace(
        design, channels=replace(design.channels, width=design.channels.width.raised(wide[1]))
    )
    prepare(other)
    with pytest.raises(GeometryError, match="land width <= 0"):
        solve(other)


def test_a_corner_that_boils_breaks_the_rows_it_belongs_to_and_no_other():
    run = Run({"x_m": np.zeros(2), "T": np.array([500.0, 600.0])}, {})
    hot = Run({"x_m": np.zeros(2), "T": np.array([500.0, 900.0])}, {})
    some = Limit("some", "wall", "K", "common_practice")

    def compare(one):
        return Compared(one.stations["T"], np.full(2, 800.0))

    def judged(*worst, limit=some):
        return limits.judge(limit, solved_with(run, worst), compare)

    assert judged(run, hot, run).worst_channel == pytest.approx(-0.125)
    assert judged(run).worst_channel == pytest.approx(0.25)
    boiled = Stopped(st.BOILED, "bulk boiling at x = 3 mm", 3e-3)
    assert judged(hot, boiled, run).worst_channel == pytest.approx(-0.125)
    found = judged(run, boiled, limit=limits.LIMITS["coolant_temperature"])
    assert found.columns["worst_channel"].state == "broken"
    assert "bulk boiling at x = 3 mm" in found.columns["worst_channel"].why
    assert judged().verdict == "pass"


def test_where_every_corner_stopped_a_row_without_demand_of_the_slot_is_not_open():
    """The drawing, and the pressure that the neighbours leave, do not wait for the worst slot."""
    run = Run({"x_m": np.zeros(2), "T": np.array([500.0, 600.0])}, {})
    boiled = Stopped(st.BOILED, "bulk boiling at x = 3 mm", 3e-3)

    def judged(limit):
        def compare(one):
            return Compared(one.stations["T"], np.full(2, 800.0))

        return limits.judge(limit, solved_with(run, (boiled, boiled)), compare)

    own = limits.LIMITS["melting"]
    assert (judged(own).verdict, judged(own).columns["worst_channel"].state) == ("open", "unknown")
    drawn = replace(limits.LIMITS["land_width"], kind="max")
    found = judged(drawn)
    assert (found.verdict, found.worst_channel) == ("pass", 1.0)
    assert not found.columns["worst_channel"].asked
    face = replace(limits.LIMITS["injector_pressure"], kind="max")
    assert judged(face).verdict == "pass"
    choked = Stopped(st.CHOKED, "choked", 3e-3)
    with_choked = limits.judge(
        face,
        solved_with(run, (choked,)),
        lambda one: Compared(one.stations["T"], np.full(2, 800.0)),
    )
    assert with_choked.columns["worst_channel"].state == "broken"


@pytest.mark.parametrize("name", ["land_width", "slot_aspect", "injector_pressure"])
def test_a_chamber_whose_worst_channel_boils_at_every_corner_is_drawn_all_the_same(bare, name):
    assert bare.worst_channel == {}
    (row,) = (m for m in bare.margins if m.name == name)
    assert row.verdict == "pass"


def test_a_study_judges_such_a_chamber_alike(bare):
    design = load_case(CASES / "c-ethanol-bare.toml").design
    rows = solve_batch(
        DesignBatch(design, (numeric_key("channels.count", design),), np.array([[60.0]]))
    )
    assert rows.margins["land_width"]["worst_channel"][0] == 1.0
    for one in bare.margins:
        for name, column in one.columns.items():
            found = rows.margins[one.name][name][0]
            assert np.isnan(found) == (column.margin is None), (one.name, name)


@pytest.fixture(scope="module")
def bare():
    return review(load_case(CASES / "c-ethanol-bare.toml").design)


def solved_with(nominal, worst):
    design = load_case(WATER).design
    return Solved(design, None, None, nominal, worst=worst)
