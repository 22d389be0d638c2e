"""Heat flux on both sides of the wall at one station, for a trial wall temperature."""

from __future__ import annotations

import math

from regen.physics import arrays as A
from regen.physics import tables
from regen.physics._dispatch import COOLANT_SIDE, GAS_SIDE, boiling, coolant_side, gas_side
from regen.physics._jit import inlined, jit
from regen.physics.enhance import entrance_rise
from regen.physics.gasside import station_scaling, throat_scaling
from regen.physics.registry import with_argument, with_trait

R_UNIVERSAL = 8.31446261815324
"""Gas constant [J/(mol K)], exact."""

NU_LAMINAR = 3.66
"""Laminar Nusselt number, constant wall temperature; marked by a flag where it is used."""

RE_TURBULENT = 2300.0
"""Reynolds number below which the coolant side is taken as laminar."""

# what the correlations ask for, by their numbers
DRIVEN_BY_ENTHALPY = with_trait(GAS_SIDE, "drive", "enthalpy")
AT_GAS_FILM = with_trait(GAS_SIDE, "reference", "film")
AT_REFERENCE_ENTHALPY = with_trait(GAS_SIDE, "reference", "enthalpy")
ON_FILM = with_trait(COOLANT_SIDE, "basis", "film")
ON_WALL = with_trait(COOLANT_SIDE, "basis", "wall")
KNOWS_INLET = with_argument(COOLANT_SIDE, "x_D")


@jit
def scale_stations(core, stag, local):
    """Fill ``local`` (S, 3): h_flow and rise of the closed gas-side form, factor on all forms."""
    h_throat = throat_scaling(
        stag[A.S_MU], stag[A.S_CP], stag[A.S_PR], stag[A.S_P0], stag[A.S_CSTAR],
        stag[A.S_THROAT_DIAMETER], stag[A.S_THROAT_CURVATURE],
    )  # fmt: skip
    gamma = stag[A.S_GAMMA]
    for s in range(core.shape[0]):
        area_ratio, mach = core[s, A.G_AREA_RATIO], core[s, A.G_MACH]
        local[s, 0], local[s, 1] = station_scaling(h_throat, gamma, area_ratio, mach)
        local[s, 2] = core[s, A.G_FACTOR]


@jit
def layer_value(gas, i, T, field):
    """Return a field of station i's wall layer at T, linear between nodes and beyond the ends."""
    layer = gas.layer
    x = (T - gas.layer_T[0]) / gas.layer_T[1]
    n = min(max(int(x), 0), layer.shape[1] - 2)
    return layer[i, n, field] + (x - n) * (layer[i, n + 1, field] - layer[i, n, field])


@jit
def layer_temperature(gas, i, h):
    """Return the temperature at which station i's wall layer has enthalpy h."""
    layer = gas.layer
    low = 0
    high = layer.shape[1] - 1
    while high - low > 1:
        middle = (low + high) // 2
        if layer[i, middle, A.LAYER_H] > h:
            high = middle
        else:
            low = middle
    rise = layer[i, low + 1, A.LAYER_H] - layer[i, low, A.LAYER_H]
    return gas.layer_T[0] + gas.layer_T[1] * (low + (h - layer[i, low, A.LAYER_H]) / rise)


@jit
def gas_flux(gas, i, D, T_w):
    """Return the heat flux [W/m2] from the gas at station i to a wall of temperature T_w.

    Convection, and radiation less what the wall sends back.
    """
    core = gas.core
    by_enthalpy = DRIVEN_BY_ENTHALPY[gas.model]
    at_film, at_enthalpy = AT_GAS_FILM[gas.model], AT_REFERENCE_ENTHALPY[gas.model]
    h_w = 0.0
    if by_enthalpy or at_enthalpy:
        h_w = layer_value(gas, i, T_w, A.LAYER_H)
    Re = Pr = k = 0.0
    cp = gas.stag[A.S_CP]
    if at_film or at_enthalpy:
        if at_film:
            T = 0.5 * (T_w + core[i, A.G_T])
        else:
            h_ref = 0.5 * (h_w + core[i, A.G_H]) + 0.22 * (core[i, A.G_H_AW] - core[i, A.G_H])
            T = layer_temperature(gas, i, h_ref)
        mu = layer_value(gas, i, T, A.LAYER_MU)
        k = layer_value(gas, i, T, A.LAYER_K)
        cp = layer_value(gas, i, T, A.LAYER_CP)
        rho = core[i, A.G_P] * layer_value(gas, i, T, A.LAYER_MOLAR_MASS) / (R_UNIVERSAL * T)
        Re = rho * core[i, A.G_U] * D / mu
        Pr = mu * cp / k
    h = gas.local[i, 2] * gas_side(
        gas.model,
        h_flow=gas.local[i, 0],
        rise=gas.local[i, 1],
        T0=gas.stag[A.S_T0],
        T_w=T_w,
        Re_ref=Re,
        Pr_ref=Pr,
        k_ref=k,
        D=D,
        x_eff=core[i, A.G_X_EFF],
    )
    radiated = core[i, A.G_RADIATION] * (1.0 - (T_w / core[i, A.G_T]) ** 4)
    if by_enthalpy:
        return h / cp * (core[i, A.G_H_AW] - h_w) + radiated
    return h * (core[i, A.G_T_AW] - T_w) + radiated


@inlined
def _nusselt(model, stream, p_r, T_w, h_w, rho_w, mu_w, k_w, cp_w, T_pc, film):
    """Return the Nusselt number on the bulk's conductivity and a flag, for a wall state.

    ``film`` is (rho, mu, k, cp) at the film temperature for forms that use it, at the wall for
    all others. Every form's own number is turned to the bulk's conductivity here and nowhere
    else. The property table stays outside: passed on to here, it costs a sixth of the march.
    """
    if stream.Re < RE_TURBULENT:
        return NU_LAMINAR, A.FLAG_LAMINAR
    rise = T_w - stream.T
    cp_bar = (h_w - stream.h) / rise if rise > 1e-3 else stream.cp
    rho_f, mu_f, k_f, cp_f = film
    Re_f = Pr_f = 0.0
    share = 1.0
    if ON_FILM[model] or ON_WALL[model]:
        Re_f = stream.Re * (rho_f * stream.mu) / (stream.rho * mu_f)
        Pr_f = mu_f * cp_f / k_f
        share = k_f / stream.k
    nu = coolant_side(
        model,
        Re=stream.Re,
        Pr=stream.Pr,
        Pr_w=mu_w * cp_w / k_w,
        mu_b=stream.mu,
        mu_w=mu_w,
        T_ratio=max(T_w / stream.T, 1.0),
        x_D=stream.x_D,
        k_b=stream.k,
        k_w=k_w,
        cp_b=stream.cp,
        cp_bar=cp_bar,
        T_b=stream.T,
        T_w=T_w,
        T_pc=T_pc,
        rho_b=stream.rho,
        rho_w=rho_w,
        Re_f=Re_f,
        Pr_f=Pr_f,
        p_r=p_r,
    )
    if stream.entrance > 0.0 and not KNOWS_INLET[model]:
        nu *= entrance_rise(stream.x_D, max(T_w / stream.T, 1.0))
    return nu * share * stream.gain, 0


@inlined
def dense_film(model, table, bar, stream, h_w, T_pc):
    """Return (h_c, T_w, cp_w, flag) above the critical pressure for wall enthalpy h_w.

    The wall state is looked up by its enthalpy, so that nothing is inverted and one table
    serves bulk and wall. h_c is NaN where the wall state lies outside the table.
    """
    T_w, rho, mu, k, cp, flag = tables.on_isobar(table, bar, h_w)
    if flag == tables.FLAG_OUTSIDE or flag == tables.FLAG_TOO_COLD:
        return math.nan, T_w, cp, 0
    p_r = stream.p / table.p_critical
    film = rho, mu, k, cp
    if ON_FILM[model]:
        film = tables.dense_at(table, bar, 0.5 * (T_w + stream.T))
    nu, laminar = _nusselt(model, stream, p_r, T_w, h_w, rho, mu, k, cp, T_pc, film)
    beyond = A.FLAG_WALL_BEYOND_EOS if flag == tables.FLAG_EXTRAPOLATED else 0
    return nu * stream.k / stream.Dh, T_w, cp, laminar | beyond


@jit
def _with_boiling(boil, table, p, h_l, T_w, T_sat, T_b):
    """Return the coefficient of single-phase and boiling flux, root of the sum of squares."""
    if T_w <= T_sat:
        return h_l
    q_boil = boiling(
        boil, dT_sat=T_w - T_sat, p=p, p_r=p / table.p_critical, molar_mass=table.molar_mass
    )
    q = h_l * (T_w - T_b)
    return math.sqrt(q * q + q_boil * q_boil) / (T_w - T_b)


@inlined
def liquid_film(model, boil, table, bar, stream, T_w, T_sat, T_land):
    """Return (h_c, h_side, flag) below the critical pressure for root and land temperatures.

    Properties at the wall are those of the liquid at min(T_w, T_sat). Above saturation nucleate
    boiling is added, at the root for the slot floor and at the land's mean for its sides: a land
    that is below saturation does not boil, and leaves more of the flux to the floor.
    """
    T_liquid = min(T_w, T_sat)
    h, rho, mu, k, cp = tables.liquid_at(table, bar, T_liquid)
    p_r = stream.p / table.p_critical
    film = rho, mu, k, cp
    if ON_FILM[model]:
        _, rho_f, mu_f, k_f, cp_f = tables.liquid_at(table, bar, 0.5 * (T_liquid + stream.T))
        film = rho_f, mu_f, k_f, cp_f
    T_c = table.T_critical
    nu, flag = _nusselt(model, stream, p_r, T_liquid, h, rho, mu, k, cp, T_c, film)
    h_l = nu * stream.k / stream.Dh
    if T_w <= T_sat:
        return h_l, h_l, flag
    h_c = _with_boiling(boil, table, stream.p, h_l, T_w, T_sat, stream.T)
    h_side = _with_boiling(boil, table, stream.p, h_l, T_land, T_sat, stream.T)
    return h_c, h_side, flag | A.FLAG_BOILING
