"""Values with units. Expected values follow from the exact definitions of the units."""

import math

import pytest

from regen.units import KINDS, Number, Quantity, Refusal, parse, registry, show, unit_names

EXACT = 1e-14  # a few roundings of a product


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("0.8 mm", "length", 0.0008),
        ("0.8mm", "length", 0.0008),
        (" +8e-1  mm ", "length", 0.0008),
        ("-150 mm", "length", -0.15),
        (".5 cm", "length", 0.005),
        ("5 um", "length", 5e-6),
        ("5 µm", "length", 5e-6),
        ("1 in", "length", 0.0254),
        ("31 mil", "length", 31 * 25.4e-6),
        ("2 ft", "length", 2 * 0.3048),
        ("9.5 MPa", "pressure", 9.5e6),
        ("30 bar", "pressure", 3e6),
        ("30 bar absolute", "pressure", 3e6),
        ("500 mbar", "pressure", 5e4),
        ("1013.25 hPa", "pressure", 101325.0),
        ("1 atm", "pressure", 101325.0),
        # 1 psi = 0.45359237 kg x 9.80665 m/s2 / (0.0254 m)^2
        ("1400 psi", "pressure", 1400 * 0.45359237 * 9.80665 / 0.0254**2),
        ("0 psi gauge", "pressure", 101325.0),
        ("900 psi gauge", "pressure", 900 * 0.45359237 * 9.80665 / 0.0254**2 + 101325.0),
        ("120 K", "temperature", 120.0),
        ("20 degC", "temperature", 293.15),
        ("20 °C", "temperature", 293.15),
        ("32 degF", "temperature", 273.15),
        ("212 degF", "temperature", 373.15),
        ("491.67 degR", "temperature", 273.15),
        ("0.48 kg/s", "mass flow", 0.48),
        ("480 g/s", "mass flow", 0.48),
        ("1 lb/s", "mass flow", 0.45359237),
        ("60 kg/min", "mass flow", 1.0),
        ("3600 kg / h", "mass flow", 1.0),
        ("180 deg", "angle", math.pi),
        ("1 rad", "angle", 1.0),
        ("5 kN", "force", 5000.0),
        ("1 lbf", "force", 0.45359237 * 9.80665),
        ("3 kg*m/s^2", "force", 3.0),
    ],
)
def test_value_in_si(text, kind, si):
    assert parse(text, kind).value == pytest.approx(si, rel=EXACT)


def test_gauge_is_reported():
    assert parse("900 psi gauge", "pressure").gauge
    assert not parse("900 psi", "pressure").gauge


@pytest.mark.parametrize(
    ("given", "kind", "words"),
    [
        (0.8, "length", ["number without a unit", '"0.8 mm" if that is what is meant']),
        (30, "pressure", ["number without a unit", '"9.5 MPa"', '"900 psi gauge"', '"30 bar"']),
        (math.inf, "length", ["number without a unit", "write the value with its unit"]),
        pytest.param(
            1 << 20_000,
            "length",
            ["number without a unit", "write the value with its unit"],
            id="huge",
        ),
        ("0.8", "length", ["unit is missing"]),
        ("5 mm", "pressure", ['"mm" is a unit of length', "not of pressure"]),
        ("5 K", "length", ['"K" is a unit of temperature', "not of length"]),
        ("5 deg", "temperature", ["unit of angle", "not of temperature"]),
        ("5 rad", "length", ["unit of angle"]),
        ("5 W/m^2", "pressure", ["unit of heat flux"]),
        ("5 kg*m", "length", ["not of length"]),
        ("20 degC*m", "temperature", ["not of temperature"]),
        ("5 mmm", "length", ['unknown unit "mmm"', 'did you mean "mm"?']),
        ("900 psig", "pressure", ["unknown unit", 'write "psi gauge"']),
        ("900 psia", "pressure", ["absolute unless"]),
        ("20 C", "temperature", ['write "degC"']),
        ("70 F", "temperature", ['write "degF"']),
        ("2 mm gauge", "length", ["unknown unit"]),
        ("5 bar gauge gauge", "pressure", ["unknown unit"]),
        ("5 gauge", "pressure", ["unknown unit"]),
        ("5 m^", "length", ["unknown unit"]),
        ("5 m^99", "length", ["unknown unit"]),
        ("5 " + "(" * 5000 + "m", "length", ["unknown unit"]),
        ("1,400 psi", "pressure", ["not a plain number", "no thousands separator"]),
        ("1.4.0 psi", "pressure", ["not a plain number"]),
        ("0,8 mm", "length", ["write a decimal point"]),
        ("inf mm", "length", ["must be finite"]),
        ("-nan K", "temperature", ["must be finite"]),
        ("1e999 mm", "length", ["number too large"]),
        ("1e305 MPa", "pressure", ["number too large"]),
        ("about 5 mm", "length", ["does not begin with a number"]),
        ("", "length", ["does not begin with a number"]),
        (True, "length", ["not a length"]),
        ([1], "angle", ["not an angle"]),
        (None, "mass flow", ["not a mass flow"]),
    ],
)
def test_refusal_says_what_and_what_is_accepted(given, kind, words):
    with pytest.raises(Refusal) as caught:
        parse(given, kind)
    text = f"{caught.value.what} {caught.value.accepted} {caught.value.do}"
    for word in words:
        assert word in text
    assert all(f'"{example}"' in text for example in KINDS[kind].examples)


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_examples_are_accepted(kind):
    for example in kind.examples:
        assert parse(example, kind.name).value > 0


def test_every_unit_is_known_to_the_registry():
    for name in unit_names():
        assert registry().parse_units(name) is not None


def test_shown_as_a_case_file_has_it():
    assert show(0.0008, "length") == "0.8 mm"
    assert show(0.0254, "length", "in") == "1 in"
    assert show(293.15, "temperature", "degC") == "20 degC"
    assert show(math.pi / 6, "angle") == "30 deg"
    assert show(101325.0, "pressure") == "1.01325 bar"


@pytest.mark.parametrize(
    ("given", "what"),
    [("0.04 mm", "out of range"), ("-1 mm", "must be above zero"), ("21 mm", "out of range")],
)
def test_a_quantity_has_bounds_with_units(given, what):
    wall = Quantity("length", "0.05 mm", "20 mm")
    with pytest.raises(Refusal) as refused:
        wall.check(given)
    assert refused.value.what == what
    assert refused.value.accepted.endswith("from 0.05 mm to 20 mm")


def test_a_bound_itself_is_accepted_in_any_unit():
    assert Quantity("length", "1 in", "1 ft").check("25.4 mm") == pytest.approx(0.0254)
    assert Quantity("length", "1 in", "1 ft").check("12 in") == pytest.approx(0.3048)


@pytest.mark.parametrize(("given", "number"), [(4, 4), (80.0, 80), (2000, 2000)])
def test_a_whole_number_in_bounds(given, number):
    checked = Number(4, 2000, whole=True).check(given)
    assert checked == number
    assert isinstance(checked, int)
