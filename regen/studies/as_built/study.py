"""Measured slots solved as they are: each by its own flow, wall temperature, margins, verdict."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.case.measured import Sheet, refuse
from regen.checks import limits, shop_rules, verdict
from regen.checks.judge import for_limits, run_of
from regen.checks.life import assess as life
from regen.checks.review import review
from regen.design import Design
from regen.errors import RangeError
from regen.metals import selection as metals
from regen.physics import arrays as A
from regen.physics import status as st
from regen.result import Result
from regen.solver.models import ids
from regen.solver.prepare import Progress
from regen.solver.solve import Solution, march, solve
from regen.solver.worst_channel import shares_at_drop, slot_runs
from regen.studies.as_built.slot_verdict import (
    ORDER,
    Margins,
    SlotVerdict,
    Word,
    after_recut,
    judge_slot,
    own_limits,
    unassessed,
)
from regen.studies.as_built.slots import (
    AS_DRAWN,
    Built,
    built,
    check_kind,
    laid,
    outside,
    problems_of,
    said,
)

Array = NDArray[np.float64]

FLOW_TOLERANCE = 1e-5
"""Miss of the coolant's flow at which the common pressure drop is found [-]."""

MAX_DROPS = 12

NOT_JUDGED = SlotVerdict("unknown", "")

DROP_EXPONENT = 1.9
"""Pressure drop goes about with this power of the flow [-]; only how fast the drop is found."""


@dataclass(frozen=True, slots=True)
class SlotResult:
    """One slot, solved: its flow over the mean of all [-], peak hot wall [K] and where [m].

    ``T_streak`` is the peak under the streak and the flow shortfall [K], ``T_out`` the coolant's
    temperature behind the slot [K]. ``lives`` are firings on conservative and on optimistic terms
    [-], NaN where it was not solved, or one of its stations not assessed. ``margins`` are
    those of the limits that decide, ``places`` where along x they are least [m]; ``outside`` names
    the sizes beyond the shop's tolerances; ``stopped`` is why it was not solved as measured, and
    under the streak, "" where it was.
    """

    built: Built
    verdict: SlotVerdict
    outside: tuple[str, ...]
    flow: float
    T_wall: float
    x_T_wall: float
    T_streak: float
    T_out: float
    margins: Mapping[str, Margins]
    places: Mapping[str, float]
    lives: tuple[float, float]
    stopped: tuple[str, str]

    @property
    def least(self) -> tuple[str, float]:
        """The limit with the least margin as measured, and that margin [-]."""
        known = [(m.own, name) for name, m in self.margins.items() if np.isfinite(m.own)]
        margin, name = min(known, default=(float("nan"), ""))
        return name, margin

    @property
    def least_under_streak(self) -> tuple[str, float]:
        """The same under the streak [-]."""
        known = [(m.streak, name) for name, m in self.margins.items() if np.isfinite(m.streak)]
        margin, name = min(known, default=(float("nan"), ""))
        return name, margin


@dataclass(frozen=True)
class AsBuilt:
    """Every measured slot beside the slot as drawn, and what they make of the chamber.

    ``flow`` [kg/s] is that of all slots; ``drop`` [Pa] the pressure drop between the manifolds
    that drives it through the slots as they are, ``drop_drawn`` as they were drawn, and
    ``flow_at_drop_drawn`` [kg/s] what would pass at the latter. ``design`` is the design's own
    result, ``T_limit`` the limit of its hot wall [K], NaN where none is known.
    """

    design: Result
    file: str
    count: int
    drawn: SlotResult
    slots: tuple[SlotResult, ...]
    flow: float
    drop: float
    drop_drawn: float
    flow_at_drop_drawn: float
    T_limit: float
    no_life: str
    """Why no slot has a life, "" if one has."""
    left_out: tuple[str, ...]
    """Limits that are not known of the design either, and that no slot is judged by."""
    notes: tuple[str, ...]

    @property
    def worst_first(self) -> tuple[SlotResult, ...]:
        """The measured slots, those to be looked at first."""

        def key(slot: SlotResult) -> tuple[int, bool, float, int]:
            margin = slot.least_under_streak[1]
            rank = ORDER.index(slot.verdict.word)
            known = margin if np.isfinite(margin) else -np.inf
            return rank, not slot.outside, known, slot.built.number

        return tuple(sorted(self.slots, key=key))

    def of(self, word: Word) -> tuple[int, ...]:
        """Return the numbers of the slots with a verdict."""
        return tuple(s.built.number for s in self.slots if s.verdict.word == word)

    @property
    def all_usable(self) -> bool:
        """True if every measured slot can be used as it is."""
        return all(slot.verdict.word == "use" for slot in self.slots)


def as_built(
    design: Design, sheet: Sheet, *, case_hash: str = "", progress: Progress | None = None
) -> AsBuilt:
    """Solve every measured slot as it is.

    Parameters
    ----------
    design : Design
        What was drawn.
    sheet : Sheet
        What was measured.
    case_hash : str
        Hash of the case file, kept in the result's provenance.
    progress : callable, optional
        Told in words what is being waited for.

    Returns
    -------
    AsBuilt
        Slots by number; their order in the file does not matter.

    Raises
    ------
    CaseError
        If the slots do not all run from end to end, or anything is wrong with the sheet.
    MarchError
        If the slots as drawn are not solved.
    ValueError
        If the geometry is impossible or a material or property is not known.

    Notes
    -----
    A slot differs from its drawing by the measured deviations, straight between the measured
    places and held beyond the outer ones. Its land is the pitch less its own width. All slots
    lose one pressure drop, that at which together they pass the coolant's flow; where the case
    gives manifolds, each slot has its own part by them on top. Hot gas and feed are as designed.
    """
    check_kind(design)
    result = review(design, case_hash=case_hash, progress=progress)
    solution = solve(design)
    slots = built(design, sheet.rows)
    refuse(sheet, [*sheet.problems, *problems_of(solution.prepared, slots, sheet.rows)])
    own = own_limits(result)
    left_out = unassessed(result)
    row = _Row(solution, (AS_DRAWN, *slots), left_out)
    drop, share, at_drawn = row.common_drop()
    found = row.solved(drop, share)
    asked = _asked(row, found, drop, share, own)
    found = [
        replace(slot, verdict=_judged(slot, of_slot))
        for slot, of_slot in zip(found, asked, strict=True)
    ]
    for n, recut in _recut(solution, row, found, drop, asked).items():
        found[n] = replace(found[n], verdict=after_recut(found[n].verdict, recut))
    total = solution.nominal.total
    limit = metals.liner(design).limit(design.limits.service)
    T_limit = design.limits.T_wall_hot or (limit.value if limit else float("nan"))
    return AsBuilt(
        design=result,
        file=sheet.name,
        count=design.channels.count,
        drawn=found[0],
        slots=tuple(found[1:]),
        flow=float(total[A.T_MASS_FLOW]),
        drop=drop,
        drop_drawn=row.drop_drawn,
        flow_at_drop_drawn=float(total[A.T_MASS_FLOW]) * at_drawn,
        T_limit=float(T_limit),
        no_life=row.no_life,
        left_out=left_out,
        notes=(*sheet.notes, *said(solution.prepared, slots)),
    )


def _asked(
    row: _Row,
    found: Sequence[SlotResult],
    drop: float,
    share: Array,
    own: Mapping[str, Margins],
) -> list[dict[str, Margins]]:
    """Return what each slot is held against: the design, and a slot as drawn in its place.

    A slot that its manifold feeds richly may be worse in its own way, under the streak, than the
    worst channel, which is fed poorly.
    """
    drawn = [found[0]] * len(found)
    if row.solution.split is not None:
        twins = [replace(AS_DRAWN, number=slot.number) for slot in row.slots]
        drawn = _Row(row.solution, twins, row.left_out).solved(drop, np.full(len(twins), share[0]))
    return [
        {
            name: Margins(margin.own, _either(margin.streak, twin.margins[name].streak))
            for name, margin in own.items()
            if name in twin.margins
        }
        for twin in drawn
    ]


def _either(worst_channel: float, as_drawn: float) -> float:
    """Return the lower of two margins, NaN where the worst channel's is not known."""
    return math.nan if math.isnan(worst_channel) else float(np.fmin(worst_channel, as_drawn))


def _recut(
    solution: Solution,
    row: _Row,
    found: Sequence[SlotResult],
    drop: float,
    asked: Sequence[Mapping[str, Margins]],
) -> dict[int, SlotVerdict]:
    """Return the verdicts of doubtful slots after a cut to the drawing, by their place."""
    doubtful = [n for n, s in enumerate(found) if s.verdict.word in ("sleeve", "scrap", "unknown")]
    if not doubtful:
        return {}
    cut = _Row(solution, [row.slots[n] for n in doubtful], row.left_out, recut=True)
    solved = cut.solved(drop, cut.shares(drop))
    return {n: _judged(slot, asked[n]) for n, slot in zip(doubtful, solved, strict=True)}


def _judged(slot: SlotResult, asked: Mapping[str, Margins]) -> SlotVerdict:
    """Return the verdict of a slot, before it is asked what a cut would cure."""
    verdict = judge_slot(slot.margins, asked)
    own, streak = slot.stopped
    if own:
        return SlotVerdict("unknown", f"not solved: {own}")
    if verdict.word == "unknown" and streak:
        return replace(verdict, why=f"under the streak not solved: {streak}")
    return verdict


@dataclass(frozen=True)
class _Marched:
    """Slots that were marched: those solved, by place, with their runs; why others were not."""

    at: NDArray[np.int64]
    run: limits.Run | None
    why: Mapping[int, str]

    def whole(self, name: str, count: int) -> Array:
        """Return one summary quantity of all slots (count,) [SI], NaN where not solved."""
        values = np.full(count, np.nan)
        if self.run is not None:
            values[self.at] = self.run.totals[name]
        return values


class _Row:
    """Slots side by side between the manifolds of one chamber."""

    def __init__(
        self,
        solution: Solution,
        slots: Sequence[Built],
        left_out: tuple[str, ...],
        *,
        recut: bool = False,
    ) -> None:
        self.solution, self.slots, self.left_out = solution, tuple(slots), left_out
        self.made = laid(solution.prepared, slots, recut=recut)[0]
        self.total = np.stack([part.total for part in solution.nominal.circuits])
        self.drop_drawn = float(self.total[0, A.T_P_IN] - self.total[0, A.T_P_OUT])
        self.models = np.repeat(ids(solution.models), len(slots))
        count = solution.prepared.design.channels.count
        split = solution.split
        self.parts = split.share if split is not None else np.ones(count)
        numbers = np.array([slot.number for slot in slots])
        self.part = np.where(numbers > 0, self.parts[numbers - 1], 1.0)
        self.no_life = ""

    def runs(self, drop: float) -> NDArray[Any]:
        """Return a run a slot, at the mean flow, from the inlet at a drop [Pa]."""
        base = slot_runs(self.solution.prepared.run, self.total)
        if self.made.design.coolant.outlet_pressure is not None:
            base["pressure"] = self.total[:, A.T_P_OUT] + drop
        runs = np.repeat(base, len(self.slots))
        runs["geometry"] = np.arange(len(self.slots))
        return runs

    def shares(self, drop: float, *, streak: bool = False) -> Array:
        """Return the flow of each slot over that of a slot as drawn, at a drop [Pa]; or NaN.

        Under the streak a slot takes less, and the lowest stable flow of several.
        """
        drops, runs = np.full(len(self.slots), drop), self.runs(drop)
        if streak:
            runs["gas_factor"] *= 1.0 + self.made.design.shop.streak
        return shares_at_drop(self.made, runs, self.models, drops, look=streak)

    def common_drop(self) -> tuple[float, Array, float]:
        """Return the drop [Pa] at which all slots pass the flow, and shares [-] there.

        Last comes the flow over the design's [-] at the drop as drawn. The first slot is that as
        drawn, and stands for those that were not measured.
        """
        whole, measured = float(self.parts.sum()), self.part[1:]
        drop, at_drawn = self.drop_drawn, 1.0
        for step in range(MAX_DROPS):
            share = self.shares(drop)
            each = np.where(np.isfinite(share[1:]), share[1:], share[0])
            rest = (whole - measured.sum()) * share[0]
            passed = float((measured * each).sum() + rest) / whole
            at_drawn = passed if step == 0 else at_drawn
            if not abs(passed - 1.0) > FLOW_TOLERANCE:
                break
            drop *= passed**-DROP_EXPONENT
        return drop, share, at_drawn

    def solved(self, drop: float, share: Array) -> list[SlotResult]:
        """Return every slot solved, not yet judged."""
        shop, count = self.made.design.shop, len(self.slots)
        under = self.shares(drop, streak=True)
        lost, lost_hot = ~np.isfinite(share), ~np.isfinite(under)
        runs, hot = self.runs(drop), self.runs(drop)
        runs["flow_factor"] = np.where(lost, 1.0, share) * self.part
        hot["flow_factor"] = np.where(lost_hot, 1.0, under) * self.part
        hot["gas_factor"] *= 1.0 + shop.streak
        if self.solution.split is None:
            hot["flow_factor"] *= 1.0 - shop.flow_shortfall
        measured, streak = self._march(runs, lost, drop), self._march(hot, lost_hot, drop)
        margins, places = self._margins(measured, streak)
        lives = self._lives(measured)
        names = ("T_wall_hot_max_K", "x_T_wall_hot_max_m", "coolant_temperature_out_K")
        T, x, T_out = (measured.whole(name, count) for name in names)
        T_streak = streak.whole(names[0], count)
        flow = np.where(np.isfinite(T), runs["flow_factor"], np.nan)
        found = []
        for n, slot in enumerate(self.slots):
            mine = {name: Margins(*map(float, values[:, n])) for name, values in margins.items()}
            found.append(
                SlotResult(
                    built=slot,
                    verdict=NOT_JUDGED,
                    outside=outside(slot, self.made.design),
                    flow=float(flow[n]),
                    T_wall=float(T[n]),
                    x_T_wall=float(x[n]),
                    T_streak=float(T_streak[n]),
                    T_out=float(T_out[n]),
                    margins=mine,
                    places={name: float(at[n]) for name, at in places.items()},
                    lives=(float(lives[0, n]), float(lives[1, n])),
                    stopped=(measured.why.get(n, ""), streak.why.get(n, "")),
                )
            )
        return found

    def _march(self, runs: NDArray[Any], lost: NDArray[np.bool_], drop: float) -> _Marched:
        """March all slots whose flow was found."""
        marched = march(self.made, runs[:, None], self.models)
        good = marched.ok & ~lost
        why = {int(n): st.TEXTS[int(marched.code[n])].what for n in np.flatnonzero(~good)}
        why |= {int(n): "no flow at the common pressure drop" for n in np.flatnonzero(lost)}
        at = np.flatnonzero(good)
        if not at.size:
            return _Marched(at, None, why)
        run = run_of(self.made.taken(at), marched[at])
        # the manifolds' pressures are those of all slots, whatever flow one of them has
        inlet = float(runs["pressure"][0])
        shared = {"coolant_pressure_in_Pa": inlet, "coolant_pressure_out_Pa": inlet - drop}
        shared["coolant_pressure_drop_Pa"] = drop
        given = {name: np.full(at.size, value) for name, value in shared.items()}
        return _Marched(at, replace(run, totals={**run.totals, **given}), why)

    def _margins(
        self, measured: _Marched, streak: _Marched
    ) -> tuple[dict[str, Array], dict[str, Array]]:
        """Return the margins (2, slots) of each limit that decides, and where they are least."""
        if measured.run is None:
            return {}, {}
        count = len(self.slots)
        worst = () if streak.run is None else (streak.run,)
        judged = for_limits(self.made, measured.run, worst=worst)
        judged = replace(judged, alloy=replace(judged.alloy, beyond="nan"))
        margins: dict[str, Array] = {}
        places: dict[str, Array] = {}
        for rule in limits.rules(judged):
            # what the shop could cut is asked of a drawing, not of slots that are there
            if rule.limit.informative or rule.limit.name in {*self.left_out, *shop_rules.NAMES}:
                continue
            margins[rule.limit.name] = np.full((2, count), np.nan)
            places[rule.limit.name] = np.full(count, np.nan)
            for n, marched in enumerate((measured, streak)):
                if marched.run is None:
                    continue
                found = verdict.column(*limits.along(rule.limit, rule.compare, marched.run))
                margins[rule.limit.name][n, marched.at] = found.margin
                if n == 0:
                    x = marched.run.stations["x_m"][0]
                    places[rule.limit.name][marched.at] = np.where(
                        found.at < 0, np.nan, x[found.at]
                    )
        return margins, places

    def _lives(self, measured: _Marched) -> Array:
        """Return conservative and optimistic lives (2, slots) [firings], NaN where not known."""
        design = self.made.design
        found = np.full((2, len(self.slots)), np.nan)
        if measured.run is None:
            return found
        liner, jacket = (
            replace(metal(design), beyond="nan") for metal in (metals.liner, metals.jacket)
        )
        try:
            lives = life.lives(design, liner, jacket, measured.run)
        except RangeError as error:
            self.no_life = str(error)
            return found
        for n, along in enumerate((lives.conservative, lives.optimistic)):
            found[n, measured.at] = life.of_part(along, lives.asked)
        return found
