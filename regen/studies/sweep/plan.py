"""What a sweep varies: a grid over ranges and lists of keys, or the rows of a table.

A plan gives any of its rows by number without holding the others: a grid of 1e9 rows is a few
numbers.
"""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from regen.case.read import Case
from regen.design import Design
from regen.errors import CaseError, Problem
from regen.studies.batch.designs import Array, DesignBatch
from regen.studies.batch.gas_axes import Span, spans_of
from regen.studies.batch.parameters import Parameter, numeric_key, own_value, read
from regen.units import NUMBER, Refusal

MOST_ROWS = 1_000_000_000
MOST_CHECKED = 20
"""Values of a list that are each checked with the whole case; of a longer one, the ends."""

SAME = 1e-9
"""Relative distance below which a value is the case's own [-]."""

DIGITS = 12
"""Values are rounded to so many digits, so that 0.7 mm is 0.0007 m however it was counted up to."""

SYNTAX = (
    "KEY=START:STOP:N:UNIT such as channels.width=0.6:1.0:5:mm, without UNIT for plain numbers "
    "(channels.count=60:100:5) and per cent of the case's own (channels.depth=80%:120%:5); or a "
    "list, KEY=VALUE,VALUE,...:UNIT such as liner.wall=0.6,0.7,0.9:mm"
)

_NUMBER = re.compile(NUMBER)


@dataclass(frozen=True, slots=True)
class Axis:
    """Values of one key, SI or factors: ``listed``, or ``count`` in even steps between the ends.

    ``own`` is the case's own value, None if it has none: a step that meets it is that very value.
    """

    key: Parameter
    start: float
    stop: float
    count: int
    listed: tuple[float, ...] = ()
    own: float | None = None

    def at(self, index: Any) -> Array:
        """Return values.

        Parameters
        ----------
        index : array_like of int
            Their numbers, from 0 [-].

        Returns
        -------
        ndarray
            In SI, or factors, to ``DIGITS`` digits.
        """
        number = np.asarray(index)
        if self.listed:
            values: Array = np.array(self.listed)[number]
            return values
        share = number / (self.count - 1)
        values = _rounded(self.start * (1.0 - share) + self.stop * share)
        if self.own:
            values[np.abs(values / self.own - 1.0) < SAME] = self.own
        return values

    @property
    def span(self) -> Span:
        """Its ends, and how many values it has."""
        values = self.at(range(self.count)) if self.listed else self.at([0, self.count - 1])
        count = len(set(self.listed)) or self.count
        return Span(float(values.min()), float(values.max()), count)

    @property
    def described(self) -> dict[str, Any]:
        """The axis as plain values."""
        form = {"key": self.key.path, "column": self.key.column, "unit_shown": self.key.unit}
        if self.listed:
            return {**form, "values": list(self.listed)}
        return {**form, "start": self.start, "stop": self.stop, "count": self.count}


@dataclass(frozen=True)
class Plan:
    """Rows of a sweep: every combination of ``axes``, the last varying fastest, or a table.

    Parameters
    ----------
    keys : tuple of Parameter
        What varies, K keys.
    axes : tuple of Axis
        One for each key; none where ``table`` gives the rows.
    table : ndarray, optional
        Values (L, K), SI or factors.
    whole : mapping, optional
        Spans of the sweep that a table is a part of.
    """

    keys: tuple[Parameter, ...]
    axes: tuple[Axis, ...] = ()
    table: Array | None = None
    whole: Mapping[str, Span] | None = None

    def __len__(self) -> int:
        return math.prod(self.shape)

    @property
    def shape(self) -> tuple[int, ...]:
        """Numbers of values of each axis [-]; of a table, its rows."""
        if self.table is not None:
            return (int(self.table.shape[0]),)
        return tuple(axis.count for axis in self.axes)

    @cached_property
    def spans(self) -> Mapping[str, Span]:
        """Ends of each key over the whole sweep: gas tables are laid over them."""
        if self.whole is not None:
            return self.whole
        if self.table is not None:
            return spans_of(self.keys, self.table)
        return {axis.key.name: axis.span for axis in self.axes}

    def values(self, start: int, stop: int) -> Array:
        """Return the values of rows.

        Parameters
        ----------
        start, stop : int
            First row, and the one after the last [-].

        Returns
        -------
        ndarray
            (stop - start, K), SI or factors.
        """
        if self.table is not None:
            return self.table[start:stop]
        places = np.unravel_index(np.arange(start, stop), self.shape)
        columns = [axis.at(place) for axis, place in zip(self.axes, places, strict=True)]
        return np.stack(columns, axis=1)

    def batch(self, design: Design, start: int, stop: int) -> DesignBatch:
        """Return rows as designs to be solved.

        Parameters
        ----------
        design : Design
            What the keys vary.
        start, stop : int
            First row, and the one after the last [-].

        Returns
        -------
        DesignBatch
            Of stop - start designs.
        """
        return DesignBatch(design, self.keys, self.values(start, stop), spans=self.spans)

    @property
    def described(self) -> dict[str, Any]:
        """The plan as plain values; of a table, the SHA-256 of its values."""
        if self.table is None:
            return {"rows": len(self), "grid": [axis.described for axis in self.axes]}
        digest = hashlib.sha256(np.ascontiguousarray(self.table).tobytes()).hexdigest()
        columns = [
            {"key": key.path, "column": key.column, "unit_shown": key.unit} for key in self.keys
        ]
        return {"rows": len(self), "table": columns, "table_sha256": digest}

    @property
    def digest(self) -> str:
        """SHA-256 that changes with any value of any row."""
        return hashlib.sha256(json.dumps(self.described, sort_keys=True).encode()).hexdigest()


def _rounded(values: Array) -> Array:
    return np.array([float(f"{value:.{DIGITS}g}") for value in values.ravel()]).reshape(
        values.shape
    )


def grid_of(vary: Sequence[str], case: Case) -> Plan:
    """Return the plan of a grid.

    Parameters
    ----------
    vary : sequence of str
        Each as ``SYNTAX`` says; the last varies fastest [-].
    case : Case
        What is varied.

    Returns
    -------
    Plan
        Its ends are checked with the whole case.

    Raises
    ------
    CaseError
        If a range cannot be taken, with everything that is wrong.
    """
    axes: list[Axis] = []
    problems: list[Problem] = []
    for text in vary:
        path, sign, values = (part.strip() for part in text.partition("="))
        try:
            if not sign or not path or not values:
                raise Refusal("it is not a key with its values", SYNTAX)
            axis = _axis(numeric_key(path, case.design), values, case.design)
            if any(axis.key.path == other.key.path for other in axes):
                raise Refusal("this key is varied twice", "", "give all its values at once")
            axes.append(axis)
        except Refusal as error:
            where = f"--vary {path[:60]}" if sign else "--vary"
            given = f'"{(values if sign else text)[:60]}"'
            problems.append(Problem(where, error.what, given, error.accepted, error.do))
    rows = math.prod(axis.count for axis in axes)
    if rows > MOST_ROWS:
        what = f"the grid has {rows:.3g} rows"
        accepted = f"at most {MOST_ROWS:.0e}"
        problems.append(Problem("--vary", what, None, accepted, "take fewer values or keys"))
    problems += _wrong_with_case(axes, case)
    if problems:
        raise CaseError("sweep", problems)
    return Plan(tuple(axis.key for axis in axes), tuple(axes))


def _axis(key: Parameter, text: str, design: Design) -> Axis:
    parts = [part.strip() for part in text.split(":")]
    if "," in parts[0] and len(parts) <= 2:
        return _listed(key, parts[0].split(","), "".join(parts[1:]), design)
    if len(parts) == 2 and _NUMBER.match(parts[1]):
        raise Refusal("the number of values is missing", SYNTAX)
    if len(parts) <= 2:
        read(key, parts[0], "".join(parts[1:]), design)  # what is wrong with the value comes first
        do = f'give two or more, or change the case: --set {key.path}="{" ".join(parts)}"'
        raise Refusal("one value does not vary", SYNTAX, do)
    if len(parts) > 4:
        raise Refusal("it is no range", SYNTAX)
    if not parts[2].isdecimal() or not parts[2].isascii():
        do = "the order is START:STOP:N:UNIT" if len(parts) == 4 else ""
        raise Refusal(f'"{parts[2]}" is not a number of values', SYNTAX, do)
    if len(parts[2]) > 10 or not 2 <= int(parts[2]) <= MOST_ROWS:
        raise Refusal(f"{parts[2][:20]} values make no range", f"N from 2 to {MOST_ROWS}")
    return _range(key, parts, design)


def _range(key: Parameter, parts: list[str], design: Design) -> Axis:
    unit, count = "".join(parts[3:]), int(parts[2])
    (first, start), (last, stop) = (read(key, part, unit, design) for part in parts[:2])
    if first != last:
        raise Refusal("one end is per cent of the case's own, the other is not", "", "both alike")
    if start == stop:
        raise Refusal("start and stop are the same: the step is zero", "", "give two values")
    if start > stop:
        do = f"write {key.path}={':'.join([parts[1], parts[0], *parts[2:]])}"
        raise Refusal("start is above stop", "", do)
    span = round(stop - start)
    if first.whole and span % (count - 1):
        raise Refusal(
            f"{count} values from {start:g} to {stop:g} are not whole numbers",
            f"N of {_fitting(span)}",
            f"choose one of them, or give a list: {key.path}={start:g},...,{stop:g}",
        )
    own = None if first.relative else own_value(design, first)
    return Axis(first, start, stop, count, own=own)


def _fitting(span: int) -> str:
    """Return the numbers of values that divide a span of whole numbers evenly, in words."""
    fitting = [n + 1 for n in range(1, span + 1) if span % n == 0]
    return ", ".join(map(str, fitting[:-1])) + f" or {fitting[-1]}" if fitting[1:] else "2"


def _listed(key: Parameter, texts: list[str], unit: str, design: Design) -> Axis:
    if not all(text.strip() for text in texts):
        raise Refusal("a value is missing between two commas", SYNTAX)
    found = [read(key, text.strip(), unit, design) for text in texts]
    if len({one for one, _ in found}) > 1:
        raise Refusal("some values are per cent of the case's own, others not", "", "all alike")
    values = tuple(float(value) for value in _rounded(np.array([value for _, value in found])))
    twice = next((v for n, v in enumerate(values) if v in values[:n]), None)
    if twice is not None:
        raise Refusal(f"{found[0][0].say(twice)} is given twice", "each value once")
    return Axis(found[0][0], min(values), max(values), len(values), values)


def _wrong_with_case(axes: Iterable[Axis], case: Case) -> list[Problem]:
    """Return what the whole case says against values of one key, the other keys as they are."""
    problems: list[Problem] = []
    for axis in axes:
        tried = axis.listed if len(axis.listed) <= MOST_CHECKED else ()
        where = f"--vary {axis.key.path}"
        for value in tried or (axis.start, axis.stop):
            if found := refused({axis.key: value}, case, where):
                problems += found  # the other values most likely fail for the same reason
                break
    return problems


def refused(values: Mapping[Parameter, float], case: Case, where: str) -> list[Problem]:
    """Return what the whole case says against values of keys.

    Parameters
    ----------
    values : mapping
        Value by key, SI or a factor.
    case : Case
        Its other keys stay as they are.
    where : str
        What gave the values [-].

    Returns
    -------
    list of Problem
        Empty if the case may have them.
    """
    written = {key.path: key.written(value, case.design) for key, value in values.items()}
    said = ", ".join(f"{key.path} = {key.say(value)}" for key, value in values.items())
    try:
        case.with_values(written)
    except CaseError as error:
        return [
            Problem(where, f"with {said}: {p.key}: {p.what}", None, p.accepted, p.do)
            for p in error.problems
        ]
    return []
