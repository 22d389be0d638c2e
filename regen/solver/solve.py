"""From a design to solved stations: nominal run, bands and the worst channel.

The physics is one call of the compiled march for the nominal design, one for all band members
together, and a few for the worst channel, whose flow is found on the way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.design import Design
from regen.errors import RangeError
from regen.gas import flux
from regen.geometry.circuits import Path, geometry_of, shifted
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics._dispatch import BOILING, COOLANT_SIDE, FRICTION, GAS_SIDE
from regen.physics.batch import march_all
from regen.physics.tables import pseudo_critical_T
from regen.solver import bands, manifolds
from regen.solver.flow_split import Solved, through_circuits
from regen.solver.prepare import Array, Prepared, Progress, prepare
from regen.solver.worst_channel import Corner, corners, slot_runs, worst_slots

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


@dataclass(frozen=True)
class Passed:
    """One circuit of a run: stations in flow order (S, ``A.N_STATION_OUT``), totals, outcome."""

    station: Array
    total: Array
    code: int
    stop: int


@dataclass(frozen=True)
class Marched:
    """One solved run through all circuits.

    ``station`` (rows, ``A.N_STATION_OUT``) is by rising x. ``total`` sums flow and heat of all
    circuits; enthalpies are those of their mixed flows, the outlet pressure is the lowest.
    """

    name: str
    station: Array
    total: Array
    circuits: tuple[Passed, ...]
    code: int

    @property
    def ok(self) -> bool:
        """True if the run was solved."""
        return self.code == st.OK


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
    """Nominal run, band members, worst channel, and what they were prepared from.

    ``models`` are the nominal correlations by role and ``coolant`` the coolant-side members by the
    rule. The worst channel is one slot of each circuit, at each corner of the shop's tolerances.
    ``split`` is the flow between the slots, where the case gives the manifolds; ``shortfall`` the
    share of the mean flow [-] that the worst slot lacks by it, or by the shop's rule.
    """

    prepared: Prepared
    nominal: Marched
    models: Mapping[str, str]
    coolant: bands.Choice
    members: tuple[Marched, ...]
    corners: tuple[WorstSlot, ...]
    excluded: dict[str, str]
    """Correlations left out of the band, and why."""
    shortfall: float
    split: manifolds.Split | None = None

    @property
    def hottest(self) -> WorstSlot:
        """The corner with the hottest wall of those that were solved, else the first."""
        return max(self.corners, key=lambda one: hottest_row(one.run) if one.run.ok else 0.0)

    @property
    def worst(self) -> Marched:
        """The worst channel at that corner."""
        return self.hottest.run

    @property
    def worst_paths(self) -> tuple[Path, ...]:
        """Its paths."""
        return self.hottest.paths


def hottest_row(run: Marched) -> float:
    """Return the hottest station's wall of a run [K]."""
    return float(run.station[:, A.O_T_WALL_HOT].max())


def model_row(prepared: Prepared, **named: str) -> NDArray[Any]:
    """Return the ids of the chosen models, with some replaced by name.

    Parameters
    ----------
    prepared : Prepared
        Design and regime.
    **named : str
        Correlation names by role, overriding the design's choice.

    Returns
    -------
    structured ndarray (1,)
        ``arrays.MODEL``.
    """
    return ids({**chosen_models(prepared), **named})


def ids(names: Mapping[str, str]) -> NDArray[Any]:
    """Return the ids (1,) [-] of correlations named for every role, gas-side factor included."""
    row = np.zeros(1, dtype=A.MODEL)
    gas_side, row["throat_factor"] = flux.correlation_of(names["gas_side"])
    names = {**names, "gas_side": gas_side}
    ids = {
        "gas_side": GAS_SIDE,
        "coolant_side": COOLANT_SIDE,
        "friction": FRICTION,
        "boiling": BOILING,
    }
    for role, known in ids.items():
        row[role] = known[names[role]]
    return row


def chosen_models(prepared: Prepared) -> dict[str, str]:
    """Return the correlation of each role that the nominal run is first solved with.

    Parameters
    ----------
    prepared : Prepared
        Design and feed.

    Returns
    -------
    dict
        Name by role.
    """
    design = prepared.design
    fluid = design.coolant.correlated_as
    models = design.models
    return {
        "gas_side": flux.nominal_gas_side(models),
        "coolant_side": models.coolant_side or coolant_choice(prepared).members[0],
        "friction": models.friction,
        "boiling": models.boiling or bands.boiling(fluid).members[0],
    }


def coolant_choice(
    prepared: Prepared, run: Any = None, span: tuple[float, float] | None = None
) -> bands.Choice:
    """Return the coolant-side members by the rule for the coolant and its states.

    Parameters
    ----------
    prepared : Prepared
        Design and coolant table.
    run : structured scalar, optional
        ``arrays.RUN`` with the feed, in place of the first of ``prepared`` [-].
    span : tuple of float, optional
        Lowest and highest pressure along the slots [Pa]; before anything is solved, the pressure
        that is given of the feed stands for both.

    Returns
    -------
    Choice
        Members, the default first, and why the others are left out.
    """
    feed = prepared.run[0] if run is None else run
    table = prepared.coolant
    low, high = span or (float(feed["pressure"]),) * 2
    T_r = float(feed["inlet_temperature"]) / pseudo_critical_T(table, high)
    fluid, p_c = prepared.design.coolant.correlated_as, table.p_critical
    return bands.coolant_side(fluid, high / p_c, T_r, low / p_c)


def span_of(run: Marched) -> tuple[float, float]:
    """Return the lowest and the highest pressure of the coolant along the slots [Pa]."""
    p = run.station[:, A.O_P_COOLANT]
    return float(p.min()), float(p.max())


def models_in_use(solution: Solution) -> dict[str, str]:
    """Return the nominal correlations that the states call on: none boils above the critical.

    Parameters
    ----------
    solution : Solution
        Solved runs.

    Returns
    -------
    dict
        Name by role.
    """
    chosen = dict(solution.models)
    if span_of(solution.nominal)[0] >= solution.prepared.coolant.p_critical:
        chosen.pop("boiling")
    return chosen


def _marched(prepared: Prepared, name: str, solved: Solved, n: int) -> Marched:
    """Return member n with its circuits joined."""
    code = next((int(c) for c in solved.code[n] if c != st.OK), st.OK)
    if code == st.OK and not solved.settled[n]:
        code = st.NOT_CONVERGED
    parts = tuple(
        Passed(station, total, int(status), int(stop))
        for station, total, status, stop in zip(
            solved.station[n], solved.total[n], solved.code[n], solved.stop[n], strict=True
        )
    )
    total = _joined_total(solved.total[n])
    total[A.T_PASSES] += solved.steps[n] - 1
    station = prepared.rows.joined([part.station for part in parts])
    return Marched(name, station, total, parts, code)


def _joined_total(totals: Array) -> Array:
    """Return the totals (T,) of all circuits (C, T) together."""
    joined: Array = totals[0].copy()
    if len(totals) == 1:
        return joined
    flow = totals[:, A.T_MASS_FLOW]
    for field in (A.T_HEAT, A.T_MASS_FLOW):
        joined[field] = totals[:, field].sum()
    for field in (A.T_H_IN, A.T_H_OUT):
        joined[field] = np.sum(flow * totals[:, field]) / max(flow.sum(), 1e-300)
    joined[A.T_P_IN] = totals[:, A.T_P_IN].max()
    joined[A.T_P_OUT] = totals[:, A.T_P_OUT].min()
    joined[A.T_PASSES] = totals[:, A.T_PASSES].max()
    return joined


class Nominal(NamedTuple):
    """The nominal run, its correlations by role, and the coolant-side members by the rule."""

    run: Marched
    models: dict[str, str]
    coolant: bands.Choice


def solve_nominal(prepared: Prepared) -> Marched:
    """Return the nominal run alone, of ``nominal_by_rule``."""
    return nominal_by_rule(prepared).run


def nominal_by_rule(prepared: Prepared) -> Nominal:
    """Solve the nominal run with the correlations that its own stations call for.

    Parameters
    ----------
    prepared : Prepared
        Tables and arrays.

    Returns
    -------
    Nominal
        The solved run.

    Raises
    ------
    MarchError
        If the march stops.
    RangeError
        If more coolant than fuel is to return to the injector.

    Notes
    -----
    What is given of the feed says which regime is tried first. Where the stations lie in another,
    whose default is another form, the run is solved again; the rule then holds for the pressures
    of both runs, so that it cannot go to and fro.
    """
    models = chosen_models(prepared)
    run = _nominal(prepared, models)
    span = span_of(run)
    choice = coolant_choice(prepared, span=span)
    if prepared.design.models.coolant_side is None and choice.members[0] != models["coolant_side"]:
        others = {**models, "coolant_side": choice.members[0]}
        other = _nominal(prepared, others)
        low, high = span_of(other)
        choice = coolant_choice(prepared, span=(min(low, span[0]), max(high, span[1])))
        if choice.members[0] == others["coolant_side"]:
            run, models = other, others
    return Nominal(run, models, choice)


def rule_for(prepared: Prepared) -> tuple[dict[str, str], bands.Choice]:
    """Return the nominal correlations by role and the coolant-side members by the rule.

    Parameters
    ----------
    prepared : Prepared
        Tables and arrays.

    Returns
    -------
    tuple of (dict, Choice)
        For the stations of the nominal run; for what is given of the feed if it is not solved.
    """
    try:
        return nominal_by_rule(prepared)[1:]
    except (MarchError, RangeError):
        return chosen_models(prepared), coolant_choice(prepared)


def _nominal(prepared: Prepared, models: Mapping[str, str]) -> Marched:
    """Solve the nominal run with named correlations."""
    nominal = _marched(prepared, "nominal", through_circuits(prepared, ids(models)), 0)
    if not nominal.ok:
        raise failure(prepared, nominal)
    if prepared.design.coolant.returns_to_injector:
        mixture_ratio = prepared.design.propellants.mixture_ratio
        if refused := too_much_returned(mixture_ratio, nominal.total):
            raise RangeError(refused)
    return nominal


def too_much_returned(mixture_ratio: float, total: Array) -> str:
    """Return the refusal of more coolant than there is fuel, "" where it can all burn.

    Parameters
    ----------
    mixture_ratio : float
        Oxidizer over fuel [-].
    total : ndarray
        Totals (N_TOTAL,) of a run [SI].

    Returns
    -------
    str
        In words.
    """
    fuel = total[A.T_GAS_FLOW] / (1.0 + mixture_ratio)
    if total[A.T_MASS_FLOW] <= fuel * (1.0 + 1e-9):
        return ""
    return (
        f"coolant.mass_flow: {total[A.T_MASS_FLOW]:.4g} kg/s is more than the fuel flow of "
        f"{fuel:.4g} kg/s and cannot all return to the injector; accepted: up to the fuel "
        "flow, or coolant.returns_to_injector = false"
    )


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
    x = path.flowing("x")[min(part.stop, path.order.size - 1)]
    return MarchError(run.code, float(x), "; ".join(detail))


def _totals(run: Marched) -> Array:
    """Return the totals (C, N_TOTAL) of the circuits of a run."""
    return np.stack([part.total for part in run.circuits])


def _split(
    prepared: Prepared, nominal: Marched, models: Mapping[str, str]
) -> manifolds.Split | None:
    """Return the flow between the slots by the manifolds, None if the case gives none.

    The case gives them to one circuit with one number of slots only.
    """
    given = prepared.design.manifolds
    if given is None:
        return None
    total, path = nominal.total, prepared.paths[0]
    slots = path.passage
    jacket = slots.floor_radius + (slots.depth + slots.closeout) * np.cos(slots.slope_angle)
    rings = manifolds.rings(
        given,
        prepared.coolant,
        manifolds.End(jacket[path.order[0]], total[A.T_H_IN], total[A.T_P_IN]),
        manifolds.End(jacket[path.order[-1]], total[A.T_H_OUT], total[A.T_P_OUT]),
        prepared.design.channels.roughness,
    )
    drop = float(total[A.T_P_IN] - total[A.T_P_OUT])
    return manifolds.split(
        prepared.design.channels.count // path.passes,
        float(total[A.T_MASS_FLOW]),
        drop,
        rings,
        _exponent(prepared, nominal, ids(models), drop),
    )


def _exponent(prepared: Prepared, nominal: Marched, models: NDArray[Any], drop: float) -> float:
    """Return d ln(drop)/d ln(flow) of a slot: less flow comes out hotter and lighter.

    2 where the march stops at a little less flow.
    """
    run = slot_runs(prepared.run, _totals(nominal))
    run["flow_factor"] = LESS_FLOW
    tables = prepared.gas, prepared.coolant, prepared.walls
    out, status = march_all(prepared.geometry, *tables, run, models)
    if status[0, 0] != st.OK:
        return 2.0
    less = float(out.total[0, A.T_P_IN] - out.total[0, A.T_P_OUT])
    return float(np.log(less / drop) / np.log(LESS_FLOW))


def _worst_channel(
    prepared: Prepared, nominal: Marched, names: Mapping[str, str], shortfall: float
) -> tuple[WorstSlot, ...]:
    """Return the worst slot of every circuit, at each corner of the shop's tolerances."""
    design, count = prepared.design, len(prepared.paths)
    every = corners(design.shop)
    paths = [
        tuple(shifted(design, prepared.contour, path, *corner) for path in prepared.paths)
        for corner in every
    ]
    geometry = geometry_of(design, tuple(path for of_corner in paths for path in of_corner))
    found = worst_slots(
        prepared,
        replace(prepared, geometry=geometry),
        prepared.run,
        np.repeat(ids(names), count),
        _totals(nominal),
        shortfall,
    )
    code = found.status[..., 0]
    solved = Solved(
        found.out.station,
        found.out.total,
        code,
        found.status[..., 1],
        np.ones(len(every), dtype=np.int64),
        np.all(code == st.OK, axis=1),
    )
    return tuple(
        WorstSlot(
            corner,
            _marched(prepared, "worst channel", solved, n),
            paths[n],
            bool(found.several[n].any()),
        )
        for n, corner in enumerate(every)
    )


def solve(design: Design, progress: Progress | None = None) -> Solution:
    """Solve a design: nominal run, band members and worst channel.

    Parameters
    ----------
    design : Design
        Checked design.
    progress : callable, optional
        Told in words what is being waited for.

    Returns
    -------
    Solution
        Solved runs. Band members that fail keep their status and are left out of the bands.

    Raises
    ------
    MarchError
        If the nominal run stops.
    ValueError
        If the geometry is impossible or a material or property is not known.
    RangeError
        If the manifolds leave some slots without flow.
    """
    say = progress or (lambda text: None)
    prepared = prepare(design, progress)
    say("march along the channel (the first run compiles it: up to a minute, then cached)")
    nominal, chosen, coolant = nominal_by_rule(prepared)
    try:
        split = _split(prepared, nominal, chosen)
    except manifolds.NoSplitError as error:
        raise RangeError(str(error)) from error
    fitted = throat_fitted(prepared, prepared.run[0])
    names, excluded = member_names(chosen, coolant, fitted=fitted)
    models = np.concatenate([ids({**chosen, **name}) for name in names])
    solved = through_circuits(prepared, models)
    members = tuple(
        _marched(prepared, " + ".join(name.values()), solved, n) for n, name in enumerate(names)
    )
    shortfall = design.shop.flow_shortfall if split is None else split.shortfall
    slots = _worst_channel(prepared, nominal, chosen, shortfall)
    return Solution(prepared, nominal, chosen, coolant, members, slots, excluded, shortfall, split)


def throat_fitted(prepared: Prepared, run: Any) -> bool:
    """Return whether the case gives the throat's factor, in its gas or in the run."""
    return prepared.design.models.throat_factor != 1.0 or float(run["throat_factor"]) != 1.0


def member_names(
    chosen: Mapping[str, str], coolant: bands.Choice, *, fitted: bool = False
) -> tuple[list[dict[str, str]], dict[str, str]]:
    """Return every combination of applicable correlations, and why others are left out.

    Parameters
    ----------
    chosen : mapping
        Nominal correlation by role.
    coolant : Choice
        Coolant-side members by the rule.
    fitted : bool
        The case gives the throat's factor.

    Returns
    -------
    names : list of dict
        One name by role of gas side, coolant side and friction for each member; the gas side's
        may be ``flux.LOW_THROAT``.
    excluded : dict
        Reason by name.
    """
    choices = {
        "gas_side": bands.gas_side(fitted=fitted),
        "coolant_side": coolant,
        "friction": bands.friction(chosen["friction"]),
    }
    options = {
        role: tuple(dict.fromkeys((chosen[role], *choice.members)))
        for role, choice in choices.items()
    }
    names = [
        {"gas_side": g, "coolant_side": c, "friction": f}
        for g in options["gas_side"]
        for c in options["coolant_side"]
        for f in options["friction"]
    ]
    excluded = {
        name: reason
        for role, choice in choices.items()
        for name, reason in choice.excluded.items()
        if name not in options[role]
    }
    return names, excluded
