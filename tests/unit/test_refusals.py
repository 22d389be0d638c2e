"""Every refusal and note of a case is described, and is given what its texts have places for."""

from __future__ import annotations

import ast
import string

import pytest

from regen.sources import read_data
from regen.units import refusal
from tests.helpers.places import CASES

REFUSALS, NOTES = read_data("refusals.toml"), read_data("case_notes.toml")
MADE = {
    *("no version", "another version", "given twice", "not TOML"),
    *("table", "table at any pressure"),
}
"""Texts whose name is chosen when they are made."""


def calls() -> list[tuple[str, ast.Call]]:
    files = (CASES.parent / "regen").rglob("*.py")
    tree = [node for file in files for node in ast.walk(ast.parse(file.read_text("utf-8")))]
    made = [
        (c, c.func.id) for c in tree if isinstance(c, ast.Call) and isinstance(c.func, ast.Name)
    ]
    named = [(c.args[0], c) for c, name in made if c.args and name in ("refusal", "note")]
    texts = [(str(name.value), c) for name, c in named if isinstance(name, ast.Constant)]
    return [
        (name, c) for name, c in texts if name in NOTES or getattr(c.func, "id", "") == "refusal"
    ]


CALLS = calls()


def places(name: str) -> set[str]:
    texts = REFUSALS[name].values() if name in REFUSALS else [NOTES[name]]
    fields = [field for text in texts for _, field, _, _ in string.Formatter().parse(text) if field]
    return {field.split(".")[0] for field in fields}


def test_every_refusal_is_described_and_every_description_is_used():
    assert {name for name, _ in CALLS} | MADE == {*REFUSALS, *NOTES}
    assert not REFUSALS.keys() & NOTES.keys()


@pytest.mark.parametrize("name", sorted({name for name, _ in CALLS}))
def test_a_refusal_is_given_what_its_texts_have_places_for(name):
    for of, call in CALLS:
        given = {word.arg for word in call.keywords}
        if of == name and None in given:  # some are handed on as a mapping
            assert given - {None} <= places(name)
        elif of == name:
            assert given == places(name)


def test_the_parts_of_a_refusal():
    made = refusal("odd number", "channels.count", "81", less=80, more=82)
    assert (made.where, made.given, made.do) == ("channels.count", "81", "take 80 or 82")
    assert made.accepted == "an even number"
