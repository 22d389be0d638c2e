"""The registry of limits: each is one decorated function.

The function takes a solved design and a run, and returns what is compared with what, station by
station. Everything that speaks of limits (rows, verdict, lists, figures, sizing) reads it here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal, NamedTuple, get_args

from regen.checks.runs import Compare, Compared, Run, Solved
from regen.sources import read_data

Group = Literal["wall", "strength", "thermal stress", "life", "coolant", "shop"]
GROUPS: tuple[Group, ...] = get_args(Group)
"""Groups of limits, in the order of the rows."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit: name, text, unit, source and sense.

    ``key`` is the key of the case that sets it, ``closes`` the one that closes an open row.
    ``informative`` limits never decide. ``shared``: the worst channel has no demand of its own,
    and one that stopped by something else leaves the row as it is. ``broken_by`` are the codes of
    ``physics.status`` by which a run that stops breaks the row; one that only did not converge
    leaves such a row unknown. ``column`` is the station column in whose figure the limit is drawn.
    ``label`` names the part in short, ``equation`` says what is compared, and ``relax`` which
    constraints to relax where no size keeps the limit.
    """

    name: str
    text: str
    unit: str
    source: str = "common_practice"
    kind: Literal["max", "min"] = "max"
    group: Group = "wall"
    key: str = ""
    note: str = ""
    closes: str = ""
    informative: bool = False
    shared: bool = False
    broken_by: tuple[int, ...] = ()
    column: str = ""
    label: str = ""
    equation: str = ""
    relax: str = ""


class Rule(NamedTuple):
    """A limit of one solved design, and how its runs compare with it."""

    limit: Limit
    compare: Compare


Function = Callable[[Solved, Run], Compared]
Fields = dict[str, Any]
"""Fields of a limit, by name."""

Terms = Callable[[Solved], Fields | None]


class Registered(NamedTuple):
    """A limit, its function, and what of it depends on the design."""

    limit: Limit
    compare: Function
    terms: Terms

    def rule(self, solved: Solved) -> Rule | None:
        """Return the rule of a solved design, None where the limit does not apply to it."""
        terms = self.terms(solved)
        if terms is None:
            return None
        return Rule(replace(self.limit, **terms), partial(self.compare, solved))


_registered: dict[str, Registered] = {}


def limit(terms: Terms = lambda solved: {}, **fields: Any) -> Callable[[Function], Function]:
    """Register a limit: its name is the function's, its text the docstring's first line.

    Its label, equation and what to relax are texts of data/limits.toml, if it has any.

    Parameters
    ----------
    terms : callable, optional
        Gives the fields of ``Limit`` that depend on the solved design; None where the limit does
        not apply to it.
    **fields
        Other fields of ``Limit``.

    Returns
    -------
    callable
        Decorator of the function that compares a run with the limit; it may raise ``RangeError``.

    Raises
    ------
    ValueError
        If the name is taken.
    """

    def register(function: Function) -> Function:
        name = function.__name__
        if name in _registered:
            message = f"limit {name} is registered twice"
            raise ValueError(message)
        text = (function.__doc__ or name).strip().splitlines()[0].rstrip(".")
        texts = read_data("limits.toml").get(name, {})
        limit = Limit(name, text[0].lower() + text[1:], **fields, **texts)
        _registered[name] = Registered(limit, function, terms)
        return function

    return register


def registered(*groups: Group) -> tuple[Registered, ...]:
    """Return the limits of some groups, or of all, in the order of their rows."""
    some = [one for one in _registered.values() if one.limit.group in (groups or GROUPS)]
    return tuple(sorted(some, key=lambda one: GROUPS.index(one.limit.group)))


def rules(solved: Solved, *groups: Group) -> tuple[Rule, ...]:
    """Return the limits that apply to a design, of some groups or of all.

    Parameters
    ----------
    solved : Solved
        Solved runs with design, liner and coolant.
    *groups : str
        Names of ``GROUPS`` [-].

    Returns
    -------
    tuple of Rule
        Ordered from hot wall to injector, then the shop's.
    """
    made = (one.rule(solved) for one in registered(*groups))
    return tuple(rule for rule in made if rule is not None)
