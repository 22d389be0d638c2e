"""Use, rework, sleeve, scrap: the rule, limit by limit."""

import math

import pytest

from regen.studies.as_built.slot_verdict import Margins, SlotVerdict, after_recut, judge_slot

NONE = math.nan
KEPT = Margins(0.1, 0.05)
MARGINAL = Margins(0.1, -0.1)
"""A design whose worst channel breaks the limit."""


@pytest.mark.parametrize(
    ("slot", "design", "word"),
    [
        (Margins(0.1, 0.05), KEPT, "use"),
        (Margins(0.0, 0.0), KEPT, "use"),
        (Margins(0.1, -0.01), KEPT, "sleeve"),  # the worst channel keeps it, this slot does not
        (Margins(0.1, -0.09), MARGINAL, "use"),  # no worse than what was accepted
        (Margins(0.1, -0.11), MARGINAL, "sleeve"),
        (Margins(-0.01, -0.05), MARGINAL, "scrap"),
        (Margins(NONE, NONE), KEPT, "unknown"),
        (Margins(0.1, NONE), KEPT, "unknown"),
        (Margins(0.1, NONE), Margins(0.1, NONE), "use"),  # nobody knows it under the streak
        (Margins(0.1, -0.2), Margins(0.1, NONE), "use"),  # nor is there what to hold it against
        (Margins(0.1, 0.1), Margins(-0.1, -0.2), "unknown"),  # the design breaks it
        (Margins(0.1, 0.1), Margins(NONE, NONE), "unknown"),
    ],
)
def test_one_limit(slot, design, word):
    verdict = judge_slot({"wall": slot}, {"wall": design})
    assert verdict.word == word
    assert verdict.limits == (() if word == "use" else ("wall",))


def test_a_broken_limit_outweighs_one_that_is_not_known():
    slot = {"wall": Margins(-0.1, -0.2), "stress": Margins(NONE, NONE)}
    assert judge_slot(slot, {"wall": KEPT, "stress": KEPT}).word == "scrap"


def test_a_limit_the_design_does_not_know_is_not_taken_as_kept():
    assert judge_slot({"wall": KEPT}, {}).word == "unknown"


@pytest.mark.parametrize("word", ["sleeve", "scrap", "unknown"])
def test_what_a_cut_cures_is_rework(word):
    doubtful = SlotVerdict(word, "why", ("wall",))
    assert after_recut(doubtful, SlotVerdict("use", "")).word == "rework"
    assert after_recut(doubtful, SlotVerdict("sleeve", "")) is doubtful
    good = SlotVerdict("use", "")
    assert after_recut(good, good) is good
