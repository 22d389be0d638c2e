"""Runs the command line in this process, as a user would in a shell."""

from __future__ import annotations

from pathlib import Path

import pytest
from regen_cli.app import app
from typer.testing import CliRunner

from tests.helpers.places import CASES


@pytest.fixture
def regen(tmp_path, monkeypatch):
    """Return a function (arguments) -> result with exit_code, stdout, stderr; works in tmp_path."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str | Path):
        return CliRunner().invoke(app, [str(one) for one in arguments])

    return run


@pytest.fixture
def water() -> Path:
    """Return a case of one circuit that the tests may change and break."""
    return Path(__file__).parents[1] / "helpers" / "water.toml"


@pytest.fixture
def calorimeter() -> Path:
    return CASES / "d-water-calorimeter.toml"


@pytest.fixture
def methane() -> Path:
    return CASES / "a-methane.toml"


@pytest.fixture
def hydrogen() -> Path:
    return CASES / "b-hydrogen.toml"
