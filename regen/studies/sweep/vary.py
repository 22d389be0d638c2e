"""What a person asks to be varied: ranges and lists of keys, or a CSV file with a row a design."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np

from regen.case.read import Case
from regen.case.table import decoded
from regen.design import Design
from regen.errors import CaseError, Problem
from regen.studies.batch.designs import Array, Judged
from regen.studies.batch.parameters import Parameter, numeric_key, own_value, read
from regen.studies.sweep.plan import Axis, SweepPlan, rounded
from regen.units import NUMBER, Refusal

MOST_ROWS = 1_000_000_000
MOST_CHECKED = 20
"""Values or rows that are each checked with the whole case; of more, the extremes."""

MOST_BYTES = 200_000_000
MOST_NAMED = 10
"""Broken lines of a table that are named one by one."""

SYNTAX = (
    "KEY=START:STOP:N:UNIT such as channels.width=0.6:1.0:5:mm, without UNIT for plain numbers "
    "(channels.count=60:100:5) and per cent of the case's own (channels.depth=80%:120%:5); or a "
    "list, KEY=VALUE,VALUE,...:UNIT such as liner.wall=0.6,0.7,0.9:mm"
)
HEADER = "a header of keys with units such as: channels.width [mm], channels.count [-]"

_NUMBER = re.compile(rf"\s*{NUMBER}\s*")
_COLUMN = re.compile(r"\s*([A-Za-z_][\w.\-]*)\s*\[([^\]]*)\]\s*")


def grid_of(vary: Sequence[str], case: Case, judged: Judged = "full") -> SweepPlan:
    """Return the plan of a grid.

    Parameters
    ----------
    vary : sequence of str
        Each as ``SYNTAX`` says; the last varies fastest [-].
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
    problems: list[Problem] = []
    for text in vary:
        path, sign, values = (part.strip() for part in text.partition("="))
        try:
            if not sign or not path or not values:
                raise Refusal("not a key with its values", SYNTAX)
            axis = _axis(numeric_key(path, case.design), values, case.design)
            if any(axis.parameter.path == other.parameter.path for other in axes):
                raise Refusal("this key is varied twice", "", "give all its values at once")
            axes.append(axis)
        except Refusal as error:
            where = f"--vary {path[:60]}" if sign else "--vary"
            problems.append(error.problem(where, f'"{(values if sign else text)[:60]}"'))
    rows = math.prod(axis.count for axis in axes)
    if rows > MOST_ROWS:
        what, accepted = f"the grid has {rows:.3g} rows", f"at most {MOST_ROWS:.0e}"
        problems.append(Problem("--vary", what, None, accepted, "take fewer values or keys"))
    for axis in axes:
        problems += _refused_values(axis, case)
    _check(problems)
    parameters = tuple(axis.parameter for axis in axes)
    return SweepPlan(case.design, parameters, tuple(axes), judged=judged)


def _check(problems: Sequence[Problem]) -> None:
    if problems:
        raise CaseError("sweep", problems)


def _axis(parameter: Parameter, text: str, design: Design) -> Axis:
    parts = [part.strip() for part in text.split(":")]
    first, unit = parts[0], "".join(parts[1:])
    if len(parts) <= 2:
        if "," in first:
            return _listed(parameter, first.split(","), unit, design)
        if _NUMBER.match(unit):
            raise Refusal("the number of values is missing", SYNTAX)
        read(parameter, first, unit, design)  # what is wrong with the value comes first
        do = f'give two or more, or change the case: --set {parameter.path}="{" ".join(parts)}"'
        raise Refusal("one value does not vary", SYNTAX, do)
    if len(parts) > 4:
        raise Refusal("not a range", SYNTAX)
    if not parts[2].isdecimal() or not parts[2].isascii():
        do = "the order is START:STOP:N:UNIT" if len(parts) == 4 else ""
        raise Refusal(f'"{parts[2]}" is not a number of values', SYNTAX, do)
    if len(parts[2]) > 10 or not 2 <= int(parts[2]) <= MOST_ROWS:
        raise Refusal(f"{parts[2][:20]} values make no range", f"N from 2 to {MOST_ROWS}")
    return _range(parameter, parts, design)


def _range(parameter: Parameter, parts: list[str], design: Design) -> Axis:
    unit, count = "".join(parts[3:]), int(parts[2])
    (first, start), (last, stop) = (read(parameter, part, unit, design) for part in parts[:2])
    if first != last:
        raise Refusal("one end is per cent of the case's own, the other is not", "", "both alike")
    if start == stop:
        raise Refusal("start and stop are the same: the step is zero", "", "give two values")
    if start > stop:
        do = f"write {first.path}={':'.join([parts[1], parts[0], *parts[2:]])}"
        raise Refusal("start is above stop", "", do)
    width = round(stop - start)
    if first.whole and width % (count - 1):
        raise Refusal(
            f"{count} values from {start:g} to {stop:g} are not whole numbers",
            f"N of {_counts_that_divide(width)}",
            f"choose one of them, or give a list: {first.path}={start:g},...,{stop:g}",
        )
    own = None if first.relative else own_value(design, first)
    return Axis(first, start, stop, count, own=own)


def _counts_that_divide(width: int) -> str:
    """Return the numbers of values that divide a range of whole numbers evenly, as text."""
    counts = [str(n + 1) for n in range(1, width + 1) if width % n == 0]
    return " or ".join(filter(None, (", ".join(counts[:-1]), counts[-1])))


def _listed(parameter: Parameter, texts: list[str], unit: str, design: Design) -> Axis:
    if not all(text.strip() for text in texts):
        raise Refusal("a value is missing between two commas", SYNTAX)
    kinds, numbers = zip(*(read(parameter, t.strip(), unit, design) for t in texts), strict=True)
    if len(set(kinds)) > 1:
        raise Refusal("some values are per cent of the case's own, others not", "", "all alike")
    values = tuple(rounded(np.array(numbers)).tolist())
    twice = next((v for n, v in enumerate(values) if v in values[:n]), None)
    if twice is not None:
        raise Refusal(f"{kinds[0].say(twice)} is given twice", "each value once")
    return Axis(kinds[0], min(values), max(values), len(values), values)


def _refused_values(axis: Axis, case: Case) -> list[Problem]:
    """Return what the whole case says against the first refused value of an axis."""
    values = axis.listed if 0 < len(axis.listed) <= MOST_CHECKED else (axis.start, axis.stop)
    where = f"--vary {axis.parameter.path}"
    each = (_refused({axis.parameter: value}, case, where) for value in values)
    return next(filter(None, each), [])  # the other values most likely fail for the same reason


def _refused(values: Mapping[Parameter, float], case: Case, where: str) -> list[Problem]:
    """Return what the whole case says against some values; its other keys stay as they are."""
    given = {key.path: key.written(value, case.design) for key, value in values.items()}
    text = ", ".join(f"{key.path} = {key.say(value)}" for key, value in values.items())
    try:
        case.with_values(given)
    except CaseError as error:
        return [
            Problem(where, f"with {text}: {p.key}: {p.what}", None, p.accepted, p.do)
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
    where = f"--vary-from {path.name}"
    problems: list[Problem] = []
    try:
        header, rows, lines = _cells(path)
    except Refusal as error:
        raise CaseError("sweep", [error.problem(where)]) from error
    columns = _columns(header, case.design, where, problems)
    wrong = [*_wrong_lines(rows, lines, len(header), where)]
    problems += wrong[:MOST_NAMED]
    if len(wrong) > MOST_NAMED:
        what = f"{len(wrong) - MOST_NAMED} more lines are wrong"
        problems.append(Problem(where, what, do="correct these first"))
    _check(problems)
    numbers = np.array(rows, dtype=float)
    parameters, table = [], np.empty(numbers.shape)
    for n, (key, unit) in enumerate(columns):
        try:
            key, table[:, n] = _converted(key, unit, numbers[:, n], lines, case.design)
            parameters.append(key)
        except Refusal as error:
            problems.append(error.problem(f"{where}, {key.path}"))
    _check(problems)
    tried: Sequence[int] = range(len(table))
    if len(table) > MOST_CHECKED:
        tried = sorted({*table.argmin(axis=0).tolist(), *table.argmax(axis=0).tolist()})
    for n in tried:
        values = dict(zip(parameters, table[n].tolist(), strict=True))
        problems += _refused(values, case, f"{where}, line {lines[n]}")
    _check(problems)
    return SweepPlan(case.design, tuple(parameters), table=table, judged=judged)


def _cells(path: Path) -> tuple[list[str], list[list[str]], list[int]]:
    """Return header, cells and line numbers of the rows; blank lines and # lines are left out."""
    if not path.is_file():
        what = "a folder, not a file" if path.is_dir() else "no such file"
        raise Refusal(what, "", "check the path", "", f'"{path}"')
    if path.stat().st_size > MOST_BYTES:
        what = f"more than {MOST_BYTES / 1e6:g} MB"
        raise Refusal(what, "", "split it, each part into a folder of its own")
    try:
        reader = csv.reader(decoded(path.read_bytes(), path.name).splitlines(), strict=True)
        lines = [
            (cells, reader.line_num)
            for cells in reader
            if any(cell.strip() for cell in cells) and not cells[0].lstrip().startswith("#")
        ]
    except csv.Error as error:
        raise Refusal(f"line {reader.line_num}: {error}", "plain comma-separated values") from error
    except OSError as error:
        what = f"cannot be read ({error.strerror})"
        raise Refusal(what, "", "check its permissions") from error
    if len(lines) < 2:
        what = "no rows of values" if lines else "empty"
        raise Refusal(what, f"{HEADER}, and a row for each design")
    (header, *rows), (_, *numbers) = zip(*lines, strict=True)
    return header, rows, numbers


def _columns(
    header: list[str], design: Design, where: str, problems: list[Problem]
) -> list[tuple[Parameter, str]]:
    """Return key and unit of each column; whatever is wrong is added to ``problems``."""
    columns: list[tuple[Parameter, str]] = []
    for cell in header:
        try:
            match = _COLUMN.fullmatch(cell)
            if match is None:
                raise Refusal("not a key with its unit", HEADER)
            key = numeric_key(match[1], design)
            if any(key.path == other.path for other, _ in columns):
                raise Refusal("this key has two columns", "each key once")
            columns.append((key, match[2].strip().removeprefix("-")))
        except Refusal as error:
            problems.append(error.problem(f"{where}, header", f'"{cell.strip()[:60]}"'))
    return columns


def _wrong_lines(
    rows: list[list[str]], lines: list[int], width: int, where: str
) -> Iterator[Problem]:
    for cells, line in zip(rows, lines, strict=True):
        place = f"{where}, line {line}"
        bad = next((cell for cell in cells if not _NUMBER.fullmatch(cell)), None)
        if len(cells) != width:
            what = f"{len(cells)} values, and the header has {width}"
            yield Problem(place, what, f'"{",".join(cells)[:60]}"')
        elif bad is not None:
            accepted = "plain numbers; the units stand in the header"
            yield Problem(place, "not a number", f'"{bad.strip()[:60]}"', accepted)


def _converted(
    key: Parameter, unit: str, numbers: Array, lines: list[int], design: Design
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
            error.given = f'line {lines[at]}, "{numbers[at]:g} {percent or unit}"'
            raise
    (kind, low), (_, high) = ends
    if kind.whole and np.any(bad := numbers != np.round(numbers)):
        at = int(np.argmax(bad))
        given = f'line {lines[at]}, "{numbers[at]:g}"'
        raise Refusal("not a whole number", key.accepted, "", "", given)
    span = numbers.max() - numbers.min()
    slope = (high - low) / span if span else 0.0
    return kind, rounded(low + slope * (numbers - numbers.min()))
