"""What is kept of a sweep's table to speak of it and to draw it: one pass over its rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks.verdict import VERDICTS
from regen.design import Design
from regen.output.sweep_table import blocks
from regen.result import Array
from regen.shop.cutters.checks import cannot_cut
from regen.solver.solve import Judged
from regen.studies.batch.rows import ASKED
from regen.studies.sweep.plan import Plan

DROP, WALL, LAND = "coolant_pressure_drop_Pa", "T_wall_hot_max_K", "land_width_min_m"
EDGES = ("T_wall_hot_max_band_K", "T_wall_hot_max_worst_K", "coolant_pressure_drop_band_Pa")

THROAT = "throat_diameter_m"

NAMED = 16
"""Rows of least pressure drop, and of the coolest wall, of which the first that can be cut is
named: to find out takes a quarter of a second each where the shop's cutters are given."""

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
    such rows whose slots can be cut, that of least drop and that of the coolest wall by verdict;
    ``refused`` how many rows came before it that cannot, the first of them and why; ``kept``
    counts the rows that keep every limit.
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
    refused: Mapping[str, Mapping[str, tuple[int, int, str]]] = field(default_factory=dict)

    @property
    def solved(self) -> int:
        """Rows that were solved [-]."""
        return self.status["solved"]

    def margin(self, limit: str, run: str = "nominal") -> Array:
        """Return the margins of the drawn rows [-], NaN where there is none."""
        return np.asarray(self.sample[f"margin_{limit}_{run}"])

    def least(self, run: str = "nominal") -> Array:
        """Return the least margin of the drawn rows over the limits that decide [-].

        NaN where one of them was not evaluated.
        """
        deciding = [self.margin(n, run) for n in self.limits if n not in self.informative]
        if not deciding:
            return np.full(len(self.sample["row"]), np.nan)
        return np.asarray(np.min(np.stack(deciding), axis=0))


def digest_of(
    path: Path,
    plan: Plan,
    judged: Judged,
    limits: tuple[str, ...],
    informative: frozenset[str],
    design: Design | None = None,
) -> Digest:
    """Read a table once and keep what is spoken of and drawn.

    Parameters
    ----------
    path : Path
        The table.
    plan : Plan
        What it holds the rows of.
    judged : {"nominal", "worst", "full"}
        Runs that were judged.
    limits : tuple of str
        Limits that have margins in it [-].
    informative : frozenset of str
        Those that never decide a verdict.
    design : Design, optional
        What the plan varies. With it no row is named whose slots the shop cannot cut; the margins
        of a row know lands, aspect, and width and depth of the cutters, but not what a disc
        leaves at an arc.

    Returns
    -------
    Digest
        As small for a million rows as for some thousands.
    """
    margins = [f"margin_{name}_{run}" for name in limits for run in ASKED[judged]]
    keys = [key.column for key in plan.keys]
    columns = ["row", *keys, "status", "verdict", "nominal_kept", WALL, DROP, LAND, THROAT]
    columns += [*EDGES, *margins]
    status: Counter[str] = Counter()
    verdicts: Counter[str] = Counter()
    lowest: dict[str, dict[str, list[dict[str, Any]]]] = {}
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
            _better(lowest.setdefault(verdict, {}), _rows(found, found["verdict"] == verdict))
        front = _front(found if not front else _joined([front, found]))
    verdicts.pop("", None)
    sample = _joined(taken)
    best: dict[str, dict[str, dict[str, Any]]] = {}
    refused: dict[str, dict[str, tuple[int, int, str]]] = {}
    why_not = _shop(design, plan)
    for verdict in (one for one in VERDICTS if lowest.get(one, {}).get(DROP)):
        for name, some in lowest[verdict].items():
            row, before = _named(some, why_not)
            if row is not None:
                best.setdefault(verdict, {})[name] = row
            if before is not None:
                refused.setdefault(verdict, {})[name] = before
        break  # those of a lesser verdict are not spoken of
    return Digest(
        *(plan, judged, rows, status, verdicts, best, sample, front),
        *(len(sample["row"]) < rows, limits, informative, count, refused),
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


def _better(lowest: dict[str, list[dict[str, Any]]], block: dict[str, Any]) -> None:
    """Keep the lowest rows by pressure drop and by wall temperature, the lowest first."""
    for name in (DROP, WALL):
        order = np.argsort(block[name], kind="stable")[:NAMED]
        more = [{key: values[n] for key, values in block.items()} for n in order]
        known = sorted([*lowest.get(name, ()), *more], key=lambda row: row[name])
        lowest[name] = known[:NAMED]


def _named(
    some: list[dict[str, Any]], why_not: Callable[[dict[str, Any]], str]
) -> tuple[dict[str, Any] | None, tuple[int, int, str] | None]:
    """Return the first row that can be cut, and what came before it: how many, which, why."""
    first: tuple[int, str] | None = None
    for n, row in enumerate(some):
        reason = why_not(row)
        if not reason:
            return row, None if first is None else (n, *first)
        first = first or (int(row["row"]), reason)
    return None, None if first is None else (len(some), *first)


def _shop(design: Design | None, plan: Plan) -> Callable[[dict[str, Any]], str]:
    """Return what says of a row why the shop cannot cut it, "" if it can."""
    known: dict[int, str] = {}

    def why_not(row: dict[str, Any]) -> str:
        number = int(row["row"])
        if design is not None and number not in known:
            made = plan.batch(design, number, number + 1).row(0)
            known[number] = next(iter(cannot_cut(made, 0.5 * row[THROAT])), "")
        return known.get(number, "")

    return why_not


def _front(block: dict[str, Any]) -> dict[str, Any]:
    """Return the rows that no other beats in both, by rising pressure drop."""
    order = np.lexsort((block["row"], block[WALL], block[DROP]))
    T = block[WALL][order]
    cooler = T < np.concatenate([[np.inf], np.minimum.accumulate(T)[:-1]])
    return _rows(block, order[cooler])
