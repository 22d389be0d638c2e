"""Solved designs as they are judged: runs as columns, the band's edge, margins, of one or many."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from regen.checks import limits, uncooled_ends, verdict
from regen.checks.band_extremes import Extremes, band_extremes
from regen.checks.coolant import facts_of
from regen.checks.registry import Limit, rules
from regen.checks.runs import INJECTOR, Outcome, Run, Solved
from regen.checks.stations import columns, headlines, injector_pressure, worst_headlines
from regen.metals import selection as metals
from regen.physics import arrays as A
from regen.physics import status as st
from regen.result import Array, Integers, Mask
from regen.solver.prepare import Prepared
from regen.solver.solve import Marched, Solutions, WorstSlots

BESIDE_SUMMARY = (INJECTOR, "coolant_mach_max", "land_width_min_m")
"""Totals of a run that the summary of a review has not."""


def run_of(prepared: Prepared, marched: Marched) -> Run:
    """Return solved runs with their station columns and totals.

    Parameters
    ----------
    prepared : Prepared
        L designs.
    marched : Marched
        Their runs (L,).

    Returns
    -------
    Run
        (L,) of each quantity: the summary, and what else a row of a batch has.
    """
    stations = columns(prepared, marched)
    mach, land = stations["mach_coolant"].max(axis=-1), stations["land_width_m"].min(axis=-1)
    beside = zip(BESIDE_SUMMARY, (injector_pressure(prepared), mach, land), strict=True)
    return Run(stations, headlines(prepared, marched) | dict(beside))


@dataclass(frozen=True)
class Outcomes:
    """One column of n designs: K runs of each, (K n, ...), all of one behind those of another.

    ``solved`` (K, n) is False where a run was not, and has another's numbers; ``codes`` (m, n) are
    the outcomes of m runs a design, ``status.OK`` where one was solved [-].
    """

    run: Run
    solved: Mask
    codes: Integers


@dataclass(frozen=True)
class Evaluated:
    """Solved designs with what the limits are judged by; see ``Solutions`` for what is there."""

    solved: Solutions

    @cached_property
    def nominal(self) -> Run:
        """The nominal channels (n,)."""
        return run_of(self.solved.prepared, self.solved.nominal)

    @cached_property
    def bands(self) -> tuple[Extremes, ...]:
        """The band of the designs of each of ``solved.members``."""
        solved, bands = self.solved, []
        for band in solved.members:
            runs = _filled(band.runs, solved.nominal[band.at])
            prepared, nominal = solved.prepared.taken(band.at), self.nominal.taken(band.at)
            bands.append(band_extremes(prepared, nominal, runs.station, runs.total))
        return tuple(bands)

    @cached_property
    def edge(self) -> Run:
        """The band's unfavourable edge (n,)."""
        runs = [band.run for band in self.bands]
        stations = self._whole([run.stations for run in runs])
        return Run(stations, self._whole([run.totals for run in runs]))

    def highest(self, name: str) -> Array:
        """Return the highest value over the band of a summary quantity [SI], (n,)."""
        return self._whole([{name: band.heads[name][1]} for band in self.bands])[name]

    def _whole(self, parts: Sequence[Mapping[str, float | Array]]) -> dict[str, Array]:
        """Return columns of all designs from those of groups with the same members."""
        if len(parts) == 1:
            return {name: np.asarray(values) for name, values in parts[0].items()}
        whole = {}
        for name in parts[0]:
            own = [np.asarray(part[name]) for part in parts]
            whole[name] = np.empty((self.solved.at.size, *own[0].shape[1:]))
            for members, values in zip(self.solved.members, own, strict=True):
                whole[name][members.at] = values
        return whole

    @property
    def _slots(self) -> WorstSlots:
        assert self.solved.worst is not None
        return self.solved.worst

    @cached_property
    def worst(self) -> Run:
        """Worst channels (K n,), at the pressures that their neighbours give their manifolds."""
        slots, nominal = self._slots, self.nominal
        K = len(slots.corners)
        runs = _filled(slots.runs, self.solved.nominal).flat()
        shared = {name: np.tile(values, K) for name, values in nominal.totals.items()}
        return Run(columns(slots.prepared, runs), shared | worst_headlines(slots.prepared, runs))

    @cached_property
    def hottest(self) -> Integers:
        """Corner with the hottest wall of those that were solved, of each design (n,) [-]."""
        runs = self._slots.runs
        peaks = runs.station[..., A.O_T_WALL_HOT].max(axis=-1)
        return np.asarray(np.argmax(np.where(runs.ok, peaks, 0.0), axis=0))

    @property
    def worst_peak(self) -> Array:
        """Hottest wall at that corner (n,) [K], NaN where a corner was not solved."""
        runs = self._slots.runs
        peaks = np.reshape(self.worst.totals["T_wall_hot_max_K"], runs.code.shape)
        peak = np.take_along_axis(peaks, self.hottest[None], axis=0)[0]
        return np.where(runs.ok.all(axis=0), peak, np.nan)

    def outcomes(self) -> dict[str, Outcomes]:
        """Return the columns that were solved, by name."""
        solved = self.solved
        n = solved.at.size
        every, none = np.ones((1, n), dtype=bool), np.empty((0, n), dtype=np.int64)
        outcomes = {"nominal": Outcomes(self.nominal, every, none)}
        if solved.members:
            codes = np.full((max(len(band.names) for band in solved.members), n), st.OK)
            for band in solved.members:
                codes[: len(band.names), band.at] = band.runs.code
            outcomes["band_edge"] = Outcomes(self.edge, every, codes)
        if solved.worst is not None:
            runs = solved.worst.runs
            outcomes["worst_channel"] = Outcomes(self.worst, runs.ok, runs.code)
        return outcomes


def for_limits(
    prepared: Prepared, nominal: Run, band: Iterable[Outcome] = (), worst: Iterable[Outcome] = ()
) -> Solved:
    """Return runs as the limits ask for them.

    Parameters
    ----------
    prepared : Prepared
        What they were solved with.
    nominal : Run
        Nominal run of one design, or of many.
    band, worst : iterable of Run or Stopped
        The other columns of one design.

    Returns
    -------
    Solved
        With liner and coolant of the design.
    """
    design = prepared.design
    coolant = facts_of(design.coolant, prepared.coolant)
    return Solved(design, metals.liner(design), coolant, nominal, tuple(band), tuple(worst))


def _filled(runs: Marched, nominal: Marched) -> Marched:
    """Return runs (K, n), with the nominal's numbers (n,) where one was not solved."""
    k, n = np.nonzero(~runs.ok)
    if not k.size:
        return runs

    def filled(values: Array, own: Array) -> Array:
        values = values.copy(order="K")
        values[k, n] = own[n]
        return values

    # the circuits' own stations make no column
    circuits = tuple(
        replace(part, total=filled(part.total, own.total))
        for part, own in zip(runs.circuits, nominal.circuits, strict=True)
    )
    station = filled(runs.station, nominal.station)
    total = filled(runs.total, nominal.total)
    return replace(runs, station=station, total=total, circuits=circuits)


ByLimit = dict[str, dict[str, verdict.Columns]]
"""Columns (n,) by limit and name of the column."""


@dataclass(frozen=True)
class Judgement:
    """Margins of n designs by limit and column, limits that only inform, and the verdicts (n,).

    ``kept`` is True where the nominal channel is shown to keep every limit that decides;
    ``along`` has the least margins at each station (n, S) [-], if they were asked for.
    """

    columns: ByLimit
    informative: frozenset[str]
    verdict: NDArray[np.object_]
    kept: Mask
    along: dict[str, dict[str, Array]]


def judge(evaluated: Evaluated, *, stationwise: bool = False) -> Judgement:
    """Judge n designs by every limit.

    Parameters
    ----------
    evaluated : Evaluated
        Solved designs.
    stationwise : bool
        Keep the margins at every station; uncooled ends, which are no station, are then not judged.

    Returns
    -------
    Judgement
        Without texts: ``review`` gives those of one design.
    """
    outcomes, size = evaluated.outcomes(), evaluated.solved.at.size
    prepared, by_limit = evaluated.solved.prepared, ByLimit()
    band, worst = (
        [outcomes[name].run] if name in outcomes else [] for name in ("band_edge", "worst_channel")
    )
    solved = for_limits(prepared, evaluated.nominal, band, worst).quiet
    judged = list(rules(solved))
    along: dict[str, dict[str, Array]] = {}
    if not stationwise:
        h0 = evaluated.solved.nominal.total[:, A.T_H0]
        judged += [
            uncooled_ends.rule_of(end, solved) for end in uncooled_ends.ends_of(prepared, h0)
        ]
        for margin in uncooled_ends.unjudged(prepared)[0]:
            by_limit[margin.name] = {
                name: verdict.constant(verdict.UNKNOWN, (size,)) for name in outcomes
            }
    for rule in judged:
        limit = rule.limit
        for name, of in outcomes.items():
            margins, indicative = limits.along(limit, rule.compare, of.run)
            parts = _by_run(verdict.column(margins, indicative), of)
            by_limit.setdefault(limit.name, {})[name] = _with_stops(limit, parts, of)
            if stationwise:
                each = margins.reshape(*of.solved.shape, -1)
                least = np.where(of.solved[..., None], each, np.nan).min(axis=0)
                along.setdefault(limit.name, {})[name] = least
    informative = frozenset(rule.limit.name for rule in judged if rule.limit.informative)
    return Judgement(by_limit, informative, *_conclude(by_limit, informative), along)


def _by_run(column: verdict.Columns, of: Outcomes) -> list[verdict.Columns]:
    """Return a column of all designs for each of their runs, not asked of what was not solved."""
    if len(of.solved) == 1 and of.solved.all():
        return [column]
    apart = [values.reshape(of.solved.shape) for values in column]
    silent = verdict.constant(verdict.NOT_ASKED, of.solved.shape)
    apart = [np.where(of.solved, *pair) for pair in zip(apart, silent, strict=True)]
    return [verdict.Columns(*(values[k] for values in apart)) for k in range(len(of.solved))]


def _with_stops(limit: Limit, parts: list[verdict.Columns], of: Outcomes) -> verdict.Columns:
    """Return one column of its runs and of the runs that stopped."""
    size = of.solved.shape[1:]
    for ended in of.codes:
        state = np.full(size, verdict.NOT_ASKED)
        for code in np.unique(ended[ended != st.OK]):
            state[ended == code] = verdict.stopped(limit, int(code))
        parts = [*parts, verdict.constant(verdict.NOT_ASKED, size)._replace(state=state)]
    return verdict.settled(verdict.together(parts), limit)


def _conclude(columns: ByLimit, informative: Iterable[str]) -> tuple[NDArray[np.object_], Mask]:
    """Return the verdicts (n,), and where the nominal channel keeps every limit."""
    deciding = [by_name for limit, by_name in columns.items() if limit not in informative]
    nominal, *others = (
        verdict.Columns(*map(np.stack, zip(*(one[name] for one in deciding), strict=True)))
        for name in deciding[0]
    )
    codes = verdict.row(nominal, others).max(axis=0)
    kept = np.isin(nominal.state, (verdict.KEPT, verdict.NOT_ASKED))
    return np.array(verdict.VERDICTS, dtype=object)[codes], np.all(kept, axis=0)
