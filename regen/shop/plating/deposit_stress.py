"""Stress of a deposit: stored energy, edge debond, liner shrink, buckling, unbonded patches."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from regen.result import Array


def stored_energy(stress: ArrayLike, h: ArrayLike, E: ArrayLike, nu: ArrayLike) -> Array:
    """Return the energy that an equi-biaxial layer gives up if it comes off altogether.

    Parameters
    ----------
    stress : array_like
        Stress of the layer [Pa].
    h : array_like
        Thickness [m].
    E : array_like
        Young's modulus [Pa].
    nu : array_like
        Poisson ratio [-].

    Returns
    -------
    ndarray
        (1 - nu) s^2 h/E, broadcast shape [J/m2]. Source: hutchinson_suo1992.
    """
    s = np.asarray(stress, dtype=np.float64)
    return np.asarray((1.0 - np.asarray(nu)) * s**2 * np.asarray(h) / np.asarray(E))


def edge_release(stress: ArrayLike, h: ArrayLike, E: ArrayLike, nu: ArrayLike) -> Array:
    """Return the energy released where a straight edge of a layer runs on, in plane strain.

    Parameters
    ----------
    stress : array_like
        Stress of the layer [Pa].
    h : array_like
        Thickness [m].
    E : array_like
        Young's modulus [Pa].
    nu : array_like
        Poisson ratio [-].

    Returns
    -------
    ndarray
        (1 - nu^2) s^2 h/(2 E), broadcast shape [J/m2]. Source: hutchinson_suo1992.
    """
    s = np.asarray(stress, dtype=np.float64)
    return np.asarray((1.0 - np.asarray(nu) ** 2) * s**2 * np.asarray(h) / (2.0 * np.asarray(E)))


def critical_thickness(
    stress: ArrayLike, toughness: ArrayLike, E: ArrayLike, nu: ArrayLike
) -> Array:
    """Return the thickness at which the stored energy reaches the toughness of the bond.

    Parameters
    ----------
    stress : array_like
        Stress of the layer, not 0 [Pa].
    toughness : array_like
        Of the bond [J/m2].
    E : array_like
        Young's modulus [Pa].
    nu : array_like
        Poisson ratio [-].

    Returns
    -------
    ndarray
        Broadcast shape [m].
    """
    return np.asarray(np.asarray(toughness) / stored_energy(stress, 1.0, E, nu))


def liner_hoop(
    stress: ArrayLike, h: ArrayLike, E: ArrayLike, E_liner: ArrayLike, stiffness: ArrayLike
) -> Array:
    """Return the hoop stress that a growing layer squeezes into the liner below it.

    Parameters
    ----------
    stress : array_like
        Stress with which each new film is laid down, tension positive [Pa].
    h, E : array_like
        Thickness [m] and modulus [Pa] of the layer.
    E_liner : array_like
        Modulus of the liner [Pa].
    stiffness : array_like
        Sum of modulus times thickness of all that shrinks with the liner [N/m].

    Returns
    -------
    ndarray
        -s (E_liner/E) ln(1 + E h/stiffness), broadcast shape [Pa]. Source: ring_shrink.

    Notes
    -----
    Each film shrinks the rings below it, films that lie already too: summed layer by layer. The
    thin limit -s h/h_liner is twice as much for a jacket as thick as the liner.
    """
    E = np.asarray(E, dtype=np.float64)
    ratio = E * np.asarray(h) / np.asarray(stiffness)
    return np.asarray(-np.asarray(stress) * np.asarray(E_liner) / E * np.log1p(ratio))


def strip_buckling(t: ArrayLike, w: ArrayLike, E: ArrayLike, nu: ArrayLike) -> Array:
    """Return the compression at which a strip clamped at both edges buckles.

    Parameters
    ----------
    t, w : array_like
        Thickness, and width between the edges [m].
    E : array_like
        Young's modulus [Pa].
    nu : array_like
        Poisson ratio [-].

    Returns
    -------
    ndarray
        pi^2 E (t/w)^2/(3 (1 - nu^2)), broadcast shape [Pa]. Source: clamped_plate_buckling.
    """
    slender = np.asarray(t, dtype=np.float64) / np.asarray(w)
    return np.asarray(np.pi**2 * np.asarray(E) * slender**2 / (3.0 * (1.0 - np.asarray(nu) ** 2)))


PATCH = 14.68
"""Buckling load of a clamped round plate times a^2/D [-]: the square of the first zero of the
Bessel function J1, 3.8317."""


def patch_buckling(t: ArrayLike, d: ArrayLike, E: ArrayLike, nu: ArrayLike) -> Array:
    """Return the compression at which a round unbonded patch buckles.

    Parameters
    ----------
    t, d : array_like
        Thickness, and diameter of the patch [m].
    E : array_like
        Young's modulus [Pa].
    nu : array_like
        Poisson ratio [-].

    Returns
    -------
    ndarray
        14.68 D/(a^2 t) with a = d/2, broadcast shape [Pa]. Source: clamped_plate_buckling.
    """
    slender = 2.0 * np.asarray(t, dtype=np.float64) / np.asarray(d)
    return np.asarray(PATCH * np.asarray(E) * slender**2 / (12.0 * (1.0 - np.asarray(nu) ** 2)))


def largest_unbond(allowed: ArrayLike, p: ArrayLike, t: ArrayLike) -> Array:
    """Return the widest unbonded strip that a closeout can bend over under pressure.

    Parameters
    ----------
    allowed : array_like
        Stress allowed in the jacket [Pa].
    p : array_like
        Coolant pressure below it [Pa].
    t : array_like
        Thickness of the jacket [m].

    Returns
    -------
    ndarray
        t sqrt(2 allowed/p), broadcast shape [m]: the clamped strip p w^2/(2 t^2). Source:
        clamped_strip.
    """
    ratio = 2.0 * np.asarray(allowed, dtype=np.float64) / np.asarray(p)
    return np.asarray(np.asarray(t) * np.sqrt(ratio))
