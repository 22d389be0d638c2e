"""What the checks of strength, life, start and stop cost one solved case."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median
from typing import Any
from unittest import mock

from regen.checks import limits, start_stop
from regen.checks import review as judge
from regen.checks.life import assess as life
from regen.checks.registry import Rule
from regen.solver.solve import solve_one
from tests.benchmark.timing import DEMO, design_of

GROUPS = ("strength", "thermal stress")
"""Limits whose comparison is timed; those of life are findings too."""


class Clock:
    """Time spent in what it wraps [s]."""

    def __init__(self) -> None:
        self.spent = 0.0

    def wrapped(self, function: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*given: Any, **named: Any) -> Any:
            start = time.perf_counter()
            try:
                return function(*given, **named)
            finally:
                self.spent += time.perf_counter() - start

        return timed


def cost(repeat: int) -> dict[str, float]:
    """Return the milliseconds of these checks, and of all judging with them; nothing marches."""
    design = design_of(DEMO)
    solved = solve_one(design)
    checks, whole = [], []
    for _ in range(repeat + 1):  # the first one fills caches
        clock = Clock()
        rules = limits.rules

        def timed_rules(
            *of: Any, rules: Callable[..., tuple[Rule, ...]] = rules, clock: Clock = clock
        ) -> tuple[Rule, ...]:
            return tuple(
                rule._replace(compare=clock.wrapped(rule.compare))
                if rule.limit.group in GROUPS
                else rule
                for rule in rules(*of)
            )

        parts = (
            mock.patch.object(judge, "solve_one", return_value=solved),
            mock.patch.object(judge, "assess", clock.wrapped(judge.assess)),
            mock.patch.object(life, "findings", clock.wrapped(life.findings)),
            mock.patch.object(start_stop, "findings", clock.wrapped(start_stop.findings)),
            mock.patch.object(limits, "rules", timed_rules),
        )
        for part in parts:
            part.start()
        start = time.perf_counter()
        judge.review(design)
        whole.append(1e3 * (time.perf_counter() - start))
        checks.append(1e3 * clock.spent)
        mock.patch.stopall()
    return {"checks_ms": median(checks[1:]), "judging_ms": median(whole[1:])}
