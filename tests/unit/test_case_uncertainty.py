"""The section [uncertainty] of a case: what it makes, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from regen.case.keys import json_schema
from regen.case.read import load_case, starter_text
from regen.design import Distribution
from regen.errors import CaseError
from tests.helpers.places import CASES

CASE = CASES / "d-water-calorimeter.toml"


def write(folder: Path, body: str, text: str | None = None) -> Path:
    path = folder / "case.toml"
    path.write_text((starter_text() if text is None else text) + "\n[uncertainty]\n" + body)
    return path


SOUND = {
    '"channels.width" = "uniform 0.03 mm"': ("uniform", 0.03e-3, "SI", ()),
    '"coolant.mass_flow" = "normal 3 %"': ("normal", 0.03, "of own", ()),
    '"coolant.mass_flow" = "normal 0.02 fuel"': ("normal", 0.02, "of fuel", ()),
    '"coolant.mass_flow" = "normal 5 g/s"': ("normal", 0.005, "SI", ()),
    '"liner.wall" = "triangular 2 mil"': ("triangular", 5.08e-5, "SI", ()),
    '"coolant.inlet_temperature" = "normal 9 degR"': ("normal", 5.0, "SI", ()),
    '"chamber.pressure" = "uniform 1 bar"': ("uniform", 1e5, "SI", ()),
    '"propellants.mixture_ratio" = "normal 0.1"': ("normal", 0.1, "SI", ()),
    '"models.gas_side" = "any"': ("discrete", 0.0, "SI", ()),
    '"models.friction" = ["haaland", "colebrook"]': (
        *("discrete", 0.0, "SI"),
        ("haaland", "colebrook"),
    ),
}


@pytest.mark.parametrize("line", SOUND)
def test_sound_lines(tmp_path, line):
    (one,) = load_case(write(tmp_path, line)).design.uncertainty
    law, amount, measure, names = SOUND[line]
    assert one.key == line.split('"')[1]
    assert (one.law, one.measure, one.names) == (law, measure, names)
    assert one.amount == pytest.approx(amount, rel=1e-12)


def test_the_starter_gives_none_and_what_it_proposes_is_sound(tmp_path):
    plain = tmp_path / "plain.toml"
    plain.write_text(starter_text())
    assert load_case(plain).design.uncertainty == ()
    block = starter_text().partition("# [uncertainty]\n")[2].partition("\n\n")[0]
    body = "\n".join(line.removeprefix("# ") for line in block.splitlines())
    found = load_case(write(tmp_path, body)).design.uncertainty
    assert len(found) == len(body.splitlines())
    assert found[0] == Distribution("channels.width", "uniform", pytest.approx(0.03e-3))


def test_circuits_have_distributions(tmp_path):
    body = '"circuits.throat.mass_flow" = "normal 2 %"'
    (one,) = load_case(write(tmp_path, body, CASE.read_text())).design.uncertainty
    assert one.key == "circuits.throat.mass_flow"


REFUSED = (
    '"channels.widht" = "uniform 0.03 mm"',
    '"chanels.width" = "uniform 0.03 mm"',
    '"width" = "uniform 0.03 mm"',
    '"title" = "uniform 0.03 mm"',
    '"coolant.fluid" = "any"',
    '"models.entrance" = "any"',
    '"channels.count" = "uniform 2"',
    '"models.stations" = "uniform 2"',
    '"liner.wall" = 0.05',
    '"liner.wall" = "0.05 mm"',
    '"liner.wall" = "gaussian 0.05 mm"',
    '"liner.wall" = "norml 0.05 mm"',
    '"liner.wall" = "normal 0.05"',
    '"liner.wall" = "normal 0.05 bar"',
    '"liner.wall" = "normal 0 mm"',
    '"liner.wall" = "normal -1 mm"',
    '"liner.wall" = "normal 1e999 mm"',
    '"liner.wall" = "normal 0.02 fuel"',
    '"propellants.mixture_ratio" = "normal 1 bar"',
    '"coolant.inlet_temperature" = "normal 2 %"',
    '"coolant.inlet_temperature" = "normal 2 degC"',
    '"chamber.pressure" = "normal 2 bar gauge"',
    '"models.gas_side" = "bartz"',
    '"models.gas_side" = ["bartz", "bartz"]',
    '"models.gas_side" = ["bartz", "barz"]',
    '"models.gas_side" = 3',
    '"models.coolant_side" = ["taylor", "gnielinski"]',
    '"circuits.barrel.width" = "normal 2 %"',
    'channels.width = "uniform 0.03 mm"',
)


@pytest.mark.parametrize("line", REFUSED)
def test_refused(tmp_path, refused, line):
    path = line.partition('" =')[0].strip('"') if line.startswith('"') else "channels"
    assert refused(write(tmp_path, line)) == [f'uncertainty."{path}"']


def test_all_at_once_and_after_the_other_sections(tmp_path, refused):
    body = '"liner.wall" = "normal 0 mm"\n"channels.widht" = "normal 3 %"'
    path = write(tmp_path, body, starter_text().replace('wall = "0.8 mm"', "wall = 3", 1))
    keys = ["liner.wall", 'uncertainty."liner.wall"', 'uncertainty."channels.widht"']
    assert refused(path) == keys


def test_no_section(tmp_path, refused):
    path = tmp_path / "case.toml"
    path.write_text(starter_text().replace("case = 1 ", "uncertainty = 3\ncase = 1 ", 1))
    assert refused(path) == ["uncertainty"]


def test_it_is_not_set_but_given_as_input(tmp_path, refused):
    path = tmp_path / "case.toml"
    path.write_text(starter_text())
    key = "uncertainty.channels.width"
    assert refused(path, f"{key}=normal 3 %") == [f"--set {key}"]
    with pytest.raises(CaseError, match="another section"):
        load_case(path, {"uncertainty.channels": "normal 3 %"})


def test_schema_and_hash_know_it(tmp_path):
    entry = json_schema()["properties"]["uncertainty"]
    assert {"string", "array"} == {one["type"] for one in entry["additionalProperties"]["anyOf"]}
    assert "regen uncertainty" in entry["description"]
    one = load_case(write(tmp_path, '"liner.wall" = "normal 3 %"')).hash
    assert load_case(write(tmp_path, '"liner.wall" = "normal 4 %"')).hash != one
