"""``regen uncertainty``: what it writes, prints and returns, and what it refuses."""

from __future__ import annotations

import csv
import hashlib
import json
from pathlib import Path

import pytest

FEW = ("--samples", "16", "--set", "models.stations=21")
ONE = ("--input", "liner.wall=uniform 0.1 mm")


def test_it_writes_every_design_figures_and_index(regen, water):
    both = ("--input", "models.gas_side=bartz, pipe_film", *ONE)
    done = regen("uncertainty", water, "-o", "out", *both, *FEW)
    assert done.exit_code == 0, done.stderr
    found = json.loads(Path("out/uncertainty.json").read_text())
    names = ("probability", "indices", "wall_temperature_bands", "peak_wall_temperature")
    assert set(found["files"]) == {"samples.csv", *(f"figures/{name}.svg" for name in names)}
    for name, digest in found["files"].items():
        assert hashlib.sha256(Path("out", name).read_bytes()).hexdigest() == digest
    rows = list(csv.DictReader(Path("out/samples.csv").read_text().splitlines()))
    assert len(rows) == 16 * (2 + 2) == found["designs"]
    assert {row["models.gas_side"] for row in rows} == {"bartz", "pipe_film"}
    assert all(0.9e-3 <= float(row["liner.wall_m"]) <= 1.1e-3 for row in rows)
    # told again from the table: a direct count over the first 2 N rows
    kept = sum(float(row["margin_hot_wall_temperature"] or -1) >= 0 for row in rows[:32])
    assert found["limits"]["hot_wall_temperature"]["kept"] == kept
    assert found["provenance"]["case_sha256"]
    for words in (
        "32 designs counted, 64 solved",
        "peak hot-gas-side wall temperature",
        "written: out",
    ):
        assert words in done.stdout
    assert "64 designs, a march each (16 base points, 2 inputs): about" in done.stderr
    # the first design stands at its own place: solved by itself it is the same
    row = rows[0]
    alone = json.loads(
        regen(
            *("solve", water, "--json", "--set", "models.stations=21"),
            *("--set", f'liner.wall="{float(row["liner.wall_m"]) * 1e3!r} mm"'),
            *("--set", f"models.gas_side={row['models.gas_side']}"),
        ).stdout
    )
    # the table is written to nine digits
    for name in ("T_wall_hot_max_K", "coolant_pressure_drop_Pa", "q_max_W_m2"):
        assert float(row[name]) == pytest.approx(alone["summary"][name], rel=1e-7), name


def test_the_same_seed_gives_the_same_bytes_with_other_threads(regen, water):
    for folder, threads in (("one", "1"), ("two", "2")):
        more = ("--threads", threads, "--seed", "7")
        assert regen("uncertainty", water, "-o", folder, *ONE, *FEW, *more).exit_code == 0
    for path in Path("one").rglob("*"):
        if path.is_file():
            assert path.read_bytes() == (Path("two") / path.relative_to("one")).read_bytes(), path


def test_the_case_gives_distributions_and_json_is_alone(regen, water, tmp_path):
    case = tmp_path / "case.toml"
    case.write_text(water.read_text() + '\n[uncertainty]\n"liner.wall" = "normal 2 %"\n')
    done = regen("uncertainty", case, "-o", "out", "--json", *FEW)
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    assert told == json.loads(Path("out/uncertainty.json").read_text())
    assert [one["key"] for one in told["inputs"]] == ["liner.wall"]
    assert [one["usual"] for one in told["inputs"]] == [None]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--samples", "1000", *ONE), ("--samples = 1000", "the nearest is 1024")),
        (("--samples", "1048576", *ONE), ("the most is 300000",)),
        (("--input", "liner.wall=normal 0 mm"), ("--input liner.wall", "width is zero")),
        (("--input", "liner.wal=normal 1 mm"), ("unknown key", 'did you mean "wall"')),
        (("--input", "liner.wall=uniform 2 mm"), ("goes through zero: it reaches -1 mm",)),
        (("--input", "models.gas_side=bartz, barz"), ('did you mean "bartz"',)),
        (("--seed", "-1", *ONE), ("--seed",)),
        (("--threads", "0", *ONE), ("--threads",)),
        (("--set", "uncertainty.liner.wall=normal 3 %"), ("--input KEY=DISTRIBUTION",)),
    ],
)
def test_bad_input_is_exit_code_two_and_writes_nothing(regen, water, arguments, said):
    refused = regen("uncertainty", water, "-o", "out", *arguments)
    assert refused.exit_code == 2, refused.output
    assert "Traceback" not in refused.output
    for words in said:
        assert words in " ".join(refused.stderr.split()), refused.stderr
    assert not Path("out").exists()


def test_a_folder_in_whose_way_a_file_is(regen, water):
    Path("out").write_text("mine")
    refused = regen("uncertainty", water, "-o", "out", *ONE, *FEW)
    assert refused.exit_code == 2
    assert "out is a file" in refused.stderr
    assert Path("out").read_text() == "mine"


def test_a_case_that_is_not_solved_is_sampled_all_the_same(regen, hydrogen):
    shallow = ("--set", 'channels.depth="1.2 mm"', "--input", "liner.wall=uniform 0.02 mm")
    done = regen("uncertainty", hydrogen, "-o", "out", *shallow, *FEW)
    assert done.exit_code == 0, done.stderr
    assert "the case itself is not solved" in done.stderr
    told = json.loads(Path("out/uncertainty.json").read_text())
    assert told["limits"]["every limit"]["not_solved"] == 32
    assert told["limits"]["every limit"]["probability"] == 0.0
    assert "not solved" in done.stdout


def test_help_says_what_it_does(regen):
    done = regen("uncertainty", "--help")
    assert done.exit_code == 0
    assert "[default: 256]" in done.stdout
    for words in ("--input", "--samples", "--seed", "--threads", "Exit codes: 0 all rows written"):
        assert words in " ".join(done.stdout.split())
