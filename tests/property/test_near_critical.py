"""Ethanol through its critical pressure, 62.7 bar: nothing undefined, and no cool side unmarked."""

from __future__ import annotations

import warnings
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks.coolant import burnout_flux, facts_of
from regen.checks.review import review
from regen.coolant.table import COOLANTS, coolant_table
from regen.design import Coolant
from regen.physics import arrays as A
from regen.physics import tables
from regen.physics.balance import NEAR_CRITICAL
from regen.solver.solve import solve
from regen.studies.batch.designs import DesignBatch, solve_batch
from regen.studies.batch.parameters import numeric_key
from tests.helpers.places import CASES

STATIONS = "models.stations=41"
PRESSURES = np.arange(60e5, 70.1e5, 0.25e5)

SAME_SIDE = 25.0
"""What the peak may move by between neighbours 0.25 bar apart, and by which it may lie below that
of a wholly dense passage [K]: the sides are 70 K apart here, and hundreds elsewhere."""

BY_LAW = 0.02
"""Miss of the universal power law, whose 1 - T/Tc is taken as a node away from the end [-]."""


def design_at(bar: float, *more: str):
    given = [STATIONS, f'coolant.inlet_pressure="{bar} bar"', *more]
    return load_case(CASES / "c-ethanol-bare.toml", given).design


@cache
def swept():
    design = design_at(60.0)
    batch = DesignBatch(
        design, (numeric_key("coolant.inlet_pressure", design),), PRESSURES[:, None]
    )
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return solve_batch(batch, judged="worst", along=True)


@cache
def judged_at(bar: float):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return review(design_at(bar))


OVER_THE_HOTTEST = 0.5
"""What the top of a smooth curve stands above the hottest of these stations at most [K]: 0.05 K
where it does not step. An eighth of a step is ten to a hundred times that."""


def test_every_pressure_is_solved_and_judged():
    rows = swept()
    assert np.all(rows.solved)
    assert np.all(np.isfinite(rows.margins["burnout"]["nominal"]))
    assert not np.any(rows.verdict == "unknown")


def test_the_peak_never_drops_to_a_cool_side():
    peak = swept().summary["T_wall_hot_max_K"]
    dense = judged_at(80.0).summary["T_wall_hot_max_K"]  # all of its stations lie above
    assert judged_at(80.0).stations["p_coolant_Pa"].min() > coolant_table("ethanol").p_critical
    assert np.diff(peak).min() > -SAME_SIDE
    # where the throat's pressure is within a tenth of the critical, so is its wall
    p, x = swept().along["p_coolant_Pa"], swept().x
    throat = np.argmin(np.abs(x), axis=1)[:, None]
    near = np.take_along_axis(p, throat, axis=1)[:, 0] > NEAR_CRITICAL * 62.7e5
    assert 5 < np.count_nonzero(near) < near.size
    assert np.all(peak[near] > dense - SAME_SIDE)


def test_the_peak_beside_the_step_is_the_hottest_stations():
    rows = swept()
    over = rows.summary["T_wall_hot_max_K"] - rows.along["T_wall_hot_K"].max(axis=1)
    assert over.min() >= 0.0
    assert over.max() < OVER_THE_HOTTEST
    # at 60 bar the hottest station is the last that is held as dense, at 0.9 of the critical
    at = int(np.argmax(rows.along["T_wall_hot_K"][0]))
    p_r = rows.along["p_coolant_Pa"][0, at - 1 : at + 2] / 62.7e5
    assert p_r[0] < NEAR_CRITICAL < p_r[2]


@pytest.mark.parametrize("bar", [60.0, 62.5, 63.0, 66.0, 69.0])
def test_a_result_says_where_the_hotter_wall_was_taken(bar):
    result = judged_at(bar)
    burnout = next(m for m in result.margins if m.name == "burnout")
    assert burnout.nominal is not None
    codes = {note.code for note in result.notes}
    assert "near-critical" in codes
    p = result.stations["p_coolant_Pa"]
    crosses = p.min() < coolant_table("ethanol").p_critical <= p.max()
    assert ("critical pressure" in codes) == crosses


def test_below_a_tenth_under_the_critical_pressure_nothing_has_changed():
    # 45 bar: every station boils as a liquid, none is held as dense
    result = judged_at(45.0)
    assert "near-critical" not in {note.code for note in result.notes}


def test_the_wall_just_below_is_that_just_above():
    """A step of two per cent in pressure across the critical leaves every wall where it was."""
    below, above = (
        solve(design_at(bar, "coolant.returns_to_injector=false", "shop.streak=0")).nominal
        for bar in (75.5, 77.0)
    )
    # the last stations lie below the critical pressure in one and above it in the other
    p = below.station[:, A.O_P_COOLANT]
    crossed = p < coolant_table("ethanol").p_critical
    assert 0 < np.count_nonzero(crossed) < 10
    assert above.station[:, A.O_P_COOLANT].min() > coolant_table("ethanol").p_critical
    flags = below.station[:, A.O_FLAGS].astype(np.int64)
    held = (flags & A.FLAG_NEAR_CRITICAL) > 0
    assert np.any(held & crossed)
    moved = below.station[:, A.O_T_WALL_HOT] - above.station[:, A.O_T_WALL_HOT]
    assert moved[crossed].min() > -SAME_SIDE


@pytest.mark.parametrize("fluid", COOLANTS)
def test_surface_tension_falls_to_nothing_and_not_below(fluid):
    table = coolant_table(fluid)
    p_c = table.p_critical
    p = p_c * (1.0 - np.logspace(-15.5, np.log10(0.5), 400)[::-1])
    lines = np.array([tables.saturation(table, one) for one in (*p, np.nextafter(p_c, 0.0))])
    sigma = lines[:, 5]
    assert np.all(sigma > 0.0)
    assert np.all(np.diff(sigma) <= 0.0)  # neighbours may round to one pressure
    assert tables.saturation(table, p_c)[5] == 0.0
    # the critical exponent of surface tension is 1.26
    fall = 1.0 - lines[:, 0] / table.T_critical
    near = (fall < 4e-3) & (fall > 1e-4)
    law = sigma[near] / fall[near] ** 1.26
    assert law == pytest.approx(law[0], rel=BY_LAW)


def test_the_burnout_flux_goes_to_nothing_at_the_critical_pressure():
    table = coolant_table("ethanol")
    p = table.p_critical * (1.0 - np.logspace(-15.5, -1.0, 60)[::-1])
    p = np.append(p, np.nextafter(table.p_critical, 0.0))
    size = p.shape
    stations = {
        "p_coolant_Pa": p,
        "T_coolant_K": np.full(size, 400.0),
        "v_coolant_m_s": np.full(size, 20.0),
        "channel_width_m": np.full(size, 1e-3),
        "channel_depth_m": np.full(size, 1e-3),
        "passage_length_m": np.linspace(0.0, 0.1, p.size) + 0.05,
        "circuit": np.ones(size),
    }
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = burnout_flux(facts_of(Coolant("ethanol", 293.0), table), stations)
    assert np.all(np.isfinite(found.inlet))
    assert np.all(np.isfinite(found.outlet))
    assert np.all(found.governing > 0.0)
    assert np.all(np.diff(found.governing[p > 0.97 * table.p_critical]) <= 0.0)
    assert found.governing[-1] < 1e-3 * found.governing[0]


def test_the_stations_choose_the_forms_and_not_the_plenum():
    by_feed = design_at(50.0)
    # 50 bar at the outlet: the inlet, whose pressure nobody gave, lies at some 64 bar
    feed = replace(by_feed.coolant, inlet_pressure=None, outlet_pressure=50e5)
    solution = solve(replace(by_feed, coolant=feed))
    p = solution.nominal.station[:, A.O_P_COOLANT]
    assert p.min() < NEAR_CRITICAL * 62.7e5 < p.max()
    assert solution.models["coolant_side"] == "krasnoshchekov_protopopov"
    members = {member.name.split(" + ")[1] for member in solution.members}
    assert {"krasnoshchekov_protopopov", "jackson", "sieder_tate", "gnielinski"} <= members
    assert "above the critical pressure" in solution.coolant.text
    assert "forms of liquids" in solution.coolant.text
    # 66 bar: the first stations lie above the critical pressure, the throat's below
    both = solve(design_at(66.0))
    p = both.nominal.station[:, A.O_P_COOLANT]
    assert p.min() < coolant_table("ethanol").p_critical < p.max()
    assert members <= {member.name.split(" + ")[1] for member in both.members}
    # 57 bar in the plenum, but no station within a tenth of the critical pressure: a liquid
    low = solve(design_at(57.0, "coolant.inlet_loss=1.5"))
    assert low.nominal.station[:, A.O_P_COOLANT].max() < NEAR_CRITICAL * 62.7e5
    assert low.models["coolant_side"] == "gnielinski"
    assert "jackson" not in {member.name.split(" + ")[1] for member in low.members}
