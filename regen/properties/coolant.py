"""Property tables of the coolants, built once from the direct equation of state."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.physics.tables import SIGMA_POWER, CoolantTable
from regen.properties.store import cached

Array = NDArray[np.float64]

COOLANTS: dict[str, str] = {
    "hydrogen": "ParaHydrogen",
    "methane": "Methane",
    "oxygen": "Oxygen",
    "ethanol": "Ethanol",
    "propane": "n-Propane",
    "n-dodecane": "n-Dodecane",
    "water": "Water",
}
"""Name of each coolant in the property library. Liquid hydrogen is parahydrogen."""

VERSION = 1
P_MIN, P_MAX = 1e5, 400e5
N_XI, N_Y = 200, 60
SPREAD = 0.06
COLD_MARGIN = 0.02
"""Distance kept from the melting line [K]."""

SATURATION_OFFSET = 1e-5
"""Relative distance of the last liquid node from saturation, in temperature."""

CRITICAL_OFFSET = 2e-3
"""Relative distance of the innermost nodes from the critical pressure, where cp is infinite."""


def coolant_table(fluid: str) -> CoolantTable:
    """Return the property table of a coolant, from the cache if it was built before.

    Parameters
    ----------
    fluid : str
        One of ``COOLANTS``.

    Returns
    -------
    CoolantTable
        Table for the compiled core.

    Raises
    ------
    KeyError
        If the coolant is not known.
    """
    name = COOLANTS[fluid]
    key = {
        "fluid": name,
        "xi": N_XI,
        "y": N_Y,
        "p": [P_MIN, P_MAX],
        "spread": SPREAD,
        "offset": CRITICAL_OFFSET,
    }
    stored = cached("coolant", VERSION, key, lambda: _build(name))
    arrays = {n: np.ascontiguousarray(v) if v.ndim else float(v) for n, v in stored.items()}
    return CoolantTable(**arrays)  # type: ignore[arg-type]


def _build(name: str) -> dict[str, NDArray[Any]]:
    from CoolProp.CoolProp import AbstractState

    state = AbstractState("HEOS", name)
    p_critical, T_critical = state.p_critical(), state.T_critical()
    T_top = min(1.5 * state.Tmax(), 1500.0)
    found: dict[str, Any] = {
        "p_critical": p_critical,
        "T_critical": T_critical,
        "p_min": P_MIN,
        "p_max": P_MAX,
        "T_min": state.Tmin(),
        "T_max": state.Tmax(),
        "T_top": T_top,
        "molar_mass": state.molar_mass(),
    }
    found |= _dense(state, p_critical, T_critical, T_top)
    found |= _liquid(state, p_critical, T_critical)
    return {key: np.asarray(value, dtype=np.float64) for key, value in found.items()}


def _coldest(state: Any, p: float) -> float:
    """Lowest temperature of the table at p: melting line or the equation's end, with a margin."""
    import CoolProp

    try:
        melting = state.melting_line(CoolProp.iT, CoolProp.iP, p)
    except ValueError:
        melting = 0.0
    lowest: float = max(melting, state.Tmin()) + COLD_MARGIN
    return lowest


def _to_enthalpy(state: Any, p: float, h: float, low: float, high: float, T: float) -> None:
    """Set the state to enthalpy h at p: Newton on T inside a bracket.

    The library's own flash from enthalpy and pressure is slower and fails near the table's ends.
    """
    import CoolProp

    for _ in range(80):
        try:
            state.update(CoolProp.PT_INPUTS, p, T)
        except ValueError:  # a hair from saturation: step off it
            T = low + 0.999 * (T - low)
            continue
        miss = state.hmass() - h
        if miss > 0.0:
            high = T
        else:
            low = T
        step = miss / state.cpmass()
        if abs(step) < 1e-8 * T or high - low < 1e-10 * T:
            return
        T = T - step if low < T - step < high else 0.5 * (low + high)


def _row(state: Any, p: float, enthalpies: Array, T_ends: tuple[float, float]) -> Array:
    """Node values (n, 6) along one isobar; the ends' temperatures are given [K].

    A last node at saturation is set as saturated liquid.
    """
    import CoolProp

    low, high = T_ends
    saturated = p < state.p_critical()
    row = np.empty((enthalpies.size, 6))
    T = low
    for i, h in enumerate(enthalpies):
        if i == 0:
            state.update(CoolProp.PT_INPUTS, p, low)
        elif i < enthalpies.size - 1:
            guess = T + (h - enthalpies[i - 1]) / state.cpmass()
            _to_enthalpy(state, p, h, T, high, min(guess, 0.5 * (T + high)))
        elif saturated:
            # the library has no transport values on the line itself: a hair below it
            state.update(CoolProp.PT_INPUTS, p, high * (1.0 - SATURATION_OFFSET))
        else:
            state.update(CoolProp.PT_INPUTS, p, high)
        T = state.T()
        row[i] = _properties(state, p, high)
    return row


def _properties(state: Any, p: float, T_end: float) -> tuple[float, ...]:
    """Node values of the state; a hair below the critical point, those a little off it."""
    import CoolProp

    T = state.T()
    try:
        transport = state.viscosity(), state.conductivity()
    except (ValueError, RuntimeError):
        state.update(CoolProp.PT_INPUTS, p, T_end * (1.0 - 1e-4))
        transport = state.viscosity(), state.conductivity()
    rest = state.rhomass(), *transport, state.cpmass(), state.speed_sound()
    return T, *(float(np.log(value)) for value in rest)


def _with_slopes(xi: Array, y: Array, values: Array) -> Array:
    """Values (n_xi, n_y, 6) to nodes (n_xi, n_y, 6, 4): value and slopes in cell units."""
    from scipy.interpolate import CubicSpline

    d_xi, d_y = xi[1] - xi[0], y[1] - y[0]
    f_xi = CubicSpline(xi, values, axis=0)(xi, 1) * d_xi
    f_y = CubicSpline(y, values, axis=1)(y, 1) * d_y
    f_both = CubicSpline(y, f_xi, axis=1)(y, 1) * d_y
    return np.stack([values, f_xi, f_y, f_both], axis=-1)


def _line_with_slope(y: Array, values: Array) -> Array:
    """Values (n_y, ...) to (n_y, ..., 2): value and slope in cell units."""
    from scipy.interpolate import CubicSpline

    slope = CubicSpline(y, values, axis=0)(y, 1) * (y[1] - y[0])
    return np.stack([values, slope], axis=-1)


def _dense(state: Any, p_critical: float, T_critical: float, T_top: float) -> dict[str, Any]:
    import CoolProp

    y = np.linspace(0.0, np.sqrt(np.log(P_MAX / p_critical)), N_Y)
    p = p_critical * np.exp(y**2)
    p[0] = p_critical * (1.0 + CRITICAL_OFFSET)
    edge = np.empty((N_Y, 2))
    for j in range(N_Y):
        state.update(CoolProp.PT_INPUTS, p[j], _coldest(state, p[j]))
        edge[j, 0] = state.hmass()
        state.update(CoolProp.PT_INPUTS, p[j], T_top)
        edge[j, 1] = state.hmass()
    state.update(CoolProp.DmassT_INPUTS, state.rhomass_critical(), T_critical * 1.0005)
    centre = (state.hmass() - edge[0, 0]) / (edge[0, 1] - edge[0, 0])
    shift = np.arcsinh(centre / SPREAD)
    scale = 1.0 / (np.arcsinh((1.0 - centre) / SPREAD) + shift)
    xi = np.linspace(0.0, 1.0, N_XI)
    s = np.clip(centre + SPREAD * np.sinh(xi / scale - shift), 0.0, 1.0)
    values = np.empty((N_XI, N_Y, 6))
    for j in range(N_Y):
        enthalpies = edge[j, 0] + s * (edge[j, 1] - edge[j, 0])
        values[:, j] = _row(state, p[j], enthalpies, (_coldest(state, p[j]), T_top))
    return {
        "dense": _with_slopes(xi, y, values),
        "dense_edge": _line_with_slope(y, edge),
        "dense_y_step": y[1],
        "pseudo_critical": _line_with_slope(
            y, _pseudo_critical(values, p / p_critical, T_critical)
        ),
        "centre": centre,
        "spread": SPREAD,
        "shift": shift,
        "scale": scale,
    }


def _pseudo_critical(values: Array, p_r: Array, T_critical: float) -> Array:
    """Temperature of the heat-capacity peak on each isobar; held where there is none (N_Y,)."""
    peaks = np.empty(p_r.size)
    last = T_critical
    searching = True
    for j in range(p_r.size):
        T, cp = values[:, j, 0], values[:, j, 4]
        window = np.flatnonzero((T > 0.98 * T_critical) & (T < 1.6 * T_critical))
        i = int(window[np.argmax(cp[window])])
        inside = window[0] < i < window[-1] and cp[i] > cp[i - 1] and cp[i] > cp[i + 1]
        searching = searching and p_r[j] <= 4.0 and inside
        if searching:
            a, b, _ = np.polyfit(T[i - 1 : i + 2] - T[i], cp[i - 1 : i + 2], 2)
            last = max(last, float(T[i] - b / (2.0 * a)))
        peaks[j] = last
    return peaks


def _liquid(state: Any, p_critical: float, T_critical: float) -> dict[str, Any]:
    import CoolProp

    y = np.linspace(0.0, np.sqrt(np.log(p_critical / P_MIN)), N_Y)
    p = p_critical * np.exp(-(y**2))
    p[0] = p_critical * (1.0 - CRITICAL_OFFSET)
    sat = np.empty((N_Y, 7))
    for j in range(N_Y):
        state.update(CoolProp.PT_INPUTS, p[j], _coldest(state, p[j]))
        sat[j, 0] = state.hmass()
        state.update(CoolProp.PQ_INPUTS, p[j], 1.0)
        sat[j, 2], sat[j, 5] = state.hmass(), np.log(state.rhomass())
        state.update(CoolProp.PQ_INPUTS, p[j], 0.0)
        sat[j, 1], sat[j, 3], sat[j, 4] = state.hmass(), state.T(), np.log(state.rhomass())
        try:
            sat[j, 6] = state.surface_tension() / max(y[j], y[1]) ** SIGMA_POWER
        except ValueError:  # some fits end short of the critical point
            sat[j, 6] = np.nan
    known = np.flatnonzero(np.isfinite(sat[1:, 6])) + 1
    sat[: known[0], 6] = sat[known[0], 6]
    xi = np.linspace(0.0, 1.0, N_XI)
    s = 1.0 - (1.0 - xi) ** 2
    values = np.empty((N_XI, N_Y, 6))
    for j in range(N_Y):
        enthalpies = sat[j, 0] + s * (sat[j, 1] - sat[j, 0])
        values[:, j] = _row(state, p[j], enthalpies, (_coldest(state, p[j]), sat[j, 3]))
    return {
        "liquid": _with_slopes(xi, y, values),
        "saturation": _line_with_slope(y, sat),
        "liquid_y_step": y[1],
    }
