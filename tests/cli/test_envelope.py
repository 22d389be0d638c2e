"""``regen envelope``: what it writes, prints and returns, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.helpers.folders import csv_file, listed
from tests.helpers.places import CASES

FEW = ("--set", "models.stations=21")
SMALL = ("--chamber-pressure", "80%:100%:2", "--mixture-ratio", "2.2:2.6:2")

SAME = 1e-8
"""The case's own point is that of ``regen solve``; the table is written to nine digits."""


def test_envelope_writes_table_figures_and_index(regen, water):
    done = regen("envelope", water, "-o", "out", *SMALL, *FEW)
    assert done.exit_code == 0, done.stderr
    found = json.loads(Path("out/envelope.json").read_text())
    names = {"envelope.csv", *(f"figures/{n}.svg" for n in ("envelope_nominal", "envelope_band"))}
    assert listed("out", "envelope.json") == names | {"figures/throttle_line.svg"}
    rows = csv_file("out/envelope.csv")
    # 4 on the map; the throttle line at the case's mixture ratio has 2 more
    assert len(rows) == len(found["rows"]) == 6
    assert [row["status"] for row in rows] == ["solved"] * 6
    assert rows[0]["nominal_point"] == "no"
    assert {"schema", "title", "axes", "rules", "limits", "rows", "provenance"} <= set(found)
    assert found["provenance"]["case_sha256"]
    assert found["provenance"]["sources"]
    assert found["axes"][0]["name"] == "chamber_pressure_Pa"
    assert "6 operating points" in done.stderr
    assert "operating points (the first" not in done.stdout
    for words in (
        "throttle line",
        "coolant flow in proportion to the hot-gas flow",
        "written: out",
    ):
        assert words in done.stdout


@pytest.mark.parametrize("case", ["a-methane", "b-hydrogen"])
def test_the_own_point_of_the_map_is_that_of_solve(regen, case):
    path = CASES / f"{case}.toml"
    ranges = ("--chamber-pressure", "90%:100%:2", "--mixture-ratio", "90%:100%:2")
    assert regen("envelope", path, "-o", "out", *ranges, *FEW).exit_code == 0
    alone = json.loads(regen("solve", path, "--json", *FEW).stdout)
    (row,) = [row for row in csv_file("out/envelope.csv") if row["nominal_point"] == "yes"]
    assert row["on_map"] == "yes"
    assert row["verdict"] == alone["verdict"]
    assert row["coolant_side"] == alone["provenance"]["models"]["coolant_side"]
    summary = [name for name in alone["summary"] if name in row]
    assert len(summary) > 8
    for name in summary:
        assert float(row[name]) == pytest.approx(alone["summary"][name], rel=SAME), name
    for margin in alone["margins"]:
        for run in ("nominal", "band_edge", "worst_channel"):
            cell = row[f"margin_{margin['name']}_{run}"]
            if margin[run] is None:
                assert cell == ""
            else:
                assert float(cell) == pytest.approx(margin[run], rel=SAME)


def test_rows_of_a_choked_region_are_kept_and_the_exit_code_is_zero(regen, hydrogen):
    ranges = ("--chamber-pressure", "90%:100%:2", "--mixture-ratio", "6:7:2")
    shallow = ("--set", 'channels.depth="1.2 mm"')
    done = regen("envelope", hydrogen, "-o", "out", *ranges, *shallow, *FEW)
    assert done.exit_code == 0, done.stderr
    rows = csv_file("out/envelope.csv")
    assert len(rows) == 4
    for row in rows:
        assert row["status"] != "solved"
        assert "What to do" in row["reason"]
        assert row["T_wall_hot_max_K"] == ""
    assert "not solved" in done.stdout


def test_json_is_alone_on_standard_output_and_equals_the_file(regen, water):
    done = regen("envelope", water, "-o", "out", "--json", *SMALL, *FEW)
    assert json.loads(done.stdout) == json.loads(Path("out/envelope.json").read_text())


def test_two_runs_are_the_same_to_the_byte(regen, water):
    for folder in ("one", "two"):
        assert regen("envelope", water, "-o", folder, *SMALL, *FEW).exit_code == 0
    for path in Path("one").rglob("*"):
        if path.is_file():
            assert path.read_bytes() == (Path("two") / path.relative_to("one")).read_bytes(), path


def test_a_figure_that_is_no_longer_made_is_taken_away(regen, water):
    assert regen("envelope", water, "-o", "out", *SMALL, *FEW).exit_code == 0
    feeds = ("--inlet-temperature", "285:295:2:K", "--inlet-pressure", "18:22:2:bar")
    assert regen("envelope", water, "-o", "out", *feeds, *FEW).exit_code == 0
    assert not Path("out/figures/throttle_line.svg").exists()
    assert len(csv_file("out/envelope.csv")) == 5


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--chamber-pressure", "12:33:8"), ("--chamber-pressure", "the unit is missing")),
        (("--chamber-pressure", "33:12:8:bar"), ("start is above stop", "write 12:33:8:bar")),
        (("--chamber-pressure", "9:9:4:bar"), ("the step is zero",)),
        (("--mixture-ratio", "2:3:1"), ("1 values make no range",)),
        (("--mixture-ratio", "2:99:3"), ("--mixture-ratio", "from 0.05 to 60")),
        (("--feed-pressure", "tank"), ("--feed-pressure", "constant")),
        (("--set", "channels.count=400"), ("land",)),
    ],
)
def test_bad_input_is_exit_code_two_and_writes_nothing(regen, water, arguments, said):
    refused = regen("envelope", water, "-o", "out", *arguments, *FEW)
    assert refused.exit_code == 2, refused.output
    assert "Traceback" not in refused.output
    for words in said:
        assert words in " ".join(refused.stderr.split())
    assert not Path("out").exists()


def test_a_share_of_the_fuel_cannot_be_held(regen, methane):
    refused = regen("envelope", methane, "-o", "out", "--coolant-flow", "constant", *FEW)
    assert refused.exit_code == 2
    assert "share of the fuel" in refused.stderr


def test_a_folder_in_whose_way_a_file_is(regen, water):
    Path("out").write_text("mine")
    refused = regen("envelope", water, "-o", "out", *SMALL, *FEW)
    assert refused.exit_code == 2
    assert "out is a file" in refused.stderr
    assert "operating points" not in refused.stderr  # found out before anything is computed
    assert Path("out").read_text() == "mine"


def test_a_figure_that_fails_costs_that_figure_alone(regen, water, monkeypatch):
    def broken(*_):
        message = "attempt to get argmax of an empty sequence"
        raise ValueError(message)

    monkeypatch.setattr("regen.output.figures.envelope.map_figure", broken)
    done = regen("envelope", water, "-o", "out", *SMALL, *FEW)
    assert done.exit_code == 0, done.stderr
    assert "figure envelope_nominal could not be drawn" in done.stderr
    found = json.loads(Path("out/envelope.json").read_text())
    files = {"envelope.csv", "figures/throttle_line.svg"}
    assert listed("out", "envelope.json") == files
    named = [text.partition(" could not")[0] for text in found["figures_not_drawn"]]
    assert named == ["figure envelope_nominal", "figure envelope_band"]


def test_the_table_is_there_before_anything_is_drawn(regen, water, monkeypatch):
    def stopped(*_):
        found = json.loads(Path("out/envelope.json").read_text())
        assert set(found["files"]) == {"envelope.csv"}
        raise KeyboardInterrupt

    monkeypatch.setattr("regen.output.figures.envelope.map_figure", stopped)
    done = regen("envelope", water, "-o", "out", *SMALL, *FEW)
    assert done.exit_code != 0
    assert len(csv_file("out/envelope.csv")) == 6
