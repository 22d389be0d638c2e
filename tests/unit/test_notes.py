"""Every note that the checks make is described, and is given what its text has places for."""

from __future__ import annotations

import ast
import string

import pytest

from regen.checks.findings import note
from regen.checks.flags import FLAGS
from regen.sources import read_data
from tests.helpers.places import CASES

NOTES = read_data("notes.toml")
MADE = {*FLAGS.values(), "buoyancy", "acceleration", "wall check: close", "wall check: apart"}
"""Notes whose name is put together when they are made."""


def calls() -> list[ast.Call]:
    files = (CASES.parent / "regen" / "checks").rglob("*.py")
    nodes = [node for file in files for node in ast.walk(ast.parse(file.read_text("utf-8")))]
    made = [node for node in nodes if isinstance(node, ast.Call)]
    return [c for c in made if isinstance(c.func, ast.Name) and c.func.id in ("note", "text")]


def named() -> dict[str, ast.Call]:
    first = [(call.args[0], call) for call in calls() if call.args]
    return {str(a.value): call for a, call in first if isinstance(a, ast.Constant)}


def places(name: str) -> set[str]:
    fields = [field for _, field, _, _ in string.Formatter().parse(NOTES[name]) if field]
    return {field.split(".")[0].split("[")[0] for field in fields}


def test_every_note_is_described_and_every_description_is_used():
    assert set(named()) | MADE == set(NOTES)


@pytest.mark.parametrize("name", sorted(named()))
def test_a_note_is_given_what_its_text_has_places_for(name):
    call = named()[name]
    keywords = call.keywords
    placed = {"x"} if call.func.id == "note" and len(call.args) > 1 else set()
    if all(word.arg for word in keywords):  # none is handed on as a mapping
        assert {word.arg for word in keywords} == places(name) - placed
    else:
        assert {word.arg for word in keywords if word.arg} <= places(name)


def test_the_code_of_a_note_stands_before_the_colon():
    made = note("uncooled wall: gaps", 0.1, spans="x = 1 to 2 mm")
    assert (made.code, made.x_m) == ("uncooled wall", 0.1)
    assert made.text == "the wall at x = 1 to 2 mm lies between circuits and is not judged"
