"""docs/trends.md: what does not depend on a machine's last digits is what the code says."""

from __future__ import annotations

import re

import pytest

from tests.helpers.places import CASES
from tests.property.trends import box, page
from tests.property.trends.causes import CAUSES, UNEXPLAINED

TESTS = CASES.parent / "tests"


@pytest.fixture(scope="module")
def written() -> str:
    return page.PAGE.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "words",
    [
        page.box_words,
        page.trend_words,
        page.cause_words,
        page.elsewhere_words,
        page.fingerprint,
    ],
)
def test_the_page_is_not_stale(written, words):
    assert words() in written, "stale: run python -m tests.property.trends"


def test_a_change_of_the_box_makes_it_stale(written, monkeypatch):
    monkeypatch.setattr(box, "SEED", box.SEED + 1)
    assert page.fingerprint() not in written


def test_every_violation_has_a_cause(written):
    listed = written.split("## Violations")[1]
    rows = re.findall(r"^\| ([a-z\- ]+) \| \d+ \| .+? \| .+? \| ([a-z ]+) \|", listed, re.M)
    assert rows
    known = {look.name for look in page.LOOKS}
    for trend, cause in rows:
        assert trend in known
        assert cause in CAUSES
        assert cause != UNEXPLAINED
    assert f"| {UNEXPLAINED} |" not in written


def test_the_page_says_how_many_were_drawn(written):
    drawn, solved = map(int, re.search(r"(\d+) draws gave (\d+) designs", written).groups())
    draws = written.split("## The draws")[1].split("## The trends")[0]
    replaced = sum(map(int, re.findall(r"\| (\d+) \|$", draws, re.M)))
    assert solved == box.WANTED
    assert drawn == solved + replaced


def test_what_is_held_elsewhere_exists():
    for path, _ in page.ELSEWHERE:
        assert (TESTS / path).is_file()
