"""Coolant-side Nusselt numbers on the hydraulic diameter and bulk conductivity.

Subscript b is bulk, w the wetted wall at the channel root; cp_bar = (h_w - h_b)/(T_w - T_b).
"""

from __future__ import annotations

import math

from regen.physics._jit import jit
from regen.physics.registry import correlation


@jit
def smooth_friction(Re):
    """Return Filonenko's smooth-pipe Darcy friction factor."""
    return (0.79 * math.log(Re) - 1.64) ** -2


@correlation("coolant_side", source="mcadams_dittus_boelter", Re=(1e4, 1e7), Pr=(0.6, 160.0))
def dittus_boelter(Re, Pr):
    """Nu = 0.023 Re^0.8 Pr^0.4, bulk properties, small temperature difference."""
    return 0.023 * Re**0.8 * Pr**0.4


@correlation(
    "coolant_side",
    source="gnielinski1976",
    traits={"wall": "yes"},
    Re=(2300.0, 5e6),
    Pr=(0.5, 2000.0),
)
def gnielinski(Re, Pr, Pr_w):
    """Gnielinski's form on a smooth wall times (Pr_b/Pr_w)^0.11, the factor of liquids.

    Notes
    -----
    Nu = (f/8)(Re-1000)Pr/(1+12.7 sqrt(f/8)(Pr^(2/3)-1)), f = (0.79 ln Re - 1.64)^-2.
    The factor holds for 0.05 < Pr_b/Pr_w < 20.
    """
    f8 = smooth_friction(Re) / 8.0
    return (
        f8
        * (Re - 1000.0)
        * Pr
        / (1.0 + 12.7 * math.sqrt(f8) * (Pr ** (2.0 / 3.0) - 1.0))
        * (Pr / Pr_w) ** 0.11
    )


@correlation(
    "coolant_side",
    source="sieder_tate1936",
    traits={"wall": "yes"},
    Re=(1e4, 1e7),
    Pr=(0.7, 16700.0),
)
def sieder_tate(Re, Pr, mu_b, mu_w):
    """Nu = 0.027 Re^0.8 Pr^(1/3) (mu_b/mu_w)^0.14."""
    return 0.027 * Re**0.8 * Pr ** (1.0 / 3.0) * (mu_b / mu_w) ** 0.14


@correlation("coolant_side", source="taylor1968", traits={"wall": "yes"}, T_ratio=(1.0, 23.0))
def taylor(Re, Pr, T_ratio, x_D):
    """Hydrogen: Nu = 0.023 Re^0.8 Pr^0.4 (Tw/Tb)^-(0.57 - 1.59 D/x).

    Notes
    -----
    The data start at x/D = 2; nearer the inlet the exponent is held at its value there.
    """
    return 0.023 * Re**0.8 * Pr**0.4 * T_ratio ** -(0.57 - 1.59 / max(x_D, 2.0))


@correlation(
    "coolant_side", source="mccarthy_wolf1960", traits={"wall": "yes"}, T_ratio=(2.0, 11.0)
)
def mccarthy_wolf(Re, Pr, T_ratio):
    """Hydrogen: Nu = 0.025 Re^0.8 Pr^0.4 (Tw/Tb)^-0.55."""
    return 0.025 * Re**0.8 * Pr**0.4 * T_ratio**-0.55


@correlation(
    "coolant_side",
    source="krasnoshchekov_protopopov1959",
    traits={"wall": "yes"},
    Re=(2e4, 8.6e6),
    Pr=(0.86, 86.0),
)
def krasnoshchekov_protopopov(Re, Pr, mu_b, mu_w, k_b, k_w, cp_b, cp_bar):
    """Supercritical: Petukhov's form times ratios of viscosity, conductivity and heat capacity.

    Notes
    -----
    Nu = Nu0 (mu_b/mu_w)^0.11 (k_b/k_w)^-0.33 (cp_bar/cp_b)^0.35,
    Nu0 = (f/8) Re Pr/(C + 12.7 sqrt(f/8)(Pr^(2/3)-1)), C = 1.07 + 900/Re - 0.63/(1+10 Pr).
    """
    f8 = smooth_friction(Re) / 8.0
    c = 1.07 + 900.0 / Re - 0.63 / (1.0 + 10.0 * Pr)
    nu0 = f8 * Re * Pr / (c + 12.7 * math.sqrt(f8) * (Pr ** (2.0 / 3.0) - 1.0))
    return nu0 * (mu_b / mu_w) ** 0.11 * (k_b / k_w) ** -0.33 * (cp_bar / cp_b) ** 0.35


@correlation("coolant_side", source="jackson2002", traits={"wall": "yes"}, Re=(8e4, 5e5))
def jackson(Re, Pr, T_b, T_w, T_pc, rho_b, rho_w, cp_b, cp_bar):
    """Supercritical: Nu = 0.0183 Re^0.82 Pr^0.5 (rho_w/rho_b)^0.3 (cp_bar/cp_b)^n.

    Notes
    -----
    n is piecewise in T_b, T_w and the pseudo-critical temperature; Tw/Tpc in it is held at 2.5,
    the end of the data, beyond which the bare exponent runs away.
    """
    excess = min(T_w / T_pc, 2.5) - 1.0
    if T_w <= T_pc or T_b >= 1.2 * T_pc:
        n = 0.4
    elif T_b <= T_pc:
        n = 0.4 + 0.2 * excess
    else:
        n = 0.4 + 0.2 * excess * (1.0 - 5.0 * (T_b / T_pc - 1.0))
    return 0.0183 * Re**0.82 * Pr**0.5 * (rho_w / rho_b) ** 0.3 * (cp_bar / cp_b) ** n
