"""One atomic writer: every file whole, the index last, a lost figure costs itself alone."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import pytest
from matplotlib.figure import Figure

from regen.output.folder import Folder, OutputError, check_writable
from regen.output.page import Picture
from regen.output.table import Table

FILES = {"report.html": "<p>", "figures/one.svg": b"<svg/>"}


def folder(path: Path, files=FILES) -> Folder:
    made = Folder(path, "index.json")
    for name, content in files.items():
        made.add(name, content)
    return made


def test_the_index_is_last_and_holds_the_hashes_of_its_siblings(tmp_path, monkeypatch):
    moved = []
    replace = Path.replace
    monkeypatch.setattr(
        Path, "replace", lambda self, target: (moved.append(target.name), replace(self, target))
    )
    path = tmp_path / "new" / "folder"
    made = folder(path)
    made.add("t.csv", Table.of_rows([{"a": 1.5}]))
    written = made.write({"title": "t"})
    assert written == [path / name for name in (*FILES, "t.csv", "index.json")]
    assert moved[-1] == "index.json"
    index = json.loads(written[-1].read_text())
    assert list(index) == ["title", "files"]
    assert set(index["files"]) == {*FILES, "t.csv"}
    for name, expected in index["files"].items():
        assert hashlib.sha256((path / name).read_bytes()).hexdigest() == expected
    assert (path / "t.csv").read_text() == "a\n1.5\n"


def test_a_run_that_dies_while_writing_leaves_the_old_set(tmp_path, monkeypatch):
    folder(tmp_path).write({})
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    write_bytes = Path.write_bytes

    def full_disk(self, content):
        if "index.json" in self.name:
            raise OSError(28, "No space left on device")
        return write_bytes(self, content)

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(OutputError, match=r"No space left on device; give another folder"):
        folder(tmp_path, {**FILES, "report.html": "<p>new"}).write({})
    after = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    assert after == before


def test_a_folder_that_is_a_file_says_what_to_do(tmp_path):
    taken = tmp_path / "taken"
    taken.write_text("mine")
    with pytest.raises(OutputError, match=r"cannot write .*taken: .*give another folder"):
        folder(taken).write({})
    with pytest.raises(OutputError, match=r"taken is a file; give another folder with -o"):
        check_writable(taken / "below")
    assert taken.read_text() == "mine"
    check_writable(tmp_path / "not" / "yet")


def test_files_are_as_readable_as_the_folder_owner_allows(tmp_path):
    mask = os.umask(0o022)
    try:
        written = folder(tmp_path).write({})
    finally:
        os.umask(mask)
    assert {path.stat().st_mode & 0o777 for path in written} == {0o644}


def test_an_old_report_does_not_stay_beside_a_new_result(tmp_path):
    folder(tmp_path, {"report.html": b"old", "kept.txt": b"k"}).write({})
    (tmp_path / "kept.txt").write_bytes(b"changed by hand")
    (tmp_path / "own.txt").write_bytes(b"never ours")
    folder(tmp_path, {"t.csv": "a\n"}).write({})
    left = sorted(path.name for path in tmp_path.iterdir() if path.is_file())
    assert left == ["index.json", "kept.txt", "own.txt", "t.csv"]


def broken() -> Figure:
    message = "attempt to get argmax of an empty sequence"
    raise ValueError(message)


def test_a_figure_that_fails_costs_itself_alone_and_is_named(tmp_path, capsys):
    def on_saving() -> Figure:
        figure = Figure()
        figure.savefig = lambda *_, **__: broken()
        return figure

    def silent() -> Figure:
        raise ZeroDivisionError

    made = Folder(tmp_path, "index.json")
    parts = [made.draw(f"figures/{f.__name__}.svg", f) for f in (broken, on_saving, silent)]
    picture = made.draw("figures/good.svg", Figure, "a caption")
    assert isinstance(picture, Picture)
    assert (picture.name, picture.caption) == ("good", "a caption")
    assert list(made.files) == ["figures/good.svg"]
    assert made.files["figures/good.svg"].startswith(b"<?xml")
    assert [part.removeprefix("Figure ").split(" ")[0] for part in parts] == [
        *("broken", "on_saving", "silent")
    ]
    assert "(ValueError: attempt to get argmax" in made.not_drawn[0]
    assert "(ZeroDivisionError);" in made.not_drawn[2]
    assert capsys.readouterr().err.splitlines() == made.not_drawn
    index = json.loads(made.write({})[-1].read_text())
    assert index["figures_not_drawn"] == made.not_drawn
    assert list(index["files"]) == ["figures/good.svg"]


def test_a_user_who_stops_a_figure_stops_everything(tmp_path):
    def stopped() -> Figure:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        Folder(tmp_path, "index.json").draw("a.svg", stopped)
