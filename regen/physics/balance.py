"""Wall balance at one station: the wall state at which gas, wall and coolant carry one flux."""

from __future__ import annotations

import math

from regen.physics import status as st
from regen.physics._jit import jit
from regen.physics.arrays import FLAG_WALL_ROOT_LOOSE, G_T_AW
from regen.physics.film import dense_film, gas_flux, liquid_film
from regen.physics.tables import coolant_h, coolant_hp, pseudo_critical_T, saturation
from regen.physics.wall import wall_form

ROOT_TOLERANCE = 1e-9
"""Largest residual of the wall balance over its flux [-]."""

LOOSE_TOLERANCE = 1e-5
"""Residual accepted with a flag when the bracket can shrink no further [-]."""

MAX_STEPS = 100


@jit
def conductivity(T_grid, values, T):
    """Return k [W/(m K)] at T on uniform nodes, held beyond the ends."""
    x = (T - T_grid[0]) / T_grid[1]
    if x <= 0.0:
        return values[0]
    i = int(x)
    if i >= values.shape[0] - 1:
        return values[values.shape[0] - 1]
    return values[i] + (x - i) * (values[i + 1] - values[i])


@jit
def wall_balance(
    gas_model,
    cool_model,
    boil,
    core,
    stag,
    layer,
    layer_start,
    layer_step,
    gas_factor,
    D,
    table,
    p,
    h_b,
    T_b,
    bulk,
    Re,
    Pr,
    x_D,
    Dh,
    w,
    t,
    d,
    t_wall,
    t_closeout,
    taper,
    pitch_ratio,
    T_grid,
    k_liner,
    k_closeout,
    guess,
    h_gas,
):
    """Solve the wall at one station.

    Parameters
    ----------
    guess : float
        First guess of T_root - T_b [K]; h_gas that of the gas film coefficient [W/(m2 K)].
    pitch_ratio : float
        Pitch at the hot surface over pitch at the channel root [-].

    Returns
    -------
    tuple
        (status, T_hot_max, T_hot_mean, T_root, q, h_c, h_g, flags); q on the hot-gas surface.

    Notes
    -----
    Above the critical pressure the unknown is the coolant's enthalpy at the wall, below it the
    wall temperature. A secant kept inside a bracket on which the residual changes sign from plus
    (wall at bulk temperature) to minus (wall at adiabatic wall temperature).
    Conductivities and the gas coefficient in the wall form follow one iterate behind.
    """
    dense = p >= table.p_critical
    T_aw = core[G_T_AW]
    drop = t_wall * (1.0 + 0.5 * (1.0 / pitch_ratio - 1.0))
    k_w = conductivity(T_grid, k_liner, T_b + 1.5 * guess)
    k_l = conductivity(T_grid, k_liner, T_b + 0.5 * guess)
    k_c = conductivity(T_grid, k_closeout, T_b)

    T_sat = 0.0
    T_pc = 0.0
    if dense:
        T_pc = pseudo_critical_T(table, p)
        low = h_b
        T_top = min(T_aw, table.T_top)
        high, _ = coolant_h(table, T_top, p)
        x, _ = coolant_h(table, min(T_b + guess, T_top - 1.0), p)
    else:
        T_sat = saturation(table, p)[0]
        low = T_b
        high = T_aw
        x = min(T_b + guess, T_aw - 1.0)

    bottom = low
    top = high
    T_w = T_b
    T_hot = T_b
    q = 0.0
    h_c = 0.0
    spread = 0.0
    flags = 0
    residual = 0.0
    x_old = low
    r_old = math.nan
    converged = False
    for step in range(MAX_STEPS):
        if dense:
            h_c, T_w, cp_w, flags = dense_film(
                cool_model, table, p, x, h_b, T_b, bulk, Re, Pr, x_D, Dh, T_pc
            )
        else:
            T_w = x
            cp_w = 1.0
            h_c, flags = liquid_film(
                cool_model, boil, table, p, x, T_sat, h_b, T_b, bulk, Re, Pr, x_D, Dh
            )
        if not (h_c > 0.0):
            return st.NO_WALL_ROOT, T_hot, T_hot, T_w, q, h_c, h_gas, flags
        h_eff, spread = wall_form(w, t, d, t_wall, t_closeout, taper, k_w, k_l, k_c, h_c, h_gas)
        q_root = h_eff * (T_w - T_b)
        T_hot = T_w + q_root * drop / k_w
        q = gas_flux(gas_model, T_hot, core, stag, layer, layer_start, layer_step, D, gas_factor)
        residual = q * pitch_ratio - q_root
        if abs(residual) <= ROOT_TOLERANCE * abs(q_root) and step > 0:
            converged = True
            break
        if residual > 0.0:
            low = x
        else:
            high = x
        if high - low <= 1e-7 * (top - bottom):
            # the coefficients that follow one iterate behind have moved the root: open up again
            low = max(bottom, x - 0.05 * (top - bottom))
            high = min(top, x + 0.05 * (top - bottom))
            r_old = math.nan

        h_gas = max(q / max(T_aw - T_hot, 1.0), 1.0)
        k_w = conductivity(T_grid, k_liner, 0.5 * (T_w + T_hot))
        depth = math.sqrt(2.0 * h_c / (k_l * t)) * d
        k_l = conductivity(T_grid, k_liner, T_b + (T_w - T_b) * math.tanh(depth) / depth)

        if r_old == r_old and r_old != residual:
            x_new = x - residual * (x - x_old) / (residual - r_old)
        else:
            stiffness = h_eff + h_gas * pitch_ratio * (1.0 + h_eff * drop / k_w)
            x_new = x + residual / stiffness * cp_w
        x_old = x
        r_old = residual
        if not (low < x_new < high):
            x_new = 0.5 * (low + high)
        x = x_new
    if not converged:
        if abs(residual) > LOOSE_TOLERANCE * abs(q):
            if dense and residual > 0.0 and T_w >= table.T_top - 1.0:
                return st.COOLANT_RANGE, T_hot, T_hot, T_w, q, h_c, h_gas, flags
            return st.NO_WALL_ROOT, T_hot, T_hot, T_w, q, h_c, h_gas, flags
        flags |= FLAG_WALL_ROOT_LOOSE
    T_max = T_hot + spread * (T_w - T_b)
    h_gas = q / max(T_aw - T_hot, 1e-6)
    return st.OK, T_max, T_hot, T_w, q, h_c, h_gas, flags


@jit
def bulk_state(table, h, p):
    """Return (status, T, (rho, mu, k, cp), beyond) of the bulk at static enthalpy and pressure."""
    T, rho, mu, k, cp, flag = coolant_hp(table, h, p)
    code = st.OK
    if flag == 1:
        code = st.BOILED
    elif flag == 3:
        code = st.COOLANT_RANGE
    elif flag == 4:
        code = st.COOLANT_COLD
    return code, T, (rho, mu, k, cp), flag == 2
