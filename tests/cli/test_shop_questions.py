"""``regen as-built`` and ``regen alternatives``: what they write, print and return."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.helpers.folders import csv_file, listed

FEW = ("--set", "models.stations=21")
ROWS = """slot, x [mm], depth [mm]
17, -10, 1.15
17,  10, 1.15
30, -10, 0.98
"""


@pytest.fixture
def measured(tmp_path):
    path = tmp_path / "measured.csv"
    path.write_text(ROWS)
    return path


def test_slots_to_be_used_are_written_and_told(regen, water, measured):
    done = regen("as-built", water, measured, "-o", "out", *FEW)
    assert done.exit_code == 0, done.stderr
    assert "2 of 36 slots measured: 2 use" in done.stdout
    assert "slot 17: depth and wall out of tolerance" in done.stdout
    assert "whole chamber:" in done.stdout
    assert "the wall of 2 slots was not measured" in done.stdout
    names = listed("out", "as_built.json")
    assert names == {"as_built.csv", "as_built.html", "figures/as_built.svg"}
    rows = csv_file("out/as_built.csv")
    found = json.loads(Path("out/as_built.json").read_text())
    assert {row["slot"] for row in rows} == {"17", "30"}
    by_slot = {slot["slot"]: slot for slot in found["slots"]}
    assert by_slot[17]["wall_deviation_max_m"] == pytest.approx(-0.15e-3, abs=1e-12)
    assert found["as_drawn"]["slot"] == 0
    page = Path("out/as_built.html").read_text()
    assert "Decided by" in page
    assert "licensed" in page  # the usual cautions


def test_a_slot_that_is_not_to_be_used_is_exit_code_3(regen, water, measured):
    asked = ("--set", "limits.T_wall_hot=420 K")
    done = regen("as-built", water, measured, "-o", "out", "--json", *FEW, *asked)
    assert done.exit_code == 3
    found = json.loads(done.stdout)
    assert not found["all_usable"]
    assert found["slots"][0]["verdict"] != "use"


def test_a_bad_measured_file_is_exit_code_2_and_writes_nothing(regen, water, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text("slot, x [mm], depth [mm]\n40, -10, 1.0\n3, 500, 1.0\n")
    done = regen("as-built", water, path, "-o", "out", *FEW)
    assert done.exit_code == 2
    assert "bad.csv: 2 problems" in done.stderr
    assert "line 2, slot = 40" in done.stderr
    assert "line 3, slot 3, x = 500 mm" in done.stderr
    assert not Path("out").exists()


def test_alternatives_are_written_and_told(regen, water):
    done = regen("alternatives", water, "-o", "out", "--route", "brazed", *FEW)
    assert done.exit_code == 0, done.stderr
    names = listed("out", "alternatives.json")
    assert names == {"alternatives.csv", "alternatives.html", "figures/alternatives.svg"}
    for words in ("brazed, starting point", "brazed tubes are not solved", "h with current"):
        assert words in done.stdout
    found = json.loads(Path("out/alternatives.json").read_text())
    own, brazed = found["rows"]
    alone = json.loads(regen("solve", water, "--json", *FEW).stdout)
    assert own["T_wall_hot_max_K"] == alone["summary"]["T_wall_hot_max_K"]
    assert own["case_sha256"] == alone["provenance"]["case_sha256"]
    assert own["plating_hours"] > 0.0
    assert brazed["plating_hours"] is None
    rows = csv_file("out/alternatives.csv")
    assert [row["status"] for row in rows] == ["solved", "solved"]
    page = Path("out/alternatives.html").read_text()
    assert "a braze cycle" in page
    assert "licensed" in page


def test_a_route_that_is_not_solved_keeps_its_row(regen, water, tmp_path):
    path = tmp_path / "case.toml"
    table = (
        '[alternatives.slim]\nroute = "electroformed"\n"channels.depth" = "0.2 mm"\n'
        '"shop.depth_tolerance" = "0.05 mm"\n'
    )
    path.write_text(water.read_text() + table)
    done = regen("alternatives", path, "-o", "out", "--route", "electroformed", *FEW)
    assert done.exit_code == 0, done.stderr
    row = json.loads(Path("out/alternatives.json").read_text())["rows"][1]
    assert (row["name"], row["status"]) == ("slim", "not solved")
    assert row["reason"].startswith("not solved:")
    assert "slim" in done.stdout


def test_a_bad_table_is_exit_code_2(regen, water, tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(water.read_text() + '\n[alternatives.hip]\n"liner.wall" = "1"\n')
    done = regen("alternatives", path, "-o", "out")
    assert done.exit_code == 2
    assert "alternatives.hip.route: missing" in done.stderr
