"""Rows of alloy data: tables by temperature, fatigue and creep points, values only compared.

What is read here has been checked: ``alloy_checks`` does that for a user's own alloy, and a test
does it for ours.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

ANY = "any"
"""Condition of the rows that hold for every condition of an alloy."""

PROPERTIES: dict[str, tuple[str, dict[str, float]]] = {
    "thermal_conductivity": ("W/(m K)", {"W/m/K": 1.0, "W/(m K)": 1.0}),
    "specific_heat": ("J/(kg K)", {"J/kg/K": 1.0, "J/(kg K)": 1.0}),
    "youngs_modulus": ("Pa", {"GPa": 1e9}),
    "tangent_modulus": ("Pa", {"GPa": 1e9}),
    "poisson_ratio": ("-", {"-": 1.0}),
    "thermal_expansion_mean": ("1/K", {"1e-6/K": 1e-6}),
    "thermal_expansion_instantaneous": ("1/K", {"1e-6/K": 1e-6}),
    "yield": ("Pa", {"MPa": 1e6}),
    "yield_floor": ("Pa", {"MPa": 1e6}),
    "compressive_yield": ("Pa", {"MPa": 1e6}),
    "uts": ("Pa", {"MPa": 1e6}),
    "elongation": ("-", {"%": 0.01}),
    "reduction_of_area": ("-", {"%": 0.01}),
}
"""SI unit of each property, and the factor to SI of each unit its rows may have."""

STRENGTH = ("yield", "compressive_yield", "uts", "elongation", "reduction_of_area")
"""Properties that heating changes; fatigue and creep beside them."""


class Fact(NamedTuple):
    """One number with its unit, key in data/sources.toml and mark."""

    value: float
    unit: str
    source: str
    mark: str


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Points of one property in SI, rising in temperature, each with its source and mark.

    ``low`` and ``high`` are the range the source has the value in, NaN where it gives none.
    """

    T: Array
    value: Array
    sources: tuple[str, ...]
    marks: tuple[str, ...]
    low: Array
    high: Array


@dataclass(frozen=True, slots=True, eq=False)
class Fatigue:
    """Low-cycle fatigue tests at one temperature [K], by rising total strain range [-].

    ``cycles`` to failure [-], each point with its source and mark.
    """

    T: float
    strain_range: Array
    cycles: Array
    sources: tuple[str, ...]
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Creep:
    """Creep-rupture points by rising temperature [K], then stress [Pa]; time to rupture [s].

    ``constant`` is that of a Larson-Miller parameter with the time in hours, where the source
    gives it.
    """

    T: Array
    stress: Array
    time: Array
    sources: tuple[str, ...]
    marks: tuple[str, ...]
    constant: Fact | None = None


class Compared(NamedTuple):
    """A value of a source that is shown beside the table and not used, in the unit it came in."""

    condition: str
    property: str
    T: float
    value: float
    unit: str
    source: str
    mark: str
    why: str


def as_fact(entry: Mapping[str, Any], prefix: str = "") -> Fact:
    """Return a fact of a stanza; ``prefix`` marks the source of a user's own."""
    return Fact(float(entry["value"]), entry["unit"], prefix + entry["source"], entry["mark"])


def cells(text: str) -> Iterator[tuple[int, str, list[str]]]:
    """Yield the lines of a table that are not blank: number, text, and cells without blanks.

    Parameters
    ----------
    text : str
        Text of the file [-].

    Yields
    ------
    tuple
        A cell with a comma stands in double quotes, on one line.
    """
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            yield number, line.strip(), [cell.strip() for cell in next(csv.reader([line]))]


def rows_of(text: str) -> Iterator[dict[str, str]]:
    """Yield the rows of a checked table by the names of its header.

    Parameters
    ----------
    text : str
        Text of the file [-].

    Yields
    ------
    dict
        Cells by column.
    """
    header: list[str] = []
    for _, _, row in cells(text):
        if header:
            yield dict(zip(header, row, strict=True))
        else:
            header = row


def _rows(text: str, prefix: str) -> Iterator[tuple[dict[str, str], str, str]]:
    """Yield rows with their source and mark; a user's own source is free text after ``prefix``."""
    name = "source" if prefix else "source_key"
    for row in rows_of(text):
        yield row, prefix + row[name], row["mark"]


def _frozen(values: list[float]) -> Array:
    array = np.array(values, dtype=np.float64)
    array.flags.writeable = False
    return array


def _optional(text: str | None, factor: float) -> float:
    return float(text) * factor if text else float("nan")


def read_tables(text: str, prefix: str = "") -> Mapping[tuple[str, str], Table]:
    """Return the tables of an alloy by (condition, property).

    Parameters
    ----------
    text : str
        Checked rows with a header [-].
    prefix : str
        Put before every source of a user's own alloy [-].

    Returns
    -------
    mapping
        Tables in SI.
    """
    points: dict[tuple[str, str], list[tuple[float, float, float, float, str, str]]] = {}
    for row, source, mark in _rows(text, prefix):
        factor = PROPERTIES[row["property"]][1][row["unit"]]
        low, high = (_optional(row.get(name), factor) for name in ("low", "high"))
        point = (float(row["T_K"]), float(row["value"]) * factor, low, high, source, mark)
        points.setdefault((row["condition"], row["property"]), []).append(point)
    return MappingProxyType({name: _table(rows) for name, rows in points.items()})


def _table(rows: list[tuple[float, float, float, float, str, str]]) -> Table:
    T, value, low, high = (_frozen([row[n] for row in rows]) for n in range(4))  # type: ignore[misc]
    return Table(T, value, tuple(r[4] for r in rows), tuple(r[5] for r in rows), low, high)


def read_fatigue(text: str, prefix: str = "") -> Mapping[str, tuple[Fatigue, ...]]:
    """Return the fatigue tests by condition, each of one temperature, coldest first.

    Parameters
    ----------
    text : str
        Checked rows with a header, "" for none [-].
    prefix : str
        Put before every source of a user's own alloy [-].

    Returns
    -------
    mapping
        Strain ranges and cycles [-].
    """
    points: dict[str, dict[float, list[tuple[float, float, str, str]]]] = {}
    for row, source, mark in _rows(text, prefix):
        point = (float(row["strain_range_percent"]) / 100.0, float(row["cycles"]), source, mark)
        points.setdefault(row["condition"], {}).setdefault(float(row["T_K"]), []).append(point)
    return {
        condition: tuple(_fatigue(T, sorted(tests[T])) for T in sorted(tests))
        for condition, tests in points.items()
    }


def _fatigue(T: float, rows: list[tuple[float, float, str, str]]) -> Fatigue:
    strain, cycles, sources, marks = zip(*rows, strict=True)
    return Fatigue(T, _frozen(list(strain)), _frozen(list(cycles)), sources, marks)


def read_creep(text: str, prefix: str = "") -> Mapping[str, Creep]:
    """Return the creep-rupture points by condition.

    Parameters
    ----------
    text : str
        Checked rows with a header, "" for none [-].
    prefix : str
        Put before every source of a user's own alloy [-].

    Returns
    -------
    mapping
        Points in SI.
    """
    points: dict[str, list[tuple[float, float, float, str, str]]] = {}
    for row, source, mark in _rows(text, prefix):
        T, stress, hours = (float(row[name]) for name in ("T_K", "stress_MPa", "time_h"))
        point = (T, stress * 1e6, hours * 3600.0, source, mark)
        points.setdefault(row["condition"], []).append(point)
    return {condition: _creep(sorted(rows)) for condition, rows in points.items()}


def _creep(rows: list[tuple[float, float, float, str, str]]) -> Creep:
    T, stress, time, sources, marks = zip(*rows, strict=True)
    return Creep(_frozen(list(T)), _frozen(list(stress)), _frozen(list(time)), sources, marks)


def read_compared(text: str, prefix: str = "") -> tuple[Compared, ...]:
    """Return the values that are shown and not used.

    Parameters
    ----------
    text : str
        Checked rows with a header, "" for none [-].
    prefix : str
        Put before every source of a user's own alloy [-].

    Returns
    -------
    tuple of Compared
        In the order of the file.
    """
    return tuple(
        Compared(
            row["condition"],
            row["property"],
            float(row["T_K"]),
            float(row["value"]),
            row["unit"],
            source,
            mark,
            row["why"],
        )
        for row, source, mark in _rows(text, prefix)
    )
