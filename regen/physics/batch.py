"""Run runs through the compiled march: one call a chunk, chunks spread over threads."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.physics import arrays as A
from regen.physics.march import march
from regen.physics.tables import CoolantTable

CHUNK = 256
"""Runs a chunk: large enough to hide the call, small enough to balance threads."""


def march_all(
    geometry: A.Geometry,
    gas: A.GasStations,
    table: CoolantTable,
    walls: A.Walls,
    runs: NDArray[Any],
    models: NDArray[Any],
    *,
    threads: int = 1,
) -> tuple[A.Out, NDArray[np.int64]]:
    """Solve every run.

    Parameters
    ----------
    geometry : Geometry
        Each array (1, S), shared, or (L, S) [m].
    gas, table, walls : GasStations, CoolantTable, Walls
        Property tables.
    runs, models : structured ndarray (L,)
        ``arrays.RUN`` and ``arrays.MODEL``.
    threads : int
        Threads to spread chunks over [-].

    Returns
    -------
    out : Out
        Stations (L, S, fields) and totals (L, fields).
    status : ndarray of int64 (L, 2)
        Code of ``physics.status`` and the station where the run stopped [-].

    Raises
    ------
    ValueError
        If an argument has another type than the compiled signature, which would compile anew.
    """
    if runs.dtype != A.RUN or models.dtype != A.MODEL or runs.shape != models.shape:
        message = "runs and models must be arrays of arrays.RUN and arrays.MODEL of one length"
        raise ValueError(message)
    for array in (*geometry, *gas, *walls, *(v for v in table if isinstance(v, np.ndarray))):
        if not (array.dtype == np.float64 and array.flags.c_contiguous and array.flags.writeable):
            message = "every array must be float64, C-contiguous and writeable"
            raise ValueError(message)
    count, stations = runs.shape[0], geometry.r.shape[1]
    out = A.Out(np.zeros((count, stations, A.N_STATION_OUT)), np.zeros((count, A.N_TOTAL)))
    status = np.zeros((count, 2), dtype=np.int64)

    def chunk(start: int) -> None:
        part = slice(start, min(start + CHUNK, count))
        room = np.empty((stations, A.N_CORE)), np.empty(A.N_STAGNATION), np.empty((stations, 3))
        rows = A.Out(out.station[part], out.total[part])
        march(geometry, gas, table, walls, runs[part], models[part], *room, rows, status[part])

    starts = range(0, count, CHUNK)
    if threads == 1 or len(starts) == 1:
        for start in starts:
            chunk(start)
    else:
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(chunk, starts))
    return out, status
