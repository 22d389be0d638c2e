"""The map of an operating envelope as arrays: margins over the first two axes, refined to draw."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from regen.checks import shop_rules
from regen.result import Array, Margin
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
    informative: tuple[str, ...]

    def field(self, value: Callable[[Row], float]) -> Array:
        """Return a value of each row, (y, x) [any]."""
        return np.array([[value(row) for row in line] for line in self.rows])

    @property
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


def map_of(envelope: Envelope, runs: tuple[str, ...]) -> Map:
    """Return the map of an envelope.

    Parameters
    ----------
    envelope : Envelope
        Solved envelope.
    runs : tuple of str
        Fields of a margin; the least of them is drawn [-].

    Returns
    -------
    Map
        Margins of every limit that is judged anywhere on the map.
    """
    x, y = envelope.axes[:2]
    on_map = {_place(row, x, y): row for row in envelope.rows if row.on_map}
    rows = tuple(tuple(on_map[(a, b)] for a in x.values) for b in y.values)
    every = [m for line in rows for row in line for m in row.margins]
    names = dict.fromkeys(m.name for m in every)
    margins = {
        name: np.array([[_margin(row, name, runs) for row in line] for line in rows])
        for name in names
    }
    informative = tuple({m.name for m in every if m.informative})
    return Map(x, y, rows, margins, informative)


def _place(row: Row, x: Axis, y: Axis) -> tuple[float, float]:
    return getattr(row.point, x.kind.name), getattr(row.point, y.kind.name)


def _margin(row: Row, name: str, runs: tuple[str, ...]) -> float:
    if not row.solved:
        return np.nan
    found: Margin | None = next((m for m in row.margins if m.name == name), None)
    if found is None:
        return NO_DEMAND
    values = [getattr(found, run) for run in runs]
    known = [value for value in values if value is not None]
    if len(known) < len(values) and (not known or min(known) >= 0.0):
        return np.nan  # broken by one run is broken; kept needs all of them
    return float(min(known))


def refined(axis: Axis) -> Array:
    """Return the values of an axis with ``FINE`` intervals between its points [SI]."""
    steps = np.arange((len(axis.values) - 1) * FINE + 1) / FINE
    return np.interp(steps, np.arange(len(axis.values)), axis.values)


def refine(values: Array) -> Array:
    """Return values (y, x) [any], linear between the points; NaN in a cell with a NaN corner."""
    along = _between(values, 1)
    return _between(along, 0)


def _between(values: Array, axis: int) -> Array:
    """Insert ``FINE`` - 1 values between neighbours along one axis."""
    v = np.moveaxis(values, axis, 0)
    weight = (np.arange(FINE) / FINE).reshape(-1, *[1] * (v.ndim - 1))
    parts = [(1.0 - weight) * a + weight * b for a, b in zip(v[:-1], v[1:], strict=True)]
    return np.moveaxis(np.concatenate([*parts, v[-1:]]), 0, axis)


def least(margins: dict[str, Array]) -> tuple[Array, NDArray[np.int64]]:
    """Return the least margin and which limit has it.

    Parameters
    ----------
    margins : dict of str to ndarray
        Refined margins by limit (y, x) [-].

    Returns
    -------
    tuple of ndarray
        Least margin [-] and the number of its limit, -1 where it is not known: nothing solved,
        or a limit not evaluated while all others are kept (y, x) [-].
    """
    stack = np.stack(list(margins.values()))
    known = np.where(np.isnan(stack), np.inf, stack)
    value, which = known.min(axis=0), known.argmin(axis=0)
    unknown = ~np.isfinite(value) | (np.isnan(stack).any(axis=0) & (value >= 0.0))
    return np.where(unknown, np.nan, value), np.where(unknown, -1, which)
