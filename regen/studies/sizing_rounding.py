"""Sizes as they are written: whole multiples of a step, chosen by the slopes between them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.studies.sizing_problem import Problem
from regen.studies.sizing_search import Found, found_at
from regen.studies.sizing_space import Space

Array = NDArray[np.float64]
Steps = NDArray[np.int64]

ROUNDINGS = 64
"""Ways of rounding the sizes up and down that are tried first."""

REACH = 4
"""Most steps that a size goes from where its slopes were taken [-]."""

MOVES = 8
"""Most times that the slopes are taken."""

MISS_WEIGHT = 1e3
"""What a miss of a limit costs against the same share of the objective [-]."""

RESERVE = 1e-6
"""Margin asked of a linear estimate, so that its solver's own tolerance breaks no limit [-]."""

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
    first = tried.best_of(_ways(space, shares))
    best, reach = first, REACH
    for _ in range(MOVES):
        if not best.found.solved or reach < 1:
            break
        moved = tried.best_of(best.steps + _move(tried, best, reach)[None])
        around = tried.known()
        if _rank(around.found) < _rank(best.found):
            best = around
        elif np.array_equal(moved.steps, best.steps):
            break
        else:
            reach //= 2
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
        new = [row for row in np.unique(steps, axis=0) if row.tobytes() not in self.seen]
        if new:
            space = self.problem.space
            shares = space.shares(np.array(new) * self.step)
            points = self.problem.at(shares)
            for n, row in enumerate(new):
                self.seen[row.tobytes()] = _Whole(row, found_at(shares[n], points, n))
        return [self.seen[row.tobytes()] for row in steps]

    def best_of(self, steps: Steps) -> _Whole:
        """Return the best of some points (n, V), held to the bounds."""
        return _best(self.at(np.clip(steps, self.low, self.high)))

    def known(self) -> _Whole:
        """Return the best of all that were solved."""
        return _best(list(self.seen.values()))


def _best(found: list[_Whole]) -> _Whole:
    return min(found, key=lambda one: _rank(one.found))


def _rank(one: Found) -> tuple[float, float]:
    return one.violation, one.objective if one.solved else np.inf


def _ways(space: Space, shares: Array) -> Steps:
    """Return the points (n, V) round one: all to the nearest, and up and down at random."""
    variables = space.variables
    real = space.values(shares[None])[0] / np.array([v.step for v in variables])
    up = np.random.default_rng(0).random((ROUNDINGS, len(variables))) < 0.5
    found = np.where(up, np.ceil(real), np.floor(real))
    found[0] = np.round(real)
    return found.astype(np.int64)


def _move(tried: _Tried, at: _Whole, reach: int) -> Steps:
    """Return the steps (V,) to the best point by the slopes: an integer linear programme."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    ways = np.where(at.steps < tried.high, 1, -1)
    here, size = at.found, at.steps.size
    beside = [one.found for one in tried.at(at.steps + np.diag(ways))]
    near = here.constraints < NEAR
    slopes = np.array([(b.constraints - here.constraints)[near] for b in beside]).T * ways
    gains = np.array([b.objective for b in beside]) / here.objective - 1.0
    # a neighbour that was not solved: its flagged constraints alone keep the move from it
    gains = np.where(np.isfinite(gains), gains, 0.0) * ways
    done = milp(
        np.append(gains, MISS_WEIGHT),
        integrality=np.append(np.ones(size), 0),
        bounds=Bounds(
            np.append(np.maximum(tried.low - at.steps, -reach), 0.0),
            np.append(np.minimum(tried.high - at.steps, reach), np.inf),
        ),
        constraints=LinearConstraint(
            np.column_stack([slopes, tried.problem.give[near]]), RESERVE - here.constraints[near]
        )
        if near.any()
        else None,
        options={"node_limit": 2000},
    )
    return np.zeros(size, dtype=np.int64) if done.x is None else np.round(done.x[:size]).astype(int)
