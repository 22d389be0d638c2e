"""Kinds of field that vary along the axis: a constant, pairs, a column of a file; a contour."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from regen.case.fields import FieldKind, Number, Quantity, Reading, Refusals, shown
from regen.case.table import read_column
from regen.design import ContourProfile, Profile
from regen.units import KINDS, Refusal, show

POSITION = Quantity("length", "-5 m", "5 m")

FILE_FORM = {
    "type": "object",
    "properties": {"file": {"type": "string"}},
    "required": ["file"],
    "additionalProperties": False,
}


@dataclass(frozen=True)
class _Varying(FieldKind):
    """Base of the kinds along x: pairs and files of an entry that is checked by itself."""

    @property
    def entry(self) -> Quantity | Number:
        """Kind of one value."""
        raise NotImplementedError

    @property
    def kind(self) -> str | None:
        """Key of ``KINDS``, or None for a plain number."""
        raise NotImplementedError

    @property
    def examples(self) -> tuple[str, str]:
        """Two values as a case file has them."""
        raise NotImplementedError

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        name = KINDS[self.kind].phrase if self.kind else "a plain number"
        one, other = self.examples
        return (
            f"{name} from {self.entry.low} to {self.entry.high} such as {one}, or pairs [x, value] "
            f'such as [["-150 mm", {one}], ["0 mm", {other}]], or {{file = "table.csv"}}'
        )

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        one = dict(self.entry.form)
        items = {"type": "string"} if self.kind else {"type": ["string", "number"]}
        pair = {"type": "array", "items": items, "minItems": 2, "maxItems": 2}
        return {"anyOf": [one, {"type": "array", "items": pair, "minItems": 2}, FILE_FORM]}

    def check(self, given: object, key: str, reading: Reading) -> Profile:
        """Return the profile in SI."""
        if isinstance(given, list):
            return self._pairs(given, key, reading)
        if isinstance(given, dict):
            return self._file(given, key, reading)
        try:
            return Profile.constant(self.entry.check(given, key, reading))
        except Refusal as error:
            error.accepted = self.accepted
            raise

    def _pairs(self, given: list[object], key: str, reading: Reading) -> Profile:
        if len(given) < 2:
            what = f"{len(given)} pairs: at least two are needed"
            do = f"write a constant as one value, such as {self.examples[0]}"
            raise Refusal(what, self.accepted, do)
        points: list[list[float]] = []
        wrong: list[Refusal] = []
        for index, pair in enumerate(given, start=1):
            if not isinstance(pair, list) or len(pair) != 2:
                units = "both with units" if self.kind else "x with its unit"
                do = f'write each pair as ["x", value], {units}'
                what = "it is not a pair"
                wrong.append(Refusal(what, self.accepted, do, f"[pair {index}]", shown(pair)))
                continue
            points.append([])
            for one, kind, name in zip(pair, (POSITION, self.entry), ("x", "value"), strict=True):
                try:
                    points[-1].append(kind.check(one, key, reading))
                except Refusal as error:
                    error.where, error.given = f"[pair {index}, {name}]", shown(one)
                    wrong.append(error)
        if wrong:
            raise Refusals(wrong)
        for index, (before, after) in enumerate(zip(points, points[1:], strict=False), start=2):
            if after[0] <= before[0]:
                what = f"x must rise from pair to pair, and pair {index} does not"
                raise Refusal(what, self.accepted, "sort the pairs by x, injector side first")
        return Profile(tuple(x for x, _ in points), tuple(value for _, value in points))

    def _file(self, given: dict[str, object], key: str, reading: Reading) -> Profile:
        name = given.get("file")
        if set(given) != {"file"} or not isinstance(name, str):
            raise Refusal("the table must have the key file alone, a text", self.accepted)
        x, values = read_columns(name, key, reading, self.kind)
        for at, value in zip(x, values, strict=True):
            text: object = show(value, self.kind) if self.kind else value
            try:
                self.entry.check(text, key, reading)
            except Refusal as error:
                what = f"{name}: {text} at x = {at * 1e3:.6g} mm makes no sense here"
                accepted = f"values from {self.entry.low} to {self.entry.high}"
                raise Refusal(what, accepted, "check its units") from error
        return Profile(x, values)


@dataclass(frozen=True)
class Along(_Varying):
    """A value with unit that may vary along x; a length if nothing else is said."""

    low: str
    high: str
    of: str = "length"

    @property
    def kind(self) -> str:
        """Key of ``KINDS``."""
        return self.of

    @property
    def entry(self) -> Quantity:
        """Kind of one value."""
        return Quantity(self.of, self.low, self.high)

    @property
    def examples(self) -> tuple[str, str]:
        """Two values as a case file has them."""
        if self.of == "length":
            return '"0.8 mm"', '"0.7 mm"'
        one, other = KINDS[self.of].examples[:2]
        return f'"{one}"', f'"{other}"'


@dataclass(frozen=True)
class AlongNumber(_Varying):
    """A plain number that may vary along x."""

    low: float
    high: float

    @property
    def kind(self) -> None:
        """No kind: a plain number."""
        return None

    @property
    def entry(self) -> Number:
        """Kind of one value."""
        return Number(self.low, self.high)

    @property
    def examples(self) -> tuple[str, str]:
        """Two values as a case file has them."""
        return f"{0.5 * (self.low + min(self.high, 1.0)):.2g}", f"{min(self.high, 1.0):g}"


def read_columns(
    name: str, column: str, reading: Reading, kind: str | None = "length"
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return x and one column of a file beside the case, noting what was read.

    Parameters
    ----------
    name : str
        Path, absolute or from the folder of the case [-].
    column : str
        Name of the column [-].
    reading : Reading
        Takes the file's bytes and notes.
    kind : str or None
        Key of ``KINDS`` of the column; None for plain numbers [-].

    Returns
    -------
    tuple of tuple of float
        Rising positions [m] and values [SI].

    Raises
    ------
    Refusal
        If the file is not such a table.
    """
    if not name.strip() or not name.isprintable():
        raise Refusal("it is not the name of a file", "a path from the folder of the case file")
    read = read_column(reading.folder / name, column, kind)
    reading.files[name] = read.data
    reading.notes.extend(read.notes)
    return read.x, read.value


@dataclass(frozen=True)
class ContourFile(FieldKind):
    """A contour given by points in a file with the columns x and r, within two area ratios."""

    contraction: Number
    expansion: Number

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return 'a file of text with the columns x and r, such as "contour.csv"'

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        return {"type": "string", "minLength": 1}

    def check(self, given: object, key: str, reading: Reading) -> ContourProfile:
        """Return the points in SI."""
        if not isinstance(given, str):
            raise Refusal("it is not a text", self.accepted, "put the file's name in quotes")
        x, r = read_columns(given, "r", reading)
        if min(r) <= 0:
            raise Refusal(f"{given}: a radius is not positive", "radii above 0")
        if max(r) > 5 or max(map(abs, x)) > 20:
            raise Refusal(f"{given}: the contour is larger than 5 m in radius or 20 m in x")
        self._check_ratio(given, "first", r[0] / min(r), self.contraction)
        self._check_ratio(given, "last", r[-1] / min(r), self.expansion)
        return ContourProfile(x, r, given)

    def _check_ratio(self, file: str, which: str, ratio: float, bounds: Number) -> None:
        if not bounds.low <= ratio**2 <= bounds.high:
            what = f"{file}: the {which} area over the least one is {ratio**2:.5g}"
            do = "check radii and their unit; the first point is the injector, the last the exit"
            raise Refusal(what, bounds.accepted, do)
