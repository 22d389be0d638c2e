"""Text tables with units in their header; of two columns, values along the axis."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from regen.units import KINDS, NUMBER, Refusal, Wrong, parse, refusal, suggestion

MAX_BYTES = 5_000_000
BESIDE_CASE = "relative paths start at the folder of the case file"
OPEN_END = (
    "the last line does not end with a line break; if the file was cut off, its last value may be "
    "short"
)
MOST_LISTED = 12
"""Refusals of one file that are listed."""
_COLUMN = re.compile(r"\s*([A-Za-z_]\w*)\s*\[([^\]]*)\]\s*")
_NUMBER = re.compile(NUMBER)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a file: its number from 1, its text, and what stands behind "#"."""

    file: str
    number: int
    text: str
    comment: str = ""

    def __str__(self) -> str:
        """Return where it is, for a refusal."""
        return f'{self.file}, line {self.number} ("{_shown(self.text)}")'


@dataclass(frozen=True, slots=True)
class Lines:
    """A table as lines: header, rows of values, the file's bytes, and notes for the user."""

    header: Line
    rows: tuple[Line, ...]
    data: bytes
    notes: tuple[str, ...]

    @property
    def separator(self) -> str | None:
        """What stands between columns; None for blanks."""
        outside = re.sub(r"\[[^\]]*\]", "", self.header.text)
        return next((mark for mark in (";", ",") if mark in outside), None)


@dataclass(frozen=True, slots=True)
class Columns:
    """Named columns of a table in SI, and its lines."""

    values: dict[str, tuple[float, ...]]
    lines: Lines


def read_column(path: Path, name: str, kind: str | None = "length") -> Columns:
    """Read the columns ``x`` [m], rising, and ``name`` [SI] of a table; others are passed over.

    ``kind`` is a key of ``units.KINDS``, or None for plain numbers, whose unit is "-". Raises
    ``Refusal``, naming the line, if the file cannot be read or is not such a table.
    """
    unit = KINDS[kind].shown if kind else "-"
    wanted = f'a header such as "x [mm], {name} [{unit}]"'
    read = read_columns(path, {"x": "length", name: kind}, wanted, along=True)
    rows, x = read.lines.rows, read.values["x"]
    if len(rows) < 2:
        given = f"line {rows[0].number} only" if rows else "none"
        raise Refusal(f"{path.name} has fewer than two rows of values ({given})", "two or more")
    for (before, after), row in zip(pairwise(x), rows[1:], strict=True):
        if after <= before:
            what = "repeats the x of the row before" if after == before else "x falls"
            raise Refusal(f"{row}: {what}", "x rising from row to row", "sort the rows by x")
    return read


def read_columns(
    path: Path, kinds: Mapping[str, str | None], wanted: str, *, along: bool = False
) -> Columns:
    """Read a table of several columns, each with a unit in the header, in SI.

    ``kinds`` has the key of ``units.KINDS`` of each column it may have, ``wanted`` the header that
    is asked for; a table ``along`` the axis must have them all, and others are passed over. Raises
    ``Refusal`` if the file cannot be read or has no header with units, ``Refusals`` with every
    column, row and cell that is wrong, by its line.
    """
    lines = read_lines(path, wanted)
    header = lines.header
    if '"' in header.text:
        raise refusal("quotation marks", header=header, wanted=wanted)
    wrong = Wrong()
    named = _COLUMN.findall(header.text)
    if along:
        _all_there(header, [name for name, _ in named], kinds, wanted)
    else:
        rest = re.sub(_COLUMN, "", header.text).replace(lines.separator or " ", " ")
        for cell in rest.split():
            wrong.append(refusal("no unit", header=header, cell=_shown(cell), wanted=wanted))
    scales = {}
    for name, unit in named:
        if name in scales:
            wrong.append(Refusal(f'{header} names "{name}" twice', "each name once"))
            continue
        scales[name] = (0.0, 1.0)
        if name in kinds:
            with wrong.gather():
                scales[name] = scale(unit, kinds[name], f"{header}, {name}")
        elif not along:
            do, known = suggestion(name, tuple(kinds)), ", ".join(kinds)
            wrong.append(refusal("unknown column", header=header, name=name, known=known, do=do))
    columns: dict[str, list[float]] = {name: [] for name in scales if name in kinds}
    for row in lines.rows:
        with wrong.gather():
            for (name, _), cell in zip(
                named, _cells(row, lines.separator, len(named)), strict=True
            ):
                if name in columns:
                    zero, factor = scales[name]
                    with wrong.gather():
                        columns[name].append(zero + factor * number(cell, f"{row}: "))
    if not lines.rows and not along:
        wrong.append(Refusal(f"{path.name} holds no rows of values", wanted + ", then the rows"))
    few(wrong, path.name).refuse()
    return Columns({name: tuple(column) for name, column in columns.items()}, lines)


def _all_there(
    header: Line, named: list[str], kinds: Mapping[str, str | None], wanted: str
) -> None:
    for name, kind in kinds.items():
        if name not in named:
            near = difflib.get_close_matches(name, named, 1)
            unit = KINDS[kind].shown if kind else "-"
            do = f'rename "{near[0]}" to "{name}"' if near else f'name one column "{name} [{unit}]"'
            raise Refusal(f'{header}: no column "{name}"', wanted, do)


def few(wrong: Iterable[Refusal], file: str) -> Wrong:
    """Return so many refusals as will be read, and how many more there are."""
    listed = Wrong(wrong)
    if (left := len(listed) - MOST_LISTED) > 0:
        more = f"{file}: {left if left > 1 else 'one'} more like these"
        listed[MOST_LISTED:] = [Refusal(more)]
    return listed


def read_lines(path: Path, wanted: str, do: str = BESIDE_CASE, most: int = MAX_BYTES) -> Lines:
    """Read a text table as lines, without comments and empty lines: a header, then rows.

    ``wanted`` is the header that is asked for. Raises ``Refusal`` if the file cannot be read, has
    no header with units, or ends in the middle of a number.
    """
    data = file_bytes(path, do, most)
    text = decoded(data, path.name)
    lines = []
    for number, line in enumerate(text.splitlines(), start=1):
        before, _, comment = line.partition("#")
        lines.append(Line(path.name, number, before.strip(), comment.strip()))
    header, rows = _header_and_rows(lines, path.name, wanted)
    notes: tuple[str, ...] = ()
    if rows and lines[-1].text and not text.endswith("\n"):
        if rows[-1].text.endswith("."):
            raise refusal("cut off", row=rows[-1])
        notes = (f"{rows[-1]}: {OPEN_END}",)
    return Lines(header, tuple(rows), data, notes)


def _header_and_rows(lines: list[Line], file: str, wanted: str) -> tuple[Line, list[Line]]:
    """Return the header, which may stand in a comment, and the lines with values."""
    rows = [line for line in lines if line.text]
    if not rows:
        raise Refusal(f"{file} holds no values", wanted + ", then the rows")
    if "[" in rows[0].text:
        return rows[0], rows[1:]
    before = [line for line in lines if line.number < rows[0].number and "[" in line.comment]
    if before and _COLUMN.findall(before[-1].comment):
        return Line(file, before[-1].number, before[-1].comment), rows
    raise refusal("no header", row=rows[0], wanted=wanted)


def decoded(data: bytes, file: str) -> str:
    """Return the text of a file without a byte-order mark; refuse what is not UTF-8."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise refusal("not UTF-8", file=file, line=line) from error


def file_bytes(path: Path, do: str = BESIDE_CASE, most: int = MAX_BYTES) -> bytes:
    """Return the content of a file; refuse one that cannot be read, ``do`` where there is none."""
    try:
        if path.is_dir():
            raise Refusal(f"{path} is a folder", "a file of text")
        if not path.exists():
            raise Refusal(f"there is no file {path}", "", do)
        if not path.is_file():
            raise Refusal(f"{path} is not a plain file", "a file of text")
        if path.stat().st_size > most:
            raise refusal("too large", file=path.name, MB=most // 1_000_000)
        return path.read_bytes()
    except Refusal:
        raise
    except (OSError, ValueError) as error:
        raise Refusal(f"the file cannot be read ({error})") from error


def _cells(row: Line, separator: str | None, width: int) -> list[str]:
    cells = [cell.strip() for cell in row.text.split(separator)]
    if len(cells) == width:
        return cells
    raise refusal("cells of a row", row=row, cells=len(cells), columns=width)


def scale(unit: str, kind: str | None, at: str) -> tuple[float, float]:
    """Return zero of the header's unit in SI, which degC and gauge pressures shift, and one."""
    if kind is None:
        if unit.strip() == "-":
            return 0.0, 1.0
        raise Refusal(f'{at}: "{unit}" is a unit, and the column is a plain number', "[-]")
    try:
        zero = parse(f"0 {unit}", kind).value
        return zero, parse(f"1 {unit}", kind).value - zero
    except Refusal as error:
        accepted = f"a unit of {kind} in brackets, such as [{KINDS[kind].shown}]"
        accepted += " or [in]" if kind == "length" else ""
        raise Refusal(f"{at}: {error.what}", accepted, error.do) from error


def number(cell: str, at: str = "") -> float:
    """Return the number of a cell, or refuse it; ``at`` begins what is wrong."""
    if _NUMBER.fullmatch(cell) and math.isfinite(float(cell)):
        return float(cell)
    do = "write a decimal point" if re.fullmatch(r"[+-]?\d+,\d+", cell) else ""
    raise Refusal(f'{at}"{_shown(cell)}" is not a finite number', "plain numbers, as 1.5", do)


def _shown(text: str) -> str:
    plain = "".join(c if c.isprintable() else " " for c in text[:50])
    return plain if len(text) <= 50 else plain[:46] + " ..."
