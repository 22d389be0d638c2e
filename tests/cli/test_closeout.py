"""regen closeout: what it writes, prints and returns."""

from __future__ import annotations

import json
from pathlib import Path

FEW = ("--set", "models.stations=21")
FULL = ("--set", "plating.wax_melts=70 degC", "--set", "plating.toughness=250 J/m2")


def words(text: str) -> str:
    return " ".join(text.split())


def test_a_plan_is_printed_and_written(regen, water):
    done = regen("closeout", water, "-o", "out", *FEW, *FULL)
    assert done.exit_code == 0, done.stdout + done.stderr
    shown = words(done.stdout)
    for said in ("plating plan, no check is broken", "copper nickel", "turnings", "written: out"):
        assert said in shown
    assert "tables and pages" in done.stderr
    names = {str(path.relative_to("out")) for path in Path("out").rglob("*.*")}
    figure = str(Path("figures") / "plating_layers.svg")
    assert names == {"plating.json", "plating.csv", "plating_sheet.html", figure}
    again = regen("closeout", water, "-o", "out", "--json", *FEW, *FULL)
    assert json.loads(again.stdout) == json.loads(Path("out/plating.json").read_text())


def test_a_broken_check_is_exit_3(regen, water):
    done = regen("closeout", water, "-o", "out", *FEW, "--set", "plating.nickel_deposit=2.2 mm")
    assert done.exit_code == 3
    assert "BROKEN: nickel before its last turning" in words(done.stdout)
    assert Path("out/plating.json").exists()


def test_what_cannot_be_planned_is_a_bad_case_before_anything_is_solved(regen, water):
    printed = (
        ("closeout.nickel", None),
        ("closeout.jacket", "2 mm"),
        ("closeout.jacket_alloy", "316L"),
        ("closeout.jacket_condition", "annealed-minimum"),
        ("closeout.route", "HIP-bonded"),
    )
    text = water.read_text().replace('nickel = "2 mm"', "").replace('copper = "0.2 mm"', "")
    Path("hip.toml").write_text(text)
    sets = [part for key, value in printed if value for part in ("--set", f"{key}={value}")]
    done = regen("closeout", "hip.toml", "-o", "out", *FEW, *sets)
    assert done.exit_code == 2
    for said in ("hip.toml: 1 problem", "closeout.route", "HIP-bonded of 316L", "no plating plan"):
        assert said in words(done.stderr)
    assert "march" not in done.stderr
    assert not Path("out").exists()


def test_turning_more_than_grows_is_refused_with_its_key(regen, water):
    done = regen("closeout", water, *FEW, "--set", "plating.turn_cut=0.95 mm")
    assert done.exit_code == 2
    assert "plating.turn_cut: each turning takes 0.95 mm off the thinnest place" in done.stderr


def test_wrong_units_are_refused_together(regen, water):
    bad = ("--set", "plating.nickel_current_density=2 A", "--set", "plating.nickel_rate=7 um")
    done = regen("closeout", water, *bad)
    assert done.exit_code == 2
    for said in ("2 problems", '"2 A/dm2"', '"25 um/h"'):
        assert said in done.stderr
