"""What sizing asks of a point: its objective, and every limit as constraints along the slots."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
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


Columns = Iterator[tuple[Constraint, Array]]


@dataclass(frozen=True)
class Trial:
    """One point tried: shares (V,), objective [SI], constraints (m,) and their violation [-]."""

    shares: Array
    objective: float
    constraints: Array
    violation: float
    solved: bool
    names: tuple[Constraint, ...]


@dataclass(frozen=True)
class Trials:
    """n points tried, in the arrays of a ``Trial`` each; constraints are kept where >= 0.

    ``violation`` (n,) [-] is the largest miss, 0 where all are kept and infinite where nothing
    was solved; what the shop cannot cut weighs more than a limit. ``names`` (m,) says what each
    constraint is, ``give`` (m,) [-] how far it may be missed where the worst is missed by 1.
    """

    shares: Array
    objective: Array
    constraints: Array
    violation: Array
    solved: NDArray[np.bool_]
    names: tuple[Constraint, ...]
    give: Array

    def __getitem__(self, n: int) -> Trial:
        objective, violation = float(self.objective[n]), float(self.violation[n])
        solved, kept = bool(self.solved[n]), self.constraints[n]
        return Trial(self.shares[n], objective, kept, violation, solved, self.names)


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

    def _rows(self, batch: DesignBatch, judged: Judged | None = None) -> Rows:
        judged = judged or HELD[self.space.base.sizing.held_at][0]
        threads = self.threads if len(batch) >= SEVERAL else 1
        return self.solve(batch, judged=judged, threads=threads, stationwise=True)

    def at(self, shares: Array, *, judged: Judged | None = None) -> Trials:
        """Solve points (n, V) given as shares of the bounds.

        ``judged`` are the runs to be solved, if fewer than the case asks for: those that are not
        solved make no demand. A point that was not solved is flagged: a march decides, never an
        optimiser.
        """
        sizing, batch = self.space.base.sizing, self.space.batch(shares)
        rows = self._rows(batch, judged)
        runs = self.held if judged is None else ASKED[judged]
        names, columns = zip(*self._limits(rows, runs), *self._slots(batch, rows), strict=True)
        constraints = np.stack(columns, axis=1)
        constraints[~rows.solved] = UNSOLVED
        give = np.array([1.0 if one.run else SHOP_GIVES for one in names])
        missed = np.maximum(-(constraints / give).min(axis=1), 0.0)
        violation = np.where(rows.solved, missed, np.inf)
        objective = rows.summary[OBJECTIVES[sizing.minimise]]
        return Trials(shares, objective, constraints, violation, rows.solved, names, give)

    def unknown(self, shares: Array) -> frozenset[tuple[str, str]]:
        """Return the limits, with their run, that are not known at one point (V,)."""
        margins = self._rows(self.space.batch(shares[None])).margins
        return frozenset(
            (limit, run)
            for limit, run in product(self.limits, self.held)
            if np.isnan(margins.get(limit, {}).get(run, np.zeros(1))[0])
        )

    def _limits(self, rows: Rows, runs: tuple[str, ...]) -> Columns:
        """Yield the least margin of each limit and run on each stretch (n,)."""
        x, spare = self.space.prepared.passage.x, self.space.base.sizing.margin
        for limit, run in product(self.limits, self.held):
            known = rows.margins_along.get(limit, {})
            margins = np.ones((len(rows), x.size))
            if run in runs and run in known:
                margins = _flagged(known[run], known["nominal"])
            for stretch, least in _by_stretch(x, margins):
                yield Constraint(limit, run, stretch), least - spare

    def _slots(self, batch: DesignBatch, rows: Rows) -> Columns:
        """Yield the constraints of what the shop can cut (n,): lands as the judge has them."""
        base, x = self.space.base, self.space.prepared.passage.x
        width, depth = base.channels.width, base.channels.depth
        slots = [batch.row(n).channels for n in range(len(batch))]
        none = np.zeros((len(rows), x.size))  # where none was solved
        lands = rows.margins_along.get(LAND, {}).get("nominal", none)
        for stretch, least in _by_stretch(x, lands):
            yield Constraint("land", x=stretch), least
        # where width or depth may change its slope; the judge's limit in another form: linear in
        # both sizes, and zero where it is zero
        for place in sorted(set(np.clip([*width.x, *depth.x], x[0], x[-1]).tolist())):
            w, d = np.array([(one.width.at(place), one.depth.at(place)) for one in slots]).T
            aspect = (greatest_aspect(base.shop) * w - d) / np.mean(depth.value)
            yield Constraint("aspect", x=(place, place)), aspect
        if "depth" in base.sizing.free:
            depths = np.array([one.depth.value for one in slots])
            for n, (start, stop) in enumerate(pairwise(depth.x)):
                most = (1.0 + ROUNDOFF) * base.sizing.depth_slope * (stop - start)
                rise = np.abs(depths[:, n + 1] - depths[:, n])
                yield Constraint("depth_slope", x=(start, stop)), 1.0 - rise / most


def _flagged(margins: Array, nominal: Array) -> Array:
    """Return margins along x (n, S), at most 1, with a flagged value where one is not known."""
    known = np.where(np.isnan(nominal), 0.0, np.minimum(nominal, 1.0))
    return np.where(np.isnan(margins), NOT_EVALUATED + known, np.minimum(margins, 1.0))


def _by_stretch(x: Array, margins: Array) -> Iterator[tuple[tuple[float, float], Array]]:
    """Yield each stretch of the stations x and the least margin there (n,); 1 for no demand."""
    ends = np.linspace(float(x[0]), float(x[-1]), PIECES + 1)
    piece = np.clip(np.searchsorted(ends, x, side="right") - 1, 0, PIECES - 1)
    for n, stretch in enumerate(pairwise(ends.tolist())):
        here = margins[:, piece == n]
        yield stretch, here.min(axis=1) if here.size else np.ones(len(margins))
