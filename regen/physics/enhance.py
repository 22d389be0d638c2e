"""What raises or lowers a smooth, straight, long passage's heat transfer: factors on Nu [-]."""

from __future__ import annotations

import math

from regen.physics.registry import correlation

CURVED_FLOW = 6.0
"""Re (r/R)^2 below which a bend is not felt."""


@correlation("curvature", source="taylor_niino_curvature")
def one_sided_bend(Re, radius_ratio):
    """Bend, hot wall on one side: Nu/Nu_straight = [Re (r/R)^2]^(+-0.05).

    Notes
    -----
    ``radius_ratio`` is half the hydraulic diameter over the bend's radius, positive where the
    hot wall is on the outside (the throat), negative where it is on the inside. Ito's friction
    factor of the same bend is that of the outside. Below [...] = 6 the bend is not felt.
    """
    strength = Re * radius_ratio * radius_ratio
    if strength <= CURVED_FLOW:
        return 1.0
    return math.exp(math.copysign(0.05, radius_ratio) * math.log(strength))


@correlation("entrance", source="perkins_worsoe_schmidt")
def entrance_rise(x_D, T_ratio):
    """Entrance: Nu/Nu_long = 1 + (x/D)^-0.7 (Tw/Tb)^0.1, local; held inside x/D = 2."""
    return 1.0 + max(x_D, 2.0) ** -0.7 * T_ratio**0.1


@correlation("roughness_heat", source="norris1970", f_ratio=(1.0, 4.0))
def norris(f_ratio, Pr):
    """Rough wall: Nu/Nu_smooth = (f/f_smooth)^n, n = 0.68 Pr^0.215, no gain beyond f ratio 4."""
    return min(f_ratio, 4.0) ** (0.68 * Pr**0.215)


@correlation(
    "roughness_heat",
    source="dipprey_sabersky1963",
    Re=(1.4e4, 5e5),
    Pr=(1.2, 5.94),
    roughness=(0.0024, 0.049),
)
def dipprey_sabersky(Re, Pr, f, roughness):
    """Rough pipe: Nu = (f/8) Re Pr/(1 + sqrt(f/8)(5.19 e+^0.2 Pr^0.44 - 8.48)).

    Notes
    -----
    e+ = Re roughness sqrt(f/8); f is the Darcy friction factor of the rough pipe. This is the
    rough wall's Nusselt number itself, not a factor: for comparison.
    """
    root = math.sqrt(f / 8.0)
    grain = Re * roughness * root
    return f / 8.0 * Re * Pr / (1.0 + root * (5.19 * grain**0.2 * Pr**0.44 - 8.48))
