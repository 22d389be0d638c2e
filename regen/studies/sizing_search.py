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


@dataclass(frozen=True)
class Found:
    """One point that a search ended at: shares (V,), objective [SI] and constraints (m,) [-]."""

    shares: Array
    objective: float
    constraints: Array
    solved: bool

    @property
    def violation(self) -> float:
        """Largest miss of a constraint [-]; 0 where all are kept."""
        return float(max(-self.constraints.min(), 0.0)) if self.solved else np.inf


def ranked(points: Points) -> NDArray[np.int64]:
    """Return the points (n,) from best to worst: those that keep all first, others by miss [-]."""
    miss = np.where(points.solved, points.violation, np.inf)
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
    solved = bool(points.solved[n])
    return Found(shares, float(points.objective[n]), points.constraints[n], solved)


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
    """One point (V,): objective and constraints (m,), and their slopes (V,) and (m, V)."""

    shares: Array
    value: float
    kept: Array
    slope: Array
    slopes: Array


class _Search:
    """Objective and constraints as an optimiser asks for them, each point solved once."""

    def __init__(self, problem: Problem, start: Found, slack: bool, reserve: float) -> None:
        self.problem, self.slack, self.reserve = problem, slack, reserve
        self.scale = start.objective
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
                shares.copy(),
                float(value[0]),
                kept[0],
                (value[1:] - value[0]) / steps,
                ((kept[1:] - kept[0]) / steps[:, None]).T,
            )
        return self.known[key]

    def run(self, start: Array, steps: int) -> Array:
        """Return where the optimiser ends; what it says of success is not asked for."""
        from scipy.optimize import minimize

        at = np.append(start, self._miss(start)) if self.slack else start
        size = start.size
        bounds = [(0.0, 1.0)] * size + ([(0.0, None)] if self.slack else [])
        with warnings.catch_warnings():
            # the optimiser clips a step by rounding to the bounds, and says so
            warnings.simplefilter("ignore", RuntimeWarning)
            done = minimize(
                (lambda z: z[size]) if self.slack else (lambda z: self.at(z).value),
                at,
                jac=self._slack_slope if self.slack else (lambda z: self.at(z).slope),
                bounds=bounds,
                constraints={
                    "type": "ineq",
                    "fun": lambda z: self.at(z[:size]).kept + (z[size] if self.slack else 0.0),
                    "jac": lambda z: self._constraint_slopes(z, size),
                },
                method="SLSQP",
                options={"maxiter": steps, "ftol": PRECISION},
            )
        return np.asarray(np.clip(done.x[:size], 0.0, 1.0))

    def _miss(self, shares: Array) -> float:
        return max(-float(self.at(shares).kept.min()), 0.0)

    def _slack_slope(self, z: Array) -> Array:
        slope = np.zeros_like(z)
        slope[-1] = 1.0
        return slope

    def _constraint_slopes(self, z: Array, size: int) -> Array:
        slopes = self.at(z[:size]).slopes
        return np.column_stack([slopes, np.ones(slopes.shape[0])]) if self.slack else slopes


def followed(
    problem: Problem,
    start: Found,
    *,
    slack: bool = False,
    reserve: float = RESERVE,
    steps: int = MOST_STEPS,
) -> Found:
    """Follow the gradient from a start.

    Parameters
    ----------
    problem : Problem
        What is searched.
    start : Found
        Where from.
    slack : bool
        Seek the least miss of all limits in place of the least objective.
    reserve : float
        Margin to be kept beyond every limit [-].
    steps : int
        Most steps [-].

    Returns
    -------
    Found
        The best point met on the way: the march judges it, not the optimiser.
    """
    search = _Search(problem, start, slack, reserve)
    for point in (start.shares, search.run(start.shares, steps)):
        search.at(point)
    tried = list(search.known.values())
    value = np.array([point.value for point in tried])
    miss = np.array([-float(point.kept.min()) for point in tried])
    if not slack:
        miss = np.where(miss <= TIGHT * reserve, 0.0, miss)
    best = tried[np.lexsort((value, miss))[0]].shares
    return found_at(best, problem.at(best[None]))
