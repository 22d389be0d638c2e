"""Solved lanes as named columns, peaks and totals."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from regen.passage import Passage
from regen.paths import Path, joined_passage
from regen.physics import arrays as A
from regen.physics.march import gas_at
from regen.physics.tables import coolant_hp, sound_speed
from regen.prepare import Prepared
from regen.result import STATION_COLUMNS
from regen.solve import Marched, Passed

Array = NDArray[np.float64]


def peak(x: Array, y: Array) -> tuple[float, float]:
    """Return the maximum of a curve and where it is, by a parabola through the highest point.

    Parameters
    ----------
    x, y : ndarray
        Rising positions and values (S,) [any].

    Returns
    -------
    tuple of float
        Value at the peak and its position; an end point is returned as it is.
    """
    i = int(np.argmax(y))
    if i in (0, y.size - 1):
        return float(y[i]), float(x[i])
    left, right = x[i - 1] - x[i], x[i + 1] - x[i]
    d_left, d_right = y[i - 1] - y[i], y[i + 1] - y[i]
    a = (d_left / left - d_right / right) / (left - right)
    if a >= 0.0:
        return float(y[i]), float(x[i])
    b = d_left / left - a * left
    at = -b / (2.0 * a)
    return float(y[i] + at * (b + a * at)), float(x[i] + at)


def peak_of(prepared: Prepared, values: Array, number: int | None = None) -> tuple[float, float]:
    """Return the maximum over circuits and passes and where it is, each by its own parabola.

    Parameters
    ----------
    prepared : Prepared
        Says which rows belong together.
    values : ndarray
        One value a row (rows,) [any].
    number : int, optional
        Only this circuit; without it all [-].

    Returns
    -------
    tuple of float
        Value at the peak and its position [m].
    """
    x, rows = prepared.passage.x, prepared.rows
    mine = [p for p in rows.pieces if number is None or rows.circuit[p[0]] == number]
    return max((peak(x[piece], values[piece]) for piece in mine), key=lambda found: found[0])


def hot_gas(prepared: Prepared, lane: Marched) -> tuple[Array, Array]:
    """Return the hot gas at the lane's own enthalpy.

    Parameters
    ----------
    prepared : Prepared
        Tables the lane was solved with.
    lane : Marched
        Solved lane.

    Returns
    -------
    tuple of ndarray
        Core (rows, N_CORE) by rising x, and stagnation row (N_STAGNATION,) [SI].
    """
    stagnation = np.empty(A.N_STAGNATION)
    cores = []
    for n in range(len(prepared.paths)):
        cores.append(np.empty(prepared.gas.core.shape[2:]))
        gas_at(prepared.gas, n, lane.total[A.T_H0], cores[-1], stagnation)
    return prepared.rows.joined(cores), stagnation


def floor_temperature(lane: Marched, passage: Passage) -> Array:
    """Return the hottest wall temperature on the slot floor, by the march's own wall form.

    Parameters
    ----------
    lane : Marched
        Solved lane.
    passage : Passage
        Its slots, a row each (rows,) [m].

    Returns
    -------
    ndarray
        (rows,) [K].

    Notes
    -----
    At the root the form has the pitch's mean plus one cosine over half a pitch P from the slot's
    middle: T + a cos(pi y/P). The floor's mean, over w/2, is the coolant's plus q_wetted/h; so
    a sin(b)/b is that mean less the root's, b = pi w/(2 P). Where lands carry less than the floor,
    a is below zero and the slot's edge the hotter end.
    """
    s = lane.station
    b = np.pi * passage.width / (passage.width + passage.land)
    floor = s[:, A.O_T_COOLANT] + s[:, A.O_Q_WETTED] / s[:, A.O_H_COOLANT]
    a = (floor - s[:, A.O_T_WALL_COLD]) * b / np.sin(b)
    return np.asarray(s[:, A.O_T_WALL_COLD] + np.maximum(a, a * np.cos(b)))


def columns(prepared: Prepared, lane: Marched, paths: tuple[Path, ...]) -> dict[str, Array]:
    """Return the station columns of one lane.

    Parameters
    ----------
    prepared : Prepared
        Tables the lane was solved with.
    lane : Marched
        Solved lane.
    paths : tuple of Path
        Its paths.

    Returns
    -------
    dict
        Every name of ``result.STATION_COLUMNS`` (rows,), by rising x.
    """
    s = lane.station
    passage = joined_passage(paths, prepared.rows)
    x = passage.x
    core, _ = hot_gas(prepared, lane)
    length = prepared.rows.joined([path.length for path in paths])
    sound = np.array(
        [
            sound_speed(prepared.coolant, h, p)
            for h, p in zip(s[:, A.O_ENTHALPY], s[:, A.O_P_COOLANT], strict=True)
        ]
    )
    found = {
        "x_m": x,
        "r_m": passage.r,
        "area_ratio": (passage.r / prepared.contour.throat_radius) ** 2,
        "mach": core[:, A.G_MACH],
        "T_gas_K": core[:, A.G_T],
        "T_aw_K": s[:, A.O_T_AW],
        "h_gas_W_m2K": s[:, A.O_H_GAS],
        "q_W_m2": s[:, A.O_Q],
        "T_wall_hot_K": s[:, A.O_T_WALL_HOT],
        "T_wall_hot_mean_K": s[:, A.O_T_WALL_HOT_MEAN],
        "T_wall_cold_K": s[:, A.O_T_WALL_COLD],
        "T_wall_floor_K": floor_temperature(lane, passage),
        "T_coolant_K": s[:, A.O_T_COOLANT],
        "p_coolant_Pa": s[:, A.O_P_COOLANT],
        "v_coolant_m_s": s[:, A.O_V_COOLANT],
        "h_coolant_W_m2K": s[:, A.O_H_COOLANT],
        "q_wetted_W_m2": s[:, A.O_Q_WETTED],
        "channel_width_m": passage.width,
        "channel_depth_m": passage.depth,
        "land_width_m": passage.land,
        "passage_length_m": length,
        "wall_m": passage.wall,
        "Re_coolant": s[:, A.O_RE],
        "mach_coolant": s[:, A.O_V_COOLANT] / sound,
        "p_gas_Pa": core[:, A.G_P],
        "circuit": prepared.rows.circuit,
        "pass_number": prepared.rows.pass_number,
    }
    return {name: np.ascontiguousarray(found[name]) for name in STATION_COLUMNS}


def outlet_temperature(prepared: Prepared, lane: Marched | Passed) -> float:
    """Return the coolant temperature in the outlet plenum, at rest and mixed [K].

    Parameters
    ----------
    prepared : Prepared
        Tables the lane was solved with.
    lane : Marched or Passed
        Solved lane, or one circuit of it.

    Returns
    -------
    float
        Temperature [K].
    """
    total = lane.total
    return float(coolant_hp(prepared.coolant, total[A.T_H_OUT], total[A.T_P_OUT])[0])


def energy_residual(lane: Marched, paths: tuple[Path, ...]) -> float:
    """Return the miss of heat through the hot-gas surface, from its rows, and coolant gain [-]."""
    on_wall = gained = 0.0
    for part, path in zip(lane.circuits, paths, strict=True):
        line = 2.0 * np.pi * path.flowing("r") * path.share * part.station[:, A.O_Q]
        on_wall += float(np.sum(0.5 * (line[1:] + line[:-1]) * path.steps("step_gas")[1:]))
        total = part.total
        gained += float(total[A.T_MASS_FLOW] * (total[A.T_H_OUT] - total[A.T_H_IN]))
    return abs(on_wall - gained) / gained


def headline(prepared: Prepared, lane: Marched, paths: tuple[Path, ...]) -> dict[str, float]:
    """Return the summary quantities of one lane.

    Parameters
    ----------
    prepared : Prepared
        Tables the lane was solved with.
    lane : Marched
        Solved lane.
    paths : tuple of Path
        Its paths.

    Returns
    -------
    dict
        Names with units, as in result.json: peaks over all circuits, flow and heat of all, the
        outlet temperature of their mixed flows, the largest pressure drop.
    """
    total, station = lane.total, lane.station
    T_wall, x_wall = peak_of(prepared, station[:, A.O_T_WALL_HOT])
    T_cold, _ = peak_of(prepared, station[:, A.O_T_WALL_COLD])
    q, x_q = peak_of(prepared, station[:, A.O_Q])
    _, stagnation = hot_gas(prepared, lane)
    return {
        "T_wall_hot_max_K": T_wall,
        "x_T_wall_hot_max_m": x_wall,
        "T_wall_cold_max_K": T_cold,
        "q_max_W_m2": q,
        "x_q_max_m": x_q,
        "heat_total_W": float(total[A.T_HEAT]),
        "coolant_temperature_out_K": outlet_temperature(prepared, lane),
        "coolant_pressure_in_Pa": float(total[A.T_P_IN]),
        "coolant_pressure_drop_Pa": float(total[A.T_P_IN] - total[A.T_P_OUT]),
        "coolant_pressure_out_Pa": float(total[A.T_P_OUT]),
        "coolant_mass_flow_kg_s": float(total[A.T_MASS_FLOW]),
        "chamber_temperature_K": float(stagnation[A.S_T_COMPLETE]),
        "nozzle_stagnation_pressure_Pa": float(stagnation[A.S_P0]),
        "characteristic_velocity_m_s": float(stagnation[A.S_CSTAR]),
        "gas_mass_flow_kg_s": float(total[A.T_GAS_FLOW]),
        "throat_diameter_m": 2.0 * prepared.contour.throat_radius,
        "energy_residual": energy_residual(lane, paths),
        "passes": float(total[A.T_PASSES]),
    }
