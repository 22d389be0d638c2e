"""The band's unfavourable edge over its members, of one design or of each of many."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from regen.checks import limits
from regen.checks.stations import banded, floor_temperature, looked_up
from regen.physics import arrays as A
from regen.physics.lookups import sound_speeds
from regen.solver.prepare import Array, Prepared
from regen.solver.solve import MIN_BAND

COLUMNS = {
    "T_wall_hot_K": A.O_T_WALL_HOT,
    "T_wall_hot_mean_K": A.O_T_WALL_HOT_MEAN,
    "T_wall_cold_K": A.O_T_WALL_COLD,
    "q_W_m2": A.O_Q,
    "q_wetted_W_m2": A.O_Q_WETTED,
    "T_coolant_K": A.O_T_COOLANT,
    "h_gas_W_m2K": A.O_H_GAS,
    "T_aw_K": A.O_T_AW,
    "v_coolant_m_s": A.O_V_COOLANT,
}
"""Station columns that have a band whose upper end is unfavourable, and the core's field."""

SHARED = (
    *("x_m", "r_m", "area_ratio", "wall_m", "circuit", "pass_number", "passage_length_m"),
    *("channel_width_m", "channel_depth_m", "land_width_m", "p_gas_Pa"),
)
"""Station columns that all members have in common: slots, and the gas pressure, which the heat
brought back to the chamber hardly moves."""


@dataclass(frozen=True)
class Extremes:
    """Lowest and highest values: ``along`` by station column, ``heads`` by summary name.

    ``member_heads`` (M, ...) are the members' own values; ``run`` is the unfavourable edge as the
    limits are judged by it.
    """

    along: Mapping[str, tuple[Array, Array]]
    heads: Mapping[str, tuple[Array, Array]]
    member_heads: Mapping[str, Array]
    run: limits.Run


def band_extremes(
    prepared: Prepared,
    stations: Mapping[str, Array],
    summary: Mapping[str, float] | Mapping[str, Array],
    station: Array,
    total: Array,
) -> Extremes:
    """Return the envelope of nominal and members, and at least a quarter either way.

    Parameters
    ----------
    prepared : Prepared
        Slots and tables the runs were solved with.
    stations, summary : mapping
        Columns (..., R) and summary (...,) of the nominal run.
    station, total : ndarray
        Rows (M, ..., R, fields) and totals (M, ..., T) of M members [SI]. One that was not solved
        has the nominal's numbers, which are a member's too and so change nothing.

    Returns
    -------
    Extremes
        Wall temperature less coolant, and the pressure drop, reach ``MIN_BAND`` either way. The
        run has declared columns only: a check that asks for another gets a ``KeyError``.
    """
    along = _along(prepared, stations, station)
    own = banded(prepared, station, total)
    heads = {name: _head(name, values, summary, along) for name, values in own.items()}
    return Extremes(along, heads, own, _run(stations, summary, station, total, along, heads))


def _extremes(nominal: Array, values: Array) -> tuple[Array, Array]:
    """Return least and greatest of the nominal and of all members."""
    return np.minimum(nominal, values.min(axis=0)), np.maximum(nominal, values.max(axis=0))


def _along(
    prepared: Prepared, stations: Mapping[str, Array], station: Array
) -> dict[str, tuple[Array, Array]]:
    bulk = stations["T_coolant_K"]
    values = {name: station[..., field] for name, field in COLUMNS.items()}
    values["T_wall_floor_K"] = floor_temperature(station, prepared.passage)
    h, p = (station[..., field] for field in (A.O_ENTHALPY, A.O_P_COOLANT))
    values["mach_coolant"] = values["v_coolant_m_s"] / looked_up(sound_speeds, prepared, h, p)
    extremes = {}
    for name, of_members in values.items():
        low, high = _extremes(stations[name], of_members)
        if name.startswith("T_wall"):
            rise = stations[name] - bulk
            low = np.minimum(low, bulk + (1.0 - MIN_BAND) * rise)
            high = np.maximum(high, bulk + (1.0 + MIN_BAND) * rise)
        extremes[name] = (low, high)
    return extremes


def _head(
    name: str,
    values: Array,
    summary: Mapping[str, float] | Mapping[str, Array],
    along: Mapping[str, tuple[Array, Array]],
) -> tuple[Array, Array]:
    nominal, drop = np.asarray(summary[name]), np.asarray(summary["coolant_pressure_drop_Pa"])
    low, high = _extremes(nominal, values)
    if name.startswith("T_wall"):
        edge = along[name.replace("_max_K", "_K")]
        low = np.minimum(low, edge[0].max(axis=-1))
        high = np.maximum(high, edge[1].max(axis=-1))
    elif name == "coolant_pressure_drop_Pa":
        low = np.minimum(low, (1.0 - MIN_BAND) * drop)
        high = np.maximum(high, (1.0 + MIN_BAND) * drop)
    elif name == "coolant_pressure_out_Pa":
        inlet = np.asarray(summary["coolant_pressure_in_Pa"])
        low = np.minimum(low, inlet - (1.0 + MIN_BAND) * drop)
        high = np.maximum(high, inlet - (1.0 - MIN_BAND) * drop)
    return low, high


def _run(
    stations: Mapping[str, Array],
    summary: Mapping[str, float] | Mapping[str, Array],
    station: Array,
    total: Array,
    along: Mapping[str, tuple[Array, Array]],
    heads: Mapping[str, tuple[Array, Array]],
) -> limits.Run:
    edge = {name: stations[name] for name in SHARED}
    edge |= {name: pair[1] for name, pair in along.items()}
    # stress asks for the highest pressure, boiling for the lowest; little film, a warm closeout
    pressure = station[..., A.O_P_COOLANT]
    low, high = _extremes(stations["p_coolant_Pa"], pressure)
    edge["p_coolant_Pa"], edge[limits.LOWEST_PRESSURE] = high, low
    film = station[..., A.O_H_COOLANT]
    edge["h_coolant_W_m2K"] = _extremes(stations["h_coolant_W_m2K"], film)[0]
    inlet = _extremes(np.asarray(summary["coolant_pressure_in_Pa"]), total[..., A.T_P_IN])
    totals: dict[str, float | Array] = {
        "T_wall_hot_max_K": heads["T_wall_hot_max_K"][1],
        "q_max_W_m2": heads["q_max_W_m2"][1],
        "coolant_pressure_in_Pa": inlet[1],
        "coolant_pressure_out_Pa": heads["coolant_pressure_out_Pa"][0],
        limits.INJECTOR: summary[limits.INJECTOR],
    }
    return limits.Run(edge, totals)
