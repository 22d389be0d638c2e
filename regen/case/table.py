"""Text tables with units in their header; of two columns, values along the axis."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from regen.case.fields import Refusals
from regen.units import KINDS, NUMBER, Refusal, parse

MAX_BYTES = 5_000_000
MOST_TOLD = 12
"""Refusals of one file that are listed."""
_COLUMN = re.compile(r"\s*([A-Za-z_]\w*)\s*\[([^\]]*)\]\s*")
_NUMBER = re.compile(NUMBER)
_HEADER = 'a header such as "x [mm], {name} [{unit}]"'
_ADVICE = "the columns are separated by commas, semicolons or blanks; # begins a comment"


@dataclass(frozen=True, slots=True)
class Column:
    """Positions and values of one column, SI, and what the reader should be told."""

    x: tuple[float, ...]
    value: tuple[float, ...]
    data: bytes
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a table: its number from 1, its text, and what stands behind "#"."""

    number: int
    text: str
    comment: str


@dataclass(frozen=True, slots=True)
class Lines:
    """A table as lines: header, rows of values, the file's bytes, and what should be told."""

    header: Line
    rows: tuple[Line, ...]
    data: bytes
    notes: tuple[str, ...]


def read_column(path: Path, name: str, kind: str | None = "length") -> Column:
    """Read the columns ``x`` and ``name`` of a table.

    Parameters
    ----------
    path : Path
        File of text in UTF-8.
    name : str
        Column to read beside ``x``, each with a unit in the header [-].
    kind : str or None
        Key of ``units.KINDS`` of the column; None for plain numbers, whose unit is "-" [-].

    Returns
    -------
    Column
        Rising positions [m] and values [SI].

    Raises
    ------
    Refusal
        If the file cannot be read or is not such a table; names the line.
    """
    unit = KINDS[kind].shown if kind else "-"
    read = read_lines(path, _HEADER.format(name=name, unit=unit))
    header, rows = read.header, list(read.rows)
    named = _COLUMN.findall(header.text)
    units = dict(named)
    if len(units) < len(named):
        raise Refusal(f"{at(header, path.name)} names a column twice", "each name once")
    order = list(units)
    wanted = [
        _index(order, column, header, path.name, _HEADER.format(name=name, unit=unit), shown)
        for column, shown in (("x", "mm"), (name, unit))
    ]
    separator = _separator(header.text)
    table = [_row(row, separator, len(order), path.name) for row in rows]
    columns = []
    for index, of in zip(wanted, ("length", kind), strict=True):
        factor = _factor(units[order[index]], of, header, path.name)
        cells = [_number(row[index], at, path.name) for row, at in zip(table, rows, strict=True)]
        columns.append([factor * cell for cell in cells])
    if len(rows) < 2:
        found = f"line {rows[0].number} only" if rows else "none"
        raise Refusal(f"{path.name} has fewer than two rows of values ({found})", "two or more")
    _check_rising(columns[0], rows, path.name)
    return Column(tuple(columns[0]), tuple(columns[1]), read.data, read.notes)


@dataclass(frozen=True, slots=True)
class Columns:
    """Named columns of a table in SI, its lines, the file's bytes and what should be told."""

    values: dict[str, tuple[float, ...]]
    header: Line
    rows: tuple[Line, ...]
    data: bytes
    notes: tuple[str, ...]


def read_columns(path: Path, kinds: Mapping[str, str], wanted: str) -> Columns:
    """Read a table of several columns, each with a unit in the header.

    Parameters
    ----------
    path : Path
        File of text in UTF-8.
    kinds : mapping of str to str
        Key of ``units.KINDS`` of each column it may have, by name.
    wanted : str
        The header that is asked for, in words for a refusal [-].

    Returns
    -------
    Columns
        Values by name [SI]; at least one row.

    Raises
    ------
    Refusal
        If the file cannot be read or has no header with units.
    Refusals
        With every column, row and cell that is wrong, by its line.
    """
    read = read_lines(path, wanted)
    header, file = read.header, path.name
    if '"' in header.text:
        what = f"{at(header, file)}: its cells stand in quotation marks"
        raise Refusal(what, wanted, "save the table without quotation marks")
    wrong: list[Refusal] = []
    separator = _separator(header.text)
    named = _COLUMN.findall(header.text)
    for cell in re.sub(_COLUMN, "", header.text).replace(separator or " ", " ").split():
        what = f'{at(header, file)}: "{_shown(cell)}" is no column with its unit in brackets'
        wrong.append(Refusal(what, wanted))
    scales: list[tuple[float, float]] = []
    for n, (name, unit) in enumerate(named):
        scales.append((0.0, 1.0))
        if name in dict(named[:n]):
            wrong.append(Refusal(f'{at(header, file)} names "{name}" twice', "each name once"))
        elif name not in kinds:
            what, do = f'{at(header, file)}: "{name}" is no column of this table', ""
            if near := difflib.get_close_matches(name, kinds, 1):
                do = f'did you mean "{near[0]}"?'
            wrong.append(Refusal(what, "the columns " + ", ".join(kinds), do))
        else:
            try:
                scales[n] = _scale(unit, kinds[name], header, file)
            except Refusal as refusal:
                wrong.append(refusal)
    columns: list[list[float]] = [[] for _ in named]
    for row in read.rows:
        try:
            cells = _row(row, separator, len(named), file)
        except Refusal as refusal:
            wrong.append(refusal)
            continue
        for column, (zero, factor), cell in zip(columns, scales, cells, strict=True):
            try:
                column.append(zero + factor * _number(cell, row, file))
            except Refusal as refusal:
                wrong.append(refusal)
    if not read.rows:
        wrong.append(Refusal(f"{file} holds no rows of values", wanted + ", then the rows"))
    if wrong:
        raise Refusals(few(wrong, file))
    values = {name: tuple(column) for (name, _), column in zip(named, columns, strict=True)}
    return Columns(values, header, read.rows, read.data, read.notes)


def few(wrong: list[Refusal], file: str) -> list[Refusal]:
    """Return so many refusals as will be read, and how many more there are."""
    left = len(wrong) - MOST_TOLD
    if left <= 0:
        return wrong
    more = f"{file}: {left} more like these" if left > 1 else f"{file}: one more like these"
    return [*wrong[:MOST_TOLD], Refusal(more)]


def read_lines(path: Path, wanted: str) -> Lines:
    """Read a text table as lines: a header with units, then rows of values.

    Parameters
    ----------
    path : Path
        File of text in UTF-8.
    wanted : str
        The header that is asked for, in words for a refusal [-].

    Returns
    -------
    Lines
        Comments taken off, empty lines left out.

    Raises
    ------
    Refusal
        If the file cannot be read, has no header with units, or ends in the middle of a number.
    """
    data = file_bytes(path)
    text = decoded(data, path.name)
    lines = [_split_comment(i + 1, line) for i, line in enumerate(text.splitlines())]
    header, rows = _header_and_rows(lines, path.name, wanted)
    open_end = lines[-1].text and not text.endswith("\n")
    notes = (_unfinished(rows[-1], path.name),) if open_end and rows else ()
    return Lines(header, tuple(rows), data, notes)


def decoded(data: bytes, file: str) -> str:
    """Return the text of a file.

    Parameters
    ----------
    data : bytes
        Its content.
    file : str
        Its name, for the refusal [-].

    Returns
    -------
    str
        Without a byte-order mark.

    Raises
    ------
    Refusal
        If it is not UTF-8; names the line.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = f"{file} is not text in UTF-8 (line {line})"
        raise Refusal(what, "", "save it as plain text, UTF-8") from error


def at(line: Line, file: str) -> str:
    """Return a line of a file in words for a refusal."""
    return f'{file}, line {line.number} ("{_shown(line.text)}")'


def _shown(text: str) -> str:
    plain = "".join(c if c.isprintable() else " " for c in text[:50])
    return plain if len(text) <= 50 else plain[:46] + " ..."


def _unfinished(row: Line, file: str) -> str:
    if row.text.endswith("."):
        what = f"{at(row, file)}: the file ends in the middle of a number"
        raise Refusal(what, "whole rows, each with a line break", "write the file again")
    return (
        f"{at(row, file)}: the last line does not end with a line break; if the file was cut "
        "off, its last value may be short"
    )


def file_bytes(path: Path) -> bytes:
    """Return the content of a file that a case refers to.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    bytes
        As it is on disk.

    Raises
    ------
    Refusal
        If there is no such file, or it is too large or cannot be read.
    """
    try:
        if path.is_dir():
            raise Refusal(f"{path} is a folder", "a file of text")
        if not path.exists():
            do = "relative paths start at the folder of the case file"
            raise Refusal(f"there is no file {path}", "", do)
        if not path.is_file():
            raise Refusal(f"{path} is not a plain file", "a file of text")
        if path.stat().st_size > MAX_BYTES:
            what = f"{path.name} is too large"
            raise Refusal(what, f"at most {MAX_BYTES // 1_000_000} MB", "thin out its rows")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        if isinstance(error, Refusal):
            raise
        raise Refusal(f"the file cannot be read ({error})") from error


def _split_comment(number: int, line: str) -> Line:
    text, _, comment = line.partition("#")
    return Line(number, text.strip(), comment.strip())


def _header_and_rows(lines: list[Line], file: str, wanted: str) -> tuple[Line, list[Line]]:
    """Return the header, which may stand in a comment, and the lines with values."""
    rows = [line for line in lines if line.text]
    if not rows:
        raise Refusal(f"{file} holds no values", wanted + ", then the rows")
    if "[" in rows[0].text:
        return rows[0], rows[1:]
    before = [line for line in lines if line.number < rows[0].number and "[" in line.comment]
    if before and _COLUMN.findall(before[-1].comment):
        return Line(before[-1].number, before[-1].comment, ""), rows
    what = f"{at(rows[0], file)}: no header with units comes before the values"
    raise Refusal(what, wanted, "put the header in the first line")


def _separator(header: str) -> str | None:
    outside = re.sub(r"\[[^\]]*\]", "", header)
    return next((mark for mark in (";", ",") if mark in outside), None)


def _index(order: list[str], column: str, header: Line, file: str, wanted: str, unit: str) -> int:
    if column in order:
        return order.index(column)
    near = difflib.get_close_matches(column, order, 1)
    what = f'{at(header, file)}: no column "{column}"'
    do = f'rename "{near[0]}" to "{column}"' if near else f'name one column "{column} [{unit}]"'
    raise Refusal(what, wanted, do)


def _row(row: Line, separator: str | None, width: int, file: str) -> list[str]:
    cells = [cell.strip() for cell in row.text.split(separator)]
    if len(cells) == width:
        return cells
    what = f"{at(row, file)}: {len(cells)} values where the header names {width} columns"
    raise Refusal(what, _ADVICE, "complete the row, or the file if it was cut off")


def _factor(unit: str, kind: str | None, header: Line, file: str) -> float:
    """Return one unit of the header in SI."""
    if kind is None:
        if unit.strip() == "-":
            return 1.0
        what = f'{at(header, file)}: "{unit}" is a unit, and the column is a plain number'
        raise Refusal(what, "[-]")
    return _scale(unit, kind, header, file)[1]


def _scale(unit: str, kind: str, header: Line, file: str) -> tuple[float, float]:
    """Return zero of the header's unit in SI, which degC and gauge pressures shift, and one."""
    try:
        zero = parse(f"0 {unit}", kind).value
        return zero, parse(f"1 {unit}", kind).value - zero
    except Refusal as error:
        what = f"{at(header, file)}: {error.what}"
        accepted = f"a unit of {kind} in brackets, such as [{KINDS[kind].shown}]"
        accepted += " or [in]" if kind == "length" else ""
        raise Refusal(what, accepted, error.do) from error


def _number(cell: str, row: Line, file: str) -> float:
    if _NUMBER.fullmatch(cell) and math.isfinite(float(cell)):
        return float(cell)
    what = f'{at(row, file)}: "{_shown(cell)}" is not a finite number'
    do = "write a decimal point" if re.fullmatch(r"[+-]?\d+,\d+", cell) else ""
    raise Refusal(what, "plain numbers, as 1.5", do)


def _check_rising(x: list[float], rows: list[Line], file: str) -> None:
    for before, after, row in zip(x, x[1:], rows[1:], strict=False):
        if after <= before:
            trouble = "repeats the x of the row before" if after == before else "x falls"
            what = f"{at(row, file)}: {trouble}"
            raise Refusal(what, "x rising from row to row", "sort the rows by x")
