"""Sizing: the slots, wall and flow that make the objective least while every limit is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from regen.checks import shop_rules
from regen.design import Design
from regen.solver.prepare import Progress
from regen.studies.batch.designs import DesignBatch, Rows, solve_batch
from regen.studies.size.problem import HELD, OBJECTIVES, UNSOLVED, Constraint, Problem
from regen.studies.size.rounding import nearby
from regen.studies.size.search import (
    SCREEN,
    Found,
    followed,
    found_at,
    screened,
    starts,
)
from regen.studies.size.space import Space, space_of

Array = NDArray[np.float64]
Solve = Callable[..., Rows]

ACTIVE = 0.01
"""A limit with less margin than this holds the design [-]."""

TRIED = 16
"""Points that tell which limits there are."""


@dataclass(frozen=True)
class Sized:
    """The outcome: the best sizes found, or, where none keep every limit, the nearest.

    ``values`` (V,) [SI] are rounded as they are written; ``design`` has them. ``own`` are the
    case's. ``constraints`` (m,) [-] belong to ``names``. ``objective`` [SI], ``own_objective``
    that of the case, NaN where it was not solved. ``violation`` [-] is the largest miss of a
    constraint, 0 where all are kept; ``unknown`` are the limits, with their run, that could not
    be evaluated at these sizes.
    """

    space: Space
    design: Design
    values: Array
    own: Array
    objective: float
    own_objective: float
    names: tuple[Constraint, ...]
    constraints: Array
    violation: float
    unknown: frozenset[tuple[str, str]]
    solved: bool

    @property
    def feasible(self) -> bool:
        """Whether every limit is kept, and known to be."""
        return self.solved and self.violation == 0.0 and not self.unknown

    @property
    def active(self) -> tuple[tuple[Constraint, float], ...]:
        """What holds the design: constraints with little or no margin [-], the least first."""
        order = np.argsort(self.constraints, kind="stable")
        return tuple(
            (self.names[n], float(self.constraints[n]))
            for n in order
            if self.constraints[n] < ACTIVE
        )

    @property
    def at_bounds(self) -> tuple[tuple[str, str, float], ...]:
        """Sizes that lie on a bound: name, which bound, and its value [SI]."""
        found = []
        for variable, value in zip(self.space.variables, self.values, strict=True):
            reach = 0.999 * variable.step  # the last step before the bound
            for which, bound in (("lower", variable.low), ("upper", variable.high)):
                if abs(value - bound) < reach:
                    found.append((variable.key.name, which, bound))
        return tuple(found)


def size(
    design: Design,
    *,
    threads: int = 1,
    seed: int = 0,
    progress: Progress | None = None,
    solve: Solve = solve_batch,
) -> Sized:
    """Size a case.

    Parameters
    ----------
    design : Design
        Checked design; ``design.sizing`` says what is free, and for what.
    threads : int
        Threads to spread the work over [-].
    seed : int
        Of the screen's Sobol points; the same seed gives the same sizes [-].
    progress : callable, optional
        Told in words what is being waited for.
    solve : callable
        Solves a batch, as ``batch.solve_batch`` does.

    Returns
    -------
    Sized
        The best sizes, or the nearest to keeping every limit.

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
        return _nothing_solved(space, own)
    say("screen of the sizes")
    own_shares = space.shares(own[None])
    listed = screened(problem, seed, own_shares)
    say("search from the best of them")
    best = _best(problem, listed)
    problem = replace(problem, space=space)
    say("whole counts, cutters and rounded sizes")
    return replace(_whole(problem, best, own), own_objective=_own_objective(design, solve))


def _limits(space: Space, solve: Solve, threads: int) -> tuple[str, ...]:
    """Return the names of the limits that decide, over points of the whole space.

    Those of the shop are constraints of the problem's own, without the case's margin.
    """
    from scipy.stats import qmc

    for count in (TRIED, SCREEN):  # many where few can be solved
        points = qmc.Sobol(len(space.variables), seed=1).random(count)
        points = np.concatenate([space.shares(space.own()[None]), points])
        judged = HELD[space.base.sizing.held_at][0]
        rows = solve(space.batch(points), judged=judged, threads=threads, stationwise=True)
        found = tuple(n for n in rows.margins if n not in rows.informative | shop_rules.NAMES)
        if rows.solved.any():
            break
    return found if rows.solved.any() else ()


def _best(problem: Problem, listed: list[Found]) -> Found:
    """Return the best end of searches from the best starts; else that of the least miss."""
    ends = [followed(problem, start.shares) for start in starts(listed)]
    kept = [one for one in (*ends, *listed) if one.violation == 0.0]
    if kept:
        return min(kept, key=lambda end: end.objective)
    near = min([*ends, *listed], key=lambda end: end.violation)
    return followed(problem, near.shares) if near.solved else near


def _whole(problem: Problem, best: Found, own: Array) -> Sized:
    """Return the best sizes with whole counts, the shop's cutters, and rounded lengths."""
    outcomes = []
    for space in _choices(problem.space, best.shares):
        narrowed = replace(problem, space=space)
        start = _carried(problem.space, space, best.shares)
        outcomes.append(_rounded(narrowed, start, own, problem.space))
    kept = [one for one in outcomes if one.feasible]
    if kept:
        return min(kept, key=lambda one: one.objective)
    return min(outcomes, key=lambda one: one.violation)


def _choices(space: Space, shares: Array) -> list[Space]:
    """Return the space at the whole counts and the cutters next to a point."""
    values = space.values(shares[None])[0]
    choices: list[list[tuple[str, float]]] = []
    for n in space.of("count"):
        variable = space.variables[n]
        near = {np.floor(values[n]), np.ceil(values[n])}
        choices.append([("count", c) for c in sorted(near) if variable.low <= c <= variable.high])
    for n in space.of("width") if space.widths else []:
        below = [w for w in space.widths if w <= values[n] * (1.0 + 1e-9)]
        above = [w for w in space.widths if w >= values[n] * (1.0 - 1e-9)]
        choices.append([("width", w) for w in sorted({*below[-1:], *above[:1]})])
    found = []
    for picked in product(*choices):
        fixed = space
        for name, value in picked:
            fixed = fixed.cut(value) if name == "width" else fixed.fixed(name, value)
        found.append(fixed)
    return found


def _carried(old: Space, new: Space, shares: Array) -> Array:
    """Return a point's shares in a space with fewer variables, held to its bounds."""
    names = [variable.key.name for variable in old.variables]
    kept = [names.index(variable.key.name) for variable in new.variables]
    return np.asarray(new.shares(old.values(shares[None])[:, kept])[0])


def _rounded(problem: Problem, start: Array, own: Array, whole: Space) -> Sized:
    """Search again with the chosen counts and cutters, and round what remains."""
    at = nearby(problem, _end(problem, start).shares)
    return _outcome(problem, at, own, whole)


def _end(problem: Problem, start: Array) -> Found:
    """Return the end of a search; where nothing is free any more, the point itself."""
    found = found_at(start, problem.at(start[None]))
    if not problem.space.variables or not found.solved:
        return found
    return followed(problem, start, again=True)


def _outcome(problem: Problem, found: Found, own: Array, space: Space) -> Sized:
    """Return a point as an outcome in the whole space."""
    design = problem.space.design(problem.space.values(found.shares[None])[0])
    return Sized(
        space=space,
        design=design,
        values=replace(space, base=design).own(),
        own=own,
        objective=found.objective,
        own_objective=float("nan"),
        names=problem.names(),
        constraints=found.constraints,
        violation=found.violation,
        unknown=problem.unknown(found.shares),
        solved=found.solved,
    )


def _own_objective(design: Design, solve: Solve) -> float:
    """Return the objective of the case as it is [SI], NaN where it is not solved."""
    rows = solve(DesignBatch(design, (), np.zeros((1, 0))), judged="nominal")
    value = float(rows.summary[OBJECTIVES[design.sizing.minimise]][0])
    return value if rows.solved[0] else float("nan")


def _nothing_solved(space: Space, own: Array) -> Sized:
    """Return the outcome where no point of the space could be solved."""
    return Sized(
        space=space,
        design=space.base,
        values=own,
        own=own,
        objective=float("nan"),
        own_objective=float("nan"),
        names=(Constraint("solved"),),
        constraints=np.array([UNSOLVED]),
        violation=np.inf,
        unknown=frozenset(),
        solved=False,
    )
