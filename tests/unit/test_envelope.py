"""Operating points of an envelope: what follows the chamber, and that no row is ever dropped."""

from __future__ import annotations

from dataclasses import replace

import pytest

from regen.case.read import load_case
from regen.errors import RangeError
from regen.output.envelope import limits_of, lines, table
from regen.result import COLUMN_NAMES
from regen.studies.envelope.axes import axes_of
from regen.studies.envelope.operation import (
    FlowShare,
    Following,
    operated,
    own_point,
    shares,
    stream_of,
)
from regen.studies.envelope.study import envelope
from tests.helpers.places import CASES
from tests.helpers.rows import csv_rows

PROPORTIONAL = Following()
CONSTANT = Following("constant", "constant")
P_CRITICAL_METHANE = 45.99e5
"""Critical pressure of methane [Pa], a handbook value."""


def case(name: str, *overrides: str):
    return load_case(CASES / f"{name}.toml", ("models.stations=21", *overrides)).design


def solved(design, following=PROPORTIONAL, **ranges):
    return envelope(design, axes_of(ranges, design), following)


def rows_by(found, name):
    return {getattr(row.point, name): row for row in found.rows if row.on_line}


@pytest.fixture(scope="module")
def throttled():
    """Methane from 40 to 100 % with the pump: through the critical pressure."""
    design = case("a-methane")
    return solved(design, chamber_pressure="40%:100%:4", mixture_ratio="2.9:3.1:2")


@pytest.fixture(scope="module")
def choked():
    design = case("b-hydrogen", 'channels.depth="1.2 mm"')
    return solved(design, chamber_pressure="80%:110%:2", mixture_ratio="5.5:6.5:2")


# --- what follows what -------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("of", "ratio", "share"),
    # 0.2 of the hot gas at mixture ratio 3: 0.8 of the fuel (1/4 of it), 4/15 of the oxidizer (3/4)
    [
        ("fuel", 4.0, 0.8),
        ("oxidizer", 4.0, 4.0 / 15.0 * 4.0),
        ("hot gas", 4.0, 0.2 * 5.0),
        ("fuel", 3.0, 0.8),
        ("oxidizer", 3.0, 0.8),
        ("hot gas", 3.0, 0.8),
    ],
)
def test_a_flow_as_a_share_of_the_fuel(of, ratio, share):
    assert FlowShare(of, 0.2, 3.0).of_fuel(ratio) == pytest.approx(share, rel=1e-14)


@pytest.mark.parametrize(
    ("fuel", "fluid", "stream"),
    [
        ("methane", "methane", "fuel"),
        ("methane", "oxygen", "oxidizer"),
        ("methane", "water", "hot gas"),
        ("RP-1", "n-dodecane", "fuel"),  # its stand-in as a coolant
        ("RP-1", "RP-1", "fuel"),  # as a film
    ],
)
def test_a_flow_follows_the_propellant_it_is(fuel, fluid, stream):
    design = case("a-methane")
    burning = replace(design, propellants=replace(design.propellants, fuel=fuel))
    assert stream_of(burning, fluid) == stream


def test_the_feed_follows_the_chamber_in_proportion_or_stays(throttled):
    # 90 bar at 30 bar of chamber pressure
    for row in throttled.rows:
        assert row.point.inlet_pressure == pytest.approx(3.0 * row.point.chamber_pressure)
    ranges = {"chamber_pressure": "80%:100%:2", "mixture_ratio": "2.9:3.1:2"}
    held = solved(case("a-methane"), Following("constant"), **ranges)
    assert {row.point.inlet_pressure for row in held.rows} == {90e5}


def test_an_outlet_pressure_follows_too():
    design = case("a-methane")
    fed = replace(design.coolant, inlet_pressure=None, outlet_pressure=60e5)
    found = solved(
        replace(design, coolant=fed), chamber_pressure="90%:100%:2", mixture_ratio="2.9:3.1:2"
    )
    row = rows_by(found, "chamber_pressure")[0.9 * 30e5]
    assert row.point.inlet_pressure is None
    assert row.summary["coolant_pressure_out_Pa"] == pytest.approx(0.9 * 60e5, rel=1e-3)


def test_a_flow_given_as_a_value_follows_the_hot_gas_or_stays():
    design = case("d-water-calorimeter")  # 1.44 kg/s of water, metered to six circuits
    ranges = {"chamber_pressure": "80%:100%:2", "mixture_ratio": "2.2:2.6:2"}
    free, held = solved(design, **ranges), solved(design, Following(flow="constant"), **ranges)
    flows = [row.summary["coolant_mass_flow_kg_s"] for row in free.rows]
    shares = [
        flow / row.summary["gas_mass_flow_kg_s"] for flow, row in zip(flows, free.rows, strict=True)
    ]
    assert shares == pytest.approx([shares[0]] * len(shares), rel=1e-9)
    assert min(flows) < 0.85 * 1.44
    assert free.nominal.summary["coolant_mass_flow_kg_s"] == pytest.approx(1.44)
    held_flows = [row.summary["coolant_mass_flow_kg_s"] for row in held.rows]
    assert held_flows == pytest.approx([1.44] * len(held_flows))


def test_metered_circuits_keep_their_shares():
    design = case("d-water-calorimeter")
    point = own_point(design)._replace(chamber_pressure=0.5 * design.chamber.pressure)
    placed = operated(design, point, {"coolant": FlowShare("hot gas", 3.0, 2.4)})
    # 0.22 to 0.32 kg/s of 1.44 kg/s, as the case meters them
    expected = [flow / 1.44 for flow in (0.22, 0.22, 0.22, 0.26, 0.32, 0.20)]
    assert [circuit.share for circuit in placed.circuits] == pytest.approx(expected)
    assert {circuit.mass_flow for circuit in placed.circuits} == {None}
    assert placed.coolant.mass_flow is None


def test_a_film_given_as_a_value_follows_too():
    design = case("c-ethanol-film")
    film = replace(design.film, mass_flow=0.1, fuel_fraction=None)
    flowing = replace(design, film=film)
    free = shares(flowing, PROPORTIONAL, 2.0)
    ratio = design.propellants.mixture_ratio
    assert set(free) == {"film"}  # the coolant is a share of the fuel already
    assert free["film"] == FlowShare("fuel", 0.05, ratio)
    placed = operated(flowing, own_point(design), free)
    assert placed.film.mass_flow is None
    assert placed.film.fuel_fraction == pytest.approx(0.05 * (1.0 + ratio))
    held = operated(flowing, own_point(design), shares(flowing, CONSTANT, 2.0))
    assert held.film == film


def test_a_share_of_the_fuel_cannot_be_held():
    with pytest.raises(RangeError, match="--coolant-flow constant.*share of the fuel"):
        solved(case("a-methane"), CONSTANT)


def test_the_throat_stays_as_built_where_thrust_sized_it():
    sized = case("a-methane")
    shape = replace(sized.contour, throat_diameter=None, thrust=5e3)
    found = solved(
        replace(sized, contour=shape), chamber_pressure="80%:110%:2", mixture_ratio="2.9:3.1:2"
    )
    throats = [row.summary["throat_diameter_m"] for row in found.rows]
    assert throats == pytest.approx([throats[0]] * len(throats), rel=1e-12)


# --- rows --------------------------------------------------------------------------------------
def test_every_combination_the_throttle_line_and_the_case_itself_are_there(throttled):
    points = [(row.point.chamber_pressure, row.point.mixture_ratio) for row in throttled.rows]
    pressures, ratios = (12e5, 18e5, 24e5, 30e5), (2.9, 3.0, 3.1)
    assert sorted(points) == [(p, r) for p in pressures for r in ratios]
    assert [row.on_map for row in throttled.rows] == [
        row.point.mixture_ratio != 3.0 for row in throttled.rows
    ]
    assert [row.on_line for row in throttled.rows] == [not row.on_map for row in throttled.rows]
    assert sum(row.nominal for row in throttled.rows) == 1
    assert throttled.nominal.point[:2] == (30e5, 3.0)


def test_a_third_axis_makes_more_rows_and_the_map_stays_at_the_case(throttled):
    design = case("d-water-calorimeter")
    found = solved(
        design,
        chamber_pressure="90%:100%:2",
        mixture_ratio="2.2:2.6:2",
        inlet_temperature="285:300:2:K",
    )
    on_map = [row for row in found.rows if row.on_map]
    assert len(on_map) == 4
    assert {row.point.inlet_temperature for row in on_map} == {290.0}
    # 8 combinations, 4 on the map, 2 on the throttle line (one of them the case's own)
    assert len(found.rows) == 8 + 4 + 2


def test_an_inlet_pressure_may_be_an_axis_where_the_case_gives_the_outlet():
    design = case("d-water-calorimeter")
    fed = replace(design.coolant, inlet_pressure=None, outlet_pressure=15e5)
    found = solved(
        replace(design, coolant=fed), inlet_pressure="18:22:2:bar", inlet_temperature="285:295:2:K"
    )
    assert len(found.rows) == 5
    for row in found.rows:
        given = row.point.inlet_pressure
        assert (row.point.outlet_pressure is None) == (given is not None)
        if given is not None:
            assert row.summary["coolant_pressure_in_Pa"] == pytest.approx(given)
    assert not any(row.on_line for row in found.rows)


LOST = {
    "choked",
    "bulk boiling",
    "coolant pressure used up",
    "coolant a gas below its critical pressure",
}
"""What slots that are far too shallow come to, one or the other by a hair."""


def test_rows_of_a_choked_design_are_kept_with_status_station_and_remedy(choked):
    assert len(choked.rows) == 7
    assert not any(row.solved for row in choked.rows)
    assert {row.status for row in choked.rows} <= LOST
    for row in choked.rows:
        assert "What to do" in row.reason
        assert -0.2 < row.x_m < 0.25
        assert row.coolant_side == "miller"
        assert row.margins == ()
    assert len(csv_rows(table(choked))) == 7
    assert any(f"not solved, {choked.rows[0].status}" in line for line in lines(choked))


def test_a_point_outside_the_properties_is_a_row_too():
    # water freezes at 273.15 K and boils at 453 K at 10 bar
    design = case("d-water-calorimeter")
    found = solved(design, inlet_temperature="260:470:2:K", inlet_pressure="10:20:2:bar")
    statuses = {row.point.inlet_temperature: row.status for row in found.rows}
    assert statuses[260.0] == "out of range"
    reasons = [row.reason for row in found.rows if row.point.inlet_temperature == 260.0]
    assert all("coolant.inlet_temperature" in reason for reason in reasons)
    assert found.nominal.solved


# --- regime ------------------------------------------------------------------------------------
def test_the_correlation_follows_the_rule_of_the_regime(throttled):
    by_pressure = rows_by(throttled, "chamber_pressure")
    assert throttled.p_critical == pytest.approx(P_CRITICAL_METHANE, rel=1e-3)
    low, full = by_pressure[12e5], by_pressure[30e5]
    # 36 bar of feed against 46 bar: a liquid's form; 90 bar: a form for supercritical methane
    assert (low.regime, low.coolant_side) == ("below", "gnielinski")
    assert (full.regime, full.coolant_side) == ("above", "krasnoshchekov_protopopov")
    said = "\n".join(lines(throttled))
    assert "the coolant-side correlation changes with the regime" in said


def test_a_correlation_named_in_the_case_stays():
    design = case("a-methane", "models.coolant_side=jackson")
    found = solved(design, chamber_pressure="40%:100%:2", mixture_ratio="2.9:3.1:2")
    assert {row.coolant_side for row in found.rows} == {"jackson"}


# --- words and table ---------------------------------------------------------------------------
def test_the_throttle_line_says_how_low_and_what_stops_it(throttled):
    said = lines(throttled)[-1]
    assert said.startswith("throttle line, 12 to 30 bar (40% to 100%)")
    # throttled, the coolant leaves hotter: the jacket's floor ends at 700 K
    assert "every nominal limit is met from 30 bar (100%)" in said
    assert "at 24 bar (80%): jacket stress not evaluated" in said


def test_a_case_that_fails_itself_says_where_the_limits_are_kept(choked):
    said = lines(choked)[-1]
    assert "the case's own point does not meet every nominal limit, not solved" in said
    assert "at no other point" in said


def test_what_a_form_of_another_fluid_breaks_is_said_to_be_broken_indicatively():
    found = solved(case("c-ethanol-bare"), chamber_pressure="100%:110%:2", mixture_ratio="1:1.2:2")
    said = lines(found)
    assert any(line.startswith("burnout: indicatively exceeded by the nominal") for line in said)
    assert "%, indicative; they are met at no other point" in said[-1]


def test_the_table_has_a_column_for_every_run_of_every_limit(throttled):
    made = table(throttled)
    header = [column.key for column in made.columns]
    for name in limits_of(throttled):
        for run in COLUMN_NAMES:
            assert f"margin_{name}_{run}" in header
    for row, values in zip(throttled.rows, made.rows, strict=True):
        assert list(values) == header
        for margin in row.margins:
            assert values[f"margin_{margin.name}_nominal"] == margin.nominal
