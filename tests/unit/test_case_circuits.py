"""Circuits, passes and changes of count in the case file: what they make, and what is refused."""

from __future__ import annotations

import pytest

from regen.case.keys import json_schema
from regen.case.read import load_case, starter_text
from regen.errors import CaseError
from regen.output.listing import design_sections
from tests.helpers.places import CASES

WATER = CASES / "d-water-calorimeter.toml"

TWO = """
[circuits.barrel]
cooled_to = "-60 mm"
{barrel}

[circuits.throat]
cooled_from = "-60 mm"
{throat}
"""
FLOW = ('mass_flow = "fuel"', 'mass_flow = "0.48 kg/s"')


@pytest.fixture
def write(tmp_path):
    def write_case(barrel="", throat="", *, tail=None, replaced=()):
        text = starter_text()
        for old, new in replaced:
            assert old in text, old
            text = text.replace(old, new, 1)
        text += TWO.format(barrel=barrel, throat=throat) if tail is None else tail
        path = tmp_path / "case.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write_case


def test_a_circuit_takes_from_channels_and_coolant_what_it_leaves_out(write):
    path = write(
        'count = 60\nenters_at = "injector"',
        'depth = "3 mm"\nturn_loss = 1.5\npasses = "down and back"',
    )
    design = load_case(path).design
    barrel, throat = design.circuits
    assert (barrel.name, throat.name) == ("barrel", "throat")
    assert (barrel.channels.count, throat.channels.count) == (60, 80)
    assert (barrel.enters_at, throat.enters_at) == ("injector", "nozzle")
    assert barrel.channels.depth == design.channels.depth
    assert throat.channels.depth.value == (3e-3,)
    assert (barrel.channels.passes, throat.channels.passes) == ("one way", "down and back")
    assert (barrel.channels.turn_loss, throat.channels.turn_loss) == (2.2, 1.5)
    assert barrel.channels.cooled_to == throat.channels.cooled_from == pytest.approx(-0.06)
    assert (barrel.mass_flow, barrel.share) == (None, None)
    assert barrel.channels.roughness == design.channels.roughness


def test_an_end_by_x_replaces_one_by_area_ratio(write):
    path = write(replaced=[("# cooled_to_area_ratio = 4.0", "cooled_to_area_ratio = 4.0")])
    barrel, throat = load_case(path).design.circuits
    assert (barrel.channels.cooled_to, barrel.channels.cooled_to_area_ratio) == (-0.06, None)
    assert (throat.channels.cooled_to, throat.channels.cooled_to_area_ratio) == (None, 4.0)


def test_counts_along_x(write):
    pairs = [("count = 80 ", 'count = [["-150 mm", 80], ["-60 mm", 60], ["10 mm", 70]] ')]
    channels = load_case(write(tail="", replaced=pairs)).design.channels
    assert channels.count == 80
    assert channels.count_changes == ((-0.06, 60), (0.01, 70))


@pytest.mark.parametrize(
    ("given", "where"),
    [
        ("80.5", ""),
        ('"80"', ""),
        ('[["-150 mm", 80]]', ""),
        ('[["-150 mm", 80], [-60, 60]]', "[pair 2, x]"),
        ('[["-150 mm", 80], ["-60 mm", "60"]]', "[pair 2, number]"),
        ('[["-150 mm", 80], ["-60 mm", 2]]', "[pair 2, number]"),
        ('[["-150 mm", 80], 60]', "[pair 2]"),
        ('[["-60 mm", 80], ["-150 mm", 60]]', ""),
        ('[["-60 mm", 80], ["-59.5 mm", 60]]', ""),
        ('[["-150 mm", 80], ["-60 mm", 80]]', ""),
    ],
)
def test_a_count_that_is_none_is_refused(write, refused, given, where):
    path = write(tail="", replaced=[("count = 80 ", f"count = {given} ")])
    assert refused(path) == [f"channels.count{where}"]


BAD = {
    "flow and share": (
        'mass_flow = "0.2 kg/s"\nshare = 0.4',
        'mass_flow = "0.28 kg/s"',
        "circuits.barrel",
    ),
    "one has none": (
        'mass_flow = "0.2 kg/s"',
        "",
        "circuits",
    ),
    "a flow beside a share": (
        'mass_flow = "0.2 kg/s"',
        "share = 0.5",
        "circuits",
    ),
    "flows that do not sum": (
        'mass_flow = "0.2 kg/s"',
        'mass_flow = "0.3 kg/s"',
        "circuits.mass_flow",
    ),
    "shares that do not sum": ("share = 0.4", "share = 0.5", "circuits.share"),
    "no share": ("share = 0.0", "share = 1.0", "circuits.barrel.share"),
    "odd count": ('count = 61\npasses = "down and back"', "", "circuits.barrel.count"),
    "count that changes on the way back": (
        'count = [["-150 mm", 80], ["-90 mm", 60]]\npasses = "down and back"',
        "",
        "circuits.barrel.count",
    ),
    "turn without a way back": ("turn_loss = 2.0", "", "circuits.barrel.turn_loss"),
    "ends before it begins": ('cooled_from = "-40 mm"', "", "circuits.barrel.cooled_to"),
    "two ends": ("cooled_to_area_ratio = 2.0", "", "circuits.barrel"),
    "unknown key": ("depht = 1", "", "circuits.barrel.depht"),
    "number without a unit": ("mass_flow = 0.2", "", "circuits.barrel.mass_flow"),
    "another way": ('passes = "twice"', "", "circuits.barrel.passes"),
    "narrower than the tolerance": ('width = "0.02 mm"', "", "circuits.barrel.width"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_circuit_is_refused(write, refused, name):
    barrel, throat, key = BAD[name]
    assert refused(write(barrel, throat, replaced=[FLOW])) == [key]


def test_flows_by_value_need_a_coolant_by_value(write, refused):
    flows = write('mass_flow = "0.2 kg/s"', 'mass_flow = "0.28 kg/s"')
    assert refused(flows) == ["circuits.mass_flow"]
    load_case(write("share = 0.4", "share = 0.6"))
    load_case(write("share = 0.3333", "share = 0.6664"))  # within 0.1 %


def test_metered_flows_and_one_outlet_pressure_do_not_go_together(write, refused):
    outlet = ('inlet_pressure = "90 bar"', 'outlet_pressure = "60 bar"')
    path = write("share = 0.4", "share = 0.6", replaced=[outlet])
    assert refused(path) == ["coolant.outlet_pressure"]
    load_case(write(replaced=[outlet]))


@pytest.mark.parametrize(
    ("tail", "key"),
    [
        ("[circuits]\n", "circuits"),
        ("[circuits]\nbarrel = 1\n", "circuits.barrel"),
        ('[circuits."a.b"]\n', "circuits"),
        ("[[circuits]]\n", "circuits"),
    ],
)
def test_circuits_that_are_no_tables(write, refused, tail, key):
    assert refused(write(tail=tail)) == [key]


def test_set_reaches_into_a_circuit():
    flows = ['circuits.barrel.mass_flow="0.2 kg/s"', 'circuits.barrel-end.mass_flow="0.24 kg/s"']
    case = load_case(WATER, flows)
    assert [c.mass_flow for c in case.design.circuits][1:3] == [0.2, 0.24]
    assert 'mass_flow = "0.24 kg/s"' in case.text
    assert "# One behind the other" in case.text  # comments stay
    text = case.with_values({"circuits.throat.depth": "0.7 mm"}).text
    assert 'depth = "0.7 mm"' in text.partition("[circuits.throat]")[2]


@pytest.mark.parametrize(
    "path", ["circuits.barell.depth", "circuits.barrel.depht", "circuits.barrel", "circuits"]
)
def test_set_of_what_no_circuit_has(refused, path):
    (key,) = refused(WATER, f'{path}="0.7 mm"')
    assert key.removeprefix("--set ") == path
    with pytest.raises(CaseError):
        load_case(WATER, {path: "0.7 mm"})


def test_all_problems_at_once_circuits_last(write, refused):
    path = write("depht = 1", 'passes = "twice"', replaced=[("[shop]", "[shopp]")])
    keys = ["[shopp]", "circuits.barrel.depht", "circuits.throat.passes"]
    assert refused(path) == keys


def test_the_schema_has_circuits():
    schema = json_schema()
    assert schema["properties"]["circuits"]["additionalProperties"] == {"$ref": "#/$defs/Circuit"}
    keys = schema["$defs"]["Circuit"]["properties"]
    assert {"cooled_from", "mass_flow", "share", "count", "passes"} <= keys.keys()
    assert all(entry["description"] for entry in keys.values())


def test_every_circuit_is_listed():
    names = [table.title for table, _ in design_sections(load_case(WATER).design)]
    assert names[-1] == "circuit nozzle"
    assert sum(name.startswith("circuit ") for name in names) == 6
