"""Finding and citing a source."""

from __future__ import annotations

import pytest

from regen import sources
from regen.sources import Source, UnknownSource, cite, find

WHOLE = Source("k", "On walls", "J. Walls 3, 5-9", "seen", "A. Mason", 1957)


def test_a_source_is_found_by_its_key():
    assert find("bartz1957").year == 1957


def test_an_unknown_key_names_the_nearest_one():
    with pytest.raises(UnknownSource) as caught:
        find("bartz1975")
    said = str(caught.value)
    assert said == 'no source "bartz1975" in data/sources.toml; did you mean "bartz1957"?'
    assert isinstance(caught.value, KeyError)


def test_a_key_like_no_other_has_no_suggestion():
    with pytest.raises(UnknownSource, match=r'no source "zzzz" in data/sources.toml$'):
        find("zzzz")


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        (WHOLE, "A. Mason (1957), “On walls”, J. Walls 3, 5-9."),
        (Source("k", "On walls", "a shelf", "seen"), "“On walls”, a shelf."),
        (
            Source("k", "On walls", "a shelf", "memory-low", year=1960),
            "(1960), “On walls”, a shelf [from memory, low confidence].",
        ),
    ],
)
def test_a_reference_is_one_line_with_its_mark(source, expected):
    assert cite(source) == expected


def test_every_mark_but_seen_is_shown():
    for mark, words in sources.MARKS.items():
        text = cite(Source("k", "T", "w", mark))
        assert words in text
        assert ("[" in text) is (mark != "seen")


def test_a_mark_outside_the_vocabulary_is_refused(tmp_path, monkeypatch):
    file = tmp_path / "sources.toml"
    file.write_text('[a]\ntitle = "T"\nwhere = "w"\nmark = "heard"\n')
    monkeypatch.setattr(sources, "DATA", tmp_path)
    sources.read_data.cache_clear()
    sources.sources.cache_clear()
    try:
        with pytest.raises(ValueError, match=r"source a: no mark 'heard'; known: seen, "):
            sources.sources()
    finally:
        sources.sources.cache_clear()
        sources.read_data.cache_clear()
