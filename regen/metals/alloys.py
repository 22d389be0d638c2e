"""Wall materials: tables of properties by alloy and condition, with a source for every number.

The tables are data (``regen/data/alloys``): one row a point with its unit, source and mark, and
one stanza an alloy. Nothing here guesses: an unknown name, a missing property or a temperature
outside a table is an error that says what is known.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from types import MappingProxyType
from typing import Any, Literal, NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from regen.design import Heating
from regen.errors import MissingProperty, RangeError
from regen.metals import heating
from regen.metals.alloy_rows import (
    ANY,
    PROPERTIES,
    STRENGTH,
    Array,
    Compared,
    Creep,
    Fact,
    Fatigue,
    Mask,
    Table,
    as_fact,
    read_compared,
    read_creep,
    read_fatigue,
    read_tables,
)
from regen.sources import DATA, GIVEN

__all__ = [
    "ANY",
    "PROPERTIES",
    "STRENGTH",
    "Alloy",
    "AlloyCondition",
    "Array",
    "Compared",
    "Creep",
    "Fact",
    "Fatigue",
    "Looked",
    "Mask",
    "MissingProperty",
    "RangeError",
    "Table",
    "alloy_of",
    "alloys",
    "find",
]

Points = TypeVar("Points")

Service = Literal["short", "long"]

FOLDER = DATA / "alloys"

# Conductivity changes little beyond a table's end. Strength is held below its coldest point only:
# every metal here is face-centred cubic and gains strength as it cools.
_HELD_BELOW = frozenset({"thermal_conductivity", "yield", "compressive_yield", "uts"})
_HELD_ABOVE = frozenset({"thermal_conductivity"})


class Looked(NamedTuple):
    """Values looked up, shape of T, in SI; where the table's end was held; and a note of it."""

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
    by the name of their file; ours are read from the package on first use.
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

    @property
    def file(self) -> str:
        """The file its rows stand in, as its user would look for it."""
        return f"{self.key}.csv" if self.own is not None else f"data/alloys/{self.key}.csv"

    def _text(self, part: str = "") -> str:
        name = f"{self.key}{part}.csv"
        if self.own is not None:
            return self.own.get(name, "")
        path = FOLDER / name
        return path.read_text(encoding="utf-8") if not part or path.exists() else ""

    @property
    def _prefix(self) -> str:
        return GIVEN if self.own is not None else ""

    @cached_property
    def tables(self) -> Mapping[tuple[str, str], Table]:
        """Tables by (condition, property); read on first use."""
        return read_tables(self._text(), self._prefix)

    @cached_property
    def fatigue(self) -> Mapping[str, tuple[Fatigue, ...]]:
        """Fatigue tests by condition, one a temperature; read on first use."""
        return read_fatigue(self._text(".fatigue"), self._prefix)

    @cached_property
    def creep(self) -> Mapping[str, Creep]:
        """Creep-rupture points by condition; read on first use."""
        read = read_creep(self._text(".creep"), self._prefix)
        return {c: replace(points, constant=self.creep_constant) for c, points in read.items()}

    @cached_property
    def compared(self) -> tuple[Compared, ...]:
        """Values of other sources, shown and not used; read on first use."""
        return read_compared(self._text(".compared"), self._prefix)


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
            If this alloy has no rows of it in this condition, or a planned heating changes it.
        """
        if name not in PROPERTIES:
            raise ValueError(_unknown("property", name, PROPERTIES))
        if name in self.given:
            return self.given[name]
        if self.lost and name in STRENGTH:
            raise MissingProperty(self._lost(name))
        tables = self.alloy.tables
        for condition in (self.condition, ANY):
            if (condition, name) in tables:
                return tables[condition, name]
        elsewhere = [c for c, p in tables if p == name]
        known = f"known in condition {', '.join(elsewhere)}" if elsewhere else "not known at all"
        message = (
            f"{name} of {self.alloy.key} in condition {self.condition!r} is not tabulated"
            f" ({known}); {self._remedy(name)}"
        )
        raise MissingProperty(message)

    def _lost(self, name: str) -> str:
        do = f"; give {self.keys[name]}, measured after it" if name in self.keys else ""
        return f"{name} of {self} is not known: {self.lost}{do}"

    def _remedy(self, name: str) -> str:
        if name in self.given:
            return f"add a pair to {self.keys[name]}"
        own = f", or give {self.keys[name]}" if name in self.keys else ""
        return f"add measured rows to {self.alloy.file}{own}"

    def fatigue(self, T: float) -> Fatigue:
        """Return the low-cycle fatigue tests that serve for a temperature.

        Parameters
        ----------
        T : float
            Temperature of the metal [K].

        Returns
        -------
        Fatigue
            Those of the lowest tested temperature that is not below T, else of the highest: its
            ``T`` says which, and life at another temperature is an extrapolation to be flagged.

        Raises
        ------
        MissingProperty
            If there are none of this condition, or a planned heating changes it.
        """
        tests = self.fatigue_tests()
        return next((test for test in tests if test.T >= T), tests[-1])

    def fatigue_tests(self) -> tuple[Fatigue, ...]:
        """Return all low-cycle fatigue tests of this condition, by rising temperature.

        Returns
        -------
        tuple of Fatigue
            At least one.

        Raises
        ------
        MissingProperty
            If there are none of this condition, or a planned heating changes it.
        """
        return self._points("low-cycle fatigue", self.alloy.fatigue, ".fatigue")

    def creep(self) -> Creep:
        """Return the creep-rupture points of this condition.

        Returns
        -------
        Creep
            Points in SI, and the constant of a Larson-Miller parameter if one is known.

        Raises
        ------
        MissingProperty
            If there are none of this condition, or a planned heating changes it.
        """
        return self._points("creep rupture", self.alloy.creep, ".creep")

    def _points(self, what: str, found: Mapping[str, Points], part: str) -> Points:
        if self.lost:
            raise MissingProperty(self._lost(what))
        if self.condition in found:
            return found[self.condition]
        known = f"known in condition {', '.join(found)}" if found else "not known at all"
        file = f"{self.alloy.file.removesuffix('.csv')}{part}.csv"
        message = (
            f"{what} of {self.alloy.key} in condition {self.condition!r} is not tabulated"
            f" ({known}); add measured rows to {file}"
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
                f" temperature inside, or {self._remedy(name)}"
            )
            raise RangeError(message)
        held = below | above
        value = np.where(bad, np.nan, np.interp(at, table.T, table.value))
        return Looked(value, held, self._held_note(name, table, at[held]))

    def _held_note(self, name: str, table: Table, outside: Array) -> str:
        if not outside.size:
            return ""
        known = "given" if name in self.given else "tabulated"
        return (
            f"{name} of {self} is {known} for {_span(table.T)}; the value at the nearer end is"
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


def _fact(stanza: Mapping[str, Any], name: str, prefix: str) -> Fact | None:
    return as_fact(stanza[name], prefix) if name in stanza else None


def _facts(stanza: Mapping[str, Any], name: str, prefix: str) -> Mapping[str, Fact]:
    return MappingProxyType({k: as_fact(v, prefix) for k, v in stanza.get(name, {}).items()})


def alloy_of(key: str, stanza: Mapping[str, Any], own: Mapping[str, str] | None = None) -> Alloy:
    """Return the alloy of a checked stanza.

    Parameters
    ----------
    key : str
        Its name in a case [-].
    stanza : mapping
        As the file has it.
    own : mapping, optional
        Texts of the tables of a user's own alloy, by name of their file [-].

    Returns
    -------
    Alloy
        Its tables are read on first use.
    """
    prefix = GIVEN if own is not None else ""
    after = stanza.get("after", {})
    return Alloy(
        key=key,
        name=stanza["name"],
        composition=stanza["composition"],
        also=tuple(stanza.get("also", ())),
        form=stanza["form"],
        density=as_fact(stanza["density"], prefix),
        solidus=_fact(stanza, "solidus", prefix),
        loaded_to=_fact(stanza, "loaded_to", prefix),
        T_max=_facts(stanza, "T_max", prefix),
        expansion_reference=_fact(stanza, "expansion_reference", prefix),
        conditions=MappingProxyType(dict(stanza["conditions"])),
        notes=tuple(stanza.get("notes", ())),
        holds_to=_facts(stanza, "holds_to", prefix),
        already_soft=tuple(stanza.get("already_soft", ())),
        after=MappingProxyType({c: tuple(map(heating.read, texts)) for c, texts in after.items()}),
        creep_constant=_fact(stanza, "creep_constant", prefix),
        own=own,
    )


@cache
def _all() -> Mapping[str, Alloy]:
    with (FOLDER / "alloys.toml").open("rb") as file:
        stanzas = tomllib.load(file)
    return MappingProxyType({key: alloy_of(key, stanza) for key, stanza in stanzas.items()})


def alloys() -> dict[str, Alloy]:
    """Return all alloys by name; the table of each is read on first use.

    Returns
    -------
    dict of str to Alloy
        In the order of data/alloys/alloys.toml.
    """
    return dict(_all())


def find(
    alloy: str, condition: str | None = None, own: Mapping[str, Alloy] | None = None
) -> AlloyCondition:
    """Return an alloy in a condition.

    Parameters
    ----------
    alloy : str
        Name in ``alloys()``; other names of the metal are suggested, not accepted.
    condition : str, optional
        One of the alloy's conditions, or "any" for what holds in all of them (no strength).
        There is no default: strength depends on it more than on the alloy.
    own : mapping, optional
        A user's own alloys by name.

    Returns
    -------
    AlloyCondition
        View of the alloy's tables.

    Raises
    ------
    ValueError
        If alloy or condition is unknown, or no condition is given; the text lists the known.
    """
    known = {**_all(), **(own or {})}
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
