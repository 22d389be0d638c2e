"""The band's unfavourable edge over its members, of one design or of each of many."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from regen.checks.runs import INJECTOR, LOWEST_PRESSURE, Run
from regen.checks.stations import MARCHED, banded, floor_temperature, looked_up
from regen.physics import arrays as A
from regen.physics.lookups import sound_speeds
from regen.solver.prepare import Array, Prepared
from regen.solver.solve import MIN_BAND

COLUMNS = (
    *("T_wall_hot_K", "T_wall_hot_mean_K", "T_wall_cold_K", "q_W_m2", "q_wetted_W_m2"),
    *("T_coolant_K", "h_gas_W_m2K", "T_aw_K", "v_coolant_m_s"),
)
"""Station columns of the march that have a band whose upper end is unfavourable."""

SHARED = (
    *("x_m", "r_m", "area_ratio", "wall_m", "circuit", "pass_number", "passage_length_m"),
    *("channel_width_m", "channel_depth_m", "land_width_m", "p_gas_Pa"),
)
"""Station columns that all members have in common: slots, and the gas pressure, which the heat
brought back to the chamber hardly moves."""


Pair = tuple[Array, Array]
"""Lowest and highest values."""


@dataclass(frozen=True)
class Extremes:
    """Lowest and highest values: ``along`` by station column, ``heads`` by summary name.

    ``member_heads`` (M, ...) are the members' own values; ``run`` is the unfavourable edge as the
    limits are judged by it.
    """

    along: Mapping[str, Pair]
    heads: Mapping[str, Pair]
    member_heads: Mapping[str, Array]
    run: Run


def band_extremes(prepared: Prepared, nominal: Run, station: Array, total: Array) -> Extremes:
    """Return the envelope of nominal and members, and at least a quarter either way.

    Parameters
    ----------
    prepared : Prepared
        Slots and tables the runs were solved with.
    nominal : Run
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
    along = _along(prepared, nominal, station)
    own = banded(prepared, station, total)
    heads = {name: _head(name, values, nominal, along) for name, values in own.items()}
    return Extremes(along, heads, own, _edge(nominal, station, total, along, heads))


def _extremes(nominal: Array, values: Array) -> Pair:
    """Return least and greatest of the nominal and of all members."""
    return np.minimum(nominal, values.min(axis=0)), np.maximum(nominal, values.max(axis=0))


def _widened(pair: Pair, least: Array, rise: Array) -> Pair:
    """Return a band that reaches at least ``MIN_BAND`` of a rise above a level either way."""
    low, high = least + (1.0 - MIN_BAND) * rise, least + (1.0 + MIN_BAND) * rise
    return np.minimum(pair[0], low), np.maximum(pair[1], high)


def _along(prepared: Prepared, nominal: Run, station: Array) -> dict[str, Pair]:
    stations, bulk = nominal.stations, nominal.stations["T_coolant_K"]
    values = {name: station[..., MARCHED[name]] for name in COLUMNS}
    values["T_wall_floor_K"] = floor_temperature(station, prepared.passage)
    h, p = (station[..., field] for field in (A.O_ENTHALPY, A.O_P_COOLANT))
    values["mach_coolant"] = values["v_coolant_m_s"] / looked_up(sound_speeds, prepared, h, p)
    extremes = {name: _extremes(stations[name], of_all) for name, of_all in values.items()}
    walls = {name: pair for name, pair in extremes.items() if name.startswith("T_wall")}
    return extremes | {
        name: _widened(pair, bulk, stations[name] - bulk) for name, pair in walls.items()
    }


def _head(name: str, values: Array, nominal: Run, along: Mapping[str, Pair]) -> Pair:
    own, drop = (np.asarray(nominal.totals[n]) for n in (name, "coolant_pressure_drop_Pa"))
    low, high = _extremes(own, values)
    if name.startswith("T_wall"):
        edge = along[name.replace("_max_K", "_K")]
        return np.minimum(low, edge[0].max(axis=-1)), np.maximum(high, edge[1].max(axis=-1))
    if name == "coolant_pressure_drop_Pa":
        return _widened((low, high), np.zeros(()), drop)
    if name == "coolant_pressure_out_Pa":
        inlet = np.asarray(nominal.totals["coolant_pressure_in_Pa"])
        low = np.minimum(low, inlet - (1.0 + MIN_BAND) * drop)
        high = np.maximum(high, inlet - (1.0 - MIN_BAND) * drop)
    return low, high


def _edge(
    nominal: Run, station: Array, total: Array, along: Mapping[str, Pair], heads: Mapping[str, Pair]
) -> Run:
    stations, totals = nominal.stations, nominal.totals
    edge = {name: stations[name] for name in SHARED}
    edge |= {name: pair[1] for name, pair in along.items()}
    # stress asks for the highest pressure, boiling for the lowest; little film, a warm closeout
    low, high = _extremes(stations["p_coolant_Pa"], station[..., A.O_P_COOLANT])
    edge |= {"p_coolant_Pa": high, LOWEST_PRESSURE: low}
    film = station[..., A.O_H_COOLANT]
    edge["h_coolant_W_m2K"] = _extremes(stations["h_coolant_W_m2K"], film)[0]
    inlet = _extremes(np.asarray(totals["coolant_pressure_in_Pa"]), total[..., A.T_P_IN])[1]
    whole = {name: heads[name][1] for name in ("T_wall_hot_max_K", "q_max_W_m2")}
    outlet = heads["coolant_pressure_out_Pa"][0]
    ends = {"coolant_pressure_in_Pa": inlet, "coolant_pressure_out_Pa": outlet}
    return Run(edge, whole | ends | {INJECTOR: totals[INJECTOR]})
