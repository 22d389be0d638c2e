"""Wall materials: tables of properties by alloy and condition, with a source for every number.

The tables are data (``regen/data/alloys``): one row a point with its unit, source and mark, and
one stanza an alloy. Nothing here guesses: an unknown name, a missing property or a temperature
outside a table is an error that says what is known.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Service = Literal["short", "long"]

FOLDER = Path(__file__).parent.parent / "data" / "alloys"
ANY = "any"
"""Condition of the rows that hold for every condition of an alloy."""

PROPERTIES: dict[str, tuple[str, dict[str, float]]] = {
    "thermal_conductivity": ("W/(m K)", {"W/m/K": 1.0}),
    "specific_heat": ("J/(kg K)", {"J/kg/K": 1.0}),
    "youngs_modulus": ("Pa", {"GPa": 1e9}),
    "tangent_modulus": ("Pa", {"GPa": 1e9}),
    "poisson_ratio": ("-", {"-": 1.0}),
    "thermal_expansion_mean": ("1/K", {"1e-6/K": 1e-6}),
    "thermal_expansion_instantaneous": ("1/K", {"1e-6/K": 1e-6}),
    "yield": ("Pa", {"MPa": 1e6}),
    "uts": ("Pa", {"MPa": 1e6}),
}
"""SI unit of each property, and the factor to SI of each unit its rows may have."""

# Conductivity changes little beyond a table's end. Strength is held below its coldest point only:
# every metal here is face-centred cubic and gains strength as it cools.
_HELD_BELOW = frozenset({"thermal_conductivity", "yield", "uts"})
_HELD_ABOVE = frozenset({"thermal_conductivity"})


class RangeError(ValueError):
    """A value was asked for where the table has none."""


class MissingProperty(RangeError):  # noqa: N818 - reads as what happened
    """The alloy has no table of this property in this condition."""


class Fact(NamedTuple):
    """One number with its unit, key in data/sources.toml and mark."""

    value: float
    unit: str
    source: str
    mark: str


class Looked(NamedTuple):
    """Values looked up, shape of T, in SI; where the table's end was held; and a note of it."""

    value: Array
    held: NDArray[np.bool_]
    note: str


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Points of one property in SI, rising in temperature, each with its source and mark."""

    T: Array
    value: Array
    sources: tuple[str, ...]
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Alloy:
    """One alloy as its stanza describes it; ``conditions`` maps each name to its treatment.

    ``T_max`` holds the working limit of a hot wall [K] for short and long service, where one is
    known. ``expansion_reference`` is the temperature from which mean expansion counts [K].
    """

    key: str
    name: str
    composition: str
    also: tuple[str, ...]
    form: str
    density: Fact
    solidus: Fact | None
    T_max: Mapping[str, Fact]
    expansion_reference: Fact | None
    conditions: Mapping[str, str]
    notes: tuple[str, ...]

    @property
    def tables(self) -> Mapping[tuple[str, str], Table]:
        """Tables by (condition, property); read on first use."""
        return _tables(self.key)


@dataclass(frozen=True, slots=True, eq=False)
class AlloyCondition:
    """An alloy in one condition, or in "any": what holds for all its conditions.

    ``beyond`` says what ``value`` does where a table may not be left: raise, or give NaN there.
    """

    alloy: Alloy
    condition: str
    beyond: Literal["raise", "nan"] = "raise"

    def __str__(self) -> str:
        return f"{self.alloy.key}, {self.condition}"

    def table(self, name: str) -> Table:
        """Return the table of a property: that of the condition, else that of all conditions.

        Parameters
        ----------
        name : str
            One of ``PROPERTIES``.

        Returns
        -------
        Table
            Points in SI.

        Raises
        ------
        ValueError
            If there is no such property at all.
        MissingProperty
            If this alloy has no rows of it in this condition.
        """
        if name not in PROPERTIES:
            raise ValueError(_unknown("property", name, PROPERTIES))
        tables = self.alloy.tables
        for condition in (self.condition, ANY):
            if (condition, name) in tables:
                return tables[condition, name]
        elsewhere = [c for c, p in tables if p == name]
        known = f"known in condition {', '.join(elsewhere)}" if elsewhere else "not known at all"
        message = (
            f"{name} of {self.alloy.key} in condition {self.condition!r} is not tabulated"
            f" ({known}); add measured rows to data/alloys/{self.alloy.key}.csv"
        )
        raise MissingProperty(message)

    def value(self, name: str, T: ArrayLike) -> Looked:
        """Return a property by linear interpolation.

        Parameters
        ----------
        name : str
            One of ``PROPERTIES``.
        T : array_like
            Temperature, any shape [K].

        Returns
        -------
        Looked
            Value in SI and mask, shape of T, and a note if an end of the table was held.

        Raises
        ------
        MissingProperty
            If there is no table.
        RangeError
            If T leaves the table where its end may not be held, or is not a number, unless
            ``beyond`` is "nan".

        Notes
        -----
        Beyond the table conductivity keeps its last value; so does strength on the cold side,
        where every metal here is stronger. Everything else raises.
        """
        table = self.table(name)
        at = np.asarray(T, dtype=np.float64)
        low, high = float(table.T[0]), float(table.T[-1])
        below, above = at < low, at > high
        bad = ~np.isfinite(at)
        if name not in _HELD_BELOW:
            bad = bad | below
        if name not in _HELD_ABOVE:
            bad = bad | above
        if bad.any() and self.beyond == "raise":
            message = (
                f"{name} of {self} asked for at {_span(at[bad])}: its table covers"
                f" {_span(table.T)} ({', '.join(dict.fromkeys(table.sources))}); bring the"
                f" temperature inside, or add measured rows to data/alloys/{self.alloy.key}.csv"
            )
            raise RangeError(message)
        held = below | above
        value = np.where(bad, np.nan, np.interp(at, table.T, table.value))
        return Looked(value, held, self._held_note(name, table, at[held]))

    def _held_note(self, name: str, table: Table, outside: Array) -> str:
        if not outside.size:
            return ""
        return (
            f"{name} of {self} is tabulated for {_span(table.T)}; the value at the nearer end is"
            f" held at {_span(outside)}"
        )

    def conductivity_grid(self, T: ArrayLike) -> Array:
        """Return the conductivity at temperature nodes, for the compiled core.

        Parameters
        ----------
        T : array_like
            Nodes (N,), which may go beyond the table [K].

        Returns
        -------
        ndarray
            Conductivity (N,), held beyond the table's ends [W/(m K)]. Ask ``value`` at the
            temperatures the wall came to for the note of where it was held.
        """
        return self.value("thermal_conductivity", T).value

    def limit(self, service: Service) -> Fact | None:
        """Return the working limit of a hot wall [K] for short or long service, None if unknown.

        Parameters
        ----------
        service : {"short", "long"}
            Seconds to minutes in total, or hours and many firings.

        Returns
        -------
        Fact or None
            The limit with its source and mark.
        """
        return self.alloy.T_max.get(service)


def _span(T: Array) -> str:
    low, high = float(np.min(T)), float(np.max(T))
    return f"{low:.0f} K" if low == high else f"{low:.0f}-{high:.0f} K"


def _unknown(
    kind: str, given: str, known: Iterable[str], other: Mapping[str, str] | None = None
) -> str:
    """Return the text for a name that is not known, with the nearest known one."""
    import difflib  # only errors need it

    names = list(known)
    by_lower = {**(other or {}), **{name.lower(): name for name in names}}
    near = difflib.get_close_matches(given.lower(), by_lower, n=1)
    meant = by_lower[near[0]] if near else None
    hint = f'; did you mean "{meant}"?' if meant else ";"
    return f'no {kind} "{given}"{hint} known: {", ".join(names)}'


def _fact(stanza: Mapping[str, Any], name: str) -> Fact | None:
    return _as_fact(stanza[name]) if name in stanza else None


def _as_fact(entry: Mapping[str, Any]) -> Fact:
    return Fact(float(entry["value"]), entry["unit"], entry["source"], entry["mark"])


def _alloy(key: str, stanza: Mapping[str, Any]) -> Alloy:
    return Alloy(
        key=key,
        name=stanza["name"],
        composition=stanza["composition"],
        also=tuple(stanza["also"]),
        form=stanza["form"],
        density=_as_fact(stanza["density"]),
        solidus=_fact(stanza, "solidus"),
        T_max=MappingProxyType({k: _as_fact(v) for k, v in stanza.get("T_max", {}).items()}),
        expansion_reference=_fact(stanza, "expansion_reference"),
        conditions=MappingProxyType(dict(stanza["conditions"])),
        notes=tuple(stanza["notes"]),
    )


@cache
def _tables(key: str) -> Mapping[tuple[str, str], Table]:
    points: dict[tuple[str, str], list[tuple[float, float, str, str]]] = {}
    with (FOLDER / f"{key}.csv").open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            factor = PROPERTIES[row["property"]][1][row["unit"]]
            points.setdefault((row["condition"], row["property"]), []).append(
                (float(row["T_K"]), float(row["value"]) * factor, row["source_key"], row["mark"])
            )
    return MappingProxyType({name: _table(rows) for name, rows in points.items()})


def _table(rows: list[tuple[float, float, str, str]]) -> Table:
    T, value, sources, marks = zip(*rows, strict=True)
    arrays = np.array(T), np.array(value)
    for array in arrays:
        array.flags.writeable = False
    return Table(*arrays, sources, marks)


@cache
def _all() -> Mapping[str, Alloy]:
    with (FOLDER / "alloys.toml").open("rb") as file:
        stanzas = tomllib.load(file)
    return MappingProxyType({key: _alloy(key, stanza) for key, stanza in stanzas.items()})


def alloys() -> dict[str, Alloy]:
    """Return all alloys by name; the table of each is read on first use.

    Returns
    -------
    dict of str to Alloy
        In the order of data/alloys/alloys.toml.
    """
    return dict(_all())


def find(alloy: str, condition: str | None = None) -> AlloyCondition:
    """Return an alloy in a condition.

    Parameters
    ----------
    alloy : str
        Name in ``alloys()``; other names of the metal are suggested, not accepted.
    condition : str, optional
        One of the alloy's conditions, or "any" for what holds in all of them (no strength).
        There is no default: strength depends on it more than on the alloy.

    Returns
    -------
    AlloyCondition
        View of the alloy's tables.

    Raises
    ------
    ValueError
        If alloy or condition is unknown, or no condition is given; the text lists the known.
    """
    known = _all()
    if alloy not in known:
        also = {name.lower(): key for key, entry in known.items() for name in entry.also}
        raise ValueError(_unknown("alloy", alloy, known, also))
    found = known[alloy]
    if condition is None:
        message = f"{alloy}: give its condition; known: {', '.join(found.conditions)}"
        raise ValueError(message)
    if condition != ANY and condition not in found.conditions:
        raise ValueError(_unknown(f"condition of {alloy}", condition, found.conditions))
    return AlloyCondition(found, condition)
