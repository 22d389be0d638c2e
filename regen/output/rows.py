"""Which rows of the stations make one curve, and where each circuit begins and ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from regen.result import Array, Result, pieces


def pieces_of(stations: Mapping[str, Array]) -> tuple[NDArray[np.int64], ...]:
    """Return the rows that may be joined: one circuit, one pass, no plenum between [-].

    Parameters
    ----------
    stations : mapping
        Columns of ``result.STATION_COLUMNS`` (rows,).

    Returns
    -------
    tuple of ndarray of int
        x rises in each.
    """
    return pieces(stations["x_m"], stations["circuit"], stations["pass_number"])


def gaps(stations: Mapping[str, Array], values: Array) -> Array:
    """Return values by row with a NaN wherever a curve must not be joined.

    Parameters
    ----------
    stations : mapping
        Columns of ``result.STATION_COLUMNS`` (rows,).
    values : ndarray
        One value a row (rows,) [any].

    Returns
    -------
    ndarray
        Piece by piece; as it was if there is one piece.
    """
    joined = [np.append(values[rows], np.nan) for rows in pieces_of(stations)]
    return np.asarray(np.concatenate(joined)[:-1], dtype=np.float64)


def curve(stations: Mapping[str, Array], column: str, factor: float = 1.0) -> tuple[Array, Array]:
    """Return x [mm] and a column for drawing, with gaps.

    Parameters
    ----------
    stations : mapping
        Columns of ``result.STATION_COLUMNS`` (rows,).
    column : str
        Name of the column [-].
    factor : float
        From SI to the unit drawn [any].

    Returns
    -------
    tuple of ndarray
        x and values.
    """
    return gaps(stations, stations["x_m"] * 1e3), gaps(stations, stations[column] * factor)


def numbers(result: Result) -> list[int]:
    """Return the numbers of the circuits [-]."""
    return sorted({int(number) for number in result.stations["circuit"]})


def ends_of(result: Result, number: int) -> tuple[int, int]:
    """Return the rows of a circuit's inlet and outlet [-]."""
    s = result.stations
    rows = np.flatnonzero(s["circuit"] == number)
    length = s["passage_length_m"][rows]
    return int(rows[np.argmin(length)]), int(rows[np.argmax(length)])


def from_nozzle(result: Result, number: int) -> bool:
    """Return whether the coolant of a circuit [-] enters at its nozzle end."""
    s, (inlet, _) = result.stations, ends_of(result, number)
    return bool(s["x_m"][inlet] == s["x_m"][s["circuit"] == number].max())


def manifolds(result: Result) -> Iterator[tuple[Array, Array]]:
    """Yield x [mm] and pressure [Pa] of inlet and outlet manifold (2,), circuit by circuit.

    Parameters
    ----------
    result : Result
        Solved design.

    Yields
    ------
    tuple of ndarray
        In the order of the case.
    """
    total = result.summary
    whole = (total["coolant_pressure_in_Pa"], total["coolant_pressure_out_Pa"])
    each = [(c.pressure_in_Pa, c.pressure_out_Pa) for c in result.circuits] or [whole]
    for number, pressures in enumerate(each, start=1):
        yield result.stations["x_m"][list(ends_of(result, number))] * 1e3, np.array(pressures)
