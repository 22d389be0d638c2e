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
from typing import NamedTuple

from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics import tables
from regen.physics._dispatch import FRICTION, friction
from regen.physics._jit import jit
from regen.physics.balance import AS_DENSE, NEAR_CRITICAL, conductivity, wall_balance
from regen.physics.enhance import norris, one_sided_bend
from regen.physics.film import scale_stations
from regen.physics.friction import jones_factor
from regen.physics.registry import with_argument

VELOCITY_TOLERANCE = 1e-6
"""Largest last change of velocity over it; the secant leaves far less."""

PREDICTOR_TOLERANCE = 1e-3
"""The same for the state at which the wall is solved: the corrector sets the final one."""

BEND_LAG = 15.0
"""Hydraulic diameters over which a bend's secondary flow grows and decays (10 to 20)."""

MOST_BEND = math.log(1.4)
"""Cap on the logarithm of a bend's factor."""

MAX_VELOCITY_STEPS = 40
MAX_PASSES = 60

PRESSURE_TOLERANCE = 1e-7
"""Largest miss of a given outlet pressure over it."""

ENTHALPY_TOLERANCE = 1.0
"""Largest miss of the total enthalpy with the returned heat [J/kg]: less than 1 mK of the gas."""


ASKS_FOR_WALL = with_argument(FRICTION, "rho_ratio")
"""Friction forms, by number, that need the coolant's state at the wall."""


class Flow(NamedTuple):
    """Coolant at one place: outcome, static state, static pressure [Pa] and velocity [m/s]."""

    code: int
    state: tables.State
    p: float
    u: float


@jit
def outcome_of(flag):
    """Return the outcome of a march that meets a coolant state with this flag."""
    if flag == tables.FLAG_TWO_PHASE:
        return st.BOILED
    if flag == tables.FLAG_OUTSIDE:
        return st.COOLANT_RANGE
    if flag == tables.FLAG_TOO_COLD:
        return st.COOLANT_COLD
    return st.OK


@jit
def flow_state(table, h_t, G, u, p_start, u_start, momentum, loss, tolerance):
    """Return the flow at total enthalpy h_t and mass flux G.

    The static pressure is p_start - momentum (u - u_start) - loss rho u^2/2: the momentum term
    serves a step along the passage, the loss term the entry from a plenum at rest (where
    u_start is 0 and momentum is 0). ``u`` is the first guess; the velocity that comes back is
    that of continuity at the returned state.
    """
    p = p_start - momentum * (u - u_start) - 0.5 * loss * G * u
    u_old = f_old = u
    state = tables.State(0.0, 0.0, 0.0, 0.0, 0.0, tables.FLAG_INSIDE)
    for step in range(MAX_VELOCITY_STEPS):
        if p < table.p_min:
            return Flow(st.PRESSURE_LOST, state, p, u)
        state = tables.coolant_hp(table, h_t - 0.5 * u * u, p)
        code = outcome_of(state.flag)
        if code != st.OK:
            return Flow(code, state, p, u)
        f = G / state.rho
        if abs(f - u) <= tolerance * u:
            return Flow(st.OK, state, p, f)
        gain = 0.0
        if step > 0:
            gain = (f - f_old) / (u - u_old)
            if gain >= 1.0:
                break
        u_old, f_old = u, f
        u += (f - u) / (1.0 - gain)
        p = p_start - momentum * (u - u_start) - 0.5 * loss * G * u
    return Flow(st.CHOKED, state, p, u)


@jit
def _ahead(now, before, share):
    """Return the seed carried on along the passage, or as it is where it changes fast."""
    if abs(share * (now.rise_T - before.rise_T)) > 0.3 * now.rise_T:
        return now
    return A.Seed(
        now.rise_T + share * (now.rise_T - before.rise_T),
        now.rise_h + share * (now.rise_h - before.rise_h),
        now.h_gas + share * (now.h_gas - before.h_gas),
        now.rise_wall + share * (now.rise_wall - before.rise_wall),
        now.land_mean + share * (now.land_mean - before.land_mean),
        now.gain,
    )


@jit
def _at_wall(table, p, T_wall, rho, mu):
    """Return density and viscosity of the coolant at the wall over those of the bulk.

    Lookups that the march calls anyway: others, copied in, cost it a fifth though seldom taken.
    """
    h, _ = tables.coolant_h(table, T_wall, p)  # a liquid's is held at saturation
    _, rho_w, mu_w, _, _, _ = tables.coolant_hp(table, h, p)
    return rho_w / rho, mu_w / mu


@jit
def _lagged_bend(before, Re, Dh, bend, ds):
    """Return (log of the bend's factor on heat, factor on friction) after a step.

    The secondary flow grows and decays along the passage: the logarithm follows that of a long
    bend with a length of BEND_LAG diameters, and is capped.
    """
    if bend == 0.0 and before == 0.0:
        return 0.0, 1.0
    log = math.log(one_sided_bend(Re, 0.5 * Dh * bend))
    log = min(max(log, -MOST_BEND), MOST_BEND)
    after = log + (before - log) * math.exp(-ds / (BEND_LAG * Dh))
    return after, math.exp(abs(after))


@jit
def _rough_gain(model, Re, roughness, Pr):
    """Return the factor of a rough wall on the Nusselt number."""
    rough = friction(model, Re=Re, roughness=roughness, rho_ratio=1.0, mu_ratio=1.0)
    smooth = friction(model, Re=Re, roughness=0.0, rho_ratio=1.0, mu_ratio=1.0)
    return norris(rough / smooth, Pr)


class Pass(NamedTuple):
    """One march: outcome, station reached, outlet plenum [Pa], enthalpies [J/kg], heat [W]."""

    code: int
    station: int
    p_out: float
    h_in: float
    h_out: float
    heat: float


@jit
def _section(geometry, g, i):
    """Return one pitch of the wall at a station."""
    floor = geometry.floor_radius[g, i]
    pitch = math.pi * geometry.share[g, i] / geometry.slots[g, i]
    return A.Section(
        geometry.width[g, i],
        2.0 * math.pi * floor * geometry.share[g, i] / geometry.slots[g, i] - geometry.width[g, i],
        geometry.depth[g, i],
        geometry.wall[g, i],
        geometry.closeout[g, i],
        pitch * geometry.cos_slope[g, i],
        geometry.r[g, i] / floor,
        geometry.resistance[g, i],
    )


@jit
def _held_as_dense(gas, i, D, model, table, stream, section, metal, seed, look, wall):
    """Return the hotter of the wall and that of the dense fluid: see ``balance.NEAR_CRITICAL``."""
    p = AS_DENSE * table.p_critical
    h, _ = tables.coolant_h(table, stream.T, p)
    as_dense = A.Stream(
        p, h, stream.T, stream.rho, stream.mu, stream.k, stream.cp, stream.Re, stream.Pr,
        stream.x_D, stream.Dh, stream.gain, stream.entrance,
    )  # fmt: skip
    dense = wall_balance(
        gas, i, D, model, table, tables.isobar(table, p), as_dense, section, metal, seed, look
    )
    if dense.code != st.OK or dense.T_max > wall.T_max:
        return dense, A.FLAG_NEAR_CRITICAL
    return wall, 0


@jit
def march_once(geometry, g, gas, table, walls, run, model, p_in, mdot, look, rows):
    """March one run once from its inlet plenum; fill ``rows`` (S, N_STATION_OUT).

    ``look`` is False where stations are not looked at for several wall roots.
    """
    S = geometry.r.shape[1]
    h_t, flag = tables.coolant_h(table, run["inlet_temperature"], p_in)
    code = outcome_of(flag)
    if code != st.OK:
        return Pass(code, 0, 0.0, h_t, h_t, 0.0)
    h_in = h_t
    flow = mdot * run["flow_factor"]
    k_liner = walls.liner[run["wall"]]
    k_closeout = walls.closeout[run["wall"]]
    roughness = run["roughness"]
    p = p_in
    u = G = fr = 0.0
    heat = heat_line = 0.0
    x = bend_log = 0.0
    ds_before = 1.0
    rho = tables.coolant_hp(table, h_in, p_in).rho
    seed = now = A.Seed(50.0, 2e5, 5e3, 50.0, 0.5, 1.0)
    for i in range(S):
        r = geometry.r[g, i]
        w = geometry.width[g, i]
        d = geometry.depth[g, i]
        Dh = 2.0 * w * d / (w + d)
        phi = jones_factor(min(w, d) / max(w, d))
        G_new = flow / (geometry.slots[g, i] * w * d)
        ds = geometry.step_passage[g, i]
        x += ds
        half_gas = 0.5 * geometry.step_gas[g, i] / flow
        h_new = h_t + 2.0 * half_gas * heat_line
        if geometry.plenum[g, i] > 0.0:
            if i > 0:
                p += 0.5 * (1.0 - run["outlet_loss"]) * G * u
                u = fr = x = bend_log = 0.0
            u_guess, momentum, loss = G_new / rho, 0.0, 1.0 + run["inlet_loss"]
            tolerance = VELOCITY_TOLERANCE
        else:
            u_guess, momentum, loss = u * G_new / G, 0.5 * (G + G_new), 0.0
            tolerance = PREDICTOR_TOLERANCE
            p -= 0.5 * geometry.loss[g, i] * G * u
        at = flow_state(table, h_new, G_new, u_guess, p - fr * ds, u, momentum, loss, tolerance)
        if at.code != st.OK:
            # from a dense fluid past the dome: not boiling
            past_dome = at.code == st.BOILED and p >= table.p_critical
            code = st.GAS_COOLANT if past_dome else at.code
            return Pass(code, i, at.p, h_in, h_t, heat)
        T, rho, mu, k, cp, _ = at.state
        Re = G_new * Dh / mu
        Pr = mu * cp / k
        bend_log, bend = _lagged_bend(bend_log, Re, Dh, geometry.bend[g, i], ds)
        gain = math.exp(bend_log if run["curve_gain"] > 0.0 else min(bend_log, 0.0))
        if run["rough_gain"] > 0.0:
            gain *= _rough_gain(model["friction"], phi * Re, roughness / Dh, Pr)
        stream = A.Stream(
            at.p, h_new - 0.5 * at.u * at.u, T, rho, mu, k, cp, Re, Pr, x / Dh, Dh, gain,
            run["entrance"],
        )  # fmt: skip
        before = now
        now = seed
        if i > 1 and ds > 0.0 and ds_before > 0.0:
            seed = _ahead(now, before, ds / ds_before)
        ds_before = ds
        section = _section(geometry, g, i)
        metal = A.Metal(walls.T, k_liner, conductivity(walls.T, k_closeout, T))
        bar = tables.isobar(table, at.p)
        wall = wall_balance(gas, i, 2.0 * r, model, table, bar, stream, section, metal, seed, look)
        held = 0
        if wall.code == st.OK and bar.dense == 0 and at.p > NEAR_CRITICAL * table.p_critical:
            wall, held = _held_as_dense(
                gas, i, 2.0 * r, model, table, stream, section, metal, seed, look, wall
            )
        if wall.code != st.OK:
            return Pass(wall.code, i, at.p, h_in, h_t, heat)
        flags = wall.flags | held
        seed = wall.seed
        line_new = wall.q * 2.0 * math.pi * r * geometry.share[g, i]
        rho_ratio = mu_ratio = 1.0
        if ASKS_FOR_WALL[model["friction"]]:
            rho_ratio, mu_ratio = _at_wall(table, at.p, wall.T_root, rho, mu)
        Re_effective = phi * G_new * Dh / mu
        f = friction(model["friction"], Re_effective, roughness / Dh, rho_ratio, mu_ratio)
        fr_new = bend * f * G_new * at.u / (2.0 * Dh)  # dp/ds [Pa/m]
        if i > 0:
            step = half_gas * (heat_line + line_new)
            h_t += step
            heat += step * flow
            p_mean = p - 0.5 * (fr + fr_new) * ds
            at = flow_state(table, h_t, G_new, at.u, p_mean, u, momentum, loss, VELOCITY_TOLERANCE)
            if at.code != st.OK:
                return Pass(at.code, i, at.p, h_in, h_t, heat)
            rho = at.state.rho
        if at.state.flag == tables.FLAG_EXTRAPOLATED:
            flags |= A.FLAG_BULK_BEYOND_EOS
        p = at.p
        u = at.u
        G = G_new
        fr = fr_new
        heat_line = line_new
        rows[i, A.O_T_WALL_HOT] = wall.T_max
        rows[i, A.O_T_WALL_HOT_MEAN] = wall.T_mean
        rows[i, A.O_T_WALL_COLD] = wall.T_root
        rows[i, A.O_T_COOLANT] = at.state.T
        rows[i, A.O_P_COOLANT] = p
        rows[i, A.O_V_COOLANT] = u
        rows[i, A.O_H_COOLANT] = wall.h_c
        rows[i, A.O_H_GAS] = wall.h_gas
        rows[i, A.O_Q] = wall.q
        rows[i, A.O_Q_WETTED] = wall.q_wetted
        rows[i, A.O_ENTHALPY] = h_t - 0.5 * u * u
        rows[i, A.O_RHO] = rho
        rows[i, A.O_RE] = Re
        rows[i, A.O_PR] = Pr
        rows[i, A.O_FLAGS] = flags
        rows[i, A.O_T_AW] = gas.core[i, A.G_T_AW]
        rows[i, A.O_T_SURFACE] = wall.T_surface
    p_out = p + 0.5 * (1.0 - run["outlet_loss"]) * G * u
    return Pass(st.OK, S, p_out, h_in, h_t, heat)


@jit
def _weight(nodes, i, h0):
    """Return the weight of node i in the polynomial through all nodes, at h0."""
    weight = 1.0
    for j in range(nodes.shape[0]):
        if j != i:
            weight *= (h0 - nodes[j]) / (nodes[i] - nodes[j])
    return weight


@jit
def gas_at(gas, g, h0, core, stag):
    """Interpolate gas set g at total enthalpy h0 into core (S, N_CORE) and stag (N_STAGNATION)."""
    nodes = gas.h0[g]
    core[:, :] = 0.0
    stag[:] = 0.0
    for i in range(nodes.shape[0]):
        weight = _weight(nodes, i, h0)
        for n in range(stag.shape[0]):
            stag[n] += weight * gas.stagnation[g, i, n]
        for s in range(core.shape[0]):
            for n in range(core.shape[1]):
                core[s, n] += weight * gas.core[g, i, s, n]


@jit
def _local(core, stag, run, model, local):
    """Fill ``local`` as ``scale_stations`` does, with the run's own factors on all forms."""
    throat = run["throat_factor"]
    rise = run["barrel_factor"] - throat
    scale_stations(core, stag, local)
    for s in range(core.shape[0]):
        barrel = core[s, A.G_BARREL]
        fitted = (throat + barrel * rise) * (barrel + (1.0 - barrel) * model["throat_factor"])
        local[s, 2] = run["gas_factor"] * local[s, 2] * fitted


@jit
def _between(too_low, too_high, p_max):
    """Return a pressure between one too low and one too high, which may not be known yet."""
    if too_high == math.inf:
        return min(1.5 * too_low, p_max)
    return 0.5 * (too_low + too_high)


@jit
def march_run(geometry, gas, table, walls, run, model, core, stag, local, rows, total):
    """Solve one run, outer loop included; fill ``rows``, ``total``; return (status, station)."""
    S = geometry.r.shape[1]
    g_row = run["geometry"] if geometry.r.shape[0] > 1 else 0
    g = run["gas"]
    H = gas.h0.shape[1]
    nodes = gas.h0[g]
    target = run["pressure"]
    p_in = target
    too_low, too_high = table.p_min, math.inf
    p_old = 0.0
    p_out_old = math.nan
    h0 = run["h0"]
    h0_old = h0_new_old = h0
    code = st.NOT_CONVERGED
    station = 0
    for step in range(MAX_PASSES):
        if H > 1 and (h0 < nodes[0] - 1.0 or h0 > nodes[H - 1] + 1.0):
            return st.GAS_RANGE, station
        gas_at(gas, g, h0, core, stag)
        _local(core, stag, run, model, local)
        throat = 0.25 * math.pi * stag[A.S_THROAT_DIAMETER] ** 2
        gas_flow = stag[A.S_P0] * throat / stag[A.S_CSTAR]
        mdot = run["mass_flow"]
        if run["fuel_share"] > 0.0:
            mdot = run["fuel_share"] * gas_flow
        side = A.GasSide(model["gas_side"], core, stag, gas.layer[g], gas.layer_T[g], local)
        # the first inlet tried for an outlet is never the answer
        look = step > 0 or run["outlet_given"] == 0
        code, station, p_out, h_in, h_out, heat = march_once(
            geometry, g_row, side, table, walls, run, model, p_in, mdot, look, rows
        )
        total[A.T_HEAT] = heat
        total[A.T_MASS_FLOW] = mdot * run["flow_factor"]
        total[A.T_GAS_FLOW] = gas_flow
        total[A.T_H0] = h0
        total[A.T_P_IN] = p_in
        total[A.T_P_OUT] = p_out
        total[A.T_H_IN] = h_in
        total[A.T_H_OUT] = h_out
        total[A.T_PASSES] = step + 1
        if code != st.OK:
            lost = code in (st.CHOKED, st.PRESSURE_LOST, st.BOILED, st.GAS_COOLANT)
            if run["outlet_given"] == 0 or not lost or p_in >= table.p_max:
                return code, station
            if too_high - p_in <= 1e-6 * p_in:
                return code, station  # even the lowest inlet that flows leaves more than asked
            too_low = max(too_low, p_in)
            p_in = _between(too_low, too_high, table.p_max)
            p_out_old = math.nan
            continue
        h0_new = run["h0"] + run["returns"] * heat / gas_flow
        settled = abs(h0_new - h0) <= ENTHALPY_TOLERANCE
        gain = 0.0
        if h0 != h0_old:
            gain = min(max((h0_new - h0_new_old) / (h0 - h0_old), -0.5), 0.5)
        h0_old, h0_new_old = h0, h0_new
        h0 += (h0_new - h0) / (1.0 - gain)
        if run["outlet_given"] == 1:
            miss = target - p_out
            if abs(miss) > PRESSURE_TOLERANCE * target:
                settled = False
                slope = 1.0
                if p_out_old == p_out_old and p_in != p_old:
                    slope = min(max((p_out - p_out_old) / (p_in - p_old), 0.2), 50.0)
                p_old, p_out_old = p_in, p_out
                if miss > 0.0:
                    too_low = max(too_low, p_in)
                else:
                    too_high = min(too_high, p_in)
                if too_high - too_low <= 1e-9 * p_in:  # the returned heat has moved the answer
                    too_low, too_high = table.p_min, math.inf
                p_in += miss / slope
                if not (too_low < p_in < too_high) or p_in > table.p_max:
                    p_in = _between(too_low, too_high, table.p_max)
        if settled:
            return st.OK, S
    return st.NOT_CONVERGED, station


@jit
def march(geometry, gas, table, walls, runs, models, core, stag, local, out, status):
    """Solve every run.

    Parameters
    ----------
    geometry : Geometry
        Channel geometry, (1, S) shared by all runs or (L, S).
    gas, table, walls : GasStations, CoolantTable, Walls
        Property tables.
    runs, models : structured arrays (L,)
        Fields of ``arrays.RUN`` and ``arrays.MODEL``.
    core, stag, local : ndarray (S, N_CORE), (N_STAGNATION,) and (S, 3)
        Room for the gas of one run [SI].
    out : Out
        Filled in place.
    status : ndarray of int64 (L, 2)
        Code of ``status`` and index of the station where it stopped [-], filled in place.
    """
    for n in range(runs.shape[0]):
        rows, total = out.station[n], out.total[n]
        status[n, 0], status[n, 1] = march_run(
            geometry, gas, table, walls, runs[n], models[n], core, stag, local, rows, total
        )
