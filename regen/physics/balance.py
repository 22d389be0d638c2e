"""Wall balance at one station: the wall state at which gas, wall and coolant carry one flux."""

from __future__ import annotations

import math

from regen.physics import status as st
from regen.physics._dispatch import COOLANT_SIDE_BASIS
from regen.physics._jit import inlined, jit
from regen.physics.arrays import (
    FLAG_BOILING,
    FLAG_NO_HEAT,
    FLAG_SEVERAL_ROOTS,
    FLAG_WALL_ROOT_LOOSE,
    G_T_AW,
    Seed,
)
from regen.physics.film import dense_film, gas_flux, liquid_film
from regen.physics.tables import pseudo_critical_T, saturation_temperature
from regen.physics.wall import first_mode, wall_form

ROOT_TOLERANCE = 1e-5
"""Residual of the wall balance over its flux before the last step, which leaves about 1e-7."""

FOLLOW_TOLERANCE = 3e-5
"""Largest last change of what follows the iterate, over itself; a hundredth reaches the flux."""

SPOILS_SECANT = 1e-4
"""Change of what follows above which a secant is worth less than the slope before it [-]."""

LOOSE_TOLERANCE = 1e-4
"""Residual accepted with a flag when the bracket can shrink no further [-]."""

LOOSE_FOLLOW = 1e-3
"""Miss of what follows that is worth a flag: it moves the wall by less than 0.1 K [-]."""

CLOSE = 0.1
"""Residual over flux below which what follows the iterate is brought up to date [-]."""

LEAST_DRIVE = 1.0
"""Adiabatic wall above coolant below which no heat is taken to flow [K]."""

SCAN = 96
"""Places at which the balance is looked at where it may have several roots.

Of random hydrogen states in which a form on film properties has several roots by 600 places, 48
places in this spacing see 78 %; 96 were not counted so. Roots that slip through need not lie close
together: on a coarser grid they were some 110 K apart.
"""

SEVERAL_BULK = 1.0
SEVERAL_PRESSURE = 1.7
SEVERAL_PRESSURE_FILM = 4.5
"""Bulk over pseudo-critical temperature and pressure over critical below which it may have.

Counted by brute force on a flat wall, roots more than 5 K apart: on film properties (hydrogen,
120 000 states) bulk below 0.96 and pressure below 4.3; default members of the bands (720 000) bulk
to 0.91 and pressure to 1.68; all forms on bulk or wall properties (1 440 000) pressure to 2.54, so
that 3 % of theirs with several roots lie outside. Below the critical pressure nothing was counted.
"""

NEAR_CRITICAL = 0.9
"""Pressure over critical above which a boiling wall is held against that of the dense fluid [-].

The general form of nucleate boiling ends there (cooper1984), and what cools the wall better than
the dense fluid just above the critical pressure has no data. The hotter of both is the wall.
"""

AS_DENSE = 1.01
"""Pressure over critical of that dense fluid [-]: at 1 the heat capacity is infinite."""

MAX_STEPS = 100
PATIENCE = 20
"""Steps after which nothing follows any more and every second step halves the bracket."""


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


@inlined
def _trial(
    gas, i, D, cool_model, boil, table, bar, stream, section, mode, T_grid, k, k_c,
    T_special, drop, cover, x, h_gas, rise_wall, land_mean,
):  # fmt: skip
    """Return both sides of the balance for a trial x, enthalpy or temperature at the wetted wall.

    ``T_special`` is the pseudo-critical temperature of a dense coolant, the saturation
    temperature of a liquid.
    """
    if bar.dense == 1:
        h_c, T_w, cp_w, flags = dense_film(cool_model, table, bar, stream, x, T_special)
        h_side = h_c
    else:
        T_w = x
        cp_w = 1.0
        T_land = stream.T + land_mean * (T_w - stream.T)
        h_c, h_side, flags = liquid_film(
            cool_model, boil, table, bar, stream, T_w, T_special, T_land
        )
    k_wall = conductivity(T_grid, k, T_w + 0.5 * rise_wall)
    k_land = conductivity(T_grid, k, stream.T + land_mean * (T_w - stream.T))
    h_eff, spread, floor, mean_new = wall_form(
        mode, section.width, section.land, section.depth, section.closeout, section.taper,
        k_wall, k_land, k_c, h_c, h_side, h_gas,
    )  # fmt: skip
    q_root = h_eff * (T_w - stream.T)
    T_hot = T_w + q_root * drop / k_wall
    q = gas_flux(gas, i, D, T_hot + q_root * cover)
    return h_c, T_w, cp_w, flags, k_wall, h_eff, spread, floor, mean_new, q_root, T_hot, q


@jit
def wall_balance(
    gas, i, D, cool_model, boil, table, bar, stream, section, T_grid, k, k_c, seed, look
):
    """Solve the wall at one station.

    Parameters
    ----------
    gas : GasSide
        Hot gas of the run; i is the station and D its diameter [m].
    cool_model, boil : int
        Ids of the coolant-side and the boiling correlation [-].
    table, bar : CoolantTable, Isobar
        Coolant and the place of its pressure.
    stream, section : Stream, Section
        Coolant bulk and one pitch of wall.
    T_grid, k : ndarray
        Temperature nodes (start, step) [K] and the liner's conductivity there [W/(m K)].
    k_c : float
        Conductivity of the closeout [W/(m K)].
    seed : Seed
        From the station before.
    look : int
        0 if several roots need not be looked for: a trial that is not the answer [-].

    Returns
    -------
    tuple
        (status, T_hot_max, T_hot_mean, T_root, T_surface, q, q_wetted, h_c, h_gas, flags, seed);
        temperatures of the hot wall are those of its metal, T_surface is the mean of what covers
        it; q on the hot-gas surface, q_wetted at the slot floor, h_gas from gas to metal.

    Notes
    -----
    Above the critical pressure the unknown is the coolant's enthalpy at the wall, below it the
    wall temperature. A secant is kept inside a bracket on which the residual falls from plus
    (wall at bulk temperature) to minus (wall at adiabatic wall temperature). Three weak
    quantities follow one iterate behind: the gas coefficient in the wall form, and the places in
    hot wall and land at which their conductivities are taken. That moves the root a little, so
    the bracket opens again each time. Should they fail to settle, they are left as they are, and
    the station is flagged if they are far off.

    A coating or deposit is a resistance between gas and metal: the gas meets the surface that
    the flux through the wall asks for, so that nothing is nested. Where the gas beside the wall
    is no hotter than the coolant (a liquid film), the station is adiabatic and flagged.
    """
    T_aw = gas.core[i, G_T_AW]
    T_b = stream.T
    if T_aw <= T_b + LEAST_DRIVE:
        T_special = pseudo_critical_T(table, stream.p)
        if bar.dense == 1:
            h_c = dense_film(cool_model, table, bar, stream, stream.h, T_special)[0]
        else:
            h_c = liquid_film(cool_model, boil, table, bar, stream, T_b, T_b, T_b)[0]
        return st.OK, T_b, T_b, T_b, T_b, 0.0, 0.0, h_c, 0.0, FLAG_NO_HEAT, seed
    cover = section.resistance / section.pitch_ratio
    drop = section.wall * (1.0 + 0.5 * (1.0 / section.pitch_ratio - 1.0))
    mode = first_mode(section.width, section.land, section.wall)
    h_gas, rise_wall, land_mean = seed.h_gas, seed.rise_wall, min(seed.land_mean, 1.0)
    dense = bar.dense == 1
    scan = 0
    roots = 0
    hotter = 0.0
    end = 0.0
    span = 0.0
    z_low = 0.0
    z_high = 0.0
    if dense:
        T_special = pseudo_critical_T(table, stream.p)
        bottom = stream.h
        top = bar.low + (1.0 - 1e-9) * (bar.high - bar.low)
        end = top
        x = bottom + min(seed.rise_h, 0.9 * (top - bottom))
        of_film = COOLANT_SIDE_BASIS[cool_model] == 1
        most = SEVERAL_PRESSURE_FILM if of_film else SEVERAL_PRESSURE
        near = stream.T < SEVERAL_BULK * T_special and stream.p < most * table.p_critical
        if near and look > 0:
            scan = SCAN + 1
            span = bar.high - bar.low
            z_low = math.asinh(((bottom - bar.low) / span - table.centre) / table.spread)
            z_high = math.asinh((1.0 - table.centre) / table.spread)
    else:
        T_special = saturation_temperature(table, bar)
        bottom = stream.T
        top = T_aw
        x = bottom + min(seed.rise_T, 0.9 * (top - bottom))
    low = bottom
    high = top
    start = x
    if scan > 0:
        hotter = x_old = top
    else:
        x_old = x
    r_old = 0.0
    slope = 0.0
    stiffness = 1.0
    there = (h_gas, rise_wall, land_mean)
    known = False
    status = st.NO_WALL_ROOT
    for step in range(-scan, MAX_STEPS):
        if step < 0:
            # from the hot end, in the table's own spacing: close where properties change fast
            z = z_low + (z_high - z_low) * (-(step + 1) / SCAN) ** 1.5
            s = table.centre + table.spread * math.sinh(z)
            x = min(max(bar.low + span * s, bottom), top)
        h_c, T_w, cp_w, flags, k_wall, h_eff, spread, floor, mean_new, q_root, T_hot, q = _trial(
            gas, i, D, cool_model, boil, table, bar, stream, section, mode, T_grid, k, k_c,
            T_special, drop, cover, x, h_gas, rise_wall, land_mean,
        )  # fmt: skip
        if not (h_c > 0.0):
            break
        residual = q * section.pitch_ratio - q_root
        if step < 0:
            # what follows the iterate moves the root: a place more on either side, of the same sign
            if roots == 1 and low == x_old and residual > 0.0:
                low = x
            if residual * r_old < 0.0:
                roots += 1
                if roots == 1:
                    low = x
                    high = hotter
            hotter = x_old
            x_old = x
            r_old = residual
            if step == -1:
                x = start
                if roots > 1:
                    bottom = low
                    top = high
                    x = 0.5 * (low + high)
                low = bottom
                high = top
            continue
        scale = abs(q_root) + 1.0
        moved = 0.0
        if abs(residual) <= CLOSE * scale and T_hot < T_aw - 1.0 and step <= PATIENCE:
            h_new = max(q / (T_aw - T_hot), 1.0)
            moved = max(
                abs(h_new / h_gas - 1.0),
                abs(T_hot - T_w - rise_wall) / (T_hot - stream.T),
                abs(mean_new / land_mean - 1.0),
            )
            h_gas, rise_wall = h_new, T_hot - T_w
            # a boiling land cools itself and then boils less: taken whole, that swings for long
            land_mean = 0.5 * (land_mean + mean_new) if flags & FLAG_BOILING else mean_new
        bare = h_gas / max(1.0 - h_gas * section.resistance, 1e-3)
        yields = bare * (1.0 + h_eff * (drop / k_wall + cover))
        stiffness = (h_eff + yields * section.pitch_ratio) / cp_w
        if step == 0:
            slope = -seed.gain * stiffness
        elif x != x_old and (moved <= SPOILS_SECANT or abs(residual) > 0.5 * abs(r_old)):
            secant = (residual - r_old) / (x - x_old)
            slope = min(max(secant, 4.0 * slope), 0.25 * slope)
        if abs(residual) <= ROOT_TOLERANCE * scale and moved <= FOLLOW_TOLERANCE:
            status = st.OK
            if step > PATIENCE and abs(mean_new / land_mean - 1.0) > LOOSE_FOLLOW:
                flags |= FLAG_WALL_ROOT_LOOSE
            if roots > 1:
                flags |= FLAG_SEVERAL_ROOTS
            break
        lost = high - low <= 1e-6 * (end - stream.h) and abs(residual) > LOOSE_TOLERANCE * scale
        if roots > 1 and top < end and (lost or (x == top and residual > 0.0)):
            # the hottest two have met and gone while the rest settled: what is left is sought anew
            bottom, top = stream.h, end
            low, high = bottom, top
            x_old, r_old = x, residual
            x = min(start, 0.5 * (low + high))
            continue
        if dense and x == top and residual > 0.0:
            status = st.COOLANT_RANGE
            break
        if moved > 0.0:
            low = bottom
            high = top
        elif residual > 0.0:
            low = x
        else:
            high = x
        if high - low <= 1e-13 * abs(high):
            if abs(residual) <= LOOSE_TOLERANCE * scale:
                status = st.OK
                flags |= FLAG_WALL_ROOT_LOOSE
            break
        x_new = x - residual / slope
        if x_new >= high and high == top and dense:
            x_new = top
        elif not (low < x_new < high) or (step > PATIENCE and step % 2 == 1):
            x_new = 0.5 * (low + high)
        here = (h_gas, rise_wall, land_mean)
        if moved > 0.0 and known and abs(x_new - x) < abs(x - x_old):
            share = (x_new - x) / (x - x_old)
            h_gas += share * (h_gas - there[0])
            rise_wall += share * (rise_wall - there[1])
            land_mean = min(land_mean + share * (land_mean - there[2]), 1.0)
        there = here
        known = moved > 0.0
        x_old = x
        r_old = residual
        x = x_new
    if status == st.OK:
        # the last step needs no more looking up: the gas gives by its own slope
        last = -residual / slope / cp_w
        T_w += last
        T_hot += last * (1.0 + h_eff * drop / k_wall)
        q -= last * yields
        x += last * cp_w
    T_max = T_hot + spread * (T_w - stream.T)
    gain = min(max(-slope / stiffness, 0.1), 10.0)
    rise_h = x - stream.h if dense else stream.cp * (T_w - stream.T)
    follow = Seed(T_w - stream.T, rise_h, h_gas, rise_wall, land_mean, gain)
    h_gas = q / max(T_aw - T_hot, 1e-6)
    q_wetted = h_c * floor * (T_w - stream.T)
    T_surface = T_hot + q * section.resistance
    return status, T_max, T_hot, T_w, T_surface, q, q_wetted, h_c, h_gas, flags, follow
