"""The coolant table looked up at many states, for what is worked out after the march."""

from __future__ import annotations

from regen.physics import tables
from regen.physics._jit import jit


@jit
def sound_speeds(table, h, p, out):
    """Fill ``out`` (n,) with the speed of sound [m/s] at enthalpies [J/kg] and pressures [Pa]."""
    for i in range(h.size):
        out[i] = tables.sound_speed(table, h[i], p[i])


@jit
def temperatures(table, h, p, out):
    """Fill ``out`` (n,) with the temperature [K] at enthalpies [J/kg] and pressures [Pa]."""
    for i in range(h.size):
        out[i] = tables.coolant_hp(table, h[i], p[i]).T


@jit
def saturations(table, p, out):
    """Fill ``out`` (n, 6) with the saturation line at pressures [Pa]; see ``tables.saturation``."""
    for i in range(p.size):
        for n, value in enumerate(tables.saturation(table, p[i])):
            out[i, n] = value


@jit
def liquid_states(table, T, p, out):
    """Fill ``out`` (n, 2) with enthalpy [J/kg] and density [kg/m3] at T [K] and p [Pa]."""
    for i in range(T.size):
        out[i, 0] = tables.coolant_h(table, T[i], p[i])[0]
        out[i, 1] = tables.coolant_hp(table, out[i, 0], p[i]).rho


@jit
def boiling_points(table, T, p, out):
    """Fill ``out`` (n, 4) for coolant at T [K] and p [Pa] that is warmed at this pressure.

    Temperature at which it boils, or above the critical pressure passes its heat-capacity peak
    [K]; enthalpy there as liquid, enthalpy now [J/kg] and density now [kg/m3].
    """
    for i in range(T.size):
        out[i, 2] = tables.coolant_h(table, T[i], p[i])[0]
        out[i, 3] = tables.coolant_hp(table, out[i, 2], p[i]).rho
        if p[i] < table.p_critical:
            out[i, 0], out[i, 1] = tables.saturation(table, p[i])[:2]
        else:
            out[i, 0] = tables.pseudo_critical_T(table, p[i])
            out[i, 1] = tables.coolant_h(table, out[i, 0], p[i])[0]
