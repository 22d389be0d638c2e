"""Trends on designs of the box: a few in every run, all two hundred in .ci/full.

What is asked of each trend, and why, is in tests/property/trends; docs/trends.md shows all of it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from regen.design import Profile
from regen.physics import arrays as A
from regen.physics import status as st
from tests.property.trends import box, causes, page, trends
from tests.property.trends.causes import CAUSES, UNEXPLAINED
from tests.property.trends.runs import (
    Case,
    attempt,
    cases,
    with_channels,
    with_flow,
    with_models,
)

SAMPLE = (14, 31, 33, 39, 58, 76, 106)
"""Draws that solve: every coolant once, one of them behind a poor conductor."""


@pytest.fixture(scope="module")
def sample() -> dict[int, Case]:
    found = {draw: attempt(draw) for draw in SAMPLE}
    stopped = {draw: case for draw, case in found.items() if not isinstance(case, Case)}
    assert not stopped, f"draws of the sample that no longer solve: {stopped}"
    return found


@pytest.mark.parametrize("trend", page.LOOKS, ids=[trend.name for trend in page.LOOKS])
def test_a_trend_holds_or_its_violation_has_a_cause(sample, trend):
    looked = 0
    for case in sample.values():
        if trend.applies(case):
            outcome = trend(case)
            looked += outcome.stopped is None
            assert not [v for v in outcome.violations if v.cause == UNEXPLAINED]
    # few states lie in the range of two forms for dense fluids
    assert looked or trend.name in ("hydrogen forms", "forms for dense fluids")


def test_the_sample_has_every_coolant_and_both_kinds_of_metal(sample):
    designs = [case.design for case in sample.values()]
    assert {design.coolant.fluid for design in designs} == set(box.FEEDS)
    assert {design.liner.alloy in box.COPPERS for design in designs} == {True, False}


@pytest.mark.parametrize("draw", [14, 33])
def test_less_flow_is_a_violation_without_excuse(sample, draw):
    """The finder of causes does not explain away what a wrong sign in the program would do."""
    case = sample[draw]
    slower = case.with_slots(with_flow(case.design, 0.9))
    outcome = trends.cooler("more flow", case, slower)
    assert outcome.value > 0.0
    assert {v.cause for v in outcome.violations} == {UNEXPLAINED}
    assert any(v.where.startswith("the peak") for v in outcome.violations)


def test_a_wider_slot_is_a_violation_without_excuse(sample):
    case = sample[33]
    wider = trends.times(case.design.channels.width, 1.1)
    changed = case.with_slots(with_channels(case.design, width=wider))
    outcome = trends.more_pressure_drop(
        "narrower", case, changed, trends.cooler("narrower", case, changed)
    )
    causes = Counter(v.cause for v in outcome.violations)
    assert set(causes) == {UNEXPLAINED}
    assert any(v.where == "pressure drop" for v in outcome.violations)


def test_more_efficiency_is_a_violation_without_excuse(sample, monkeypatch):
    case = sample[14]
    monkeypatch.setattr(trends, "LESS_EFFICIENCY", 1.05)
    outcome = trends.less_efficiency(case)
    assert outcome.violations
    assert {v.cause for v in outcome.violations} == {UNEXPLAINED}


def test_a_flux_that_goes_as_another_power_is_a_violation(sample, monkeypatch):
    monkeypatch.setattr(trends, "EXPONENT", 0.9)
    assert trends.more_pressure(sample[14]).violations


def test_the_flux_at_another_wall_temperature_is_that_of_the_gas(sample):
    """The line through two flows meets what a third one solves."""
    case = sample[14]
    near, far = (case.with_slots(with_flow(case.design, f)) for f in (0.97, 1.06))
    i = case.run.throat
    at = far.column(A.O_T_SURFACE)[i]
    found = trends.flux_at(case.run, near, at)
    # curvature of the gas side over six per cent of the flow, a part of the change
    assert found == pytest.approx(far.column(A.O_Q)[i], rel=1e-3)
    assert abs(found / case.run.column(A.O_Q)[i] - 1.0) > 2e-3


@pytest.fixture(scope="module")
def near_critical() -> Case:
    """Methane that falls through 0.9 of its critical pressure just ahead of the throat."""
    case = attempt(50)
    assert isinstance(case, Case)
    return case


def test_a_deposit_that_lifts_the_pressure_over_the_step_is_near_critical(near_critical):
    outcome = trends.covered(near_critical)
    assert [v.cause for v in outcome.violations] == ["near-critical step"]
    deposit = Profile.constant(trends.DEPOSIT)
    base = near_critical.run
    changed = near_critical.with_slots(
        with_models(near_critical.design, deposit_resistance=deposit)
    )
    rise = changed.column(A.O_T_WALL_HOT) - base.column(A.O_T_WALL_HOT)
    i = int(np.argmax(rise))
    assert rise[i] > 50.0
    # the other way round nothing is excused: there the base is on the hot side of the step
    assert causes.near_critical(base, changed, i)
    assert causes.near_critical(changed, base, i) is None


def test_the_step_does_not_excuse_less_flow(near_critical):
    """Less flow loses less pressure and crosses the step: the wall is hotter without it too."""
    slower = near_critical.with_slots(with_flow(near_critical.design, 0.97))
    outcome = trends.cooler("more flow", near_critical, slower)
    causes_of = {v.where: v.cause for v in outcome.violations}
    assert "near-critical step" not in causes_of.values()
    # at the peak, where the step is crossed, and ahead of it, where all is dense
    assert Counter(causes_of.values())[UNEXPLAINED] >= 3
    assert any(w.startswith("the peak") and c == UNEXPLAINED for w, c in causes_of.items())


def test_a_drive_of_enthalpy_grows_with_pressure_through_the_deficit_alone(sample):
    """At an efficiency of 1 the total enthalpy is that of the feeds, whatever the pressure."""
    case = sample[58]
    assert case.design.models.gas_side == "bartz_enthalpy"

    def growth(efficiency: float) -> float:
        chamber = replace(case.design.chamber, combustion_efficiency=efficiency)
        raised = replace(chamber, pressure=trends.MORE * chamber.pressure)
        low, high = (case.solve(replace(case.design, chamber=each)) for each in (chamber, raised))
        T = low.column(A.O_T_SURFACE)[low.throat]
        return trends.drive(high, T) / trends.drive(low, T) - 1.0

    # recovery and the wall's own composition: a tenth of what the deficit does here
    assert abs(growth(1.0)) < 1e-4
    assert 5e-4 < growth(0.9) < 5e-3


def test_neighbouring_stations_are_one_violation():
    runs = list(trends.stretches(np.array([True, False, True, True, False, False, True])))
    assert [run.tolist() for run in runs] == [[0], [2, 3], [6]]
    assert not list(trends.stretches(np.zeros(4, dtype=bool)))
    parted = trends.stretches(np.ones(4, dtype=bool), np.array([0, 1, 1, 0]))
    assert [run.tolist() for run in parted] == [[0], [1, 2], [3]]


def test_a_draw_is_the_same_every_time_and_lies_in_the_box():
    for index in range(40):
        design = box.design(index)
        assert design == box.design(index)
        ends = box.RANGES["pressure"]
        assert ends.low <= design.chamber.pressure / 1e5 <= ends.high
        feed = box.FEEDS[design.coolant.fluid]
        assert feed.pressure[0] <= design.coolant.inlet_pressure / 1e5 <= feed.pressure[1]
        assert feed.temperature[0] <= design.coolant.inlet_temperature <= feed.temperature[1]
        if design.coolant.returns_to_injector:
            assert design.coolant.fluid == design.propellants.fuel


def test_stoichiometric_ratios_by_hand():
    """C_a H_b O_c burns with a + b/4 - c/2 of O2; twice that of H2O2, and of N2O."""
    atoms = {
        "hydrogen": (0, 2, 0),
        "methane": (1, 4, 0),
        "ethanol": (2, 6, 1),
        "propane": (3, 8, 0),
        "RP-1": (1, 1.9423, 0),
    }
    mass = {"oxygen": 31.998, "hydrogen-peroxide": 34.014, "nitrous-oxide": 44.013}
    for fuel, (c, h, o) in atoms.items():
        moles = c + h / 4 - o / 2
        fuel_mass = 12.011 * c + 1.008 * h + 15.999 * o
        for oxidizer, molar in mass.items():
            each = moles if oxidizer == "oxygen" else 2.0 * moles
            expected = each * molar / fuel_mass
            # three digits are given
            assert box.STOICHIOMETRIC[oxidizer][fuel] == pytest.approx(expected, rel=6e-3)


def test_a_draw_that_does_not_solve_is_counted_by_its_status():
    stopped: Counter[str] = Counter()
    found = [case.draw for case in cases(3, stopped)]
    assert len(found) == 3
    assert sum(stopped.values()) == found[-1] + 1 - 3
    known = {text.name for text in st.TEXTS.values()}
    assert all(
        name in known or name.startswith(("refused", "impossible", "hot wall")) for name in stopped
    )


@pytest.mark.full
def test_all_designs_of_the_box():
    *_, found = page.look(box.WANTED)
    assert found.designs_looked == box.WANTED
    assert not [v for v in found.violations if v.cause == UNEXPLAINED]
    assert {v.cause for v in found.violations} <= set(CAUSES)


def test_every_look_is_at_a_design_that_solved(sample):
    for case in sample.values():
        assert np.all(np.isfinite(case.run.marched.station))
        assert case.run.column(A.O_T_WALL_HOT).max() < box.melts(case.design)
        assert replace(case.design) == box.design(case.draw)
