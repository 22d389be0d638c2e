"""One atomic writer: every file whole, result.json last with the hashes of its siblings."""

from __future__ import annotations

import csv
import dataclasses
import hashlib
import io
import json
import os
from pathlib import Path

import numpy as np
import pytest

from regen.output import files
from regen.result import STATION_COLUMNS

SIBLINGS = {"report.html": b"<p>", "figures/one.svg": b"<svg/>"}


def test_result_json_holds_the_hashes_of_its_siblings(drawn_result, tmp_path):
    written = files.write(drawn_result, tmp_path / "new" / "folder", SIBLINGS)
    folder = tmp_path / "new" / "folder"
    assert written[-1] == folder / "result.json"
    found = json.loads(written[-1].read_text())["files"]
    assert set(found) == {"stations.csv", *SIBLINGS}
    for name, expected in found.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == expected


def test_stations_come_back_as_they_were(drawn_result):
    rows = list(csv.DictReader(io.StringIO(files.stations_text(drawn_result))))
    assert list(rows[0]) == list(STATION_COLUMNS)
    assert [float(row["x_m"]) for row in rows] == pytest.approx(drawn_result.stations["x_m"])


def test_checked_columns_have_a_table_with_empty_cells_where_nothing_is_known(
    drawn_result, tmp_path
):
    x = drawn_result.stations["x_m"]
    known = np.where(x < 0.0, np.nan, 2.5e6)
    checked = dataclasses.replace(drawn_result, checked={"x_m": x, "ligament_stress_Pa": known})
    written = files.write(checked, tmp_path)
    assert tmp_path / "strength.csv" in written
    rows = list(csv.DictReader(io.StringIO((tmp_path / "strength.csv").read_text())))
    assert [float(row["x_m"]) for row in rows] == pytest.approx(x)
    assert {row["ligament_stress_Pa"] for row in rows if float(row["x_m"]) < 0.0} == {""}
    assert {row["ligament_stress_Pa"] for row in rows if float(row["x_m"]) >= 0.0} == {"2500000"}


def test_result_json_is_moved_last(drawn_result, tmp_path, monkeypatch):
    moved = []
    replace = Path.replace
    monkeypatch.setattr(
        Path, "replace", lambda self, target: (moved.append(target.name), replace(self, target))
    )
    files.write(drawn_result, tmp_path, SIBLINGS)
    assert len(moved) == 4
    assert moved[-1] == "result.json"


def test_a_run_that_dies_while_writing_leaves_the_old_set(drawn_result, tmp_path, monkeypatch):
    files.write(drawn_result, tmp_path, SIBLINGS)
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    write_bytes = Path.write_bytes

    def full_disk(self, content):
        if "result.json" in self.name:
            raise OSError(28, "No space left on device")
        return write_bytes(self, content)

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(files.OutputError, match=r"No space left on device; give another folder"):
        files.write(drawn_result, tmp_path, {**SIBLINGS, "report.html": b"<p>new"})
    after = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    assert after == before


def test_a_folder_that_is_a_file_says_what_to_do(drawn_result, tmp_path):
    taken = tmp_path / "taken"
    taken.write_text("mine")
    with pytest.raises(files.OutputError, match=r"cannot write .*taken: .*give another folder"):
        files.write(drawn_result, taken)
    assert taken.read_text() == "mine"


def test_files_are_as_readable_as_the_folder_owner_allows(drawn_result, tmp_path):
    mask = os.umask(0o022)
    try:
        written = files.write(drawn_result, tmp_path)
    finally:
        os.umask(mask)
    assert {path.stat().st_mode & 0o777 for path in written} == {0o644}


def test_an_old_report_does_not_stay_beside_a_new_result(drawn_result, tmp_path):
    files.write(drawn_result, tmp_path, {"report.html": b"old", "kept.txt": b"k"})
    (tmp_path / "kept.txt").write_bytes(b"changed by hand")
    (tmp_path / "own.txt").write_bytes(b"never ours")
    files.write(drawn_result, tmp_path)
    left = sorted(path.name for path in tmp_path.iterdir() if path.is_file())
    assert left == ["kept.txt", "own.txt", "result.json", "stations.csv"]
