"""From designs to solved stations: nominal runs, bands and worst channels, of one or of many.

The physics is one call of the compiled march for all nominal runs, one for all band members, and a
few for the worst channels, whose flow is found on the way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.design import Design
from regen.errors import GeometryError, RangeError
from regen.geometry.circuits import Path
from regen.physics import arrays as A
from regen.physics import status as st
from regen.solver import bands, manifolds
from regen.solver.flow_split import CircuitRuns, march_circuits, through_circuits
from regen.solver.layout import refusals, slots_at_corners
from regen.solver.models import (
    Names,
    chosen_models,
    coolant_choice,
    first_models,
    ids_of,
    member_names,
    span_choices,
)
from regen.solver.prepare import Array, Prepared, Progress, prepare
from regen.solver.worst_channel import Corner, corners, slot_runs, worst_slots

Judged = Literal["nominal", "worst", "full"]
"""Which runs are solved beside the nominal: none; the worst channel; that and the band."""

MIN_BAND = 0.25
"""Least half-width of the bands on wall temperature above coolant and on pressure drop."""

LESS_FLOW = 0.98
"""Share of the flow at which the slots' drop is marched for its exponent [-]."""


class MarchError(RuntimeError):
    """The design could not be solved: what stopped the march, where, and what to do.

    Parameters
    ----------
    code : int
        Status of the march [-].
    x : float
        Axial position where it stopped [m].
    detail : str
        Coolant state there, in words.
    """

    def __init__(self, code: int, x: float, detail: str = "") -> None:
        text = st.TEXTS[code]
        self.code = code
        self.status = text.name
        self.station_x = x
        self.detail = detail
        self.remedy = text.remedy
        where = f" (reached at x = {x * 1e3:.1f} mm{'; ' + detail if detail else ''})"
        super().__init__(f"not solved: {text.what}{where}. What to do: {text.remedy}.")


Unsolved = MarchError | GeometryError | RangeError
"""Why a design has no nominal run."""


@dataclass(frozen=True)
class Passed:
    """One circuit of some runs: stations in flow order (..., S, fields), totals, outcome (...)."""

    station: Array
    total: Array
    code: NDArray[np.int64]
    stop: NDArray[np.int64]


@dataclass(frozen=True)
class Marched:
    """One run through all circuits, or many (...).

    ``station`` (..., rows, ``A.N_STATION_OUT``) is by rising x. ``total`` sums flow and heat of all
    circuits; enthalpies are those of their mixed flows, the outlet pressure is the lowest.
    """

    station: Array
    total: Array
    circuits: tuple[Passed, ...]
    code: NDArray[np.int64]
    name: str = ""

    @property
    def ok(self) -> Any:
        """True where a run was solved (...)."""
        return self.code == st.OK

    def _each(self, of: Any) -> Marched:
        parts = tuple(
            Passed(of(part.station), of(part.total), of(part.code), of(part.stop))
            for part in self.circuits
        )
        return Marched(of(self.station), of(self.total), parts, of(self.code), self.name)

    def __getitem__(self, at: Any) -> Marched:
        """Return some of many runs."""
        return self._each(lambda values: values[at])

    def shaped(self, *shape: int) -> Marched:
        """Return runs (M,) as an array of that shape."""
        return self._each(lambda values: values.reshape(*shape, *values.shape[1:]))

    def flat(self) -> Marched:
        """Return runs (K, n) as (K n,)."""
        return self._each(lambda values: values.reshape(-1, *values.shape[2:]))

    def circuit_totals(self) -> Array:
        """Return the totals (..., C, N_TOTAL) of the circuits."""
        return np.stack([part.total for part in self.circuits], axis=-2)


@dataclass(frozen=True)
class WorstSlot:
    """One slot of each circuit at one corner of the shop's tolerances: its run and paths.

    ``several``: further flows than the one taken lose as much as the neighbours.
    """

    corner: Corner
    run: Marched
    paths: tuple[Path, ...]
    several: bool


@dataclass(frozen=True)
class Solution:
    """Nominal run, band members and worst channel of one design, and what they were prepared from.

    ``models`` are the nominal correlations by role and ``coolant`` the coolant-side members by the
    rule. The worst channel is one slot of each circuit, at each corner of the shop's tolerances.
    ``split`` is the flow between the slots, where the case gives the manifolds; ``shortfall`` the
    share of the mean flow [-] that the worst slot lacks by it, or by the shop's rule. ``excluded``
    says why correlations are left out of the band.
    """

    prepared: Prepared
    nominal: Marched
    models: Names
    coolant: bands.Choice
    members: tuple[Marched, ...]
    corners: tuple[WorstSlot, ...]
    excluded: dict[str, str]
    shortfall: float
    split: manifolds.Split | None = None

    @property
    def hottest(self) -> WorstSlot:
        """The corner with the hottest wall of those that were solved, else the first."""
        peaks = [
            one.run.station[:, A.O_T_WALL_HOT].max() if one.run.ok else 0.0 for one in self.corners
        ]
        return self.corners[int(np.argmax(peaks))]

    @property
    def worst(self) -> Marched:
        """The worst channel at that corner."""
        return self.hottest.run


@dataclass(frozen=True)
class Members:
    """The band of those designs (n,) that have the same members: M runs of each, (M, n)."""

    at: NDArray[np.int64]
    runs: Marched
    names: tuple[str, ...]
    excluded: dict[str, str]


@dataclass(frozen=True)
class WorstSlots:
    """Slots of n designs at K corners, prepared as K times n designs, and their runs (K, n)."""

    prepared: Prepared
    corners: tuple[Corner, ...]
    runs: Marched
    several: NDArray[np.bool_]


@dataclass(frozen=True)
class Solutions:
    """Designs whose nominal run was solved, with the runs that were asked for beside it.

    ``at`` (n,) are their places among the designs given. The rest is as in ``Solution``.
    """

    at: NDArray[np.int64]
    prepared: Prepared
    nominal: Marched
    models: list[Names]
    coolant: list[bands.Choice]
    splits: list[manifolds.Split | None]
    members: tuple[Members, ...] = ()
    worst: WorstSlots | None = None

    @cached_property
    def shortfall(self) -> Array:
        """Share of the mean flow that the worst slot lacks (n,) [-]."""
        rule = self.prepared.design.shop.flow_shortfall
        return np.array([rule if one is None else one.shortfall for one in self.splits])

    def one(self, n: int) -> Solution:
        """Return one design with all its runs."""
        band = next(band for band in self.members if n in band.at)
        place = int(np.flatnonzero(band.at == n)[0])
        slots, prepared = self.worst, self.prepared
        assert slots is not None
        rows = len(prepared.designs)
        return Solution(
            prepared=prepared.taken(n),
            nominal=self.nominal[n],
            models=self.models[n],
            coolant=self.coolant[n],
            members=tuple(
                replace(band.runs[m, place], name=name) for m, name in enumerate(band.names)
            ),
            corners=tuple(
                WorstSlot(
                    corner,
                    slots.runs[k, n],
                    slots.prepared.taken(k * rows + n).paths,
                    bool(slots.several[k, n]),
                )
                for k, corner in enumerate(slots.corners)
            ),
            excluded=band.excluded,
            shortfall=float(self.shortfall[n]),
            split=self.splits[n],
        )


def models_in_use(solution: Solution) -> dict[str, str]:
    """Return the nominal correlations that the states call on: none boils above the critical."""
    chosen = dict(solution.models)
    p = solution.nominal.station[:, A.O_P_COOLANT]
    if p.min() >= solution.prepared.coolant.p_critical:
        chosen.pop("boiling")
    return chosen


def _joined(prepared: Prepared, runs: CircuitRuns) -> Marched:
    """Return runs (M,) with their circuits joined."""
    M, C = runs.code.shape
    bad = runs.code != st.OK
    first = np.take_along_axis(runs.code, np.argmax(bad, axis=1)[:, None], axis=1)[:, 0]
    unsettled = np.where(runs.settled, st.OK, st.NOT_CONVERGED)
    total = _joined_total(runs.total)
    total[:, A.T_PASSES] += runs.steps - 1
    # each column by itself in memory: from here on they are taken one by one
    flat = np.moveaxis(runs.station.reshape(M, -1, A.N_STATION_OUT), -1, 0)
    by_x = np.moveaxis(flat.take(prepared.rows.index, axis=-1), 0, -1)
    parts = tuple(
        Passed(runs.station[:, c], runs.total[:, c], runs.code[:, c], runs.stop[:, c])
        for c in range(C)
    )
    return Marched(by_x, total, parts, np.where(bad.any(axis=1), first, unsettled))


def _joined_total(totals: Array) -> Array:
    """Return the totals (M, T) of all circuits (M, C, T) together."""
    joined: Array = totals[:, 0].copy()
    if totals.shape[1] == 1:
        return joined
    flow = totals[..., A.T_MASS_FLOW]
    for field in (A.T_HEAT, A.T_MASS_FLOW):
        joined[:, field] = totals[..., field].sum(axis=1)
    for field in (A.T_H_IN, A.T_H_OUT):
        mixed = np.sum(flow * totals[..., field], axis=1)
        joined[:, field] = mixed / np.maximum(flow.sum(axis=1), 1e-300)
    joined[:, A.T_P_IN] = totals[..., A.T_P_IN].max(axis=1)
    joined[:, A.T_P_OUT] = totals[..., A.T_P_OUT].min(axis=1)
    joined[:, A.T_PASSES] = totals[..., A.T_PASSES].max(axis=1)
    return joined


def march(prepared: Prepared, runs: NDArray[Any], models: NDArray[Any]) -> Marched:
    """March runs (M, C) with the ids of their correlations (M,), circuits joined."""
    return _joined(prepared, through_circuits(prepared, models, runs))


class Nominals(NamedTuple):
    """Nominal runs (L,), their correlations by role, and the coolant-side members by the rule."""

    run: Marched
    models: list[Names]
    coolant: list[bands.Choice]


def nominal_runs(prepared: Prepared) -> Nominals:
    """March the nominal runs with the correlations that their own stations call for.

    What is given of the feed says which regime is tried first. Where the stations lie in another,
    whose default is another form, the run is marched again; the rule then holds for the pressures
    of both runs, so that it cannot go to and fro. The members of a run that was not solved are
    those of its feed.
    """
    models = first_models(prepared)
    run = march(prepared, prepared.runs, ids_of(models))
    low, high = _spans(prepared, run)
    choices = span_choices(prepared, low, high)
    again = [
        n
        for n in np.flatnonzero(run.ok).tolist()
        if choices[n].members[0] != models[n]["coolant_side"]
        and prepared.designs[n].models.coolant_side is None
    ]
    if not again:
        return Nominals(run, models, choices)
    at = np.array(again)
    part = prepared.taken(at)
    others = [{**models[n], "coolant_side": choices[n].members[0]} for n in again]
    other = march(part, part.runs, ids_of(others))
    low_2, high_2 = _spans(part, other)
    wider = span_choices(part, np.minimum(low_2, low[at]), np.maximum(high_2, high[at]))
    for i, n in enumerate(again):
        if other.ok[i]:
            choices[n] = wider[i]
        if not other.ok[i] or wider[i].members[0] == others[i]["coolant_side"]:
            models[n] = others[i]
            _put(run, n, other[i])
    return Nominals(run, models, choices)


def _put(runs: Marched, n: int, one: Marched) -> None:
    runs.station[n], runs.total[n], runs.code[n] = one.station, one.total, one.code
    for part, own in zip(runs.circuits, one.circuits, strict=True):
        part.station[n], part.total[n] = own.station, own.total
        part.code[n], part.stop[n] = own.code, own.stop


def _spans(prepared: Prepared, run: Marched) -> tuple[Array, Array]:
    """Return lowest and highest pressure along each run (L,) [Pa]; its feed's if not solved."""
    p, fed = run.station[..., A.O_P_COOLANT], prepared.runs["pressure"][:, 0]
    return np.where(run.ok, p.min(axis=1), fed), np.where(run.ok, p.max(axis=1), fed)


def solve_nominal(prepared: Prepared) -> Marched:
    """Return the nominal run of one design; raise as ``nominal_by_rule``."""
    return nominal_by_rule(prepared)[0]


def nominal_by_rule(prepared: Prepared) -> tuple[Marched, Names, bands.Choice]:
    """Return the nominal run of one design, its correlations and coolant-side members.

    Raises ``MarchError`` if the march stops, ``RangeError`` if more coolant than fuel is to return
    to the injector.
    """
    run, models, coolant = nominal_runs(prepared)
    for refused in _refused(prepared, run).values():
        raise refused
    return run[0], models[0], coolant[0]


def rule_for(prepared: Prepared) -> tuple[Names, bands.Choice]:
    """Return the nominal correlations by role and the coolant-side members by the rule.

    For the stations of the nominal run; for what is given of the feed if it is not solved.
    """
    try:
        return nominal_by_rule(prepared)[1:]
    except (MarchError, RangeError):
        return chosen_models(prepared), coolant_choice(prepared)


def _refused(prepared: Prepared, run: Marched) -> dict[int, Unsolved]:
    """Return why nominal runs (L,) were not solved, or return more coolant than there is fuel."""
    designs = prepared.designs
    parts = np.array([1.0 + design.propellants.mixture_ratio for design in designs])
    returns = [design.coolant.returns_to_injector for design in designs]
    flow, fuel = run.total[:, A.T_MASS_FLOW], run.total[:, A.T_GAS_FLOW] / parts
    too_much = np.array(returns) & (flow > fuel * (1.0 + 1e-9))
    refused: dict[int, Unsolved] = {}
    for n in np.flatnonzero(too_much):
        refused[int(n)] = RangeError(
            f"coolant.mass_flow: {flow[n]:.4g} kg/s is more than the fuel flow of {fuel[n]:.4g} "
            "kg/s and cannot all return to the injector; accepted: up to the fuel flow, or "
            "coolant.returns_to_injector = false"
        )
    return refused | {int(n): failure(prepared, run[n]) for n in np.flatnonzero(~run.ok)}


def failure(prepared: Prepared, run: Marched) -> MarchError:
    """Return why a run was not solved, where, and what to do."""
    stopped = [n for n, part in enumerate(run.circuits) if part.code != st.OK]
    n = stopped[0] if stopped else 0
    path, part = prepared.paths[n], run.circuits[n]
    detail = [f"circuit {path.name}"] if len(prepared.paths) > 1 else []
    if not stopped:
        detail = ["no split of the flow has one pressure drop in all circuits"]
    elif part.stop > 0:
        last = part.station[part.stop - 1]
        detail.append(
            f"the station before has coolant at {last[A.O_T_COOLANT]:.0f} K, "
            f"{last[A.O_P_COOLANT] / 1e5:.1f} bar, {last[A.O_V_COOLANT]:.0f} m/s"
        )
    x = path.flowing("x")[min(int(part.stop), path.order.size - 1)]
    return MarchError(int(run.code), float(x), "; ".join(detail))


def _splits(solved: Solutions) -> tuple[list[manifolds.Split | None], dict[int, Unsolved]]:
    """Return the flow between the slots of each design by its manifolds, and why there is none.

    The case gives manifolds to one circuit with one number of slots only.
    """
    splits: list[manifolds.Split | None] = [None] * solved.at.size
    refused: dict[int, Unsolved] = {}
    given = [n for n, design in enumerate(solved.prepared.designs) if design.manifolds is not None]
    for n, exponent in zip(given, _exponents(solved) if given else (), strict=True):
        try:
            splits[n] = _split(solved.prepared.taken(n), solved.nominal.total[n], float(exponent))
        except manifolds.NoSplitError as error:
            refused[n] = RangeError(str(error))
    return splits, refused


def _split(prepared: Prepared, total: Array, exponent: float) -> manifolds.Split:
    design, (path,) = prepared.design, prepared.paths
    assert design.manifolds is not None
    slots = path.passage
    jacket = slots.floor_radius + (slots.depth + slots.closeout) * np.cos(slots.slope_angle)
    rings = manifolds.rings(
        design.manifolds,
        prepared.coolant,
        manifolds.End(jacket[path.order[0]], total[A.T_H_IN], total[A.T_P_IN]),
        manifolds.End(jacket[path.order[-1]], total[A.T_H_OUT], total[A.T_P_OUT]),
        design.channels.roughness,
    )
    drop, flow = float(total[A.T_P_IN] - total[A.T_P_OUT]), float(total[A.T_MASS_FLOW])
    return manifolds.split(design.channels.count // path.passes, flow, drop, rings, exponent)


def _exponents(solved: Solutions) -> Array:
    """Return d ln(drop)/d ln(flow) of a slot of each design: less flow comes out hotter, lighter.

    2 where the march stops at a little less flow.
    """
    nominal = solved.nominal
    runs = slot_runs(solved.prepared.runs, nominal.circuit_totals())
    runs["flow_factor"] = LESS_FLOW
    less = march_circuits(solved.prepared, runs, ids_of(solved.models))
    drop, of_less = (
        total[..., A.T_P_IN] - total[..., A.T_P_OUT] for total in (nominal.total, less.total[:, 0])
    )
    ratio = np.divide(of_less, drop, out=np.ones_like(drop), where=less.settled)
    return np.where(less.settled, np.log(ratio) / np.log(LESS_FLOW), 2.0)


def _bands(solved: Solutions) -> tuple[Members, ...]:
    """March every member of the band, the designs that have the same members together."""
    groups: dict[tuple[tuple[str, ...], tuple[str, ...], bool], list[int]] = {}
    pairs = zip(solved.models, solved.coolant, solved.prepared.designs, strict=True)
    for n, (names, choice, design) in enumerate(pairs):
        fitted = design.models.throat_factor != 1.0
        groups.setdefault((tuple(names.values()), choice.members, fitted), []).append(n)
    return tuple(_band(solved, np.array(at), fitted=key[2]) for key, at in groups.items())


def _band(solved: Solutions, at: NDArray[np.int64], *, fitted: bool) -> Members:
    chosen = solved.models[at[0]]
    names, excluded = member_names(chosen, solved.coolant[at[0]], fitted=fitted)
    runs = np.tile(solved.prepared.runs[at], (len(names), 1))
    models = np.repeat(ids_of([{**chosen, **name} for name in names]), at.size)
    marched = march(solved.prepared, runs, models).shaped(len(names), at.size)
    return Members(at, marched, tuple(" + ".join(name.values()) for name in names), excluded)


def _worst_slots(solved: Solutions) -> WorstSlots:
    """March the worst slot of every circuit at each corner of the shop's tolerances."""
    prepared = solved.prepared
    every = corners(prepared.design.shop)
    slots = slots_at_corners(prepared, every)
    models, total = ids_of(solved.models), solved.nominal.circuit_totals()
    marched, several = worst_slots(prepared, slots, models, total, solved.shortfall)
    shape = len(every), solved.at.size
    return WorstSlots(slots, every, _joined(slots, marched).shaped(*shape), several.reshape(shape))


def solve_designs(
    prepared: Prepared, judged: Judged = "full"
) -> tuple[Solutions | None, dict[int, Unsolved]]:
    """Solve L designs, with the runs asked for; say of each that was not solved why, by number.

    Without solutions none was solved. Members and corners that stop keep their status.
    """
    failures: dict[int, Unsolved] = dict(refusals(prepared))
    at = np.array([n for n in range(len(prepared.designs)) if n not in failures], dtype=np.int64)
    if not at.size:
        return None, failures
    prepared = prepared.taken(at) if failures else prepared
    nominal = nominal_runs(prepared)
    solved = Solutions(at, prepared, *nominal, splits=[None] * at.size)
    solved = _without(solved, _refused(prepared, nominal.run), failures)
    if solved.at.size:
        splits, refused = _splits(solved)
        solved = _without(replace(solved, splits=splits), refused, failures)
    if not solved.at.size:
        return None, failures
    if judged != "nominal":
        solved = replace(solved, worst=_worst_slots(solved))
    if judged == "full":
        solved = replace(solved, members=_bands(solved))
    return solved, failures


def _without(
    solved: Solutions, refused: Mapping[int, Unsolved], failures: dict[int, Unsolved]
) -> Solutions:
    """Return the designs that are not refused, and keep why the others are."""
    if not refused:
        return solved
    failures |= {int(solved.at[n]): why for n, why in refused.items()}
    kept = np.array([n for n in range(solved.at.size) if n not in refused], dtype=np.int64)
    return Solutions(
        solved.at[kept],
        solved.prepared.taken(kept),
        solved.nominal[kept],
        [solved.models[n] for n in kept],
        [solved.coolant[n] for n in kept],
        [solved.splits[n] for n in kept],
    )


def solve(design: Design, progress: Progress | None = None) -> Solution:
    """Solve one design: nominal run, band members and worst channel.

    Band members that fail keep their status and are left out of the bands. Raises ``MarchError`` if
    the nominal run stops, ``RangeError`` if manifolds leave some slots without flow, and
    ``GeometryError`` or another ``ValueError`` if slots cannot be cut, or a material or property is
    not known.
    """
    return solve_one(design, progress).one(0)


def solve_one(design: Design, progress: Progress | None = None) -> Solutions:
    """Solve a batch of one design; raise as ``solve``."""
    prepared = prepare(design, progress)
    if progress is not None:
        progress("march along the channel (the first run compiles it: up to a minute, then cached)")
    solved, failures = solve_designs(prepared)
    if solved is None:
        raise failures[0]
    return solved
