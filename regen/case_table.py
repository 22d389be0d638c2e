"""Two columns from a text table with units in its header: values along the axis."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from pathlib import Path

from regen.units import KINDS, NUMBER, Refusal, parse

MAX_BYTES = 5_000_000
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
class _Line:
    number: int
    text: str
    comment: str


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
    data = file_bytes(path)
    text = decoded(data, path.name)
    lines = [_split_comment(i + 1, line) for i, line in enumerate(text.splitlines())]
    unit = KINDS[kind].shown if kind else "-"
    header, rows = _header_and_rows(lines, path.name, _HEADER.format(name=name, unit=unit))
    named = _COLUMN.findall(header.text)
    units = dict(named)
    if len(units) < len(named):
        raise Refusal(f"{_at(header, path.name)} names a column twice", "each name once")
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
    open_end = lines[-1].text and not text.endswith("\n")
    notes = (_unfinished(rows[-1], path.name),) if open_end else ()
    return Column(tuple(columns[0]), tuple(columns[1]), data, notes)


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


def _at(line: _Line, file: str) -> str:
    return f'{file}, line {line.number} ("{_shown(line.text)}")'


def _shown(text: str) -> str:
    plain = "".join(c if c.isprintable() else " " for c in text[:50])
    return plain if len(text) <= 50 else plain[:46] + " ..."


def _unfinished(row: _Line, file: str) -> str:
    if row.text.endswith("."):
        what = f"{_at(row, file)}: the file ends in the middle of a number"
        raise Refusal(what, "whole rows, each with a line break", "write the file again")
    return (
        f"{_at(row, file)}: the last line does not end with a line break; if the file was cut "
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


def _split_comment(number: int, line: str) -> _Line:
    text, _, comment = line.partition("#")
    return _Line(number, text.strip(), comment.strip())


def _header_and_rows(lines: list[_Line], file: str, wanted: str) -> tuple[_Line, list[_Line]]:
    """Return the header, which may stand in a comment, and the lines with values."""
    rows = [line for line in lines if line.text]
    if not rows:
        raise Refusal(f"{file} holds no values", wanted + ", then the rows")
    if "[" in rows[0].text:
        return rows[0], rows[1:]
    before = [line for line in lines if line.number < rows[0].number and "[" in line.comment]
    if before and _COLUMN.findall(before[-1].comment):
        return _Line(before[-1].number, before[-1].comment, ""), rows
    what = f"{_at(rows[0], file)}: no header with units comes before the values"
    raise Refusal(what, wanted, "put the header in the first line")


def _separator(header: str) -> str | None:
    outside = re.sub(r"\[[^\]]*\]", "", header)
    return next((mark for mark in (";", ",") if mark in outside), None)


def _index(order: list[str], column: str, header: _Line, file: str, wanted: str, unit: str) -> int:
    if column in order:
        return order.index(column)
    near = difflib.get_close_matches(column, order, 1)
    what = f'{_at(header, file)}: no column "{column}"'
    do = f'rename "{near[0]}" to "{column}"' if near else f'name one column "{column} [{unit}]"'
    raise Refusal(what, wanted, do)


def _row(row: _Line, separator: str | None, width: int, file: str) -> list[str]:
    cells = [cell.strip() for cell in row.text.split(separator)]
    if len(cells) == width:
        return cells
    what = f"{_at(row, file)}: {len(cells)} values where the header names {width} columns"
    raise Refusal(what, _ADVICE, "complete the row, or the file if it was cut off")


def _factor(unit: str, kind: str | None, header: _Line, file: str) -> float:
    """Return one unit of the header in SI."""
    if kind is None:
        if unit.strip() == "-":
            return 1.0
        what = f'{_at(header, file)}: "{unit}" is a unit, and the column is a plain number'
        raise Refusal(what, "[-]")
    try:
        return parse(f"1 {unit}", kind).value
    except Refusal as error:
        what = f"{_at(header, file)}: {error.what}"
        accepted = f"a unit of {kind} in brackets, such as [{KINDS[kind].shown}]"
        accepted += " or [in]" if kind == "length" else ""
        raise Refusal(what, accepted, error.do) from error


def _number(cell: str, row: _Line, file: str) -> float:
    if _NUMBER.fullmatch(cell) and math.isfinite(float(cell)):
        return float(cell)
    what = f'{_at(row, file)}: "{_shown(cell)}" is not a finite number'
    do = "write a decimal point" if re.fullmatch(r"[+-]?\d+,\d+", cell) else ""
    raise Refusal(what, "plain numbers, as 1.5", do)


def _check_rising(x: list[float], rows: list[_Line], file: str) -> None:
    for before, after, row in zip(x, x[1:], rows[1:], strict=False):
        if after <= before:
            trouble = "repeats the x of the row before" if after == before else "x falls"
            what = f"{_at(row, file)}: {trouble}"
            raise Refusal(what, "x rising from row to row", "sort the rows by x")
