"""What the published tests compare: one record a number, for the tests and for the page.

A test module yields records from its tables; its tests judge them, and ``python -m
tests.published`` writes the same records into docs/validation.md, so no number is kept twice.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from regen import sources

# Two copies of one closed form differ by rounding; without this a tolerance of 0 could not be met.
ROUNDING = 1e-15


@dataclass(frozen=True, slots=True)
class Check:
    """One number of a source beside ours.

    ``tolerance`` is relative to theirs, or in the unit if ``absolute``. Records of one ``series``
    share a line of the page; ``point`` tells them apart. ``mark`` is that of the number where it
    is not the source's own.
    """

    source: str
    series: str
    point: str
    theirs: float
    ours: float
    tolerance: float
    reason: str
    unit: str = ""
    absolute: bool = False
    own_mark: str = ""

    @property
    def mark(self) -> str:
        return self.own_mark or sources.find(self.source).mark

    @property
    def miss(self) -> float:
        """Ours less theirs: a share of theirs, or in the unit if absolute."""
        difference = float(self.ours) - float(self.theirs)
        return difference if self.absolute else difference / abs(self.theirs)

    @property
    def passes(self) -> bool:
        return abs(self.miss) <= self.tolerance + ROUNDING

    def __str__(self) -> str:
        kind = "abs" if self.absolute else "rel"
        return (
            f"{self.series}, {self.point}: {self.source} has {self.theirs:.6g} {self.unit}, ours "
            f"is {self.ours:.6g}; missed by {self.miss:+.3g}, allowed {self.tolerance:g} ({kind})"
        )


@dataclass(frozen=True, slots=True)
class Window:
    """One of our numbers between two bounds from outside."""

    source: str
    series: str
    point: str
    low: float
    high: float
    ours: float
    reason: str
    unit: str = ""
    own_mark: str = ""

    @property
    def mark(self) -> str:
        return self.own_mark or sources.find(self.source).mark

    @property
    def passes(self) -> bool:
        return bool(self.low <= self.ours <= self.high)

    def __str__(self) -> str:
        return (
            f"{self.series}, {self.point}: ours is {self.ours:.6g} {self.unit}, and {self.source} "
            f"asks for {self.low:g} to {self.high:g}"
        )


Record = Check | Window


def judge(records: Iterable[Record]) -> None:
    """Fail with every record that is out of its tolerance; an empty list fails too."""
    found = list(records)
    assert found, "nothing was compared"
    out = [str(record) for record in found if not record.passes]
    assert not out, "\n".join(out)
