"""Many designs at once: a base design with keys at other values, solved and judged row by row."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks.review import review
from regen.design import Design
from regen.errors import GeometryError, RangeError
from regen.geometry.circuits import lay_paths, shifted
from regen.result import Result
from regen.solver.prepare import Prepared
from regen.solver.solve import MarchError
from regen.solver.worst_channel import corners
from regen.studies.batch.gas_axes import GridError, Span, interpolated, spans_of
from regen.studies.batch.judged import march_layout, one_row
from regen.studies.batch.layout import Template, fast, laid_out, template_of
from regen.studies.batch.parameters import Parameter, applied
from regen.studies.batch.rows import (
    ALONG,
    ASKED,
    MORE,
    RUNS,
    SUMMARY,
    Judged,
    Rows,
    blank,
    joined,
)

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
        design = self.design
        for key, value in zip(self.keys, self.values[n], strict=True):
            design = applied(design, key, float(value))
        named: dict[str, Any] = {role: names[n] for role, names in (self.models or {}).items()}
        return replace(design, models=replace(design.models, **named)) if named else design


@dataclass(frozen=True)
class _Group:
    """Rows that share tables: where they belong, what they differ by, and their template."""

    at: NDArray[np.int64]
    keys: tuple[Parameter, ...]
    columns: NDArray[np.int64]
    template: Template


Part = tuple[NDArray[np.int64], Rows]


def solve_batch(
    batch: DesignBatch,
    *,
    judged: Judged = "full",
    threads: int = 1,
    along: bool = False,
    stationwise: bool = False,
) -> Rows:
    """Solve and judge every row of a batch.

    Parameters
    ----------
    batch : DesignBatch
        The designs.
    judged : {"nominal", "worst", "full"}
        Runs that are solved beside the nominal.
    threads : int
        Threads to spread the work over [-].
    along : bool
        Keep the columns ``ALONG`` of the nominal run.
    stationwise : bool
        Keep the margins at every station, of rows that go through the core together; uncooled
        ends, which are no station, are then not judged.

    Returns
    -------
    Rows
        A row for each design, solved or not; rows do not depend on how a batch is cut into parts.

    Notes
    -----
    Rows that differ in slots, wall, coolant flow and the like share tables and go through the
    core together; other keys ask for tables of their own, one for each of their values. Several
    circuits, and manifolds, are solved one design at a time.
    """
    parts: list[Part] = []
    groups = _groups(batch, parts, judged, along)
    size = min(CHUNK[judged], -(-len(batch) // threads))
    chunks = (chunk for group in groups for chunk in _chunks(group, size))

    def solved(chunk: _Group) -> Part:
        return _solved(batch, chunk, judged, along, stationwise)

    if threads == 1:
        parts += map(solved, chunks)
    else:
        with ThreadPoolExecutor(threads) as pool:
            parts += pool.map(solved, chunks)
    return joined(parts, len(batch), judged)


def _chunks(group: _Group, size: int) -> Iterator[_Group]:
    for start in range(0, group.at.size, size):
        yield replace(group, at=group.at[start : start + size])


def _groups(batch: DesignBatch, parts: list[Part], judged: Judged, along: bool) -> Iterator[_Group]:
    """Yield rows that share tables; rows that cannot be laid out so go solved into ``parts``."""
    spans = batch.all_spans
    quick = np.array([fast(key, batch.design, spans) for key in batch.keys], dtype=bool)
    slow = [k for k in range(len(batch.keys)) if not quick[k]]
    columns = np.flatnonzero(quick)
    one_by_one = bool(batch.design.circuits) or batch.design.manifolds is not None
    one_by_one |= any(key.path.startswith("manifolds.") for key in batch.keys)
    if one_by_one:
        whole = np.arange(len(batch))
        parts.append((whole, _one_by_one(batch, judged, along)))
        return
    keys = tuple(batch.keys[k] for k in columns)
    for at in _alike(batch.values[:, slow]):
        base = batch.design
        for k in slow:
            base = applied(base, batch.keys[k], float(batch.values[at[0], k]))
        try:
            template = template_of(base, keys, batch.values[np.ix_(at, columns)], spans)
        except GridError as error:
            yield from _by_value(batch, at, parts, judged, along, error)
            continue
        except (GeometryError, RangeError):
            parts.append((at, _one_by_one(batch.taken(at), judged, along)))
            continue
        yield _Group(at, keys, columns, template)


def _by_value(
    batch: DesignBatch,
    at: NDArray[np.int64],
    parts: list[Part],
    judged: Judged,
    along: bool,
    error: GridError,
) -> Iterator[_Group]:
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
    for group in _groups(replace(batch.taken(at), spans=spans), solved, judged, along):
        yield replace(group, at=at[group.at])
    parts += [(at[some], rows) for some, rows in solved]


def _alike(values: Array) -> list[NDArray[np.int64]]:
    """Return the rows with the same values, group by group, in order of first appearance."""
    if not values.shape[1]:
        return [np.arange(values.shape[0])] if values.shape[0] else []
    found: dict[bytes, list[int]] = {}
    for n, row in enumerate(values):
        found.setdefault(row.tobytes(), []).append(n)
    return [np.array(rows) for rows in found.values()]


def _solved(
    batch: DesignBatch, group: _Group, judged: Judged, along: bool, stationwise: bool
) -> Part:
    """Solve some rows that share tables."""
    at, part = group.at, batch.taken(group.at)
    layout = laid_out(
        group.template,
        group.keys,
        part.values[:, group.columns],
        part.models,
        worst=judged != "nominal",
    )
    designs = None
    if _has_ends(group.template.prepared) and not stationwise:
        designs = {n: part.row(n) for n in range(at.size)}
    rows = march_layout(layout, designs, judged, along, stationwise)
    for n, text in layout.refused.items():
        rows.status[n], rows.reason[n] = "out of range", text
    for row in set(map(int, np.flatnonzero(~layout.sound))) - set(layout.refused):
        rows.status[row], rows.reason[row], _ = _failed(_impossible(part.row(row), group.template))
    return at, rows


def _has_ends(prepared: Prepared) -> bool:
    """Return whether some wall lies beyond the slots."""
    x, contour = prepared.passage.x, prepared.contour
    ends = (x[0] - contour.x_injector, contour.x_exit - x[-1])
    return max(ends) > 1e-6 or not x[0] <= 0.0 <= x[-1]


def _impossible(design: Design, template: Template) -> Exception:
    """Return what is wrong with slots that cannot be cut."""
    contour = template.prepared.contour
    try:
        for path in lay_paths(design, contour):
            for corner in corners(design.shop):
                shifted(design, contour, path, *corner)
    except GeometryError as error:
        return error
    return GeometryError("channels: the slots cannot be cut; change width, depth or count")


def _one_by_one(batch: DesignBatch, judged: Judged, along: bool) -> Rows:
    """Solve each row by itself."""
    parts = []
    for n in range(len(batch)):
        rows = blank(1, judged)
        try:
            rows = _row_of(review(batch.row(n)), judged, along)
        except (MarchError, GeometryError, RangeError) as error:
            rows.status[0], rows.reason[0], rows.x_stop[0] = _failed(error)
        parts.append((np.array([n]), rows))
    return joined(parts, len(batch), judged)


def _row_of(result: Result, judged: Judged, along: bool) -> Rows:
    """Return one judged design as a row."""
    rows = blank(1, judged)
    known: dict[str, float] = dict(result.summary)
    known["coolant_mach_max"] = float(result.stations["mach_coolant"].max())
    known["land_width_min_m"] = float(result.stations["land_width_m"].min())
    worst = result.worst_channel
    whole = worst.get("corners_not_solved") == 0
    known["T_wall_hot_max_worst_K"] = worst["T_wall_hot_max_K"] if whole else np.nan
    known["T_wall_hot_max_band_K"] = result.bands["T_wall_hot_max_K"].max
    known["coolant_pressure_drop_band_Pa"] = result.bands["coolant_pressure_drop_Pa"].max
    for name, values in rows.summary.items():
        values[0] = known[name]
    rows.status[0] = "solved"
    one_row(rows, result, ASKED[judged])
    kept = {name: result.stations[name][None] for name in ALONG} if along else {}
    x = result.stations["x_m"][None] if along else None
    informative = frozenset(m.name for m in result.margins if m.informative)
    return replace(rows, informative=informative, along=kept, x=x)


def _failed(error: Exception) -> tuple[str, str, float]:
    """Return status, reason and station reached [m] of a design that was not solved."""
    if isinstance(error, MarchError):
        return error.status, str(error), error.station_x
    name = "no such geometry" if isinstance(error, GeometryError) else "out of range"
    return name, str(error).replace("\n\n", "; "), float("nan")
