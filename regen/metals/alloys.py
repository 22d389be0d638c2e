"""Wall materials: tables of properties by alloy and condition, with a source for every number.

The tables are data (``regen/data/alloys``): one row a point with its unit, source and mark, and
one stanza an alloy. What is read here has been checked: a user's own alloy by ``alloy_checks``,
ours by a test. Nothing guesses: an unknown name, a missing property or a temperature outside a
table is an error that says what is known.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from itertools import groupby
from types import MappingProxyType
from typing import Any, Literal, NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.design import Heating
from regen.errors import MissingProperty, RangeError
from regen.metals import heating
from regen.sources import DATA, GIVEN, read_data
from regen.texts import text

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Row = dict[str, str]
Points = TypeVar("Points")
Service = Literal["short", "long"]

FOLDER = DATA / "alloys"

ANY = "any"
"""Condition of the rows that hold for every condition of an alloy."""


class Property(NamedTuple):
    """SI unit, factor to SI of each unit that rows may have, and bounds no metal can leave [SI]."""

    unit: str
    factors: Mapping[str, float]
    low: float
    high: float


PROPERTIES = {
    "thermal_conductivity": Property("W/(m K)", {"W/m/K": 1.0, "W/(m K)": 1.0}, 0.1, 20000.0),
    "specific_heat": Property("J/(kg K)", {"J/kg/K": 1.0, "J/(kg K)": 1.0}, 0.1, 5000.0),
    "youngs_modulus": Property("Pa", {"GPa": 1e9}, 1e9, 1000e9),
    "tangent_modulus": Property("Pa", {"GPa": 1e9}, 0.01e9, 1000e9),
    "poisson_ratio": Property("-", {"-": 1.0}, 0.0, 0.5),
    "thermal_expansion_mean": Property("1/K", {"1e-6/K": 1e-6}, -5e-6, 60e-6),
    "thermal_expansion_instantaneous": Property("1/K", {"1e-6/K": 1e-6}, -5e-6, 60e-6),
    "yield": Property("Pa", {"MPa": 1e6}, 0.1e6, 5000e6),
    "yield_floor": Property("Pa", {"MPa": 1e6}, 0.1e6, 5000e6),
    "compressive_yield": Property("Pa", {"MPa": 1e6}, 0.1e6, 5000e6),
    "uts": Property("Pa", {"MPa": 1e6}, 0.1e6, 5000e6),
    "elongation": Property("-", {"%": 0.01}, 0.0, 2.0),
    "reduction_of_area": Property("-", {"%": 0.01}, 0.0, 1.0),
}

TEXTS = ("name", "composition", "form")
LISTS = ("also", "notes", "already_soft")
FACTS: dict[str, tuple[str, float, float]] = {
    "density": ("kg/m3", 500.0, 25000.0),
    "solidus": ("K", 200.0, 4000.0),
    "loaded_to": ("K", 200.0, 4000.0),
    "T_max": ("K", 200.0, 4000.0),
    "holds_to": ("K", 200.0, 4000.0),
    "expansion_reference": ("K", 4.0, 1000.0),
    "creep_constant": ("-", 5.0, 60.0),
}
"""Keys of a stanza; of its facts the unit and bounds."""

BY_KEY = ("T_max", "holds_to")
"""Facts of which a stanza has several: by service, by condition."""

STRENGTH = ("yield", "compressive_yield", "uts", "elongation", "reduction_of_area")
"""Properties that heating changes; fatigue and creep beside them."""

# Conductivity changes little beyond a table's end. Strength is held below its coldest point only:
# every metal here is face-centred cubic and gains strength as it cools.
_HELD_BELOW = frozenset({"thermal_conductivity", "yield", "compressive_yield", "uts"})
_HELD_ABOVE = frozenset({"thermal_conductivity"})


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


class Lookup(NamedTuple):
    """Values in SI, shape of T; where an end of the table was held; and a note of that."""

    value: Array
    held: Mask
    note: str


@dataclass(frozen=True, eq=False)
class Alloy:
    """One alloy as its stanza describes it; ``conditions`` maps each name to its treatment.

    ``T_max`` holds the working limit of a hot wall [K] for short and long service, where one is
    known; ``loaded_to`` the temperature up to which a deposit is known to bear load [K].
    ``expansion_reference`` is the temperature from which mean expansion counts [K].
    ``holds_to`` is, by condition, the temperature of a heating that its strength stands [K];
    ``already_soft`` the conditions that no heating below the solidus softens; ``after`` the
    heatings that conditions have had. ``own`` has the texts of the tables of a user's own alloy
    by the name of their file. All tables are read on first use.
    """

    key: str
    name: str
    composition: str
    also: tuple[str, ...]
    form: str
    density: Fact
    solidus: Fact | None
    loaded_to: Fact | None
    T_max: Mapping[str, Fact]
    expansion_reference: Fact | None
    conditions: Mapping[str, str]
    notes: tuple[str, ...]
    holds_to: Mapping[str, Fact]
    already_soft: tuple[str, ...]
    after: Mapping[str, tuple[Heating, ...]]
    creep_constant: Fact | None
    own: Mapping[str, str] | None = None

    def file(self, part: str = "") -> str:
        """Return the file that a part of its rows stands in, as its user would look for it."""
        folder = "data/alloys/" if self.own is None else ""
        return f"{folder}{self.key}{part}.csv"

    def _grouped(self, part: str, *columns: str) -> dict[tuple[str, ...], list[Row]]:
        """Return the rows of a part by the values of some columns; none if it has no such file."""
        name = f"{self.key}{part}.csv"
        if self.own is not None:
            table = self.own.get(name, "")
        else:
            path = FOLDER / name
            table = path.read_text(encoding="utf-8") if not part or path.exists() else ""
        groups: dict[tuple[str, ...], list[Row]] = defaultdict(list)
        for row in rows_of(table):
            row["source"] = row.pop("source_key") if self.own is None else GIVEN + row["source"]
            groups[tuple(row[name] for name in columns)].append(row)
        return groups

    @cached_property
    def tables(self) -> Mapping[tuple[str, str], Table]:
        """Tables by (condition, property)."""
        tables = {}
        for (condition, name), rows in self._grouped("", "condition", "property").items():
            factors = np.array([PROPERTIES[name].factors[row["unit"]] for row in rows])
            value, low, high = (_column(rows, c, factors) for c in ("value", "low", "high"))
            tables[condition, name] = Table(
                _column(rows, "T_K"), value, *_sources_and_marks(rows), low, high
            )
        return MappingProxyType(tables)

    @cached_property
    def fatigue(self) -> Mapping[str, tuple[Fatigue, ...]]:
        """Fatigue tests by condition, one a temperature, coldest first."""
        tests = {}
        for (condition,), rows in self._grouped(".fatigue", "condition").items():
            rows.sort(key=_numbers("T_K", "strain_range_percent", "cycles"))
            tests[condition] = tuple(
                Fatigue(
                    T,
                    _column(group, "strain_range_percent", over=100.0),
                    _column(group, "cycles"),
                    *_sources_and_marks(group),
                )
                for (T,), group in ((T, list(each)) for T, each in groupby(rows, _numbers("T_K")))
            )
        return tests

    @cached_property
    def creep(self) -> Mapping[str, Creep]:
        """Creep-rupture points by condition."""
        points = {}
        for (condition,), rows in self._grouped(".creep", "condition").items():
            rows.sort(key=_numbers("T_K", "stress_MPa", "time_h"))
            points[condition] = Creep(
                _column(rows, "T_K"),
                _column(rows, "stress_MPa", 1e6),
                _column(rows, "time_h", 3600.0),
                *_sources_and_marks(rows),
                self.creep_constant,
            )
        return points

    @cached_property
    def compared(self) -> tuple[Compared, ...]:
        """Values of other sources, shown and not used."""
        rows = self._grouped(".compared").get((), [])
        return tuple(
            Compared(T=float(row.pop("T_K")), value=float(row.pop("value")), **row) for row in rows
        )


def cells(text: str) -> Iterator[tuple[int, str, list[str]]]:
    """Yield the lines of a table that are not blank: number, text, and cells without blanks.

    A cell with a comma stands in double quotes, on one line.
    """
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            yield number, line.strip(), [cell.strip() for cell in next(csv.reader([line]))]


def rows_of(text: str) -> Iterator[Row]:
    """Yield the rows of a checked table by the names of its header."""
    lines = (row for _, _, row in cells(text))
    header = next(lines, [])
    yield from (dict(zip(header, row, strict=True)) for row in lines)


def _column(rows: list[Row], name: str, times: ArrayLike = 1.0, over: float = 1.0) -> Array:
    """Return a column of numbers in SI, NaN where a cell is empty."""
    column = np.array([float(row.get(name) or "nan") for row in rows]) * times / over
    column.flags.writeable = False
    return np.asarray(column, dtype=np.float64)


def _numbers(*columns: str) -> Callable[[Row], list[float]]:
    """Return a key to sort or group rows by numbers."""
    return lambda row: [float(row[name]) for name in columns]


def _sources_and_marks(rows: list[Row]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return tuple(row["source"] for row in rows), tuple(row["mark"] for row in rows)


@dataclass(frozen=True, slots=True, eq=False)
class AlloyCondition:
    """An alloy in one condition, or in "any": what holds for all its conditions.

    ``beyond`` says what ``value`` does where a table may not be left: raise, or give NaN there.
    ``lost`` says why no strength is known after the heating that a design plans, "" if it is;
    ``given`` holds the strengths the case gives, in place of the tabulated ones, and ``keys`` the
    keys of the case they stand, or would stand, under.
    """

    alloy: Alloy
    condition: str
    beyond: Literal["raise", "nan"] = "raise"
    lost: str = ""
    given: Mapping[str, Table] = field(default_factory=dict)
    keys: Mapping[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        return f"{self.alloy.key}, {self.condition}"

    def table(self, name: str) -> Table:
        """Return the table of a property: that of the condition, else that of all conditions.

        Raises ``MissingProperty`` if there is none, or a planned heating changes it.
        """
        if name not in PROPERTIES:
            raise ValueError(_unknown("property", name, PROPERTIES))
        if name in self.given:
            return self.given[name]
        if self.lost and name in STRENGTH:
            raise self._lost(name)
        tables = self.alloy.tables
        for condition in (self.condition, ANY):
            if (condition, name) in tables:
                return tables[condition, name]
        raise self._missing(name, [c for c, p in tables if p == name], self._remedy(name))

    def known(self, name: str) -> Table | None:
        """Return the table of a property, None where there is none."""
        try:
            return self.table(name)
        except MissingProperty:
            return None

    @property
    def quiet(self) -> AlloyCondition:
        """The same, but NaN beyond its tables instead of an error."""
        return replace(self, beyond="nan")

    def _lost(self, name: str) -> MissingProperty:
        remedy = f"; give {self.keys[name]}, measured after it" if name in self.keys else ""
        return MissingProperty(f"{name} of {self} is not known: {self.lost}{remedy}")

    def _missing(self, name: str, elsewhere: Collection[str], remedy: str) -> MissingProperty:
        known = f"known in condition {', '.join(elsewhere)}" if elsewhere else "not known at all"
        metal = {"alloy": self.alloy.key, "condition": self.condition}
        return MissingProperty(text("untabulated", name=name, **metal, known=known, remedy=remedy))

    def _remedy(self, name: str) -> str:
        if name in self.given:
            return f"add a pair to {self.keys[name]}"
        own = f", or give {self.keys[name]}" if name in self.keys else ""
        return f"add measured rows to {self.alloy.file()}{own}"

    def fatigue_tests(self) -> tuple[Fatigue, ...]:
        """Return the low-cycle fatigue tests of this condition, at least one, coldest first."""
        return self._points("low-cycle fatigue", self.alloy.fatigue, ".fatigue")

    def creep(self) -> Creep:
        """Return the creep-rupture points of this condition."""
        return self._points("creep rupture", self.alloy.creep, ".creep")

    def _points(self, name: str, by_condition: Mapping[str, Points], part: str) -> Points:
        if self.lost:
            raise self._lost(name)
        if self.condition not in by_condition:
            raise self._missing(name, by_condition, f"add measured rows to {self.alloy.file(part)}")
        return by_condition[self.condition]

    def value(self, name: str, T: ArrayLike) -> Lookup:
        """Return a property [SI] at temperatures [K] of any shape, by linear interpolation.

        Beyond the table conductivity keeps its last value; so does strength on the cold side,
        where every metal here is stronger. Anything else raises ``RangeError``, or is NaN if
        ``beyond`` says so.
        """
        table = self.table(name)
        at = np.asarray(T, dtype=np.float64)
        if at.size and table.T[0] <= at.min() and at.max() <= table.T[-1]:
            return Lookup(np.interp(at, table.T, table.value), np.zeros(at.shape, dtype=bool), "")
        below, above = at < table.T[0], at > table.T[-1]
        of = {"name": name, "metal": str(self), "span": span(table.T)}
        bad = ~np.isfinite(at)
        bad = bad | below & (name not in _HELD_BELOW) | above & (name not in _HELD_ABOVE)
        if bad.any() and self.beyond == "raise":
            more = {"sources": ", ".join(dict.fromkeys(table.sources)), "do": self._remedy(name)}
            raise RangeError(text("beyond the table", **of, T=span(at[bad]), **more))
        held, note = below | above, ""
        if held.any():
            known = "given" if name in self.given else "tabulated"
            note = text("held", **of, known=known, T=span(at[held]))
        return Lookup(np.where(bad, np.nan, np.interp(at, table.T, table.value)), held, note)

    def conductivity_grid(self, T: ArrayLike) -> Array:
        """Return the conductivity [W/(m K)] at the core's nodes [K], held beyond the table's ends.

        Ask ``value`` at the temperatures the wall came to for the note of where it was held.
        """
        return self.value("thermal_conductivity", T).value

    def limit(self, service: Service) -> Fact | None:
        """Return the working limit of a hot wall [K], None if unknown.

        Short service is seconds to minutes in total, long is hours and many firings.
        """
        return self.alloy.T_max.get(service)


def span(T: Array) -> str:
    """Return the range of temperatures [K], "300 to 900 K", or "293 K" for one."""
    return " to ".join(dict.fromkeys(f"{end:.0f}" for end in (np.min(T), np.max(T)))) + " K"


def _unknown(
    kind: str, given: str, known: Collection[str], other: Mapping[str, str] | None = None
) -> str:
    """Return the text for a name that is not known, with the nearest known one."""
    import difflib  # only errors need it

    by_lower = {**(other or {}), **{name.lower(): name for name in known}}
    near = difflib.get_close_matches(given.lower(), by_lower, n=1)
    hint = f' did you mean "{by_lower[near[0]]}"?' if near else ""
    return f'unknown {kind} "{given}";{hint} known: {", ".join(known)}'


def alloy_of(key: str, stanza: Mapping[str, Any], own: Mapping[str, str] | None = None) -> Alloy:
    """Return the alloy of a checked stanza; ``own`` has the texts of a user's tables by file."""

    def fact(given: Mapping[str, Any]) -> Fact:
        source = given["source"] if own is None else GIVEN + given["source"]
        return Fact(float(given["value"]), given["unit"], source, given["mark"])

    parts: dict[str, Any] = {name: stanza[name] for name in TEXTS}
    parts |= {name: tuple(stanza.get(name, ())) for name in LISTS}
    for name in FACTS:
        given = stanza.get(name)
        if name in BY_KEY:
            parts[name] = MappingProxyType({k: fact(one) for k, one in (given or {}).items()})
        else:
            parts[name] = fact(given) if given else None
    after = {c: tuple(map(heating.read, texts)) for c, texts in stanza.get("after", {}).items()}
    conditions = MappingProxyType(dict(stanza["conditions"]))
    return Alloy(key=key, conditions=conditions, after=MappingProxyType(after), own=own, **parts)


@cache
def alloys() -> Mapping[str, Alloy]:
    """Return the built-in alloys by name, in the order of data/alloys/alloys.toml."""
    stanzas = read_data("alloys/alloys.toml")
    return MappingProxyType({key: alloy_of(key, stanza) for key, stanza in stanzas.items()})


def find(
    name: str, condition: str | None = None, own: Mapping[str, Alloy] | None = None
) -> AlloyCondition:
    """Return an alloy in one of its conditions, or in "any" for what holds in all (no strength).

    There is no default condition: strength depends on it more than on the alloy. Other names of
    the metal are suggested, not accepted. ``own`` has a user's own alloys by name.
    """
    known = {**alloys(), **(own or {})}
    if name not in known:
        also = {other.lower(): key for key, alloy in known.items() for other in alloy.also}
        raise ValueError(_unknown("alloy", name, known, also))
    alloy = known[name]
    if condition is None:
        raise ValueError(f"{name}: give its condition; known: {', '.join(alloy.conditions)}")
    if condition != ANY and condition not in alloy.conditions:
        raise ValueError(_unknown(f"condition of {name}", condition, alloy.conditions))
    return AlloyCondition(alloy, condition)
