"""What is to be said of the solved hot-gas side."""

from __future__ import annotations

import numpy as np

from regen.physics import arrays as A
from regen.physics.march import gas_at
from regen.properties import gas_radiation
from regen.result import Note
from regen.solve import Solution


def radiation_notes(solution: Solution) -> list[Note]:
    """Return the share of radiation in the nominal heat, or nothing where it is off.

    Parameters
    ----------
    solution : Solution
        Solved lanes.

    Returns
    -------
    list of Note
        One note, or none.
    """
    prepared, nominal = solution.prepared, solution.nominal
    if prepared.design.models.radiation == "off":
        return []
    core, stagnation = np.empty(prepared.gas.core.shape[2:]), np.empty(A.N_STAGNATION)
    gas_at(prepared.gas, 0, nominal.total[A.T_H0], core, stagnation)
    core = prepared.rising(core)
    passage, station = prepared.passage, nominal.station
    cooled = (station[:, A.O_T_WALL_HOT_MEAN] / core[:, A.G_T]) ** 4
    radiated = core[:, A.G_RADIATION] * (1.0 - cooled)
    q = station[:, A.O_Q]
    line = 2.0 * np.pi * passage.r * radiated
    total = float(np.sum(0.5 * (line[1:] + line[:-1]) * passage.step_gas[1:]))
    most = int(np.argmax(radiated))
    text = (
        f"of H2O and CO2 ({prepared.design.models.radiation}): {radiated[most] / 1e6:.2g} MW/m2 at "
        f"most, {radiated[most] / q[most]:.0%} of the flux there, and "
        f"{total / nominal.total[A.T_HEAT]:.0%} of all heat; {gas_radiation.UNCERTAIN}"
    )
    return [Note("radiation", text, float(passage.x[most]))]
