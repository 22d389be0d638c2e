"""The finite elements of the wall against numbers that others have printed or computed."""

from __future__ import annotations

import numpy as np
import pytest

from regen.checks.coolant import CoolantFacts, Saturation, State
from regen.checks.limits import judge as judge_limit
from regen.checks.runs import Run, Solved
from regen.checks.section import Film, Layer, Section, conduct, constant, solve_section
from regen.checks.thermal_limits import against_working_limit, hot_wall_rule
from regen.design import Chamber, Channels, ContourShape, Coolant, Design, Liner, Profile
from regen.design import Propellants as Pair
from regen.metals.alloys import find
from tests.published.ledger import Check, judge

KELVIN = 273.15


def stainless_chamber() -> Solved:
    """A chamber of 3 mm stainless steel, as far as a margin needs to know it."""
    design = Design(
        title="Linnet plane wall",
        propellants=Pair("oxygen", "methane", 3.0),
        chamber=Chamber(30e5),
        contour=ContourShape(6.0, 5.0, throat_diameter=0.038, barrel_length=0.1),
        liner=Liner("316L", "annealed-minimum", Profile.constant(3e-3)),
        channels=Channels(80, Profile.constant(1e-3), Profile.constant(2e-3), 3e-6),
        coolant=Coolant("water", 290.0),
    )
    facts = CoolantFacts(
        fluid="water",
        p_critical=221e5,
        T_max=1000.0,
        saturation=lambda p: Saturation(450.0, 7e5, 2e6, 900.0, 5.0, 0.04),
        state=lambda T, p: State(4e3 * T, 900.0),
    )
    run = Run({"x_m": np.zeros(1)}, {})
    return Solved(design, find("316L", "annealed-minimum"), facts, run)


def test_absurd_stainless_wall_is_computed_and_flagged():
    """Source wall_exercise (seen): 3 mm, k 26, 2e7 W/m2, coolant side 135 degC, gas 4500 degC.

    The answer, 135 + 2308 = 2443 degC, is above the melting point of any steel; +-0.1 %, for the
    exercise rounds to a degree.
    """
    from skfem import MeshQuad

    t, k, q, cold = 3e-3, 26.0, 2e7, 135.0 + KELVIN
    gas_T = 4500.0 + KELVIN
    mesh = MeshQuad.init_tensor(np.linspace(0.0, 1e-3, 3), np.linspace(0.0, t, 5))
    gas = Film(constant(q / (gas_T - (2443.0 + KELVIN))), gas_T)
    coolant = Film(constant(q / (cold - 300.0)), 300.0)
    done = conduct(
        mesh,
        [(np.arange(mesh.nelements), constant(k))],
        [
            (mesh.facets_satisfying(lambda x: x[1] < 1e-12), gas),
            (mesh.facets_satisfying(lambda x: x[1] > t - 1e-12), coolant),
        ],
        cold,
    )
    hot = done.corners.max()
    assert hot - KELVIN == pytest.approx(2443.0, rel=1e-3)
    assert done.corners.min() - KELVIN == pytest.approx(135.0, rel=1e-3)
    chamber = stainless_chamber()
    rule = hot_wall_rule(
        chamber, "hot", "hot wall", lambda run: against_working_limit(chamber, np.array([hot]))
    )
    margin = judge_limit(rule.limit, chamber, rule.compare)
    assert margin.verdict == "fail"
    assert margin.nominal < -1.0  # over twice the limit


# Case of the 66 mm hydrogen-cooled copper cylinder. Geometry memory-high; boundary conditions
# memory-low: a check of one solver against another, not of a chamber. The temperatures are those
# of another plane-conduction solution with the same numbers, mark computed.
CYLINDER = Section(
    w=1.702e-3,
    t=2.957e-3 - 1.702e-3,
    d=1.270e-3,
    t_wall=0.889e-3,
    taper=0.0,  # plane
    liner=constant(345.0),
    closeout=(Layer(0.508e-3, constant(345.0)), Layer(5.08e-3, constant(75.0))),
    gas=Film(constant(20.2e3), 3364.0),
    coolant=Film(constant(101.9e3), 50.0),
)
ANOTHER_SOLVER = 0.03
"""On temperature above the coolant's: mesh and rounding of the other solution are not known."""


def cylinder_checks():
    found = solve_section(CYLINDER)
    x, y = found.field.points.T
    T = found.field.T

    def at(px: float, py: float) -> float:
        return float(T[np.argmin(np.hypot(x - px, y - py))])

    hot = T[y == y.min()]
    outside = T[y == y.max()]
    expected = {
        "hot wall, highest": (found.hot_max, 597.0),
        "hot wall, lowest": (hot.min(), 583.0),
        "middle of the rib": (at(0.5 * 2.957e-3, 0.5 * 1.270e-3), 327.0),
        "outer skin": (outside.mean(), 230.0),
    }
    why = "mesh and rounding of the other solution are not known"
    for name, (ours, theirs) in expected.items():
        yield Check(
            "copper_cylinder", "copper cylinder, plane finite elements: rise above 50 K",
            name, theirs - 50.0, float(ours) - 50.0, ANOTHER_SOLVER, why, "K",
        )  # fmt: skip
    series = "copper cylinder, plane finite elements: "
    yield Check(
        "copper_cylinder", f"{series}mean flux", "hot wall", 56e6, found.q, ANOTHER_SOLVER, why,
        "W/m2",
    )  # fmt: skip
    yield Check(
        "copper_cylinder", f"{series}spread along the hot wall", "hot wall", 597.0 - 583.0,
        float(np.ptp(hot)), 1.0, "each is rounded to 1 K", "K", absolute=True,
    )  # fmt: skip


def test_copper_cylinder_against_another_solver():
    judge(cylinder_checks())
