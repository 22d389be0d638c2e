"""Measured slots solved as they are: flow, wall temperature, margins and verdict of each."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from regen.case.measured import Sheet, refuse
from regen.checks.review import review
from regen.design import Design
from regen.physics import arrays as A
from regen.result import Result
from regen.solver.prepare import Progress
from regen.solver.solve import solve
from regen.studies.as_built import slot_verdict as rule
from regen.studies.as_built import slots as laying
from regen.studies.as_built.row import Array, SlotRow, SolvedRow
from regen.studies.as_built.slot_verdict import Margins, SlotVerdict
from regen.studies.as_built.slots import AS_DRAWN, MeasuredSlot


@dataclass(frozen=True, slots=True)
class SlotResult:
    """One slot, solved.

    ``summary`` has its flow over the mean of all [-], the peak of its hot wall [K] and where [m],
    the same under the streak and the flow shortfall, the coolant's temperature behind it [K] and
    its lives [firings], NaN where not known. ``margins`` are those of the limits that decide;
    ``outside`` names the sizes beyond the shop's tolerances.
    """

    measured: MeasuredSlot
    verdict: SlotVerdict
    outside: tuple[str, ...]
    summary: Mapping[str, float]
    margins: Mapping[str, Margins]

    @property
    def solved(self) -> bool:
        """True if it was solved as measured."""
        return math.isfinite(self.summary["flow_over_mean"])

    def least(self, how: Literal["own", "streak"]) -> tuple[str, float]:
        """Return the limit with the least margin as measured or under the streak, and that [-]."""
        margins = ((getattr(margins, how), name) for name, margins in self.margins.items())
        margin, name = min(
            (one for one in margins if math.isfinite(one[0])), default=(math.nan, "")
        )
        return name, margin


@dataclass(frozen=True)
class AsBuilt:
    """Every measured slot beside the slot as drawn, and what they make of the chamber.

    ``flow`` [kg/s] is that of all slots; ``drop`` [Pa] the pressure drop between the manifolds
    that drives it through the slots as they are, ``drop_drawn`` as they were drawn, and
    ``flow_at_drop_drawn`` [kg/s] what would pass at the latter. ``design`` is the design's own
    result. ``no_life`` says why no slot has a life, "" if one has; ``left_out`` are limits that
    are not known of the design either, and that no slot is judged by.
    """

    design: Result
    sheet: Sheet
    count: int
    drawn: SlotResult
    slots: tuple[SlotResult, ...]
    flow: float
    drop: float
    drop_drawn: float
    flow_at_drop_drawn: float
    no_life: str
    left_out: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def worst_first(self) -> tuple[SlotResult, ...]:
        """The measured slots, those to be looked at first."""

        def urgency(slot: SlotResult) -> tuple[int, bool, float, int]:
            name, margin = slot.least("streak")
            known = margin if name else -math.inf
            word = rule.ORDER.index(slot.verdict.word)
            return word, not slot.outside, known, slot.measured.number

        return tuple(sorted(self.slots, key=urgency))

    @property
    def all_usable(self) -> bool:
        """True if every measured slot can be used as it is."""
        return all(slot.verdict.word == "use" for slot in self.slots)


def as_built(
    design: Design, sheet: Sheet, *, case_hash: str = "", progress: Progress | None = None
) -> AsBuilt:
    """Solve every measured slot as it is.

    A slot differs from its drawing by the measured deviations, straight between the measured
    places and held beyond the outer ones. Its land is the pitch less its own width. All slots
    lose one pressure drop, that at which together they pass the coolant's flow; where the case
    gives manifolds, each slot has its own part by them on top. Hot gas and feed are as designed.

    Raises ``CaseError`` if the slots do not all run from end to end, or anything is wrong with
    the sheet; ``MarchError`` if the slots as drawn are not solved; ``ValueError`` if the geometry
    is impossible or a material or property is not known.
    """
    laying.check_kind(design)
    result = review(design, case_hash=case_hash, progress=progress)
    solution = solve(design)
    slots = laying.slots_of(design, sheet.rows)
    refuse(sheet, [*sheet.problems, *laying.problems_of(solution.prepared, slots, sheet.rows)])
    row = SlotRow(solution, (AS_DRAWN, *slots), rule.left_open(result))
    drop, share, at_drawn = row.common_drop()
    solved = row.solve(drop, share)
    lives, no_life = row.lives(solved.measured)
    summary = {**solved.summary, **lives}
    verdicts = _verdicts(row, solved, drop, share, rule.design_margins(result))
    drawn, *measured = (
        SlotResult(
            measured=slot,
            verdict=verdicts[n],
            outside=laying.out_of_tolerance(slot, design),
            summary={name: float(values[n]) for name, values in summary.items()},
            margins=solved.margins[n],
        )
        for n, slot in enumerate(row.slots)
    )
    flow = float(solution.nominal.total[A.T_MASS_FLOW])
    return AsBuilt(
        design=result,
        sheet=sheet,
        count=design.channels.count,
        drawn=drawn,
        slots=tuple(measured),
        flow=flow,
        drop=drop,
        drop_drawn=row.drop_drawn,
        flow_at_drop_drawn=flow * at_drawn,
        no_life=no_life,
        left_out=rule.left_open(result),
        notes=(*sheet.notes, *laying.notes_of(solution.prepared, slots)),
    )


def _verdicts(
    row: SlotRow, solved: SolvedRow, drop: float, share: Array, own: Mapping[str, Margins]
) -> list[SlotVerdict]:
    """Return the verdicts of all slots; those that may not be used are tried after a recut."""
    references = _references(row, solved, drop, share, own)
    verdicts = [_verdict(solved, n, reference) for n, reference in enumerate(references)]
    if doubtful := [n for n, verdict in enumerate(verdicts) if verdict.word != "use"]:
        recut = SlotRow(row.solution, [row.slots[n] for n in doubtful], row.left_out, recut=True)
        again = recut.solve(drop, recut.shares(drop))
        for i, n in enumerate(doubtful):
            verdicts[n] = rule.after_recut(verdicts[n], _verdict(again, i, references[n]))
    return verdicts


def _references(
    row: SlotRow, solved: SolvedRow, drop: float, share: Array, own: Mapping[str, Margins]
) -> list[dict[str, Margins]]:
    """Return the margins each slot is compared with: the design's, or a slot's as drawn there.

    A slot that its manifold feeds richly may be worse in its own way, under the streak, than the
    worst channel, which is fed poorly.
    """
    numbers = [slot.number for slot in row.slots]
    as_drawn: Sequence[Mapping[str, Margins]] = [solved.margins[0]] * len(numbers)
    if row.solution.split is not None:
        twins = [replace(AS_DRAWN, number=number) for number in numbers]
        twin_row = SlotRow(row.solution, twins, row.left_out)
        as_drawn = twin_row.solve(drop, np.full(len(twins), share[0])).margins
    return [
        {
            # min keeps the worst channel's where either is NaN
            name: Margins(margin.own, min(margin.streak, twin[name].streak))
            for name, margin in own.items()
            if name in twin
        }
        for twin in as_drawn
    ]


def _verdict(solved: SolvedRow, n: int, reference: Mapping[str, Margins]) -> SlotVerdict:
    """Return the verdict of a slot, before it is asked what a cut would cure."""
    if n in solved.measured.why:
        return SlotVerdict("unknown", f"not solved: {solved.measured.why[n]}")
    verdict = rule.judge_slot(solved.margins[n], reference)
    if verdict.word == "unknown" and n in solved.streak.why:
        return replace(verdict, why=f"under the streak not solved: {solved.streak.why[n]}")
    return verdict
