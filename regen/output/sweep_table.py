"""The table of a sweep: its columns, the text of its rows, and rows read back in blocks."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from io import StringIO
from pathlib import Path
from typing import Any

import numpy as np

from regen.result import Array
from regen.solver.solve import Judged
from regen.studies.batch.rows import ASKED, Rows
from regen.studies.sweep.plan import Plan

BLOCK = 8192
"""Rows that are read at once [-]."""

NO_DEMAND = "1"
"""Margin of a solved row where a limit makes no demand; see ``studies.rows.Rows``."""

TEXTS = ("status", "verdict", "reason")
"""Columns that hold words; all others hold numbers."""

COLUMNS = {
    "row": "number of the row, from 0; the last key varies fastest",
    "_over_case": "a key in per cent of the case's own values along x: the factor on them",
    "_of_fuel": "a flow as a share of the fuel",
    "status": "solved, or in a word or two why not",
    "verdict": "of the runs that were judged; as in regen solve where all are",
    "nominal_kept": "1 where the nominal channel is shown to keep every limit that decides, else 0",
    "margin": "(limit - value)/limit for an upper limit, (value - limit)/limit for a lower one; "
    "1 where the limit makes no demand; empty: not solved, or not evaluated",
    "x_reached_m": "station at which the march stopped",
    "reason": "why it was not solved, and what to do",
}
"""Columns that do not explain themselves."""


def columns_of(
    plan: Plan, summary: Sequence[str], limits: Sequence[str], judged: Judged
) -> list[str]:
    """Return the columns of a table.

    Parameters
    ----------
    plan : Plan
        Its keys have a column each.
    summary : sequence of str
        Names of solved quantities [-].
    limits : sequence of str
        Names of limits; each has a margin for each run judged [-].
    judged : {"nominal", "worst", "full"}
        Runs that were judged.

    Returns
    -------
    list of str
        In the order of the table.
    """
    margins = [f"margin_{name}_{run}" for name in limits for run in ASKED[judged]]
    keys = [key.column for key in plan.keys]
    return [
        "row",
        *keys,
        "status",
        "verdict",
        "nominal_kept",
        *summary,
        *margins,
        "x_reached_m",
        "reason",
    ]


def part_text(plan: Plan, rows: Rows, first: int, judged: Judged) -> str:
    """Return one part of the table as CSV text with a header of its own.

    Parameters
    ----------
    plan : Plan
        The whole sweep's.
    rows : Rows
        Solved rows, those of the plan from ``first`` on.
    first : int
        Number of the first row [-].
    judged : {"nominal", "worst", "full"}
        Runs whose margins are written.

    Returns
    -------
    str
        Keys in full, everything solved to nine digits; nothing stands where there is no value.
    """
    header = columns_of(plan, tuple(rows.summary), tuple(rows.margins), judged)
    runs = ASKED[judged]
    numbers = [*rows.summary.values()]
    numbers += [by_run[run] for by_run in rows.margins.values() for run in runs]
    solved = np.stack([*numbers, rows.x_stop], axis=1).tolist()
    form = ",".join(["%.9g"] * (len(numbers) + 1))
    lines = [",".join(header)]
    keys = plan.values(first, first + len(rows)).tolist()
    kept = np.where(rows.solved, rows.nominal_kept.astype(int).astype(str), "")
    texts = zip(rows.status, rows.verdict, kept, rows.reason, strict=True)
    for n, (status, verdict, nominal, reason) in enumerate(texts):
        # letters stand in no number but this one: a value that there is not
        found = (form % tuple(solved[n])).replace("nan", "")
        varied = ",".join(map(_exact, keys[n]))
        said = _quoted(" ".join(reason.split()))
        head = f"{first + n},{varied},{_quoted(status)},{_quoted(verdict)},{nominal}"
        lines.append(f"{head},{found},{said}")
    return "\n".join(lines) + "\n"


def _exact(value: float) -> str:
    """Return a number as the shortest text that reads back as the same."""
    return repr(value).removesuffix(".0")


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"' if "," in text or '"' in text else text


def limits_of(header: Sequence[str], judged: Judged) -> list[str]:
    """Return the limits that a part's columns hold margins of, in order."""
    run = f"_{ASKED[judged][0]}"
    found = [name for name in header if name.startswith("margin_") and name.endswith(run)]
    return [name.removeprefix("margin_").removesuffix(run) for name in found]


def fitted(lines: Sequence[str], header: Sequence[str]) -> Iterator[str]:
    """Yield the rows of a part under the header of the whole.

    Parameters
    ----------
    lines : sequence of str
        The part's header and rows, without line ends.
    header : sequence of str
        Columns of the whole table; a limit that the part does not know makes no demand there.

    Yields
    ------
    str
        Rows without line ends.
    """
    own = lines[0].split(",")
    if own == list(header):
        yield from lines[1:]
        return
    place = {name: n for n, name in enumerate(own)}
    for cells in csv.reader(lines[1:]):
        free = NO_DEMAND if cells[place["status"]] == "solved" else ""
        row = [cells[place[name]] if name in place else free for name in header]
        buffer = StringIO()
        csv.writer(buffer, lineterminator="").writerow(row)
        yield buffer.getvalue()


def blocks(path: Path, wanted: Sequence[str]) -> Iterator[dict[str, Any]]:
    """Read columns of a table that may be far larger than the memory.

    Parameters
    ----------
    path : Path
        CSV, or Parquet by its suffix.
    wanted : sequence of str
        Names of columns; one that the table does not have is left out [-].

    Yields
    ------
    dict of str to ndarray
        By column, in blocks of rows: numbers, NaN where there is none, or words.
    """
    if path.suffix == ".parquet":
        yield from _parquet_blocks(path, wanted)
        return
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.reader(file)
        header = next(reader)
        places = [(name, header.index(name)) for name in wanted if name in header]
        cells: dict[str, list[str]] = {name: [] for name, _ in places}
        for count, row in enumerate(reader, start=1):
            for name, place in places:
                cells[name].append(row[place])
            if count % BLOCK == 0:
                yield {name: _column(name, texts) for name, texts in cells.items()}
                cells = {name: [] for name, _ in places}
        if any(cells.values()):
            yield {name: _column(name, texts) for name, texts in cells.items()}


def _column(name: str, texts: list[str]) -> Any:
    if name in TEXTS:
        return np.array(texts, dtype=object)
    return np.array([float(text) if text else np.nan for text in texts])


def _parquet_blocks(path: Path, wanted: Sequence[str]) -> Iterator[dict[str, Any]]:
    from regen.output.sweep_parquet import read_blocks

    yield from read_blocks(path, wanted, BLOCK)


def numbers(block: dict[str, Any], name: str) -> Array:
    """Return a column of numbers [any], NaN all along if the table has none."""
    found: Array = block.get(name, np.full(len(block["row"]), np.nan))
    return found
