"""Everything wrong with an alloy as a stanza and its tables give it: a user's own, and ours."""

import math
import operator
import re
import tomllib
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from functools import partial
from itertools import pairwise
from typing import Any, NamedTuple

from regen.metals import alloys, heating
from regen.metals.alloys import ANY, PROPERTIES, Row
from regen.sources import MARKS, read_data
from regen.units import Refusal, suggestion

Refuse = Callable[..., Refusal]
"""Makes a refusal by its name in data/alloy_refusals.toml, at a place that it knows."""

FACT_FORM = '{{ value = {}, unit = "{}", source = "where it is from", mark = "seen" }}'
CONDITIONS_FORM = "a table: the name of each condition with a text that says its treatment"
NEEDED = {
    **dict.fromkeys(alloys.TEXTS, "a text in quotes"),
    "density": FACT_FORM.format(8900, "kg/m3"),
    "conditions": CONDITIONS_FORM,
}
KNOWN = tuple(dict.fromkeys((*NEEDED, *alloys.FACTS, *alloys.LISTS, "after")))
NOT_LOW = "memory-low"
"""No limit and no strength may rest on this mark."""

KEY = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._+-]{0,60}")
NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")

OPTIONAL = ("low", "high")
PARTS: dict[str, tuple[str, ...]] = {
    "": ("condition", "property", "T_K", "value", "unit", "source", "mark"),
    ".fatigue": ("condition", "T_K", "strain_range_percent", "cycles", "source", "mark"),
    ".creep": ("condition", "T_K", "stress_MPa", "time_h", "source", "mark"),
    ".compared": ("condition", "property", "T_K", "value", "unit", "source", "mark", "why"),
}
"""Columns of <name>.csv, and of the tables that may stand beside it."""

NUMBERS: dict[str, tuple[float, float]] = {
    "T_K": (1.0, 4000.0),
    "strain_range_percent": (0.001, 50.0),
    "cycles": (0.5, 1e12),
    "stress_MPa": (0.01, 5000.0),
    "time_h": (1e-6, 1e7),
}
"""Bounds of the columns whose unit stands in their name."""


def _refusal(where: str, name: str, /, given: object = None, **values: object) -> Refusal:
    """Refuse what stands at a place, by the name of what is wrong with it."""
    texts = read_data("alloy_refusals.toml")[name]
    what, *more = (one.format(given=_shown(given), **values) for one in texts)
    return Refusal(f"{where}: {what}", *more)


def _unlisted(refuse: Refuse, name: str, given: object, known: Collection[str]) -> Refusal:
    """Refuse a name that is not among the known ones, with the nearest of them."""
    near = suggestion(str(given), tuple(known))
    return refuse(name, given=given, known=", ".join(known), near=near)


def _shown(given: object) -> str:
    text = f'"{given}"' if isinstance(given, str) else str(given)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 60 else text[:56] + " ..."


def _is_text(given: object) -> bool:
    return isinstance(given, str) and bool(given.strip()) and given.isprintable()


def _is_texts(given: object) -> bool:
    return isinstance(given, list) and all(isinstance(one, str) for one in given)


class _Stanza(NamedTuple):
    """One stanza with its file, to say where in it something stands."""

    file: str
    text: str
    key: str
    entry: Mapping[str, Any]

    @property
    def conditions(self) -> tuple[str, ...]:
        conditions = self.entry.get("conditions")
        return tuple(conditions) if isinstance(conditions, Mapping) else ()

    def line(self, name: str) -> str:
        """Return ", line N" of a key of this stanza, that of its heading if it is not found."""
        quoted = rf'(?:{re.escape(self.key)}|"{re.escape(self.key)}")'
        inside = False
        for number, line in enumerate(self.text.splitlines(), start=1):
            if line.startswith("["):
                inside = bool(re.match(rf"\[\s*{quoted}\s*[\].]", line))
                if inside and (not name or re.search(rf'[."]{re.escape(name)}"?\s*\]', line)):
                    return f", line {number}"
            elif inside and name and re.match(rf'\s*"?{re.escape(name)}"?\s*[.=]', line):
                return f", line {number}"
        return self.line("") if name else ""

    def refuse(self, path: str, name: str, /, **values: object) -> Refusal:
        """Refuse what stands at a path of keys in the stanza."""
        where = f"{self.file}{self.line(path.split('.')[0])}: {self.key}.{path}"
        return _refusal(where, name, **values)


def check_stanza(file: str, text: str, key: str, entry: object) -> list[Refusal]:
    """Return everything wrong with the stanza of an alloy, as a TOML reader gives it."""
    if not KEY.fullmatch(key):
        return [_refusal(file, "alloy name", given=key)]
    if not isinstance(entry, Mapping):
        return [_refusal(file, "no mapping", given=key, key=key)]
    stanza = _Stanza(file, text, key, entry)
    checks = (_keys, _texts, _facts, _ranked, _conditions, _after)
    return [refusal for check in checks for refusal in check(stanza)]


def _keys(stanza: _Stanza) -> Iterator[Refusal]:
    for name in stanza.entry:
        if name not in KNOWN:
            yield _unlisted(partial(stanza.refuse, name), "unknown key", name, KNOWN)
    for name, accepted in NEEDED.items():
        if name not in stanza.entry:
            yield stanza.refuse(name, "missing key", accepted=accepted)


def _texts(stanza: _Stanza) -> Iterator[Refusal]:
    for name in alloys.TEXTS:
        given = stanza.entry.get(name, "-")
        if not _is_text(given):
            yield stanza.refuse(name, "no text", given=given, accepted=NEEDED[name])
    for name in alloys.LISTS:
        if not _is_texts(stanza.entry.get(name, [])):
            yield stanza.refuse(name, "no list", accepted='["one text", "another"]')


def _facts(stanza: _Stanza) -> Iterator[Refusal]:
    for name in alloys.FACTS:
        given = stanza.entry.get(name)
        if name not in stanza.entry:
            continue
        if name not in alloys.BY_KEY:
            yield from _fact(stanza, name, name, given)
            continue
        kind = "condition" if name == "holds_to" else "service"
        keys = stanza.conditions if name == "holds_to" else ("short", "long")
        if not isinstance(given, Mapping):
            accepted = " and ".join(f"{name}.{k}" for k in keys) or f"{name}.<condition>"
            yield stanza.refuse(name, "no facts", accepted=accepted)
            continue
        for key, fact in given.items():
            path = f"{name}.{key}"
            if key in keys:
                yield from _fact(stanza, path, name, fact)
            else:
                yield _unlisted(partial(stanza.refuse, path), f"no such {kind}", key, keys)


def _fact(stanza: _Stanza, path: str, name: str, given: object) -> Iterator[Refusal]:
    unit, low, high = alloys.FACTS[name]
    form = FACT_FORM.format(round((low * high) ** 0.5), unit)
    refuse = partial(stanza.refuse, path)
    if not isinstance(given, Mapping):
        bare = isinstance(given, int | float) and not isinstance(given, bool)
        yield refuse("bare number" if bare else "no fact", given=given, form=form)
        return
    for key in given:
        if key not in ("value", "unit", "source", "mark"):
            yield refuse("part of a fact", given=key, form=form)
    value = given.get("value")
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        yield refuse("fact value", given=value, form=form)
    elif not low <= value <= high:
        yield refuse("fact range", value=value, low=low, high=high, unit=unit)
    if given.get("unit") != unit:
        yield refuse("fact unit", given=given.get("unit"), unit=unit)
    is_limit = name in ("T_max", "loaded_to", "holds_to", "solidus")
    yield from _sourced(refuse, given.get("source"), given.get("mark"), is_limit=is_limit)


def _sourced(refuse: Refuse, source: object, mark: object, *, is_limit: bool) -> Iterator[Refusal]:
    if not _is_text(source):
        yield refuse("no source")
    if mark not in MARKS:
        yield _unlisted(refuse, "unknown mark" if mark else "no mark", mark or "", MARKS)
    elif is_limit and mark == NOT_LOW:
        yield refuse("low mark", mark=mark)


def _ranked(stanza: _Stanza) -> Iterator[Refusal]:
    """Yield working limits that do not rank long, short, solidus."""
    known = []
    for path in ("T_max.long", "T_max.short", "solidus"):
        fact: Any = stanza.entry
        for key in (*path.split("."), "value"):
            fact = fact.get(key) if isinstance(fact, Mapping) else None
        if isinstance(fact, int | float):
            known.append((path, fact))
    for (name, value), (above, limit) in pairwise(known):
        if value > limit:
            yield stanza.refuse(name, "limits", value=value, above=above, limit=limit)


def _conditions(stanza: _Stanza) -> Iterator[Refusal]:
    given = stanza.entry.get("conditions", {"": ""})
    if not isinstance(given, Mapping) or not given:
        yield stanza.refuse("conditions", "no conditions", accepted=CONDITIONS_FORM)
        return
    for name, text in given.items():
        if name == ANY:
            yield stanza.refuse(f"conditions.{name}", "condition any", any=ANY)
        elif not isinstance(text, str):
            yield stanza.refuse(f"conditions.{name}", "condition text", accepted=CONDITIONS_FORM)


def _after(stanza: _Stanza) -> Iterator[Refusal]:
    """Yield conditions that are not among its own, and heatings that are none."""
    if not stanza.conditions and "conditions" in stanza.entry:
        return
    soft, after = stanza.entry.get("already_soft", []), stanza.entry.get("after", {})
    for name in soft if isinstance(soft, list) else []:
        if isinstance(name, str) and name not in stanza.conditions:
            refuse = partial(stanza.refuse, "already_soft")
            yield _unlisted(refuse, "soft condition", name, stanza.conditions)
    if not isinstance(after, Mapping):
        yield stanza.refuse("after", "no heatings")
        return
    for name, texts in after.items():
        refuse = partial(stanza.refuse, f"after.{name}")
        if name not in stanza.conditions:
            yield _unlisted(refuse, "no such condition", name, stanza.conditions)
        if not _is_texts(texts):
            yield refuse("no list", accepted=heating.ACCEPTED)
            continue
        for text in texts:
            try:
                heating.read(text)
            except heating.HeatingError as error:
                yield refuse("heating", given=text, error=error, accepted=heating.ACCEPTED)


def check_table(file: str, text: str, part: str, conditions: Collection[str]) -> list[Refusal]:
    """Return everything wrong with a table of an alloy; ``part`` is one of ``PARTS``."""
    lines = list(alloys.cells(text))
    columns, optional = PARTS[part], () if part else OPTIONAL
    wanted = ",".join(columns)
    if not lines:
        return [_refusal(file, "empty", wanted=wanted)]
    number, _, header = lines[0]
    problems = [f"no column {name}" for name in columns if name not in header]
    problems += [
        f"unknown column {_shown(name)}" for name in header if name not in (*columns, *optional)
    ]
    if problems or len(set(header)) < len(header):
        wrong_header = "; ".join(problems) or "a column is named twice"
        accepted = wanted + (f", and where known {','.join(optional)}" if optional else "")
        where = f"{file}, line {number}"
        return [_refusal(where, "header", problems=wrong_header, accepted=accepted)]
    if not lines[1:]:
        return [_refusal(file, "no rows", wanted=wanted)]
    wrong: list[Refusal] = []
    sound: list[tuple[Refuse, Row]] = []
    for number, line, row in lines[1:]:
        refuse = partial(_refusal, f"{file}, line {number} ({_shown(line)})")
        if len(row) != len(header):
            sizes = {"count": len(row), "columns": len(header)}
            wrong.append(refuse("cells", **sizes, header=",".join(header)))
            continue
        by_column = dict(zip(header, row, strict=True))
        of_row = list(_row(refuse, by_column, part, conditions))
        wrong += of_row
        if not of_row:
            sound.append((refuse, by_column))
    return wrong if part else wrong + list(_in_order(sound))


def _row(refuse: Refuse, row: Row, part: str, conditions: Collection[str]) -> Iterator[Refusal]:
    names = (*conditions, ANY) if part in ("", ".compared") else tuple(conditions)
    if row["condition"] not in names:
        yield _unlisted(refuse, "row condition", row["condition"], names)
    for name, (low, high) in NUMBERS.items():
        if name in row:
            yield from _number(refuse, name, row[name], low, high, "")
    if "property" in row:
        yield from _valued(refuse, row)
    if part == ".compared" and not row["why"]:
        yield refuse("no reason")
    is_limit = part in (".fatigue", ".creep") or not part and row["property"] in alloys.STRENGTH
    yield from _sourced(refuse, row["source"], row["mark"], is_limit=is_limit)


def _number(
    refuse: Refuse, name: str, text: str, low: float, high: float, unit: str
) -> Iterator[Refusal]:
    if not NUMBER.fullmatch(text) or not math.isfinite(float(text)):
        yield refuse("number", name=name, given=text)
    elif not low <= float(text) <= high:
        accepted = f"{low:g} to {high:g} {unit}".rstrip()
        yield refuse("range", name=name, text=text, accepted=accepted)


def _valued(refuse: Refuse, row: Row) -> Iterator[Refusal]:
    name, unit, value = row["property"], row["unit"], row["value"]
    if name not in PROPERTIES:
        yield _unlisted(refuse, "property", name, PROPERTIES)
        return
    units = PROPERTIES[name].factors
    if unit not in units:
        accepted = " or ".join(f'"{one}"' for one in units)
        yield refuse("unit" if unit else "no unit", given=unit, name=name, accepted=accepted)
        return
    low, high = (b / units[unit] for b in (PROPERTIES[name].low, PROPERTIES[name].high))
    yield from _number(refuse, "value", value, low, high, unit)
    for side, beyond in (("low", operator.lt), ("high", operator.gt)):
        end = row.get(side)
        if end and NUMBER.fullmatch(value):
            yield from _number(refuse, side, end, low, high, unit)
            if NUMBER.fullmatch(end) and beyond(float(value), float(end)):
                yield refuse("beyond", side=side, end=end, unit=unit)


def _in_order(rows: Iterable[tuple[Refuse, Row]]) -> Iterator[Refusal]:
    """Yield temperatures that repeat or fall, and properties given for all and for one."""
    last: dict[tuple[str, str], float] = {}
    for refuse, row in rows:
        condition, name, T = row["condition"], row["property"], float(row["T_K"])
        before = last.get((condition, name))
        others = {c for c, p in last if p == name} if before is None else set()
        if before is not None and T == before:
            yield refuse("twice", T=T, name=name)
        elif before is not None and T < before:
            yield refuse("falling", T=T, before=before, name=name)
        elif others and (condition == ANY or ANY in others):
            single = next(iter(others)) if condition == ANY else condition
            yield refuse("any and one", name=name, any=ANY, single=single)
        last[condition, name] = T


def check_whole(file: str, table: str, key: str, stanza: Mapping[str, Any]) -> list[Refusal]:
    """Return what is wrong between a sound stanza and its sound table.

    Missing conductivity or reference of expansion, and a tensile strength below the yield.
    """
    points: dict[tuple[str, str], dict[float, float]] = defaultdict(dict)
    for row in alloys.rows_of(table):
        points[row["condition"], row["property"]][float(row["T_K"])] = float(row["value"])
    wrong = []
    for condition in stanza["conditions"]:
        if not any((one, "thermal_conductivity") in points for one in (condition, ANY)):
            missing = {"key": key, "condition": condition, "any": ANY}
            wrong.append(_refusal(file, "no conductivity", **missing))
        at_yield = points.get((condition, "yield"), {})
        for T, ultimate in points.get((condition, "uts"), {}).items():
            if ultimate < at_yield.get(T, ultimate):
                strength = {"ultimate": ultimate, "condition": condition, "T": T}
                wrong.append(_refusal(file, "uts below yield", **strength, least=at_yield[T]))
    mean = any(name == "thermal_expansion_mean" for _, name in points)
    if mean and "expansion_reference" not in stanza:
        wrong.append(_refusal(file, "no reference", key=key, form=FACT_FORM.format(293.15, "K")))
    return wrong


def read_stanzas(file: str, text: str) -> tuple[dict[str, Any], list[Refusal]]:
    """Return the stanzas of a file by name, and what is wrong with it as TOML."""
    try:
        stanzas = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        return {}, [_refusal(file, "no TOML", error=error)]
    return stanzas, [] if stanzas else [_refusal(file, "no stanza")]
