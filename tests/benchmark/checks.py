"""What the checks of strength, life, start and stop cost one solved case."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median
from typing import Any
from unittest import mock

from regen.checks import registry, start_stop
from regen.checks import review as judge
from regen.checks.life import assess as life
from regen.checks.registry import Rule
from regen.checks.runs import Solved
from regen.solver.solve import solve_one
from tests.benchmark.timing import DEMO, design_of

GROUPS = ("strength", "thermal stress")
"""Limits whose comparison is timed; those of life are findings too."""


class Clock:
    """Time spent in what it wraps [s], once where one part calls another."""

    def __init__(self) -> None:
        self.spent, self.running = 0.0, False

    def wrapped(self, function: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*given: Any, **named: Any) -> Any:
            if self.running:
                return function(*given, **named)
            start, self.running = time.perf_counter(), True
            try:
                return function(*given, **named)
            finally:
                self.spent, self.running = self.spent + time.perf_counter() - start, False

        return timed


def cost(repeat: int) -> dict[str, float]:
    """Return the milliseconds of these checks, and of all judging with them; nothing marches."""
    design = design_of(DEMO)
    solved = solve_one(design)
    checks, whole = [], []
    for _ in range(repeat + 1):  # the first one fills caches
        clock = Clock()
        rule_of = registry.Registered.rule

        def timed_rule(
            one: registry.Registered,
            solved: Solved,
            clock: Clock = clock,
            rule_of: Callable[..., Rule | None] = rule_of,
        ) -> Rule | None:
            rule = rule_of(one, solved)
            if rule is None or rule.limit.group not in GROUPS:
                return rule
            return rule._replace(compare=clock.wrapped(rule.compare))

        parts = (
            mock.patch.object(judge, "solve_one", return_value=solved),
            mock.patch.object(judge, "assess", clock.wrapped(judge.assess)),
            mock.patch.object(life, "findings", clock.wrapped(life.findings)),
            mock.patch.object(start_stop, "findings", clock.wrapped(start_stop.findings)),
            mock.patch.object(registry.Registered, "rule", timed_rule),
        )
        for part in parts:
            part.start()
        start = time.perf_counter()
        judge.review(design)
        whole.append(1e3 * (time.perf_counter() - start))
        checks.append(1e3 * clock.spent)
        mock.patch.stopall()
    return {"checks_ms": median(checks[1:]), "judging_ms": median(whole[1:])}
