"""The command line as a process of its own: exit codes, streams that fail, interruption."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.helpers.places import WATER

FEW = ("--set", "models.stations=21")


def run(*arguments: str, cwd: Path, **options):
    options = {"stdout": subprocess.PIPE, **options}
    # a buffered stream, as users have it: it may fail as late as when the interpreter ends
    environment = {**os.environ, "PYTHONUNBUFFERED": "", **options.pop("env", {})}
    return subprocess.run(
        [sys.executable, "-m", "regen_cli", *arguments],
        cwd=cwd,
        env=environment,
        stderr=subprocess.PIPE,
        timeout=300,
        check=False,
        **options,
    )


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("solve", WATER, *FEW), 0, b""),
        (("solve", WATER, "--set", "liner.wall=0.7"), 2, b"liner.wall = 0.7"),
        (("solve", WATER, "--sett", "liner.wall=0.7"), 2, b"--sett"),
        (("solve",), 2, b"CASE"),
        (("sovle", WATER), 2, b"Did you mean 'solve'"),
        (("solve", WATER, "--set", 'limits.T_wall_hot="350 K"', *FEW), 3, b""),
        (("solve", WATER, "--set", 'coolant.mass_flow="0.1 kg/s"', *FEW), 4, b"not solved"),
    ],
    ids=["pass", "bad case", "unknown option", "no case", "unknown command", "fail", "boils"],
)
def test_exit_code_of_the_process(tmp_path, arguments, code, said):
    done = run(*arguments, cwd=tmp_path)
    assert done.returncode == code, done.stderr.decode()
    assert said in done.stderr
    assert b"Traceback" not in done.stderr


def test_a_terminal_that_knows_no_such_letter_shows_its_code(tmp_path):
    title = 'title="Pr\u00fcfstand [/]"'
    done = run(
        "solve", WATER, "--set", title, *FEW, cwd=tmp_path, env={"PYTHONIOENCODING": "ascii"}
    )
    assert done.returncode == 0, done.stderr.decode()
    assert done.stdout.startswith(b"Pr\\xfcfstand [/]: ")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full here")
@pytest.mark.parametrize("arguments", [("schema",), ("new", "chamber.toml")], ids=["long", "short"])
def test_a_full_disk_behind_standard_output_is_told(tmp_path, arguments):
    with open("/dev/full", "wb") as full:
        done = run(*arguments, cwd=tmp_path, stdout=full)
    assert done.returncode == 2
    assert b"No space left" in done.stderr
    assert b"make room" in done.stderr
    assert b"Exception ignored" not in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="pipes of another kind")
@pytest.mark.parametrize(
    "arguments",
    [("schema",), ("new", "chamber.toml"), ("solve", WATER, *FEW)],
    ids=["long", "short", "summary"],
)
def test_a_reader_that_goes_away_is_no_error_of_ours(tmp_path, arguments):
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = run(*arguments, cwd=tmp_path, stdout=writing)
    finally:
        os.close(writing)
    assert done.returncode == 141
    assert b"Exception ignored" not in done.stderr
    assert b"bug" not in done.stderr


def test_an_unusable_cache_costs_time_only(tmp_path):
    (tmp_path / "file").write_text("")
    done = run("list", "propellants", cwd=tmp_path, env={"REGEN_CACHE": str(tmp_path / "file")})
    assert done.returncode == 0
    assert b"going on without" in done.stderr
