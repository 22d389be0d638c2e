"""The disk cache: whole files or none, whatever happens to the folder or the process."""

from __future__ import annotations

import logging
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from regen.storage import cache

KEY = {"fluid": "invented", "nodes": [3, 4]}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("REGEN_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


class Builder:
    """Counts how often it is asked."""

    def __init__(self, value: float = 1.5) -> None:
        self.calls = 0
        self.value = value

    def __call__(self) -> cache.Arrays:
        self.calls += 1
        return {"nodes": np.full((2, 3), self.value), "scalar": np.asarray(self.value)}


def only_file(folder: Path) -> Path:
    (file,) = folder.iterdir()
    return file


def test_a_second_call_reads_what_the_first_one_built(folder):
    build = Builder()
    first = cache.cached("table", 1, KEY, build)
    second = cache.cached("table", 1, KEY, build)
    assert build.calls == 1
    assert set(second) == {"nodes", "scalar"}
    for name in first:
        np.testing.assert_array_equal(second[name], first[name])
        assert second[name].dtype == np.float64
    assert second["scalar"].ndim == 0


def test_the_folder_is_the_one_named_in_the_environment(folder):
    assert cache.cache_folder() == folder
    cache.cached("table", 1, KEY, Builder())
    assert only_file(folder).name.startswith("table-v1-")


def test_without_the_variable_the_platform_chooses_the_folder(monkeypatch):
    monkeypatch.delenv("REGEN_CACHE")
    assert cache.cache_folder().name == "regen"


@pytest.fixture(autouse=True)
def _variable(monkeypatch):
    monkeypatch.setenv("REGEN_CACHE", os.environ.get("REGEN_CACHE", ""))


def test_another_version_kind_or_key_is_another_file(folder):
    build = Builder()
    cache.cached("table", 1, KEY, build)
    cache.cached("table", 2, KEY, build)
    cache.cached("line", 1, KEY, build)
    cache.cached("table", 1, KEY | {"nodes": [3, 5]}, build)
    assert build.calls == 4
    assert len(list(folder.iterdir())) == 4


def test_the_order_of_a_keys_entries_does_not_matter(folder):
    build = Builder()
    cache.cached("table", 1, {"a": 1, "b": 2}, build)
    cache.cached("table", 1, {"b": 2, "a": 1}, build)
    assert build.calls == 1


def test_a_key_that_is_not_a_number_is_refused(folder):
    with pytest.raises(ValueError, match="not JSON compliant"):
        cache.cached("table", 1, {"p": float("nan")}, Builder())


@pytest.mark.parametrize("damage", ["empty", "text", "cut short", "one byte", "pickled"])
def test_a_damaged_file_is_rebuilt_and_said_so(folder, caplog, damage):
    cache.cached("table", 1, KEY, Builder())
    file = only_file(folder)
    whole = file.read_bytes()
    if damage == "empty":
        file.write_bytes(b"")
    elif damage == "text":
        file.write_text("not an archive")
    elif damage == "cut short":
        file.write_bytes(whole[: len(whole) // 2])
    elif damage == "one byte":
        at = whole.index(np.float64(1.5).tobytes())
        file.write_bytes(whole[:at] + b"\x01" + whole[at + 1 :])
    else:
        np.savez(file, nodes=np.array([{}], dtype=object))
    again = Builder(2.5)
    with caplog.at_level(logging.WARNING):
        found = cache.cached("table", 1, KEY, again)
    assert again.calls == 1
    assert found["scalar"] == 2.5
    assert "unreadable" in caplog.text
    assert file.name in caplog.text
    # and the rebuilt file is whole again
    assert cache.cached("table", 1, KEY, again)["scalar"] == 2.5
    assert again.calls == 1


def test_a_write_cut_off_leaves_neither_a_part_nor_a_temporary_file(folder, monkeypatch, caplog):
    def full_disk(file, **arrays):
        file.write(b"part of it")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(cache.np, "savez", full_disk)
    with caplog.at_level(logging.WARNING):
        found = cache.cached("table", 1, KEY, Builder())
    assert found["scalar"] == 1.5
    assert list(folder.iterdir()) == []
    assert "No space left" in caplog.text


def test_an_interrupt_while_writing_leaves_the_old_file(folder, monkeypatch):
    cache.cached("table", 1, KEY, Builder())
    file = only_file(folder)
    before = file.read_bytes()

    def interrupted(target, **arrays):
        target.write(b"part of it")
        raise KeyboardInterrupt

    monkeypatch.setattr(cache.np, "savez", interrupted)
    with pytest.raises(KeyboardInterrupt):
        cache._write(file, Builder(2.5)())
    assert only_file(folder).read_bytes() == before


def test_a_folder_that_cannot_be_made_costs_only_speed(tmp_path, monkeypatch, caplog):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("REGEN_CACHE", str(tmp_path / "file" / "cache"))
    build = Builder()
    with caplog.at_level(logging.WARNING):
        assert cache.cached("table", 1, KEY, build)["scalar"] == 1.5
        assert cache.cached("table", 1, KEY, build)["scalar"] == 1.5
    assert build.calls == 2
    assert "cannot write" in caplog.text


def test_a_builders_failure_is_not_hidden_and_stores_nothing(folder):
    def failing() -> cache.Arrays:
        message = "no such fluid"
        raise RuntimeError(message)

    with pytest.raises(RuntimeError, match="no such fluid"):
        cache.cached("table", 1, KEY, failing)
    assert not folder.exists() or list(folder.iterdir()) == []


PROCESS = """
import sys, time
import numpy as np
from regen.storage import cache as store

def build():
    time.sleep(0.3)  # long enough for both to be building
    return {"nodes": np.arange(200_000.0)}

found = store.cached("table", 1, {"shared": True}, build)["nodes"]
assert found.shape == (200_000,) and found[-1] == 199_999.0
"""


def test_two_processes_at_once_leave_one_whole_file(folder):
    both = [
        subprocess.Popen([sys.executable, "-c", PROCESS], stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    for process in both:
        _, error = process.communicate(timeout=60)
        assert process.returncode == 0, error
        assert error == ""
    with np.load(only_file(folder)) as stored:
        np.testing.assert_array_equal(stored["nodes"], np.arange(200_000.0))
