"""The rows of a sweep from a table: a CSV file whose header names keys with their units."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np

from regen.case.read import Case
from regen.design import Design
from regen.errors import CaseError, Problem
from regen.studies.batch.designs import Array
from regen.studies.batch.parameters import Parameter, numeric_key, read
from regen.studies.sweep.plan import DIGITS, Plan, refused
from regen.units import NUMBER, Refusal

MOST_BYTES = 200_000_000
MOST_CHECKED = 20
"""Rows that are each checked with the whole case; of a longer table, those with an extreme."""

MOST_SAID = 10
"""Broken lines that are named one by one."""

HEADER = "a header of keys with units such as: channels.width [mm], channels.count [-]"

_COLUMN = re.compile(r"\s*([A-Za-z_][\w.\-]*)\s*\[([^\]]*)\]\s*")
_NUMBER = re.compile(rf"\s*{NUMBER}\s*")


def table_of(path: Path, case: Case) -> Plan:
    """Return the plan of a table.

    Parameters
    ----------
    path : Path
        CSV file, UTF-8: the header names keys with units ("-" for plain numbers, "%" of the
        case's own, "fuel" for a share of the fuel), each row is a design.
    case : Case
        What is varied.

    Returns
    -------
    Plan
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
        columns = _columns(header, case.design, where, problems)
        _check_cells(rows, lines, len(header), where, problems)
        if problems:
            raise CaseError("sweep", problems)
        numbers = np.array(rows, dtype=float)
    except Refusal as error:
        problem = Problem(where, error.what, error.given, error.accepted, error.do)
        raise CaseError("sweep", [problem]) from error
    keys, table = [], np.empty(numbers.shape)
    for n, (key, unit) in enumerate(columns):
        try:
            found, table[:, n] = _converted(key, unit, numbers[:, n], lines, case.design)
            keys.append(found)
        except Refusal as error:
            name = f"{where}, {key.path}"
            problems.append(Problem(name, error.what, error.given, error.accepted, error.do))
    if not problems:
        problems = _wrong_with_case(tuple(keys), table, lines, case, where)
    if problems:
        raise CaseError("sweep", problems)
    return Plan(tuple(keys), table=table)


def _cells(path: Path) -> tuple[list[str], list[list[str]], list[int]]:
    """Return header, cells and line numbers of the rows; blank lines and # lines are left out."""
    try:
        if path.is_dir() or not path.exists():
            what = "it is a folder" if path.is_dir() else "there is no such file"
            raise Refusal(what, "", "check the path", "", f'"{path}"')
        if path.stat().st_size > MOST_BYTES:
            what = f"it has more than {MOST_BYTES / 1e6:g} MB"
            raise Refusal(what, "", "split it, each part into a folder of its own")
        text = path.read_bytes().decode("utf-8-sig")
        kept, numbers = [], []
        reader = csv.reader(text.splitlines(), strict=True)
        for cells in reader:
            if any(cell.strip() for cell in cells) and not cells[0].lstrip().startswith("#"):
                kept.append(cells)
                numbers.append(reader.line_num)
    except UnicodeDecodeError as error:
        raise Refusal("it is not text in UTF-8", "", "save it as plain text, UTF-8") from error
    except csv.Error as error:
        raise Refusal(f"line {reader.line_num}: {error}", "plain comma-separated values") from error
    except OSError as error:
        raise Refusal(
            f"it cannot be read ({error.strerror})", "", "check its permissions"
        ) from error
    if not kept:
        raise Refusal("it is empty", HEADER)
    if len(kept) < 2:
        raise Refusal("it has no rows of values", f"{HEADER}, and a row for each design")
    return kept[0], kept[1:], numbers[1:]


def _columns(
    header: list[str], design: Design, where: str, problems: list[Problem]
) -> list[tuple[Parameter, str]]:
    """Return key and unit of each column; whatever is wrong is added to ``problems``."""
    columns: list[tuple[Parameter, str]] = []
    for cell in header:
        name = cell.strip()
        try:
            match = _COLUMN.fullmatch(cell)
            if match is None:
                raise Refusal("it names no key with its unit", HEADER)
            key = numeric_key(match[1], design)
            if any(key.path == other.path for other, _ in columns):
                raise Refusal("this key has two columns", "each key once")
            columns.append((key, match[2].strip().removeprefix("-")))
        except Refusal as error:
            given = f'"{name[:60]}"'
            problems.append(
                Problem(f"{where}, header", error.what, given, error.accepted, error.do)
            )
    return columns


def _check_cells(
    rows: list[list[str]], lines: list[int], width: int, where: str, problems: list[Problem]
) -> None:
    wrong = []
    for cells, line in zip(rows, lines, strict=True):
        if len(cells) != width:
            what = f"it has {len(cells)} values where the header has {width}"
            wrong.append(Problem(f"{where}, line {line}", what, f'"{",".join(cells)[:60]}"'))
            continue
        bad = [cell for cell in cells if not _NUMBER.fullmatch(cell)]
        if bad:
            given = f'"{bad[0].strip()[:60]}"'
            accepted = "plain numbers; the units stand in the header"
            wrong.append(Problem(f"{where}, line {line}", "it is not a number", given, accepted))
    problems += wrong[:MOST_SAID]
    if len(wrong) > MOST_SAID:
        what = f"{len(wrong) - MOST_SAID} more lines are wrong"
        problems.append(Problem(where, what, do="correct these first"))


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
    (found, low), (_, high) = ends
    if found.whole and np.any(bad := numbers != np.round(numbers)):
        at = int(np.argmax(bad))
        given = f'line {lines[at]}, "{numbers[at]:g}"'
        raise Refusal("it is not a whole number", key.accepted, "", "", given)
    span = numbers.max() - numbers.min()
    slope = (high - low) / span if span else 0.0
    values = low + slope * (numbers - numbers.min())
    return found, np.array([float(f"{value:.{DIGITS}g}") for value in values])


def _wrong_with_case(
    keys: tuple[Parameter, ...], table: Array, lines: list[int], case: Case, where: str
) -> list[Problem]:
    """Return what the whole case says against rows: each of a few, else those with an extreme."""
    tried = list(range(len(table)))
    if len(table) > MOST_CHECKED:
        tried = sorted({*map(int, table.argmin(axis=0)), *map(int, table.argmax(axis=0))})
    problems: list[Problem] = []
    for n in tried:
        values = dict(zip(keys, map(float, table[n]), strict=True))
        problems += refused(values, case, f"{where}, line {lines[n]}")
    return problems
