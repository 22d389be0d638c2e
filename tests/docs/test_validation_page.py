"""docs/validation.md says what the published checks find; ``python -m tests.published`` writes it.

Words must be the same; a number may differ by half a per cent or one unit of its last printed
digit, since libraries and machines differ there. Figures are looked for, not compared.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO

import matplotlib as mpl
import pytest

from regen import sources
from regen.output import labels
from tests.published import gather, page, plots

NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
NEAR = 0.005


def unit(text: str) -> float:
    """One unit of the last digit printed."""
    digits, _, exponent = text.partition("e")
    _, _, decimals = digits.partition(".")
    return 10.0 ** (int(exponent or 0) - len(decimals))


def same(old: str, new: str) -> bool:
    a, b = float(old), float(new)
    return abs(a - b) <= 1.001 * max(unit(old), unit(new)) + NEAR * abs(b)


def differences(old: str, new: str) -> Iterator[str]:
    """Lines that differ in words, or in numbers by more than is allowed."""
    before, after = old.splitlines(), new.splitlines()
    if len(before) != len(after):
        yield f"{len(before)} lines, to be {len(after)}"
    for was, now in zip(before, after, strict=False):
        words = NUMBER.split(was) == NUMBER.split(now)
        pairs = zip(NUMBER.findall(was), NUMBER.findall(now), strict=False)
        if not words or not all(same(*pair) for pair in pairs):
            yield f"- {was}\n+ {now}"


@pytest.fixture(scope="module")
def written() -> str:
    return page.PAGE.read_text(encoding="utf-8")


def test_the_page_is_what_the_checks_find(written):
    found = list(differences(written, page.text()))
    assert not found, "stale: run python -m tests.published\n" + "\n".join(found[:10])


def test_a_changed_number_or_word_makes_it_stale(written):
    assert not list(differences("| 1.8e6 | +0.63 % |", "| 1.801e6 | +0.64 % |"))
    assert list(differences("| 1.8e6 |", "| 2.0e6 |"))
    assert list(differences("miss +0.63 %", "miss -0.63 %"))
    assert list(differences("allowed", "asked"))
    assert list(differences(written, written + "\nmore"))


@pytest.mark.parametrize("name", page.SECTIONS)
def test_every_line_of_the_page_holds(name):
    records = gather.records(page.SECTIONS[name].collect)
    assert records
    assert not [str(record) for record in records if not record.passes]
    for record in records:
        assert record.mark in sources.MARKS
        assert record.reason
        sources.find(record.source)


def test_the_page_says_first_what_was_compared_and_what_never(written):
    assert f"This program has been {labels.COMPARED}" in " ".join(written[:400].split())
    assert "**out**" not in written


def test_the_readme_says_it_in_the_same_words():
    readme = (page.DOCS.parent / "README.md").read_text(encoding="utf-8")
    assert labels.COMPARED in " ".join(readme.split()).replace("Compared", "compared")


def test_every_figure_is_shown_and_there(written):
    named = set(re.findall(r"\(figures/(\w+)\.svg\)", written))
    assert named == {s.figure for s in page.SECTIONS.values() if s.figure} == set(plots.FIGURES)
    for name in named:
        assert (page.FIGURES / f"{name}.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_a_figure_drawn_twice_is_the_same_file(tmp_path):
    twice = []
    for _ in range(2):
        with mpl.rc_context(plots.RC), BytesIO() as file:
            plots.FIGURES["copper"]().savefig(file, format="svg", metadata={"Date": None})
            twice.append(file.getvalue())
    assert twice[0] == twice[1]
    assert b"<dc:date>" not in twice[0]


def test_the_page_stays_short(written):
    # about 600 words of a table fill a printed page, and the ten figures five; walls came last
    assert len(written.split()) < 12600


def test_every_gap_says_why_and_what_is_done_meanwhile():
    assert len(page.GAPS) > 10
    for gap in page.GAPS:
        assert set(gap) == {"what", "why", "meanwhile"}
        assert all(gap.values())
