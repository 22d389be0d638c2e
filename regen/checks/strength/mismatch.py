"""Liner against jacket: the stress that unequal growth puts into both, and growth along x."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from regen.checks.runs import Run
from regen.checks.strength.strain import thermal_strain
from regen.checks.strength.stresses import mismatch_stress
from regen.checks.strength.structure import mean_land
from regen.design import Design
from regen.errors import MissingProperty
from regen.metals.alloys import AlloyCondition
from regen.result import Array

T_BATH = 323.15
"""Temperature of the plating bath, where an electroformed jacket is joined free of stress [K]."""


class Mismatch(NamedTuple):
    """Free strain of liner less jacket [-]; stress of liner and of jacket [Pa]; (..., S).

    Tension is positive. NaN where a property is not tabulated.
    """

    strain: Array
    liner: Array
    jacket: Array
    note: str


def joined_at(design: Design) -> float | None:
    """Return the temperature of joining [K]: that of the bath; None for any other route.

    A bond made hot is not free of stress at its own temperature: the liner flows while it cools.
    """
    return T_BATH if design.closeout.route == "electroformed" else None


def mismatch(
    design: Design,
    metals: tuple[AlloyCondition, AlloyCondition],
    run: Run,
    T_liner: Array,
    T_jacket: Array,
) -> Mismatch:
    """Return the stress that liner and jacket put into each other since they were joined.

    Parameters
    ----------
    design : Design
        Jacket's thickness, and its route.
    metals : tuple of AlloyCondition
        Liner and jacket.
    run : Run
        Solved run, or many.
    T_liner, T_jacket : ndarray
        Temperatures in the state to be assessed (..., S) [K].

    Returns
    -------
    Mismatch
        The liner is capped at its yield, and pulls or pushes the jacket by its own force: stress
        times the thickness of wall and lands, these smeared over the pitch since they run along
        the axis.

    Raises
    ------
    RangeError
        If there is no table at all of the liner's expansion, modulus or yield, or of the
        jacket's expansion; or the temperature of joining is not known.

    Notes
    -----
    Where the jacket's modulus is not tabulated it is taken as rigid: no other has more stress.
    """
    T0 = joined_at(design)
    if T0 is None:
        message = (
            f"a {design.closeout.route} jacket is not free of stress at a temperature that is"
            " known: the liner flows while the bond cools"
        )
        raise MissingProperty(message)
    liner, jacket = (replace(metal, beyond="nan") for metal in metals)
    t_l, t_j = _liner_thickness(run), design.closeout.jacket
    e = thermal_strain(liner, T_liner, T0) - thermal_strain(jacket, T_jacket, T0)
    E, nu, cap = (
        liner.value(name, T_liner).value for name in ("youngs_modulus", "poisson_ratio", "yield")
    )
    stiffness = E * t_l / (_modulus(jacket, T_jacket) * t_j)
    rigid = np.isnan(stiffness)
    stress = mismatch_stress(E, e, nu, np.where(rigid, 0.0, stiffness), cap)
    note = "jacket taken as rigid, its modulus is not tabulated there" if rigid.any() else ""
    return Mismatch(e, stress, np.asarray(-stress * t_l / t_j), note)


def _liner_thickness(run: Run) -> Array:
    """Return wall and lands as one layer of the same section along the axis (..., S) [m]."""
    s, land = run.stations, mean_land(run)
    share = land / (land + s["channel_width_m"])
    return np.asarray(s["wall_m"] + s["channel_depth_m"] * share)


def _modulus(metal: AlloyCondition, T: Array) -> Array:
    try:
        return metal.value("youngs_modulus", T).value
    except MissingProperty:
        return np.full(np.shape(T), np.nan)


def growth(strain: Array, x: Array) -> tuple[float, int]:
    """Return the growth along the axis of one design, and how many stations were left out.

    Parameters
    ----------
    strain : ndarray
        Free strain at the stations (S,), NaN where it is not known [-].
    x : ndarray
        Rising stations (S,) [m].

    Returns
    -------
    tuple of float and int
        Integral of the strain over x [m], NaN if it is not known somewhere; stations without [-].
    """
    mean = 0.5 * (strain[1:] + strain[:-1])
    return float(np.sum(mean * np.diff(x))), int(np.count_nonzero(np.isnan(strain)))
