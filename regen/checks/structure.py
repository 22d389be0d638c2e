"""The jacket as a shell: its place, its temperature, what it carries, how thick it must be."""

from __future__ import annotations

import numpy as np

from regen.checks.lane import Lane
from regen.design import Design
from regen.properties.alloys import AlloyCondition
from regen.result import Array


def jacket_temperature(design: Design, liner: AlloyCondition, lane: Lane) -> Array:
    """Return the temperature of the jacket: that of the lands' tips, which it shares.

    Parameters
    ----------
    design : Design
        Factor on the liner's conductivity.
    liner : AlloyCondition
        Metal of the lands.
    lane : Lane
        Solved lane, or many.

    Returns
    -------
    ndarray
        (..., S) [K].

    Notes
    -----
    A land as a fin from the channel root, of its mean width, wetted on both sides, that feeds the
    roof over half a channel: T_c + (T_root - T_c)/(cosh md + h w/(k m b) sinh md). The roof spans
    less than its own fin length, and no heat leaves the outside, so the jacket has the tip's
    temperature. Between bulk and tip it would be colder: for strength this is the safe side.
    """
    s = lane.stations
    bulk, depth, w = s["T_coolant_K"], s["channel_depth_m"], s["channel_width_m"]
    rise = s["T_wall_cold_K"] - bulk
    k = liner.value("thermal_conductivity", bulk + 0.5 * rise).value
    k = k * design.models.conductivity_factor
    h, land = s["h_coolant_W_m2K"], mean_land(lane)
    m = np.sqrt(2.0 * h / (k * land))
    md = m * depth
    return np.asarray(bulk + rise / (np.cosh(md) + h * w / (k * m * land) * np.sinh(md)))


def mean_land(lane: Lane) -> Array:
    """Return the land's mean width over the slot's depth (..., S) [m]; slots keep their width."""
    s = lane.stations
    pitch = s["channel_width_m"] + s["land_width_m"]
    grown = 0.5 * s["channel_depth_m"] / (s["r_m"] + s["wall_m"])
    return np.asarray(pitch * (1.0 + grown) - s["channel_width_m"])
