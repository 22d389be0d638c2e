"""What sizing asks of a point: its objective, and every limit as constraints along the slots."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

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

Where no design keeps every limit, the nearest is to be one that the shop can nearly cut.
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
class Points:
    """n points tried: objective (n,) [SI], constraints (n, m) [-] kept where >= 0, solved (n,).

    ``violation`` (n,) [-] is the largest miss, 0 where all are kept and infinite where nothing
    was solved; what the shop cannot cut weighs more than a limit.
    """

    objective: Array
    constraints: Array
    violation: Array
    solved: NDArray[np.bool_]


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

    def at(self, shares: Array, *, judged: Judged | None = None) -> Points:
        """Solve points and return objective and constraints.

        Parameters
        ----------
        shares : ndarray
            Points (n, V) as shares of the bounds [-].
        judged : {"nominal", "worst", "full"}, optional
            Runs to be solved, if fewer than the case asks for: those that are not solved have
            no demand.

        Returns
        -------
        Points
            With a flag where a point was not solved: a march decides, never an optimiser.
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
        return Points(objective, constraints, np.where(rows.solved, violation, np.inf), rows.solved)

    @property
    def give(self) -> Array:
        """How far each constraint (m,) may be missed where the worst is missed by 1 [-]."""
        return np.array([1.0 if one.run else SHOP_GIVES for one in self.names()])

    def unknown(self, shares: Array) -> frozenset[tuple[str, str]]:
        """Return the limits, with their run, that are not known at one point (V,) [-]."""
        judged = HELD[self.space.base.sizing.held_at][0]
        rows = self.solve(
            self.space.batch(shares[None]), judged=judged, threads=1, stationwise=True
        )
        return frozenset(
            (limit, run)
            for limit in self.limits
            for run in self.held
            if np.isnan(rows.margins.get(limit, {}).get(run, np.zeros(1))[0])
        )

    def names(self) -> tuple[Constraint, ...]:
        """Return what each column of the constraints is."""
        edges = self._edges().tolist()
        stretches = [*zip(edges, edges[1:], strict=False)]
        found = [
            Constraint(limit, run, stretch)
            for limit in self.limits
            for run in self.held
            for stretch in stretches
        ]
        found += [Constraint("land", x=x) for x in stretches]
        found += [Constraint("aspect", x=(x, x)) for x in self._places]
        x = self.space.base.channels.depth.x
        if "depth" in self.space.base.sizing.free:
            found += [Constraint("depth_slope", x=pair) for pair in zip(x, x[1:], strict=False)]
        return tuple(found)

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
        size, piece = len(rows), self._piece()
        columns = []
        for limit in self.limits:
            known = rows.margins_along.get(limit, {})
            for run in self.held:
                if run not in runs or run not in known:
                    columns.append(np.ones((size, PIECES)))
                    continue
                columns.append(_by_piece(_flagged(known[run], known["nominal"]), piece))
        return np.concatenate(columns, axis=1)

    def _piece(self) -> NDArray[np.int64]:
        """Return on which stretch each station lies (S,) [-]."""
        x = self.space.prepared.passage.x
        return np.clip(np.searchsorted(self._edges(), x, side="right") - 1, 0, PIECES - 1)

    def _slots(self, batch: DesignBatch, rows: Rows) -> list[Array]:
        """Return the constraints of what the shop can cut: lands as the judge has them."""
        shop, sizing = self.space.base.shop, self.space.base.sizing
        width, depth = (_points(batch, path) for path in ("channels.width", "channels.depth"))
        places = np.array(self._places)
        # the judge's limit in another form: linear in both sizes, and zero where it is zero
        aspect = greatest_aspect(shop) * _at(width, places) - _at(depth, places)
        aspect /= np.mean(self.space.base.channels.depth.value)
        lands = rows.margins_along.get(LAND, {}).get("nominal")
        if lands is None:  # none was solved
            lands = np.zeros((len(rows), self._piece().size))
        found = [_by_piece(lands, self._piece()), aspect]
        if "depth" in sizing.free and depth[0].size > 1:
            most = (1.0 + ROUNDOFF) * sizing.depth_slope * np.diff(depth[0])
            found.append(1.0 - np.abs(np.diff(depth[1], axis=1)) / most)
        return found


def _flagged(margins: Array, nominal: Array) -> Array:
    """Return margins along x (n, S), at most 1, with a flagged value where one is not known."""
    known = np.where(np.isnan(nominal), 0.0, np.minimum(nominal, 1.0))
    return np.where(np.isnan(margins), NOT_EVALUATED + known, np.minimum(margins, 1.0))


def _by_piece(margins: Array, piece: NDArray[np.int64]) -> Array:
    """Return the least margin on each stretch (n, PIECES); 1 where there is no demand."""
    found = np.ones((margins.shape[0], PIECES))
    for n in range(PIECES):
        inside = piece == n
        if inside.any():
            found[:, n] = margins[:, inside].min(axis=1)
    return found


def _points(batch: DesignBatch, path: str) -> tuple[Array, Array]:
    """Return the points of a size along x [m], (N,), and its values there (n, N) [m]."""
    section, _, name = path.partition(".")
    own = getattr(getattr(batch.design, section), name)
    x, values = np.array(own.x), np.repeat(np.array([own.value]), len(batch), axis=0)
    for k, key in enumerate(batch.keys):
        if key.path == path:
            if key.point is None:
                x, values = np.zeros(1), batch.values[:, k : k + 1]
            else:
                values[:, key.point] = batch.values[:, k]
    return x, values


def _at(size: tuple[Array, Array], x: Array) -> Array:
    return np.array([np.interp(x, size[0], row) for row in size[1]])
