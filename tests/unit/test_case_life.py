"""[life] in a case: what it makes, and what is said of half a law."""

from __future__ import annotations

import pytest

from regen.case.read import load_case
from regen.design import Life
from regen.errors import CaseError
from tests.helpers.places import CASES

DEMO = CASES / "a-methane.toml"


def test_without_the_section_nothing_is_asked():
    design = load_case(DEMO).design
    assert design.life == Life()
    assert design.life.firings is None
    assert design.limits.life_factor == 4.0


def test_firings_their_duration_and_ductility():
    given = ["life.firings=50", "life.firing_duration=2 min", "life.ductility=0.6"]
    found = load_case(DEMO, [*given, "limits.life_factor=3"]).design
    assert (found.life.firings, found.life.firing_duration, found.life.ductility) == (50, 120, 0.6)
    assert found.limits.life_factor == 3.0


def test_half_a_law_is_refused():
    with pytest.raises(CaseError) as error:
        load_case(DEMO, ["life.fatigue_strength=400 MPa", "life.fatigue_ductility=0.4"])
    (problem,) = error.value.problems
    assert problem.key == "life.fatigue_strength"
    missing = "fatigue_strength_exponent, fatigue_ductility_exponent, fatigue_temperature"
    assert problem.what == f"it needs {missing} too"


@pytest.mark.parametrize(
    "given",
    ["life.firings=0", "life.firings=2.5", "life.firing_duration=60", "life.ductility=60"],
)
def test_values_that_make_no_sense(recorded, given):
    with pytest.raises(CaseError) as error:
        load_case(DEMO, [given])
    recorded(error.value.problems)
    (problem,) = error.value.problems
    assert problem.key == given.partition("=")[0]
