"""Measured slots against solves that know nothing of slots: whole chambers cut alike."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from regen.case.measured import Row, Sheet
from regen.case.read import load_case
from regen.checks import shop_rules
from regen.checks.stations import headline
from regen.errors import CaseError
from regen.physics import arrays as A
from regen.solver.prepare import prepare
from regen.solver.solve import solve, solve_nominal
from regen.studies.as_built.row import SlotRow
from regen.studies.as_built.slots import AS_DRAWN
from regen.studies.as_built.study import as_built
from tests.helpers.places import CASES, WATER

FEW = ("models.stations=31",)
COUNT = 36
PLACES = (-0.07, -0.02, 0.0, 0.02)

SAME = 1e-9
"""A slot measured as drawn is the slot as drawn, but for the digits of its deviations."""

SECANT = 1e-4
"""The slot's flow and the common drop are found to 1e-5 each; a temperature above the coolant's
goes with flow to the 0.8, a drop with its square."""


@pytest.fixture(scope="module")
def design():
    return load_case(WATER, FEW).design


def rows_of(design, slots, depth=0.0, wall=None, width=0.0):
    """Return rows of slots that differ from the drawing by the same everywhere [m]."""
    nominal = design.channels.width, design.channels.depth, design.liner.wall
    made = []
    for slot in slots:
        for x in PLACES:
            w, h, t = (float(profile.at(x)) for profile in nominal)
            measured = None if wall is None else t + wall
            made.append(Row(len(made) + 2, slot, x, w + width, h + depth, measured))
    return made


def sheet_of(rows):
    return Sheet("measured.csv", b"", tuple(rows), (), ())


def with_depth(design, depth, wall):
    """Return the whole chamber cut deeper [m], on the same stations."""
    channels = replace(design.channels, depth=design.channels.depth.raised(depth))
    liner = replace(design.liner, wall=design.liner.wall.raised(wall))
    return replace(design, channels=channels, liner=liner)


def marched(design, flow):
    """Return totals and summary of a whole chamber at a coolant flow [kg/s]."""
    prepared = prepare(replace(design, coolant=replace(design.coolant, mass_flow=float(flow))))
    run = solve_nominal(prepared)
    return run.total, headline(prepared, run)


def drop_of(total):
    return total[A.T_P_IN] - total[A.T_P_OUT]


@pytest.fixture(scope="module")
def drawn(design):
    return marched(design, design.coolant.mass_flow)


def test_slots_measured_as_drawn_are_the_nominal_march(design, drawn):
    total, head = drawn
    found = as_built(design, sheet_of(rows_of(design, range(1, COUNT + 1), wall=0.0)))
    assert len(found.slots) == COUNT
    assert found.all_usable
    assert found.drop == pytest.approx(drop_of(total), rel=SAME)
    assert found.flow == pytest.approx(0.6, rel=SAME)
    assert found.flow_at_drop_drawn == pytest.approx(0.6, rel=SAME)
    for slot in (found.drawn, *found.slots):
        assert slot.summary["flow_over_mean"] == pytest.approx(1.0, rel=SAME)
        assert slot.summary["T_wall_hot_max_K"] == pytest.approx(head["T_wall_hot_max_K"], rel=SAME)
        assert slot.summary["coolant_temperature_out_K"] == pytest.approx(
            head["coolant_temperature_out_K"], rel=SAME
        )
        assert slot.outside == ()
    for margin in found.design.margins:
        if margin.name in shop_rules.NAMES:
            assert margin.name not in found.slots[3].margins  # of a drawing, not of what is there
        elif margin.nominal is None and not margin.informative:
            assert margin.name in found.left_out  # the jacket's hot strength is not tabulated
        elif not margin.informative:
            own = found.slots[3].margins[margin.name].own
            assert own == pytest.approx(margin.nominal, rel=SAME)


@pytest.mark.parametrize("off", [-0.15e-3, 0.15e-3])
def test_one_slot_is_as_in_a_chamber_of_such_slots_at_its_drop(design, off):
    """Such a chamber is marched at the flow that loses what the measured row loses."""
    found = as_built(design, sheet_of(rows_of(design, [17], depth=off)))
    (slot,) = found.slots
    assert slot.measured.wall_inferred
    alike = with_depth(design, off, -off)  # the same blank: the wall gives what the depth takes
    flow = brentq(lambda m: drop_of(marched(alike, m)[0]) - found.drop, 0.3, 1.0, xtol=1e-9)
    total, head = marched(alike, flow)
    assert slot.summary["flow_over_mean"] == pytest.approx(flow / 0.6, rel=SECANT)
    above = head["T_wall_hot_max_K"] - 290.0
    assert slot.summary["T_wall_hot_max_K"] - 290.0 == pytest.approx(above, rel=SECANT)
    rise = head["coolant_temperature_out_K"] - 290.0
    assert slot.summary["coolant_temperature_out_K"] - 290.0 == pytest.approx(rise, rel=SECANT)
    # one slot in 36 takes less or more: the rest make up for it at the drop of their own flow
    rest = (COUNT - slot.summary["flow_over_mean"]) / (COUNT - 1)
    assert found.drawn.summary["flow_over_mean"] == pytest.approx(rest, rel=SECANT)
    total, _ = marched(design, 0.6 * rest)
    assert found.drop == pytest.approx(drop_of(total), rel=SECANT)


def test_a_whole_chamber_cut_deeper_has_its_own_drop_at_the_same_flow(design):
    rows = rows_of(design, range(1, COUNT + 1), depth=0.1e-3, wall=-0.1e-3)
    found = as_built(design, sheet_of(rows))
    total, head = marched(with_depth(design, 0.1e-3, -0.1e-3), 0.6)
    assert found.drop == pytest.approx(drop_of(total), rel=SECANT)
    for slot in found.slots:
        assert slot.summary["flow_over_mean"] == pytest.approx(1.0, rel=SECANT)
        assert slot.summary["T_wall_hot_max_K"] - 290.0 == pytest.approx(
            head["T_wall_hot_max_K"] - 290.0, rel=SECANT
        )
    # at the drop as drawn more would pass
    assert found.flow_at_drop_drawn > 1.05 * found.flow


def test_the_order_of_rows_changes_nothing(design):
    rows = [
        *rows_of(design, [3], depth=-0.1e-3),
        *rows_of(design, [30], depth=0.2e-3, wall=-0.1e-3),
        *rows_of(design, [12], width=-0.05e-3),
    ]
    shuffled = random.Random(5).sample(rows, len(rows))
    first, second = (as_built(design, sheet_of(given)) for given in (rows, shuffled))
    assert first.drop == second.drop
    assert [slot.measured for slot in first.slots] == [slot.measured for slot in second.slots]
    for one, other in zip(first.slots, second.slots, strict=True):
        assert (one.summary["T_wall_hot_max_K"], one.summary["flow_over_mean"], one.verdict) == (
            other.summary["T_wall_hot_max_K"],
            other.summary["flow_over_mean"],
            other.verdict,
        )
    assert [slot.measured.number for slot in first.slots] == [3, 12, 30]


def test_deviations_are_straight_between_places_and_held_beyond(design):
    rows = [Row(2, 5, -0.02, depth=1.1e-3), Row(3, 5, 0.02, depth=0.9e-3, wall=1.2e-3)]
    found = as_built(design, sheet_of(rows))
    off = found.slots[0].measured.deviations
    x = np.array([-0.07, -0.02, 0.0, 0.01, 0.03])
    assert off["depth"].at(x) == pytest.approx([1e-4, 1e-4, 0.0, -0.5e-4, -1e-4], abs=1e-12)
    # the wall: what the depth leaves at the first place, measured at the second
    assert off["wall"].at(x[[0, 4]]) == pytest.approx([-1e-4, 2e-4], abs=1e-12)
    assert off["width"].at(x) == pytest.approx(np.zeros(5), abs=0.0)
    assert found.slots[0].outside == ("depth", "wall")


def widened(slot, by):
    """Return rows of a slot that is wider at the throat alone [m]: slower there, and hotter."""
    given = ((-0.012, 0.0), (-0.008, by), (0.008, by), (0.012, 0.0))
    return [Row(50 + n, slot, x, width=1.0e-3 + off) for n, (x, off) in enumerate(given)]


def test_what_a_cut_cures_is_reworked_and_what_it_does_not_is_scrap(design):
    """With the limit set between the slot as drawn and slots that are hotter."""
    rows = [
        *rows_of(design, [4], depth=-0.3e-3),  # shallow
        *rows_of(design, [5], wall=0.6e-3),  # a thick blank
        *rows_of(design, [6], width=-0.3e-3),  # narrow
        *widened(7, 0.6e-3),
    ]
    plain = as_built(design, sheet_of(rows))
    least = min(slot.summary["T_wall_hot_max_K"] for slot in plain.slots)
    assert least > plain.drawn.summary["T_wall_hot_max_K"] + 8.0
    limit = 0.5 * (plain.drawn.summary["T_wall_hot_max_K"] + least)
    strict = replace(design, limits=replace(design.limits, T_wall_hot=limit))
    found = as_built(strict, sheet_of(rows))
    assert [slot.verdict.word for slot in found.slots] == ["rework", "rework", "rework", "scrap"]
    assert found.slots[3].measured.number == 7
    assert found.worst_first[0].measured.number == 7
    assert not found.all_usable
    assert found.slots[3].verdict.limits == ("hot_wall_temperature",)


def test_a_slot_that_fails_under_the_streak_alone_is_sleeved(design):
    """The limit lies between the worst channel of the design and the slot's streak."""
    rows = widened(7, 0.6e-3)
    (slot,) = as_built(design, sheet_of(rows)).slots
    worst = as_built(design, sheet_of(rows)).design.worst_channel["T_wall_hot_max_K"]
    assert (
        slot.summary["T_wall_hot_max_streak_K"] > max(worst, slot.summary["T_wall_hot_max_K"]) + 5.0
    )
    limit = 0.5 * (
        slot.summary["T_wall_hot_max_streak_K"] + max(worst, slot.summary["T_wall_hot_max_K"])
    )
    strict = replace(design, limits=replace(design.limits, T_wall_hot=limit))
    (found,) = as_built(strict, sheet_of(rows)).slots
    assert found.verdict.word == "sleeve"
    assert found.verdict.limits == ("hot_wall_temperature",)


def test_slots_that_cannot_be_are_refused_with_their_lines(design):
    rows = [
        Row(2, 1, -0.09, depth=1.0e-3),  # ahead of the injector end
        Row(3, 2, 0.0, depth=2.1e-3),  # through the wall: 1.0 mm of it, 1.1 mm too deep
        Row(4, 3, 0.0, width=4.0e-3),  # wider than the pitch
    ]
    x_first = float(prepare(design).passage.x[0])
    rows[0] = replace(rows[0], x=x_first - 1e-3)
    with pytest.raises(CaseError) as error:
        as_built(design, sheet_of(rows))
    problems = error.value.problems
    assert [problem.key for problem in problems] == [
        "line 2, slot 1, x",
        "line 3, slot 2",
        "line 4, slot 3",
    ]
    assert problems[1].what.startswith("wall of -0.1 mm at x = ")
    assert problems[2].what.startswith("land of ")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("channels.passes='down and back'", "down and back"),
        ('channels.count=[["-80 mm", 36], ["-40 mm", 30]]', "change in number"),
    ],
)
def test_slots_that_are_not_followed_one_by_one_are_refused(change, words):
    other = load_case(WATER, (*FEW, change)).design
    with pytest.raises(CaseError, match=words):
        as_built(other, sheet_of(rows_of(other, [1])))


def test_each_slot_has_its_part_of_the_flow_by_the_manifolds():
    given = ("manifolds.inlet_bore=12 mm", "manifolds.inlet_taps=1")
    ringed = load_case(WATER, (*FEW, *given)).design
    share = solve(ringed).split.share
    assert np.ptp(share) > 1e-3
    found = as_built(ringed, sheet_of(rows_of(ringed, (1, 18), wall=0.0)))
    for slot, number in zip(found.slots, (1, 18), strict=True):
        assert slot.summary["flow_over_mean"] == pytest.approx(share[number - 1], rel=SAME)
        assert slot.verdict.word == "use"  # a rich slot as drawn is not worse than itself
    assert found.drop == pytest.approx(found.drop_drawn, rel=SAME)


def test_a_given_outlet_pressure_stays_what_it_is(design):
    coolant = replace(design.coolant, inlet_pressure=None, outlet_pressure=15e5)
    fed = replace(design, coolant=coolant)
    rows = rows_of(fed, range(1, COUNT + 1), depth=0.1e-3, wall=-0.1e-3)
    found = as_built(fed, sheet_of(rows))
    total, head = marched(with_depth(fed, 0.1e-3, -0.1e-3), 0.6)
    assert found.drop == pytest.approx(drop_of(total), rel=SECANT)
    assert found.slots[0].summary["T_wall_hot_max_K"] - 290.0 == pytest.approx(
        head["T_wall_hot_max_K"] - 290.0, rel=SECANT
    )


def test_a_place_between_stations_is_told(design):
    rows = [
        Row(n, 9, x, depth=1.0e-3 + off)
        for n, (x, off) in enumerate(((-0.0452, 0.0), (-0.045, 0.2e-3), (-0.0448, 0.0)), start=2)
    ]
    found = as_built(design, sheet_of(rows))
    assert any("between stations" in note and "slot 9" in note for note in found.notes)


def test_a_row_without_a_solved_slot_knows_nothing_as_measured(design):
    row = SlotRow(solve(design), [AS_DRAWN], ())
    solved = row.solve(row.drop_drawn, np.array([np.nan]))
    assert solved.measured.why == {0: "no flow at the common pressure drop"}
    assert all(np.isnan(values).all() for values in row.lives(solved.measured)[0].values())
    assert all(np.isnan(margins.own) for margins in solved.margins[0].values())
    assert np.isfinite(solved.margins[0]["hot_wall_temperature"].streak)


EITHER_FLOW = 0.03
"""Of wall less inlet: a streak shifts the flow at one pressure drop by a per cent or two, whether
that is counted or not."""


def test_the_streak_and_the_shortfall_act_together(design):
    """By hand: the whole chamber under 1.2 of the flux, at 0.7 of its flow."""
    short = replace(design, shop=replace(design.shop, streak=0.2, flow_shortfall=0.3))
    (slot,) = as_built(short, sheet_of(rows_of(short, [17], wall=0.0))).slots
    rise = {}
    for flux, share in ((1.2, 0.7), (1.2, 1.0), (1.0, 0.7)):
        coolant = replace(design.coolant, mass_flow=0.6 * share)
        prepared = prepare(replace(design, coolant=coolant))
        prepared.run["gas_factor"] = flux
        head = headline(prepared, solve_nominal(prepared))
        rise[flux, share] = head["T_wall_hot_max_K"] - 290.0
    both = rise.pop((1.2, 0.7))
    assert slot.summary["T_wall_hot_max_streak_K"] - 290.0 == pytest.approx(both, rel=EITHER_FLOW)
    for alone in rise.values():  # neither of them would do
        assert alone < (1.0 - 2.0 * EITHER_FLOW) * both


def test_the_injector_is_judged_by_what_the_slots_leave():
    """Slots as drawn leave what the design leaves: 90 bar less their drop, over the chamber's."""
    given = ("models.stations=31", "coolant.inlet_temperature=120 K")
    fed = load_case(CASES / "a-methane.toml", given).design
    found = as_built(fed, sheet_of(rows_of(fed, [3], wall=0.0)))
    left = 90e5 - found.drop - 30e5
    asked = fed.limits.injector_drop_fraction * 30e5
    own = found.slots[0].margins["injector_pressure"].own
    assert own == pytest.approx(left / asked - 1.0, rel=1e-6)


def test_a_gas_under_the_streak_takes_its_own_flow_less_the_shortfall():
    """Methane thins as it warms: a slot under the streak takes a seventh less of it at one drop.

    The streak is one factor on all heat flux, so that a chamber with both factors of 1.2 has it
    everywhere; the flow is that at which such a chamber loses what the chamber as drawn does.
    """
    given = ("models.stations=21", "coolant.returns_to_injector=false")
    drawn = load_case(CASES / "a-methane.toml", given).design
    found = as_built(drawn, sheet_of(rows_of(drawn, range(1, 81), wall=0.0)))
    total, _ = marched(drawn, found.flow)
    factors = {"barrel_factor": 1.2, "throat_factor": 1.2}
    hot = replace(drawn, models=replace(drawn.models, **factors))
    hot = replace(hot, coolant=replace(hot.coolant, fuel_fraction=None))

    def missed(flow):
        return drop_of(marched(hot, flow)[0]) - drop_of(total)

    flow = brentq(missed, 0.8 * found.flow, found.flow, xtol=1e-9)
    assert flow < 0.9 * found.flow  # else either flow would do
    _, head = marched(hot, 0.9 * flow)
    above = head["T_wall_hot_max_K"] - 120.0
    for slot in (found.drawn, found.slots[40]):
        assert slot.summary["T_wall_hot_max_streak_K"] - 120.0 == pytest.approx(above, rel=SECANT)
