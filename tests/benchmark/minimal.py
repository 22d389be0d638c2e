"""The least kernel that solves the demo: a frozen yardstick for the speed of the full one.

The same march in one piece: one closed gas-side form with its wall correction, one coolant-side
form above the critical pressure, Colebrook friction, the closed quasi-two-dimensional wall,
predictor and corrector, one wall solve a station, and a status where the flow chokes or leaves
the table. No choice of correlations, bends, losses between passes, coatings, radiation, boiling,
returned heat, several wall roots, flags. It is compiled as the full kernel is, solves its balance
as closely, and shares with it stations, gas and the lookups of the coolant's table alone.

Frozen: a faster full kernel is no reason to touch this one.

Sources: Bartz 1957; Krasnoshchekov and Protopopov 1959; Colebrook 1939 from Haaland 1983, Jones
1976, as named in regen/data/sources.toml.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.physics import arrays as A
from regen.physics._jit import inlined, jit
from regen.physics.tables import coolant_h, isobar, on_isobar
from regen.solver.prepare import Prepared

OK, CHOKED, LEFT_TABLE, NO_WALL = range(4)

T_HOT, Q, T_BULK, P = range(4)
DROP, T_OUT = range(2)

BALANCE = 1e-5
"""Residual of the wall over its flux before the last step, as in the full kernel."""

FOLLOWS = 3e-5
"""Last change of what follows one iterate behind, as in the full kernel."""

SPOILT = 1e-4
"""Change of what follows above which the slope before is better than a secant."""

VELOCITY = 1e-6
PREDICTED = 1e-3
"""Last change of velocity, for the state that counts and for that of the wall."""

CHUNK = 256


@jit
def _friction(Re, roughness):
    x = -1.8 * math.log10((roughness / 3.7) ** 1.11 + 6.9 / Re)
    a, b, c = roughness / 3.7, 2.51 / Re, 2.0 / math.log(10.0)
    for _ in range(3):
        inner = a + b * x
        x -= (x + c * math.log(inner)) / (1.0 + c * b / inner)
    return 1.0 / (x * x)


@inlined
def _conductivity(T_0, step, values, T):
    x = max((T - T_0) / step, 0.0)
    i = min(int(x), values.size - 2)
    return values[i] + min(x - i, 1.0) * (values[i + 1] - values[i])


@inlined
def _state(table, h_t, G, u, p_start, u_start, momentum, loss, tolerance):
    """Return (status, T, rho, mu, k, cp, p, u) of the bulk."""
    before = found = u
    for step in range(40):
        p = p_start - momentum * (u - u_start) - 0.5 * loss * G * u
        T, rho, mu, k, cp, flag = on_isobar(table, isobar(table, p), h_t - 0.5 * u * u)
        if flag != 0:
            return LEFT_TABLE, T, rho, mu, k, cp, p, u
        new = G / rho
        if abs(new - u) <= tolerance * u:
            return OK, T, rho, mu, k, cp, p, new
        gain = 0.0
        if step > 0:
            gain = (new - found) / (u - before)
            if gain >= 1.0:
                break
        before, found = u, new
        u += (new - u) / (1.0 - gain)
    return CHOKED, T, rho, mu, k, cp, p, u


@inlined
def _pitch(mode, w, t, d, t_closeout, taper, k_w, k_l, k_c, h_c, h_g):
    """Return coefficient of a pitch at the root, spread of the hot wall, mean excess of the land.

    ``mode`` is what the first cosine takes from lengths alone.
    """
    b, sine, s2, ch, sh = mode
    m0 = math.sqrt(2.0 * h_c / (k_l * t))
    th0 = math.tanh(m0 * d)
    tl = t + taper * th0 / m0
    h1 = 1.0 / (1.0 / h_c + tl / (6.0 * k_l))
    h2 = 1.0 / (1.0 / h_c + t_closeout / (3.0 * k_c))
    m = math.sqrt(2.0 * h1 / (k_l * tl))
    mc = math.sqrt(h2 / (k_c * t_closeout))
    tip = 2.0 * k_c * t_closeout * mc * math.tanh(0.5 * mc * w) / (k_l * m * tl)
    th = math.tanh(m * d)
    hf = k_l * m * (th + tip) / (1.0 + tip * th) * tl / t
    half, a = 0.5 * (w + t), 0.5 * w
    H00 = h_c * a + hf * (half - a)
    H01 = (h_c - hf) * sine / b
    H11 = h_c * (0.5 * a + s2) + hf * (0.5 * (half - a) - s2)
    phi = ch + h_g / (k_w * b) * sh
    psi = k_w * b * sh + h_g * ch
    D = 0.5 * psi * half + H11 * phi
    return (H00 - H01 * H01 * phi / D) / half, abs(H01 / D), th0 / (m0 * d)


@jit
def _lane(geometry, g, gas, T_0, table, T_grid, liner, closeout, lane, rows, total):
    """March one lane; ``gas`` (S, 3) is coefficient, Mach rise and adiabatic wall temperature."""
    p = lane["pressure"]
    h_t, _ = coolant_h(table, lane["inlet_temperature"], p)
    rho = on_isobar(table, isobar(table, p), h_t)[1]
    flow = lane["mass_flow"]
    u = G = fr = line = x = 0.0
    rise_h, h_gas, rise_wall, land_mean = 2e5, 5e3, 50.0, 0.5
    gain = 1.0
    before, ds_before = (rise_h, h_gas, rise_wall, land_mean), 0.0
    for i in range(geometry.r.shape[1]):
        r, w, d = geometry.r[g, i], geometry.width[g, i], geometry.depth[g, i]
        count, floor, t_wall = (
            geometry.slots[g, i],
            geometry.floor_radius[g, i],
            geometry.wall[g, i],
        )
        ds = geometry.step_passage[g, i]
        half = 0.5 * geometry.step_gas[g, i] / flow
        Dh = 2.0 * w * d / (w + d)
        aspect = min(w, d) / max(w, d)
        phi = 2.0 / 3.0 + 11.0 / 24.0 * aspect * (2.0 - aspect)
        G_new = flow / (count * w * d)
        x += ds
        if i == 0:
            guess, momentum, loss, tolerance = G_new / rho, 0.0, 1.0 + lane["inlet_loss"], VELOCITY
        else:
            guess, momentum, loss, tolerance = u * G_new / G, 0.5 * (G + G_new), 0.0, PREDICTED
        code, T, rho, mu, k, cp, p_new, u_new = _state(
            table, h_t + 2.0 * half * line, G_new, guess, p - fr * ds, u, momentum, loss, tolerance
        )
        if code != OK:
            return code
        h = h_t + 2.0 * half * line - 0.5 * u_new * u_new
        bar = isobar(table, p_new)
        Re, Pr = G_new * Dh / mu, mu * cp / k
        f8 = (0.79 * math.log(Re) - 1.64) ** -2 / 8.0
        c = 1.07 + 900.0 / Re - 0.63 / (1.0 + 10.0 * Pr)
        smooth = f8 * Re * Pr / (c + 12.7 * math.sqrt(f8) * (Pr ** (2.0 / 3.0) - 1.0)) * k / Dh
        land = 2.0 * math.pi * floor / count - w
        ratio = r / floor
        taper = math.pi / count * geometry.cos_slope[g, i]
        drop = t_wall * (1.0 + 0.5 * (1.0 / ratio - 1.0))
        k_c = _conductivity(T_grid[0], T_grid[1], closeout, T)
        b = 2.0 * math.pi / (w + land)
        grow = math.exp(b * t_wall)
        sines = math.sin(0.5 * b * w), math.sin(b * w) / (4.0 * b)
        mode = b, sines[0], sines[1], 0.5 * (grow + 1.0 / grow), 0.5 * (grow - 1.0 / grow)
        t_closeout = geometry.closeout[g, i]
        h_flow, rise, T_aw = gas[i, 0], gas[i, 1], gas[i, 2]
        low, high = h, bar.high
        if i > 1 and ds > 0.0 and ds_before > 0.0:  # carried on along the passage
            share = ds / ds_before
            now = rise_h, h_gas, rise_wall, land_mean
            if abs(share * (rise_h - before[0])) <= 0.3 * rise_h:
                rise_h += share * (rise_h - before[0])
                h_gas += share * (h_gas - before[1])
                rise_wall += share * (rise_wall - before[2])
                land_mean += share * (land_mean - before[3])
            before = now
        else:
            before = rise_h, h_gas, rise_wall, land_mean
        ds_before = ds
        h_w = min(h + rise_h, 0.5 * (low + high))
        h_old = residual_old = slope = 0.0
        there, was_near = (h_gas, rise_wall, land_mean), False
        solved = False
        for step in range(60):
            T_w, _, mu_w, k_w, cp_w, flag = on_isobar(table, bar, h_w)
            cp_bar = (h_w - h) / (T_w - T) if T_w - T > 1e-3 else cp
            h_c = smooth * (mu / mu_w) ** 0.11 * (k / k_w) ** -0.33 * (cp_bar / cp) ** 0.35
            k_hot = _conductivity(T_grid[0], T_grid[1], liner, T_w + 0.5 * rise_wall)
            k_land = _conductivity(T_grid[0], T_grid[1], liner, T + land_mean * (T_w - T))
            h_eff, spread, mean = _pitch(
                mode, w, land, d, t_closeout, taper, k_hot, k_land, k_c, h_c, h_gas
            )
            q_root = h_eff * (T_w - T)
            T_hot = T_w + q_root * drop / k_hot
            h_new = h_flow * (0.5 * T_hot / T_0 * rise + 0.5) ** -0.68
            q = h_new * (T_aw - T_hot)
            residual = q * ratio - q_root
            moved = max(abs(h_new / h_gas - 1.0), abs((T_hot - T_w - rise_wall) / (T_hot - T)))
            moved = max(moved, abs(mean / land_mean - 1.0))
            near = abs(residual) <= 0.1 * abs(q_root)
            if near:
                h_gas, rise_wall, land_mean = h_new, T_hot - T_w, mean
            stiffness = h_gas * (1.0 + h_eff * drop / k_hot)
            first = -(h_eff + stiffness * ratio) / cp_w
            if step == 0:
                slope = gain * first
            elif h_w != h_old and (moved <= SPOILT or abs(residual) > 0.5 * abs(residual_old)):
                slope = min(
                    max((residual - residual_old) / (h_w - h_old), 4.0 * first), 0.25 * first
                )
            if abs(residual) <= BALANCE * abs(q_root) and moved <= FOLLOWS:
                solved = True
                break
            if not near and residual > 0.0:
                low = h_w
            elif not near:
                high = h_w
            h_next = h_w - residual / slope
            if not low < h_next < high:
                h_next = 0.5 * (low + high)
            here = h_gas, rise_wall, land_mean
            if near and was_near and abs(h_next - h_w) < abs(h_w - h_old):
                share = (h_next - h_w) / (h_w - h_old)
                h_gas += share * (h_gas - there[0])
                rise_wall += share * (rise_wall - there[1])
                land_mean += share * (land_mean - there[2])
            there, was_near = here, near
            h_old, residual_old, h_w = h_w, residual, h_next
        if not solved or flag > 2:
            return NO_WALL
        last = -residual / slope / cp_w
        T_hot += last * (1.0 + h_eff * drop / k_hot) + spread * (T_w + last - T)
        q -= last * stiffness
        rise_h = h_w + last * cp_w - h
        gain = min(max(slope / first, 0.1), 10.0)
        line_new = q * 2.0 * math.pi * r
        f = _friction(phi * Re, lane["roughness"] / Dh)
        fr_new = f * G_new * u_new / (2.0 * Dh)
        if i > 0:
            h_t += half * (line + line_new)
            code, T, rho, mu, k, cp, p_new, u_new = _state(
                table, h_t, G_new, u_new, p - 0.5 * (fr + fr_new) * ds, u, momentum, loss, VELOCITY
            )
            if code != OK:
                return code
        p, u, G, fr, line = p_new, u_new, G_new, fr_new, line_new
        rows[i, T_HOT], rows[i, Q], rows[i, T_BULK], rows[i, P] = T_hot, q, T, p
    p += 0.5 * (1.0 - lane["outlet_loss"]) * G * u
    total[DROP], total[T_OUT] = lane["pressure"] - p, T
    return OK


@jit
def _march(geometry, gas, T_0, table, T_grid, liner, closeout, lanes, rows, totals, status):
    shared = geometry.r.shape[0] == 1
    for n in range(lanes.shape[0]):
        lane = lanes[n]
        own = gas[lane["gas"]]
        status[n] = _lane(
            geometry,
            0 if shared else lane["geometry"],
            own,
            T_0,
            table,
            T_grid,
            liner,
            closeout,
            lane,
            rows[n],
            totals[n],
        )


def gas_of(prepared: Prepared) -> tuple[NDArray[np.float64], float]:
    """Return coefficient without wall, Mach rise and adiabatic wall (1, S, 3), and T0 [K]."""
    core, stag = prepared.gas.core[0, 0], prepared.gas.stagnation[0, 0]
    D, curvature = stag[A.S_THROAT_DIAMETER], stag[A.S_THROAT_CURVATURE]
    rise = 1.0 + 0.5 * (stag[A.S_GAMMA] - 1.0) * core[:, A.G_MACH] ** 2
    transport = stag[A.S_MU] ** 0.2 * stag[A.S_CP] / stag[A.S_PR] ** 0.6
    throat = 0.026 / D**0.2 * transport * (stag[A.S_P0] / stag[A.S_CSTAR]) ** 0.8
    throat *= (D / curvature) ** 0.1
    h = throat * core[:, A.G_AREA_RATIO] ** -0.9 * rise**-0.12
    fitted = np.stack([h, rise, core[:, A.G_T_AW]], axis=-1)
    return np.ascontiguousarray(fitted[None]), float(stag[A.S_T0])


def run(
    prepared: Prepared, lanes: NDArray[Any], *, threads: int = 1
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Return rows (L, S, 4), totals (L, 2) and status (L,) of designs of one hot gas.

    ``lanes`` are those of the full kernel; of their numbers the coolant's feed, losses and
    roughness count.
    """
    gas, T_0 = gas_of(prepared)
    count, stations = lanes.size, gas.shape[1]
    rows, totals = np.zeros((count, stations, 4)), np.zeros((count, 2))
    status = np.zeros(count, dtype=np.int64)
    walls = prepared.walls

    def chunk(start: int) -> None:
        part = slice(start, start + CHUNK)
        _march(
            prepared.geometry,
            gas,
            T_0,
            prepared.coolant,
            walls.T,
            walls.liner[0],
            walls.closeout[0],
            lanes[part],
            rows[part],
            totals[part],
            status[part],
        )

    starts = range(0, count, CHUNK)
    if threads == 1:
        for start in starts:
            chunk(start)
    else:
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(chunk, starts))
    return rows, totals, status
