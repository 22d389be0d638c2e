"""What a reviewer must know of solved runs: flags, ranges left, heat transfer at risk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial
from typing import Any

import numpy as np

from regen.checks.findings import note
from regen.checks.stations import hot_gas
from regen.physics import arrays as A
from regen.physics._dispatch import FRICTION, GAS_SIDE, friction
from regen.physics.balance import NEAR_CRITICAL
from regen.physics.film import R_UNIVERSAL
from regen.physics.friction import jones_factor
from regen.physics.registry import CORRELATIONS, Correlation
from regen.physics.tables import coolant_hp, isobar, pseudo_critical_T, saturation
from regen.result import Array, Integers, Mask, Note
from regen.solver import bands
from regen.solver.prepare import Prepared
from regen.solver.solve import Marched, Solution, models_in_use

WATCHED_PRESSURE = 2.0
"""Pressure over critical below which heat transfer may deteriorate [-]."""

BUOYANCY = 5.6e-7
"""Gr*/(Re^3.425 Pr^0.8) above which buoyancy impairs heat transfer [-]."""

ACCELERATION = 3e-6
"""4 q/(G cp T)/Re above which the flow begins to turn laminar [-]."""

GRAVITY = 9.80665

DEEP = 5.0
"""Depth over width of a slot above which its coolant is not mixed over the depth [-]."""

READ = {
    "p": ("bar", 1e-5),
    "q": ("MW/m2", 1e-6),
    "D": ("mm", 1e3),
    "G": ("kg/(m2 s)", 1.0),
    "T_in": ("K", 1.0),
}
"""Unit in which a range is read, and factor from SI, of what has a dimension."""

FLAGS = {
    A.FLAG_BOILING: "boiling",
    A.FLAG_WALL_BEYOND_EOS: "wall-beyond-properties",
    A.FLAG_BULK_BEYOND_EOS: "bulk-beyond-properties",
    A.FLAG_LAMINAR: "laminar",
    A.FLAG_WALL_ROOT_LOOSE: "wall-balance-loose",
    A.FLAG_NO_HEAT: "no-heat",
    A.FLAG_SEVERAL_ROOTS: "several-walls",
    A.FLAG_NEAR_CRITICAL: "near-critical",
}
"""Note of each flag of the march."""


def notes(solution: Solution) -> list[Note]:
    """Return the notes on flags and ranges of a solved design.

    Parameters
    ----------
    solution : Solution
        Solved runs.

    Returns
    -------
    list of Note
        Flags of the march, ranges left, deterioration, buoyancy, acceleration, deep slots.
    """
    return [
        *marched(solution),
        *ranges(solution),
        *member_ranges(solution),
        *watch(solution.prepared, solution.nominal),
        *deep_slots(solution.prepared),
    ]


def _span(where: Integers, x: Array) -> str:
    return f"{where.size} of {x.size} stations, from x = {x[where[0]] * 1e3:.0f} mm"


def _bits(run: Marched) -> Integers:
    return np.asarray(run.station[:, A.O_FLAGS].astype(np.int64))


def marched(solution: Solution) -> list[Note]:
    """Return the flags that the march set in the nominal run.

    Parameters
    ----------
    solution : Solution
        Solved runs.

    Returns
    -------
    list of Note
        One a flag, with the first station that has it.
    """
    x = solution.prepared.passage.x
    flags = _bits(solution.nominal)
    return [
        note(code, float(x[where[0]]), span=_span(where, x), near=NEAR_CRITICAL)
        for bit, code in FLAGS.items()
        if (where := np.flatnonzero(flags & bit)).size
    ]


def inputs(prepared: Prepared, run: Marched, at: Integers) -> dict[str, Any]:
    """Return what ranges of correlations are given for, but for the gas side.

    Parameters
    ----------
    prepared : Prepared
        Tables and geometry.
    run : Marched
        Solved run.
    at : ndarray of int
        Numbers of the stations (n,) [-].

    Returns
    -------
    dict
        Arrays (n,) [SI] by the name that ranges use.
    """
    s, passage = run.station[at], prepared.passage
    width, depth = passage.width[at], passage.depth[at]
    Dh = 2.0 * width * depth / (width + depth)
    x = prepared.rows.joined([path.heated for path in prepared.paths])[at]
    p = s[:, A.O_P_COOLANT]
    T_wall = s[:, A.O_T_WALL_COLD].copy()
    boils = np.flatnonzero(_bits(run)[at] & A.FLAG_BOILING)
    # the march asks convection for the liquid at saturation there
    T_wall[boils] = [saturation(prepared.coolant, p[i])[0] for i in boils]
    roughness = prepared.design.channels.roughness / Dh
    return {
        "Re": s[:, A.O_RE],
        "Pr": s[:, A.O_PR],
        "T_ratio": np.maximum(T_wall / s[:, A.O_T_COOLANT], 1.0),
        "T_b": s[:, A.O_T_COOLANT],
        "T_w": T_wall,
        "T_in": np.full(at.shape, prepared.design.coolant.inlet_temperature),
        "x_D": x / Dh,
        "D": Dh,
        "G": s[:, A.O_RHO] * s[:, A.O_V_COOLANT],
        "q": s[:, A.O_Q_WETTED],
        "p": p,
        "p_r": p / prepared.coolant.p_critical,
        "roughness": roughness,
        "f_ratio": _friction_ratio(prepared, s[:, A.O_RE], roughness, width / depth),
    }


def _friction_ratio(prepared: Prepared, Re: Array, roughness: Array, aspect: Array) -> Array:
    """Return friction of the rough over that of the smooth slot (n,) [-]."""
    law = partial(friction, FRICTION[prepared.design.models.friction])
    phi = [jones_factor(min(a, 1.0 / a)) for a in aspect]
    rows = zip(phi * Re, roughness, strict=True)
    return np.array(
        [law(Re_slot, rough, 1.0, 1.0) / law(Re_slot, 0.0, 1.0, 1.0) for Re_slot, rough in rows]
    )


def reference_reynolds(prepared: Prepared, run: Marched, model: str, at: Integers) -> Array:
    """Return the gas-side Reynolds number at the reference state of a correlation.

    Parameters
    ----------
    prepared : Prepared
        Tables of the hot gas.
    run : Marched
        Solved run.
    model : str
        Gas-side correlation.
    at : ndarray of int
        Numbers of the stations (n,) [-].

    Returns
    -------
    ndarray
        (n,) [-]; NaN for a correlation without a reference state.
    """
    reference = CORRELATIONS[model].traits.get("reference")
    Re = np.full(at.shape, np.nan)
    if reference is None:
        return Re
    core = hot_gas(prepared, run)[0]
    layer = prepared.rows.joined(list(prepared.gas.layer))
    start, step = prepared.gas.layer_T[0]
    T_nodes = start + step * np.arange(layer.shape[1])
    for n, i in enumerate(at):
        gas, of_wall, T_wall = core[i], layer[i], run.station[i, A.O_T_SURFACE]
        if reference == "film":
            T = 0.5 * (T_wall + gas[A.G_T])
        else:
            h_wall = np.interp(T_wall, T_nodes, of_wall[:, A.LAYER_H])
            h = 0.5 * (h_wall + gas[A.G_H]) + 0.22 * (gas[A.G_H_AW] - gas[A.G_H])
            T = np.interp(h, of_wall[:, A.LAYER_H], T_nodes)
        mu = np.interp(T, T_nodes, of_wall[:, A.LAYER_MU])
        rho = gas[A.G_P] * np.interp(T, T_nodes, of_wall[:, A.LAYER_MOLAR_MASS]) / (R_UNIVERSAL * T)
        Re[n] = rho * gas[A.G_U] * 2.0 * prepared.passage.r[i] / mu
    return Re


def left(
    correlation: Correlation, given: Mapping[str, Any], used: Mask | bool = True
) -> dict[str, Mask]:
    """Return where each ranged input lies outside its range.

    Parameters
    ----------
    correlation : Correlation
        One of the registry.
    given : mapping
        Arrays (n,) [SI] by argument; a range of what is not there is not judged.
    used : ndarray of bool
        Where the correlation serves (n,), everywhere without it.

    Returns
    -------
    dict
        True outside, (n,), for each input that is outside somewhere.
    """
    outside = {
        name: used & ((np.asarray(given[name]) < low) | (np.asarray(given[name]) > high))
        for name, (low, high) in correlation.ranges.items()
        if name in given
    }
    return {name: beyond for name, beyond in outside.items() if np.any(beyond)}


def ranges(solution: Solution) -> list[Note]:
    """Name the chosen correlations that are used outside their range, and where.

    Parameters
    ----------
    solution : Solution
        Solved runs.

    Returns
    -------
    list of Note
        One a correlation.
    """
    prepared, run = solution.prepared, solution.nominal
    x = prepared.passage.x
    at, flags = np.arange(x.size), _bits(run)
    given = inputs(prepared, run, at)
    applies = {
        "boiling": (flags & A.FLAG_BOILING) > 0,
        "coolant_side": (flags & A.FLAG_LAMINAR) == 0,
    }
    chosen = models_in_use(solution)
    if prepared.run["rough_gain"][0] > 0.0:
        chosen["roughness_heat"] = "norris"
    notes = []
    for role, name in chosen.items():
        here = dict(given)
        if role == "gas_side":
            here["Re_ref"] = reference_reynolds(prepared, run, name, at)
        if outside := left(CORRELATIONS[name], here, applies.get(role, True)):
            where = np.flatnonzero(np.any(list(outside.values()), axis=0))
            limits, span = _ranges_of(name, outside), _span(where, x)
            first = float(x[where[0]])
            notes.append(note("range", first, model=name, limits=limits, span=span))
    return notes


def _ranges_of(name: str, inputs: Iterable[str]) -> str:
    """Return the ranges of some inputs of a correlation, as "p 10 to 50 bar"."""
    texts = []
    for one in inputs:
        unit, factor = READ.get(one, ("", 1.0))
        low, high = (factor * end for end in CORRELATIONS[name].ranges[one])
        texts.append(f"{one} {low:g} to {high:g} {unit}".rstrip())
    return ", ".join(texts)


def member_ranges(solution: Solution) -> list[Note]:
    """Name the band's correlations that are outside their range at their hottest station.

    Parameters
    ----------
    solution : Solution
        Solved runs.

    Returns
    -------
    list of Note
        One note at most; a chosen correlation has a note of its own.
    """
    prepared = solution.prepared
    own = set(models_in_use(solution).values())
    beyond: dict[str, set[str]] = {}
    for run in solution.members:
        if not run.ok:
            continue
        at = np.array([np.argmax(run.station[:, A.O_T_WALL_HOT])])
        given = inputs(prepared, run, at)
        for name in bands.correlations_of(run.name):
            if name in own:
                continue
            if name in GAS_SIDE:
                given["Re_ref"] = reference_reynolds(prepared, run, name, at)
            if outside := left(CORRELATIONS[name], given):
                beyond.setdefault(name, set()).update(outside)
    if not beyond:
        return []
    listed = "; ".join(
        f"{name} ({_ranges_of(name, sorted(names))})" for name, names in sorted(beyond.items())
    )
    return [note("band range", listed=listed)]


def watch(prepared: Prepared, run: Marched) -> list[Note]:
    """Return notes where correlations for turbulent pipes may promise too much.

    Parameters
    ----------
    prepared : Prepared
        Tables and geometry.
    run : Marched
        Solved run.

    Returns
    -------
    list of Note
        Critical pressure crossed; deterioration near it; buoyancy; acceleration. Numbers only where
        they are exceeded, with the largest.
    """
    s, x, table = run.station, prepared.passage.x, prepared.coolant
    p, T = s[:, A.O_P_COOLANT], s[:, A.O_T_COOLANT]
    notes = []
    T_pc = np.array([pseudo_critical_T(table, one) for one in p])
    p_r = p / table.p_critical
    below = np.flatnonzero(p_r < 1.0)
    if below.size and np.any(p_r >= 1.0):
        at, span, bar = float(x[below[0]]), _span(below, x), table.p_critical / 1e5
        notes.append(note("critical pressure", at, critical=bar, near=NEAR_CRITICAL, span=span))
    near = (p_r >= 1.0) & (p_r < WATCHED_PRESSURE)
    where = np.flatnonzero(near & (T < T_pc) & (T_pc < s[:, A.O_T_WALL_COLD]))
    if where.size:
        notes.append(
            note(
                "deterioration",
                float(x[where[0]]),
                span=_span(where, x),
                last=x[where[-1]] * 1e3,
                watched=WATCHED_PRESSURE,
                lowest=p_r[where].min(),
                T=T_pc[where].mean(),
            )
        )
    limits = {"buoyancy": BUOYANCY, "acceleration": ACCELERATION}
    for (code, highest), values in zip(limits.items(), heated_flow(prepared, run), strict=True):
        most = int(np.argmax(values))
        if values[most] > highest:
            above = f"{np.count_nonzero(values > highest)} of {x.size}"
            at, number = float(x[most]), values[most]
            notes.append(note(code, at, number=number, highest=highest, where=above))
    return notes


def _bulk(prepared: Prepared, run: Marched) -> tuple[Array, Array, Array, Array]:
    """Return viscosity, conductivity, heat capacity and thermal expansion of the bulk, (S,)."""
    table, s = prepared.coolant, run.station
    rows = []
    for h, p in zip(s[:, A.O_ENTHALPY], s[:, A.O_P_COOLANT], strict=True):
        T, rho, mu, k, cp, _ = coolant_hp(table, h, p)
        bar = isobar(table, p)
        step = 1e-3 * cp * T
        # next to saturation or the melting line one side alone is left
        T_0, rho_0, *_ = coolant_hp(table, max(h - step, bar.low), p)
        T_1, rho_1, *_ = coolant_hp(table, min(h + step, bar.high), p)
        rows.append((mu, k, cp, (rho_0 - rho_1) / (T_1 - T_0) / rho))
    mu, k, cp, expansion = np.array(rows).T
    return mu, k, cp, expansion


def heated_flow(prepared: Prepared, run: Marched) -> tuple[Array, Array]:
    """Return the buoyancy and the acceleration number of each station.

    Parameters
    ----------
    prepared : Prepared
        Tables and geometry.
    run : Marched
        Solved run.

    Returns
    -------
    tuple of ndarray
        g b q D^4/(k nu^2)/(Re^3.425 Pr^0.8) and 4 q/(G cp T)/Re, each (S,) [-]; bulk properties,
        flux of the slot floor.
    """
    mu, k, cp, expansion = _bulk(prepared, run)
    s, given = run.station, inputs(prepared, run, np.arange(run.station.shape[0]))
    Re, q = given["Re"], given["q"]
    nu = mu / s[:, A.O_RHO]
    Gr = GRAVITY * expansion * q * given["D"] ** 4 / (k * nu**2)
    buoyancy = Gr / (Re**3.425 * given["Pr"] ** 0.8)
    return np.asarray(buoyancy), np.asarray(4.0 * q / (given["G"] * cp * given["T_b"]) / Re)


def deep_slots(prepared: Prepared) -> list[Note]:
    """Return a note where slots are so deep that one bulk temperature hides a hotter floor.

    Parameters
    ----------
    prepared : Prepared
        Geometry.

    Returns
    -------
    list of Note
        One note at most, at the deepest station.
    """
    passage = prepared.passage
    aspect = passage.depth / passage.width
    where = np.flatnonzero(aspect > DEEP)
    if not where.size:
        return []
    x, most = passage.x, int(np.argmax(aspect))
    first, last = (x[where[end]] * 1e3 for end in (0, -1))
    at, deepest = float(x[most]), aspect[most]
    return [note("stratification", at, aspect=deepest, deep=DEEP, first=first, last=last)]
