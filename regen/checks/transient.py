"""Closed forms of walls that heat up, and the heat that metals hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from regen.metals.alloys import AlloyCondition
from regen.result import Array

_EARLY = 0.05
"""Fourier number below which a slab is still a half-space, within 1e-8 of its rise [-]."""
_TERMS = np.arange(1, 9)[:, None]
_NEWTON_STEPS = 30


def dry_time(q: ArrayLike, k: ArrayLike, rho_cp: ArrayLike, t: ArrayLike, rise: ArrayLike) -> Array:
    """Return when the hot face of a wall without coolant has risen by so much.

    Parameters
    ----------
    q : array_like
        Constant flux into the hot face [W/m2].
    k, rho_cp : array_like
        Conductivity [W/(m K)] and heat capacity by volume [J/(m3 K)].
    t : array_like
        Wall thickness, its back insulated [m].
    rise : array_like
        Rise of the hot face [K].

    Returns
    -------
    ndarray
        Time, broadcast shape [s]; zero where the rise is not above zero.

    Notes
    -----
    Slab of uniform first temperature: rise k/(q t) = Fo + 1/3 - (2/pi^2) sum exp(-n^2 pi^2 Fo)/n^2
    with Fo = time k/(rho_cp t^2), before Fo = 0.05 the half-space 2 sqrt(Fo/pi). The rise grows
    ever slower, so Newton's steps from an earlier time never pass the root.
    Source: carslaw_jaeger1959.
    """
    q, k, rho_cp, t, rise = np.broadcast_arrays(
        *(np.asarray(values, dtype=np.float64) for values in (q, k, rho_cp, t, rise))
    )
    aim = np.maximum(rise * k / (q * t), 0.0)
    early = np.pi / 4.0 * aim**2
    Fo = np.maximum(aim - 1.0 / 3.0, _EARLY)
    for _ in range(_NEWTON_STEPS):
        terms = np.exp(-((_TERMS * np.pi) ** 2) * Fo.ravel())
        series = (2.0 / np.pi**2 * terms / _TERMS**2).sum(axis=0).reshape(Fo.shape)
        slope = 1.0 + 2.0 * terms.sum(axis=0).reshape(Fo.shape)
        step = (aim - (Fo + 1.0 / 3.0 - series)) / slope
        Fo = np.maximum(Fo + step, _EARLY)
        if np.all(np.abs(step) <= 1e-13 * Fo):
            break
    return np.asarray(np.where(early <= _EARLY, early, Fo) * rho_cp * t**2 / k)


def half_space_time(q: Array, k: Array, rho_cp: Array, rise: Array | float) -> Array:
    """Return when the face of a half-space has risen by so much, (pi/4) k rho_cp (rise/q)^2 [s].

    Never sooner than that of a wall; arguments as those of ``dry_time``.
    """
    return np.asarray(np.pi / 4.0 * k * rho_cp * (rise / q) ** 2)


def lumped_time(q: Array, rho_cp: Array, t: Array, rise: Array | float) -> Array:
    """Return when a wall of one temperature has risen by so much, rho_cp t rise/q [s].

    Never sooner than a real one; arguments as those of ``dry_time``.
    """
    return np.asarray(rho_cp * t * rise / q)


def heat_capacity(metal: AlloyCondition, T: Array) -> Array:
    """Return the heat capacity of a metal by volume, shape of T [J/(m3 K)], at T [K].

    Where its table ends before T, that of the nearer end: it rises slowly and steadily with
    temperature, and ``held_capacity`` says so. Raises ``MissingProperty`` without a table.
    """
    table = metal.table("specific_heat")
    return np.asarray(metal.alloy.density.value * np.interp(T, table.T, table.value))


def held_capacity(metal: AlloyCondition, T: Array) -> str:
    """Say where ``heat_capacity`` held the end of its table at T [K], "" where it covers T."""
    table = metal.table("specific_heat")
    if np.all((table.T[0] <= T) & (table.T[-1] >= T)):
        return ""
    return (
        f"specific heat of {metal.alloy.key} is tabulated at {span(table.T)}; its nearer end is"
        f" taken for {span(T)} (copper's rises by about a tenth from 300 to 700 K)"
    )


def span(T: Array) -> str:
    """Return the temperatures between which some lie [K], in words."""
    return " to ".join(dict.fromkeys((f"{np.min(T):.0f}", f"{np.max(T):.0f}"))) + " K"
