"""Texts of the data: every one is used, every one asked for is there, and places show units."""

from __future__ import annotations

import ast

import numpy as np
import pytest

from regen.sources import DATA, read_data
from regen.texts import text

FILES = {
    "texts.toml": ("gas", "coolant", "geometry", "metals/alloys.py"),
    "cutters.toml": ("shop/cutters",),
    "alloy_refusals.toml": ("metals/alloy_checks.py",),
}


def nodes(places: tuple[str, ...]) -> list[ast.AST]:
    roots = [DATA.parent / place for place in places]
    files = [file for root in roots for file in ([root] if root.is_file() else root.rglob("*.py"))]
    return [node for file in files for node in ast.walk(ast.parse(file.read_text("utf-8")))]


@pytest.mark.parametrize("file", FILES)
def test_every_text_is_used(file):
    strings = {n.value for n in nodes(FILES[file]) if isinstance(n, ast.Constant)}
    made = {f"no such {kind}" for kind in ("condition", "service")}
    assert set(read_data(file)) <= strings | made


@pytest.mark.parametrize("file", ["texts.toml", "cutters.toml"])
def test_every_text_asked_for_is_there(file):
    calls = [n for n in nodes(FILES[file]) if isinstance(n, ast.Call) and n.args]
    by_name = [c for c in calls if getattr(c.func, "id", getattr(c.func, "attr", "")) == "text"]
    names = {c.args[0].value for c in by_name if isinstance(c.args[0], ast.Constant)}
    assert names
    assert names <= set(read_data(file))


def test_a_place_shows_a_value_in_its_unit():
    shown = text("cooled end", name="cooled_to", x=0.0123456, low=-0.15, high=np.float64(0.05))
    assert "12.35 mm is off" in shown
    assert "from -150 mm to 50 mm" in shown
    assert "at the 45.68 bar where" in text(
        "film phase",
        fluid="water",
        T=400.0,
        state="liquid",
        p=4.5678e6,
        side="below",
        T_sat=5,
        do="",
    )
    assert text("bell angles").startswith("contour: a bell needs")
