"""What sizing asks of a point: its objective, and every limit as constraints along the slots."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from regen.checks.shop_rules import LAND, ROUNDOFF, greatest_aspect
from regen.studies.batch.designs import DesignBatch, Judged, Rows, solve_batch
from regen.studies.batch.rows import ASKED
from regen.studies.size.space import Space

Array = NDArray[np.float64]
Solve = Callable[..., Rows]

OBJECTIVES = {
    "pressure drop": "coolant_pressure_drop_Pa",
    "wall temperature": "T_wall_hot_max_K",
    "mass": "mass_cooled_kg",
}

HELD: dict[str, tuple[Judged, tuple[str, ...]]] = {
    "nominal channel": ("nominal", ("nominal",)),
    "worst channel": ("worst", ("nominal", "worst_channel")),
    "band edge": ("full", ("nominal", "worst_channel", "band_edge")),
}
"""Runs to be solved, and those that are to keep every limit."""

UNSOLVED = -2.0
"""Constraint of a point that was not solved [-]."""

NOT_EVALUATED = -1.01
"""What is taken off the nominal's margin where that of another run is not known [-].

A flag alone would show a search no way out; a margin is at most 1 here, so none is kept.
"""

SEVERAL = 64
"""Points from which threads are worth their start."""

SHOP_GIVES = 0.05
"""How far lands, aspect and slope of the depth give way beside a limit [-].

Where no design meets every limit, the nearest is to be one that the shop can nearly cut.
"""

PIECES = 12
"""Stretches along the slots, each with a constraint of its own for every limit.

One constraint for all would jump from station to station as the search moves.
"""


@dataclass(frozen=True)
class Constraint:
    """What one column of the constraints is: limit, run and stretch [m], or a size's own."""

    limit: str
    run: str = ""
    x: tuple[float, float] | None = None


@dataclass(frozen=True)
class Trial:
    """One point tried: shares (V,), objective [SI], constraints (m,) and their violation [-]."""

    shares: Array
    objective: float
    constraints: Array
    violation: float
    solved: bool


@dataclass(frozen=True)
class Trials:
    """n points tried, in the arrays of a ``Trial`` each; constraints are kept where >= 0.

    ``violation`` (n,) [-] is the largest miss, 0 where all are kept and infinite where nothing
    was solved; what the shop cannot cut weighs more than a limit.
    """

    shares: Array
    objective: Array
    constraints: Array
    violation: Array
    solved: NDArray[np.bool_]

    def __getitem__(self, n: int) -> Trial:
        return Trial(*(getattr(self, field.name)[n] for field in fields(self)))


@dataclass(frozen=True)
class Problem:
    """The sizing of one case.

    ``limits`` are the names of the limits that decide; a limit that a point does not know makes
    no demand there.
    """

    space: Space
    limits: tuple[str, ...]
    threads: int
    solve: Solve = solve_batch

    @property
    def held(self) -> tuple[str, ...]:
        """Runs that are to keep every limit."""
        return HELD[self.space.base.sizing.held_at][1]

    def at(self, shares: Array, *, judged: Judged | None = None) -> Trials:
        """Solve points (n, V) given as shares of the bounds.

        ``judged`` are the runs to be solved, if fewer than the case asks for: those that are not
        solved make no demand. A point that was not solved is flagged: a march decides, never an
        optimiser.
        """
        sizing = self.space.base.sizing
        batch = self.space.batch(shares)
        usual = HELD[sizing.held_at][0]
        threads = self.threads if len(batch) >= SEVERAL else 1
        rows = self.solve(batch, judged=judged or usual, threads=threads, stationwise=True)
        runs = self.held if judged is None else ASKED[judged]
        parts = [self._limits(rows, runs), *self._slots(batch, rows)]
        objective = rows.summary[OBJECTIVES[sizing.minimise]]
        parts[0] = parts[0] - sizing.margin
        constraints = np.concatenate(parts, axis=1)
        constraints[~rows.solved] = UNSOLVED
        violation = np.maximum(-(constraints / self.give).min(axis=1), 0.0)
        violation = np.where(rows.solved, violation, np.inf)
        return Trials(shares, objective, constraints, violation, rows.solved)

    @property
    def give(self) -> Array:
        """How far each constraint (m,) may be missed where the worst is missed by 1 [-]."""
        return np.array([1.0 if one.run else SHOP_GIVES for one in self.names()])

    def unknown(self, shares: Array) -> frozenset[tuple[str, str]]:
        """Return the limits, with their run, that are not known at one point (V,)."""
        judged = HELD[self.space.base.sizing.held_at][0]
        batch = self.space.batch(shares[None])
        rows = self.solve(batch, judged=judged, threads=1, stationwise=True)
        return frozenset(
            (limit, run)
            for limit in self.limits
            for run in self.held
            if np.isnan(rows.margins.get(limit, {}).get(run, np.zeros(1))[0])
        )

    def names(self) -> tuple[Constraint, ...]:
        """Return what each column of the constraints is."""
        stretches = [*pairwise(self._edges().tolist())]
        names = [
            Constraint(limit, run, stretch)
            for limit, run, stretch in product(self.limits, self.held, stretches)
        ]
        names += [Constraint("land", x=x) for x in stretches]
        names += [Constraint("aspect", x=(x, x)) for x in self._places]
        if "depth" in self.space.base.sizing.free:
            depth = self.space.base.channels.depth
            names += [Constraint("depth_slope", x=pair) for pair in pairwise(depth.x)]
        return tuple(names)

    @property
    def _places(self) -> list[float]:
        """Places where width or depth may change its slope [m]."""
        channels, x = self.space.base.channels, self.space.prepared.passage.x
        points = np.array([*channels.width.x, *channels.depth.x])
        return sorted(set(np.clip(points, x[0], x[-1]).tolist()))

    def _edges(self) -> Array:
        x = self.space.prepared.passage.x
        return np.linspace(float(x[0]), float(x[-1]), PIECES + 1)

    def _limits(self, rows: Rows, runs: tuple[str, ...]) -> Array:
        """Return the least margin of each limit and run on each stretch (n, ...)."""
        columns = []
        for limit, run in product(self.limits, self.held):
            known = rows.margins_along.get(limit, {})
            margins = np.ones((len(rows), self._piece().size))
            if run in runs and run in known:
                margins = _flagged(known[run], known["nominal"])
            columns.append(_by_piece(margins, self._piece()))
        return np.concatenate(columns, axis=1)

    def _piece(self) -> NDArray[np.int64]:
        """Return on which stretch each station lies (S,)."""
        x = self.space.prepared.passage.x
        return np.clip(np.searchsorted(self._edges(), x, side="right") - 1, 0, PIECES - 1)

    def _slots(self, batch: DesignBatch, rows: Rows) -> list[Array]:
        """Return the constraints of what the shop can cut: lands as the judge has them."""
        shop, sizing = self.space.base.shop, self.space.base.sizing
        slots = [batch.row(n).channels for n in range(len(batch))]
        width, depth = (
            np.array([getattr(one, size).at(self._places) for one in slots])
            for size in ("width", "depth")
        )
        # the judge's limit in another form: linear in both sizes, and zero where it is zero
        aspect = greatest_aspect(shop) * width - depth
        aspect /= np.mean(self.space.base.channels.depth.value)
        none = np.zeros((len(rows), self._piece().size))  # where none was solved
        lands = rows.margins_along.get(LAND, {}).get("nominal", none)
        parts = [_by_piece(lands, self._piece()), aspect]
        points = np.array(self.space.base.channels.depth.x)
        if "depth" in sizing.free and points.size > 1:
            most = (1.0 + ROUNDOFF) * sizing.depth_slope * np.diff(points)
            values = np.array([one.depth.value for one in slots])
            parts.append(1.0 - np.abs(np.diff(values, axis=1)) / most)
        return parts


def _flagged(margins: Array, nominal: Array) -> Array:
    """Return margins along x (n, S), at most 1, with a flagged value where one is not known."""
    known = np.where(np.isnan(nominal), 0.0, np.minimum(nominal, 1.0))
    return np.where(np.isnan(margins), NOT_EVALUATED + known, np.minimum(margins, 1.0))


def _by_piece(margins: Array, piece: NDArray[np.int64]) -> Array:
    """Return the least margin on each stretch (n, PIECES); 1 where there is no demand."""
    least = np.ones((margins.shape[0], PIECES))
    for n in np.unique(piece):
        least[:, n] = margins[:, piece == n].min(axis=1)
    return least
