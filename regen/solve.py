"""From a design to solved stations: nominal lane, bands and the worst channel.

The physics is one call of the compiled march for the nominal design, one for all band members
together, and a few for the worst channel, whose flow is found on the way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen import bands, manifold
from regen.design import Design
from regen.paths import Path, geometry_of, shifted
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics._dispatch import BOILING, COOLANT_SIDE, FRICTION, GAS_SIDE
from regen.physics.batch import run
from regen.physics.tables import pseudo_critical_T
from regen.prepare import Array, Prepared, Progress, prepare
from regen.properties.alloys import RangeError
from regen.split import Solved, through_circuits

MIN_BAND = 0.25
"""Least half-width of the bands on wall temperature above coolant and on pressure drop."""


SHARE_TOLERANCE = 1e-4
"""Miss of the neighbours' pressure drop at which the bad slot's flow is found, with one more
step of the secant [-]."""

MAX_SHARE_STEPS = 12

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
        self.status = text.name
        self.station_x = x
        self.remedy = text.remedy
        where = f" (reached at x = {x * 1e3:.1f} mm{'; ' + detail if detail else ''})"
        super().__init__(f"not solved: {text.what}{where}. What to do: {text.remedy}.")


@dataclass(frozen=True)
class Passed:
    """One circuit of a lane: stations in flow order (S, ``A.N_STATION_OUT``), totals, outcome."""

    station: Array
    total: Array
    code: int
    stop: int


@dataclass(frozen=True)
class Marched:
    """One solved lane through all circuits.

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
        """True if the lane was solved."""
        return self.code == st.OK


@dataclass(frozen=True)
class Solution:
    """Nominal lane, band members, worst channel, and what they were prepared from.

    The worst channel is one slot of each circuit. ``split`` is the flow between the slots, where
    the case gives the manifolds; ``shortfall`` the share of the mean flow [-] that the worst slot
    lacks by it, or by the shop's rule.
    """

    prepared: Prepared
    nominal: Marched
    members: tuple[Marched, ...]
    worst: Marched
    worst_paths: tuple[Path, ...]
    excluded: dict[str, str]
    """Correlations left out of the band, and why."""
    shortfall: float
    split: manifold.Split | None = None


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
    """Return the ids (1,) [-] of correlations named for every role."""
    row = np.zeros(1, dtype=A.MODEL)
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
    """Return the name of the nominal correlation of each role.

    Parameters
    ----------
    prepared : Prepared
        Design and regime.

    Returns
    -------
    dict
        Name by role.
    """
    design = prepared.design
    fluid = design.coolant.correlated_as
    models = design.models
    return {
        "gas_side": bands.nominal_gas_side(models),
        "coolant_side": models.coolant_side or coolant_choice(prepared).members[0],
        "friction": models.friction,
        "boiling": models.boiling or bands.boiling(fluid).members[0],
    }


def coolant_choice(prepared: Prepared, lane: Any = None) -> bands.Choice:
    """Return the coolant-side members by the rule for the coolant and its state at the inlet.

    Parameters
    ----------
    prepared : Prepared
        Design and coolant table.
    lane : structured scalar, optional
        ``arrays.LANE`` with the feed, in place of the first of ``prepared`` [-].

    Returns
    -------
    Choice
        Members, the default first, and why the others are left out.
    """
    feed = prepared.lane[0] if lane is None else lane
    table, p = prepared.coolant, float(feed["pressure"])
    T_r = float(feed["inlet_temperature"]) / pseudo_critical_T(table, p)
    return bands.coolant_side(prepared.design.coolant.correlated_as, p / table.p_critical, T_r)


def models_in_use(prepared: Prepared) -> dict[str, str]:
    """Return the nominal correlations that the regime calls on: none boils above the critical.

    Parameters
    ----------
    prepared : Prepared
        Design and regime.

    Returns
    -------
    dict
        Name by role.
    """
    chosen = chosen_models(prepared)
    if prepared.supercritical:
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


def solve_nominal(prepared: Prepared) -> Marched:
    """Solve the nominal lane.

    Parameters
    ----------
    prepared : Prepared
        Tables and arrays.

    Returns
    -------
    Marched
        The solved lane.

    Raises
    ------
    MarchError
        If the march stops.
    RangeError
        If more coolant than fuel is to return to the injector.
    """
    nominal = _marched(prepared, "nominal", through_circuits(prepared, model_row(prepared)), 0)
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
        Totals (N_TOTAL,) of a lane [SI].

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


def failure(prepared: Prepared, lane: Marched) -> MarchError:
    """Return why a lane was not solved, where, and what to do."""
    stopped = [n for n, part in enumerate(lane.circuits) if part.code != st.OK]
    n = stopped[0] if stopped else 0
    path, part = prepared.paths[n], lane.circuits[n]
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
    return MarchError(lane.code, float(x), "; ".join(detail))


def slot_lanes(lanes: NDArray[Any], total: Array) -> NDArray[Any]:
    """Return lanes of one slot each, whose flow changes neither chamber nor manifolds.

    Parameters
    ----------
    lanes : structured ndarray (L,)
        ``arrays.LANE`` of whole circuits.
    total : ndarray
        What they came to (L, N_TOTAL) [SI].

    Returns
    -------
    structured ndarray (L,)
        At the flow, inlet pressure and hot gas found.
    """
    slots = lanes.copy()
    slots["fuel_share"] = slots["returns"] = 0.0
    slots["outlet_given"] = 0
    slots["h0"] = total[:, A.T_H0]
    slots["mass_flow"], slots["pressure"] = total[:, A.T_MASS_FLOW], total[:, A.T_P_IN]
    return slots


def _totals(lane: Marched) -> Array:
    """Return the totals (C, N_TOTAL) of the circuits of a lane."""
    return np.stack([part.total for part in lane.circuits])


def _split(prepared: Prepared, nominal: Marched) -> manifold.Split | None:
    """Return the flow between the slots by the manifolds, None if the case gives none.

    The case gives them to one circuit with one number of slots only.
    """
    given = prepared.design.manifolds
    if given is None:
        return None
    total, path = nominal.total, prepared.paths[0]
    slots = path.passage
    jacket = slots.floor_radius + (slots.depth + slots.closeout) * np.cos(slots.slope_angle)
    rings = manifold.rings(
        given,
        prepared.coolant,
        manifold.End(jacket[path.order[0]], total[A.T_H_IN], total[A.T_P_IN]),
        manifold.End(jacket[path.order[-1]], total[A.T_H_OUT], total[A.T_P_OUT]),
        prepared.design.channels.roughness,
    )
    drop = float(total[A.T_P_IN] - total[A.T_P_OUT])
    return manifold.split(
        prepared.design.channels.count // path.passes,
        float(total[A.T_MASS_FLOW]),
        drop,
        rings,
        _exponent(prepared, nominal, drop),
    )


def _exponent(prepared: Prepared, nominal: Marched, drop: float) -> float:
    """Return d ln(drop)/d ln(flow) of a slot: less flow comes out hotter and lighter.

    2 where the march stops at a little less flow.
    """
    lane = slot_lanes(prepared.lane, _totals(nominal))
    lane["flow_factor"] = LESS_FLOW
    tables = prepared.gas, prepared.coolant, prepared.walls
    out, status = run(prepared.geometry, *tables, lane, model_row(prepared))
    if status[0, 0] != st.OK:
        return 2.0
    less = float(out.total[0, A.T_P_IN] - out.total[0, A.T_P_OUT])
    return float(np.log(less / drop) / np.log(LESS_FLOW))


def _worst_channel(
    prepared: Prepared, nominal: Marched, paths: tuple[Path, ...], shortfall: float
) -> Marched:
    """Return the worst slot of every circuit."""
    slots = replace(prepared, geometry=geometry_of(prepared.design, paths))
    models = np.repeat(model_row(prepared), len(paths))
    out, status = bad_slots(slots, prepared.lane, models, _totals(nominal), shortfall)
    ok = bool(np.all(status[:, 0] == st.OK))
    solved = Solved(
        out.station[None],
        out.total[None],
        status[None, :, 0],
        status[None, :, 1],
        np.ones(1, dtype=np.int64),
        np.array([ok]),
    )
    return _marched(prepared, "worst channel", solved, 0)


def bad_slots(
    prepared: Prepared,
    lanes: NDArray[Any],
    models: NDArray[Any],
    total: Array,
    shortfall: float,
) -> tuple[A.Out, NDArray[np.int64]]:
    """March one bad slot of each lane.

    Parameters
    ----------
    prepared : Prepared
        Tables, and the geometry of the bad slots.
    lanes, models : structured ndarray (L,)
        ``arrays.LANE`` of the circuits they are in, and ``arrays.MODEL``.
    total : ndarray
        What the circuits came to (L, N_TOTAL) [SI].
    shortfall : float
        Share of its flow that a slot lacks by its manifold or by the shop's rule [-].

    Returns
    -------
    out : Out
        Stations and totals, as ``batch.run`` has them.
    status : ndarray of int64 (L, 2)
        Codes and stations, as there; not converged where no flow was found [-].

    Notes
    -----
    One bad slot changes neither the chamber nor the manifolds, so the flow it takes is that at
    which it loses what its neighbours lose; the shortfall and the streak of hot gas come on top.
    """
    slots = slot_lanes(lanes, total)
    share = shares_at_drop(prepared, slots, models, total[:, A.T_P_IN] - total[:, A.T_P_OUT])
    lost = ~np.isfinite(share)
    slots["flow_factor"] = np.where(lost, 1.0, share) * (1.0 - shortfall)
    slots["gas_factor"] = 1.0 + prepared.design.shop.streak
    tables = prepared.geometry, prepared.gas, prepared.coolant, prepared.walls
    out, status = run(*tables, slots, models)
    status[lost, 0] = st.NOT_CONVERGED
    return out, status


def shares_at_drop(
    prepared: Prepared,
    lanes: NDArray[Any],
    models: NDArray[Any],
    drop: Array,
    start: float = 0.9,
) -> Array:
    """Return the flow of bad slots over their neighbours' at the neighbours' pressure drop.

    Parameters
    ----------
    prepared : Prepared
        Tables, and the geometry of the bad slots.
    lanes, models : structured ndarray (L,)
        ``arrays.LANE``, each at its neighbours' flow and pressure, and ``arrays.MODEL``.
    drop : ndarray
        What the neighbours lose (L,) [Pa].
    start : float
        Share that is tried first [-].

    Returns
    -------
    ndarray
        Share (L,) [-], by secant; NaN where none was found in ``MAX_SHARE_STEPS`` marches.
    """
    tables = prepared.geometry, prepared.gas, prepared.coolant, prepared.walls
    found = np.full(lanes.size, np.nan)
    share, share_before = np.full(lanes.size, start), np.ones(lanes.size)
    miss_before = np.zeros(lanes.size)
    active = np.arange(lanes.size)
    for _ in range(MAX_SHARE_STEPS):
        trial = lanes[active]
        trial["flow_factor"] = now = share[active]
        out, status = run(*tables, trial, models[active])
        ok = status[:, 0] == st.OK
        miss = (out.total[:, A.T_P_IN] - out.total[:, A.T_P_OUT]) / drop[active] - 1.0
        done = ok & (np.abs(miss) < SHARE_TOLERANCE)
        slope = 2.0 / now  # the drop goes about with the square of the flow
        before, moved = miss_before[active], now - share_before[active]
        known = (before != 0.0) & (moved != 0.0)
        secant = np.divide(miss - before, moved, out=np.zeros_like(moved), where=known)
        slope = np.where(known, np.maximum(secant, 0.5), slope)
        # where the march stops: back halfway to a flow at which it did not, or else to less
        back = np.where(before != 0.0, 0.5 * (now + share_before[active]), 0.9 * now)
        share[active] = np.where(ok, np.maximum(now - miss / slope, 0.5 * now), back)
        found[active[done]] = share[active[done]]  # the last step needs no look: miss squared
        share_before[active[ok]], miss_before[active[ok]] = now[ok], miss[ok]
        active = active[~done]
        if not active.size:
            break
    return found


def solve(design: Design, progress: Progress | None = None) -> Solution:
    """Solve a design: nominal lane, band members and worst channel.

    Parameters
    ----------
    design : Design
        Checked design.
    progress : callable, optional
        Told in words what is being waited for.

    Returns
    -------
    Solution
        Solved lanes. Band members that fail keep their status and are left out of the bands.

    Raises
    ------
    MarchError
        If the nominal lane stops.
    ValueError
        If the geometry is impossible or a material or property is not known.
    RangeError
        If the manifolds leave some slots without flow.
    """
    say = progress or (lambda text: None)
    prepared = prepare(design, progress)
    say("march along the channel (the first run compiles it: up to a minute, then cached)")
    nominal = solve_nominal(prepared)
    try:
        split = _split(prepared, nominal)
    except manifold.NoSplitError as error:
        raise RangeError(str(error)) from error
    chosen = chosen_models(prepared)
    names, excluded = member_names(chosen, coolant_choice(prepared))
    models = np.concatenate([ids({**chosen, **name}) for name in names])
    solved = through_circuits(prepared, models)
    members = tuple(
        _marched(prepared, " + ".join(name.values()), solved, n) for n, name in enumerate(names)
    )
    worst_paths = tuple(shifted(design, prepared.contour, path) for path in prepared.paths)
    shortfall = design.shop.flow_shortfall if split is None else split.shortfall
    worst = _worst_channel(prepared, nominal, worst_paths, shortfall)
    return Solution(prepared, nominal, members, worst, worst_paths, excluded, shortfall, split)


def member_names(
    chosen: Mapping[str, str], coolant: bands.Choice
) -> tuple[list[dict[str, str]], dict[str, str]]:
    """Return every combination of applicable correlations, and why others are left out.

    Parameters
    ----------
    chosen : mapping
        Nominal correlation by role.
    coolant : Choice
        Coolant-side members by the rule.

    Returns
    -------
    names : list of dict
        One name by role of gas side, coolant side and friction for each member.
    excluded : dict
        Reason by name.
    """
    choices = {
        "gas_side": bands.gas_side(),
        "coolant_side": coolant,
        "friction": bands.friction(),
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
