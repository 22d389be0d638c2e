"""From sizes to a case file that solves to the same numbers, and its proof by a full solve."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from regen.case.read import Case
from regen.checks.review import review
from regen.design import Profile
from regen.errors import RangeError
from regen.result import Result
from regen.shop.cutters.plan import cannot_cut
from regen.studies.batch.designs import DesignBatch, Rows, solve_batch
from regen.studies.size.problem import HELD
from regen.studies.size.space import PATHS
from regen.studies.size.study import Sized
from regen.studies.uncertainty.distributions import applicable, inputs_of
from regen.studies.uncertainty.study import Kept, chance
from regen.units import show

SAMPLES = 128
"""Half the designs that the probability is counted over; a power of two."""


@dataclass(frozen=True)
class Answer:
    """A sized case: its file's text, what it solves to, and how probably it keeps every limit.

    ``kept`` is None where the limits were held at the band's edge: no probability is needed.
    ``not_cut`` says why the shop does not cut it as drawn; empty if it does.
    """

    sized: Sized
    case: Case
    result: Result
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
            if not _kept(getattr(margin, run))
        )

    @property
    def good(self) -> bool:
        """True if a full solve finds every limit kept where the case holds them."""
        return self.sized.feasible and self.result.nominal_kept and not self.broken


def _kept(margin: float | None) -> bool:
    return margin is not None and margin >= 0.0


def written(sized: Sized) -> dict[str, Any]:
    """Return the sizes as a case file has them.

    Parameters
    ----------
    sized : Sized
        Outcome of sizing.

    Returns
    -------
    dict
        Text with unit, number or pairs by "section.key", of every free size [as written].
    """
    values: dict[str, Any] = {}
    design = sized.design
    for size in design.sizing.free:
        path = PATHS[size]
        section, _, name = path.partition(".")
        value = getattr(getattr(design, section), name)
        if size == "count":
            values[path] = int(value)
        elif size == "flow":
            flow = design.coolant
            share = flow.fuel_fraction
            values[path] = f"{share!r} fuel" if share else show(flow.mass_flow or 0.0, "mass flow")
        else:
            values[path] = _profile(value)
    return values


def _profile(profile: Profile) -> Any:
    if len(profile.x) == 1:
        return show(profile.value[0], "length")
    pairs = zip(profile.x, profile.value, strict=True)
    return [[show(x, "length"), show(value, "length")] for x, value in pairs]


def answer(sized: Sized, case: Case, *, threads: int = 1) -> Answer:
    """Write the sized case and prove it.

    Parameters
    ----------
    sized : Sized
        Outcome of sizing, with every limit kept.
    case : Case
        The case it was sized from.
    threads : int
        Threads for the probability [-].

    Returns
    -------
    Answer
        Judged by a full solve of the text as a file would have it.

    Raises
    ------
    MarchError
        If the full solve stops, which the search has ruled out.
    """
    made = case.with_values(written(sized))
    result = review(made.design, case_hash=made.hash)
    kept = None
    if made.design.sizing.held_at != "band edge":
        options = applicable(sized.space.prepared)
        inputs, _ = inputs_of(made.design, (), lambda: options)

        def model(batch: DesignBatch, along: bool) -> Rows:
            return solve_batch(batch, judged="nominal", threads=threads, along=along)

        kept = chance(made.design, inputs, model, samples=SAMPLES, seed=1)
    not_cut = cannot_cut(made.design, 0.5 * result.summary["throat_diameter_m"])
    return Answer(sized, made, result, kept, not_cut)


def check_files(case: Case) -> None:
    """Refuse a case of which a copy in another folder would not find its files.

    Parameters
    ----------
    case : Case
        What is to be sized.

    Raises
    ------
    RangeError
        If a file lies outside its folder.
    """
    for name in case.files:
        path = PurePath(name)
        if not path.is_absolute() and ".." in path.parts:
            message = (
                f'the case refers to "{name}", outside its folder, and the sized case would not '
                "find it; put the file beside the case, or give its whole path"
            )
            raise RangeError(message)
