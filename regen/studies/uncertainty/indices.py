"""Sampling and its statistics: Sobol' points, sensitivity indices, and the error of a count."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SOURCES = ("sobol1993", "saltelli2010", "jansen1999", "owen1997", "wilson1927")
"""Where the methods come from."""

RESAMPLES = 500
"""Bootstrap samples of an index [-]."""

CONFIDENCE = 0.95
Z = 1.959963984540054
"""Standard normal quantile of ``CONFIDENCE``, both sides [-]."""


def saltelli(inputs: int, samples: int, seed: int) -> Array:
    """Return the points of Saltelli's design ((2 + inputs) samples, inputs) in the unit cube.

    First the base samples A and B, the two halves of the same scrambled Sobol' points, then A with
    each of its columns from B; ``samples`` is a power of two.
    """
    from scipy.stats import qmc

    points = qmc.Sobol(2 * inputs, scramble=True, seed=seed).random_base2(samples.bit_length() - 1)
    a, b = points[:, :inputs], points[:, inputs:]
    mixed = (np.where(np.arange(inputs) == n, b, a) for n in range(inputs))
    return np.concatenate([a, b, *mixed])


@dataclass(frozen=True)
class Indices:
    """First-order and total indices of d inputs (d,), each with the ends of its interval [-].

    ``used`` (d,) is the number of base points whose designs all gave a value. Everything is NaN
    where the output does not vary.
    """

    used: NDArray[np.int64]
    first: Array
    first_low: Array
    first_high: Array
    total: Array
    total_low: Array
    total_high: Array


def indices(f_a: Array, f_b: Array, f_mixed: Array, seed: int) -> Indices:
    """Return the sensitivity indices of an output with bootstrap intervals.

    First order by Saltelli et al. (2010), total by Jansen (1999). The bootstrap takes base points
    as independent, which scrambled Sobol' points beat: the intervals are rather too wide.

    ``f_a`` and ``f_b`` (n,) are the output at the base samples, NaN where there is none, and
    ``f_mixed`` (d, n) that at A with column i from B. The indices rest on the base points at which
    A, B and the mixed design gave a value.
    """
    used = np.isfinite(f_a) & np.isfinite(f_b) & np.isfinite(f_mixed)
    rows = [
        _one_input(f_a[whole], f_b[whole], mixture[whole], (seed, n))
        for n, (mixture, whole) in enumerate(zip(f_mixed, used, strict=True))
    ]
    return Indices(used.sum(axis=1), *np.array(rows).T)


def _one_input(a: Array, b: Array, m: Array, seed: tuple[int, int]) -> Array:
    """Return index, low and high of first order, then of total (6,), from whole base points."""
    used, unknown = a.size, np.full(6, np.nan)
    if used < 2:
        return unknown
    centre = 0.5 * (a.mean() + b.mean())
    a, b, m = a - centre, b - centre, m - centre
    if max(np.ptp(a), np.ptp(b), np.ptp(m)) <= 1e-12 * (abs(centre) + 1e-300):
        return unknown
    # columns whose means make both indices and the variance
    terms = np.stack([b * (m - a), 0.5 * (m - a) ** 2, 0.5 * (a + b), 0.5 * (a**2 + b**2)], axis=1)
    rng = np.random.default_rng(seed)
    draws = (np.bincount(rng.integers(used, size=used), minlength=used) for _ in range(RESAMPLES))
    weights = [np.ones(used), *(drawn.astype(np.float64) for drawn in draws)]
    values = np.array([_ratios(terms, one) for one in weights])
    tail = 0.5 * (1.0 - CONFIDENCE)
    low, high = np.nanquantile(values[1:], [tail, 1.0 - tail], axis=0)
    return np.stack([values[0], low, high]).T.ravel()


def _ratios(terms: Array, weights: Array) -> Array:
    """Return first-order and total index (2,) of weighted base points [-]."""
    first, total, mean, square = weights @ terms / weights.sum()
    variance = square - mean**2
    if variance <= 0.0:
        return np.full(2, np.nan)
    return np.asarray(np.array([first, total]) / variance)


def wilson(count: int, trials: int) -> tuple[float, float]:
    """Return the interval of a probability from a direct count, at ``CONFIDENCE``.

    Wilson's score interval for independent trials. It keeps a width where nothing or everything
    was counted, which the spread between replicates does not; scrambled Sobol' points err less
    than independent ones, so that it is rather too wide for them.
    """
    p = count / trials
    whole = 1.0 + Z**2 / trials
    centre = (p + 0.5 * Z**2 / trials) / whole
    half = Z * sqrt(p * (1.0 - p) / trials + 0.25 * Z**2 / trials**2) / whole
    low = 0.0 if count == 0 else centre - half
    return low, 1.0 if count == trials else centre + half
