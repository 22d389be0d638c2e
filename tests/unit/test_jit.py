"""The compiled cache must never serve the physics of yesterday."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import regen

CODE = """
from regen.physics._dispatch import COOLANT_SIDE, coolant_side
print(coolant_side(COOLANT_SIDE["dittus_boelter"], 1e5, 1.0, *[1.0] * 17))
"""


def _value(root: Path, cache: Path) -> float:
    env = dict(os.environ, PYTHONPATH=str(root), REGEN_CACHE=str(cache))
    done = subprocess.run(
        [sys.executable, "-c", CODE], env=env, cwd=root, capture_output=True, text=True, check=True
    )
    return float(done.stdout)


@pytest.mark.full
def test_an_edit_in_another_file_reaches_the_cached_caller(tmp_path):
    source = Path(regen.__file__).parent
    shutil.copytree(source, tmp_path / "regen", ignore=shutil.ignore_patterns("__pycache__"))
    before = _value(tmp_path, tmp_path / "cache")
    again = _value(tmp_path, tmp_path / "cache")
    file = tmp_path / "regen" / "physics" / "coolside.py"
    edited = re.sub(
        r"return 0\.023 \* Re\*\*0\.8 \* Pr\*\*0\.4\n", "return 0.046 * Re**0.8\n", file.read_text()
    )
    assert edited != file.read_text()
    file.write_text(edited)
    after = _value(tmp_path, tmp_path / "cache")
    assert before == again
    assert after == 2.0 * before


def test_the_committed_dispatch_is_what_the_registry_generates():
    from regen.physics import generate

    assert generate.TARGET.read_text() == generate.text()
