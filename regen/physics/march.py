"""The march: one compiled kernel for one design and for a million.

Predictor-corrector trapezoid in conservative form along the passage, one wall solve a station:

    h_t2 = h_t1 + (q1 2 pi r1 + q2 2 pi r2) ds/(2 mdot)      total enthalpy h_t = h + u^2/2
    p2   = p1 - (fr1 + fr2) ds/2 - (G1 + G2)/2 (u2 - u1)     fr = f rho u^2/(2 Dh)
    u    = G/rho(h_t - u^2/2, p)                             loss of contraction is choking

Around it, one loop meets a given outlet pressure, the heat that returns with the fuel, and a
coolant flow given as a share of the gas flow. It returns status codes and never raises.
"""

from __future__ import annotations

import math

import numpy as np

from regen.physics import status as st
from regen.physics._dispatch import friction
from regen.physics._jit import jit
from regen.physics.arrays import (
    FLAG_BULK_BEYOND_EOS,
    G_T_AW,
    N_STAGNATION,
    O_ENTHALPY,
    O_FLAGS,
    O_H_COOLANT,
    O_H_GAS,
    O_P_COOLANT,
    O_PR,
    O_Q,
    O_Q_WETTED,
    O_RE,
    O_RHO,
    O_T_AW,
    O_T_COOLANT,
    O_T_WALL_COLD,
    O_T_WALL_HOT,
    O_T_WALL_HOT_MEAN,
    O_V_COOLANT,
    S_CSTAR,
    S_P0,
    S_THROAT_DIAMETER,
    T_GAS_FLOW,
    T_H0,
    T_H_IN,
    T_H_OUT,
    T_HEAT,
    T_MASS_FLOW,
    T_P_IN,
    T_P_OUT,
    T_PASSES,
    T_RESIDUAL,
)
from regen.physics.balance import bulk_state, wall_balance
from regen.physics.friction import jones_factor
from regen.physics.tables import coolant_h

VELOCITY_TOLERANCE = 1e-10
"""Relative change of velocity that ends the fixed point."""

MAX_VELOCITY_STEPS = 40
MAX_PASSES = 60

PRESSURE_TOLERANCE = 1e-7
"""Largest miss of a given outlet pressure over it."""

ENTHALPY_TOLERANCE = 1e-8
"""Largest change of the total enthalpy in one pass over the dissociation scale [1e7 J/kg]."""


@jit
def flow_state(table, h_t, G, u, p_start, u_start, momentum, loss):
    """Return (status, T, bulk, p, u, beyond) at total enthalpy h_t and mass flux G.

    The static pressure is p_start - momentum (u - u_start) - loss rho u^2/2: the momentum term
    serves a step along the passage, the loss term the entry from a plenum at rest (where
    u_start is 0 and momentum is 0). ``u`` is the first guess.
    """
    p = p_start - momentum * (u - u_start) - 0.5 * loss * G * u
    u_old = u
    f_old = u
    for step in range(MAX_VELOCITY_STEPS):
        if p < table.p_min:
            return st.PRESSURE_LOST, 0.0, (0.0, 0.0, 0.0, 0.0), p, u, False
        code, T, bulk, beyond = bulk_state(table, h_t - 0.5 * u * u, p)
        if code != st.OK:
            return code, T, bulk, p, u, beyond
        f = G / bulk[0]
        change = f - u
        if abs(change) <= VELOCITY_TOLERANCE * u:
            return st.OK, T, bulk, p, u, beyond
        u_new = f
        if step > 0:
            gain = (f - f_old) / (u - u_old)
            if gain >= 1.0:
                return st.CHOKED, T, bulk, p, u, beyond
            u_new = u + change / (1.0 - gain)
        u_old = u
        f_old = f
        u = u_new
        p = p_start - momentum * (u - u_start) - 0.5 * loss * G * u
    return st.CHOKED, T, bulk, p, u, beyond


@jit
def _friction_gradient(model, G, u, Dh, mu, phi, roughness):
    """Return dp/ds [Pa/m] of wall friction in a rectangular passage."""
    f = friction(model, Re=phi * G * Dh / mu, roughness=roughness / Dh)
    return f * G * u / (2.0 * Dh)


@jit
def march_once(
    geometry, g, core, stag, layer, layer_T, table, walls, lane, model, p_in, mdot, rows
):
    """March one lane once from its inlet plenum; fill ``rows`` (S, N_STATION_OUT).

    Returns
    -------
    tuple
        (status, station, p_out, h_in, h_out, heat): outlet plenum pressure [Pa], enthalpies
        [J/kg] and the summed wall heat [W] per channel times the number of channels.
    """
    S = geometry.r.shape[1]
    h_t, flag = coolant_h(table, lane["inlet_temperature"], p_in)
    if flag == 1:
        return st.BOILED, 0, 0.0, h_t, h_t, 0.0
    if flag == 3:
        return st.COOLANT_RANGE, 0, 0.0, h_t, h_t, 0.0
    if flag == 4:
        return st.COOLANT_COLD, 0, 0.0, h_t, h_t, 0.0
    h_in = h_t
    flow = mdot * lane["flow_factor"]
    k_liner = walls.liner[lane["wall"]]
    k_closeout = walls.closeout[lane["wall"]]
    roughness = lane["roughness"]
    p = p_in
    u = 0.0
    G = 0.0
    fr = 0.0
    heat_line = 0.0
    heat = 0.0
    x = 0.0
    guess = 50.0
    h_gas = 5e3
    for i in range(S):
        r = geometry.r[g, i]
        w = geometry.width[g, i]
        d = geometry.depth[g, i]
        count = geometry.slots[g, i]
        Dh = 2.0 * w * d / (w + d)
        phi = jones_factor(min(w, d) / max(w, d))
        G_new = flow / (count * w * d)
        ds = geometry.step_passage[g, i]
        x += ds
        half_gas = 0.5 * geometry.step_gas[g, i] / flow
        h_new = h_t + 2.0 * half_gas * heat_line
        if i == 0:
            code, T, bulk, p_new, u_new, beyond = flow_state(
                table, h_new, G_new, G_new / 500.0, p, 0.0, 0.0, 1.0 + lane["inlet_loss"]
            )
        else:
            code, T, bulk, p_new, u_new, beyond = flow_state(
                table, h_new, G_new, u * G_new / G, p - fr * ds, u, 0.5 * (G + G_new), 0.0
            )
        if code != st.OK:
            return code, i, p_new, h_in, h_t, heat
        Re = G_new * Dh / bulk[1]
        Pr = bulk[1] * bulk[3] / bulk[2]
        floor = geometry.floor_radius[g, i]
        pitch = 2.0 * math.pi * floor / count
        code, T_max, T_mean, T_root, q, h_c, h_gas, flags = wall_balance(
            model["gas_side"],
            model["coolant_side"],
            model["boiling"],
            core[i],
            stag,
            layer[i],
            layer_T[0],
            layer_T[1],
            lane["gas_factor"],
            2.0 * r,
            table,
            p_new,
            h_new - 0.5 * u_new * u_new,
            T,
            bulk,
            Re,
            Pr,
            x / Dh,
            Dh,
            w,
            pitch - w,
            d,
            geometry.wall[g, i],
            geometry.closeout[g, i],
            math.pi / count * geometry.cos_slope[g, i],
            r / floor,
            walls.T,
            k_liner,
            k_closeout,
            guess,
            h_gas,
        )
        if code != st.OK:
            return code, i, p_new, h_in, h_t, heat
        guess = T_root - T
        line_new = q * 2.0 * math.pi * r
        fr_new = _friction_gradient(model["friction"], G_new, u_new, Dh, bulk[1], phi, roughness)
        if i > 0:
            step = half_gas * (heat_line + line_new)
            h_t += step
            heat += step * flow
            code, T, bulk, p_new, u_new, beyond = flow_state(
                table, h_t, G_new, u_new, p - 0.5 * (fr + fr_new) * ds, u, 0.5 * (G + G_new), 0.0
            )
            if code != st.OK:
                return code, i, p_new, h_in, h_t, heat
        if beyond:
            flags |= FLAG_BULK_BEYOND_EOS
        p = p_new
        u = u_new
        G = G_new
        fr = fr_new
        heat_line = line_new
        rows[i, O_T_WALL_HOT] = T_max
        rows[i, O_T_WALL_HOT_MEAN] = T_mean
        rows[i, O_T_WALL_COLD] = T_root
        rows[i, O_T_COOLANT] = T
        rows[i, O_P_COOLANT] = p
        rows[i, O_V_COOLANT] = u
        rows[i, O_H_COOLANT] = h_c
        rows[i, O_H_GAS] = h_gas
        rows[i, O_Q] = q
        rows[i, O_Q_WETTED] = h_c * guess
        rows[i, O_ENTHALPY] = h_t - 0.5 * u * u
        rows[i, O_RHO] = bulk[0]
        rows[i, O_RE] = Re
        rows[i, O_PR] = Pr
        rows[i, O_FLAGS] = flags
        rows[i, O_T_AW] = core[i, G_T_AW]
    p_out = p + 0.5 * (1.0 - lane["outlet_loss"]) * G * u
    return st.OK, S, p_out, h_in, h_t, heat


@jit
def at_enthalpy(nodes, values, h0, out):
    """Interpolate ``values`` (H, n) at total enthalpy h0 through all H nodes into ``out`` (n,)."""
    H = nodes.shape[0]
    out[:] = 0.0
    for i in range(H):
        weight = 1.0
        for j in range(H):
            if j != i:
                weight *= (h0 - nodes[j]) / (nodes[i] - nodes[j])
        for n in range(values.shape[1]):
            out[n] += weight * values[i, n]


@jit
def march_lane(geometry, gas, table, walls, lane, model, core, stag, rows, total):
    """Solve one lane, outer loop included; fill ``rows``, ``total``; return (status, station)."""
    S = geometry.r.shape[1]
    g_row = lane["geometry"] if geometry.r.shape[0] > 1 else 0
    g = lane["gas"]
    H = gas.h0.shape[1]
    nodes = gas.h0[g]
    core_nodes = gas.core[g].reshape(H, -1)
    core_flat = core.reshape(-1)
    target = lane["pressure"]
    p_in = target
    p_failed = 0.0
    p_old = 0.0
    p_out_old = math.nan
    h0 = lane["h0"]
    code = st.NOT_CONVERGED
    station = 0
    for step in range(MAX_PASSES):
        if h0 < nodes[0] - 1.0 or h0 > nodes[H - 1] + 1.0:
            if H > 1:
                return st.GAS_RANGE, station
        at_enthalpy(nodes, core_nodes, h0, core_flat)
        at_enthalpy(nodes, gas.stagnation[g], h0, stag)
        throat = 0.25 * math.pi * stag[S_THROAT_DIAMETER] ** 2
        gas_flow = stag[S_P0] * throat / stag[S_CSTAR]
        mdot = lane["mass_flow"]
        if lane["fuel_share"] > 0.0:
            mdot = lane["fuel_share"] * gas_flow
        code, station, p_out, h_in, h_out, heat = march_once(
            geometry,
            g_row,
            core,
            stag,
            gas.layer[g],
            gas.layer_T[g],
            table,
            walls,
            lane,
            model,
            p_in,
            mdot,
            rows,
        )
        total[T_HEAT] = heat
        total[T_MASS_FLOW] = mdot
        total[T_GAS_FLOW] = gas_flow
        total[T_H0] = h0
        total[T_P_IN] = p_in
        total[T_P_OUT] = p_out
        total[T_H_IN] = h_in
        total[T_H_OUT] = h_out
        total[T_PASSES] = step + 1
        if code != st.OK:
            lost = code == st.CHOKED or code == st.PRESSURE_LOST or code == st.BOILED
            if lane["outlet_given"] == 0 or not lost or p_in >= table.p_max:
                return code, station
            p_failed = p_in
            p_in = min(1.5 * p_in, table.p_max)
            p_out_old = math.nan
            continue
        flow = mdot * lane["flow_factor"]
        gained = flow * (h_out - h_in)
        total[T_RESIDUAL] = abs(heat - gained) / gained
        h0_new = lane["h0"] + lane["returns"] * heat / gas_flow
        settled = abs(h0_new - h0) <= ENTHALPY_TOLERANCE * 1e7
        h0 = h0_new
        if lane["outlet_given"] == 1:
            miss = target - p_out
            if abs(miss) > PRESSURE_TOLERANCE * target:
                settled = False
                slope = 1.0
                if p_out_old == p_out_old and p_in != p_old:
                    slope = min(max((p_out - p_out_old) / (p_in - p_old), 0.2), 5.0)
                p_old = p_in
                p_out_old = p_out
                p_in += miss / slope
                if p_in <= p_failed:
                    p_in = 0.5 * (p_old + p_failed)
                p_in = min(max(p_in, table.p_min), table.p_max)
        if settled:
            return st.OK, S
    return st.NOT_CONVERGED, station


@jit
def march(geometry, gas, table, walls, lanes, models, out, status):
    """Solve every lane.

    Parameters
    ----------
    geometry : Geometry
        Channel geometry, (1, S) shared by all lanes or (L, S).
    gas, table, walls : GasStations, CoolantTable, Walls
        Property tables.
    lanes, models : structured arrays (L,)
        Fields of ``arrays.LANE`` and ``arrays.MODEL``.
    out : Out
        Filled in place.
    status : ndarray of int64 (L, 2)
        Code of ``status`` and station index where the lane stopped, filled in place.
    """
    S = geometry.r.shape[1]
    core = np.empty((S, gas.core.shape[3]))
    stag = np.empty(N_STAGNATION)
    for n in range(lanes.shape[0]):
        code, station = march_lane(
            geometry,
            gas,
            table,
            walls,
            lanes[n],
            models[n],
            core,
            stag,
            out.station[n],
            out.total[n],
        )
        status[n, 0] = code
        status[n, 1] = station
