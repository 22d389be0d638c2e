"""Sizes as they are written: whole multiples of a step, chosen by the slopes between them."""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.studies.size.problem import Problem
from regen.studies.size.search import Found, found_at
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


def nearby(problem: Problem, shares: Array) -> Found:
    """Return the best sizes, as they are written, near a point.

    Parameters
    ----------
    problem : Problem
        What is searched.
    shares : ndarray
        The point (V,), as shares of the bounds [-].

    Returns
    -------
    Found
        Every size on a whole multiple of its step. The march judges each that is tried; the
        slopes only say which to try.
    """
    space = problem.space
    if not space.variables:
        return found_at(shares, problem.at(shares[None]))
    tried = _Tried(problem)
    best = tried.best_of(_ways(space, shares))
    for _ in range(MOVES):
        if not best.found.solved:
            break
        tried.at(np.array([best.steps + move for move in _moves(tried, best)]))
        if tried.best() is best:
            break
        best = tried.best()
    return best.found


class _Whole(NamedTuple):
    """Sizes as whole numbers of steps (V,), and what they make."""

    steps: Steps
    found: Found


class _Tried:
    """Points on the steps, each solved once."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.step = np.array([v.step for v in problem.space.variables])
        ends = [v.whole for v in problem.space.variables]
        self.low, self.high = (np.array(side) for side in zip(*ends, strict=True))
        self.seen: dict[bytes, _Whole] = {}

    def at(self, steps: Steps) -> list[_Whole]:
        """Return points (n, V) solved."""
        steps = np.clip(steps, self.low, self.high)
        new = [row for row in np.unique(steps, axis=0) if row.tobytes() not in self.seen]
        if new:
            space = self.problem.space
            shares = space.shares(np.array(new) * self.step)
            points = self.problem.at(shares)
            for n, row in enumerate(new):
                self.seen[row.tobytes()] = _Whole(row, found_at(shares[n], points, n))
        return [self.seen[row.tobytes()] for row in steps]

    def best_of(self, steps: Steps) -> _Whole:
        """Return the best of all that were solved, some points (n, V) among them."""
        self.at(steps)
        return self.best()

    def best(self) -> _Whole:
        """Return the best of all that were solved."""

        def rank(one: _Whole) -> tuple[float, float]:
            # here a miss of the shop's counts as any: weighed, it would let every limit go as far
            found = one.found
            miss = max(-float(found.constraints.min()), 0.0) if found.solved else np.inf
            return miss, found.objective if found.solved else np.inf

        return min(self.seen.values(), key=rank)


def _ways(space: Space, shares: Array) -> Steps:
    """Return the points (n, V) round one: all to the nearest, and up and down at random."""
    variables = space.variables
    real = space.values(shares[None])[0] / np.array([v.step for v in variables])
    up = np.random.default_rng(0).random((ROUNDINGS, len(variables))) < 0.5
    found = np.where(up, np.ceil(real), np.floor(real))
    found[0] = np.round(real)
    return np.asarray(found, dtype=np.int64)


def _moves(tried: _Tried, at: _Whole) -> list[Steps]:
    """Return the steps (V,) to the best points by the slopes, within each reach."""
    ways = np.where(at.steps < tried.high, 1, -1)
    here = at.found
    beside = [one.found for one in tried.at(at.steps + np.diag(ways))]
    near = here.constraints < NEAR
    slopes = np.array([(b.constraints - here.constraints)[near] for b in beside]).T * ways
    gains = np.array([b.objective for b in beside]) / here.objective - 1.0
    # a neighbour that was not solved: its flagged constraints alone keep the move from it
    gains = np.where(np.isfinite(gains), gains, 0.0) * ways
    known = _Slopes(gains, slopes, -here.constraints[near])
    low, high = tried.low - at.steps, tried.high - at.steps
    return [
        _move(known, reserve, np.maximum(low, -reach), np.minimum(high, reach))
        for reach, reserve in product(REACHES, RESERVES)
    ]


class _Slopes(NamedTuple):
    """Gain (V,) and constraints (m, V) a step, and what these are to reach (m,)."""

    gains: Array
    constraints: Array
    least: Array


def _move(slopes: _Slopes, reserve: float, low: Steps, high: Steps) -> Steps:
    """Return the best steps (V,) between two ends: an integer linear programme."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    size = slopes.gains.size
    kept = np.column_stack([slopes.constraints, np.ones(slopes.least.size)])
    done = milp(
        np.append(slopes.gains, MISS_WEIGHT),
        integrality=np.append(np.ones(size), 0),
        bounds=Bounds(np.append(low, 0.0), np.append(high, np.inf)),
        constraints=LinearConstraint(kept, slopes.least + reserve) if kept.size else None,
        options={"node_limit": MOST_NODES, "presolve": False},  # presolve prints at times
    )
    found: Array = np.zeros(size) if done.x is None else np.round(done.x[:size])
    return np.asarray(found, dtype=np.int64)
