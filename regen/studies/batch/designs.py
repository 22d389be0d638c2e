"""Many designs at once: a base design with keys at other values, solved and judged row by row."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks.judge import Evaluated, judge
from regen.design import Design
from regen.errors import GeometryError, RangeError
from regen.solver.prepare import Prepared, prepare
from regen.solver.solve import Judged, MarchError, Unsolved, solve_designs
from regen.studies.batch.gas_axes import GridError, Span, interpolated, spans_of
from regen.studies.batch.parameters import Parameter, all_applied, applied
from regen.studies.batch.rows import ALONG, MORE, OF_THE_BAND, RUNS, SUMMARY, Rows, blank, joined
from regen.studies.batch.template import Template, shares_tables, template_of

__all__ = ["ALONG", "RUNS", "MORE", "SUMMARY", "Judged", "DesignBatch", "Rows", "solve_batch"]

Array = NDArray[np.float64]

ROLES = ("gas_side", "coolant_side", "friction", "boiling")
"""Models that a batch may vary by name."""

MOST_TABLES = 400
"""Values of the hot gas, in all combinations, that may have a table each where tables between
them are too coarse: some 60 ms apiece."""

CHUNK: dict[Judged, int] = {"nominal": 256, "worst": 256, "full": 32}
"""Designs a chunk: large enough to hide the calls, small enough for the processor's cache."""


@dataclass(frozen=True)
class DesignBatch:
    """L designs: a base, K keys with a value each (L, K) in SI, and models by role, if varied.

    ``models`` maps a role of ``ROLES`` to one name for each row. ``spans`` are those of the whole
    study, of which a batch may be a part: gas tables are laid over them, so that a row does not
    depend on the part it is in. Without them the batch is the whole.
    """

    design: Design
    keys: tuple[Parameter, ...]
    values: Array
    models: Mapping[str, Sequence[str]] | None = None
    spans: Mapping[str, Span] | None = None

    def __len__(self) -> int:
        return int(self.values.shape[0])

    def taken(self, at: NDArray[np.int64]) -> DesignBatch:
        """Return some rows of the batch, by their numbers (n,) [-]."""
        models = {role: [names[n] for n in at] for role, names in (self.models or {}).items()}
        return replace(self, values=self.values[at], models=models or None, spans=self.all_spans)

    @property
    def all_spans(self) -> Mapping[str, Span]:
        """Spans of the whole study by the path of a key."""
        return spans_of(self.keys, self.values) if self.spans is None else self.spans

    def part(self, start: int, stop: int) -> DesignBatch:
        """Return rows ``start`` to ``stop`` of the batch [-]."""
        return self.taken(np.arange(start, min(stop, len(self))))

    def row(self, n: int) -> Design:
        """Return one row as a design of its own."""
        return self.rows(np.array([n]))[0]

    def rows(self, at: NDArray[np.int64]) -> list[Design]:
        """Return some rows (n,) as designs of their own."""
        designs = all_applied(self.design, self.keys, self.values[at].tolist())
        for i, n in enumerate(at if self.models else ()):
            named: dict[str, Any] = {role: names[n] for role, names in (self.models or {}).items()}
            models = replace(designs[i].models, **named)
            designs[i] = replace(designs[i], models=models)
        return designs


Group = tuple[NDArray[np.int64], Template]
"""Rows that share tables: where they belong, and their template."""

Part = tuple[NDArray[np.int64], Rows]


def solve_batch(
    batch: DesignBatch,
    *,
    judged: Judged = "full",
    threads: int = 1,
    along: bool = False,
    stationwise: bool = False,
) -> Rows:
    """Solve and judge every row of a batch, with the runs ``judged`` beside the nominal.

    ``along`` keeps the columns ``ALONG`` of the nominal run, ``stationwise`` the margins at every
    station; uncooled ends, which are no station, are then not judged. Rows do not depend on how a
    batch is cut into parts.

    Rows that differ in slots, wall, coolant flow and the like share tables and go through the
    core together; other keys ask for tables of their own, one for each of their values.
    """
    parts: list[Part] = []
    groups = _groups(batch, parts, judged)
    size = min(CHUNK[judged], -(-len(batch) // threads))
    chunks = (
        (at[start : start + size], template)
        for at, template in groups
        for start in range(0, at.size, size)
    )

    def solved(chunk: Group) -> Part:
        at, template = chunk
        return at, _solved(template.lay(batch.rows(at)), judged, along, stationwise)

    if threads == 1:
        parts += map(solved, chunks)
    else:
        with ThreadPoolExecutor(threads) as pool:
            parts += pool.map(solved, chunks)
    return joined(parts, len(batch), judged)


def _groups(batch: DesignBatch, parts: list[Part], judged: Judged) -> Iterator[Group]:
    """Yield rows that share tables; those for which there are none go into ``parts``."""
    spans = batch.all_spans
    shared = np.array([shares_tables(key, batch.design, spans) for key in batch.keys], dtype=bool)
    keys = [key for key, alike in zip(batch.keys, shared, strict=True) if alike]
    others = [(k, key) for k, key in enumerate(batch.keys) if not shared[k]]
    for at in _alike(batch.values[:, ~shared]):
        base = batch.design
        for k, key in others:
            base = applied(base, key, float(batch.values[at[0], k]))
        try:
            yield at, template_of(base, keys, spans)
        except GridError as error:
            yield from _by_value(batch, at, parts, judged, error)
        except (GeometryError, RangeError) as error:
            rows = blank(at.size, judged)
            for n, place in enumerate(at):
                _fail(rows, n, _refusal(batch.row(int(place)), error))
            parts.append((at, rows))


def _refusal(design: Design, error: Unsolved) -> Unsolved:
    """Return why a design cannot be prepared, for its own reason if it has one."""
    try:
        prepare(design)
    except (GeometryError, RangeError) as own:
        return own
    return error


def _by_value(
    batch: DesignBatch,
    at: NDArray[np.int64],
    parts: list[Part],
    judged: Judged,
    error: GridError,
) -> Iterator[Group]:
    """Yield rows whose gas no tables between values serve: a table a value, if these are few."""
    spans = dict(batch.all_spans)
    of_gas = [key.name for key in batch.keys if interpolated(key, batch.design, spans)]
    if np.prod([spans[name].count for name in of_gas]) > MOST_TABLES:
        rows = blank(at.size, judged)  # each row would ask for a chemistry of its own
        rows.status[:], rows.reason[:] = "out of range", str(error)
        parts.append((at, rows))
        return
    spans |= {name: replace(spans[name], count=1) for name in of_gas}
    solved: list[Part] = []
    for some, template in _groups(replace(batch.taken(at), spans=spans), solved, judged):
        yield at[some], template
    parts += [(at[some], rows) for some, rows in solved]


def _alike(values: Array) -> list[NDArray[np.int64]]:
    """Return the rows with the same values, group by group, in order of first appearance."""
    if not values.shape[1]:
        return [np.arange(values.shape[0])] if values.shape[0] else []
    groups: dict[bytes, list[int]] = {}
    for n, row in enumerate(values):
        groups.setdefault(row.tobytes(), []).append(n)
    return [np.array(rows) for rows in groups.values()]


def _solved(prepared: Prepared, judged: Judged, along: bool, stationwise: bool) -> Rows:
    """Solve and judge some rows that share tables."""
    rows = blank(len(prepared.designs), judged)
    solved, failures = solve_designs(prepared, judged)
    for n, why in failures.items():
        _fail(rows, n, why)
    if solved is None:
        return rows
    evaluated, at = Evaluated(solved), solved.at
    judgement = judge(evaluated, stationwise=stationwise)
    rows.status[at], rows.verdict[at] = "solved", judgement.verdict
    rows.nominal_kept[at] = judgement.kept
    totals = dict(evaluated.nominal.totals)
    if solved.worst is not None:
        totals["T_wall_hot_max_worst_K"] = evaluated.worst_peak
    if solved.members:
        totals |= {name: evaluated.highest(name.replace("_band", "")) for name in OF_THE_BAND}
    for name, values in rows.summary.items():
        values[at] = totals[name]
    for limit, columns in judgement.columns.items():
        margins = rows.margins[limit] = {run: np.full(len(rows), np.nan) for run in RUNS}
        for run, column in columns.items():
            margins[run][at] = column.margin
    everywhere = {
        limit: {run: _spread(values, at, len(rows)) for run, values in columns.items()}
        for limit, columns in judgement.along.items()
    }
    kept, x = {}, None
    if along:
        stations = evaluated.nominal.stations
        x = _spread(stations["x_m"], at, len(rows))
        kept = {name: _spread(stations[name], at, len(rows)) for name in ALONG}
    return replace(
        rows, informative=judgement.informative, along=kept, x=x, margins_along=everywhere
    )


def _spread(values: Array, at: NDArray[np.int64], size: int) -> Array:
    """Return rows (n, S) at their places among so many, NaN elsewhere."""
    whole = np.full((size, values.shape[1]), np.nan)
    whole[at] = values
    return whole


def _fail(rows: Rows, n: int, why: Unsolved) -> None:
    """Give status, reason and station reached of a row that was not solved."""
    rows.reason[n] = str(why).replace("\n\n", "; ")
    rows.status[n] = "no such geometry" if isinstance(why, GeometryError) else "out of range"
    if isinstance(why, MarchError):
        rows.status[n], rows.x_stop[n] = why.status, why.station_x
