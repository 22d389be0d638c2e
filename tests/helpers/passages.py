"""Made-up passages, walls and runs for tests of the compiled core, every number overridable."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.physics import arrays as A
from regen.physics._dispatch import COOLANT_SIDE, FRICTION, GAS_SIDE
from regen.physics.tables import CoolantTable

PASSAGE: dict[str, ArrayLike] = {
    "r": 0.03,
    "width": 1e-3,
    "depth": 2e-3,
    "wall": 1e-3,
    "slots": 80.0,
    "closeout": 3e-3,
    "cos_slope": 1.0,
    "share": 1.0,
    "loss": 0.0,
    "resistance": 0.0,
    "bend": 0.0,
}
RUN = {
    "mass_flow": 2.0,
    "flow_factor": 1.0,
    "gas_factor": 1.0,
    "barrel_factor": 1.0,
    "throat_factor": 1.0,
    "inlet_temperature": 300.0,
    "pressure": 100e5,
    "inlet_loss": 0.5,
    "outlet_loss": 1.0,
    "roughness": 2e-6,
}


def passage(stations: int, length: float = 0.2, **fields: ArrayLike) -> A.Geometry:
    """Return a passage of uniform steps; a field is a number, (S,) or (L, 1)."""
    given = {**PASSAGE, **fields}
    runs = np.broadcast_shapes((1, stations), *(np.shape(v) for v in given.values()))
    full = {
        k: np.array(np.broadcast_to(np.asarray(v, dtype=np.float64), runs), order="C")
        for k, v in given.items()
    }
    step = np.full(runs, length / (stations - 1))
    step[:, 0] = 0.0
    plenum = np.zeros(runs)
    plenum[:, 0] = 1.0
    return A.Geometry(
        **full,
        floor_radius=full["r"] + full["wall"],
        step_gas=step,
        step_passage=step.copy(),
        plenum=plenum,
    )


def metal(k: ArrayLike = 330.0, k_closeout: ArrayLike = 80.0) -> A.Walls:
    """Return walls whose conductivities do not depend on temperature; (W,) or a number."""
    nodes = np.ones((1, 149))
    liner, closeout = (np.atleast_1d(np.asarray(v, dtype=float))[:, None] for v in (k, k_closeout))
    return A.Walls(np.array([10.0, 10.0]), liner * nodes, closeout * nodes)


def runs(count: int = 1, **fields: ArrayLike) -> NDArray[Any]:
    """Return runs that differ only in the fields given."""
    row = np.zeros(count, A.RUN)
    for name, value in {**RUN, **fields}.items():
        row[name] = value
    return row


def models(
    count: int = 1,
    gas: str = "bartz",
    coolant: str = "dittus_boelter",
    friction: str = "colebrook",
) -> NDArray[Any]:
    """Return the ids of the correlations named."""
    row = np.zeros(count, A.MODEL)
    row["throat_factor"] = 1.0
    row["gas_side"] = GAS_SIDE[gas]
    row["coolant_side"] = COOLANT_SIDE[coolant]
    row["friction"] = FRICTION[friction]
    return row


def of_constants(table: CoolantTable, rho: float, mu: float, k: float, cp: float) -> CoolantTable:
    """Return a table of constant properties with other constants, at the same temperatures."""
    dense = table.dense.copy()
    before = np.exp(dense[0, 0, 4, 0])
    for index, value in enumerate((rho, mu, k, cp), start=1):
        dense[:, :, index, 0] = np.log(value)
    return table._replace(dense=dense, dense_edge=table.dense_edge * (cp / before))


def energy_miss(geometry: A.Geometry, out: A.Out) -> NDArray[np.float64]:
    """Return heat through the hot wall, summed from the rows, over the coolant's gain, less 1."""
    line = 2 * np.pi * geometry.r[0] * out.station[:, :, A.O_Q]
    heat = np.sum(0.5 * (line[:, 1:] + line[:, :-1]) * geometry.step_gas[0, 1:], axis=1)
    gained = out.total[:, A.T_MASS_FLOW] * (out.total[:, A.T_H_OUT] - out.total[:, A.T_H_IN])
    return np.abs(heat / gained - 1.0)
