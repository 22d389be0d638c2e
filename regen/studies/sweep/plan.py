"""What a sweep solves: every combination of some axes, or the rows of a table, part by part."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from regen.design import Design
from regen.studies.batch.designs import Array, DesignBatch, Judged
from regen.studies.batch.gas_axes import Span, spans_of
from regen.studies.batch.parameters import Parameter

SAME = 1e-9
"""Relative distance below which a value is the case's own [-]."""

DIGITS = 12
"""Values are rounded to so many digits, so that 0.7 mm is 0.0007 m however it was counted up to."""

LEAST_ROWS: dict[Judged, int] = {"nominal": 1024, "worst": 512, "full": 128}
"""Rows of a part by the runs judged: a second or two of one core."""

LARGEST_PART = 16384
MOST_PARTS = 2000
"""A large sweep has larger parts: a file each, and what a kill can cost stays small."""


@dataclass(frozen=True, slots=True)
class Axis:
    """Values of one parameter, SI or factors: ``listed``, or ``count`` even steps between the ends.

    ``own`` is the case's own value, None if it has none: a step that meets it is that very value.
    """

    parameter: Parameter
    start: float
    stop: float
    count: int
    listed: tuple[float, ...] = ()
    own: float | None = None

    def at(self, index: Any) -> Array:
        """Return the values of these numbers (from 0), rounded to ``DIGITS`` digits."""
        number = np.asarray(index)
        if self.listed:
            return np.asarray(np.array(self.listed)[number])
        share = number / (self.count - 1)
        values = rounded(self.start * (1.0 - share) + self.stop * share)
        if self.own:
            values[np.abs(values / self.own - 1.0) < SAME] = self.own
        return values

    @property
    def span(self) -> Span:
        """Its ends, and how many values it has."""
        values = self.at(range(self.count)) if self.listed else self.at([0, self.count - 1])
        count = len(set(self.listed)) or self.count
        return Span(float(values.min()), float(values.max()), count)

    @property
    def described(self) -> dict[str, Any]:
        """The axis as plain values."""
        steps = {"start": self.start, "stop": self.stop, "count": self.count}
        return _described(self.parameter) | ({"values": [*self.listed]} if self.listed else steps)


@dataclass(frozen=True)
class SweepPlan:
    """The rows of a sweep of one design, which runs are judged, and how it is cut into parts.

    The rows are every combination of ``axes``, the last varying fastest, or those of ``table``
    (rows, parameters) in SI or factors; any of them is given by number without holding the
    others: a grid of 1e9 rows is a few numbers. Parts have ``part_rows`` rows, by a rule that
    depends on nothing but the plan where 0 is given. ``whole`` are the spans of the sweep that
    a table is a part of. A plan can be pickled.
    """

    design: Design
    parameters: tuple[Parameter, ...]
    axes: tuple[Axis, ...] = ()
    table: Array | None = None
    judged: Judged = "full"
    part_rows: int = 0
    whole: Mapping[str, Span] | None = None

    def __post_init__(self) -> None:
        if not self.part_rows:
            wanted = max(LEAST_ROWS[self.judged], -(-len(self) // MOST_PARTS))
            object.__setattr__(self, "part_rows", min(wanted, LARGEST_PART))

    def __len__(self) -> int:
        return math.prod(self.shape)

    @property
    def shape(self) -> tuple[int, ...]:
        """Numbers of values of each axis; of a table, its rows."""
        if self.table is not None:
            return (int(self.table.shape[0]),)
        return tuple(axis.count for axis in self.axes)

    @property
    def parts(self) -> int:
        """Number of parts."""
        return -(-len(self) // self.part_rows)

    def rows_of(self, n: int) -> range:
        """Return the numbers of the rows of part n."""
        start = n * self.part_rows
        return range(start, min(start + self.part_rows, len(self)))

    @cached_property
    def spans(self) -> Mapping[str, Span]:
        """Ends of each parameter over the whole sweep: gas tables are laid over them."""
        if self.whole is not None:
            return self.whole
        if self.table is not None:
            return spans_of(self.parameters, self.table)
        return {axis.parameter.name: axis.span for axis in self.axes}

    def values(self, start: int, stop: int) -> Array:
        """Return the values of rows ``start`` to ``stop`` (rows, parameters), SI or factors."""
        if self.table is not None:
            return self.table[start:stop]
        places = np.unravel_index(np.arange(start, stop), self.shape)
        columns = [axis.at(place) for axis, place in zip(self.axes, places, strict=True)]
        return np.stack(columns, axis=1)

    def batch(self, start: int, stop: int) -> DesignBatch:
        """Return rows ``start`` to ``stop`` as designs to be solved."""
        values = self.values(start, stop)
        return DesignBatch(self.design, self.parameters, values, spans=self.spans)

    @property
    def described(self) -> dict[str, Any]:
        """The rows as plain values; of a table, the SHA-256 of its values."""
        if self.table is None:
            return {"rows": len(self), "grid": [axis.described for axis in self.axes]}
        values = hashlib.sha256(np.ascontiguousarray(self.table).tobytes()).hexdigest()
        columns = [_described(parameter) for parameter in self.parameters]
        return {"rows": len(self), "table": columns, "table_sha256": values}

    @property
    def sha256(self) -> str:
        """Hash that changes with any value of any row."""
        return hashlib.sha256(json.dumps(self.described, sort_keys=True).encode()).hexdigest()


def _described(parameter: Parameter) -> dict[str, Any]:
    return {"key": parameter.path, "column": parameter.column, "unit_shown": parameter.unit}


def rounded(values: Array) -> Array:
    """Return values (any shape) rounded to ``DIGITS`` significant digits."""
    flat = [float(f"{value:.{DIGITS}g}") for value in values.ravel()]
    return np.array(flat).reshape(values.shape)
