"""Darcy friction factor of a passage; rectangles through Jones' effective Reynolds number."""

from __future__ import annotations

import math

from regen.physics._jit import jit
from regen.physics.registry import correlation

RE_LAMINAR = 2040.0
"""Reynolds number below which the flow is taken as laminar."""


@jit
def jones_factor(aspect):
    """Return Jones' ratio of effective to hydraulic diameter for short over long side.

    phi = 2/3 + 11/24 a (2 - a); exact laminar friction of rectangles is met within 1 %.
    """
    return 2.0 / 3.0 + 11.0 / 24.0 * aspect * (2.0 - aspect)


@correlation("friction", source="haaland1983", Re=(4e3, 1e8), roughness=(0.0, 0.05))
def haaland(Re, roughness):
    """Explicit approximation of Colebrook's form; laminar 64/Re below 2040."""
    if Re < RE_LAMINAR:
        return 64.0 / Re
    return (-1.8 * math.log10((roughness / 3.7) ** 1.11 + 6.9 / Re)) ** -2


@correlation("friction", source="colebrook1939", Re=(4e3, 1e8), roughness=(0.0, 0.05))
def colebrook(Re, roughness):
    """Colebrook's implicit form, solved to rounding; laminar 64/Re below 2040.

    Notes
    -----
    1/sqrt(f) = -2 log10(eD/3.7 + 2.51/(Re sqrt(f))); Newton from Haaland's value: two steps
    leave less than 1e-11.
    """
    if Re < RE_LAMINAR:
        return 64.0 / Re
    x = -1.8 * math.log10((roughness / 3.7) ** 1.11 + 6.9 / Re)
    a = roughness / 3.7
    b = 2.51 / Re
    c = 2.0 / math.log(10.0)
    for _ in range(3):
        inner = a + b * x
        x -= (x + c * math.log(inner)) / (1.0 + c * b / inner)
    return 1.0 / (x * x)


@correlation("friction", source="petukhov1983")
def heated_wall(Re, roughness, rho_ratio, mu_ratio):
    """Heated wall: f/f_isothermal = (rho_w/rho_b)^0.4 (mu_w/mu_b)^0.2 on Colebrook's form.

    Notes
    -----
    ``rho_ratio`` and ``mu_ratio`` are wall over bulk. Laminar flow is left as it is.
    """
    f = colebrook(Re, roughness)
    if Re < RE_LAMINAR:
        return f
    return f * rho_ratio**0.4 * mu_ratio**0.2
