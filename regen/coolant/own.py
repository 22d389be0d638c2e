"""Property table of a coolant of the user's own, for the same core as the built-in ones."""

from functools import lru_cache
from typing import Any

import numpy as np

from regen.coolant.table import P_MAX, P_MIN, line_with_slope, monotone, spline, with_slopes
from regen.design import Coolant, CoolantData, CoolantSaturation
from regen.errors import RangeError
from regen.geometry.curves import running_integral
from regen.physics.arrays import Array
from regen.physics.tables import SIGMA_POWER, CoolantTable
from regen.texts import text

N_XI, N_Y = 161, 48
EVEN = 50.0
"""Spread of the dense patch's nodes at which they are even: no critical point is known."""

INCOMPRESSIBLE = 1e9
"""Speed of sound of a liquid whose density is known at one pressure alone [m/s]."""

FINE = 20
"""Places in each step of the table among which the first guess of an inversion is taken."""

NEWTON_STEPS = 8


def own_table(feed: Coolant) -> CoolantTable:
    """Return the property table of a coolant that the case brings.

    Properties are monotone cubics through the rows (logarithms of viscosity and density), the
    enthalpy the integral of the heat capacity, or the heat capacity the slope of a cubic spline
    through the enthalpy. A table at one pressure holds at any; its enthalpy rises with pressure by
    (1 - b T)/rho at the coldest row, b the thermal expansion there.

    Without saturation the fluid is one phase over its whole table: the dense patch, with even
    nodes, serves at every pressure. With saturation it is the liquid patch, at the pressures of
    the saturation alone. Nothing is taken beyond the rows.
    """
    data, line = feed.table, feed.saturation
    if data is None:
        raise ValueError(f"{feed.fluid} has no property table of its own")
    if line is None:
        return _one_phase(data)
    return _liquid(data, line, feed.critical_pressure or 0.0, feed.molar_mass or 0.0)


class _Rows:
    """What the rows say at a pressure."""

    def __init__(self, data: CoolantData) -> None:
        self.data = data
        self.T = np.array(data.T)
        self.p = np.array(data.p or (P_MIN,))
        self.rho, self.mu, self.k = (
            self._at_rows(v) for v in (data.density, data.viscosity, data.conductivity)
        )
        self.h, self.cp = self._heat()

    def _at_rows(self, values: tuple[float, ...]) -> Array:
        return np.array(values).reshape(self.p.size, self.T.size)

    def _heat(self) -> tuple[Array, Array]:
        """Enthalpy [J/kg] and heat capacity [J/(kg K)] at the rows (p, T)."""
        if self.data.heat_capacity:
            cp = self._at_rows(self.data.heat_capacity)
            h = monotone(self.T, cp, axis=1).antiderivative()(self.T)
            return h + running_integral(self._pressed(), np.diff(self.p))[:, None], cp
        h = self._at_rows(self.data.enthalpy)
        curve = spline(self.T, h, axis=1)
        fine = _refined(self.T)
        slope = curve(fine, 1)
        if np.any(slope <= 0.0):
            at = fine[int(np.argmax(np.any(slope <= 0.0, axis=0)))]
            raise RangeError(text("heat capacity", file=self.data.file, T=at))
        return h, curve(self.T, 1)

    def _pressed(self) -> Array:
        """Rise of the coldest row's enthalpy with pressure, (1 - b T)/rho (p,) [m3/kg]."""
        slope = monotone(self.T, self.rho, axis=1)(self.T[0], 1)
        rho = self.rho[:, 0]
        return np.asarray((1.0 + slope * self.T[0] / rho) / rho)

    def enthalpy(self, p: float) -> Array:
        """Enthalpy at one pressure (T,) [J/kg]."""
        h = self.at(p, self.h)
        return h + self._pressed()[0] * (p - self.p[0]) if self.p.size == 1 else h

    def at(self, p: float, values: Array) -> Array:
        """Values (p, T) at one pressure (T,)."""
        at = values[0] if self.p.size == 1 else monotone(self.p, values)(p)
        return np.asarray(at, dtype=np.float64)

    def sound(self, p: float) -> Array:
        """Speed of sound at the rows' temperatures (T,) [m/s]."""
        if self.data.sound_speed:
            return self.at(p, self._at_rows(self.data.sound_speed))
        if self.p.size == 1:
            return np.full(self.T.size, INCOMPRESSIBLE)
        of_p = monotone(self.p, self.rho)
        rho, cp = of_p(p), monotone(self.p, self.cp)(p)
        by_T = monotone(self.T, rho)(self.T, 1)
        inverse = of_p(p, 1) - self.T * by_T**2 / (rho**2 * cp)  # of a squared
        if np.any(inverse <= 0.0):
            at = self.T[int(np.argmax(inverse <= 0.0))]
            raise RangeError(text("speed of sound", file=self.data.file, T=at, p=p))
        return np.asarray(1.0 / np.sqrt(inverse))


class _Isobar:
    """Properties over temperature at one pressure."""

    def __init__(self, rows: _Rows, p: float) -> None:
        T, h = rows.T, rows.enthalpy(p)
        logs = (rows.at(p, np.log(v)) for v in (rows.rho, rows.mu, rows.k, rows.cp))
        *others, cp = (np.exp(log) for log in logs)
        if rows.data.heat_capacity:
            self._cp: Any = monotone(T, cp)
            rise = self._cp.antiderivative()
            self.enthalpy: Any = lambda at: h[0] + rise(at)
        else:
            self.enthalpy = spline(T, h)
            self._cp = self.enthalpy.derivative()
        self._logs = [monotone(T, np.log(v)) for v in others]
        self._a = monotone(T, np.log(rows.sound(p)))
        self._fine = _refined(T)
        self._h_fine = self.enthalpy(self._fine)

    def density(self, T: float) -> float:
        """Density [kg/m3]."""
        return float(np.exp(self._logs[0](T)))

    def nodes(self, h: Array) -> Array:
        """Node properties (n, 6) of the core at enthalpies (n,) [J/kg]."""
        T = np.interp(h, self._h_fine, self._fine)
        for _ in range(NEWTON_STEPS):
            T = np.clip(T - (self.enthalpy(T) - h) / self._cp(T), self._fine[0], self._fine[-1])
        columns = [*(log(T) for log in self._logs), np.log(self._cp(T)), self._a(T)]
        return np.stack([T, *columns], axis=1)


def _refined(T: Array) -> Array:
    """Temperatures between the rows too."""
    places = np.arange((T.size - 1) * FINE + 1) / FINE
    return np.interp(places, np.arange(T.size), T)


@lru_cache(maxsize=8)
def _one_phase(data: CoolantData) -> CoolantTable:
    rows = _Rows(data)
    low, high = (data.p[0], data.p[-1]) if data.p else (P_MIN, P_MAX)
    y = np.linspace(0.0, np.sqrt(np.log(high / low)), N_Y)
    p = low * np.exp(y**2)
    p[-1] = high
    shift = float(np.arcsinh(0.5 / EVEN))
    scale = 0.5 / shift
    xi = np.linspace(0.0, 1.0, 2 * N_XI - 1)
    s = np.clip(0.5 + EVEN * np.sinh(xi / scale - shift), 0.0, 1.0)
    values, edges = _patch(rows, p, s, np.full(N_Y, data.T[-1]))
    hottest = np.full((N_Y, 2), (data.T[-1], 0.0))
    return _table(
        data,
        dense=with_slopes(values),
        dense_edge=line_with_slope(edges),
        pseudo_critical=hottest,
        dense_y_step=float(y[1]),
        shift=shift,
        scale=scale,
        p_critical=float(low),
        T_critical=data.T[-1],
        p_min=float(low),
        p_max=float(high),
    )


def _table(data: CoolantData, **fields: Any) -> CoolantTable:
    """Return a table of one patch; the other is empty and never looked up."""
    nothing: dict[str, Any] = {
        "dense": np.zeros((2, 2, 6, 4)),
        "dense_edge": np.zeros((2, 2, 2)),
        "liquid": np.zeros((2, 2, 6, 4)),
        "saturation": np.zeros((2, 7, 2)),
        "dense_y_step": 1.0,
        "liquid_y_step": 1.0,
        "centre": 0.5,
        "spread": EVEN,
        "shift": 0.0,
        "scale": 1.0,
        "molar_mass": 0.0,
    }
    temperatures = {"T_min": data.T[0], "T_max": data.T[-1], "T_top": data.T[-1]}
    return CoolantTable(**(nothing | temperatures | fields))


def _patch(rows: _Rows, p: Array, s: Array, top: Array) -> tuple[Array, Array]:
    """Properties (s, p, 6) on isobars up to temperatures ``top`` (p,), and their ends (p, 2)."""
    values = np.empty((s.size, p.size, 6))
    edges = np.empty((p.size, 2))
    for j, pressure in enumerate(p):
        isobar = _Isobar(rows, float(pressure))
        edges[j] = isobar.enthalpy(rows.T[0]), isobar.enthalpy(top[j])
        values[:, j] = isobar.nodes(edges[j, 0] + s * (edges[j, 1] - edges[j, 0]))
    return values, edges


@lru_cache(maxsize=8)
def _liquid(
    data: CoolantData, line: CoolantSaturation, p_critical: float, molar_mass: float
) -> CoolantTable:
    rows = _Rows(data)
    ln_p = np.log(np.array(line.p))
    far, near = (float(np.sqrt(np.log(p_critical) - ln_p[i])) for i in (0, -1))
    # the highest pressure is a node: nothing is asked for beyond it, and the lowest lies in a cell
    first = max(round(N_Y * near / far), 1)
    step = near / first
    y: Array = step * np.arange(int(np.ceil(far / step - 1e-9)) + 1, dtype=np.float64)
    p = p_critical * np.exp(-(y[first:] ** 2))
    T, latent, ln_rho_v, sigma = (
        monotone(ln_p, values)(np.log(p))
        for values in (line.T, line.latent_heat, np.log(line.vapour_density), line.surface_tension)
    )
    T = np.maximum(T, 0.5 * (data.T[0] + line.T[0]))  # the node below the lowest pressure
    xi = np.linspace(0.0, 1.0, 2 * N_XI - 1)
    values, edges = _patch(rows, p, 1.0 - (1.0 - xi) ** 2, T)
    each = zip(p.tolist(), T.tolist(), strict=True)
    rho_l = [_Isobar(rows, one).density(at) for one, at in each]
    scaled = sigma / y[first:] ** SIGMA_POWER
    h_l = edges[:, 1]
    columns = [edges[:, 0], h_l, h_l + latent, T, np.log(rho_l), ln_rho_v, scaled]
    return _table(
        data,
        liquid=_from(first, with_slopes(values), axis=1),
        saturation=_from(first, line_with_slope(np.stack(columns, axis=1)), axis=0),
        pseudo_critical=np.full((2, 2), (line.T[-1], 0.0)),
        liquid_y_step=step,
        p_critical=p_critical,
        T_critical=line.T[-1],
        p_min=line.p[0],
        p_max=line.p[-1],
        molar_mass=molar_mass,
    )


def _from(first: int, nodes: Array, axis: int) -> Array:
    """Nodes with ``first`` unused ones before them, so that node numbers count from y = 0."""
    before = np.repeat(np.take(nodes, [0], axis=axis), first, axis=axis)
    return np.ascontiguousarray(np.concatenate([before, nodes], axis=axis))
