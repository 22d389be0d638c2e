"""Compiled lookups in a coolant's property table.

Two patches of bicubic Hermite cells, uniform in both coordinates so that a cell is found by
arithmetic: ``dense`` for p > p_critical and ``liquid`` below it, up to saturated liquid. Nothing
is tabulated across the two-phase dome, where interpolation between liquid and vapour is wrong.

Flags of a state: 0 inside; 1 below the critical pressure and above saturated liquid; 2 above the
equation of state's maximum temperature, where the values are its extrapolation; 3 outside the
table; 4 colder than the table (melting line, or the equation's minimum temperature). Flagged
states 1, 3 and 4 carry the values of the nearest state of the table, so that they are finite;
the flag says that they are not the state asked for.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from regen.physics._jit import jit
from regen.physics.arrays import Array

FLAG_INSIDE, FLAG_TWO_PHASE, FLAG_EXTRAPOLATED, FLAG_OUTSIDE, FLAG_TOO_COLD = range(5)

# properties of a node, in order; all but the temperature are natural logarithms
T, LN_RHO, LN_MU, LN_K, LN_CP, LN_A = range(6)
# columns of CoolantTable.saturation; SIGMA is surface tension over y**SIGMA_POWER
LIQUID_H_LOW, SAT_H_L, SAT_H_V, SAT_T, SAT_LN_RHO_L, SAT_LN_RHO_V, SAT_SIGMA = range(7)
# surface tension falls as (1 - T/Tc)**1.26, and y**2 is proportional to 1 - T/Tc
SIGMA_POWER = 2.52


class CoolantTable(NamedTuple):
    """Property table of one coolant, float64 arrays and floats only.

    Node arrays ``dense`` and ``liquid`` have shape (n_xi, n_y, 6, 4): for each property its
    value, its slopes in cell units along xi and y, and the mixed slope. Lines ``dense_edge``
    (n_y, 2, 2: lowest and highest enthalpy), ``saturation`` (n_y, 7, 2) and
    ``pseudo_critical`` (n_y, 2) hold value and slope along y.

    Notes
    -----
    y = sqrt(abs(ln(p/p_critical))) gathers nodes at the critical pressure, where properties
    change fastest. With s = (h - h_low(p))/(h_high(p) - h_low(p)), the dense patch has
    s = centre + spread*sinh(xi/scale - shift), gathered at the critical enthalpy, and the
    liquid patch s = 1 - (1 - xi)**2, gathered at saturation.
    """

    dense: Array
    dense_edge: Array
    liquid: Array
    saturation: Array
    pseudo_critical: Array
    dense_y_step: float
    liquid_y_step: float
    centre: float
    spread: float
    shift: float
    scale: float
    p_critical: float
    T_critical: float
    p_min: float
    p_max: float
    T_min: float
    T_max: float
    T_top: float
    molar_mass: float


@jit
def _hermite(t):
    """Return the weights of value and slope at t = 0, then at t = 1."""
    u = 1.0 - t
    return u * u * (1.0 + 2.0 * t), t * u * u, t * t * (3.0 - 2.0 * t), -t * t * u


@jit
def _cell(position, nodes):
    """Return the cell index and the place in it for a position in cell units."""
    i = min(max(int(position), 0), nodes - 2)
    return i, position - i


@jit
def _line(lines, column, j, w):
    """Return one column's value in cell j of lines (n_y, columns, 2)."""
    return (
        w[0] * lines[j, column, 0]
        + w[1] * lines[j, column, 1]
        + w[2] * lines[j + 1, column, 0]
        + w[3] * lines[j + 1, column, 1]
    )


@jit
def _column(nodes, i, j, k, w):
    """Return value and xi slope of property k on grid line i, between the nodes j and j + 1."""
    value = (
        w[0] * nodes[i, j, k, 0]
        + w[1] * nodes[i, j, k, 2]
        + w[2] * nodes[i, j + 1, k, 0]
        + w[3] * nodes[i, j + 1, k, 2]
    )
    slope = (
        w[0] * nodes[i, j, k, 1]
        + w[1] * nodes[i, j, k, 3]
        + w[2] * nodes[i, j + 1, k, 1]
        + w[3] * nodes[i, j + 1, k, 3]
    )
    return value, slope


@jit
def _property(nodes, i, j, k, u, w):
    """Return property k in cell (i, j) for the weights u along xi and w along y."""
    f0, g0 = _column(nodes, i, j, k, w)
    f1, g1 = _column(nodes, i + 1, j, k, w)
    return u[0] * f0 + u[1] * g0 + u[2] * f1 + u[3] * g1


class Isobar(NamedTuple):
    """Where a pressure lies in a table: worked out once, used for every state at that pressure.

    ``dense`` 1 above the critical pressure, else 0; grid line ``j`` and weights ``w``
    along y; lowest and highest enthalpy ``low``, ``high`` of the patch [J/kg]; flag ``outside``.
    """

    dense: int
    j: int
    w: tuple[float, float, float, float]
    low: float
    high: float
    outside: int


class State(NamedTuple):
    """Properties of the coolant at one state [SI], and the flag of the module's docstring."""

    T: float
    rho: float
    mu: float
    k: float
    cp: float
    flag: int


@jit
def _pressure(table, p):
    """Return the pressure held to the table, and flag 3 if it had to be held."""
    if not p >= table.p_min:  # also true for NaN
        return table.p_min, FLAG_OUTSIDE
    if p > table.p_max:
        return table.p_max, FLAG_OUTSIDE
    return p, FLAG_INSIDE


@jit
def isobar(table, p):
    """Return where a pressure lies in a table.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    p : float
        Pressure; beyond the table its end, with a flag [Pa].

    Returns
    -------
    Isobar
        For ``on_isobar`` and ``temperature_on_isobar``.
    """
    held, outside = _pressure(table, p)
    y = math.sqrt(abs(math.log(held / table.p_critical)))
    if held >= table.p_critical:
        j, ty = _cell(y / table.dense_y_step, table.dense.shape[1])
        w = _hermite(ty)
        low = _line(table.dense_edge, 0, j, w)
        high = _line(table.dense_edge, 1, j, w)
        return Isobar(1, j, w, low, high, outside)
    j, ty = _cell(y / table.liquid_y_step, table.liquid.shape[1])
    w = _hermite(ty)
    low = _line(table.saturation, LIQUID_H_LOW, j, w)
    high = _line(table.saturation, SAT_H_L, j, w)
    return Isobar(0, j, w, low, high, outside)


@jit
def _place(table, bar, h):
    """Return cell and place (i, tx) along xi and flag of a state on an isobar."""
    flag = FLAG_INSIDE
    if not h >= bar.low:
        s = 0.0
        flag = FLAG_TOO_COLD if h < bar.low else FLAG_OUTSIDE
    elif h > bar.high:
        s = 1.0
        flag = FLAG_OUTSIDE if bar.dense == 1 else FLAG_TWO_PHASE
    else:
        s = (h - bar.low) / (bar.high - bar.low)
    if bar.dense == 1:
        n = table.dense.shape[0]
        xi = (math.asinh((s - table.centre) / table.spread) + table.shift) * table.scale
    else:
        n = table.liquid.shape[0]
        xi = 1.0 - math.sqrt(1.0 - s)
    i, tx = _cell(xi * (n - 1), n)
    return i, tx, flag


@jit
def _evaluate(nodes, i, tx, bar):
    """Return T, rho, mu, k, cp at a place in a patch."""
    u = _hermite(tx)
    j, w = bar.j, bar.w
    return (
        _property(nodes, i, j, T, u, w),
        math.exp(_property(nodes, i, j, LN_RHO, u, w)),
        math.exp(_property(nodes, i, j, LN_MU, u, w)),
        math.exp(_property(nodes, i, j, LN_K, u, w)),
        math.exp(_property(nodes, i, j, LN_CP, u, w)),
    )


@jit
def on_isobar(table, bar, h):
    """Return the coolant's properties at an enthalpy on an isobar: see ``coolant_hp``.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    bar : Isobar
        The pressure's place in the table [-].
    h : float
        Specific enthalpy, on the table's own reference [J/kg].

    Returns
    -------
    State
        Temperature [K], density [kg/m3], viscosity [Pa s], conductivity [W/(m K)], isobaric heat
        capacity [J/(kg K)] and flag [-].
    """
    i, tx, flag = _place(table, bar, h)
    if bar.dense == 1:
        temperature, rho, mu, k, cp = _evaluate(table.dense, i, tx, bar)
        if flag == FLAG_INSIDE and temperature > table.T_max:
            flag = FLAG_EXTRAPOLATED
    else:
        temperature, rho, mu, k, cp = _evaluate(table.liquid, i, tx, bar)
    if bar.outside != FLAG_INSIDE:
        flag = bar.outside
    return State(temperature, rho, mu, k, cp, flag)


@jit
def coolant_hp(table, h, p):
    """Return the coolant's properties at an enthalpy and a pressure.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    h : float
        Specific enthalpy, on the table's own reference [J/kg].
    p : float
        Pressure [Pa].

    Returns
    -------
    State
        Temperature [K], density [kg/m3], viscosity [Pa s], conductivity [W/(m K)], isobaric heat
        capacity [J/(kg K)] and flag [-].
    """
    return on_isobar(table, isobar(table, p), h)


@jit
def sound_speed(table, h, p):
    """Return the coolant's speed of sound [m/s]; ``coolant_hp`` has the state's flag.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    h : float
        Specific enthalpy [J/kg].
    p : float
        Pressure [Pa].

    Returns
    -------
    float
        Speed of sound [m/s].
    """
    bar = isobar(table, p)
    i, tx, _ = _place(table, bar, h)
    nodes = table.dense if bar.dense == 1 else table.liquid
    u = _hermite(tx)
    j, w = bar.j, bar.w
    return math.exp(_property(nodes, i, j, LN_A, u, w))


@jit
def _find_cell(nodes, temperature, j, w):
    """Return cell and place along xi where the patch has a temperature, and on which side it left.

    The side is -1 below the patch, 0 inside, 1 above.
    """
    low, high = 0, nodes.shape[0] - 1
    f_low, g_low = _column(nodes, low, j, T, w)
    f_high, g_high = _column(nodes, high, j, T, w)
    if not temperature >= f_low:
        return 0, 0.0, -1
    if temperature > f_high:
        return high - 1, 1.0, 1
    while high - low > 1:
        middle = (low + high) // 2
        f, g = _column(nodes, middle, j, T, w)
        if f > temperature:
            high, f_high, g_high = middle, f, g
        else:
            low, f_low, g_low = middle, f, g
    a, b = 0.0, 1.0
    t = (temperature - f_low) / (f_high - f_low) if f_high > f_low else 0.5
    for _ in range(60):
        u = _hermite(t)
        residual = u[0] * f_low + u[1] * g_low + u[2] * f_high + u[3] * g_high - temperature
        if residual > 0.0:
            b = t
        else:
            a = t
        slope = (
            6.0 * t * (1.0 - t) * (f_high - f_low)
            + (1.0 - t) * (1.0 - 3.0 * t) * g_low
            + t * (3.0 * t - 2.0) * g_high
        )
        new = t - residual / slope if slope > 0.0 else 0.5 * (a + b)
        if not a <= new <= b:
            new = 0.5 * (a + b)
        done = abs(new - t) < 1e-13
        t = new
        if done:
            break
    return low, t, 0


@jit
def coolant_h(table, T, p):
    """Return the coolant's enthalpy at a temperature and a pressure.

    Below the critical pressure the liquid branch is meant: above saturation the enthalpy of
    saturated liquid comes back with flag 1.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    T : float
        Temperature [K].
    p : float
        Pressure [Pa].

    Returns
    -------
    h : float
        Specific enthalpy on the table's own reference [J/kg].
    flag : int
        What the state is; see the module's docstring [-].
    """
    bar = isobar(table, p)
    flag = FLAG_INSIDE
    if bar.dense == 1:
        i, t, side = _find_cell(table.dense, T, bar.j, bar.w)
        xi = (i + t) / (table.dense.shape[0] - 1)
        s = table.centre + table.spread * math.sinh(xi / table.scale - table.shift)
        if side > 0:
            flag = FLAG_OUTSIDE
        elif T > table.T_max:
            flag = FLAG_EXTRAPOLATED
    else:
        i, t, side = _find_cell(table.liquid, T, bar.j, bar.w)
        s = 1.0 - (1.0 - (i + t) / (table.liquid.shape[0] - 1)) ** 2
        if side > 0:
            flag = FLAG_TWO_PHASE
    if side < 0:
        flag = FLAG_TOO_COLD if T == T else FLAG_OUTSIDE
    if bar.outside != FLAG_INSIDE:
        flag = bar.outside
    return bar.low + s * (bar.high - bar.low), flag


@jit
def dense_at(table, bar, T):
    """Return properties at a temperature on an isobar above the critical pressure.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    bar : Isobar
        The pressure's place in the table [-].
    T : float
        Temperature, held between the coldest and the hottest of the isobar [K].

    Returns
    -------
    rho, mu, k, cp : float
        Density [kg/m3], viscosity [Pa s], conductivity [W/(m K)], isobaric heat capacity
        [J/(kg K)].
    """
    i, t, _ = _find_cell(table.dense, T, bar.j, bar.w)
    _, rho, mu, k, cp = _evaluate(table.dense, i, t, bar)
    return rho, mu, k, cp


@jit
def liquid_at(table, bar, T):
    """Return the liquid's properties at a temperature on an isobar below the critical pressure.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    bar : Isobar
        The pressure's place in the table [-].
    T : float
        Temperature, held between the coldest and the saturated liquid [K].

    Returns
    -------
    h, rho, mu, k, cp : float
        Specific enthalpy [J/kg], density [kg/m3], viscosity [Pa s], conductivity [W/(m K)],
        isobaric heat capacity [J/(kg K)].
    """
    i, t, _ = _find_cell(table.liquid, T, bar.j, bar.w)
    _, rho, mu, k, cp = _evaluate(table.liquid, i, t, bar)
    s = 1.0 - (1.0 - (i + t) / (table.liquid.shape[0] - 1)) ** 2
    return bar.low + s * (bar.high - bar.low), rho, mu, k, cp


@jit
def saturation_temperature(table, bar):
    """Return the saturation temperature on an isobar below the critical pressure.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    bar : Isobar
        The pressure's place in the table [-].

    Returns
    -------
    float
        Saturation temperature [K].
    """
    return _line(table.saturation, SAT_T, bar.j, bar.w)


@jit
def saturation(table, p):
    """Return the saturation line at a pressure; at and above the critical pressure, its end.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    p : float
        Pressure, held to the table's lowest [Pa].

    Returns
    -------
    T_sat, h_l, h_v, rho_l, rho_v, sigma : float
        Temperature [K], enthalpies of liquid and vapour [J/kg], their densities [kg/m3] and
        the surface tension [N/m].
    """
    held, _ = _pressure(table, p)
    # not of the ratio, which is 1 one rounding below the critical pressure
    y = math.sqrt(-math.log1p(min((held - table.p_critical) / table.p_critical, 0.0)))
    line = table.saturation
    j, ty = _cell(y / table.liquid_y_step, line.shape[0])
    w = _hermite(ty)
    return (
        _line(line, SAT_T, j, w),
        _line(line, SAT_H_L, j, w),
        _line(line, SAT_H_V, j, w),
        math.exp(_line(line, SAT_LN_RHO_L, j, w)),
        math.exp(_line(line, SAT_LN_RHO_V, j, w)),
        _line(line, SAT_SIGMA, j, w) * y**SIGMA_POWER,
    )


@jit
def pseudo_critical_T(table, p):
    """Return the temperature of the heat-capacity peak on an isobar.

    Parameters
    ----------
    table : CoolantTable
        Table of the fluid [-].
    p : float
        Pressure [Pa]; below the critical pressure the critical temperature comes back.

    Returns
    -------
    float
        Temperature [K]; beyond four critical pressures, or where the peak vanishes sooner, the
        last one found is held.
    """
    held, _ = _pressure(table, p)
    y = math.sqrt(math.log(max(held, table.p_critical) / table.p_critical))
    j, ty = _cell(y / table.dense_y_step, table.dense.shape[1])
    w = _hermite(ty)
    line = table.pseudo_critical
    return w[0] * line[j, 0] + w[1] * line[j, 1] + w[2] * line[j + 1, 0] + w[3] * line[j + 1, 1]
