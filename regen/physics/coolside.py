"""Coolant-side Nusselt numbers on the hydraulic diameter.

Subscript b is bulk, w the wetted wall at the channel root, f the film temperature (T_w + T_b)/2;
cp_bar = (h_w - h_b)/(T_w - T_b). The trait ``basis`` says where the conductivity of the Nusselt
number is taken; the film turns all of them to the bulk's.
"""

from __future__ import annotations

import math

from regen.physics._jit import jit
from regen.physics.registry import correlation

X_D_FIRST = 2.0
"""Heated length in diameters below which entrance terms are held: the first datum of Taylor's."""

HYDROGEN = ("hydrogen",)
OXYGEN = ("oxygen",)
KEROSENE = ("n-dodecane",)
"""The coolant that stands in for kerosene, to which these forms were fitted."""

FILM = {"basis": "film"}
WALL = {"basis": "wall"}


@jit
def smooth_friction(Re):
    """Return Filonenko's smooth-pipe Darcy friction factor."""
    return (0.79 * math.log(Re) - 1.64) ** -2


@jit
def smooth_pipe(Re, Pr):
    """Return the Nusselt number of Petukhov, Kirillov and Popov without a property factor."""
    f8 = smooth_friction(Re) / 8.0
    c = 1.07 + 900.0 / Re - 0.63 / (1.0 + 10.0 * Pr)
    return f8 * Re * Pr / (c + 12.7 * math.sqrt(f8) * (Pr ** (2.0 / 3.0) - 1.0))


@correlation("coolant_side", source="mcadams_dittus_boelter", Re=(1e4, 1e7), Pr=(0.6, 160.0))
def dittus_boelter(Re, Pr):
    """Nu = 0.023 Re^0.8 Pr^0.4, bulk properties, small temperature difference."""
    return 0.023 * Re**0.8 * Pr**0.4


@correlation("coolant_side", source="gnielinski1976", Re=(2300.0, 5e6), Pr=(0.5, 2000.0))
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


@correlation("coolant_side", source="sieder_tate1936", Re=(1e4, 1e7), Pr=(0.7, 16700.0))
def sieder_tate(Re, Pr, mu_b, mu_w):
    """Nu = 0.027 Re^0.8 Pr^(1/3) (mu_b/mu_w)^0.14."""
    return 0.027 * Re**0.8 * Pr ** (1.0 / 3.0) * (mu_b / mu_w) ** 0.14


@correlation(
    "coolant_side",
    source="taylor1968",
    fluids=HYDROGEN,
    T_ratio=(1.0, 23.0),
    x_D=(2.0, 252.0),
    p=(3.66e6, 17.2e6),
    q=(0.06e6, 45e6),
)
def taylor(Re, Pr, T_ratio, x_D):
    """Hydrogen: Nu = 0.023 Re^0.8 Pr^0.4 (Tw/Tb)^-(0.57 - 1.59 D/x).

    Notes
    -----
    The data start at x/D = 2; nearer the inlet the exponent is held at its value there.
    """
    return 0.023 * Re**0.8 * Pr**0.4 * T_ratio ** -(0.57 - 1.59 / max(x_D, X_D_FIRST))


@correlation(
    "coolant_side",
    source="mccarthy_wolf1960",
    fluids=HYDROGEN,
    T_ratio=(2.0, 11.0),
    x_D=(6.0, 50.0),
    T_in=(75.0, 311.0),
    p=(0.22e6, 9.3e6),
    q=(0.06e6, 24.2e6),
)
def mccarthy_wolf(Re, Pr, T_ratio):
    """Hydrogen: Nu = 0.025 Re^0.8 Pr^0.4 (Tw/Tb)^-0.55."""
    return 0.025 * Re**0.8 * Pr**0.4 * T_ratio**-0.55


@correlation(
    "coolant_side",
    source="krasnoshchekov_protopopov1959",
    Re=(2e4, 8.6e6),
    Pr=(0.86, 86.0),
    p_r=(1.01, 1.45),
)
def krasnoshchekov_protopopov(Re, Pr, mu_b, mu_w, k_b, k_w, cp_b, cp_bar):
    """Supercritical: Petukhov's form times ratios of viscosity, conductivity and heat capacity.

    Notes
    -----
    Nu = Nu0 (mu_b/mu_w)^0.11 (k_b/k_w)^-0.33 (cp_bar/cp_b)^0.35,
    Nu0 = (f/8) Re Pr/(C + 12.7 sqrt(f/8)(Pr^(2/3)-1)), C = 1.07 + 900/Re - 0.63/(1+10 Pr).
    """
    nu0 = smooth_pipe(Re, Pr)
    return nu0 * (mu_b / mu_w) ** 0.11 * (k_b / k_w) ** -0.33 * (cp_bar / cp_b) ** 0.35


@correlation(
    "coolant_side",
    source="jackson2002",
    Re=(8e4, 5e5),
    p_r=(1.06, 1.33),
    D=(1.6e-3, 20e-3),
    G=(700.0, 3600.0),
    q=(46e3, 2.6e6),
)
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


@correlation("coolant_side", source="petukhov_kirillov_popov", Re=(4e3, 5e6), Pr=(0.5, 1e6))
def petukhov_kirillov_popov(Re, Pr, mu_b, mu_w):
    """Petukhov, Kirillov and Popov's form times (mu_b/mu_w)^0.11, the factor of heated liquids.

    Notes
    -----
    Nu = (f/8) Re Pr/(C + 12.7 sqrt(f/8)(Pr^(2/3)-1)) (mu_b/mu_w)^0.11,
    C = 1.07 + 900/Re - 0.63/(1+10 Pr).
    """
    return smooth_pipe(Re, Pr) * (mu_b / mu_w) ** 0.11


@correlation(
    "coolant_side",
    source="hess_kunz1965",
    traits=FILM,
    fluids=HYDROGEN,
    T_ratio=(3.0, 14.0),
    T_in=(31.7, 66.7),
    p=(1.62e6, 5.14e6),
    q=(1e6, 16.6e6),
)
def hess_kunz(Re_f, Pr_f, mu_b, mu_w, rho_b, rho_w):
    """Hydrogen: Nu_f = 0.0208 Re_f^0.8 Pr_f^0.4 (1 + 0.01457 nu_w/nu_b), film properties.

    Notes
    -----
    Re_f = rho_f u_b D/mu_f; nu = mu/rho. A second-hand example prints 0.021 and 0.01453: at most
    1 % apart.
    """
    return 0.0208 * Re_f**0.8 * Pr_f**0.4 * (1.0 + 0.01457 * (mu_w / rho_w) / (mu_b / rho_b))


@correlation(
    "coolant_side",
    source="miller1965",
    traits=FILM,
    fluids=HYDROGEN,
    T_ratio=(2.0, 28.0),
    x_D=(5.0, 47.0),
    T_in=(28.0, 38.0),
    p=(3.2e6, 17.1e6),
    q=(2.2e6, 39e6),
)
def miller(Re_f, Pr_f, mu_b, mu_w, rho_b, rho_w):
    """Hydrogen: Nu_f = 0.0204 Re_f^0.8 Pr_f^0.4 (1 + 0.00983 nu_w/nu_b), film properties.

    Notes
    -----
    Re_f = rho_f u_b D/mu_f; nu = mu/rho.
    """
    return 0.0204 * Re_f**0.8 * Pr_f**0.4 * (1.0 + 0.00983 * (mu_w / rho_w) / (mu_b / rho_b))


@correlation(
    "coolant_side", source="spencer_rousar1977", fluids=OXYGEN, p=(17e6, 34.5e6), q=(0.0, 90e6)
)
def spencer_rousar(Re, Pr, x_D, k_b, k_w, cp_b, cp_bar, rho_b, rho_w, p_r):
    """Oxygen above its critical pressure: Nu = 0.0025 Re Pr^0.4 times five ratios.

    Notes
    -----
    (rho_b/rho_w)^-1/2 (k_b/k_w)^1/2 (cp_bar/cp_b)^2/3 (p/pc)^-1/5 (1 + 2 D/L), L the heated
    length up to the station; held at L/D = 2 nearer the inlet, where it runs away.
    """
    return (
        0.0025
        * Re
        * Pr**0.4
        * math.sqrt(rho_w / rho_b * k_b / k_w)
        * (cp_bar / cp_b) ** (2.0 / 3.0)
        * p_r**-0.2
        * (1.0 + 2.0 / max(x_D, X_D_FIRST))
    )


@correlation("coolant_side", source="petukhov1983")
def petukhov1983(Re, mu_b, mu_w, k_b, cp_bar, rho_b, rho_w):
    """Supercritical: Petukhov's form on cp_bar, with a friction factor of both densities.

    Notes
    -----
    Nu = (f/8) Re Pr_bar/(1 + 900/Re + 12.7 sqrt(f/8)(Pr_bar^(2/3)-1)),
    f = f0 (rho_w/rho_b)^0.4 (mu_w/mu_b)^0.2, Pr_bar = mu_b cp_bar/k_b.
    """
    Pr_bar = mu_b * cp_bar / k_b
    f8 = smooth_friction(Re) / 8.0 * (rho_w / rho_b) ** 0.4 * (mu_w / mu_b) ** 0.2
    slope = 12.7 * math.sqrt(f8) * (Pr_bar ** (2.0 / 3.0) - 1.0)
    return f8 * Re * Pr_bar / (1.0 + 900.0 / Re + slope)


@correlation(
    "coolant_side",
    source="bishop1965",
    p_r=(1.03, 1.25),
    x_D=(30.0, 365.0),
    G=(651.0, 3662.0),
    q=(0.31e6, 3.46e6),
)
def bishop(Re, x_D, mu_b, k_b, cp_bar, rho_b, rho_w):
    """Supercritical: Nu = 0.0069 Re^0.9 Pr_bar^0.66 (rho_w/rho_b)^0.43 (1 + 2.4 D/x).

    Notes
    -----
    Pr_bar = mu_b cp_bar/k_b. The entrance term is held at x/D = 2 nearer the inlet.
    """
    entrance = 1.0 + 2.4 / max(x_D, X_D_FIRST)
    return 0.0069 * Re**0.9 * (mu_b * cp_bar / k_b) ** 0.66 * (rho_w / rho_b) ** 0.43 * entrance


@correlation("coolant_side", source="mokry2011", G=(200.0, 1500.0), q=(0.0, 1.25e6))
def mokry(Re, mu_b, k_b, cp_bar, rho_b, rho_w):
    """Supercritical: Nu = 0.0061 Re^0.904 Pr_bar^0.684 (rho_w/rho_b)^0.564.

    Notes
    -----
    Pr_bar = mu_b cp_bar/k_b.
    """
    return 0.0061 * Re**0.904 * (mu_b * cp_bar / k_b) ** 0.684 * (rho_w / rho_b) ** 0.564


@correlation("coolant_side", source="swenson1965", traits=WALL, p_r=(1.03, 1.25), G=(542.0, 2150.0))
def swenson(Re, mu_b, mu_w, k_w, cp_bar, rho_b, rho_w):
    """Supercritical: Nu_w = 0.00459 Re_w^0.923 Pr_w^0.613 (rho_w/rho_b)^0.231, wall properties.

    Notes
    -----
    Re_w = G D/mu_w, Pr_w = mu_w cp_bar/k_w.
    """
    Re_w = Re * mu_b / mu_w
    return 0.00459 * Re_w**0.923 * (mu_w * cp_bar / k_w) ** 0.613 * (rho_w / rho_b) ** 0.231


@correlation("coolant_side", source="hines_wolf", fluids=KEROSENE)
def hines_wolf(Re, Pr):
    """Kerosene: Nu = 0.005 Re^0.95 Pr^0.4."""
    return 0.005 * Re**0.95 * Pr**0.4


@correlation("coolant_side", source="utrc_kerosene", fluids=KEROSENE)
def utrc_kerosene(Re, Pr, x_D):
    """Kerosene: Nu = 0.044 Re^0.76 Pr^0.4 (1 + 2 D/L).

    Notes
    -----
    L is the heated length up to the station; held at L/D = 2 nearer the inlet.
    """
    return 0.044 * Re**0.76 * Pr**0.4 * (1.0 + 2.0 / max(x_D, X_D_FIRST))


@correlation("coolant_side", source="nasa_kerosene2002", fluids=KEROSENE)
def nasa_kerosene(Re, Pr, x_D):
    """Kerosene: Nu = 0.016 Re^0.862 Pr^0.4 (1 + 2 D/L).

    Notes
    -----
    L is the heated length up to the station; held at L/D = 2 nearer the inlet.
    """
    return 0.016 * Re**0.862 * Pr**0.4 * (1.0 + 2.0 / max(x_D, X_D_FIRST))


@correlation("coolant_side", source="textbook_kerosene", fluids=KEROSENE)
def textbook_kerosene(Re, Pr, mu_b, mu_w):
    """Kerosene: Nu = 0.0214 Re^0.8 Pr^0.4 (mu_b/mu_w)^0.14."""
    return 0.0214 * Re**0.8 * Pr**0.4 * (mu_b / mu_w) ** 0.14
