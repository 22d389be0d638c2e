"""docs/correlations.md says what the registry has."""

from __future__ import annotations

from regen.physics.registry import CORRELATIONS
from regen.solver import bands
from tests.docs import correlations_page


def test_the_page_is_not_stale():
    written = correlations_page.PAGE.read_text(encoding="utf-8")
    assert written == correlations_page.text(), "stale: run python -m tests.docs"


def test_the_page_has_every_correlation_and_every_member():
    written = correlations_page.PAGE.read_text(encoding="utf-8")
    for name in CORRELATIONS:
        assert f"\n| `{name}` |" in written
    for name in {name for rule in bands.RULES for name in rule.members}:
        assert written.count(f"`{name}`") >= 2
