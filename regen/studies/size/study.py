"""Sizing: the slots, wall and flow that make the objective least while every limit is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from regen.checks import shop_rules
from regen.design import Design
from regen.solver.prepare import Progress
from regen.studies.batch.designs import DesignBatch, Rows, solve_batch
from regen.studies.size.problem import HELD, OBJECTIVES, UNSOLVED, Constraint, Problem, Trial
from regen.studies.size.rounding import nearby
from regen.studies.size.search import SCREEN, followed, screened, starts
from regen.studies.size.space import Space, space_of

Array = NDArray[np.float64]
Solve = Callable[..., Rows]

ACTIVE = 0.01
"""A constraint with less margin than this is active [-]."""

TRIED = 16
"""Points that tell which limits there are."""


@dataclass(frozen=True)
class Sized:
    """The outcome: the best sizes found, or, where none keep every limit, the nearest.

    ``values`` (V,) [SI] are rounded as they are written; ``design`` has them. ``own`` are the
    case's, ``own_objective`` [SI] is that of the case, NaN where it was not solved. ``trial`` has
    the judgement and its constraints; ``unknown`` are the limits, with
    their run, that could not be evaluated at these sizes.
    """

    space: Space
    design: Design
    values: Array
    own: Array
    trial: Trial
    unknown: frozenset[tuple[str, str]] = frozenset()
    own_objective: float = np.nan

    @property
    def feasible(self) -> bool:
        """Whether every limit is kept, and known to be."""
        return bool(self.trial.solved and self.trial.violation == 0.0 and not self.unknown)

    @property
    def active(self) -> tuple[tuple[Constraint, float], ...]:
        """Constraints with little or no margin, with what is left [-], the least first."""
        pairs = zip(self.trial.names, self.trial.constraints.tolist(), strict=True)
        return tuple(sorted((one for one in pairs if one[1] < ACTIVE), key=lambda one: one[1]))

    @property
    def at_bounds(self) -> tuple[tuple[str, str, float], ...]:
        """Sizes that lie on a bound: name, which bound, and its value [SI]."""
        return tuple(
            (variable.parameter.name, which, bound)
            for variable, value in zip(self.space.variables, self.values, strict=True)
            for which, bound in (("lower", variable.low), ("upper", variable.high))
            if abs(value - bound) < 0.999 * variable.step  # the last step before the bound
        )


def size(
    design: Design,
    *,
    threads: int = 1,
    seed: int = 0,
    progress: Progress | None = None,
    solve: Solve = solve_batch,
) -> Sized:
    """Find the best sizes, or the nearest to keeping every limit.

    Parameters
    ----------
    design : Design
        Checked design; ``design.sizing`` says what is free, and for what.
    threads : int
        Threads to spread the work over [-].
    seed : int
        Of the screen's Sobol points; the same seed gives the same sizes [-].
    progress : callable, optional
        Receives a line about what is being waited for.
    solve : callable
        Solves a batch, as ``batch.solve_batch`` does.

    Raises
    ------
    RangeError
        If the case cannot be sized: several circuits, manifolds, bounds without room.
    GeometryError
        If its geometry is impossible.
    """
    say = progress or (lambda text: None)
    space = space_of(design)
    own = space.own()
    say("which limits there are")
    coarse = space.coarse()
    problem = Problem(coarse, _limits(coarse, solve, threads), threads, solve)
    if not problem.limits:
        none = Trial(own, np.nan, np.array([UNSOLVED]), np.inf, False, (Constraint("solved"),))
        return Sized(space, space.base, own, own, none)
    say("screen of the sizes")
    trials = screened(problem, seed, space.shares(own[None]))
    say("search from the best of them")
    best = _best(problem, trials)
    say("whole counts, cutters and rounded sizes")
    sized = _whole(replace(problem, space=space), best, own)
    return replace(sized, own_objective=_own_objective(design, solve))


def _limits(space: Space, solve: Solve, threads: int) -> tuple[str, ...]:
    """Return the names of the limits that decide, over points of the whole space.

    Those of the shop are constraints of the problem's own, without the case's margin.
    """
    from scipy.stats import qmc

    judged, own = HELD[space.base.sizing.held_at][0], space.shares(space.own()[None])
    for count in (TRIED, SCREEN):  # many where few can be solved
        points = np.concatenate([own, qmc.Sobol(len(space.variables), seed=1).random(count)])
        rows = solve(space.batch(points), judged=judged, threads=threads, stationwise=True)
        if rows.solved.any():
            return tuple(n for n in rows.margins if n not in rows.informative | shop_rules.NAMES)
    return ()


def _best(problem: Problem, trials: list[Trial]) -> Trial:
    """Return the best end of searches from the best starts; else that of the least miss."""
    ends = [followed(problem, start.shares) for start in starts(trials)]
    kept = [one for one in (*ends, *trials) if one.violation == 0.0]
    if kept:
        return min(kept, key=lambda end: end.objective)
    near = min([*ends, *trials], key=lambda end: end.violation)
    return followed(problem, near.shares) if near.solved else near


def _whole(problem: Problem, best: Trial, own: Array) -> Sized:
    """Return the best sizes with whole counts, the shop's cutters, and rounded lengths.

    Each choice of counts and cutters is searched again, and what remains is rounded.
    """
    outcomes = []
    for space in _choices(problem.space, best.shares):
        narrowed = replace(problem, space=space)
        start = _carried(problem.space, space, best.shares)
        end = narrowed.at(start[None])[0]
        if space.variables and end.solved:
            end = followed(narrowed, start, again=True)
        outcomes.append(_outcome(narrowed, nearby(narrowed, end.shares), own, problem.space))
    kept = [one for one in outcomes if one.feasible]
    if kept:
        return min(kept, key=lambda one: one.trial.objective)
    return min(outcomes, key=lambda one: one.trial.violation)


def _choices(space: Space, shares: Array) -> list[Space]:
    """Return the space at the whole counts and the cutters next to a point."""
    values = space.values(shares[None])[0]
    spaces = [space]
    for n in space.of("count"):
        low, high = space.variables[n].low, space.variables[n].high
        near = sorted({np.floor(values[n]), np.ceil(values[n])})
        spaces = [one.fixed("count", c) for one in spaces for c in near if low <= c <= high]
    for n in space.of("width") if space.widths else []:
        below = [w for w in space.widths if w <= values[n] * (1.0 + 1e-9)]
        above = [w for w in space.widths if w >= values[n] * (1.0 - 1e-9)]
        near = sorted({*below[-1:], *above[:1]})
        spaces = [one.with_cutter(w) for one in spaces for w in near]
    return spaces


def _carried(old: Space, new: Space, shares: Array) -> Array:
    """Return a point's shares in a space with fewer variables, held to its bounds."""
    names = [variable.parameter.name for variable in old.variables]
    kept = [names.index(variable.parameter.name) for variable in new.variables]
    return np.asarray(new.shares(old.values(shares[None])[:, kept])[0])


def _outcome(problem: Problem, trial: Trial, own: Array, space: Space) -> Sized:
    """Return a trial as an outcome in the whole space."""
    design = problem.space.design(problem.space.values(trial.shares[None])[0])
    values, unknown = replace(space, base=design).own(), problem.unknown(trial.shares)
    return Sized(space, design, values, own, trial, unknown)


def _own_objective(design: Design, solve: Solve) -> float:
    """Return the objective of the case as it is [SI], NaN where it is not solved."""
    rows = solve(DesignBatch(design, (), np.zeros((1, 0))), judged="nominal")
    value = float(rows.summary[OBJECTIVES[design.sizing.minimise]][0])
    return value if rows.solved[0] else float("nan")
