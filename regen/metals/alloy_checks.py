"""Everything wrong with an alloy as a stanza and its tables give it: a user's own, and ours."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from regen.metals import heating
from regen.metals.alloy_rows import ANY, PROPERTIES, STRENGTH, cells, rows_of
from regen.sources import MARKS

BOUNDS: dict[str, tuple[float, float]] = {
    "thermal_conductivity": (0.1, 20000.0),
    "specific_heat": (0.1, 5000.0),
    "youngs_modulus": (1e9, 1000e9),
    "tangent_modulus": (0.01e9, 1000e9),
    "poisson_ratio": (0.0, 0.5),
    "thermal_expansion_mean": (-5e-6, 60e-6),
    "thermal_expansion_instantaneous": (-5e-6, 60e-6),
    "yield": (0.1e6, 5000e6),
    "yield_floor": (0.1e6, 5000e6),
    "compressive_yield": (0.1e6, 5000e6),
    "uts": (0.1e6, 5000e6),
    "elongation": (0.0, 2.0),
    "reduction_of_area": (0.0, 1.0),
}
"""What no metal can leave, in SI: a value outside is a slip of a unit."""

TEMPERATURE = (1.0, 4000.0)
FACTS: dict[str, tuple[str, float, float]] = {
    "density": ("kg/m3", 500.0, 25000.0),
    "solidus": ("K", 200.0, 4000.0),
    "loaded_to": ("K", 200.0, 4000.0),
    "T_max": ("K", 200.0, 4000.0),
    "holds_to": ("K", 200.0, 4000.0),
    "expansion_reference": ("K", 4.0, 1000.0),
    "creep_constant": ("-", 5.0, 60.0),
}
"""Unit and bounds of the facts of a stanza."""

NEEDED = ("name", "composition", "form", "density", "conditions")
KNOWN = (
    *NEEDED,
    *("also", "solidus", "loaded_to", "T_max", "expansion_reference", "holds_to"),
    *("already_soft", "after", "creep_constant", "notes"),
)
FACT_FORM = '{ value = 8900, unit = "kg/m3", source = "where it is from", mark = "seen" }'
MARK_NAMES = ", ".join(MARKS)
KEY = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._+-]{0,60}")
NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
NOT_LOW = "memory-low"
"""No limit and no strength may rest on this mark."""

OPTIONAL = ("low", "high")
PARTS: dict[str, tuple[str, ...]] = {
    "": ("condition", "property", "T_K", "value", "unit", "source", "mark"),
    ".fatigue": ("condition", "T_K", "strain_range_percent", "cycles", "source", "mark"),
    ".creep": ("condition", "T_K", "stress_MPa", "time_h", "source", "mark"),
    ".compared": ("condition", "property", "T_K", "value", "unit", "source", "mark", "why"),
}
"""Columns of <name>.csv, and of the tables that may stand beside it."""

NUMBERS: dict[str, tuple[float, float]] = {
    "T_K": TEMPERATURE,
    "strain_range_percent": (0.001, 50.0),
    "cycles": (0.5, 1e12),
    "stress_MPa": (0.01, 5000.0),
    "time_h": (1e-6, 1e7),
}
"""Bounds of the columns whose unit stands in their name."""


class Trouble(NamedTuple):
    """One thing wrong: the file and line, what is wrong, what is accepted, what to do."""

    where: str
    what: str
    accepted: str = ""
    do: str = ""


def _near(given: str, known: Collection[str]) -> str:
    near = difflib.get_close_matches(given, known, 1)
    return f'did you mean "{near[0]}"?' if near else ""


def _shown(given: object) -> str:
    text = f'"{given}"' if isinstance(given, str) else str(given)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 60 else text[:56] + " ..."


class _Stanza:
    """One stanza with its file, to say where in it something stands."""

    def __init__(self, file: str, text: str, key: str, entry: Mapping[str, Any]) -> None:
        self.file, self.text, self.key, self.entry = file, text, key, entry

    def _line(self, name: str) -> str:
        """Return ", line N" of a key of this stanza, "" if it is not found."""
        quoted = rf'(?:{re.escape(self.key)}|"{re.escape(self.key)}")'
        inside = False
        for number, line in enumerate(self.text.splitlines(), start=1):
            if line.startswith("["):
                inside = bool(re.match(rf"\[\s*{quoted}\s*[\].]", line))
                if inside and (not name or re.search(rf'[."]{re.escape(name)}"?\s*\]', line)):
                    return f", line {number}"
            elif inside and name and re.match(rf'\s*"?{re.escape(name)}"?\s*[.=]', line):
                return f", line {number}"
        return self._line("") if name else ""

    def trouble(self, name: str, what: str, accepted: str = "", do: str = "") -> Trouble:
        first = name.split(".")[0]
        return Trouble(f"{self.file}{self._line(first)}: {self.key}.{name}", what, accepted, do)


def check_stanza(file: str, text: str, key: str, entry: object) -> list[Trouble]:
    """Return everything wrong with the stanza of an alloy.

    Parameters
    ----------
    file, text : str
        Name and text of the file [-].
    key : str
        Name of the alloy [-].
    entry : object
        What a TOML reader gives.

    Returns
    -------
    list of Trouble
        Empty if it is sound.
    """
    if not KEY.fullmatch(key):
        what = f"{_shown(key)} cannot be the name of an alloy"
        return [Trouble(file, what, "letters, digits, blanks and . _ + -, a letter or digit first")]
    if not isinstance(entry, Mapping):
        what = f"{_shown(key)} is no stanza of an alloy"
        return [Trouble(file, what, f"[{key}] on a line of its own, its keys below")]
    stanza = _Stanza(file, text, key, entry)
    found: list[Trouble] = []
    for name in entry:
        if name not in KNOWN:
            what, accepted = "it is not a known key", ", ".join(KNOWN)
            found.append(stanza.trouble(name, what, accepted, _near(name, KNOWN)))
    for name in NEEDED:
        if name not in entry:
            accepted = FACT_FORM if name == "density" else "a text in quotes"
            if name == "conditions":
                accepted = "a table of conditions, each name with a text that says its treatment"
            found.append(stanza.trouble(name, "it is missing", accepted, "add it"))
    found += _texts(stanza)
    found += _facts(stanza)
    found += _conditions(stanza)
    return found


def _texts(stanza: _Stanza) -> Iterator[Trouble]:
    for name in ("name", "composition", "form"):
        given = stanza.entry.get(name, "-")
        if not isinstance(given, str) or not given.strip() or not given.isprintable():
            yield stanza.trouble(name, f"{_shown(given)} is not a text", "a text in quotes")
    for name in ("also", "notes", "already_soft"):
        given = stanza.entry.get(name, [])
        if not isinstance(given, list) or not all(isinstance(one, str) for one in given):
            yield stanza.trouble(name, "it is not a list of texts", '["one text", "another"]')


def _facts(stanza: _Stanza) -> Iterator[Trouble]:
    for name in ("density", "solidus", "loaded_to", "expansion_reference", "creep_constant"):
        if name in stanza.entry:
            yield from _fact(stanza, name, name, stanza.entry[name])
    for name, keys in (("T_max", ("short", "long")), ("holds_to", _names(stanza))):
        table = stanza.entry.get(name, {})
        if not isinstance(table, Mapping):
            accepted = " and ".join(f"{name}.{key}" for key in keys) or f"{name}.<condition>"
            yield stanza.trouble(name, "it is not a table of facts", accepted)
            continue
        for key, given in table.items():
            if key not in keys:
                what = "no such service" if name == "T_max" else "no such condition"
                yield stanza.trouble(f"{name}.{key}", what, ", ".join(keys), _near(key, keys))
            else:
                yield from _fact(stanza, f"{name}.{key}", name, given)
    yield from _ranked(stanza)


def _fact(stanza: _Stanza, path: str, name: str, given: object) -> Iterator[Trouble]:
    unit, low, high = FACTS[name]
    form = FACT_FORM.replace("kg/m3", unit).replace("8900", f"{(low * high) ** 0.5:.0f}")
    if not isinstance(given, Mapping):
        bare = isinstance(given, int | float) and not isinstance(given, bool)
        what = "a bare number has no unit, source and mark" if bare else "it is not a fact"
        yield stanza.trouble(path, f"{_shown(given)}: {what}", form)
        return
    for key in given:
        if key not in ("value", "unit", "source", "mark"):
            yield stanza.trouble(path, f"{_shown(key)} is not part of a fact", form)
    value = given.get("value")
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        yield stanza.trouble(path, f"its value {_shown(value)} is not a finite number", form)
    elif not low <= value <= high:
        accepted = f"{low:g} to {high:g} {unit}"
        yield stanza.trouble(path, f"{value:g} is impossible", accepted, "check the unit")
    if given.get("unit") != unit:
        yield stanza.trouble(path, f"its unit {_shown(given.get('unit'))} is wrong", f'"{unit}"')
    yield from _sourced(
        lambda what, accepted, do="": stanza.trouble(path, what, accepted, do),
        given.get("source"),
        given.get("mark"),
        limit=name in ("T_max", "loaded_to", "holds_to", "solidus"),
    )


def _sourced(
    trouble: Callable[..., Trouble], source: object, mark: object, *, limit: bool
) -> Iterator[Trouble]:
    if not isinstance(source, str) or not source.strip() or not source.isprintable():
        yield trouble("it has no source", "a text that says where the value is from")
    if mark not in MARKS:
        do = _near(str(mark), MARKS) if mark else ""
        yield trouble(f"its mark {_shown(mark)} is none", MARK_NAMES, do)
    elif limit and mark == NOT_LOW:
        what = f"nothing is judged by a value marked {NOT_LOW}"
        yield trouble(what, "a value with a better mark, or none")


def _names(stanza: _Stanza) -> tuple[str, ...]:
    conditions = stanza.entry.get("conditions")
    return tuple(conditions) if isinstance(conditions, Mapping) else ()


def _ranked(stanza: _Stanza) -> Iterator[Trouble]:
    """Yield working limits that do not rank long, short, solidus."""
    limits = stanza.entry.get("T_max", {})
    limits = limits if isinstance(limits, Mapping) else {}
    facts = [("T_max.long", limits.get("long")), ("T_max.short", limits.get("short"))]
    facts.append(("solidus", stanza.entry.get("solidus")))
    known = [
        (name, fact["value"])
        for name, fact in facts
        if isinstance(fact, Mapping) and isinstance(fact.get("value"), int | float)
    ]
    for (name, value), (above, limit) in zip(known, known[1:], strict=False):
        if value > limit:
            what = f"{value:g} K lies above {above}, {limit:g} K"
            yield stanza.trouble(name, what, "long at most short, short at most solidus")


def _conditions(stanza: _Stanza) -> Iterator[Trouble]:
    given = stanza.entry.get("conditions", {"": ""})
    accepted = "each condition's name with a text that says its treatment"
    if not isinstance(given, Mapping) or not given:
        yield stanza.trouble("conditions", "there is none", accepted)
        return
    for name, text in given.items():
        if name == ANY:
            what = f'"{ANY}" stands in a table for what holds in every condition'
            yield stanza.trouble(f"conditions.{name}", what, "another name")
        elif not isinstance(text, str):
            yield stanza.trouble(f"conditions.{name}", "it has no text", accepted)
    names = _names(stanza)
    soft = stanza.entry.get("already_soft", [])
    for name in soft if isinstance(soft, list) else []:
        if isinstance(name, str) and name not in names:
            what = f"{_shown(name)} is no condition of it"
            yield stanza.trouble("already_soft", what, ", ".join(names), _near(name, names))
    after = stanza.entry.get("after", {})
    if not isinstance(after, Mapping):
        accepted = 'after.<condition> = ["anneal at 900 degC for 5 h"]'
        yield stanza.trouble("after", "it is not a table by condition", accepted)
        return
    for name, texts in after.items():
        if name not in names:
            what = "no such condition"
            yield stanza.trouble(f"after.{name}", what, ", ".join(names), _near(name, names))
        yield from _heatings(stanza, f"after.{name}", texts)


def _heatings(stanza: _Stanza, path: str, texts: object) -> Iterator[Trouble]:
    if not isinstance(texts, list) or not all(isinstance(text, str) for text in texts):
        yield stanza.trouble(path, "it is not a list of texts", heating.ACCEPTED)
        return
    for text in texts:
        try:
            heating.read(text)
        except heating.HeatingError as error:
            yield stanza.trouble(path, f"{_shown(text)}: {error}", heating.ACCEPTED)


class _Row(NamedTuple):
    """A row with its cells by column, and where it stands."""

    where: str
    cells: Mapping[str, str]

    def trouble(self, what: str, accepted: str = "", do: str = "") -> Trouble:
        return Trouble(self.where, what, accepted, do)


def check_table(
    file: str, text: str, part: str, conditions: Collection[str], source: str = "source"
) -> list[Trouble]:
    """Return everything wrong with a table of an alloy.

    Parameters
    ----------
    file, text : str
        Name and text of the file [-].
    part : str
        Which of ``PARTS`` it is [-].
    conditions : collection of str
        Those of the alloy [-].
    source : str
        Name of the column of sources [-].

    Returns
    -------
    list of Trouble
        Empty if it is sound.
    """
    columns = tuple(source if name == "source" else name for name in PARTS[part])
    rows, found = _read(file, text, columns, OPTIONAL if not part else ())
    sound: list[tuple[_Row, float]] = []
    for row in rows:
        wrong = list(_row(row, part, conditions, source))
        found += wrong
        if not wrong and not part:
            sound.append((row, float(row.cells["T_K"])))
    return found + list(_in_order(sound))


def _read(
    file: str, text: str, columns: tuple[str, ...], optional: tuple[str, ...]
) -> tuple[list[_Row], list[Trouble]]:
    lines = list(cells(text))
    wanted = ",".join(columns)
    if not lines:
        return [], [Trouble(file, "it is empty", f"the header {wanted}, then the rows")]
    number, _, header = lines[0]
    strange = [name for name in header if name not in (*columns, *optional)]
    missing = [name for name in columns if name not in header]
    if strange or missing or len(set(header)) < len(header):
        said = [f"no column {name}" for name in missing]
        said += [f"{_shown(name)} is not a known column" for name in strange]
        what = "; ".join(said) or "a column is named twice"
        accepted = wanted + (f", and where known {','.join(optional)}" if optional else "")
        return [], [Trouble(f"{file}, line {number}", what, accepted, "correct the header")]
    rows, found = [], []
    for number, line, row in lines[1:]:
        where = f"{file}, line {number} ({_shown(line)})"
        if len(row) != len(header):
            what = f"{len(row)} values where the header names {len(header)} columns"
            do = "numbers have a decimal point; texts with a comma stand in double quotes"
            found.append(Trouble(where, what, ",".join(header), do))
        else:
            rows.append(_Row(where, dict(zip(header, row, strict=True))))
    if not lines[1:]:
        found.append(Trouble(file, "it has no rows", f"rows of {wanted}"))
    return rows, found


def _row(row: _Row, part: str, conditions: Collection[str], source: str) -> Iterator[Trouble]:
    given = row.cells
    names = (*conditions, ANY) if part in ("", ".compared") else tuple(conditions)
    if given["condition"] not in names:
        what = f"{_shown(given['condition'])} is no condition of this alloy"
        yield row.trouble(what, ", ".join(names), _near(given["condition"], names))
    for name, (low, high) in NUMBERS.items():
        if name in given:
            yield from _number(row, name, low, high, "")
    if "property" in given:
        yield from _valued(row)
    if part == ".compared" and not given["why"]:
        yield row.trouble("it does not say why it is not used", "a text in the column why")
    strength = bool(part) or given["property"] in STRENGTH
    judged = strength and part != ".compared"
    yield from _sourced(row.trouble, given[source], given["mark"] or None, limit=judged)


def _number(row: _Row, name: str, low: float, high: float, unit: str) -> Iterator[Trouble]:
    text = row.cells[name]
    if not NUMBER.fullmatch(text) or not math.isfinite(float(text)):
        what = f"{name} {_shown(text)} is not a finite number"
        yield row.trouble(what, "a plain number", "units stand in the header or in their column")
    elif not low <= float(text) <= high:
        accepted = f"{low:g} to {high:g} {unit}".rstrip()
        yield row.trouble(f"{name} {text} is impossible", accepted, "check the unit")


def _valued(row: _Row) -> Iterator[Trouble]:
    given = row.cells
    name, unit = given["property"], given["unit"]
    if name not in PROPERTIES:
        what = f"{_shown(name)} is no property known here"
        yield row.trouble(what, ", ".join(PROPERTIES), _near(name, PROPERTIES))
        return
    units = PROPERTIES[name][1]
    if unit not in units:
        said = f"the unit {_shown(unit)} is none of {name}" if unit else "the unit is missing"
        yield row.trouble(said, " or ".join(f'"{one}"' for one in units))
        return
    low, high = (bound / units[unit] for bound in BOUNDS[name])
    yield from _number(row, "value", low, high, unit)
    if not NUMBER.fullmatch(given["value"]):
        return
    for side, sign in (("low", 1.0), ("high", -1.0)):
        if given.get(side):
            yield from _number(row, side, low, high, unit)
            beyond = NUMBER.fullmatch(given[side]) and sign * (
                float(given["value"]) - float(given[side])
            )
            if beyond is not None and beyond < 0.0:
                yield row.trouble(f"the value lies beyond {side}, {given[side]} {unit}")


def _in_order(rows: Iterable[tuple[_Row, float]]) -> Iterator[Trouble]:
    """Yield temperatures that repeat or fall, and properties given for all and for one."""
    last: dict[tuple[str, str], float] = {}
    for row, T in rows:
        condition, name = row.cells["condition"], row.cells["property"]
        before = last.get((condition, name))
        if before is not None and T == before:
            yield row.trouble(f"{T:g} K is given twice for {name}", "one row a temperature")
        elif before is not None and T < before:
            what = f"{T:g} K comes after {before:g} K for {name}"
            yield row.trouble(what, "rising temperatures", "sort the rows of each table")
        elif before is None:
            others = {c for c, p in last if p == name}
            if others and (condition == ANY or ANY in others):
                single = next(iter(others)) if condition == ANY else condition
                what = f'{name} is given for "{ANY}" and for {single}'
                yield row.trouble(what, "for all conditions, or for single ones")
        last[condition, name] = T


def check_whole(file: str, table: str, key: str, stanza: Mapping[str, Any]) -> list[Trouble]:
    """Return what is wrong between a sound stanza and its sound table.

    Parameters
    ----------
    file : str
        Name of the table's file [-].
    table : str
        Its text [-].
    key : str
        Name of the alloy [-].
    stanza : mapping
        As the file has it.

    Returns
    -------
    list of Trouble
        Missing conductivity or reference of expansion, and a tensile strength below the yield.
    """
    points: dict[tuple[str, str], dict[float, float]] = {}
    for row in rows_of(table):
        name = (row["condition"], row["property"])
        points.setdefault(name, {})[float(row["T_K"])] = float(row["value"])
    found = []
    for condition in stanza["conditions"]:
        if not {(condition, "thermal_conductivity"), (ANY, "thermal_conductivity")} & set(points):
            what = f"{key} has no thermal_conductivity in condition {condition}"
            do = "add rows of it: no wall is solved without it"
            found.append(Trouble(file, what, f'rows for it or for "{ANY}"', do))
        for T, ultimate in points.get((condition, "uts"), {}).items():
            at_yield = points.get((condition, "yield"), {}).get(T)
            if at_yield is not None and ultimate < at_yield:
                what = f"uts {ultimate:g} MPa of {condition} at {T:g} K lies below its yield"
                found.append(Trouble(file, what, f"at least {at_yield:g} MPa"))
    mean = any(name == "thermal_expansion_mean" for _, name in points)
    if mean and "expansion_reference" not in stanza:
        what = f"{key} has mean expansion, and its stanza does not say from which temperature"
        form = FACT_FORM.replace("8900", "293.15").replace("kg/m3", "K")
        found.append(Trouble(file, what, f"expansion_reference = {form}", "add it to the stanza"))
    return found


def read_stanzas(file: str, text: str) -> tuple[dict[str, Any], list[Trouble]]:
    """Return the stanzas of a file, and what is wrong with it as TOML.

    Parameters
    ----------
    file, text : str
        Name and text of the file [-].

    Returns
    -------
    dict, list of Trouble
        Stanzas by name; empty with a trouble.
    """
    try:
        stanzas = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        do = "one key = value on a line, texts in quotes"
        return {}, [Trouble(file, f"it is not TOML: {error}", "", do)]
    if not stanzas:
        return {}, [Trouble(file, "it has no stanza", '["Own-alloy"] with its keys below')]
    return stanzas, []
