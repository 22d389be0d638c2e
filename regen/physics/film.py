"""Heat flux on both sides of the wall at one station, for a trial wall temperature."""

from __future__ import annotations

import math

from regen.physics._dispatch import (
    GAS_SIDE_DRIVE,
    GAS_SIDE_REFERENCE,
    boiling,
    coolant_side,
    gas_side,
)
from regen.physics._jit import jit
from regen.physics.arrays import (
    FLAG_BOILING,
    FLAG_LAMINAR,
    FLAG_WALL_BEYOND_EOS,
    G_AREA_RATIO,
    G_H,
    G_H_AW,
    G_MACH,
    G_P,
    G_T,
    G_T_AW,
    G_U,
    LAYER_CP,
    LAYER_H,
    LAYER_K,
    LAYER_MOLAR_MASS,
    LAYER_MU,
    S_CP,
    S_CSTAR,
    S_GAMMA,
    S_MU,
    S_P0,
    S_PR,
    S_T0,
    S_THROAT_CURVATURE,
    S_THROAT_DIAMETER,
)
from regen.physics.tables import coolant_h, coolant_hp

R_UNIVERSAL = 8.31446261815324
"""Gas constant [J/(mol K)], exact."""

NU_LAMINAR = 3.66
"""Laminar Nusselt number, constant wall temperature; marked by a flag where it is used."""

RE_TURBULENT = 2300.0
"""Reynolds number below which the coolant side is taken as laminar."""


@jit
def layer_value(layer, start, step, T, field):
    """Return a field of the wall layer at T, linear between nodes and beyond the ends."""
    x = (T - start) / step
    i = min(max(int(x), 0), layer.shape[0] - 2)
    return layer[i, field] + (x - i) * (layer[i + 1, field] - layer[i, field])


@jit
def layer_temperature(layer, start, step, h):
    """Return the temperature at which the wall layer has enthalpy h, by bisection on nodes."""
    low = 0
    high = layer.shape[0] - 1
    while high - low > 1:
        middle = (low + high) // 2
        if layer[middle, LAYER_H] > h:
            high = middle
        else:
            low = middle
    rise = layer[low + 1, LAYER_H] - layer[low, LAYER_H]
    return start + step * (low + (h - layer[low, LAYER_H]) / rise)


@jit
def gas_flux(model, T_w, core, stag, layer, start, step, D, factor):
    """Return the heat flux [W/m2] from the gas to a wall of temperature T_w."""
    reference = GAS_SIDE_REFERENCE[model]
    by_enthalpy = GAS_SIDE_DRIVE[model] == 1
    h_w = 0.0
    if by_enthalpy or reference == 2:
        h_w = layer_value(layer, start, step, T_w, LAYER_H)
    Re = 0.0
    Pr = 0.0
    k = 0.0
    cp = stag[S_CP]
    if reference > 0:
        if reference == 1:
            T = 0.5 * (T_w + core[G_T])
        else:
            h_ref = 0.5 * (h_w + core[G_H]) + 0.22 * (core[G_H_AW] - core[G_H])
            T = layer_temperature(layer, start, step, h_ref)
        mu = layer_value(layer, start, step, T, LAYER_MU)
        k = layer_value(layer, start, step, T, LAYER_K)
        cp = layer_value(layer, start, step, T, LAYER_CP)
        rho = core[G_P] * layer_value(layer, start, step, T, LAYER_MOLAR_MASS) / (R_UNIVERSAL * T)
        Re = rho * core[G_U] * D / mu
        Pr = mu * cp / k
    h = factor * gas_side(
        model,
        mu0=stag[S_MU],
        cp0=stag[S_CP],
        Pr0=stag[S_PR],
        gamma0=stag[S_GAMMA],
        p0=stag[S_P0],
        cstar=stag[S_CSTAR],
        T0=stag[S_T0],
        D_throat=stag[S_THROAT_DIAMETER],
        R_throat=stag[S_THROAT_CURVATURE],
        area_ratio=core[G_AREA_RATIO],
        mach=core[G_MACH],
        T_w=T_w,
        Re_ref=Re,
        Pr_ref=Pr,
        k_ref=k,
        D=D,
    )
    if by_enthalpy:
        return h / cp * (core[G_H_AW] - h_w)
    return h * (core[G_T_AW] - T_w)


@jit
def _nusselt(model, Re, Pr, bulk, T_b, T_w, wall_rho, wall_mu, wall_k, wall_cp, cp_bar, x_D, T_pc):
    if Re < RE_TURBULENT:
        return NU_LAMINAR, FLAG_LAMINAR
    nu = coolant_side(
        model,
        Re=Re,
        Pr=Pr,
        Pr_w=wall_mu * wall_cp / wall_k,
        mu_b=bulk[1],
        mu_w=wall_mu,
        T_ratio=max(T_w / T_b, 1.0),
        x_D=x_D,
        k_b=bulk[2],
        k_w=wall_k,
        cp_b=bulk[3],
        cp_bar=cp_bar,
        T_b=T_b,
        T_w=T_w,
        T_pc=T_pc,
        rho_b=bulk[0],
        rho_w=wall_rho,
    )
    return nu, 0


@jit
def dense_film(model, table, p, h_w, h_b, T_b, bulk, Re, Pr, x_D, Dh, T_pc):
    """Return (h_c, T_w, cp_w, flag) above the critical pressure for wall enthalpy h_w.

    ``bulk`` is (rho, mu, k, cp). The wall state is looked up by its enthalpy, so that nothing
    is inverted and one table serves bulk and wall.
    """
    T_w, rho, mu, k, cp, flag = coolant_hp(table, h_w, p)
    rise = T_w - T_b
    cp_bar = (h_w - h_b) / rise if rise > 1e-3 else bulk[3]
    nu, laminar = _nusselt(model, Re, Pr, bulk, T_b, T_w, rho, mu, k, cp, cp_bar, x_D, T_pc)
    beyond = FLAG_WALL_BEYOND_EOS if flag == 2 else 0
    if flag > 2:
        return math.nan, T_w, cp, flag
    return nu * bulk[2] / Dh, T_w, cp, laminar | beyond


@jit
def liquid_film(model, boil, table, p, T_w, T_sat, h_b, T_b, bulk, Re, Pr, x_D, Dh):
    """Return (h_c, flag) below the critical pressure for wall temperature T_w.

    Properties at the wall are those of the liquid at min(T_w, T_sat); above saturation nucleate
    boiling is added as the root of the sum of squares of the two fluxes.
    """
    T_liquid = min(T_w, T_sat)
    h_l, _ = coolant_h(table, T_liquid, p)
    _, rho, mu, k, cp, _ = coolant_hp(table, h_l, p)
    rise = T_liquid - T_b
    cp_bar = (h_l - h_b) / rise if rise > 1e-3 else bulk[3]
    nu, flag = _nusselt(
        model, Re, Pr, bulk, T_b, T_liquid, rho, mu, k, cp, cp_bar, x_D, table.T_critical
    )
    h_c = nu * bulk[2] / Dh
    if T_w > T_sat:
        q_boil = boiling(
            boil,
            dT_sat=T_w - T_sat,
            p=p,
            p_r=p / table.p_critical,
            molar_mass=table.molar_mass,
        )
        q = h_c * (T_w - T_b)
        return math.sqrt(q * q + q_boil * q_boil) / (T_w - T_b), flag | FLAG_BOILING
    return h_c, flag
