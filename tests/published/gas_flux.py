"""Heat flux of any gas-side form at stations, without a march."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.physics import arrays as A
from regen.physics._dispatch import GAS_SIDE
from regen.physics.film import gas_flux
from regen.physics.gasside import station_scaling, throat_scaling

Array = NDArray[np.float64]


def fluxes(
    gas: A.GasStations, form: str, D: ArrayLike, T_wall: ArrayLike, x_eff: ArrayLike = 1.0
) -> Array:
    """Heat flux at stations [W/m2]: local diameter and wall temperature (S,) or one number.

    ``x_eff`` is the length of the boundary layer [m]; only ``integral_layer`` reads it.
    """
    core, stag = gas.core[0, 0].copy(), gas.stagnation[0, 0]
    core[:, A.G_X_EFF] = x_eff
    scaled = (A.S_MU, A.S_CP, A.S_PR, A.S_P0, A.S_CSTAR, A.S_THROAT_DIAMETER, A.S_THROAT_CURVATURE)
    base = throat_scaling(*(float(stag[field]) for field in scaled))
    local = np.ones((core.shape[0], 3))
    for row, station in zip(local, core, strict=True):
        row[:2] = station_scaling(base, stag[A.S_GAMMA], station[A.G_AREA_RATIO], station[A.G_MACH])
    side = A.GasSide(GAS_SIDE[form], core, stag, gas.layer[0], gas.layer_T[0], local)
    wide, hot = (np.broadcast_to(np.asarray(v, dtype=float), core.shape[:1]) for v in (D, T_wall))
    return np.array([gas_flux(side, i, float(wide[i]), float(hot[i])) for i in range(wide.size)])
