"""Wall balance at one station: the wall state at which gas, wall and coolant carry one flux."""

from __future__ import annotations

import math
from typing import NamedTuple

from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics import tables
from regen.physics._jit import inlined, jit
from regen.physics.film import ON_FILM, dense_film, gas_flux, liquid_film
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


class WallState(NamedTuple):
    """The wall at one station.

    Temperatures [K]: ``T_max`` and ``T_mean`` of the hot wall's metal, ``T_root`` at the channel
    root, ``T_surface`` the mean of what covers the metal. Flux [W/m2]: ``q`` on the hot-gas
    surface, ``q_wetted`` at the slot floor. Coefficients [W/(m2 K)]: ``h_c`` of the coolant,
    ``h_gas`` from gas to metal. ``seed`` is for the next station.
    """

    code: int
    T_max: float
    T_mean: float
    T_root: float
    T_surface: float
    q: float
    q_wetted: float
    h_c: float
    h_gas: float
    flags: int
    seed: A.Seed


class Follow(NamedTuple):
    """Weak quantities that follow the iterate one step behind, as in ``Seed``."""

    h_gas: float
    rise_wall: float
    land_mean: float


class Station(NamedTuple):
    """What stays while the wall balance of one station is solved.

    ``T_special`` is the pseudo-critical temperature of a dense coolant, the saturation
    temperature of a liquid [K]; ``drop`` the length of the hot wall as the flux sees it [m],
    ``cover`` the resistance on it per flux at the root [m2 K/W].
    """

    gas: A.GasSide
    i: int
    D: float
    coolant_side: int
    boiling: int
    table: tables.CoolantTable
    bar: tables.Isobar
    stream: A.Stream
    section: A.Section
    metal: A.Metal
    mode: tuple[float, float, float, float, float]
    T_special: float
    drop: float
    cover: float


class Trial(NamedTuple):
    """Both sides of the balance at one trial of the wall's state [SI]."""

    h_c: float
    T_w: float
    cp_w: float
    flags: int
    k_wall: float
    h_eff: float
    spread: float
    floor: float
    land_mean: float
    q_root: float
    T_hot: float
    q: float


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
def _trial(at, x, follow):
    """Return both sides of the balance for a trial x: enthalpy or temperature at the wall."""
    stream, section, metal = at.stream, at.section, at.metal
    if at.bar.dense == 1:
        h_c, T_w, cp_w, flags = dense_film(
            at.coolant_side, at.table, at.bar, stream, x, at.T_special
        )
        h_side = h_c
    else:
        T_w = x
        cp_w = 1.0
        T_land = stream.T + follow.land_mean * (T_w - stream.T)
        h_c, h_side, flags = liquid_film(
            at.coolant_side, at.boiling, at.table, at.bar, stream, T_w, at.T_special, T_land
        )
    k_wall = conductivity(metal.T, metal.liner, T_w + 0.5 * follow.rise_wall)
    k_land = conductivity(metal.T, metal.liner, stream.T + follow.land_mean * (T_w - stream.T))
    h_eff, spread, floor, land_mean = wall_form(
        at.mode, section.width, section.land, section.depth, section.closeout, section.taper,
        k_wall, k_land, metal.k_closeout, h_c, h_side, follow.h_gas,
    )  # fmt: skip
    q_root = h_eff * (T_w - stream.T)
    T_hot = T_w + q_root * at.drop / k_wall
    q = gas_flux(at.gas, at.i, at.D, T_hot + q_root * at.cover)
    return Trial(h_c, T_w, cp_w, flags, k_wall, h_eff, spread, floor, land_mean, q_root, T_hot, q)


@jit
def _hottest_bracket(at, follow, bottom, top):
    """Scan from the hot end; return how many roots there are and a bracket of the hottest.

    Places lie in the table's own spacing, close where properties change fast. The bracket takes
    in one place more on either side of the root where the sign stays: what follows the iterate
    moves the root. The count is -1 where a film coefficient is not known.
    """
    table, bar = at.table, at.bar
    span = bar.high - bar.low
    z_low = math.asinh(((bottom - bar.low) / span - table.centre) / table.spread)
    z_high = math.asinh((1.0 - table.centre) / table.spread)
    roots = 0
    low, high = bottom, top
    hotter = x_old = top
    r_old = 0.0
    for n in range(SCAN, -1, -1):
        z = z_low + (z_high - z_low) * (n / SCAN) ** 1.5
        s = table.centre + table.spread * math.sinh(z)
        x = min(max(bar.low + span * s, bottom), top)
        trial = _trial(at, x, follow)
        if not (trial.h_c > 0.0):
            return -1, bottom, top
        residual = trial.q * at.section.pitch_ratio - trial.q_root
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
    return roots, low, high


@jit
def _may_have_several_roots(coolant_side, table, stream, T_pc):
    """Return whether several wall states may balance a dense coolant: see ``SEVERAL_BULK``."""
    most = SEVERAL_PRESSURE_FILM if ON_FILM[coolant_side] else SEVERAL_PRESSURE
    return stream.T < SEVERAL_BULK * T_pc and stream.p < most * table.p_critical


@jit
def _adiabatic(coolant_side, boiling, table, bar, stream, seed):
    """Return the wall where the gas beside it is no hotter than the coolant."""
    T = stream.T
    if bar.dense == 1:
        T_pc = tables.pseudo_critical_T(table, stream.p)
        h_c = dense_film(coolant_side, table, bar, stream, stream.h, T_pc)[0]
    else:
        h_c = liquid_film(coolant_side, boiling, table, bar, stream, T, T, T)[0]
    return WallState(st.OK, T, T, T, T, 0.0, 0.0, h_c, 0.0, A.FLAG_NO_HEAT, seed)


@jit
def _carried_on(here, there, share):
    """Return what follows, carried on by a share of its last change."""
    return Follow(
        here.h_gas + share * (here.h_gas - there.h_gas),
        here.rise_wall + share * (here.rise_wall - there.rise_wall),
        min(here.land_mean + share * (here.land_mean - there.land_mean), 1.0),
    )


@inlined
def wall_balance(gas, i, D, model, table, bar, stream, section, metal, seed, look):
    """Solve the wall at one station.

    Parameters
    ----------
    gas : GasSide
        Hot gas of the run; i is the station and D its diameter [m].
    model : structured scalar
        ``arrays.MODEL`` [-].
    table, bar : CoolantTable, Isobar
        Coolant and the place of its pressure.
    stream, section, metal : Stream, Section, Metal
        Coolant bulk, one pitch of wall, its conductivities.
    seed : Seed
        From the station before.
    look : bool
        False if several roots need not be looked for: a trial that is not the answer.

    Returns
    -------
    WallState
        Of no meaning but ``code`` where that is not ``status.OK``.

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
    T_aw = gas.core[i, A.G_T_AW]
    cool, boil = model["coolant_side"], model["boiling"]
    if T_aw <= stream.T + LEAST_DRIVE:
        return _adiabatic(cool, boil, table, bar, stream, seed)
    dense = bar.dense == 1
    if dense:
        T_special = tables.pseudo_critical_T(table, stream.p)
        bottom = stream.h
        top = bar.low + (1.0 - 1e-9) * (bar.high - bar.low)
        x = bottom + min(seed.rise_h, 0.9 * (top - bottom))
    else:
        T_special = tables.saturation_temperature(table, bar)
        bottom = stream.T
        top = T_aw
        x = bottom + min(seed.rise_T, 0.9 * (top - bottom))
    cover = section.resistance / section.pitch_ratio
    drop = section.wall * (1.0 + 0.5 * (1.0 / section.pitch_ratio - 1.0))
    mode = first_mode(section.width, section.land, section.wall)
    at = Station(
        gas, i, D, cool, boil, table, bar, stream, section, metal, mode, T_special, drop, cover
    )
    follow = Follow(seed.h_gas, seed.rise_wall, min(seed.land_mean, 1.0))
    start, end = x, top
    roots = 0
    if dense and look and _may_have_several_roots(cool, table, stream, T_special):
        roots, low, high = _hottest_bracket(at, follow, bottom, top)
        if roots < 0:
            return WallState(st.NO_WALL_ROOT, T_aw, T_aw, T_aw, T_aw, 0.0, 0.0, 0.0, 0.0, 0, seed)
        if roots > 1:
            bottom, top = low, high
            x = 0.5 * (low + high)
    low, high = bottom, top
    x_old = x
    r_old = 0.0
    slope = 0.0
    there = follow
    known = False
    code = st.NO_WALL_ROOT
    for step in range(MAX_STEPS):
        h_c, T_w, cp_w, flags, k_wall, h_eff, spread, floor, mean_new, q_root, T_hot, q = _trial(
            at, x, follow
        )
        if not (h_c > 0.0):
            break
        residual = q * section.pitch_ratio - q_root
        scale = abs(q_root) + 1.0
        moved = 0.0
        if abs(residual) <= CLOSE * scale and T_hot < T_aw - 1.0 and step <= PATIENCE:
            h_new = max(q / (T_aw - T_hot), 1.0)
            moved = max(
                abs(h_new / follow.h_gas - 1.0),
                abs(T_hot - T_w - follow.rise_wall) / (T_hot - stream.T),
                abs(mean_new / follow.land_mean - 1.0),
            )
            # a boiling land cools itself and then boils less: taken whole, that swings for long
            boils = flags & A.FLAG_BOILING
            land_mean = 0.5 * (follow.land_mean + mean_new) if boils else mean_new
            follow = Follow(h_new, T_hot - T_w, land_mean)
        bare = follow.h_gas / max(1.0 - follow.h_gas * section.resistance, 1e-3)
        yields = bare * (1.0 + h_eff * (drop / k_wall + cover))
        stiffness = (h_eff + yields * section.pitch_ratio) / cp_w
        if step == 0:
            slope = -seed.gain * stiffness
        elif x != x_old and (moved <= SPOILS_SECANT or abs(residual) > 0.5 * abs(r_old)):
            secant = (residual - r_old) / (x - x_old)
            slope = min(max(secant, 4.0 * slope), 0.25 * slope)
        if abs(residual) <= ROOT_TOLERANCE * scale and moved <= FOLLOW_TOLERANCE:
            code = st.OK
            if step > PATIENCE and abs(mean_new / follow.land_mean - 1.0) > LOOSE_FOLLOW:
                flags |= A.FLAG_WALL_ROOT_LOOSE
            if roots > 1:
                flags |= A.FLAG_SEVERAL_ROOTS
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
            code = st.COOLANT_RANGE
            break
        if moved > 0.0:
            low, high = bottom, top
        elif residual > 0.0:
            low = x
        else:
            high = x
        if high - low <= 1e-13 * abs(high):
            if abs(residual) <= LOOSE_TOLERANCE * scale:
                code = st.OK
                flags |= A.FLAG_WALL_ROOT_LOOSE
            break
        x_new = x - residual / slope
        if x_new >= high and high == top and dense:
            x_new = top
        elif not (low < x_new < high) or (step > PATIENCE and step % 2 == 1):
            x_new = 0.5 * (low + high)
        here = follow
        if moved > 0.0 and known and abs(x_new - x) < abs(x - x_old):
            follow = _carried_on(here, there, (x_new - x) / (x - x_old))
        there = here
        known = moved > 0.0
        x_old, r_old, x = x, residual, x_new
    if code == st.OK:
        # the last step needs no more looking up: the gas gives by its own slope
        last = -residual / slope / cp_w
        T_w += last
        T_hot += last * (1.0 + h_eff * drop / k_wall)
        q -= last * yields
        x += last * cp_w
    rise = T_w - stream.T
    gain = min(max(-slope / stiffness, 0.1), 10.0)
    rise_h = x - stream.h if dense else stream.cp * rise
    return WallState(
        code,
        T_hot + spread * rise,
        T_hot,
        T_w,
        T_hot + q * section.resistance,
        q,
        h_c * floor * rise,
        h_c,
        q / max(T_aw - T_hot, 1e-6),
        flags,
        A.Seed(rise, rise_h, follow.h_gas, follow.rise_wall, follow.land_mean, gain),
    )
