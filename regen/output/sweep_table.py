"""The table of a sweep: written part by part, joined as CSV or Parquet, read back and summarised.

Parquet needs pyarrow, of the extra "sweep".
"""

# ruff: noqa: EM101, EM102 - these messages are read by people, never in a traceback

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO, StringIO
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks.verdict import VERDICTS
from regen.output.folder import OutputError
from regen.output.table import Table
from regen.result import Array
from regen.shop.cutters.plan import cannot_cut
from regen.sources import read_data
from regen.studies.batch.designs import Rows
from regen.studies.batch.rows import ASKED
from regen.studies.sweep.plan import SweepPlan

BLOCK = 8192
"""Rows that are read at once."""

NO_DEMAND = "1"
"""Margin of a solved row where a limit makes no demand; see ``studies.batch.rows.Rows``."""

WORDED = ("status", "verdict", "reason")
"""Columns that hold texts; all others hold numbers."""

TEXTS: Mapping[str, Mapping[str, str]] = read_data("studies.toml")["sweep"]
"""What columns and judged runs mean, and what makes two sweeps different ones."""

DROP, WALL, LAND = "coolant_pressure_drop_Pa", "T_wall_hot_max_K", "land_width_min_m"
THROAT = "throat_diameter_m"

CANDIDATES = 16
"""Rows of least pressure drop, and of the coolest wall, of which the first that can be milled is
named: to find out takes a quarter of a second each where the shop's cutters are given."""

MOST_DRAWN = 8_000
MOST_ON_AXIS = {1: 2000, 2: 100}
"""Most rows that are drawn; most values of each axis of a grid of one key or of two."""

GOLDEN = 0.6180339887498949
"""Fractional parts of its multiples fill 0 to 1 evenly, however many there are."""

Block = dict[str, Any]
"""Columns by name, of as many rows each."""


def part_text(plan: SweepPlan, rows: Rows, first: int) -> str:
    """Return solved rows, those of the plan from ``first`` on, as CSV text with a header.

    Keys in full, everything solved to nine digits; nothing stands where there is no value.
    """
    number = np.arange(first, first + len(rows))
    values = plan.values(first, first + len(rows)).T
    margins = {
        f"margin_{limit}_{run}": by_run[run]
        for limit, by_run in rows.margins.items()
        for run in ASKED[plan.judged]
    }
    return Table.of_arrays(
        {
            "row": number,
            **{p.column: _exact(column) for p, column in zip(plan.parameters, values, strict=True)},
            "status": rows.status,
            "verdict": rows.verdict,
            "nominal_kept": np.where(rows.solved, rows.nominal_kept.astype(int).astype(str), ""),
            **rows.summary,
            **margins,
            "x_reached_m": rows.x_stop,
            "reason": np.array([" ".join(text.split()) for text in rows.reason], dtype=object),
        }
    ).csv()


def _exact(values: Array) -> NDArray[np.object_]:
    """Return numbers as the shortest texts that read back as the same."""
    return np.array([repr(value).removesuffix(".0") for value in values.tolist()], dtype=object)


def merged(headers: Iterable[Sequence[str]]) -> list[str]:
    """Return the columns of all parts: a limit may be judged in some parts only.

    What a part adds stands behind what it follows there.
    """
    columns: list[str] = []
    for header in headers:
        for at, name in enumerate(header):
            if name not in columns:
                before = [columns.index(other) for other in header[:at]]
                columns.insert(max(before, default=-1) + 1, name)
    return columns


def fitted(lines: Sequence[str], header: Sequence[str]) -> Iterator[str]:
    """Yield the rows of a part (its own header first) under the header of the whole table.

    A limit that the part does not know makes no demand there.
    """
    own = lines[0].split(",")
    if own == list(header):
        yield from lines[1:]
        return
    for row in csv.DictReader(lines):
        free = NO_DEMAND if row["status"] == "solved" else ""
        buffer = StringIO()
        csv.writer(buffer, lineterminator="").writerow([row.get(name, free) for name in header])
        yield buffer.getvalue()


def check_parquet() -> None:
    """Refuse Parquet where pyarrow is missing, before anything is computed."""
    try:
        import pyarrow.parquet  # noqa: F401 - a large package, for one format
    except ImportError as error:
        raise OutputError(TEXTS["usage"]["parquet"]) from error


def write_parquet(path: Path, header: Sequence[str], parts: Iterable[Sequence[str]]) -> None:
    """Write the CSV lines of all parts as one Parquet file."""
    import pyarrow as pa
    from pyarrow import csv as arrow_csv
    from pyarrow import parquet

    kinds = {"row": pa.int64()} | dict.fromkeys(WORDED, pa.string())
    schema = pa.schema([(name, kinds.get(name, pa.float64())) for name in header])
    convert = arrow_csv.ConvertOptions(
        column_types=schema, null_values=[""], strings_can_be_null=True
    )
    with parquet.ParquetWriter(path, schema) as writer:
        for lines in parts:
            text = "\n".join([",".join(header), *fitted(lines, header)])
            writer.write_table(arrow_csv.read_csv(BytesIO(text.encode()), convert_options=convert))


def blocks(path: Path) -> Iterator[Block]:
    """Read a table in blocks of rows, NaN for no number: it may be far larger than the memory."""
    if path.suffix == ".parquet":
        from pyarrow import parquet

        with parquet.ParquetFile(path) as file:
            for batch in file.iter_batches(BLOCK):
                yield {name: _array(name, cells) for name, cells in batch.to_pydict().items()}
        return
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.reader(file)
        header = next(reader)
        while rows := list(islice(reader, BLOCK)):
            columns = zip(header, zip(*rows, strict=True), strict=True)
            yield {name: _array(name, cells) for name, cells in columns}


def _array(name: str, cells: Sequence[Any]) -> Any:
    if name in WORDED:
        return np.array([cell or "" for cell in cells], dtype=object)
    return np.array([np.nan if cell in (None, "") else float(cell) for cell in cells])


@dataclass(frozen=True)
class SweepSummary:
    """A sweep in short.

    ``sample`` and ``front`` hold columns by name: rows to draw, all of them or every so many, and
    the rows whose nominal channel meets every limit and that no other such row beats in both
    pressure drop and wall temperature, by rising pressure drop. ``best_verdict`` is the best of
    such rows; of those with it ``best`` has the row of least ``DROP`` and of least ``WALL`` whose
    slots can be milled, and ``refused`` how many rows came before it that cannot, the first of
    them and why. ``informative`` are the limits that never decide a verdict; ``kept`` counts the
    rows that meet every limit.
    """

    plan: SweepPlan
    rows: int
    status: Counter[str]
    verdicts: Counter[str]
    best_verdict: str | None
    best: Mapping[str, Block]
    refused: Mapping[str, tuple[int, int, str]]
    sample: Block
    front: Block
    informative: frozenset[str]
    kept: int

    @property
    def limits(self) -> list[str]:
        """Limits that the table holds margins of, in order."""
        columns = [name for name in self.sample if name.endswith("_nominal")]
        return [name.removeprefix("margin_").removesuffix("_nominal") for name in columns]

    @property
    def solved(self) -> int:
        """Rows that were solved."""
        return self.status["solved"]

    @property
    def thinned(self) -> bool:
        """Whether some rows are not drawn."""
        return len(self.sample["row"]) < self.rows

    @property
    def deciding(self) -> list[str]:
        """Limits that decide a verdict."""
        return [name for name in self.limits if name not in self.informative]

    def margin(self, limit: str, run: str = "nominal") -> Array:
        """Return the margins of the drawn rows [-], NaN where there is none."""
        return np.asarray(self.sample[f"margin_{limit}_{run}"])

    def least(self, run: str = "nominal") -> Array:
        """Return the least margin of the drawn rows over the limits that decide [-].

        NaN where one of them was not evaluated.
        """
        if not self.deciding:
            return np.full(len(self.sample["row"]), np.nan)
        return np.asarray(np.min([self.margin(name, run) for name in self.deciding], axis=0))


def summary_of(path: Path, plan: SweepPlan, informative: frozenset[str]) -> SweepSummary:
    """Read a table once and keep what is printed and drawn, as small for a million rows as for few.

    No row is named that the shop cannot mill: the margins of a row know lands, aspect, and width
    and depth of the cutters, but not what a disc leaves at an arc.
    """
    status: Counter[str] = Counter()
    verdicts: Counter[str] = Counter()
    lowest: dict[str, dict[str, Block]] = {}
    drawn: list[Block] = []
    front: Block = {}
    kept = 0
    for block in blocks(path):
        status.update(block["status"])
        verdicts.update(block["verdict"])
        drawn.append(_rows(block, _is_drawn(plan, block["row"])))
        good = _rows(block, block["nominal_kept"] == 1.0)
        kept += len(good["row"])
        for verdict in set(good["verdict"]):
            known, same = lowest.setdefault(verdict, {}), _rows(good, good["verdict"] == verdict)
            for name in (DROP, WALL):
                whole = _joined([known[name], same]) if name in known else same
                known[name] = _rows(whole, np.argsort(whole[name], kind="stable")[:CANDIDATES])
        front = front_of(_joined([front, good]) if front else good)
    verdicts.pop("", None)
    best_verdict = next((verdict for verdict in VERDICTS if verdict in lowest), None)
    best, refused = _first_millable(lowest.get(best_verdict or "", {}), plan)
    return SweepSummary(
        *(plan, status.total(), status, verdicts, best_verdict, best, refused),
        *(_joined(drawn), front, informative, kept),
    )


def _is_drawn(plan: SweepPlan, row: Array) -> NDArray[np.bool_]:
    """Tell which rows are drawn: all, or values of each axis evenly spaced by number.

    Where there is no grid of one or two keys, rows are scattered evenly: every so many would take
    few values of the last key.
    """
    number = row.astype(np.int64)
    most = MOST_ON_AXIS.get(len(plan.shape)) if plan.table is None else None
    if most is None:
        return np.asarray((number * GOLDEN) % 1.0 < MOST_DRAWN / len(plan))
    places = np.unravel_index(number, plan.shape)
    chosen = [
        np.isin(place, np.linspace(0, size - 1, min(size, most)).round().astype(int))
        for place, size in zip(places, plan.shape, strict=True)
    ]
    return np.asarray(np.logical_and.reduce(chosen))


def _rows(block: Block, which: Any) -> Block:
    return {name: values[which] for name, values in block.items()}


def _joined(parts: list[Block]) -> Block:
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _first_millable(
    lowest: dict[str, Block], plan: SweepPlan
) -> tuple[dict[str, Block], dict[str, tuple[int, int, str]]]:
    """Return the first row by each quantity that the shop can mill, and what came before it."""

    @cache
    def problem(row: int, diameter: float) -> str:
        design = plan.batch(row, row + 1).row(0)
        return next(iter(cannot_cut(design, 0.5 * diameter)), "")

    best: dict[str, Block] = {}
    refused: dict[str, tuple[int, int, str]] = {}
    for name, rows in lowest.items():
        for n, (row, diameter) in enumerate(zip(rows["row"], rows[THROAT], strict=True)):
            if not (reason := problem(int(row), float(diameter))):
                best[name] = _rows(rows, n)
                break
            _, first, why = refused.get(name, (0, int(row), reason))
            refused[name] = n + 1, first, why
    return best, refused


def front_of(block: Block) -> Block:
    """Return the rows that no other beats in both, by rising pressure drop."""
    order = np.lexsort((block["row"], block[WALL], block[DROP]))
    T = block[WALL][order]
    cooler = T < np.concatenate([[np.inf], np.minimum.accumulate(T)[:-1]])
    return _rows(block, order[cooler])
