"""The map of an operating envelope as arrays: margins over the first two axes, refined to draw."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from regen.checks import shop_rules
from regen.result import Array
from regen.studies.envelope.axes import Axis
from regen.studies.envelope.study import Envelope, Row

FINE = 24
"""Intervals drawn between two points of an axis."""

NO_DEMAND = 1.0
"""Margin drawn where a limit makes no demand, such as burnout above the critical pressure [-]."""


@dataclass(frozen=True)
class Map:
    """Rows over two axes (y, x), and margins by limit (y, x) [-]; NaN where there is none."""

    x: Axis
    y: Axis
    rows: tuple[tuple[Row, ...], ...]
    margins: dict[str, Array]
    informative: frozenset[str]

    def field(self, value: Callable[[Row], float]) -> Array:
        """Return a value of each row, (y, x) [any]."""
        return np.array([[value(row) for row in line] for line in self.rows])

    @cached_property
    def fine(self) -> tuple[Array, Array]:
        """Refined values of both axes, in the units they are shown in."""
        return refined(self.x), refined(self.y)

    @cached_property
    def solved(self) -> Array:
        """1 where points are solved, else NaN, refined."""
        return refine(self.field(lambda row: 1.0 if row.solved else np.nan))

    @cached_property
    def deciding(self) -> dict[str, Array]:
        """Margins of the limits that decide and can differ between points, (y, x) [-].

        What the shop can cut is the same at all of them: kept with nothing to spare, as a sized
        case has it, it would hide every other limit. Where it is broken it is one of them.
        """
        return {
            name: values
            for name, values in self.margins.items()
            if name not in self.informative
            and not (name in shop_rules.NAMES and np.nanmin(values, initial=np.inf) >= 0.0)
        }

    @cached_property
    def least(self) -> tuple[Array, NDArray[np.int64]] | None:
        """The least refined margin of ``deciding`` and its number, None where nothing decides."""
        refined_margins = {name: refine(values) for name, values in self.deciding.items()}
        return least(refined_margins) if refined_margins else None


def map_of(envelope: Envelope, runs: tuple[str, ...]) -> Map:
    """Return the map of an envelope: the least margin over some runs of every limit."""
    x, y = envelope.axes[:2]
    on_map = {
        (getattr(row.point, x.kind.name), getattr(row.point, y.kind.name)): row
        for row in envelope.rows
        if row.on_map
    }
    rows = tuple(tuple(on_map[(a, b)] for a in x.values) for b in y.values)
    every = [margin for line in rows for row in line for margin in row.margins]
    margins = {
        name: np.array([[_margin(row, name, runs) for row in line] for line in rows])
        for name in dict.fromkeys(margin.name for margin in every)
    }
    return Map(x, y, rows, margins, frozenset(m.name for m in every if m.informative))


def _margin(row: Row, name: str, runs: tuple[str, ...]) -> float:
    if not row.solved:
        return np.nan
    margin = row.margin(name)
    if margin is None:
        return NO_DEMAND
    values = [margin.margin(run) for run in runs]
    known = [value for value in values if value is not None]
    if len(known) < len(values) and (not known or min(known) >= 0.0):
        return np.nan  # broken by one run is broken; kept needs all of them
    return float(min(known))


def refined(axis: Axis) -> Array:
    """Return the values of an axis with ``FINE`` intervals between its points, as shown."""
    steps = np.arange((len(axis.values) - 1) * FINE + 1) / FINE
    values = np.interp(steps, np.arange(len(axis.values)), axis.values)
    shown: Array = axis.kind.quantity.shown(values)
    return shown


def refine(values: Array) -> Array:
    """Return values (y, x) [any], linear between the points; NaN in a cell with a NaN corner."""
    return _between(_between(values, 1), 0)


def _between(values: Array, axis: int) -> Array:
    """Insert ``FINE`` - 1 values between neighbours along one axis."""
    v = np.moveaxis(values, axis, 0)
    weight = (np.arange(FINE) / FINE).reshape(-1, *[1] * (v.ndim - 1))
    parts = [(1.0 - weight) * a + weight * b for a, b in zip(v[:-1], v[1:], strict=True)]
    return np.moveaxis(np.concatenate([*parts, v[-1:]]), 0, axis)


def least(margins: dict[str, Array]) -> tuple[Array, NDArray[np.int64]]:
    """Return the least of margins (y, x) [-] and the number of its limit.

    NaN and -1 where it is not known: nothing solved, or a limit not evaluated while all others
    are kept.
    """
    stack = np.stack(list(margins.values()))
    known = np.where(np.isnan(stack), np.inf, stack)
    value, which = known.min(axis=0), known.argmin(axis=0)
    unknown = ~np.isfinite(value) | (np.isnan(stack).any(axis=0) & (value >= 0.0))
    return np.where(unknown, np.nan, value), np.where(unknown, -1, which)
