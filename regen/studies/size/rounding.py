"""Sizes as they are written: whole multiples of a step, chosen by the slopes between them."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from regen.studies.size.problem import Problem, Trial
from regen.studies.size.space import Space

Array = NDArray[np.float64]
Steps = NDArray[np.int64]

ROUNDINGS = 64
"""Ways of rounding the sizes up and down that are tried first."""

REACHES = (1, 2, 4)
"""Most steps that a size goes from where its slopes were taken, each tried [-]."""

MOVES = 16
"""Most times that the slopes are taken."""

MOST_NODES = 1000
"""Branches of an integer programme, so that none takes long."""

MISS_WEIGHT = 1e3
"""What a miss of a limit costs against the same share of the objective [-]."""

RESERVES = (1e-6, 3e-4)
"""Margins asked of a linear estimate, each tried [-].

The first is for its solver's own tolerance, the second for what slopes do not tell.
"""

NEAR = 0.5
"""Constraints with more margin than this are out of reach of a few steps [-]."""


def nearby(problem: Problem, shares: Array) -> Trial:
    """Return the best sizes near a point (V,), every one on a whole multiple of its step.

    The march judges each that is tried; the slopes only say which to try.
    """
    space = problem.space
    if not space.variables:
        return problem.at(shares[None])[0]
    grid = _Grid(problem)
    grid.at(_roundings(space, shares))
    best, trial = grid.best()
    for _ in range(MOVES):
        if not trial.solved:
            break
        before = best
        grid.at(np.array([best + move for move in _moves(grid, np.array(best), trial)]))
        best, trial = grid.best()
        if best == before:
            break
    return trial


class _Grid:
    """Points on the steps, each solved once: by the whole numbers of steps of every size."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.step = np.array([v.step for v in problem.space.variables])
        self.low, self.high = np.array([v.whole for v in problem.space.variables]).T
        self.seen: dict[tuple[int, ...], Trial] = {}

    def at(self, steps: Steps) -> list[Trial]:
        """Return points (n, V) solved."""
        points = [tuple(point) for point in np.clip(steps, self.low, self.high).tolist()]
        new = sorted(set(points) - self.seen.keys())
        if new:
            trials = self.problem.at(self.problem.space.shares(np.array(new) * self.step))
            self.seen |= {point: trials[n] for n, point in enumerate(new)}
        return [self.seen[point] for point in points]

    def best(self) -> tuple[tuple[int, ...], Trial]:
        """Return the best of all that were solved."""

        def rank(one: tuple[tuple[int, ...], Trial]) -> tuple[float, float]:
            # here a miss of the shop's counts as any: weighed, it would let every limit go as far
            trial = one[1]
            if not trial.solved:
                return np.inf, np.inf
            return max(-float(trial.constraints.min()), 0.0), trial.objective

        return min(self.seen.items(), key=rank)


def _roundings(space: Space, shares: Array) -> Steps:
    """Return the points (n, V) round one: all to the nearest, and up and down at random."""
    variables = space.variables
    exact = space.values(shares[None])[0] / np.array([v.step for v in variables])
    up = np.random.default_rng(0).random((ROUNDINGS, len(variables))) < 0.5
    points = np.where(up, np.ceil(exact), np.floor(exact))
    points[0] = np.round(exact)
    return np.asarray(points, dtype=np.int64)


def _moves(grid: _Grid, steps: Steps, here: Trial) -> list[Steps]:
    """Return the steps (V,) to the best points by the slopes, within each reach."""
    ways = np.where(steps < grid.high, 1, -1)
    beside = grid.at(steps + np.diag(ways))
    near = here.constraints < NEAR
    slopes = np.array([(b.constraints - here.constraints)[near] for b in beside]).T * ways
    gains = np.array([b.objective for b in beside]) / here.objective - 1.0
    # a neighbour that was not solved: its flagged constraints alone keep the move from it
    gains = np.where(np.isfinite(gains), gains, 0.0) * ways
    least = -here.constraints[near]
    low, high = grid.low - steps, grid.high - steps
    return [
        _move(gains, slopes, least + reserve, np.maximum(low, -reach), np.minimum(high, reach))
        for reach, reserve in product(REACHES, RESERVES)
    ]


def _move(gains: Array, slopes: Array, least: Array, low: Steps, high: Steps) -> Steps:
    """Return the best steps (V,) between two ends: an integer linear programme.

    ``gains`` (V,) and ``slopes`` (m, V) are those of a step, ``least`` (m,) what the constraints
    are to reach.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    size = gains.size
    kept = np.column_stack([slopes, np.ones(least.size)])
    done = milp(
        np.append(gains, MISS_WEIGHT),
        integrality=np.append(np.ones(size), 0),
        bounds=Bounds(np.append(low, 0.0), np.append(high, np.inf)),
        constraints=LinearConstraint(kept, least) if kept.size else None,
        options={"node_limit": MOST_NODES, "presolve": False},  # presolve prints at times
    )
    move: Array = np.zeros(size) if done.x is None else np.round(done.x[:size])
    return np.asarray(move, dtype=np.int64)
