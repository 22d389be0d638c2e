"""The wall check of a review: which stations, what section, and what is said of a difference."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks import review as judge
from regen.checks import wall_check
from regen.checks.wall_check import AGREEMENT, section_at, with_wall_check
from regen.errors import RangeError
from regen.result import SectionCheck
from regen.solver.solve import solve
from tests.helpers.places import CASES

FEW = ("models.stations=21",)

WIDE_LANDS = 0.06
"""Of wall less coolant: 95 of 100 random sections with wide lands keep 0.05 (published tests), and
the demo's outlet under 6 mm of nickel, with a narrow slot between wide lands, is at 0.053."""


BOILING_K = 15.0
"""Where it boils, the closed form has one coefficient on the land's sides: water and alcohols boil
off tens of MW/m2 within 15 K, and the wall cannot be further off than that."""


@pytest.fixture(scope="module", params=["a-methane", "c-ethanol-bare"])
def solved(request):
    """A case that does not boil and one that does: result without the check, and solution."""
    design = load_case(CASES / f"{request.param}.toml", FEW).design
    return judge.review(design), solve(design)


def test_hottest_throat_barrel_and_outlet_are_checked_and_agree(solved):
    result, solution = solved
    assert result.section_checks == ()
    found = with_wall_check(result, solution)
    s, checks = result.stations, found.section_checks
    # both cases: counterflow, so the coolant leaves at the injector face; one throat; a cylinder
    # as wide as the injector's end
    barrel = s["r_m"] > 0.9999 * s["r_m"][0]
    wanted = {
        "hottest": s["x_m"][np.argmax(s["T_wall_hot_K"])],
        "throat": 0.0,
        "barrel": s["x_m"][barrel][np.argmax(s["T_wall_hot_K"][barrel])],
        "coolant outlet": s["x_m"][0],
    }
    named = {name: check.x_m for check in checks for name in check.place.split(", ")}
    assert named == wanted
    assert len({check.x_m for check in checks}) == len(checks) == len(set(wanted.values()))
    assert checks[0].T_wall_hot_K == s["T_wall_hot_K"].max()
    for check in checks:
        # they share films: beyond what is known of wide lands, one of them is wrong
        least = BOILING_K / (check.T_wall_hot_fe_K - check.T_coolant_K) if check.boiling else 0.0
        assert abs(check.T_difference) < max(WIDE_LANDS, least)
        assert abs(check.q_difference) < AGREEMENT
        assert check.T_error_K < 0.001 * (check.T_wall_hot_fe_K - check.T_coolant_K)
    assert found.notes[:-1] == result.notes
    agree = all(abs(check.T_difference) < AGREEMENT for check in found.section_checks)
    assert ("within" in found.notes[-1].text) == agree
    assert "scikit-fem" in found.provenance["packages"]
    assert "scikit-fem" not in result.provenance["packages"]
    assert found.section_field.T.max() == pytest.approx(found.section_checks[0].T_wall_hot_fe_K)


@pytest.mark.parametrize(
    "error",
    [np.linalg.LinAlgError("singular"), RangeError("too hot"), ZeroDivisionError(), KeyError("h")],
)
def test_a_station_that_fails_is_a_note_and_the_others_are_checked(solved, monkeypatch, error):
    result, solution = solved
    whole = with_wall_check(result, solution).section_checks
    real = wall_check.fe.solve_section
    first = whole[0].x_m
    hottest = int(np.argmax(result.stations["T_wall_hot_K"]))

    def failing(cut, *more):
        if cut.gas.h(np.zeros(1))[0] == result.stations["h_gas_W_m2K"][hottest]:
            raise error
        return real(cut, *more)

    monkeypatch.setattr(wall_check.fe, "solve_section", failing)
    found = with_wall_check(result, solution)
    assert [one.x_m for one in found.section_checks] == [one.x_m for one in whole[1:]]
    said = found.notes[-1]
    assert (said.code, said.x_m) == ("wall check", first)
    reason = str(error) or "ZeroDivisionError"
    assert said.text == f"not checked at x = {first * 1e3:.0f} mm ({whole[0].place}): {reason}"
    assert found.section_field.T.max() == pytest.approx(found.section_checks[0].T_wall_hot_fe_K)


def test_where_no_station_can_be_checked_the_result_stays(solved, monkeypatch):
    result, solution = solved

    def singular(*_):
        raise RuntimeError("singular")

    monkeypatch.setattr(wall_check.fe, "solve_section", singular)
    found = with_wall_check(result, solution)
    assert (found.section_checks, found.section_field) == ((), None)
    assert found.verdict == result.verdict
    more = found.notes[len(result.notes) :]
    assert more
    assert all("singular" in note.text for note in more)


def test_a_deep_slot_that_boils_nearly_alone_is_checked():
    # what flow carries is lost in the rounding of what boiling does, and came out below zero
    sets = (*FEW, 'channels.depth="10 mm"')
    design = load_case(CASES / "c-ethanol-bare.toml", sets).design
    found = judge.review(design, check_wall=True)
    assert found.section_checks
    assert all(check.boiling for check in found.section_checks)
    assert "not checked" not in found.notes[-1].text


def test_the_section_is_that_of_the_station(solved):
    result, solution = solved
    at = int(np.argmax(result.stations["T_wall_hot_K"]))
    cut = section_at(result, solution, at)
    passage, design = solution.prepared.passage, solution.prepared.design
    assert (cut.w, cut.d, cut.t_wall) == (
        passage.width[at],
        passage.depth[at],
        passage.wall[at],
    )
    # the land's half-width grows by pi/N per radius, and the section is normal to the contour
    steep = int(np.argmax(np.abs(passage.slope_angle)))
    cosine = np.cos(passage.slope_angle[steep])
    assert cosine < 0.95
    expected = np.pi / passage.count[steep] * cosine
    assert section_at(result, solution, steep).taper == pytest.approx(expected, rel=1e-12)
    layers = [layer.thickness for layer in cut.closeout]
    assert layers == [design.closeout.copper, design.closeout.jacket]
    boils = any(check.boiling for check in with_wall_check(result, solution).section_checks)
    T = np.array([cut.coolant.T + 1.0, result.stations["T_wall_cold_K"][at]])
    cold, root = cut.coolant.h(T)
    assert root == pytest.approx(result.stations["h_coolant_W_m2K"][at], rel=1e-9)
    assert (cold < 0.5 * root) == boils


def test_a_layer_that_is_not_there_is_left_out(solved):
    result, solution = solved
    closeout = replace(solution.prepared.design.closeout, copper=0.0)
    bare = replace(solution.prepared.design, closeout=closeout)
    changed = replace(solution, prepared=replace(solution.prepared, designs=(bare,)))
    assert len(section_at(result, changed, 0).closeout) == 1


def check(**more) -> SectionCheck:
    given = {
        "x_m": -0.005,
        "T_coolant_K": 250.0,
        "T_wall_hot_K": 755.0,
        "T_wall_hot_fe_K": 750.0,
        "T_error_K": 0.05,
        "q_W_m2": 30.3e6,
        "q_fe_W_m2": 30e6,
        "boiling": False,
    }
    return SectionCheck(**(given | more))


def test_differences_are_closed_form_less_finite_elements():
    found = check()
    assert found.T_difference_K == 5.0
    assert found.T_difference == pytest.approx(0.01)
    assert found.q_difference == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("T", "said"),
    [
        (764.0, "within 2.8%"),
        (766.0, "16 K hotter than finite elements"),
        (734.0, "16 K colder than finite elements"),
    ],
)
def test_a_difference_beyond_what_is_stated_is_said(T, said):
    note = wall_check._note((check(), check(T_wall_hot_K=T)))
    assert said in note.text
    assert ("more than the 3%" in note.text) == (abs(T - 750.0) > 15.0)


def test_a_wall_that_takes_no_heat_is_not_checked(solved):
    result, solution = solved
    cold = dict(result.stations) | {"q_W_m2": np.zeros_like(result.stations["q_W_m2"])}
    assert with_wall_check(replace(result, stations=cold), solution).section_checks == ()
