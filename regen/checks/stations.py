"""Solved runs as named columns, peaks and totals."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks.mass import cooled_mass
from regen.geometry.channels import Passage
from regen.geometry.circuits import Path
from regen.physics import arrays as A
from regen.physics.lookups import sound_speeds, temperatures
from regen.result import STATION_COLUMNS, Array, Integers
from regen.solver.prepare import Prepared
from regen.solver.solve import Marched

STEPS = A.FLAG_LAMINAR | A.FLAG_SEVERAL_ROOTS | A.FLAG_NEAR_CRITICAL
"""Flags of a station whose wall may lie a step from that of a neighbour without them."""


MARCHED = {
    "T_aw_K": A.O_T_AW,
    "h_gas_W_m2K": A.O_H_GAS,
    "q_W_m2": A.O_Q,
    "T_wall_hot_K": A.O_T_WALL_HOT,
    "T_wall_hot_mean_K": A.O_T_WALL_HOT_MEAN,
    "T_wall_cold_K": A.O_T_WALL_COLD,
    "T_coolant_K": A.O_T_COOLANT,
    "p_coolant_Pa": A.O_P_COOLANT,
    "v_coolant_m_s": A.O_V_COOLANT,
    "h_coolant_W_m2K": A.O_H_COOLANT,
    "q_wetted_W_m2": A.O_Q_WETTED,
    "Re_coolant": A.O_RE,
}
"""Station columns that are fields of the march."""

GIVEN_TO_SLOTS = tuple(f"coolant_pressure_{what}_Pa" for what in ("drop", "out", "in"))
"""What the manifolds give one slot: its neighbours' pressures."""


def peak(x: Array, y: Array, regime: Integers | None = None) -> tuple[Array, Array]:
    """Return the maximum of a curve and where it is, by a parabola through the highest point.

    Parameters
    ----------
    x, y : ndarray
        Rising positions (S,) and values (..., S) [any].
    regime : ndarray, optional
        A number (..., S) that differs where the curve may step between two stations [-]: through
        a step no parabola is laid, whose top would stand up to an eighth of the step too high.

    Returns
    -------
    tuple of ndarray
        Value at the peak and its position (...,) [any]; an end point, or one beside a step, is
        returned as it is.
    """
    highest = np.argmax(y, axis=-1)
    top, place = _pick(y, highest), x[highest]
    if x.size < 3:
        return top[()], place[()]
    i = np.clip(highest, 1, x.size - 2)
    left, right = x[i - 1] - x[i], x[i + 1] - x[i]
    middle = _pick(y, i)
    d_left, d_right = _pick(y, i - 1) - middle, _pick(y, i + 1) - middle
    a = (d_left / left - d_right / right) / (left - right)
    inside = (highest == i) & (a < 0.0)
    if regime is not None:
        inside &= (_pick(regime, i - 1) == _pick(regime, i)) & (
            _pick(regime, i) == _pick(regime, i + 1)
        )
    a = np.where(inside, a, -1.0)
    b = d_left / left - a * left
    at = np.where(inside, -b / (2.0 * a), 0.0)
    return (
        np.where(inside, middle + at * (b + a * at), top)[()],
        np.where(inside, x[i] + at, place)[()],
    )


def _pick(y: NDArray[Any], i: Integers) -> NDArray[Any]:
    """Return the values (...,) of ``y`` (..., S) at one place each."""
    return np.asarray(np.take_along_axis(y, np.asarray(i)[..., None], axis=-1)[..., 0])


def peak_at(
    prepared: Prepared, station: Array, field: int, number: int | None = None
) -> tuple[Array, Array]:
    """Return the maximum of a station column and where it is, as ``peak_of`` does.

    Parameters
    ----------
    prepared : Prepared
        Says which rows belong together.
    station : ndarray
        Rows (..., rows, N_STATION_OUT) of solved runs [SI].
    field : int
        Column, one of ``arrays.O_...`` [-].
    number : int, optional
        Only this circuit; without it all [-].

    Returns
    -------
    tuple of ndarray
        Value at the peak [SI] and its position [m] (...,).
    """
    steps = station[..., A.O_FLAGS].astype(np.int64) & STEPS
    dense = station[..., A.O_P_COOLANT] >= prepared.coolant.p_critical
    return peak_of(prepared, station[..., field], number, 2 * steps + dense)


def peak_of(
    prepared: Prepared,
    values: Array,
    number: int | None = None,
    regime: Integers | None = None,
) -> tuple[Array, Array]:
    """Return the maximum over circuits and passes and where it is, each by its own parabola.

    Parameters
    ----------
    prepared : Prepared
        Says which rows belong together.
    values : ndarray
        One value a row (..., rows) [any].
    number : int, optional
        Only this circuit; without it all [-].
    regime : ndarray, optional
        A number a row (..., rows) that differs where the values may step [-].

    Returns
    -------
    tuple of ndarray
        Value at the peak [any] and its position [m] (...,).
    """
    x, rows = prepared.passage.x, prepared.rows
    mine = [p for p in rows.pieces if number is None or rows.circuit[p[0]] == number]
    peaks = [
        peak(x[piece], values[..., piece], None if regime is None else regime[..., piece])
        for piece in mine
    ]
    tops, places = (np.stack(column) for column in zip(*peaks, strict=True))
    first = np.argmax(tops, axis=0)[None]
    return (
        np.take_along_axis(tops, first, axis=0)[0],
        np.take_along_axis(places, first, axis=0)[0],
    )


def hot_gas(prepared: Prepared, run: Marched) -> tuple[Array, Array]:
    """Return the hot gas at the run's own enthalpy.

    Parameters
    ----------
    prepared : Prepared
        Tables the run was solved with.
    run : Marched
        Solved run, or a row each of many.

    Returns
    -------
    tuple of ndarray
        Core (..., rows, N_CORE) by rising x, and stagnation row (..., N_STAGNATION) [SI].

    Notes
    -----
    The polynomial through all nodes of total enthalpy, as ``march.gas_at`` has it for one run.
    """
    cores = core_gas(prepared, run, tuple(range(A.N_CORE)))
    return np.stack(cores, axis=-1), stagnation_gas(prepared, run)


def core_gas(prepared: Prepared, run: Marched, fields: tuple[int, ...]) -> tuple[Array, ...]:
    """Return some fields of the core (..., rows), as ``hot_gas`` has them [SI]."""
    gas, cores = prepared.gas, []
    for n in range(len(prepared.paths)):
        g, weights = _weights(prepared, run, n)
        core = np.zeros(())
        nodes = np.ascontiguousarray(np.moveaxis(gas.core[..., fields], -1, 0))
        for i, weight in enumerate(weights):
            core = core + weight[..., None] * nodes[:, g, i]
        cores.append(core)
    return tuple(prepared.rows.joined(cores, -1))


def stagnation_gas(prepared: Prepared, run: Marched) -> Array:
    """Return the stagnation row (..., N_STAGNATION), as ``hot_gas`` has it [SI]."""
    stagnation = np.zeros(A.N_STAGNATION)
    g, weights = _weights(prepared, run, len(prepared.paths) - 1)
    for i, weight in enumerate(weights):
        stagnation = stagnation + weight[..., None] * prepared.gas.stagnation[g, i]
    return stagnation


def _weights(prepared: Prepared, run: Marched, n: int) -> tuple[Any, list[Array]]:
    """Return the gas set of path n of each run (...,), and the weights (...,) of its nodes."""
    h0 = np.asarray(run.total[..., A.T_H0])
    g = prepared.run["gas"][..., n]
    nodes = prepared.gas.h0[g]
    weights = []
    for i in range(nodes.shape[-1]):
        weight = np.ones_like(h0)
        for j in range(nodes.shape[-1]):
            if j != i:
                weight = weight * (h0 - nodes[..., j]) / (nodes[..., i] - nodes[..., j])
        weights.append(weight)
    return g, weights


def floor_temperature(s: Array, passage: Passage) -> Array:
    """Return the hottest wall temperature on the slot floor, by the march's own wall form.

    Parameters
    ----------
    s : ndarray
        Rows of solved runs (..., rows, N_STATION_OUT) [SI].
    passage : Passage
        Its slots, a row each (..., rows) [m].

    Returns
    -------
    ndarray
        (..., rows) [K].

    Notes
    -----
    At the root the form has the pitch's mean plus one cosine over half a pitch P from the slot's
    middle: T + a cos(pi y/P). The floor's mean, over w/2, is the coolant's plus q_wetted/h; so
    a sin(b)/b is that mean less the root's, b = pi w/(2 P). Where lands carry less than the floor,
    a is below zero and the slot's edge the hotter end.
    """
    b = np.pi * passage.width / (passage.width + passage.land)
    root = s[..., A.O_T_WALL_COLD]
    floor = s[..., A.O_T_COOLANT] + s[..., A.O_Q_WETTED] / s[..., A.O_H_COOLANT]
    a = (floor - root) * b / np.sin(b)
    return np.asarray(root + np.maximum(a, a * np.cos(b)))


def columns(prepared: Prepared, run: Marched) -> dict[str, Array]:
    """Return the station columns of one run, or of each of many.

    Parameters
    ----------
    prepared : Prepared
        Slots and tables the run was solved with.
    run : Marched
        Solved run.

    Returns
    -------
    dict
        Every name of ``result.STATION_COLUMNS`` (..., rows), by rising x.
    """
    s, passage = run.station, prepared.passage
    mach, T_gas, p_gas = core_gas(prepared, run, (A.G_MACH, A.G_T, A.G_P))
    length = prepared.rows.joined([path.length for path in prepared.paths], -1)
    sound = looked_up(sound_speeds, prepared, s[..., A.O_ENTHALPY], s[..., A.O_P_COOLANT])
    values = {name: s[..., field] for name, field in MARCHED.items()}
    values |= {
        "x_m": passage.x,
        "r_m": passage.r,
        "area_ratio": (passage.r / prepared.contour.throat_radius) ** 2,
        "mach": mach,
        "T_gas_K": T_gas,
        "T_wall_floor_K": floor_temperature(s, passage),
        "channel_width_m": passage.width,
        "channel_depth_m": passage.depth,
        "land_width_m": passage.land,
        "passage_length_m": length,
        "wall_m": passage.wall,
        "mach_coolant": s[..., A.O_V_COOLANT] / sound,
        "p_gas_Pa": p_gas,
        "circuit": prepared.rows.circuit,
        "pass_number": prepared.rows.pass_number,
    }
    whole = {name: np.broadcast_to(values[name], s.shape[:-1]) for name in STATION_COLUMNS}
    return {name: np.ascontiguousarray(column) for name, column in whole.items()}


def looked_up(lookup: Callable[..., None], prepared: Prepared, h: Array, p: Array) -> Array:
    """Return what a lookup of ``physics.lookups`` finds at coolant states.

    Parameters
    ----------
    lookup : callable
        One that fills one number a state.
    prepared : Prepared
        Holds the coolant's table.
    h, p : ndarray
        Enthalpies [J/kg] and pressures [Pa], of one shape.

    Returns
    -------
    ndarray
        Of that shape [SI].
    """
    out = np.empty(h.size)
    lookup(prepared.coolant, np.ravel(h), np.ravel(p), out)
    return out.reshape(h.shape)


def outlet_temperature(prepared: Prepared, total: Array) -> Array:
    """Return the coolant temperature in the outlet plenum, at rest and mixed (...,) [K].

    Parameters
    ----------
    prepared : Prepared
        Tables the run was solved with.
    total : ndarray
        Totals (..., N_TOTAL) of runs, or of one circuit of a run [SI].

    Returns
    -------
    ndarray
        Temperature (...,) [K].
    """
    T_out = looked_up(temperatures, prepared, total[..., A.T_H_OUT], total[..., A.T_P_OUT])
    return np.asarray(T_out)[()]


def energy_residual(run: Marched, paths: tuple[Path, ...]) -> Array:
    """Return the miss of heat through the hot-gas surface, from its rows, and coolant gain [-]."""
    on_wall = gained = np.zeros(())
    for part, path in zip(run.circuits, paths, strict=True):
        line = 2.0 * np.pi * path.flowing("r") * path.share * part.station[..., A.O_Q]
        steps = 0.5 * (line[..., 1:] + line[..., :-1]) * path.steps("step_gas")[..., 1:]
        on_wall = on_wall + np.sum(steps, axis=-1)
        total = part.total
        rise = total[..., A.T_H_OUT] - total[..., A.T_H_IN]
        gained = gained + total[..., A.T_MASS_FLOW] * rise
    # without any heat, a film colder than the coolant all along, there is nothing to miss
    return np.asarray(np.abs(on_wall - gained) / np.where(gained > 0.0, gained, 1.0))[()]


def headline(prepared: Prepared, run: Marched) -> dict[str, float]:
    """Return the summary quantities of one run [SI], as ``headlines`` does of many."""
    return {name: float(value) for name, value in headlines(prepared, run).items()}


def headlines(prepared: Prepared, run: Marched) -> dict[str, Array]:
    """Return the summary quantities of a run, or of each of many.

    Parameters
    ----------
    prepared : Prepared
        Slots and tables the run was solved with.
    run : Marched
        Solved run, or a row each of many.

    Returns
    -------
    dict
        (...,) by name with units, as in result.json: peaks over all circuits, flow and heat of
        all, the outlet temperature of their mixed flows, the largest pressure drop.
    """
    total, station, paths = run.total, run.station, prepared.paths
    shape = total.shape[:-1]
    _, x_wall = peak_at(prepared, station, A.O_T_WALL_HOT)
    _, x_q = peak_at(prepared, station, A.O_Q)
    stagnation = stagnation_gas(prepared, run)
    return {
        **banded(prepared, station, total),
        "x_T_wall_hot_max_m": x_wall,
        "x_q_max_m": x_q,
        "heat_total_W": total[..., A.T_HEAT],
        "coolant_pressure_in_Pa": total[..., A.T_P_IN],
        "coolant_mass_flow_kg_s": total[..., A.T_MASS_FLOW],
        "chamber_temperature_K": stagnation[..., A.S_T0],
        "nozzle_stagnation_pressure_Pa": stagnation[..., A.S_P0],
        "characteristic_velocity_m_s": stagnation[..., A.S_CSTAR],
        "gas_mass_flow_kg_s": total[..., A.T_GAS_FLOW],
        "throat_diameter_m": np.full(shape, 2.0 * prepared.contour.throat_radius)[()],
        "mass_cooled_kg": np.broadcast_to(cooled_mass(prepared.design, paths), shape)[()],
        "energy_residual": energy_residual(run, paths),
        "passes": total[..., A.T_PASSES],
    }


def banded(prepared: Prepared, station: Array, total: Array) -> dict[str, Array]:
    """Return the summary quantities that have a band.

    Parameters
    ----------
    prepared : Prepared
        Tables the runs were solved with.
    station, total : ndarray
        Rows (..., rows, N_STATION_OUT) and totals (..., N_TOTAL) of solved runs [SI].

    Returns
    -------
    dict
        (...,) by name with units, as in result.json.
    """
    return {
        "T_wall_hot_max_K": peak_at(prepared, station, A.O_T_WALL_HOT)[0],
        "T_wall_cold_max_K": peak_at(prepared, station, A.O_T_WALL_COLD)[0],
        "q_max_W_m2": peak_at(prepared, station, A.O_Q)[0],
        "coolant_temperature_out_K": outlet_temperature(prepared, total),
        "coolant_pressure_drop_Pa": total[..., A.T_P_IN] - total[..., A.T_P_OUT],
        "coolant_pressure_out_Pa": total[..., A.T_P_OUT],
    }


def worst_headlines(prepared: Prepared, run: Marched) -> dict[str, Array]:
    """Return the summary of one slot of each circuit: that of the circuit with the hottest.

    Parameters
    ----------
    prepared : Prepared
        The slots, of one design or of many.
    run : Marched
        Solved run, or a row each of many.

    Returns
    -------
    dict
        As ``headlines``; of several circuits ``circuit`` is the number of the hottest. What the
        manifolds give a slot, its neighbours' end pressures, is left out.
    """
    summary = headlines(prepared, run)
    for name in GIVEN_TO_SLOTS:
        del summary[name]
    if len(prepared.paths) == 1:
        return summary

    def peaks(field: int) -> tuple[Array, Array]:
        each = [peak_at(prepared, run.station, field, path.number) for path in prepared.paths]
        return np.stack([top for top, _ in each]), np.stack([x for _, x in each])

    T_wall, q, T_cold = (peaks(field) for field in (A.O_T_WALL_HOT, A.O_Q, A.O_T_WALL_COLD))
    total = np.stack([part.total for part in run.circuits])
    hottest = np.argmax(T_wall[0], axis=0)[None]

    def of_hottest(values: Array) -> Array:
        return np.asarray(np.take_along_axis(values, hottest, axis=0)[0])[()]

    return summary | {
        "circuit": np.array([float(path.number) for path in prepared.paths])[hottest[0]],
        "q_max_W_m2": of_hottest(q[0]),
        "x_q_max_m": of_hottest(q[1]),
        "T_wall_cold_max_K": of_hottest(T_cold[0]),
        "heat_total_W": of_hottest(total[..., A.T_HEAT]),
        "coolant_mass_flow_kg_s": of_hottest(total[..., A.T_MASS_FLOW]),
        "coolant_temperature_out_K": of_hottest(outlet_temperature(prepared, total)),
    }


def injector_pressure(prepared: Prepared) -> Array:
    """Return the pressure at the injector face, by the momentum balance if it is not given.

    Parameters
    ----------
    prepared : Prepared
        Designs and their gas.

    Returns
    -------
    ndarray
        Static pressure of each design (L,) [Pa].
    """
    if prepared.design.chamber.pressure_at == "injector":
        return np.array([design.chamber.pressure for design in prepared.designs])
    sets = prepared.runs["gas"]
    alike = bool(np.all(sets == sets[0]))
    core = prepared.gas.core[sets[:1] if alike else sets, 0]
    gas = core.reshape(core.shape[0], -1, A.N_CORE)  # of all circuits
    at = np.argmin(gas[..., A.G_MACH], axis=-1)[:, None, None]
    barrel = np.take_along_axis(gas, at, axis=1)[:, 0]
    static = barrel[:, A.G_P] + barrel[:, A.G_RHO] * barrel[:, A.G_U] ** 2
    return np.repeat(static, len(prepared.designs)) if alike else static
