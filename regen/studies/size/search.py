"""The search for the best sizes: a screen of Sobol points, then slopes from the best."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from contextlib import suppress
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.studies.size.problem import Problem, Trial, Trials

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


def ranked(trials: Trials) -> NDArray[np.int64]:
    """Return the numbers (n,) of trials from best to worst: those that keep all, then by miss."""
    objective = np.where(np.isfinite(trials.objective), trials.objective, np.inf)
    return np.lexsort((objective, trials.violation))


def screened(problem: Problem, seed: int, extra: Array) -> list[Trial]:
    """Return the best of a screen of Sobol points and ``extra`` ones (n, V), the best first."""
    from scipy.stats import qmc  # half a second of imports

    count = len(problem.space.variables)
    points = np.concatenate([extra, qmc.Sobol(count, seed=seed).random(SCREEN)])
    if "band_edge" in problem.held:
        points = points[ranked(problem.at(points, judged="worst"))[:NEARER]]
    trials = problem.at(points)
    return [trials[n] for n in ranked(trials)]


def starts(trials: Sequence[Trial]) -> list[Trial]:
    """Return the best solved trials, the best first, that lie apart; at most ``STARTS``."""
    kept: list[Trial] = []
    for one in trials:
        reach = APART * np.sqrt(one.shares.size)
        near = any(np.linalg.norm(one.shares - other.shares) < reach for other in kept)
        if one.solved and not near:
            kept.append(one)
        if len(kept) == STARTS:
            break
    return kept


class _Sloped(NamedTuple):
    """One trial: its value (log of the objective), kept constraints (m,), and their slopes."""

    trial: Trial
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
        self.give = np.zeros(0)
        self.scale: float | None = None
        self.known: dict[bytes, _Sloped] = {}
        self.idle = 0

    def at(self, shares: Array) -> _Sloped:
        """Return values and slopes at a point: one call, since most points ask for both."""
        key = shares.tobytes()
        if key not in self.known:
            # one-sided, inwards: no point is tried beyond the bounds
            steps = np.where(shares + STEP <= 1.0, STEP, -STEP)
            points = np.concatenate([shares[None], shares + np.diag(steps)])
            trials = self.problem.at(points)
            self.give, self.scale = trials.give, self.scale or float(trials.objective[0])
            value = np.where(trials.solved, np.log(trials.objective / self.scale), FLAGGED)
            kept = trials.constraints - RESERVE
            one = _Sloped(
                trials[0],
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

    def best(self) -> _Sloped:
        """Return the best of all points met."""
        return min(self.solved(), key=lambda one: one.merit)

    def solved(self) -> list[_Sloped]:
        """Return all points met that were solved."""
        return [one for one in self.known.values() if one.trial.solved]

    def run(self, reach: float, runs: int) -> None:
        """Start the optimiser anew at the best point met, nearer where it gained nothing."""
        merit = self.at(self.start).merit
        for _ in range(runs):
            self._optimised(self.best().trial.shares, reach)
            if merit - self.best().merit < GAIN:
                reach *= SHRINK
                if reach < SHORTEST:
                    break
            merit = self.best().merit

    def _optimised(self, start: Array, reach: float) -> None:
        """Let the optimiser try points, whether or not it reports success.

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


def followed(problem: Problem, start: Array, *, again: bool = False) -> Trial:
    """Follow the slopes from a solved point (V,) to the least objective, or the least miss.

    ``again`` goes on from the end of another search, with fewer and shorter steps. Returns the
    best point met on the way: the march judges it, not the optimiser.
    """
    search = _Search(problem, start)
    search.run(*((LAST_REACH, LAST_RUNS) if again else (REACH, MOST_RUNS)))

    def rank(one: _Sloped) -> tuple[float, float]:
        return 0.0 if one.miss <= TIGHT * RESERVE else one.miss, one.value

    return min(search.solved(), key=rank).trial
