"""The number of slots in a case file: one for all, or pairs of a position and a number."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from regen.case.fields import FieldKind, Number, Reading, Refusals, shown
from regen.case.fields_along import POSITION
from regen.units import Refusal

NEAREST = 1e-3
"""Least distance between two changes of the count [m]: a plenum takes room."""


@dataclass(frozen=True, slots=True)
class SlotCounts:
    """Number of slots [-] from the injector side on, and (x [m], number from there on)."""

    count: int
    changes: tuple[tuple[float, int], ...] = ()

    @property
    def each(self) -> tuple[int, ...]:
        """Every number of slots [-]."""
        return (self.count, *(count for _, count in self.changes))


@dataclass(frozen=True)
class CountAlong(FieldKind):
    """A number of slots, or pairs [x, number], each number holding from its x on."""

    bounds: Number

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return (
            f"{self.bounds.accepted} such as 80, or pairs [x, number] such as "
            '[["-150 mm", 80], ["-20 mm", 40]], each number from its x on'
        )

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        pair = {
            "type": "array",
            "prefixItems": [{"type": "string"}, self.bounds.form],
            "minItems": 2,
            "maxItems": 2,
        }
        return {"anyOf": [self.bounds.form, {"type": "array", "items": pair, "minItems": 2}]}

    def check(self, given: object, key: str, reading: Reading) -> SlotCounts:
        """Return the numbers."""
        if isinstance(given, list):
            return self._pairs(given, key, reading)
        return SlotCounts(int(self.bounds.check(given, key, reading)))

    def _pairs(self, given: list[object], key: str, reading: Reading) -> SlotCounts:
        if len(given) < 2:
            what = f"{len(given)} pairs: at least two are needed"
            raise Refusal(what, self.accepted, "write one number for all as 80")
        places: list[float] = []
        counts: list[int] = []
        wrong: list[Refusal] = []
        for index, pair in enumerate(given, start=1):
            if not isinstance(pair, list) or len(pair) != 2:
                what, do = "it is not a pair", 'write each pair as ["x", number]'
                wrong.append(Refusal(what, self.accepted, do, f"[pair {index}]", shown(pair)))
                continue
            try:
                places.append(POSITION.check(pair[0], key, reading))
                counts.append(int(self.bounds.check(pair[1], key, reading)))
            except Refusal as error:
                error.where, error.given = f"[pair {index}]", shown(pair)
                wrong.append(error)
        if wrong:
            raise Refusals(wrong)
        for index in range(1, len(places)):
            if places[index] - places[index - 1] < NEAREST:
                what = f"x must rise by at least 1 mm from pair to pair, and pair {index + 1} does"
                do = "sort the pairs by x, injector side first"
                raise Refusal(f"{what} not", self.accepted, do)
            if counts[index] == counts[index - 1]:
                what = f"the number does not change at pair {index + 1}"
                raise Refusal(what, self.accepted, "remove that pair")
        return SlotCounts(counts[0], tuple(zip(places[1:], counts[1:], strict=True)))
