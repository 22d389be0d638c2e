"""What a person asks to be varied: ranges and lists of keys, or a CSV file with a row a design."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NoReturn

import numpy as np

from regen.case.read import Case
from regen.case.table import Line, Lines, few, number, read_lines
from regen.design import Design
from regen.errors import CaseError
from regen.sources import read_data
from regen.studies.batch.designs import Array, Judged
from regen.studies.batch.parameters import Parameter, numeric_key, own_value, read, read_range
from regen.studies.sweep.plan import Axis, SweepPlan, rounded
from regen.units import NUMBER, Refusal, Wrong

MOST_ROWS = 1_000_000_000
MOST_CHECKED = 20
"""Values or rows that are each checked with the whole case; of more, the extremes."""

MOST_BYTES = 200_000_000

_TEXTS = read_data("studies.toml")["sweep"]

_NUMBER = re.compile(rf"\s*{NUMBER}\s*")
_COLUMN = re.compile(r"\s*([A-Za-z_][\w.\-]*)\s*\[([^\]]*)\]\s*")


def refuse(which: str, **places: object) -> NoReturn:
    """Raise a refusal of data/studies.toml with its places filled in."""
    places |= _TEXTS["usage"]
    raise Refusal(*(text.format(**places) for text in _TEXTS["refused"][which]))


def grid_of(vary: Sequence[str], case: Case, judged: Judged = "full") -> SweepPlan:
    """Return the plan of a grid.

    Parameters
    ----------
    vary : sequence of str
        Each as data/studies.toml says of ``syntax``; the last varies fastest [-].
    case : Case
        What is varied.
    judged : {"nominal", "worst", "full"}
        Runs that are solved and judged.

    Returns
    -------
    SweepPlan
        Its ends are checked with the whole case.

    Raises
    ------
    CaseError
        If a range cannot be taken, with everything that is wrong.
    """
    axes: list[Axis] = []
    wrong = Wrong()
    for text in vary:
        path, sign, values = (part.strip() for part in text.partition("="))
        where, given = (f"--vary {path[:60]}", values) if sign else ("--vary", text)
        with wrong.gather(where, f'"{given[:60]}"'):
            if not path or not values:
                refuse("no_values")
            axis = _axis(numeric_key(path, case.design), values, case.design)
            if any(axis.parameter.path == other.parameter.path for other in axes):
                refuse("twice")
            axes.append(axis)
    rows = math.prod(axis.count for axis in axes)
    if rows > MOST_ROWS:
        with wrong.gather("--vary"):
            refuse("rows", rows=rows, most=MOST_ROWS)
    for axis in axes:
        wrong += _refused_values(axis, case)
    wrong.refuse_case("sweep")
    parameters = tuple(axis.parameter for axis in axes)
    return SweepPlan(case.design, parameters, tuple(axes), judged=judged)


def _axis(key: Parameter, text: str, design: Design) -> Axis:
    if text.count(":") < 2:
        first, unit = (part.strip() for part in f"{text}:".split(":")[:2])
        if "," in first:
            return _listed(key, first.split(","), unit, design)
        if _NUMBER.match(unit):
            refuse("no_number")
        read(key, first, unit, design)  # what is wrong with the value comes first
        refuse("one", key=key.path, given=f"{first} {unit}".rstrip())
    key, start, stop, count = read_range(key, text, MOST_ROWS, design)
    width = round(stop - start)
    if key.whole and width % (count - 1):
        ends = {"key": key.path, "start": start, "stop": stop}
        refuse("not_whole", count=count, counts=_counts_that_divide(width), **ends)
    return Axis(key, start, stop, count, own=None if key.relative else own_value(design, key))


def _counts_that_divide(width: int) -> str:
    """Return the numbers of values that divide a range of whole numbers evenly, as text."""
    counts = [str(n + 1) for n in range(1, width + 1) if width % n == 0]
    return " or ".join(filter(None, (", ".join(counts[:-1]), counts[-1])))


def _listed(parameter: Parameter, texts: list[str], unit: str, design: Design) -> Axis:
    if not all(text.strip() for text in texts):
        refuse("comma")
    kinds, numbers = zip(*(read(parameter, t.strip(), unit, design) for t in texts), strict=True)
    if len(set(kinds)) > 1:
        refuse("mixed")
    values = tuple(rounded(np.array(numbers)).tolist())
    twice = next((v for n, v in enumerate(values) if v in values[:n]), None)
    if twice is not None:
        refuse("value_twice", value=kinds[0].say(twice))
    return Axis(kinds[0], min(values), max(values), len(values), values)


def _refused_values(axis: Axis, case: Case) -> list[Refusal]:
    """Return what the whole case says against the first refused value of an axis."""
    values = axis.listed if 0 < len(axis.listed) <= MOST_CHECKED else (axis.start, axis.stop)
    where = f"--vary {axis.parameter.path}"
    each = (_refused({axis.parameter: value}, case, where) for value in values)
    return next(filter(None, each), [])  # the other values most likely fail for the same reason


def _refused(values: Mapping[Parameter, float], case: Case, where: str) -> list[Refusal]:
    """Return what the whole case says against some values; its other keys stay as they are."""
    text = ", ".join(f"{key.path} = {key.say(value)}" for key, value in values.items())
    try:
        case.with_values({k.path: k.written(value, case.design) for k, value in values.items()})
    except CaseError as error:
        return [
            Refusal(f"with {text}: {p.key}: {p.what}", p.accepted, p.do, where)
            for p in error.problems
        ]
    return []


def table_of(path: Path, case: Case, judged: Judged = "full") -> SweepPlan:
    """Return the plan of a table.

    Parameters
    ----------
    path : Path
        CSV file, UTF-8: the header names keys with units ("-" for plain numbers, "%" of the
        case's own, "fuel" for a share of the fuel), each row is a design.
    case : Case
        What is varied.
    judged : {"nominal", "worst", "full"}
        Runs that are solved and judged.

    Returns
    -------
    SweepPlan
        In the order of the file; its extremes are checked with the whole case.

    Raises
    ------
    CaseError
        If the file or its values cannot be taken, with everything that is wrong.
    """
    where, wrong, design = f"--vary-from {path.name}", Wrong(), case.design
    with wrong.gather(where):
        lines = read_lines(path, _TEXTS["usage"]["header"], "check the path", MOST_BYTES)
        if not lines.rows:
            refuse("no_rows")
    wrong.refuse_case("sweep")
    separator = lines.separator or ","
    columns: dict[Parameter, str] = {}
    for cell in lines.header.text.split(separator):
        with wrong.gather(f"{where}, header", f'"{cell.strip()[:60]}"'):
            match = _COLUMN.fullmatch(cell)
            if match is None:
                refuse("no_unit")
            key = numeric_key(match[1], design)
            if key in columns:
                refuse("columns")
            columns[key] = match[2].strip().removeprefix("-")
    wrong.refuse_case("sweep")
    with wrong.gather(where):
        table = _rows(lines, separator, len(columns))
    wrong.refuse_case("sweep")
    parameters = []
    for n, (key, unit) in enumerate(columns.items()):
        with wrong.gather(f"{where}, {key.path}"):
            key, table[:, n] = _converted(key, unit, table[:, n], lines.rows, design)
            parameters.append(key)
    wrong.refuse_case("sweep")
    tried: Sequence[int] = range(len(table))
    if len(table) > MOST_CHECKED:
        tried = sorted({*table.argmin(axis=0).tolist(), *table.argmax(axis=0).tolist()})
    for n in tried:
        values = dict(zip(parameters, table[n].tolist(), strict=True))
        wrong += _refused(values, case, f"{where}, line {lines.rows[n].number}")
    wrong.refuse_case("sweep")
    return SweepPlan(design, tuple(parameters), table=table, judged=judged)


def _rows(lines: Lines, separator: str, width: int) -> Array:
    """Return the numbers as they stand (rows, width), or raise everything wrong with them."""
    rows, wrong = [], Wrong()
    for line in lines.rows:
        with wrong.gather(f", line {line.number}"):
            cells = [cell.strip() for cell in line.text.split(separator)]
            if len(cells) != width:
                what = f"{len(cells)} values, and the header has {width}"
                raise Refusal(what, given=f'"{line.text[:60]}"')
            rows.append([number(cell) for cell in cells])
    few(wrong, "the table").refuse()
    return np.array(rows)


def _converted(
    key: Parameter, unit: str, numbers: Array, lines: Sequence[Line], design: Design
) -> tuple[Parameter, Array]:
    """Return the key and its values, SI or factors.

    The extremes are read and checked as any value is; units are linear, so the others lie on the
    straight line between.
    """
    percent, unit = ("%", "") if unit == "%" else ("", unit)
    ends = []
    for at in (int(np.argmin(numbers)), int(np.argmax(numbers))):
        try:
            ends.append(read(key, f"{float(numbers[at])!r}{percent}", unit, design))
        except Refusal as error:
            error.given = f'line {lines[at].number}, "{numbers[at]:g} {percent or unit}"'
            raise
    (kind, low), (_, high) = ends
    if kind.whole and np.any(bad := numbers != np.round(numbers)):
        at = int(np.argmax(bad))
        given = f'line {lines[at].number}, "{numbers[at]:g}"'
        raise Refusal("not a whole number", key.accepted, "", "", given)
    span = numbers.max() - numbers.min()
    slope = (high - low) / span if span else 0.0
    return kind, rounded(low + slope * (numbers - numbers.min()))
