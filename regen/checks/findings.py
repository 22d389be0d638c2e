"""Findings and notes: numbers and texts that the checks report beside the margins."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from regen.result import Array, Finding, Mask, Note
from regen.sources import read_data


def text(name: str, /, **places: object) -> str:
    """Return a text of data/notes.toml with its places filled in."""
    whole: str = read_data("notes.toml")[name].format(**places)
    return whole


def note(name: str, x_m: float | None = None, /, **places: object) -> Note:
    """Return a note of data/notes.toml at x [m]; its code stands before a colon in its name.

    The text has its place as ``x`` [mm].
    """
    at = {} if x_m is None else {"x": 1e3 * x_m}
    return Note(name.partition(":")[0], text(name, **at, **places), x_m)


@dataclass(frozen=True, slots=True)
class Table:
    """One table of the report; what its findings are stands in data/findings.toml."""

    name: str

    def finding(
        self,
        name: str,
        value: float = math.nan,
        x_m: float | None = None,
        note: str = "",
        source: str = "",
        more: str = "",
        **words: object,
    ) -> Finding:
        """Return one finding, its value [SI] none where NaN; ``words`` go into its texts.

        ``note`` and ``source`` are given where they are not those of the data; ``more`` is said
        beside the note.
        """
        text, unit, usual, *basis = read_data("findings.toml")[self.name][name]
        note = joined(note or "".join(basis).format(**words), more, by=". ")
        text, known = text.format(**words), None if math.isnan(value) else value
        return Finding(self.name, name, text, known, unit, source or usual, x_m, note)

    def greatest(
        self,
        name: str,
        values: Array,
        x: Array,
        more: str = "",
        among: Mask | None = None,
    ) -> Finding:
        """Return the finding of the greatest known value (S,) along x (S,) [m]."""
        top = peak(values, x, among)
        return self.finding(name, top.value, top.x, more=more)


@dataclass(frozen=True, slots=True, eq=False)
class Assessed:
    """Findings, and columns (S,) by name, SI; no columns where nothing could be assessed."""

    findings: tuple[Finding, ...]
    columns: Mapping[str, Array]


class Peak(NamedTuple):
    """Greatest known value of a column, where it is [m], and its row; NaN and None if unknown."""

    value: float = math.nan
    x: float | None = None
    row: int | None = None

    def of(self, column: Array) -> float:
        """Return another column (S,) there, NaN where there is no such place [its unit]."""
        return math.nan if self.row is None else float(column[self.row])


def peak(values: Array, x: Array, among: Mask | None = None) -> Peak:
    """Return the greatest known of some values (S,) along x (S,) [m]."""
    known = np.isfinite(values) if among is None else np.isfinite(values) & among
    if not known.any():
        return Peak()
    row = int(np.argmax(np.where(known, values, -np.inf)))
    return Peak(float(values[row]), float(x[row]), row)


def joined(*notes: str, by: str = "; ") -> str:
    """Return the notes that are not empty, as one."""
    return by.join(note for note in notes if note)
