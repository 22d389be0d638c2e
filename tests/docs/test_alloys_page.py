"""docs/alloys.md says what the data of the alloys have."""

from __future__ import annotations

from regen.metals.alloys import alloys
from tests.docs import alloys_page


def test_the_page_is_not_stale():
    written = alloys_page.PAGE.read_text(encoding="utf-8")
    assert written == alloys_page.text(), "stale: run python -m tests.docs"


def test_the_page_has_every_condition_and_every_value_that_is_not_used():
    written = alloys_page.PAGE.read_text(encoding="utf-8")
    for name, alloy in alloys().items():
        section = written.partition(f"\n## {name}\n")[2].partition("\n## ")[0]
        for condition in alloy.conditions:
            assert f"\n| `{condition}` | " in section
        for other in alloy.compared:
            assert f", {other.T:.0f} K: {other.value:.5g}" in section
