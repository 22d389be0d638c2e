"""Closed-form quasi-two-dimensional wall: one pitch of hot wall, channel, tapered land, closeout.

The hot wall carries the mean and the first cosine mode over half a pitch; the land is a tapered
fin whose tip feeds the closeout over the channel. Checked against two-dimensional finite elements
(tests/published); a one-dimensional fin is off by up to 15 % there.
"""

from __future__ import annotations

import math

from regen.physics._jit import jit


@jit
def first_mode(w, t, t_wall):
    """Return what the hot wall's first cosine mode takes from lengths alone.

    Parameters
    ----------
    w, t : float
        Channel width and land width at the slot floor [m].
    t_wall : float
        Hot-wall thickness [m].

    Returns
    -------
    tuple of float
        Wave number b over half a pitch [1/m], sin(b w/2), sin(b w)/(4 b) [m], cosh(b t_wall) and
        sinh(b t_wall).
    """
    b = 2.0 * math.pi / (w + t)
    grow = math.exp(b * t_wall)
    sine2 = math.sin(b * w) / (4.0 * b)
    return b, math.sin(0.5 * b * w), sine2, 0.5 * (grow + 1.0 / grow), 0.5 * (grow - 1.0 / grow)


@jit
def wall_form(mode, w, t, d, t_closeout, taper, k_w, k_l, k_c, h_c, h_side, h_g):
    """Return the coefficient of one pitch at the channel root, and how temperature spreads.

    Parameters
    ----------
    mode : tuple
        From ``first_mode``.
    w, t, d : float
        Channel width and land width at the slot floor, channel depth [m].
    t_closeout : float
        Closeout thickness [m].
    taper : float
        Growth of the land's half-width per depth, pi/N times the cosine of the slope [-].
    k_w, k_l, k_c : float
        Conductivity of hot wall, land and closeout [W/(m K)].
    h_c, h_side, h_g : float
        Film coefficients of the coolant on the slot floor and on the land's sides, and of the
        gas [W/(m2 K)]. The first two differ where the floor boils and the cooler land does not.

    Returns
    -------
    h_eff : float
        Flux at the channel root, pitch mean, over T_root - T_coolant [W/(m2 K)].
    spread : float
        Maximum minus mean of the hot wall over T_root - T_coolant [-].
    floor : float
        Excess temperature of the slot floor over that of the root's mean [-].
    land_mean : float
        Mean excess temperature of the land over that of its root [-].
    """
    b, sine, sine2, ch, sh = mode
    m0 = math.sqrt(2.0 * h_side / (k_l * t))
    th0 = math.tanh(m0 * d)
    tl = t + taper * th0 / m0
    h1 = 1.0 / (1.0 / h_side + tl / (6.0 * k_l))
    h2 = 1.0 / (1.0 / h_side + t_closeout / (3.0 * k_c))
    m = math.sqrt(2.0 * h1 / (k_l * tl))
    mc = math.sqrt(h2 / (k_c * t_closeout))
    tip = 2.0 * k_c * t_closeout * mc * math.tanh(0.5 * mc * w) / (k_l * m * tl)
    th = math.tanh(m * d)
    hf = k_l * m * (th + tip) / (1.0 + tip * th) * tl / t
    half = 0.5 * (w + t)
    a = 0.5 * w
    H00 = h_c * a + hf * (half - a)
    H01 = (h_c - hf) * sine / b
    H11 = h_c * (0.5 * a + sine2) + hf * (0.5 * (half - a) - sine2)
    phi = ch + h_g / (k_w * b) * sh
    psi = k_w * b * sh + h_g * ch
    D = 0.5 * psi * half + H11 * phi
    floor = 1.0 - H01 * phi / D * sine / (a * b)
    return (H00 - H01 * H01 * phi / D) / half, abs(H01 / D), floor, th0 / (m0 * d)
