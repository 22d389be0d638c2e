"""Stress of a deposit: stored energy, edge debond, liner shrink, buckling, unbonded patches.

Arguments broadcast: stresses and moduli E [Pa], thickness h and t, width w, diameter d [m],
Poisson ratio nu [-].
"""

import numpy as np

from regen.result import Array

Value = Array | float


def stored_energy(stress: Value, h: Value, E: Value, nu: Value) -> Array:
    """Return the energy an equi-biaxial layer releases if it comes off altogether [J/m2].

    (1 - nu) s^2 h/E. Source: hutchinson_suo1992.
    """
    return np.asarray((1.0 - nu) * np.square(stress) * h / E)


def edge_release(stress: Value, h: Value, E: Value, nu: Value) -> Array:
    """Return the energy released where a layer's straight edge advances, plane strain [J/m2].

    (1 - nu^2) s^2 h/(2 E). Source: hutchinson_suo1992.
    """
    return np.asarray((1.0 - np.square(nu)) * np.square(stress) * h / (2.0 * E))


def critical_thickness(stress: Value, toughness: Value, E: Value, nu: Value) -> Array:
    """Return the thickness [m] whose stored energy reaches the bond's toughness [J/m2]."""
    return np.asarray(toughness / stored_energy(stress, 1.0, E, nu))


def liner_hoop(stress: Value, h: Value, E: Value, E_liner: Value, stiffness: Value) -> Array:
    """Return the hoop stress that a growing layer puts into the liner below it [Pa].

    -s (E_liner/E) ln(1 + E h/stiffness), where stiffness sums modulus times thickness of all that
    shrinks with the liner [N/m]. Source: ring_shrink.

    Each film of stress s, tension positive, shrinks the rings below it, earlier films included:
    summed layer by layer. The thin limit -s h/h_liner is twice as much for a jacket as thick as
    the liner.
    """
    return np.asarray(-stress * E_liner / E * np.log1p(E * h / stiffness))


def strip_buckling(t: Value, w: Value, E: Value, nu: Value) -> Array:
    """Return the compression at which a strip clamped at both edges buckles [Pa].

    pi^2 E (t/w)^2/(3 (1 - nu^2)). Source: clamped_plate_buckling.
    """
    return np.asarray(np.pi**2 * E * np.square(t / w) / (3.0 * (1.0 - np.square(nu))))


PATCH = 14.68
"""Buckling load of a clamped round plate times a^2/D [-]: the square of the first zero of the
Bessel function J1, 3.8317."""


def patch_buckling(t: Value, d: Value, E: Value, nu: Value) -> Array:
    """Return the compression at which a round unbonded patch of diameter d buckles [Pa].

    14.68 D/(a^2 t) with a = d/2. Source: clamped_plate_buckling.
    """
    return np.asarray(PATCH * E * np.square(2.0 * t / d) / (12.0 * (1.0 - np.square(nu))))


def largest_unbond(allowed: Value, p: Value, t: Value) -> Array:
    """Return the widest unbonded strip [m] that can span at a stress allowed, pressure p [Pa].

    t sqrt(2 allowed/p): the clamped strip p w^2/(2 t^2). Source: clamped_strip.
    """
    return np.asarray(t * np.sqrt(2.0 * allowed / p))
