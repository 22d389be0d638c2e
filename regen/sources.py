"""Published sources: every number of the physics and the data names one of these keys."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"

MARKS = {
    "seen": "",
    "second-hand": "quoted second-hand",
    "memory-high": "from memory, high confidence",
    "memory-medium": "from memory, medium confidence",
    "memory-low": "from memory, low confidence",
    "computed": "computed",
    "common-practice": "common practice",
}
"""Words for each mark, as a reader of a report should see it."""


GIVEN = "given by the user: "
"""Begins the key of a source that stands, as free text, in a user's own alloy."""


class UnknownSource(KeyError):
    """A key that data/sources.toml does not have."""

    def __str__(self) -> str:
        """Return the message as it is, without a KeyError's quotes."""
        return str(self.args[0])


@cache
def read_data(file: str) -> Mapping[str, Any]:
    """Return the content of a TOML file of the data; its texts have {places}."""
    return tomllib.loads((DATA / file).read_text(encoding="utf-8"))


@dataclass(frozen=True, slots=True)
class Source:
    """One entry: what it is, where in it to look, and how it was seen."""

    key: str
    title: str
    where: str
    mark: str
    author: str = ""
    year: int | None = None


@cache
def sources() -> dict[str, Source]:
    """Return every source by key.

    Returns
    -------
    dict of str to Source
        In the order of data/sources.toml.

    Raises
    ------
    ValueError
        If an entry has a mark that is none of ``MARKS``.
    """
    entries = {key: Source(key, **entry) for key, entry in read_data("sources.toml").items()}
    for source in entries.values():
        if source.mark not in MARKS:
            message = f"source {source.key}: no mark {source.mark!r}; known: {', '.join(MARKS)}"
            raise ValueError(message)
    return entries


def find(key: str) -> Source:
    """Return the source of a key.

    Parameters
    ----------
    key : str
        Key in data/sources.toml, or the text of a user's own source after ``GIVEN``.

    Returns
    -------
    Source
        Its entry; a user's own text as it is.

    Raises
    ------
    UnknownSource
        If there is no such key; the message names the nearest one.
    """
    if key.startswith(GIVEN):
        return Source(key, key.removeprefix(GIVEN), "given by the user with the alloy", "seen")
    known = sources()
    if key not in known:
        near = difflib.get_close_matches(key, known, n=1)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        message = f'no source "{key}" in data/sources.toml{hint}'
        raise UnknownSource(message)
    return known[key]


def cite(source: Source) -> str:
    """Return the reference of a source in one line.

    Parameters
    ----------
    source : Source
        Entry of data/sources.toml.

    Returns
    -------
    str
        Author (year), title and where, and the mark unless the source itself was seen.
    """
    year = f"({source.year})" if source.year else ""
    who = " ".join(part for part in (source.author, year) if part)
    parts = [who, f"“{source.title}”", source.where]
    mark = MARKS[source.mark]
    return ", ".join(part for part in parts if part) + (f" [{mark}]" if mark else "") + "."
