"""A film on every example case and on the starter: a result, or words; never a bug."""

from __future__ import annotations

import json
import math
import warnings

import pytest

from tests.helpers.places import CASES

FEW = ("--set", "models.stations=21")
NAMES = sorted(path.stem for path in CASES.glob("*.toml"))
GAS = {"c": "500 K", "d": "320 K"}
"""Vapour of the fuel at chamber pressure; the cryogens' at 298 K without it."""


def values(kept: object) -> list[float]:
    if isinstance(kept, dict):
        return [v for item in kept.values() for v in values(item)]
    if isinstance(kept, list):
        return [v for item in kept for v in values(item)]
    return [kept] if isinstance(kept, float) else []


@pytest.mark.parametrize("fraction", [0.005, 0.08, 0.5])
@pytest.mark.parametrize("state", ["liquid", "gas"])
@pytest.mark.parametrize("name", [*NAMES, "starter"])
def test_any_film_solves_or_says_why(regen, tmp_path, name, state, fraction):
    case = CASES / f"{name}.toml"
    if name == "starter":
        case = tmp_path / "starter.toml"
        assert regen("new", str(case)).exit_code == 0
    sets = [f'film.mass_flow="{fraction} fuel"', f'film.state="{state}"']
    if state == "gas" and name[0] in GAS:
        sets.append(f'film.temperature="{GAS[name[0]]}"')
    elif state == "liquid" and name == "c-ethanol-film":
        sets.append('film.temperature="293 K"')
    out, given = tmp_path / "out", [word for text in sets for word in ("--set", text)]
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)  # a division by no heat
        done = regen("solve", str(case), "-o", str(out), *FEW, *given)
    assert done.exit_code in (0, 3, 4), done.output
    if done.exit_code == 4:
        assert "What to do:" in done.output
        return
    kept = json.loads((out / "result.json").read_text())
    assert all(math.isfinite(value) for value in values(kept))
    assert any(note["code"] == "film" for note in kept["notes"])


@pytest.mark.parametrize(
    ("name", "sets"),
    [
        ("a-methane", ['film.mass_flow="0.08 fuel"']),
        # wet to the end, the coolant hotter than the film: no heat anywhere
        ("c-ethanol-bare", ['film.mass_flow="fuel"', 'coolant.inlet_temperature="445 K"']),
    ],
)
def test_a_review_draws_a_film_colder_than_the_coolant(regen, tmp_path, name, sets):
    out, given = tmp_path / "out", [word for text in sets for word in ("--set", text)]
    done = regen("review", str(CASES / f"{name}.toml"), "-o", str(out), *FEW, *given)
    assert done.exit_code == 0, done.output
    kept = json.loads((out / "result.json").read_text())
    assert any(note["code"] == "no-heat" for note in kept["notes"])
    assert "nan" not in done.output.lower()
    assert (out / "report.html").exists()
