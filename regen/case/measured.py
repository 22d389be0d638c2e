"""Measured slots from a text table: one row a slot and place along the axis."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

from regen.case.table import Line, Lines, read_lines
from regen.errors import CaseError, Problem
from regen.units import KINDS, NUMBER, Refusal, parse, suggestion

HEADER = 'a header such as "slot, x [mm], width [mm], depth [mm], wall [mm]"'
SIZES = ("width", "depth", "wall")
LEAST, MOST = 0.05e-3, 50e-3
"""What a measured size may be [m]: beyond, it is a slip of the pen or of the unit."""

SHOWN = 40
"""Problems of rows that are listed; the rest are counted."""

_COLUMN = re.compile(r"([A-Za-z_]\w*)\s*(?:\[([^\]]*)\])?")
_NUMBER = re.compile(NUMBER)
_NOTHING = ("", "-")
"""Cells of what was not measured."""


@dataclass(frozen=True, slots=True)
class Row:
    """What was measured of one slot at one place [m]; None for a size that was not.

    ``slot`` counts from 1; ``line`` is that of the file.
    """

    line: int
    slot: int
    x: float
    width: float | None = None
    depth: float | None = None
    wall: float | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """A measured file: sound rows in its order, what is wrong with the rest, what to tell."""

    name: str
    data: bytes
    rows: tuple[Row, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]


def read_measured(path: Path, count: int) -> Sheet:
    """Read a text table with the columns slot and x, and width, depth or wall, in any order.

    ``count`` is the chamber's number of slots. The sheet has the problems of single rows, which
    whoever knows the chamber adds to; raises ``CaseError`` if it is no such table at all.
    """
    if not path.exists():
        problem = Problem(str(path), "there is no such file", do="check the path")
        raise CaseError(path.name, [problem])
    try:
        lines = read_lines(path, HEADER)
        columns = _columns(lines.header)
    except Refusal as error:
        problem = Problem(path.name, error.what, None, error.accepted, error.do)
        raise CaseError(path.name, [problem]) from error
    rows, problems = _rows(lines, columns, count)
    if not rows and not problems:
        problems.append(Problem(path.name, "no slot follows the header", None, "rows of values"))
    return Sheet(path.name, lines.data, tuple(rows), tuple(problems), lines.notes)


def refuse(sheet: Sheet, problems: list[Problem]) -> None:
    """Raise what is wrong with a measured file, if anything: the first by line, and a count."""
    if not problems:
        return
    rest = len(problems) - SHOWN
    listed = sorted(problems, key=_line_of)[:SHOWN]
    if rest > 0:
        what = f"{rest} more rows are wrong in the same ways"
        listed.append(Problem(sheet.name, what, do="correct these first"))
    raise CaseError(sheet.name, listed)


def _line_of(problem: Problem) -> int:
    match = re.match(r"line (\d+)", problem.key)
    return int(match.group(1)) if match else 0


def place(row: Row) -> str:
    """Return where a row is, for a problem, as "line 12, slot 17"."""
    return f"line {row.line}, slot {row.slot}"


def _columns(header: Line) -> dict[str, tuple[int, float]]:
    """Return place and unit in SI of each column; refuse a header that is none."""
    named = _COLUMN.findall(header.text)
    names = [name for name, _ in named]
    where = f'line {header.number} ("{header.text[:60]}")'
    known = ("slot", "x", *SIZES)
    for name in names:
        if name not in known:
            what = f'{where}: "{name}" is not a column of a measured file'
            raise Refusal(what, ", ".join(known), suggestion(name, known))
        if names.count(name) > 1:
            what = f'{where}: the column "{name}" is named twice'
            raise Refusal(what, "each name once")
    missing = [name for name in ("slot", "x") if name not in names]
    if missing or len(names) == 2:
        what = f"{where}: no column {' and '.join(missing) or 'width, depth or wall'}"
        raise Refusal(what, HEADER, "add it")
    return {
        name: (n, _unit(name, unit, where) if name != "slot" else 1.0)
        for n, (name, unit) in enumerate(named)
    }


def _unit(name: str, unit: str, where: str) -> float:
    try:
        return parse(f"1 {unit}", "length").value
    except Refusal as error:
        what = f'{where}: the unit of "{name}" is not a length'
        accepted = f'a unit in brackets, such as "{name} [{KINDS["length"].shown}]" or "[in]"'
        raise Refusal(what, accepted, error.do) from error


def _rows(
    lines: Lines, columns: dict[str, tuple[int, float]], count: int
) -> tuple[list[Row], list[Problem]]:
    separator = next((mark for mark in (";", ",") if mark in lines.header.text), None)
    rows: list[Row] = []
    problems: list[Problem] = []
    first: dict[tuple[int, float], int] = {}
    for line in lines.rows:
        cells = [cell.strip() for cell in line.text.split(separator)]
        if len(cells) != len(columns):
            what = f"it has {len(cells)} values where the header names {len(columns)} columns"
            do = 'a size that was not measured is left empty between its separators, or is "-"'
            problems.append(Problem(f"line {line.number}", what, f'"{line.text[:60]}"', do=do))
            continue
        row, wrong = _row(line.number, cells, columns, count)
        problems += wrong
        if row is None:
            continue
        before = first.setdefault((row.slot, row.x), row.line)
        if before != row.line:
            what = f"line {before} is of the same slot at the same x"
            problems.append(Problem(place(row), what, None, "one row each", "remove one"))
        else:
            rows.append(row)
    return rows, problems


def _row(
    number: int, cells: list[str], columns: dict[str, tuple[int, float]], count: int
) -> tuple[Row | None, list[Problem]]:
    """Return one row, None where it cannot be used, and everything wrong with it."""
    given = {name: cells[n] for name, (n, _) in columns.items()}
    at = f"line {number}"
    problems: list[Problem] = []
    slot = given.pop("slot")
    if not re.fullmatch(r"\d{1,6}", slot) or not 1 <= int(slot) <= count:
        what = "no such slot"
        problems.append(Problem(f"{at}, slot", what, slot or "nothing", f"1 to {count}"))
    else:
        at += f", slot {slot}"
    values: dict[str, float] = {}
    for name, cell in given.items():
        if cell in _NOTHING and name in SIZES:
            continue
        if not _NUMBER.fullmatch(cell) or not math.isfinite(float(cell)):
            do = "write a decimal point" if re.fullmatch(r"[+-]?\d+,\d+", cell) else ""
            what = "not a finite number"
            problems.append(Problem(f"{at}, {name}", what, f'"{cell[:30]}"', do=do))
            continue
        values[name] = float(cell) * columns[name][1]
        if name in SIZES and not LEAST <= values[name] <= MOST:
            what = "out of range for a slot"
            accepted = f"{LEAST * 1e3:g} to {MOST * 1e3:g} mm"
            do = "check the value, and the unit in the header"
            problems.append(Problem(f"{at}, {name}", what, cell, accepted, do))
    if not problems and not values.keys() & set(SIZES):
        what = "neither width nor depth nor wall is given"
        problems.append(Problem(at, what, None, "one at least", "remove the row, or fill it in"))
    if problems:
        return None, problems
    return Row(number, int(slot), **values), []
