"""What a reviewer must know of solved runs: flags, ranges left, heat transfer at risk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks.stations import Array, hot_gas
from regen.physics import arrays as A
from regen.physics._dispatch import FRICTION, GAS_SIDE, friction
from regen.physics.balance import NEAR_CRITICAL
from regen.physics.film import R_UNIVERSAL
from regen.physics.friction import jones_factor
from regen.physics.registry import CORRELATIONS, Correlation
from regen.physics.tables import coolant_hp, isobar, pseudo_critical_T, saturation
from regen.result import Note
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

TEXTS = {
    A.FLAG_BOILING: (
        "boiling",
        "the wetted wall is above saturation: subcooled nucleate boiling is counted, and "
        "burnout is the judge",
    ),
    A.FLAG_WALL_BEYOND_EOS: (
        "wall-beyond-properties",
        "the coolant at the wall is hotter than its equation of state covers; properties are "
        "extrapolated",
    ),
    A.FLAG_BULK_BEYOND_EOS: (
        "bulk-beyond-properties",
        "the coolant's bulk is hotter than its equation of state covers; properties are "
        "extrapolated",
    ),
    A.FLAG_LAMINAR: (
        "laminar",
        "the coolant flow is laminar (Re < 2300): a constant Nusselt number of 3.66 is used",
    ),
    A.FLAG_WALL_ROOT_LOOSE: (
        "wall-balance-loose",
        "the wall balance was met only to 1e-4 of the flux",
    ),
    A.FLAG_NO_HEAT: (
        "no-heat",
        "the gas beside the wall is no hotter than the coolant: the wall is taken as adiabatic",
    ),
    A.FLAG_SEVERAL_ROOTS: (
        "several-walls",
        "more than one wall temperature balances the heat: the hottest is taken",
    ),
    A.FLAG_NEAR_CRITICAL: (
        "near-critical",
        f"the pressure is between {NEAR_CRITICAL:g} of the critical and the critical, where no "
        "form of boiling has data: the wall is that of the dense fluid at the critical pressure, "
        "which is hotter than that of the boiling liquid",
    ),
}
"""Code and text of each flag of the march."""


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


def _span(where: NDArray[np.int64], x: Array) -> str:
    return f"{where.size} of {x.size} stations, from x = {x[where[0]] * 1e3:.0f} mm"


def _bits(run: Marched) -> NDArray[np.int64]:
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
    where = {bit: np.flatnonzero(flags & bit) for bit in TEXTS}
    return [
        Note(code, f"{text} ({_span(where[bit], x)})", float(x[where[bit][0]]))
        for bit, (code, text) in TEXTS.items()
        if where[bit].size
    ]


def inputs(prepared: Prepared, run: Marched, at: NDArray[np.int64]) -> dict[str, Any]:
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


def reference_reynolds(
    prepared: Prepared, run: Marched, model: str, at: NDArray[np.int64]
) -> Array:
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
    core, _ = hot_gas(prepared, run)
    layer = prepared.rows.joined(list(prepared.gas.layer))
    start, step = prepared.gas.layer_T[0]
    T_nodes = start + step * np.arange(layer.shape[1])
    for n, i in enumerate(at):
        of_wall = layer[i]
        T_wall = run.station[i, A.O_T_SURFACE]
        gas = core[i]
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


def left(correlation: Correlation, given: Mapping[str, Any]) -> dict[str, NDArray[np.bool_]]:
    """Return where each ranged input lies outside its range.

    Parameters
    ----------
    correlation : Correlation
        One of the registry.
    given : mapping
        Arrays (n,) [SI] by argument; a range of what is not there is not judged.

    Returns
    -------
    dict
        True outside, (n,), for each input that is outside somewhere.
    """
    outside = {
        name: (np.asarray(given[name]) < low) | (np.asarray(given[name]) > high)
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
        used = applies.get(role, True)
        outside = {
            k: v & used for k, v in left(CORRELATIONS[name], here).items() if np.any(v & used)
        }
        if outside:
            where = np.flatnonzero(np.any(list(outside.values()), axis=0))
            text = f"{name} is used outside its range ({_ranges_of(name, outside)})"
            notes.append(Note("range", f"{text} at {_span(where, x)}", float(x[where[0]])))
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
    text = f"used outside its range at the hottest station of a band member that uses it: {listed}"
    return [Note("band range", text)]


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
        text = (
            f"the pressure falls through the critical, {table.p_critical / 1e5:.1f} bar, and is "
            f"below it at {_span(below, x)}. Down to {NEAR_CRITICAL:g} of it the hotter wall is "
            "taken, that of the dense fluid; below, the wall is that of a boiling liquid, which "
            "is cooler by up to hundreds of kelvins: do not rely on the cool side of that step"
        )
        notes.append(Note("critical pressure", text, float(x[below[0]])))
    near = (p_r >= 1.0) & (p_r < WATCHED_PRESSURE) & (T < T_pc) & (T_pc < s[:, A.O_T_WALL_COLD])
    where = np.flatnonzero(near)
    if where.size:
        text = (
            f"heat transfer may deteriorate at {where.size} of {x.size} stations, x = "
            f"{x[where[0]] * 1e3:.0f} to {x[where[-1]] * 1e3:.0f} mm: the pressure is below "
            f"{WATCHED_PRESSURE:g} times critical (down to {p_r[where].min():.2f}), the bulk "
            f"below and the wall above the pseudo-critical temperature (about "
            f"{T_pc[where].mean():.0f} K); raise the coolant pressure"
        )
        notes.append(Note("deterioration", text, float(x[where[0]])))
    limits = {"buoyancy": BUOYANCY, "acceleration": ACCELERATION}
    for (code, highest), values in zip(limits.items(), heated_flow(prepared, run), strict=True):
        most = int(np.argmax(values))
        if values[most] > highest:
            count = np.count_nonzero(values > highest)
            text = (
                f"{code} number {values[most]:.2g} at x = {x[most] * 1e3:.0f} mm, above "
                f"{highest:g} at {count} of {x.size} stations: heat transfer there may fall below "
                "the correlation's"
            )
            notes.append(Note(code, text, float(x[most])))
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
    text = (
        f"slots are up to {aspect[most]:.1f} times as deep as wide, above {DEEP:g} from x = "
        f"{x[where[0]] * 1e3:.0f} to {x[where[-1]] * 1e3:.0f} mm: one bulk temperature hides that "
        "the coolant at the floor is hotter than at the top, and the wall with it"
    )
    return [Note("stratification", text, float(x[most]))]
