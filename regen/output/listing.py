"""The design as a reader of drawings wants it: every key with its value in the shop's units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from regen import design as d
from regen.design import Design
from regen.output.table import Table, text_column
from regen.quantities import design_unit, factor, with_unit

OWN_COOLANT = ("table", "saturation", "critical_pressure", "molar_mass")
"""Keys of a coolant that has a property table of its own."""

EMPTY = {"cutters": "none given", "count_changes": "none", "process": "none"}
EMPTY |= {"jacket_process": "none"}

MANY = 8
"""Points of a profile beyond which its ends and extremes are listed instead."""


KEY_AND_VALUE = (text_column("key", "key"), text_column("value", "value"))


def design_sections(design: Design) -> Iterator[tuple[Table, list[str]]]:
    """Yield the sections of a design, in its order: keys with values, keys without one."""
    for name in (field.name for field in fields(design)):
        part = getattr(design, name)
        if is_dataclass(part) and name != "sizing":  # sizing: a task, no part of the design
            hidden = OWN_COOLANT if isinstance(part, d.Coolant) and part.table is None else ()
            yield _section(name, {k: v for k, v in _values(part).items() if k not in hidden})
    for circuit in design.circuits:
        feed = {key: getattr(circuit, key) for key in ("enters_at", "mass_flow", "share")}
        yield _section(f"circuit {circuit.name}", feed | _values(circuit.channels))
    if design.materials:
        tables = {f.name: ", ".join(name for name, _ in f.tables) for f in design.materials}
        yield _section("materials", {name: f"with {text}" for name, text in tables.items()})


def inputs(design: Design) -> dict[str, str]:
    """Return every value of a design as text, by "section.key"."""
    return {f"{table.title}.{k}": v for table, _ in design_sections(design) for k, v in table.rows}


def _values(part: Any) -> dict[str, Any]:
    return {field.name: getattr(part, field.name) for field in fields(part)}


def _section(name: str, given: Mapping[str, Any]) -> tuple[Table, list[str]]:
    rows = [(key, _text(key, value)) for key, value in given.items() if value is not None]
    absent = [key for key, value in given.items() if value is None]
    return Table(KEY_AND_VALUE, rows, title=name, kind="numbers"), absent


def _number(value: float, unit: str) -> str:
    return with_unit(f"{value * factor(unit):.6g}", unit)


def _text(key: str, value: Any) -> str:
    unit = design_unit(key)
    match value:
        case d.Profile():
            return _profile(value, unit)
        case d.Allowables():
            pairs = zip(value.T, value.value, strict=True)
            return "; ".join(f"{_number(s, 'MPa')} at {_number(T, 'K')}" for T, s in pairs)
        case d.CoolantData():
            pressures = f" at {len(value.p)} pressures" if value.p else ""
            ends = f"{value.T[0]:.6g} to {_number(value.T[-1], 'K')}"
            return f"{value.file}, {len(value.T)} temperatures from {ends}{pressures}"
        case d.CoolantSaturation():
            low, high = value.p[0], value.p[-1]
            return f"{value.file}, {low * factor('bar'):.6g} to {_number(high, 'bar')}"
        case tuple() if key in EMPTY:
            return "; ".join(_item(item) for item in value) or EMPTY[key]
        case tuple():
            return (
                f"{len(value)} points, {_number(min(value), unit)} to {_number(max(value), unit)}"
            )
        case bool():
            return "yes" if value else "no"
        case float():
            text = _number(value, unit)
            return f"{text} sand grain" if key == "roughness" else text
        case _:
            return str(value)


def _profile(profile: d.Profile, unit: str) -> str:
    x, values = profile.x, profile.value
    if len(x) == 1:
        return _number(values[0], unit)
    if len(x) > MANY:
        ends = f"x = {x[0] * factor('mm'):.6g} to {_number(x[-1], 'mm')}"
        low, high = _number(min(values), unit), _number(max(values), unit)
        return f"{len(x)} points from {ends}, between {low} and {high}"
    points = zip(x, values, strict=True)
    return "; ".join(f"{_number(v, unit)} at x = {_number(at, 'mm')}" for at, v in points)


def _item(item: Any) -> str:
    match item:
        case d.Heating():
            return f"{item} ({_number(item.temperature, 'K')})"
        case d.Cutter():
            disc = f", disc of {_number(item.diameter, 'mm')}" if item.diameter else ""
            depth = f", to {_number(item.depth, 'mm')} deep" if item.depth else ""
            return f"{item.kind} {_number(item.width, 'mm')}{depth}{disc}"
        case (x, count):
            return f"{count} from x = {_number(x, 'mm')} on"
        case _:
            return str(item)
