"""Heat flux of the nominal gas-side form on surfaces of given temperature, outside the march."""

import numpy as np

from regen.design import Models
from regen.physics import arrays as A
from regen.physics._dispatch import GAS_SIDE
from regen.physics.arrays import Array
from regen.physics.film import gas_flux, scale_stations

BASIS = {"design": "bartz", "best estimate": "reference_enthalpy"}
"""Nominal gas-side correlation by ``models.basis``, where none is named: the closed form is the
conservative one, the reference enthalpy's counts what happens in the boundary layer."""

MEASURED_THROAT = 0.6
"""Throat flux of one more member over that of the conservative form: about what measured chambers
had (data/measured_throats.toml), where the lowest correlation gives 0.65 to 0.75."""

LOW_THROAT = f"{BASIS['design']} x {MEASURED_THROAT:g} at the throat"
"""That member's name in place of a gas-side correlation's."""


def nominal_gas_side(models: Models) -> str:
    """Return the gas-side correlation that a case names, or that its basis chooses."""
    return models.gas_side or BASIS[models.basis]


def correlation_of(name: str) -> tuple[str, float]:
    """Return the correlation of one part of a member's name, and its factor at the throat [-]."""
    return (BASIS["design"], MEASURED_THROAT) if name == LOW_THROAT else (name, 1.0)


def surface_flux(
    gas: A.GasStations, core: Array, stag: Array, models: Models, r: Array, T_surface: Array
) -> Array:
    """Return the heat flux on surfaces of given temperature, as the march would find it there.

    ``core`` (S, N_CORE) and ``stag`` (N_STAGNATION,) are at one total enthalpy, ``r`` the radius of
    the hot-gas-side wall (S,) [m], ``T_surface`` (S,) [K]. The flux (S,) [W/m2], with fitted
    factors, film and radiation, is below zero where the surface is hotter than the gas beside it.
    """
    core = np.ascontiguousarray(core)
    local = np.empty((core.shape[0], 3))
    scale_stations(core, stag, local)
    model = GAS_SIDE[nominal_gas_side(models)]
    side = A.GasSide(model, core, stag, gas.layer[0], gas.layer_T[0], local)
    return np.array([gas_flux(side, i, 2.0 * r[i], float(T_surface[i])) for i in range(r.size)])
