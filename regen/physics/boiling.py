"""Nucleate-boiling flux [W/m2] of a wall above saturation, added to single-phase convection."""

from __future__ import annotations

import math

from regen.physics.registry import correlation


@correlation("boiling", source="thom1965", fluids=("water",), p=(5.2e6, 13.8e6))
def thom(dT_sat, p):
    """Water: dT_sat = 22.65 sqrt(q[MW/m2]) exp(-p[bar]/87)."""
    return 1e6 * (dT_sat / 22.65 * math.exp(p / 87e5)) ** 2


@correlation("boiling", source="cooper1984", p_r=(0.001, 0.9))
def cooper(dT_sat, p_r, molar_mass):
    """Any fluid: h = 55 pr^0.12 (-log10 pr)^-0.55 M^-0.5 q^0.67, roughness 1 um, M in g/mol.

    Notes
    -----
    pr is held at 0.9, the end of the range: beyond it the form runs away to infinity.
    """
    p_r = min(p_r, 0.9)
    slope = 55.0 * p_r**0.12 * (-math.log10(p_r)) ** -0.55 * (1e3 * molar_mass) ** -0.5
    return (slope * dT_sat) ** (1.0 / 0.33)
