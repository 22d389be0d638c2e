"""The search for the best sizes: a screen of Sobol points, then the gradient from the best."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.studies.sizing_problem import Points, Problem

Array = NDArray[np.float64]

SCREEN = 1024
"""Sobol points that are tried first; a power of two."""

STARTS = 2
"""Of these, the best that lie apart, from which the gradient is followed."""

NEARER = 256
"""Of these, those tried at the band edge too, which costs ten times the rest."""

APART = 0.15
"""Least distance between two starts, over the root of the number of variables [-]."""

STEP = 2e-3
"""Step of the differences, as a share of the bounds: far above the march's own tolerance [-]."""

RESERVE = 1e-3
"""Margin that is kept beyond every limit, for the rounding of sizes [-]."""

TIGHT = 0.9
"""Share of the reserve that an end may have used up [-]: the optimiser leaves a little."""

MOST_STEPS = 25
LAST_STEPS = 10
"""Steps of a search from a start, and of one that goes on where another ended."""

PRECISION = 1e-4
"""Change of the objective, over itself, below which the search ends [-]."""

FLAGGED = 10.0
"""Objective of a point that was not solved, over that of the start [-]."""

MISS_WEIGHT = 30.0
"""What a miss of a limit costs the search against the same share of the objective [-].

A per cent of margin buys far less than 30 % of any objective. With the limits as the optimiser's
own, it gives up where their slopes contradict each other, as they do far from the answer.
"""


@dataclass(frozen=True)
class Found:
    """One point tried: shares (V,), objective [SI], constraints (m,) and their violation [-]."""

    shares: Array
    objective: float
    constraints: Array
    violation: float
    solved: bool


def ranked(points: Points) -> NDArray[np.int64]:
    """Return the points (n,) from best to worst: those that keep all first, others by miss [-]."""
    miss = points.violation
    objective = np.where(np.isfinite(points.objective), points.objective, np.inf)
    return np.lexsort((objective, miss))


def screened(problem: Problem, seed: int, extra: Array | None = None) -> list[Found]:
    """Return the best of a screen, the best first.

    Parameters
    ----------
    problem : Problem
        What is searched.
    seed : int
        Of the scrambled Sobol points [-].
    extra : ndarray, optional
        Further points (n, V) to be tried, such as the case's own [-].

    Returns
    -------
    list of Found
        With all lanes solved that the case asks for.
    """
    from scipy.stats import qmc  # half a second of imports

    count = len(problem.space.variables)
    points = qmc.Sobol(count, seed=seed).random(SCREEN)
    if extra is not None:
        points = np.concatenate([extra, points])
    if "band_edge" in problem.held:
        points = points[ranked(problem.at(points, judged="worst"))[:NEARER]]
    tried = problem.at(points)
    return [found_at(points[n], tried, n) for n in ranked(tried)]


def found_at(shares: Array, points: Points, n: int = 0) -> Found:
    """Return point n of some that were tried, at its shares (V,) [-]."""
    return Found(
        shares,
        float(points.objective[n]),
        points.constraints[n],
        float(points.violation[n]),
        bool(points.solved[n]),
    )


def starts(found: Sequence[Found]) -> list[Found]:
    """Return the best points that lie apart from each other.

    Parameters
    ----------
    found : sequence of Found
        The best first.

    Returns
    -------
    list of Found
        At most ``STARTS``, solved ones only.
    """

    def apart() -> Iterator[Found]:
        kept: list[Found] = []
        for one in found:
            reach = APART * np.sqrt(one.shares.size)
            near = any(np.linalg.norm(one.shares - other.shares) < reach for other in kept)
            if one.solved and not near:
                kept.append(one)
                yield one

    return list(islice(apart(), STARTS))


class _Tried(NamedTuple):
    """One point: what it is, its value and kept constraints (m,), and their slopes."""

    found: Found
    value: float
    kept: Array
    slope: Array
    slopes: Array


class _Search:
    """Objective and constraints as an optimiser asks for them, each point solved once."""

    def __init__(self, problem: Problem, start: Found, reserve: float) -> None:
        self.problem, self.reserve = problem, reserve
        self.scale = start.objective
        self.give = problem.give
        self.known: dict[bytes, _Tried] = {}

    def at(self, shares: Array) -> _Tried:
        """Return values and slopes at a point: one call, since most points ask for both."""
        key = shares.tobytes()
        if key not in self.known:
            # one-sided, inwards: no point is tried beyond the bounds
            steps = np.where(shares + STEP <= 1.0, STEP, -STEP)
            points = np.concatenate([shares[None], shares + np.diag(steps)])
            found = self.problem.at(points)
            value = np.where(found.solved, found.objective / self.scale, FLAGGED)
            kept = found.constraints - self.reserve
            self.known[key] = _Tried(
                found_at(shares.copy(), found),
                float(value[0]),
                kept[0],
                (value[1:] - value[0]) / steps,
                ((kept[1:] - kept[0]) / steps[:, None]).T,
            )
        return self.known[key]

    def miss(self, shares: Array) -> float:
        """Return the largest miss at a point [-]."""
        return max(-float((self.at(shares).kept / self.give).min()), 0.0)

    def run(self, start: Array, steps: int) -> None:
        """Let the optimiser try points; what it says of success is not asked for.

        The last of its variables is a miss that every limit may have, at a price.
        """
        from scipy.optimize import minimize

        size = start.size
        with warnings.catch_warnings():
            # the optimiser clips a step by rounding to the bounds, and says so
            warnings.simplefilter("ignore", RuntimeWarning)
            minimize(
                lambda z: self.at(z[:size]).value + MISS_WEIGHT * z[size],
                np.append(start, self.miss(start)),
                jac=lambda z: np.append(self.at(z[:size]).slope, MISS_WEIGHT),
                bounds=[*[(0.0, 1.0)] * size, (0.0, None)],
                constraints={
                    "type": "ineq",
                    "fun": lambda z: self.at(z[:size]).kept + self.give * z[size],
                    "jac": lambda z: np.column_stack([self.at(z[:size]).slopes, self.give]),
                },
                method="SLSQP",
                options={"maxiter": steps, "ftol": PRECISION},
            )


def followed(
    problem: Problem, start: Found, *, reserve: float = RESERVE, steps: int = MOST_STEPS
) -> Found:
    """Follow the gradient from a start to the least objective, or to the least miss of all limits.

    Parameters
    ----------
    problem : Problem
        What is searched.
    start : Found
        Where from.
    reserve : float
        Margin to be kept beyond every limit [-].
    steps : int
        Most steps [-].

    Returns
    -------
    Found
        The best point met on the way: the march judges it, not the optimiser.
    """
    search = _Search(problem, start, reserve)
    search.run(start.shares, steps)
    tried = [point.found for point in search.known.values()]
    value = np.array([one.objective for one in tried])
    miss = np.array([search.miss(one.shares) for one in tried])
    return tried[int(np.lexsort((value, np.where(miss <= TIGHT * reserve, 0.0, miss)))[0])]
