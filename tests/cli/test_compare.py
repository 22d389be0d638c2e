"""``regen compare``: cases and folders side by side."""

from __future__ import annotations

import json

import pytest

import regen as library


@pytest.fixture
def thinner(water, tmp_path):
    case = tmp_path / "thinner.toml"
    case.write_text(water.read_text().replace('wall = "1.0 mm"', 'wall = "0.8 mm"'))
    return case


def test_a_case_and_a_folder_side_by_side(regen, water, thinner, tmp_path):
    assert regen("solve", thinner, "-o", "solved").exit_code in (0, 3)
    done = regen("compare", water, "solved", "-o", "out")
    assert done.exit_code == 0, done.output
    whole = json.loads((tmp_path / "out/compare.json").read_text())
    assert set(whole["files"]) == {"compare.html", "figures/compare.svg"}
    assert whole["inputs"] == {"liner.wall": {"water": "1 mm", "solved": "0.8 mm"}}

    solved = json.loads((tmp_path / "solved/result.json").read_text())
    first, second = whole["designs"]
    assert second["summary"] == solved["summary"]
    margins = {row["name"]: row["columns"]["nominal"]["margin"] for row in solved["margins"]}
    assert {name: row["nominal"] for name, row in second["margins"].items()} == margins
    # a thinner wall of copper runs cooler on its hot side
    hot = "T_wall_hot_max_K"
    assert second["summary"][hot] < first["summary"][hot] - 5.0
    lines = done.stdout.splitlines()
    shown = next(line for line in lines if line.startswith("peak hot-gas-side wall")).split()
    assert [int(text) for text in shown[-2:]] == [
        round(one["summary"][hot], -1) for one in (first, second)
    ]


def test_a_section_of_one_design_alone_is_one_row(methane, calorimeter):
    rows = library.compare(methane, calorimeter).study
    from regen.output.compare import inputs_table

    inputs = {name: cells for name, *cells in inputs_table(rows).rows}
    assert inputs["circuit throat"] == ["-", "given"]
    assert inputs["propellants.fuel"] == ["methane", "propane"]
    assert "propellants.oxidizer" not in inputs


def test_the_same_name_twice_is_told_apart(water, tmp_path):
    other = tmp_path / "water.toml"
    other.write_text(water.read_text())
    names = [one.name for one in library.compare(water, other).study]
    assert len(set(names)) == 2


@pytest.mark.parametrize("given", [[], ["water.toml"]])
def test_fewer_than_two_are_refused(regen, given):
    assert regen("compare", *given).exit_code == 2


def test_a_folder_without_a_design_is_refused(regen, water, tmp_path):
    (tmp_path / "empty").mkdir()
    done = regen("compare", water, "empty")
    assert done.exit_code == 2
    assert "empty holds no result of regen" in done.stderr
