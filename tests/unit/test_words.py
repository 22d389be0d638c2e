"""How numbers and verdicts are said, and the design in the shop's units."""

from __future__ import annotations

import dataclasses

import pytest

from regen import design as d
from regen.output import listed, words
from regen.result import Column, Margin
from tests.helpers.rows import columns

PLAIN = {
    *("mixture_ratio", "oxidizer_concentration", "fuel_water", "combustion_efficiency"),
    *("contraction_ratio", "area_ratio", "barrel_radius_ratio", "throat_upstream_radius_ratio"),
    *("throat_downstream_radius_ratio", "bell_length_fraction", "cooled_to_area_ratio"),
    *("fuel_fraction", "inlet_loss", "outlet_loss", "barrel_factor", "throat_factor"),
    *(
        "yield_factor",
        "ultimate_factor",
        "proof_factor",
        "burnout_fraction",
        "mach",
        "injector_drop_fraction",
    ),
    *("life_factor", "ductility", "fatigue_strength_exponent"),
    *("fatigue_ductility", "fatigue_ductility_exponent"),
    *("flow_shortfall", "streak", "mixing_factor", "entrainment", "layer_mixture_ratio"),
    *("count_changes", "turn_loss", "share", "recovery", "conductivity_factor"),
    *("nickel_efficiency", "copper_efficiency", "nickel_profile", "copper_profile"),
    "greatest_aspect",
}
"""Keys without a dimension."""


def made(**changes) -> Margin:
    whole = {"name": "hot_wall_temperature", "text": "t", "unit": "K", "limit": 800.0}
    of_columns = columns(changes.pop("nominal", 0.05), -0.26, None)
    rest = {"kind": "max", "x_m": -0.005, "verdict": "at risk", "source": "common_practice"}
    return Margin(**(whole | {"columns": of_columns} | rest | changes))


@pytest.mark.parametrize(
    ("value", "step", "expected"),
    [(763.4, 10, "760"), (0.474, 0.001, "0.474"), (20.64, 0.1, "20.6"), (1783.2, 1, "1783")],
)
def test_rounding_keeps_the_decimals_of_its_step(value, step, expected):
    assert words.rounded(value, step) == expected


@pytest.mark.parametrize(
    ("margin", "expected"),
    [
        (None, "not evaluated"),
        (0.046, "+5 %"),
        (-0.26, "-26 %"),
        (5.56, "+556 %"),
        (0.0, "+0 %"),
        (-0.004, "-0.4 %"),
        (-0.0001, "-0.1 %"),
        (0.0001, "+0.1 %"),
    ],
)
def test_a_margin_never_rounds_to_the_other_side(margin, expected):
    assert words.percent(margin) == expected


def test_limit_and_value_are_in_the_units_of_an_engineer():
    assert words.limit(made()) == "at most 800 K"
    assert words.value(made()) == "760 K"
    stress = made(name="ligament_stress", unit="Pa", limit=204.1e6, nominal=0.5)
    assert (words.limit(stress), words.value(stress)) == ("at most 204.1 MPa", "102.0 MPa")
    left = made(name="injector_pressure", unit="Pa", kind="min", limit=6e5, nominal=0.5)
    assert (words.limit(left), words.value(left)) == ("at least 6.0 bar", "9.0 bar")
    assert words.limit(made(unit="-", limit=0.3)) == "at most 0.30"


def test_a_limit_that_is_absent_is_told_from_one_that_is_not_needed():
    assert words.limit(made(limit=None, nominal=None)) == "not known"
    assert words.limit(made(limit=None, nominal=1.0)) == "does not apply"
    assert words.value(made(limit=None)) == "-"


def test_why_names_what_breaks_and_what_was_not_evaluated(drawn_result):
    why = words.reasons(drawn_result)
    assert why == [
        "at risk: hot wall temperature, at most 800 K: nominal +5 % (kept); band edge -26 % "
        "(broken); worst channel -14 % (broken)",
        "open: ligament stress, at most 204.0 MPa: nominal +96 % (kept); band edge unknown; worst "
        "channel unknown",
    ]


def test_reasons_go_from_the_worst_and_an_open_row_names_the_key_that_closes_it(drawn_result):
    failing = made(name="burnout", nominal=-0.1, verdict="fail")
    unknown = made(name="melting", nominal=None, verdict="open", closes="limits.T_wall_hot")
    at_risk = drawn_result.margins[0]
    result = dataclasses.replace(drawn_result, margins=(unknown, at_risk, failing))
    reasons = words.reasons(result)
    assert [line.split(":")[0] for line in reasons] == ["fail", "at risk", "open"]
    assert reasons[-1].endswith("give limits.T_wall_hot")
    assert words.counts(result) == "1 fail, 1 at risk, 1 open of 3 limits"


def test_a_column_is_starred_where_it_indicates_and_a_question_mark_where_it_is_not_known():
    marked = columns(0.2, None, -0.1, indicative=("nominal", "worst_channel"))
    found = made(columns=marked)
    texts = [words.column(found, name) for name in marked]
    assert texts == ["+20 %*", "?", "-10 %*"]
    alone = made(columns={"nominal": Column("broken")})
    assert [words.column(alone, name) for name in marked] == ["broken", "-", "-"]


def test_a_pass_names_its_tightest_margin(drawn_result):
    good = [m for m in drawn_result.margins if m.verdict == "pass"]
    result = dataclasses.replace(drawn_result, margins=tuple(good), verdict="pass")
    (why,) = words.reasons(result)
    assert why.startswith("tightest: pass: coolant Mach number, at most 0.30: nominal +9 %")


def test_every_float_of_the_design_has_a_unit_or_none_on_purpose():
    parts = [
        *(d.Propellants, d.Chamber, d.ContourShape, d.ContourProfile, d.Liner, d.Channels),
        *(d.Coolant, d.Closeout, d.Models, d.Limits, d.Shop, d.Film, d.Circuit),
        *(d.Manifolds, d.Life, d.Plating),
    ]
    named = {
        field.name
        for part in parts
        for field in dataclasses.fields(part)
        if "float" in str(field.type) or "Profile" in str(field.type)
    }
    assert named == set(listed.UNITS) | PLAIN
    assert not set(listed.UNITS) & PLAIN


def test_the_design_is_listed_in_millimetres_bar_and_degrees(drawn_design):
    found = {section.name: section for section in listed.sections(drawn_design)}
    assert dict(found["channels"].rows)["width"] == "0.8 mm at x = -100 mm; 0.7 mm at x = 0 mm"
    assert dict(found["liner"].rows)["wall"] == "0.8 mm"
    assert dict(found["chamber"].rows)["pressure"] == "30 bar"
    assert dict(found["contour"].rows)["convergent_half_angle"] == "30 deg"
    assert dict(found["coolant"].rows)["returns_to_injector"] == "no"
    assert dict(found["coolant"].rows)["mass_flow"] == "0.48 kg/s"
    assert found["coolant"].absent == ("fuel_fraction", "outlet_pressure")


def test_a_circuit_is_listed_with_what_it_takes_from_the_channels(drawn_design):
    slots = dataclasses.replace(drawn_design.channels, count_changes=((-0.02, 40),))
    circuit = d.Circuit("barrel", slots, mass_flow=0.2)
    design = dataclasses.replace(drawn_design, circuits=(circuit,))
    rows = dict(next(s for s in listed.sections(design) if s.name == "circuit barrel").rows)
    assert rows["mass_flow"] == "0.2 kg/s"
    assert rows["count"] == "80"
    assert rows["count_changes"] == "40 from x = -20 mm on"
    assert words.slots(design) == "40 to 80"
    assert words.slots(drawn_design) == "80"


def test_long_profiles_and_contours_are_abridged(drawn_design):
    many = d.Profile(tuple(i / 100 for i in range(9)), tuple(1e-3 + i * 1e-4 for i in range(9)))
    points = d.ContourProfile((-0.1, 0.0, 0.1), (0.04, 0.02, 0.03), "contour.csv")
    channels = dataclasses.replace(drawn_design.channels, depth=many)
    design = dataclasses.replace(drawn_design, channels=channels, contour=points)
    found = {section.name: dict(section.rows) for section in listed.sections(design)}
    expected = "9 points from x = 0 to 80 mm, between 1 mm and 1.8 mm"
    assert found["channels"]["depth"] == expected
    assert found["contour"]["r"] == "3 points, 20 mm to 40 mm"


def test_a_life_is_the_conservative_one_and_the_optimistic_in_brackets():
    assert words.firings(23.4, 1470.4) == "23 (1470)"
    assert words.firings(2.34, 14.7) == "2.3 (15)"
    assert words.firings(None, 1470.0) == "- (1470)"
    assert words.firings(None, None) == "-"
