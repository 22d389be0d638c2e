"""The search for the best sizes: a screen of Sobol points, then slopes from the best."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.studies.size.problem import Points, Problem

Array = NDArray[np.float64]

SCREEN = 1024
"""Sobol points that are tried first; a power of two."""

STARTS = 2
"""Of these, the best that lie apart, from which the slopes are followed."""

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

MOST_STEPS = 12
"""Steps of the optimiser before it starts anew at the best point met."""

REACH, LAST_REACH = 0.3, 0.1
"""How far sizes may go before it does, as a share of their bounds [-].

Of the first search, and of one that goes on where another ended. Without a bound the optimiser
strides into designs whose worst channel is not solved, and finds no way back.
"""

SHORTEST = 0.02
"""Reach below which a search ends [-]."""

SHRINK = 0.2
"""What the reach is multiplied by where it gained nothing [-]."""

MOST_RUNS, LAST_RUNS = 8, 3
"""Most times that the optimiser starts anew, of either search."""

PRECISION = 1e-4
"""Change of the objective, over itself, below which the optimiser ends [-]."""

PATIENCE = 5
"""Points in a row without a better one after which the optimiser is stopped."""

GAIN = 3e-4
"""Change of the objective, over itself, that is worth another start [-]."""

FLAGGED = 3.0
"""Log of the objective of a point that was not solved, over that of the start [-]."""

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
        With all runs solved that the case asks for.
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
    """One point: its value (log of the objective), kept constraints (m,), and their slopes."""

    found: Found
    value: float
    kept: Array
    miss: float
    slope: Array
    slopes: Array

    @property
    def merit(self) -> float:
        """What the search makes less: the value, and the miss at its price."""
        return self.value + MISS_WEIGHT * self.miss


class _Enough(Exception):  # noqa: N818 - no error
    """The optimiser tries points that are no better."""


class _Search:
    """Objective and constraints as an optimiser asks for them, each point solved once."""

    def __init__(self, problem: Problem, start: Array) -> None:
        self.problem, self.start = problem, start
        self.give = problem.give
        self.scale: float | None = None
        self.known: dict[bytes, _Tried] = {}
        self.idle = 0

    def at(self, shares: Array) -> _Tried:
        """Return values and slopes at a point: one call, since most points ask for both."""
        key = shares.tobytes()
        if key not in self.known:
            # one-sided, inwards: no point is tried beyond the bounds
            steps = np.where(shares + STEP <= 1.0, STEP, -STEP)
            points = np.concatenate([shares[None], shares + np.diag(steps)])
            found = self.problem.at(points)
            self.scale = self.scale or float(found.objective[0])
            value = np.where(found.solved, np.log(found.objective / self.scale), FLAGGED)
            kept = found.constraints - RESERVE
            one = _Tried(
                found_at(shares.copy(), found),
                float(value[0]),
                kept[0],
                max(-float((kept[0] / self.give).min()), 0.0),
                (value[1:] - value[0]) / steps,
                ((kept[1:] - kept[0]) / steps[:, None]).T,
            )
            better = not self.known or one.merit < self.best().merit
            self.known[key] = one
            self.idle = 0 if better else self.idle + 1
            if self.idle > PATIENCE:
                raise _Enough
        return self.known[key]

    def best(self) -> _Tried:
        """Return the best of all points met."""
        solved = [one for one in self.known.values() if one.found.solved]
        return min(solved, key=lambda one: one.merit)

    def run(self, reach: float, runs: int) -> None:
        """Start the optimiser anew at the best point met, nearer where it gained nothing."""
        merit = self.at(self.start).merit
        for _ in range(runs):
            self._optimised(self.best().found.shares, reach)
            if merit - self.best().merit < GAIN:
                reach *= SHRINK
                if reach < SHORTEST:
                    break
            merit = self.best().merit

    def _optimised(self, start: Array, reach: float) -> None:
        """Let the optimiser try points; what it says of success is not asked for.

        The last of its variables is a miss that every limit may have, at a price.
        """
        from scipy.optimize import minimize

        size, self.idle = start.size, 0
        low, high = np.maximum(start - reach, 0.0), np.minimum(start + reach, 1.0)
        with warnings.catch_warnings(), suppress(_Enough):
            # the optimiser clips a step by rounding to the bounds, and says so
            warnings.simplefilter("ignore", RuntimeWarning)
            minimize(
                lambda z: self.at(z[:size]).value + MISS_WEIGHT * z[size],
                np.append(start, self.at(start).miss),
                jac=lambda z: np.append(self.at(z[:size]).slope, MISS_WEIGHT),
                bounds=[*zip(low, high, strict=True), (0.0, None)],
                constraints={
                    "type": "ineq",
                    "fun": lambda z: self.at(z[:size]).kept + self.give * z[size],
                    "jac": lambda z: np.column_stack([self.at(z[:size]).slopes, self.give]),
                },
                method="SLSQP",
                options={"maxiter": MOST_STEPS, "ftol": PRECISION},
            )


def followed(problem: Problem, start: Array, *, again: bool = False) -> Found:
    """Follow the slopes from a start to the least objective, or to the least miss of all limits.

    Parameters
    ----------
    problem : Problem
        What is searched.
    start : ndarray
        Where from (V,), a point that is solved, as shares of the bounds [-].
    again : bool
        Go on from the end of another search: fewer and shorter steps.

    Returns
    -------
    Found
        The best point met on the way: the march judges it, not the optimiser.
    """
    search = _Search(problem, start)
    search.run(*((LAST_REACH, LAST_RUNS) if again else (REACH, MOST_RUNS)))
    solved = [one for one in search.known.values() if one.found.solved]

    def rank(one: _Tried) -> tuple[float, float]:
        return 0.0 if one.miss <= TIGHT * RESERVE else one.miss, one.value

    return min(solved, key=rank).found
