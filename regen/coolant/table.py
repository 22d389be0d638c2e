"""Property tables of the coolants, built once from the direct equation of state."""

from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.design import Coolant
from regen.physics.tables import LN_CP, SIGMA_POWER, CoolantTable, T
from regen.storage.cache import cache_folder, cached, library

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
"""Name of each coolant in the property library.

Liquid hydrogen is parahydrogen and has no time in a cooling passage to turn into normal
hydrogen, whose enthalpy rise from 35 to 300 K is 12 % smaller.
"""

VERSION = 3
P_MIN, P_MAX = 1e5, 400e5
T_TOP = 1500.0
"""Hottest state of any table [K]; a fluid whose equation ends early stops at 1.5 times its end."""

N_XI_DENSE, N_XI_LIQUID, N_Y = 260, 160, 64
SPREAD = 0.05
"""Part of the enthalpy range over which the dense patch's nodes gather at the critical one."""

COLD_MARGIN = 0.02
"""Distance kept from the melting line and from the equation's lowest temperature [K]."""

CORNER = 1e-6
"""The critical point itself, where heat capacity is infinite, is taken this far on the cold
side, as a part of the isobar's enthalpy range."""

UNIVERSAL = 0.995
"""Temperature over critical from which surface tension falls by the universal power law [-].

Published fits have exponents and critical temperatures of their own: there methane's falls below
zero, and ethanol's ends 0.8 K short of the critical point.
"""

PSEUDO_CRITICAL_LIMIT = 4.0
"""Highest ratio to the critical pressure at which the peak of heat capacity is looked for."""


def table_of(feed: Coolant) -> CoolantTable:
    """Return the property table of a design's coolant: built in, or the case's own."""
    if feed.table is None:
        return coolant_table(feed.fluid)
    from regen.coolant.own import own_table  # only a case with its own needs it

    return own_table(feed)


def coolant_table(fluid: str) -> CoolantTable:
    """Return the property table of a coolant, from the cache if it was built before.

    States are solved from the direct equation of state on isobars, at twice the density of
    nodes along enthalpy, so that splines give the nodes' slopes.
    """
    if fluid not in COOLANTS:
        raise ValueError(f'no coolant "{fluid}"; known: {", ".join(COOLANTS)}')
    return _table(COOLANTS[fluid], cache_folder())


@lru_cache(maxsize=2)
def _table(name: str, folder: Path) -> CoolantTable:
    """Return a table, held in memory: a study asks for it at every point."""
    del folder  # another cache folder is another table
    key = {
        "fluid": name,
        "library": library("CoolProp"),
        "nodes": [N_XI_DENSE, N_XI_LIQUID, N_Y],
        "range": [P_MIN, P_MAX, T_TOP],
        "spread": SPREAD,
    }
    stored = cached("coolant", VERSION, key, lambda: _build(name))
    # one form of argument for every fluid, or the core would be compiled again
    arrays = {n: np.ascontiguousarray(v) if v.ndim else float(v) for n, v in stored.items()}
    return CoolantTable(**arrays)  # type: ignore[arg-type]


def _build(name: str) -> dict[str, NDArray[Any]]:
    fluid = _Fluid(name)
    fields = fluid.limits() | _dense(fluid) | _liquid(fluid)
    return {key: np.asarray(value, dtype=np.float64) for key, value in fields.items()}


class _Fluid:
    """The direct equation of state of one fluid, at enthalpy and pressure."""

    def __init__(self, name: str) -> None:
        import CoolProp
        from CoolProp.CoolProp import AbstractState

        self.state: Any = AbstractState("HEOS", name)
        self.p_critical: float = self.state.p_critical()
        self.T_critical: float = self.state.T_critical()
        self.T_top = min(1.5 * self.state.Tmax(), T_TOP)
        self._library = CoolProp
        # a phase imposed turns off the search for one; any will do, for states that are stable
        self._direct: Any = AbstractState("HEOS", name)
        self._direct.specify_phase(CoolProp.iphase_gas)
        self._direct.update(
            CoolProp.DmassT_INPUTS, self.state.rhomass_critical(), self.state.T_critical()
        )
        self.h_critical: float = self._direct.hmass()

    def limits(self) -> dict[str, Any]:
        """Scalars of the table."""
        return {
            "p_critical": self.p_critical,
            "T_critical": self.T_critical,
            "p_min": P_MIN,
            "p_max": P_MAX,
            "T_min": self.state.Tmin(),
            "T_max": self.state.Tmax(),
            "T_top": self.T_top,
            "molar_mass": self.state.molar_mass(),
        }

    def coldest(self, pressures: Array) -> Array:
        """Lowest temperature at each pressure: the melting line, or the equation's lowest."""
        lowest = np.full(pressures.size, self.state.Tmin())
        if self.state.has_melting_line():
            line = self._library.iT, self._library.iP
            melting = [self.state.melting_line(*line, float(p)) for p in pressures]
            lowest = np.maximum(lowest, melting)
        return lowest + COLD_MARGIN

    def at_temperatures(self, p: Array, T: Array) -> Array:
        """Rows of enthalpy and density at temperatures (2, n)."""
        out = np.empty((2, p.size))
        for n, pair in enumerate(zip(p, T, strict=True)):
            self.state.update(self._library.PT_INPUTS, *pair)
            out[:, n] = self.state.hmass(), self.state.rhomass()
        return out

    def saturation(self, p: float) -> tuple[float, ...]:
        """Saturation at p: T, h_l, h_v, rho_l, rho_v, and surface tension or NaN."""
        self.state.update(self._library.PQ_INPUTS, p, 1.0)
        h_v, rho_v = self.state.hmass(), self.state.rhomass()
        self.state.update(self._library.PQ_INPUTS, p, 0.0)
        T, h_l, rho_l = self.state.T(), self.state.hmass(), self.state.rhomass()
        try:
            sigma = self.state.surface_tension()
        except ValueError:  # the fit ends short of the critical temperature: see UNIVERSAL
            sigma = np.nan
        return T, h_l, h_v, rho_l, rho_v, sigma

    def isobar(self, p: float, h: Array, start: tuple[float, float], near: Array | None) -> Array:
        """Node properties (n, 6) at rising enthalpies from a start (T, rho) at the first.

        ``near`` is the isobar solved before, whose shape foretells this one's.
        """
        nodes, state, lib = np.empty((h.size, 6)), self._direct, self._library
        density_by_enthalpy = lib.iDmass, lib.iHmass, lib.iP
        T, rho = start
        for i in range(h.size):
            if i and near is not None:
                T = nodes[i - 1, 0] + near[i, 0] - near[i - 1, 0]
                rho = np.exp(nodes[i - 1, 1] + near[i, 1] - near[i - 1, 1])
            elif i:
                dh, slope = h[i] - h[i - 1], state.first_partial_deriv(*density_by_enthalpy)
                T, rho = T + dh / state.cpmass(), max(rho + dh * slope, 0.5 * rho)
            T, rho = self._solve(p, h[i], T, rho)
            mu, k = state.viscosity(), state.conductivity()
            nodes[i] = T, *np.log((rho, mu, k, state.cpmass(), state.speed_sound()))
        return nodes

    def _solve(self, p: float, h: float, T: float, rho: float) -> tuple[float, float]:
        """Newton in temperature and density, regular at the critical point too.

        The library's flash from enthalpy and pressure takes five times as long, and works in
        temperature at a pressure, which at the critical point says nothing about density.
        """
        lib, direct = self._library, self._direct
        for _ in range(50):
            direct.update(lib.DmassT_INPUTS, rho, T)
            dp, dh = p - direct.p(), h - direct.hmass()
            p_T = direct.first_partial_deriv(lib.iP, lib.iT, lib.iDmass)
            p_rho = direct.first_partial_deriv(lib.iP, lib.iDmass, lib.iT)
            h_T = direct.first_partial_deriv(lib.iHmass, lib.iT, lib.iDmass)
            h_rho = direct.first_partial_deriv(lib.iHmass, lib.iDmass, lib.iT)
            determinant = h_T * p_rho - h_rho * p_T
            dT = (dh * p_rho - h_rho * dp) / determinant
            drho = (h_T * dp - p_T * dh) / determinant
            damping = max(abs(dT) / (0.2 * T), abs(drho) / (0.3 * rho), 1.0)
            T, rho = T + dT / damping, rho + drho / damping
            if abs(dT) < 1e-9 * T and abs(drho) < 1e-9 * rho:
                return T, rho
        raise RuntimeError(f"no state of {direct.name()} found at h = {h:.6g} J/kg, p = {p:.6g} Pa")


def _patch(fluid: _Fluid, p: Array, s: Array, low: Array, high: Array, rho: Array) -> Array:
    """Properties (n_s, n_y, 6) on isobars; ``rho`` (n_y,) is the density at the cold ends.

    Solved from the far isobar towards the critical one.
    """
    values = np.empty((s.size, p.size, 6))
    T = fluid.coldest(p)
    near = None
    for j in reversed(range(p.size)):
        h = low[j] + s * (high[j] - low[j])
        if h[-1] == fluid.h_critical:
            h[-1] -= CORNER * (high[j] - low[j])
        near = fluid.isobar(float(p[j]), h, (float(T[j]), float(rho[j])), near)
        values[:, j] = near
    return values


def monotone(x: ArrayLike, values: Any, axis: int = 0) -> Any:
    """Return monotone cubics through points."""
    from scipy.interpolate import PchipInterpolator

    return PchipInterpolator(x, values, axis=axis)


def spline(x: ArrayLike, values: Any, axis: int = 0) -> Any:
    """Return cubic splines through points."""
    from scipy.interpolate import CubicSpline

    return CubicSpline(x, values, axis=axis)


def with_slopes(values: Array) -> Array:
    """Return the nodes of a patch (n_xi, n_y, 6, 4), value and slopes in cell units.

    ``values`` (2 n_xi - 1, n_y, 6) [SI and logarithms] are on isobars at even places, at twice the
    nodes' density along them.
    """
    # two steps of the values are one cell
    half = 0.5 * np.arange(values.shape[0])
    f_xi = spline(half, values)(half[::2], 1)
    f = values[::2]
    cell = np.arange(f.shape[1])
    f_y = spline(cell, f, axis=1)(cell, 1)
    f_both = spline(cell, f_xi, axis=1)(cell, 1)
    return np.stack([f, f_xi, f_y, f_both], axis=-1)


def line_with_slope(values: Array) -> Array:
    """Return the nodes of lines along even places, (n_y, ...) to (n_y, ..., 2), with slopes."""
    cell = np.arange(values.shape[0])
    return np.stack([values, spline(cell, values)(cell, 1)], axis=-1)


def _dense(fluid: _Fluid) -> dict[str, Any]:
    y = np.linspace(0.0, np.sqrt(np.log(P_MAX / fluid.p_critical)), N_Y)
    p = fluid.p_critical * np.exp(y**2)
    p[-1] = P_MAX
    low, rho = fluid.at_temperatures(p, fluid.coldest(p))
    high, _ = fluid.at_temperatures(p, np.full(N_Y, fluid.T_top))
    centre = (fluid.h_critical - low[0]) / (high[0] - low[0])
    shift = np.arcsinh(centre / SPREAD)
    scale = 1.0 / (np.arcsinh((1.0 - centre) / SPREAD) + shift)
    xi = np.linspace(0.0, 1.0, 2 * N_XI_DENSE - 1)
    s = np.clip(centre + SPREAD * np.sinh(xi / scale - shift), 0.0, 1.0)
    values = _patch(fluid, p, s, low, high, rho)
    return {
        "dense": with_slopes(values),
        "dense_edge": line_with_slope(np.stack([low, high], axis=1)),
        "dense_y_step": y[1],
        "pseudo_critical": _pseudo_critical(values, p / fluid.p_critical, fluid.T_critical),
        "centre": centre,
        "spread": SPREAD,
        "shift": shift,
        "scale": scale,
    }


def _pseudo_critical(values: Array, p_r: Array, T_critical: float) -> Array:
    """Temperature of the heat-capacity peak on each isobar and its slope (n_y, 2).

    Held from where the peak vanishes or the pressure passes the limit.
    """
    peaks = np.full(p_r.size, T_critical)
    for j in range(1, p_r.size):
        temperature, ln_cp = values[:, j, T], values[:, j, LN_CP]
        window = np.flatnonzero((temperature > 0.98 * T_critical) & (temperature < 2 * T_critical))
        i = int(window[np.argmax(ln_cp[window])])
        if p_r[j] > PSEUDO_CRITICAL_LIMIT or i in (window[0], window[-1]):
            peaks[j:] = peaks[j - 1]
            break
        near = slice(i - 1, i + 2)
        a, b, _ = np.polyfit(temperature[near] - temperature[i], ln_cp[near], 2)
        peaks[j] = temperature[i] - b / (2.0 * a)
    cell = np.arange(p_r.size)
    # no overshoot where the line is held
    return np.stack([peaks, monotone(cell, peaks)(cell, 1)], axis=-1)


def _liquid(fluid: _Fluid) -> dict[str, Any]:
    y = np.linspace(0.0, np.sqrt(np.log(fluid.p_critical / P_MIN)), N_Y)
    p = fluid.p_critical * np.exp(-(y**2))
    p[-1] = P_MIN
    rho_critical = fluid.state.rhomass_critical()
    line = np.empty((N_Y, 6))
    line[0] = fluid.T_critical, fluid.h_critical, fluid.h_critical, rho_critical, rho_critical, 0.0
    line[1:] = [fluid.saturation(float(v)) for v in p[1:]]
    temperature, h_l, h_v, rho_l, rho_v, sigma = line.T
    low, rho = fluid.at_temperatures(p, fluid.coldest(p))
    xi = np.linspace(0.0, 1.0, 2 * N_XI_LIQUID - 1)
    values = _patch(fluid, p, 1.0 - (1.0 - xi) ** 2, low, h_l, rho)
    scaled = _scaled_sigma(y, sigma, temperature / fluid.T_critical)
    columns = [low, h_l, h_v, temperature, np.log(rho_l), np.log(rho_v), scaled]
    return {
        "liquid": with_slopes(values),
        "saturation": line_with_slope(np.stack(columns, axis=1)),
        "liquid_y_step": y[1],
    }


def _scaled_sigma(y: Array, sigma: Array, T_r: Array) -> Array:
    """Surface tension over y**SIGMA_POWER, above zero up to the critical point at y = 0."""
    first = int(np.argmax(T_r <= UNIVERSAL))
    fall = (1.0 - T_r[1:first]) / (1.0 - T_r[first])
    scaled = np.empty(y.size)
    scaled[first:] = sigma[first:] / y[first:] ** SIGMA_POWER
    # y**2 is proportional to 1 - T_r at the critical point
    scaled[1:first] = sigma[first] * fall ** (SIGMA_POWER / 2.0) / y[1:first] ** SIGMA_POWER
    scaled[0] = scaled[1]
    return scaled
