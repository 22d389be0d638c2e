"""What is kept of a sweep's table to speak of it and to draw it: one pass over its rows."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.output.sweep_table import blocks
from regen.result import Array
from regen.studies.plan import Plan
from regen.studies.rows import ASKED, Judged

DROP, WALL, LAND = "coolant_pressure_drop_Pa", "T_wall_hot_max_K", "land_width_min_m"
EDGES = ("T_wall_hot_max_band_K", "T_wall_hot_max_worst_K", "coolant_pressure_drop_band_Pa")

MOST_DRAWN = 8_000
MOST_ON_AXIS = {1: 2000, 2: 100}
"""Most rows that are drawn; most values of each axis of a grid of one key or of two."""

GOLDEN = 0.6180339887498949
"""Fractional parts of its multiples fill 0 to 1 evenly, however many there are."""


@dataclass(frozen=True)
class Digest:
    """A sweep in short.

    ``sample`` and ``front`` hold columns by name: rows to draw, all of them or every so many
    (``thinned``), and the rows whose nominal channel keeps every limit and that no other such row
    beats in both pressure drop and wall temperature, by rising pressure drop. ``best`` has, of
    such rows, that of least drop and that of the coolest wall by verdict; ``kept`` counts them.
    """

    plan: Plan
    judged: Judged
    rows: int
    status: Counter[str]
    verdicts: Counter[str]
    best: dict[str, dict[str, dict[str, Any]]]
    sample: dict[str, Any]
    front: dict[str, Any]
    thinned: bool
    limits: tuple[str, ...]
    informative: frozenset[str]
    kept: int

    @property
    def solved(self) -> int:
        """Rows that were solved [-]."""
        return self.status["solved"]

    def margin(self, limit: str, lane: str = "nominal") -> Array:
        """Return the margins of the drawn rows [-], NaN where there is none."""
        return np.asarray(self.sample[f"margin_{limit}_{lane}"])

    def least(self, lane: str = "nominal") -> Array:
        """Return the least margin of the drawn rows over the limits that decide [-].

        NaN where one of them was not evaluated.
        """
        deciding = [self.margin(n, lane) for n in self.limits if n not in self.informative]
        if not deciding:
            return np.full(len(self.sample["row"]), np.nan)
        return np.asarray(np.min(np.stack(deciding), axis=0))


def digest_of(
    path: Path, plan: Plan, judged: Judged, limits: tuple[str, ...], informative: frozenset[str]
) -> Digest:
    """Read a table once and keep what is spoken of and drawn.

    Parameters
    ----------
    path : Path
        The table.
    plan : Plan
        What it holds the rows of.
    judged : {"nominal", "worst", "full"}
        Lanes that were judged.
    limits : tuple of str
        Limits that have margins in it [-].
    informative : frozenset of str
        Those that never decide a verdict.

    Returns
    -------
    Digest
        As small for a million rows as for some thousands.
    """
    margins = [f"margin_{name}_{lane}" for name in limits for lane in ASKED[judged]]
    keys = [key.column for key in plan.keys]
    columns = [
        "row",
        *keys,
        "status",
        "verdict",
        "nominal_kept",
        WALL,
        DROP,
        LAND,
        *EDGES,
        *margins,
    ]
    status: Counter[str] = Counter()
    verdicts: Counter[str] = Counter()
    best: dict[str, dict[str, dict[str, Any]]] = {}
    taken: list[dict[str, Any]] = []
    front: dict[str, Any] = {}
    rows = count = 0
    drawn = _Drawn(plan)
    for block in blocks(path, columns):
        rows += len(block["row"])
        status.update(block["status"])
        verdicts.update(block["verdict"])
        taken.append(_rows(block, drawn.mask(block["row"])))
        found = _rows(block, block["nominal_kept"] == 1.0)
        count += len(found["row"])
        for verdict in set(found["verdict"]):
            _better(best.setdefault(verdict, {}), _rows(found, found["verdict"] == verdict))
        front = _front(found if not front else _joined([front, found]))
    verdicts.pop("", None)
    sample = _joined(taken)
    return Digest(
        *(plan, judged, rows, status, verdicts, best, sample, front),
        *(len(sample["row"]) < rows, limits, informative, count),
    )


class _Drawn:
    """Tells which rows are drawn: all, or values of each axis evenly spaced by number.

    Where there is no grid of one or two keys, rows are scattered evenly: every so many would take
    few values of the last key.
    """

    def __init__(self, plan: Plan) -> None:
        self.shape, self.share = plan.shape, MOST_DRAWN / len(plan)
        most = MOST_ON_AXIS.get(len(plan.shape)) if plan.table is None else None
        self.chosen = [_even(size, most) for size in plan.shape] if most else []

    def mask(self, row: Array) -> NDArray[np.bool_]:
        number = row.astype(np.int64)
        if not self.chosen:
            return np.asarray((number * GOLDEN) % 1.0 < self.share)
        places = np.unravel_index(number, self.shape)
        inside = [c[place] for c, place in zip(self.chosen, places, strict=True)]
        return np.asarray(np.logical_and.reduce(inside))


def _even(size: int, most: int) -> NDArray[np.bool_]:
    chosen = np.zeros(size, dtype=bool)
    chosen[np.unique(np.linspace(0, size - 1, min(size, most)).round().astype(int))] = True
    return chosen


def _rows(block: dict[str, Any], mask: Any) -> dict[str, Any]:
    return {name: values[mask] for name, values in block.items()}


def _joined(parts: list[dict[str, Any]]) -> dict[str, Any]:
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _better(best: dict[str, dict[str, Any]], block: dict[str, Any]) -> None:
    if not len(block["row"]):
        return
    for name in (DROP, WALL):
        row = {key: values[np.argmin(block[name])] for key, values in block.items()}
        if name not in best or row[name] < best[name][name]:
            best[name] = row


def _front(block: dict[str, Any]) -> dict[str, Any]:
    """Return the rows that no other beats in both, by rising pressure drop."""
    order = np.lexsort((block["row"], block[WALL], block[DROP]))
    T = block[WALL][order]
    cooler = T < np.concatenate([[np.inf], np.minimum.accumulate(T)[:-1]])
    return _rows(block, order[cooler])
