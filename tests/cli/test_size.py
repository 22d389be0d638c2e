"""``regen size`` as its user runs it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from regen.case import load_case
from regen.studies.size import size
from regen.studies.sizing_problem import Problem

QUICK = ("--set", "models.stations=31", "--set", 'sizing.held_at="nominal channel"')
WATER_SIZED = (*QUICK, "--set", 'sizing.free=["depth"]', "--set", "sizing.depth_points=1")
WATER_SIZED += ("--set", 'coolant.inlet_pressure="60 bar"', "--set", 'channels.depth="1.2 mm"')


def test_a_sized_case_solves_to_the_same_numbers(regen, water):
    done = regen("size", water, *WATER_SIZED)
    assert done.exit_code == 0, done.stderr
    assert "pressure drop" in done.stdout
    assert "probability that every limit is kept" in done.stdout
    found = json.loads(Path("sized/size.json").read_text())
    assert found["feasible"]
    solved = regen("solve", "sized/sized.toml", "-o", "again")
    assert solved.exit_code == 0
    result = json.loads(Path("again/result.json").read_text())
    drop = result["summary"]["coolant_pressure_drop_Pa"]
    assert drop == pytest.approx(found["objective"], rel=1e-9)
    assert drop == pytest.approx(found["summary"]["coolant_pressure_drop_Pa"], rel=1e-9)
    assert result["provenance"]["case_sha256"] == found["provenance"]["sized_case_sha256"]
    assert Path("sized/figures/sizing.svg").exists()


def test_comments_and_files_of_the_case_come_along(regen, water):
    shutil.copy(water, "own.toml")
    text = Path("own.toml").read_text().replace('wall = "1.0 mm"', 'wall = {file = "wall.csv"}')
    Path("own.toml").write_text("# kept as it is\n" + text)
    Path("wall.csv").write_text("x [mm], wall [mm]\n-100, 1.0\n0, 0.9\n")
    done = regen("size", "own.toml", *WATER_SIZED)
    assert done.exit_code == 0, done.stderr
    assert Path("sized/sized.toml").read_text().startswith("# kept as it is")
    assert Path("sized/wall.csv").read_text() == Path("wall.csv").read_text()


def test_a_file_outside_the_folder_is_refused(regen, water):
    Path("cases").mkdir()
    shutil.copy(water, "cases/own.toml")
    text = Path("cases/own.toml").read_text()
    text = text.replace('wall = "1.0 mm"', 'wall = {file = "../wall.csv"}')
    Path("cases/own.toml").write_text(text)
    Path("wall.csv").write_text("x [mm], wall [mm]\n-100, 1.0\n0, 0.9\n")
    done = regen("size", "cases/own.toml", *WATER_SIZED)
    assert done.exit_code == 2
    assert "../wall.csv" in done.stderr
    assert "beside the case" in done.stderr


def test_no_feasible_design(regen, water):
    regen("size", water, *WATER_SIZED)  # what it wrote must not stay beside a failure
    done = regen("size", water, *WATER_SIZED, "--set", 'limits.T_wall_hot="400 K"')
    assert done.exit_code == 3
    assert "no feasible design" in done.stdout
    assert "nearest limit: hot wall temperature" in done.stdout
    assert "limits.T_wall_hot" in done.stdout
    assert not json.loads(Path("sized/size.json").read_text())["feasible"]
    assert not Path("sized/sized.toml").exists()


@pytest.mark.parametrize(
    ("override", "said"),
    [
        ('sizing.free=["depths"]', ('"depths" is not a size', 'did you mean "depth"')),
        ('sizing.wall_from="0.5 mm"', ("the wall is not free", "sizing.free")),
        ('sizing.minimise="cost"', ("sizing.minimise", "pressure drop")),
        ('shop.cutters=[{kind="saw"}]', ("shop.cutters[1].width", "missing")),
        ('shop.cutters=[{kind="saw", width="9 mm"}]', ("shop.cutters", "width_from")),
    ],
)
def test_what_cannot_be_sized(regen, water, override, said):
    free = () if "free" in override else ("--set", 'sizing.free=["width", "depth"]')
    done = regen("size", water, *free, "--set", override)
    assert done.exit_code == 2, done.stdout
    for words in said:
        assert words in done.stderr


def test_bounds_the_wrong_way_round(regen, water):
    sets = ("--set", 'sizing.depth_from="2 mm"', "--set", 'sizing.depth_to="1 mm"')
    done = regen("size", water, *sets)
    assert done.exit_code == 2
    assert "sizing.depth_to" in done.stderr


def test_circuits_are_not_sized(regen, calorimeter):
    done = regen("size", calorimeter)
    assert done.exit_code == 2
    assert "circuits" in done.stderr


def test_json(regen, water):
    done = regen("size", water, *WATER_SIZED, "--json")
    assert json.loads(done.stdout)["feasible"]


SAMPLES = 500


def test_the_sized_demo_is_no_worse_than_the_best_of_a_sobol_sample(methane):
    from scipy.stats import qmc

    design = load_case(methane, ["models.stations=41"]).design
    found = size(design, threads=2)
    assert found.feasible
    problem = Problem(found.space, tuple(dict.fromkeys(n.limit for n in found.names if n.lane)), 2)
    points = qmc.Sobol(len(found.space.variables), seed=7).random(512)[:SAMPLES]
    sample = problem.at(points)
    # the sample need not be cut: random depths are steeper than a cutter follows
    limits = np.array([bool(name.lane) for name in found.names])
    kept = sample.solved & (sample.constraints[:, limits] >= 0.0).all(axis=1)
    assert kept.any()
    assert found.objective <= sample.objective[kept].min()
