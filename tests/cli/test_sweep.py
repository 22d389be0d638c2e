"""``regen sweep``: what it writes, prints and returns, how it goes on, and what it refuses."""

from __future__ import annotations

import csv
import errno
import hashlib
import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from regen.output import sweep as output
from regen.studies.sweep import plan as plans
from regen.studies.sweep import study as studies

FEW = ("--set", "models.stations=21", "--judge", "nominal")
SMALL = ("--vary", "channels.count=30:42:3", "--vary", "liner.wall=0.9,1.1:mm")

NINE_DIGITS = 5.1e-9
"""Solved numbers of the table are written to nine digits."""


def table(folder: str) -> list[dict[str, str]]:
    return list(csv.DictReader(Path(folder, "sweep.csv").read_text().splitlines()))


def test_sweep_writes_table_figures_and_index(regen, water):
    done = regen("sweep", water, "-o", "out", *SMALL, *FEW)
    assert done.exit_code == 0, done.stderr
    found = json.loads(Path("out/sweep.json").read_text())
    names = {f"figures/sweep_{n}.svg" for n in ("family", "map", "front", "land")}
    assert set(found["files"]) == names
    for name, digest in {**found["files"], "sweep.csv": found["table"]["sha256"]}.items():
        assert hashlib.sha256(Path("out", name).read_bytes()).hexdigest() == digest
    rows = table("out")
    assert [row["channels.count"] for row in rows] == ["30", "30", "36", "36", "42", "42"]
    assert [row["liner.wall_m"] for row in rows] == ["0.0009", "0.0011"] * 3
    assert [row["status"] for row in rows] == ["solved"] * 6
    assert found["state"] == "complete"
    assert found["rows"] == 6
    assert [key["column"] for key in found["plan"]["grid"]] == ["channels.count", "liner.wall_m"]
    assert found["provenance"]["case_sha256"]
    assert "6 rows" in done.stderr
    for words in ("6 rows: 6 solved", "least pressure drop: row", "coolest wall", "written: out"):
        assert words in done.stdout
    assert not Path("out/parts").exists()


@pytest.mark.parametrize("judged", ["full", "nominal"])
def test_a_row_is_that_of_solve_with_the_same_values(regen, water, judged):
    stations = ("--set", "models.stations=21")
    done = regen("sweep", water, "-o", "out", *SMALL, *stations, "--judge", judged)
    assert done.exit_code == 0, done.stderr
    for n, (count, wall) in ((1, (30, "1.1 mm")), (4, (42, "0.9 mm"))):
        own = ("--set", f"channels.count={count}", "--set", f'liner.wall="{wall}"')
        alone = json.loads(regen("solve", water, "--json", *stations, *own).stdout)
        row = table("out")[n]
        summary = [name for name in alone["summary"] if name in row]
        assert len(summary) > 8
        for name in summary:
            assert float(row[name]) == pytest.approx(alone["summary"][name], rel=NINE_DIGITS), name
        runs = ("nominal", "band_edge", "worst_channel") if judged == "full" else ("nominal",)
        for margin in alone["margins"]:
            for run in runs:
                cell = row[f"margin_{margin['name']}_{run}"]
                if margin[run] is not None:
                    assert float(cell) == pytest.approx(margin[run], rel=NINE_DIGITS)
        if judged == "full":
            assert row["verdict"] == alone["verdict"]
        else:
            # no band and no worst channel: open is for the hot strength of the jacket alone
            assert row["verdict"] in ("open", "fail")
            assert "margin_hot_wall_temperature_worst_channel" not in row


def test_rows_that_are_not_solved_stay_and_the_exit_code_is_zero(regen, water):
    vary = ("--vary", "channels.count=36,400", "--vary", "coolant.inlet_pressure=2,20:bar")
    done = regen("sweep", water, "-o", "out", *vary, *FEW)
    assert done.exit_code == 0, done.stderr
    rows = table("out")
    assert len(rows) == 4
    solved = [row["status"] == "solved" for row in rows]
    assert solved == [False, True, False, False]
    for row, fine in zip(rows, solved, strict=True):
        assert (row["T_wall_hot_max_K"] != "") == fine
        assert (row["reason"] == "") == fine
        assert (row["verdict"] != "") == fine
    assert "land width <= 0" in rows[2]["reason"]
    assert "no such geometry 2" in done.stdout


def test_nothing_solved_is_written_too(regen, water):
    done = regen("sweep", water, "-o", "out", "--vary", "channels.count=400,500", *FEW)
    assert done.exit_code == 0, done.stderr
    assert "no row meets every limit" in done.stdout
    assert json.loads(Path("out/sweep.json").read_text())["files"] == {}


def test_a_table_of_designs_and_one_key(regen, water):
    Path("mine.csv").write_text("liner.wall [mm], channels.count [-]\n1.0,36\n0.9,40\n1.1,30\n")
    done = regen("sweep", water, "-o", "out", "--vary-from", "mine.csv", *FEW)
    assert done.exit_code == 0, done.stderr
    assert [row["channels.count"] for row in table("out")] == ["36", "40", "30"]
    done = regen("sweep", water, "-o", "one", "--vary", "channels.depth=80%:120%:3", *FEW)
    assert done.exit_code == 0, done.stderr
    assert Path("one/figures/sweep_curves.svg").exists()
    assert [row["channels.depth_m"] for row in table("one")] == ["0.0008", "0.001", "0.0012"]


def test_json_is_alone_on_standard_output_and_equals_the_file(regen, water):
    done = regen("sweep", water, "-o", "out", "--json", *SMALL, *FEW)
    assert json.loads(done.stdout) == json.loads(Path("out/sweep.json").read_text())


def test_the_same_to_the_byte_with_any_threads_and_parts(regen, water, monkeypatch):
    assert regen("sweep", water, "-o", "one", *SMALL, *FEW, "--threads", "1").exit_code == 0
    monkeypatch.setattr(plans, "LEAST_ROWS", dict.fromkeys(plans.LEAST_ROWS, 1))
    assert regen("sweep", water, "-o", "two", *SMALL, *FEW, "--threads", "3").exit_code == 0
    for path in Path("one").rglob("*"):
        if path.is_file() and path.name != "sweep.json":
            assert path.read_bytes() == (Path("two") / path.relative_to("one")).read_bytes(), path


KILLED = """
import sys
from regen.studies.sweep import plan
plan.LEAST_ROWS = dict.fromkeys(plan.LEAST_ROWS, {rows})
from regen_cli.app import app
app({arguments!r})
"""


def test_after_a_kill_the_same_command_goes_on(regen, water, monkeypatch):
    vary = ("--vary", "channels.count=20:59:40", "--vary", "liner.wall=0.8,0.9,1.0,1.1:mm")
    arguments = ["sweep", str(water), *vary, *FEW, "--threads", "1", "-o"]
    rows = 4
    program = KILLED.format(rows=rows, arguments=[*arguments, "out"])
    running = subprocess.Popen([sys.executable, "-c", program], stderr=subprocess.DEVNULL)
    journal = Path("out/parts/done.jsonl")
    patience = time.monotonic() + 120.0
    try:
        while not journal.exists() or len(journal.read_text().splitlines()) < 3:
            assert running.poll() is None, "it ended before it could be killed"
            assert time.monotonic() < patience
            time.sleep(0.001)
    finally:
        running.kill()
        running.wait()
    assert json.loads(Path("out/sweep.json").read_text())["state"] == "running"
    assert not Path("out/sweep.csv").exists()
    kept = len(journal.read_text().splitlines())
    monkeypatch.setattr(plans, "LEAST_ROWS", dict.fromkeys(plans.LEAST_ROWS, rows))
    solved = []
    real = studies.solve_part

    def counted(plan, n, **more):
        solved.append(n)
        return real(plan, n, **more)

    monkeypatch.setattr(studies, "solve_part", counted)
    again = regen(*arguments, "out")
    assert again.exit_code == 0, again.stderr
    assert "rows were finished before" in again.stderr
    # what was kept is not solved again; the kill may have cut the last line of the journal
    assert 40 - kept <= len(solved) <= 40 - kept + 1
    assert regen(*arguments, "whole").exit_code == 0
    for name in ("sweep.csv", "figures/sweep_map.svg", "figures/sweep_front.svg"):
        assert Path("out", name).read_bytes() == Path("whole", name).read_bytes()
    assert json.loads(Path("out/sweep.json").read_text()) == json.loads(
        Path("whole/sweep.json").read_text()
    )


def test_a_full_disk_in_mid_sweep(regen, water, monkeypatch):
    monkeypatch.setattr(plans, "LEAST_ROWS", dict.fromkeys(plans.LEAST_ROWS, 2))
    with monkeypatch.context() as patch:
        real, calls = output._flushed, []

        def full(file):
            calls.append(file)
            if len(calls) > 4:  # index, journal, and the first part with its line
                raise OSError(errno.ENOSPC, "No space left on device")
            real(file)

        patch.setattr(output, "_flushed", full)
        stopped = regen("sweep", water, "-o", "out", *SMALL, *FEW)
    assert stopped.exit_code == 2
    assert "No space left on device; 2 of 6 rows are finished and kept" in stopped.stderr
    assert "Traceback" not in stopped.output
    again = regen("sweep", water, "-o", "out", *SMALL, *FEW)
    assert again.exit_code == 0, again.stderr
    assert "2 of 6 rows were finished before" in again.stderr
    assert regen("sweep", water, "-o", "whole", *SMALL, *FEW).exit_code == 0
    assert Path("out/sweep.csv").read_bytes() == Path("whole/sweep.csv").read_bytes()


def test_stopped_from_the_keyboard(regen, water, monkeypatch):
    def stop(plan, n, **more):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(studies, "solve_part", stop)
        stopped = regen("sweep", water, "-o", "out", *SMALL, *FEW)
    assert stopped.exit_code == 130
    assert (
        "0 of 6 rows are finished and kept; the same sweep into the same folder goes on"
        in stopped.stderr
    )
    assert regen("sweep", water, "-o", "out", *SMALL, *FEW).exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), ("--vary and --vary-from are both missing",)),
        ((*SMALL, "--vary-from", "x.csv"), ("are both given",)),
        (("--vary-from", "x.csv"), ("--vary-from x.csv", "there is no file")),
        (("--vary", "channels.widht=1:2:3:mm"), ('did you mean "width"?',)),
        (("--vary", "liner.alloy=1:2:3"), ("holds no number",)),
        (("--vary", "channels.width=1:1:3:mm"), ("the step is zero",)),
        (("--vary", "channels.width=-1:1:3:mm"), ("must be above zero",)),
        (("--vary", "contour.thrust=4:5:3:kN"), ("each fixes the other",)),
        ((*SMALL, "--judge", "band"), ("--judge", "nominal")),
        ((*SMALL, "--format", "excel"), ("--format", "parquet")),
        ((*SMALL, "--threads", "0"), ("--threads",)),
        ((*SMALL, "--set", "channels.count=two"), ("channels.count",)),
    ],
)
def test_bad_input_is_exit_code_two_and_writes_nothing(regen, water, arguments, said):
    refused = regen("sweep", water, "-o", "out", *arguments)
    assert refused.exit_code == 2, refused.output
    assert "Traceback" not in refused.output
    for words in said:
        assert words in " ".join(refused.stderr.replace("│", " ").split())
    assert not Path("out").exists()


def test_the_folder_of_another_sweep_is_refused_and_left_alone(regen, water):
    assert regen("sweep", water, "-o", "out", *SMALL, *FEW).exit_code == 0
    before = Path("out/sweep.csv").read_bytes()
    more = ("--vary", "channels.count=30:42:4", *FEW)
    for change in (more, (*SMALL, *FEW, "--set", "coolant.mass_flow=0.5 kg/s")):
        refused = regen("sweep", water, "-o", "out", *change)
        assert refused.exit_code == 2
        assert "out holds another sweep" in refused.stderr
        assert "give another folder with -o" in refused.stderr
    assert Path("out/sweep.csv").read_bytes() == before


def test_a_folder_in_whose_way_a_file_is(regen, water):
    Path("out").write_text("mine")
    refused = regen("sweep", water, "-o", "out", *SMALL, *FEW)
    assert refused.exit_code == 2
    assert "out is a file" in refused.stderr
    assert Path("out").read_text() == "mine"


def test_help_names_what_there_is(regen):
    text = " ".join(regen("sweep", "--help").stdout.split())
    for words in ("--vary", "--vary-from", "--judge", "--threads", "--format", "goes on", "0 all"):
        assert words in text
