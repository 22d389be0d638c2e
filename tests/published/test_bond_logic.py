"""Where a bonded joint of copper to steel breaks, against joints that were pulled."""

import pytest

from regen.studies.alternatives.processes import breaks_in, processes

MEASURED = 360e6
"""Cu-Cr-Zr to 316L, 950 degC and 105 MPa: 360 MPa, broken in the copper (Pianese et al. 2020)."""

UTS = 440e6
"""Least tensile strength of Cu-Cr-Zr bar R440 before bonding, by its product standard [Pa]."""

SCATTER = 0.10
"""Joints of one kind and strengths of one condition scatter by about this."""


def factor(name):
    (fact,) = [fact for fact in processes()["HIP-bonded"].facts if fact.name == name]
    return fact.value


def test_the_copper_breaks_before_the_bond_that_was_pulled():
    """Zhang and Shirzadi 2021: 48 % of its strength as bonded, 77 % when treated again."""
    assert factor("as_bonded") == pytest.approx(0.48, rel=SCATTER)
    assert factor("restored") == pytest.approx(0.77, rel=SCATTER)
    assert breaks_in(factor("as_bonded") * UTS, MEASURED) == "copper"
    assert breaks_in(factor("restored") * UTS, MEASURED) == "copper"
    # as the bar came it would have been the bond
    assert breaks_in(UTS, MEASURED) == "bond"


def test_restored_copper_breaks_where_joints_of_its_kind_did():
    """Wu et al. 2024, at least 343 MPa; Pianese et al. 2020, 360 MPa; both in the copper."""
    joint = min(factor("restored") * UTS, MEASURED)
    assert 343e6 * (1.0 - SCATTER) <= joint <= MEASURED
