"""Critical heat flux [W/m2] of subcooled liquid flow: where nucleate boiling burns out."""

from __future__ import annotations

import math

from regen.physics.registry import correlation

FOOT = 0.3048
PSI = 6894.757293168
PCU = 5.678263341
"""W/(m2 K) of one pound-Celsius unit (1.8 Btu) per hour, square foot and degree Celsius."""


@correlation("burnout", source="hall_mudawar2000", G=(300.0, 30e3), D=(0.25e-3, 15e-3))
def hall_mudawar_inlet(G, D, L, x_in, rho_l, rho_v, h_fg, sigma):
    """Water, from the inlet state and the heated length; x_in with saturation at the outlet.

    Bo = C1 We^C2 r^C3 (1 - C4 r^C5 x_in) / (1 + 4 C1 C4 We^C2 r^(C3+C5) L/D),
    We = G^2 D/(rho_l sigma), r = rho_l/rho_v, Bo = q/(G h_fg).
    """
    r = rho_l / rho_v
    first = 0.0722 * (G * G * D / (rho_l * sigma)) ** -0.312 * r**-0.644
    second = 0.900 * r**0.724
    return G * h_fg * first * (1.0 - second * x_in) / (1.0 + 4.0 * first * second * L / D)


@correlation(
    "burnout", source="hall_mudawar2000", G=(300.0, 30e3), D=(0.25e-3, 15e-3), x_out=(-1e3, 0.0)
)
def hall_mudawar_outlet(G, D, x_out, rho_l, rho_v, h_fg, sigma):
    """Water, from the local state: Bo = C1 We^C2 r^C3 (1 - C4 r^C5 x_out)."""
    r = rho_l / rho_v
    first = 0.0332 * (G * G * D / (rho_l * sigma)) ** -0.235 * r**-0.681
    return G * h_fg * first * (1.0 - 0.684 * r**0.832 * x_out)


@correlation("burnout", source="bernath1960", fluids=("water",))
def bernath(u, p, D, D_heated, T_b):
    """Water: q = h (T_w - T_b) with the wall at burnout T_w by pressure and speed.

    Notes
    -----
    q = 5.678 [10890 D/(D + Di) + 48 u/D^0.6] (T_w - T_b), T_w = 57 ln P - 54 P/(P+15) - u/4;
    D hydraulic diameter and Di heated perimeter over pi in ft, u in ft/s, P in psia, T in degC.
    Above D = 0.1 ft, 90 + 10/D stands in place of 48/D^0.6. Here all arguments are in SI.
    """
    D = D / FOOT
    D_heated = D_heated / FOOT
    u = u / FOOT
    P = p / PSI
    T_w = 57.0 * math.log(P) - 54.0 * P / (P + 15.0) - 0.25 * u
    slope = 48.0 / D**0.6 if D <= 0.1 else 90.0 + 10.0 / D
    return PCU * (10890.0 * D / (D + D_heated) + slope * u) * (T_w - (T_b - 273.15))
