"""Measured slots from a text table: one row a slot and place along the axis."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from regen.case.table import Line, Lines, number, read_lines, scale
from regen.errors import CaseError, Problem
from regen.units import Refusal, Wrong, refusal, suggestion

HEADER = 'a header such as "slot, x [mm], width [mm], depth [mm], wall [mm]"'
SIZES = ("width", "depth", "wall")
LEAST, MOST = 0.05e-3, 50e-3
"""What a measured size may be [m]: beyond, it is a slip of the pen or of the unit."""

SHOWN = 40
"""Problems of rows that are listed; the rest are counted."""

_COLUMN = re.compile(r"([A-Za-z_]\w*)\s*(?:\[([^\]]*)\])?")
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
    wrong = Wrong()
    with wrong.gather(path.name):
        lines = read_lines(path, HEADER, "check the path")
        columns = _columns(lines.header)
    wrong.refuse_case(path.name)
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
    at = f'line {header.number} ("{header.text[:60]}")'
    known = ("slot", "x", *SIZES)
    for name in names:
        if name not in known:
            near = suggestion(name, known)
            raise refusal("not measured", at=at, name=name, known=", ".join(known), do=near)
        if names.count(name) > 1:
            raise Refusal(f'{at}: the column "{name}" is named twice', "each name once")
    missing = [name for name in ("slot", "x") if name not in names]
    if missing or len(names) == 2:
        what = f"{at}: no column {' and '.join(missing) or 'width, depth or wall'}"
        raise Refusal(what, HEADER, "add it")
    return {
        name: (n, scale(unit, "length", f"{at}, {name}")[1] if name != "slot" else 1.0)
        for n, (name, unit) in enumerate(named)
    }


def _rows(
    lines: Lines, columns: dict[str, tuple[int, float]], count: int
) -> tuple[list[Row], list[Problem]]:
    rows: list[Row] = []
    wrong = Wrong()
    first: dict[tuple[int, float], int] = {}
    for line in lines.rows:
        with wrong.gather(f"line {line.number}"):
            row = _row(line, lines.separator, columns, count)
            before = first.setdefault((row.slot, row.x), row.line)
            if before != row.line:
                raise refusal("measured twice", f", slot {row.slot}", line=before)
            rows.append(row)
    return rows, [one.problem() for one in wrong]


def _row(
    line: Line, separator: str | None, columns: dict[str, tuple[int, float]], count: int
) -> Row:
    """Return one row, or raise everything wrong with it."""
    cells = [cell.strip() for cell in line.text.split(separator)]
    if len(cells) != len(columns):
        counts = {"cells": len(cells), "columns": len(columns)}
        raise refusal("cells of a measured row", "", f'"{line.text[:60]}"', **counts)
    given = {name: cells[n] for name, (n, _) in columns.items()}
    wrong, values = Wrong(), dict[str, float]()
    slot, at = given.pop("slot"), ""
    if re.fullmatch(r"\d{1,6}", slot) and 1 <= int(slot) <= count:
        at = f", slot {slot}"
    else:
        wrong.append(Refusal("no such slot", f"1 to {count}", "", ", slot", slot or "nothing"))
    for name, cell in given.items():
        if cell in _NOTHING and name in SIZES:
            continue
        with wrong.gather(f"{at}, {name}", f'"{cell[:30]}"'):
            values[name] = number(cell) * columns[name][1]
            if name in SIZES and not LEAST <= values[name] <= MOST:
                raise refusal("no size of a slot", "", cell, least=LEAST * 1e3, most=MOST * 1e3)
    if not wrong and not values.keys() & set(SIZES):
        raise refusal("nothing measured", at)
    wrong.refuse()
    return Row(line.number, int(slot), **values)
