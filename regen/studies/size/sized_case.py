"""From sizes to a case file that solves to the same numbers, and its proof by a full solve."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import PurePath
from typing import Any

from regen.case.read import Case
from regen.checks.review import review
from regen.result import Result
from regen.shop.cutters.plan import cannot_cut
from regen.solver.solve import MarchError
from regen.studies.batch.designs import solve_batch
from regen.studies.batch.parameters import numeric_key, own_value
from regen.studies.size.problem import HELD
from regen.studies.size.space import PATHS, refuse
from regen.studies.size.study import Sized
from regen.studies.uncertainty.distributions import applicable, inputs_of
from regen.studies.uncertainty.study import Kept, chance

SAMPLES = 128
"""Half the designs that the probability is counted over; a power of two."""


@dataclass(frozen=True)
class Answer:
    """A sized case: its file's text, what it solves to, and how probably it meets every limit.

    ``kept`` is None where the limits were held at the band's edge: no probability is needed.
    ``before`` is the case as given, None where it is not solved. ``not_cut`` says why the shop
    cannot mill it as drawn; empty if it can.
    """

    sized: Sized
    case: Case
    result: Result
    before: Result | None
    kept: Kept | None
    not_cut: tuple[str, ...] = ()

    @property
    def broken(self) -> tuple[tuple[str, str], ...]:
        """Limits that a full solve does not find kept where they are held, each with its run."""
        held = HELD[self.case.design.sizing.held_at][1]
        return tuple(
            (margin.name, run)
            for margin in self.result.margins
            if not margin.informative
            for run in held
            if (value := getattr(margin, run)) is None or not value >= 0.0
        )

    @property
    def good(self) -> bool:
        """True if a full solve finds every limit kept where the case holds them."""
        return self.sized.feasible and self.result.nominal_kept and not self.broken


def written(sized: Sized) -> dict[str, Any]:
    """Return every free size as a case file has it: text with unit, number or pairs, by key."""
    values: dict[str, Any] = {}
    design = sized.design
    for size in design.sizing.free:
        parameter = numeric_key(PATHS[size], design)
        own = own_value(design, parameter)
        if own is None:  # a profile along x: the whole of it
            parameter, own = replace(parameter, relative=True), 1.0
        values[parameter.path] = parameter.written(own, design)
    return values


def answer(sized: Sized, case: Case, *, threads: int = 1) -> Answer:
    """Write the sized case and prove it by a full solve of the text as a file would have it.

    Parameters
    ----------
    sized : Sized
        Outcome of sizing, with every limit kept.
    case : Case
        The case it was sized from.
    threads : int
        Threads for the probability [-].

    Raises
    ------
    MarchError
        If the full solve stops, which the search has ruled out.
    """
    made = case.with_values(written(sized))
    result = review(made.design, case_hash=made.hash)
    before, kept = None, None
    with suppress(MarchError):
        before = review(case.design)
    if made.design.sizing.held_at != "band edge":
        options = applicable(sized.space.prepared)
        inputs, _ = inputs_of(made.design, (), lambda: options)
        model = partial(solve_batch, judged="nominal", threads=threads)
        kept = chance(made.design, inputs, model, samples=SAMPLES, seed=1)
    not_cut = cannot_cut(made.design, 0.5 * result.summary["throat_diameter_m"])
    return Answer(sized, made, result, before, kept, not_cut)


def check_files(case: Case) -> None:
    """Raise ``RangeError`` if a copy of the case in another folder would not find its files."""
    for name in case.files:
        path = PurePath(name)
        if not path.is_absolute() and ".." in path.parts:
            refuse("file", name=name)
