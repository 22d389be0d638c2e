"""What the benchmarks share: cases, and times taken in turn."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median
from typing import Any

from regen.case.read import load_case
from regen.design import Design
from tests.helpers.places import CASES

DEMO = "a-methane"

INLET_GIVEN = ('coolant.mass_flow="0.474 kg/s"', "coolant.returns_to_injector=false")
"""The demo with its inlet and its flow given and no heat returned: one march a design."""

Jobs = dict[str, Callable[[], Any]]


def design_of(name: str, *overrides: str) -> Design:
    return load_case(CASES / f"{name}.toml", list(overrides)).design


def rounds(repeat: int, jobs: Jobs) -> list[dict[str, float]]:
    """Return the times of all jobs [s] in each of the rounds, run in turn."""
    found = []
    for _ in range(repeat):
        times = {}
        for name, job in jobs.items():
            start = time.perf_counter()
            job()
            times[name] = time.perf_counter() - start
        found.append(times)
    return found


def interleaved(repeat: int, jobs: Jobs) -> dict[str, float]:
    """Return the median time of each job [s], run in turn."""
    times = rounds(repeat, jobs)
    return {name: median(one[name] for one in times) for name in jobs}
