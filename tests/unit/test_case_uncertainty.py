"""The section [uncertainty] of a case: what it makes, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from regen.case.keys import json_schema
from regen.case.read import edited, load_case, starter_text
from regen.design import Distribution
from regen.errors import CaseError
from tests.helpers.places import CASES

CASE = CASES / "d-water-calorimeter.toml"


def write(folder: Path, body: str, text: str | None = None) -> Path:
    path = folder / "case.toml"
    path.write_text((starter_text() if text is None else text) + "\n[uncertainty]\n" + body)
    return path


def refusals(path: Path, *overrides: str) -> list[str]:
    with pytest.raises(CaseError) as caught:
        load_case(path, overrides)
    return [str(problem) for problem in caught.value.problems]


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


REFUSED = {
    '"channels.widht" = "uniform 0.03 mm"': ["unknown key", 'did you mean "width"?'],
    '"chanels.width" = "uniform 0.03 mm"': ["unknown section", '"channels"'],
    '"width" = "uniform 0.03 mm"': ["does not name a section and a key"],
    '"title" = "uniform 0.03 mm"': ["it holds no number"],
    '"coolant.fluid" = "any"': ["it holds no number", "models.coolant_side"],
    '"models.entrance" = "any"': ["it holds no number"],
    '"channels.count" = "uniform 2"': ["a whole number has no spread"],
    '"models.stations" = "uniform 2"': ["a whole number has no spread"],
    '"liner.wall" = 0.05': ["not a text", "put law and amount in quotes"],
    '"liner.wall" = "0.05 mm"': ["not a law with an amount", "uniform, triangular"],
    '"liner.wall" = "gaussian 0.05 mm"': ['"gaussian" is not a known law'],
    '"liner.wall" = "norml 0.05 mm"': ['did you mean "normal"?'],
    '"liner.wall" = "normal 0.05"': ["the unit is missing"],
    '"liner.wall" = "normal 0.05 bar"': ["a unit of pressure, not of length"],
    '"liner.wall" = "normal 0 mm"': ["its width is zero"],
    '"liner.wall" = "normal -1 mm"': ["finite and above zero"],
    '"liner.wall" = "normal 1e999 mm"': ["finite and above zero"],
    '"liner.wall" = "normal 0.02 fuel"': ['unknown unit "fuel"'],
    '"propellants.mixture_ratio" = "normal 1 bar"': ["the key has no unit"],
    '"coolant.inlet_temperature" = "normal 2 %"': ["per cent of a temperature", "give it in K"],
    '"coolant.inlet_temperature" = "normal 2 degC"': ["a width is a difference"],
    '"chamber.pressure" = "normal 2 bar gauge"': ["a width is a difference", 'drop "gauge"'],
    '"models.gas_side" = "bartz"': ["one name has no spread"],
    '"models.gas_side" = ["bartz", "bartz"]': ['"bartz" is named twice'],
    '"models.gas_side" = ["bartz", "barz"]': ["unknown correlation", 'mean "bartz"?'],
    '"models.gas_side" = 3': ["neither a text nor a list"],
    '"models.coolant_side" = ["taylor", "gnielinski"]': ["fitted to hydrogen"],
    '"circuits.barrel.width" = "normal 2 %"': ["no such circuit", "a case with circuits"],
    'channels.width = "uniform 0.03 mm"': ["the key is not in quotes", '"channels.width"'],
}


@pytest.mark.parametrize("line", REFUSED)
def test_refused(tmp_path, line):
    (text,) = refusals(write(tmp_path, line))
    assert text.startswith("uncertainty.")
    for words in REFUSED[line]:
        assert words in text, text


def test_all_at_once_and_after_the_other_sections(tmp_path):
    body = '"liner.wall" = "normal 0 mm"\n"channels.widht" = "normal 3 %"'
    path = write(tmp_path, body, starter_text().replace('wall = "0.8 mm"', "wall = 3", 1))
    found = refusals(path)
    assert [text.partition(" =")[0] for text in found] == [
        "liner.wall",
        'uncertainty."liner.wall"',
        'uncertainty."channels.widht"',
    ]


def test_no_section(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(starter_text().replace("case = 1 ", "uncertainty = 3\ncase = 1 ", 1))
    (text,) = refusals(path)
    assert "not a section" in text


def test_it_is_not_set_but_given_as_input(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(starter_text())
    (text,) = refusals(path, "uncertainty.channels.width=normal 3 %")
    assert '"--input KEY=DISTRIBUTION"' in text
    with pytest.raises(CaseError, match="another section"):
        edited(path, {"uncertainty.channels": "normal 3 %"})


def test_schema_and_hash_know_it(tmp_path):
    entry = json_schema()["properties"]["uncertainty"]
    assert {"string", "array"} == {one["type"] for one in entry["additionalProperties"]["anyOf"]}
    assert "regen uncertainty" in entry["description"]
    one = load_case(write(tmp_path, '"liner.wall" = "normal 3 %"')).hash
    assert load_case(write(tmp_path, '"liner.wall" = "normal 4 %"')).hash != one
