"""Kinds of value in pairs: along the axis, by temperature, a column of a file; a contour."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from regen.case.kinds import TEXT_FORM, Reading, shown
from regen.case.table import read_column
from regen.design import (
    AREA_RATIO,
    CONTRACTION_RATIO,
    POSITION,
    Allowables,
    ContourProfile,
    Profile,
)
from regen.units import KINDS, Number, Quantity, Refusal, Wrong, accepting, refusal, show

NEAREST = 1e-3
"""Least distance between two changes of the number of slots [m]: a plenum takes room."""

FILE_FORM = {
    "type": "object",
    "properties": {"file": {"type": "string"}},
    "required": ["file"],
    "additionalProperties": False,
}

Bounds = Quantity | Number


def _pairs(
    given: list[object], kinds: tuple[Bounds, Bounds], names: tuple[str, str], accepted: str
) -> list[tuple[float, float]]:
    """Return checked pairs in SI; the first of each must rise from pair to pair."""
    pairs: list[tuple[float, float]] = []
    wrong = Wrong()
    for n, pair in enumerate(given, start=1):
        if not isinstance(pair, list) or len(pair) != 2:
            units = [" with its unit" if isinstance(kind, Quantity) else "" for kind in kinds]
            do = f"write each pair as [{names[0]}{units[0]}, {names[1]}{units[1]}]"
            wrong.append(Refusal("not a pair", accepted, do, f"[pair {n}]", shown(pair)))
            continue
        values = [0.0, 0.0]
        for i in (0, 1):
            with wrong.gather(f"[pair {n}, {names[i]}]", shown(pair[i])):
                values[i] = kinds[i].check(pair[i])
        pairs.append((values[0], values[1]))
    wrong.refuse()
    for n, ((before, _), (after, _)) in enumerate(pairwise(pairs), start=2):
        if after <= before:
            raise refusal("pairs do not rise", name=names[0], n=n, accepted=accepted)
    return pairs


def _pair_form(first: Mapping[str, Any], both: bool) -> dict[str, Any]:
    items = {"items": dict(first)} if both else {"prefixItems": [{"type": "string"}, dict(first)]}
    return {"type": "array", **items, "minItems": 2, "maxItems": 2}


@dataclass(frozen=True)
class Along:
    """A value that may vary along x: a constant, pairs, or a column of a file."""

    bounds: Bounds

    @property
    def kind(self) -> str | None:
        """Key of ``KINDS``, None for a plain number."""
        return self.bounds.kind if isinstance(self.bounds, Quantity) else None

    @property
    def examples(self) -> tuple[str, str]:
        """Two values as a case file has them."""
        if isinstance(self.bounds, Number):
            high = min(self.bounds.high, 1.0)
            return f"{0.5 * (self.bounds.low + high):.2g}", f"{high:g}"
        if self.kind == "length":
            return '"0.8 mm"', '"0.7 mm"'
        one, other = KINDS[self.bounds.kind].examples[:2]
        return f'"{one}"', f'"{other}"'

    @property
    def accepted(self) -> str:
        """What may be written."""
        name = KINDS[self.kind].phrase if self.kind else "a plain number"
        one, other = self.examples
        low, high = self.bounds.low, self.bounds.high
        return (
            f"{name} from {low} to {high} such as {one}, or pairs [x, value] "
            f'such as [["-150 mm", {one}], ["0 mm", {other}]], or {{file = "table.csv"}}'
        )

    @property
    def form(self) -> Mapping[str, Any]:
        """JSON schema of the value."""
        item = {"type": "string"} if self.kind else {"type": ["string", "number"]}
        pairs = {"type": "array", "items": _pair_form(item, both=True), "minItems": 2}
        return {"anyOf": [self.bounds.form, pairs, FILE_FORM]}

    def check(self, given: object, reading: Reading) -> Profile:
        """Return the profile in SI."""
        if isinstance(given, dict):
            return self._file(given, reading)
        if isinstance(given, list):
            if len(given) < 2:
                raise refusal("one pair", accepted=self.accepted, example=self.examples[0])
            pairs = _pairs(given, (POSITION, self.bounds), ("x", "value"), self.accepted)
            return Profile(tuple(x for x, _ in pairs), tuple(value for _, value in pairs))
        with accepting(self.accepted):
            return Profile.constant(self.bounds.check(given))

    def _file(self, given: dict[str, object], reading: Reading) -> Profile:
        name = given.get("file")
        if set(given) != {"file"} or not isinstance(name, str):
            raise Refusal("a table must have the key file alone, a text", self.accepted)
        x, values = _columns(name, reading.key, reading, self.kind)
        for at, value in zip(x, values, strict=True):
            text: object = show(value, self.kind) if self.kind else value
            try:
                self.bounds.check(text)
            except Refusal as error:
                places = {"file": name, "value": text, "mm": at * 1e3, "bounds": self.bounds}
                raise refusal("out of range along x", **places) from error
        return Profile(x, values)


@dataclass(frozen=True, slots=True)
class SlotCounts:
    """Number of slots [-] from the injector side on, and (x [m], number from there on)."""

    count: int
    changes: tuple[tuple[float, int], ...] = ()


@dataclass(frozen=True)
class CountAlong:
    """A number of slots, or pairs [x, number], each number holding from its x on."""

    bounds: Number

    @property
    def accepted(self) -> str:
        """What may be written."""
        return (
            f"{self.bounds.accepted} such as 80, or pairs [x, number] such as "
            '[["-150 mm", 80], ["-20 mm", 40]], each number from its x on'
        )

    @property
    def form(self) -> Mapping[str, Any]:
        """JSON schema of the value."""
        pair = _pair_form(self.bounds.form, both=False)
        return {"anyOf": [self.bounds.form, {"type": "array", "items": pair, "minItems": 2}]}

    def check(self, given: object, reading: Reading) -> SlotCounts:
        """Return the numbers."""
        if not isinstance(given, list):
            return SlotCounts(int(self.bounds.check(given)))
        if len(given) < 2:
            raise refusal("one pair of numbers", accepted=self.accepted)
        pairs = _pairs(given, (POSITION, self.bounds), ("x", "number"), self.accepted)
        for n, (before, after) in enumerate(pairwise(pairs), start=2):
            if after[0] - before[0] < NEAREST:
                raise refusal("changes too near", n=n, accepted=self.accepted)
            if after[1] == before[1]:
                raise refusal("no change", n=n, accepted=self.accepted)
        return SlotCounts(int(pairs[0][1]), tuple((x, int(count)) for x, count in pairs[1:]))


class Strengths:
    """Strengths at temperatures: pairs, each with both units."""

    kinds = (Quantity("temperature", "4 K", "2000 K"), Quantity("stress", "0.1 MPa", "5000 MPa"))
    accepted = (
        'pairs [temperature, stress] such as [["20 degC", "90 MPa"], ["500 degC", "60 MPa"]], '
        f"temperatures rising, {kinds[0].low} to {kinds[0].high}, stresses {kinds[1].low} "
        f"to {kinds[1].high}"
    )
    form: Mapping[str, Any] = {
        "type": "array",
        "items": _pair_form({"type": "string"}, both=True),
        "minItems": 1,
    }

    def check(self, given: object, reading: Reading) -> Allowables:
        """Return the pairs in SI."""
        if isinstance(given, str | int | float) and not isinstance(given, bool):
            raise refusal("strength of no temperature", accepted=self.accepted)
        if not isinstance(given, list) or not given:
            raise Refusal("not a list of pairs", self.accepted)
        pairs = _pairs(given, self.kinds, ("temperature", "stress"), self.accepted)
        return Allowables(tuple(T for T, _ in pairs), tuple(value for _, value in pairs))


class ContourFile:
    """A contour given by points in a file with the columns x and r, within two area ratios."""

    accepted = 'a file of text with the columns x and r, such as "contour.csv"'
    form = TEXT_FORM

    def check(self, given: object, reading: Reading) -> ContourProfile:
        """Return the points in SI."""
        if not isinstance(given, str):
            raise Refusal("not a text", self.accepted, "put the file's name in quotes")
        x, r = _columns(given, "r", reading, "length")
        if min(r) <= 0:
            raise Refusal(f"{given}: radius <= 0", "radii above 0")
        if max(r) > 5 or max(map(abs, x)) > 20:
            raise Refusal(f"{given}: the contour is larger than 5 m in radius or 20 m in x")
        for which, end, bounds in (("first", r[0], CONTRACTION_RATIO), ("last", r[-1], AREA_RATIO)):
            ratio = (end / min(r)) ** 2
            if not bounds.low <= ratio <= bounds.high:
                accepted = bounds.accepted
                raise refusal(
                    "end of a contour", file=given, end=which, ratio=ratio, accepted=accepted
                )
        return ContourProfile(x, r, given)


def _columns(
    name: str, column: str, reading: Reading, kind: str | None
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return x [m] and one column [SI] of a file beside the case, noting what was read."""
    path = reading.path(name, "a path from the folder of the case file")
    read = read_column(path, column, kind)
    reading.take(name, read.lines)
    return read.values["x"], read.values[column]
