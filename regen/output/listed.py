"""The design as a reader of drawings wants it: every key with its value in the shop's units."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from regen.design import (
    Allowables,
    Channels,
    Circuit,
    Coolant,
    CoolantData,
    CoolantSaturation,
    Cutter,
    Design,
    Heating,
    Profile,
)

MM, BAR, DEG, KELVIN = ("mm", 1e3), ("bar", 1e-5), ("deg", 180.0 / math.pi), ("K", 1.0)

UNITS: dict[str, tuple[str, float]] = {
    **dict.fromkeys(("throat_diameter", "barrel_length", "x", "r"), MM),
    **dict.fromkeys(("wall", "width", "depth", "cooled_from", "cooled_to"), MM),
    **dict.fromkeys(("copper", "jacket", "coating", "slot_height", "injected_at"), MM),
    **dict.fromkeys(("inlet_bore", "outlet_bore"), MM),
    **dict.fromkeys(("width_tolerance", "depth_tolerance", "wall_tolerance", "least_land"), MM),
    "characteristic_length": ("m", 1.0),
    "roughness": ("um sand grain", 1e6),
    **dict.fromkeys(("pressure", "ambient_pressure", "inlet_pressure", "outlet_pressure"), BAR),
    **dict.fromkeys(("convergent_half_angle", "divergent_half_angle"), DEG),
    **dict.fromkeys(("bell_start_angle", "bell_exit_angle", "outlet_turn"), DEG),
    **dict.fromkeys(("oxidizer_temperature", "fuel_temperature", "inlet_temperature"), KELVIN),
    **dict.fromkeys(("T_wall_hot", "T_wall_cold", "freeze_temperature", "temperature"), KELVIN),
    "coating_conductivity": ("W/(m K)", 1.0),
    "deposit_resistance": ("m2 K/W", 1.0),
    "mass_flow": ("kg/s", 1.0),
    "thrust": ("kN", 1e-3),
    **dict.fromkeys(("bond_strength", "fatigue_strength"), ("MPa", 1e-6)),
    "burnout_flux": ("MW/m2", 1e-6),
    **dict.fromkeys(("fatigue_temperature", "start_temperature"), KELVIN),
    "firing_duration": ("s", 1.0),
    **dict.fromkeys(("nickel_current_density", "copper_current_density"), ("A/dm2", 0.01)),
    **dict.fromkeys(("nickel_rate", "copper_rate"), ("um/h", 3.6e9)),
    **dict.fromkeys(("nickel_stock", "copper_stock", "nickel_deposit", "copper_deposit"), MM),
    **dict.fromkeys(("turn_each", "turn_cut", "turn_tolerance", "unbond", "barrier"), MM),
    "turn_time": ("h", 1.0 / 3600.0),
    "extra_area": ("dm2", 100.0),
    **dict.fromkeys(("nickel_bath_temperature", "copper_bath_temperature", "wax_melts"), KELVIN),
    **dict.fromkeys(("nickel_stress", "copper_stress"), ("MPa", 1e-6)),
    "toughness": ("J/m2", 1.0),
    "critical_pressure": BAR,
    "molar_mass": ("g/mol", 1e3),
}
"""Unit and factor from SI of every key that has a dimension."""

OWN_COOLANT = ("table", "saturation", "critical_pressure", "molar_mass")
"""Keys that say something of a coolant with a property table of its own alone."""

MANY = 8
"""Points of a profile beyond which its ends and extremes are listed instead."""


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the design: rows (key, value), and the keys nothing was given for."""

    name: str
    rows: tuple[tuple[str, str], ...]
    absent: tuple[str, ...]


def sections(design: Design) -> Iterator[Section]:
    """Yield the sections of a design as text.

    Parameters
    ----------
    design : Design
        What was solved.

    Yields
    ------
    Section
        In the order of the design.
    """
    for field in fields(design):
        part = getattr(design, field.name)
        if is_dataclass(part) and field.name != "sizing":  # what was asked of it, not what it is
            given = {inner.name: getattr(part, inner.name) for inner in fields(part)}
            if isinstance(part, Coolant) and part.table is None:
                given = {k: v for k, v in given.items() if k not in OWN_COOLANT}
            rows = tuple((k, _said(k, v)) for k, v in given.items() if v is not None)
            yield Section(field.name, rows, tuple(k for k, v in given.items() if v is None))
    for circuit in design.circuits:
        yield _circuit(circuit)
    if design.materials:
        rows = tuple(
            (file.name, f"with {', '.join(name for name, _ in file.tables)}")
            for file in design.materials
        )
        yield Section("materials", rows, ())


def _circuit(circuit: Circuit) -> Section:
    """Return one circuit: its feed and its slots, what it takes from [channels] included."""
    feed = {"enters_at": circuit.enters_at, "mass_flow": circuit.mass_flow, "share": circuit.share}
    slots = {field.name: getattr(circuit.channels, field.name) for field in fields(Channels)}
    given = {**feed, **slots}
    rows = tuple((k, _said(k, v)) for k, v in given.items() if v is not None)
    absent = tuple(k for k, v in given.items() if v is None)
    return Section(f"circuit {circuit.name}", rows, absent)


def _said(key: str, value: Any) -> str:
    unit, factor = UNITS.get(key, ("", 1.0))

    def number(one: float) -> str:
        return f"{one * factor:.6g} {unit}".rstrip()

    if isinstance(value, Profile):
        if len(value.x) == 1:
            return number(value.value[0])
        ends = f"x = {value.x[0] * 1e3:.6g} to {value.x[-1] * 1e3:.6g} mm"
        if len(value.x) > MANY:
            low, high = number(min(value.value)), number(max(value.value))
            return f"{len(value.x)} points from {ends}, between {low} and {high}"
        points = zip(value.x, value.value, strict=True)
        return "; ".join(f"{number(v)} at x = {x * 1e3:.6g} mm" for x, v in points)
    if isinstance(value, Allowables):
        pairs = zip(value.T, value.value, strict=True)
        return "; ".join(f"{stress * 1e-6:.6g} MPa at {T:.6g} K" for T, stress in pairs)
    if key in ("process", "jacket_process"):
        return "; ".join(_heating(one) for one in value) or "none"
    if isinstance(value, CoolantData):
        pressures = f" at {len(value.p)} pressures" if value.p else ""
        ends = f"{value.T[0]:.6g} to {value.T[-1]:.6g} K"
        return f"{value.file}, {len(value.T)} temperatures from {ends}{pressures}"
    if isinstance(value, CoolantSaturation):
        return f"{value.file}, {value.p[0] * 1e-5:.6g} to {value.p[-1] * 1e-5:.6g} bar"
    if key == "cutters":
        return "; ".join(_cutter(cutter) for cutter in value) or "none given"
    if key == "count_changes":
        return "; ".join(f"{n} from x = {x * 1e3:.6g} mm on" for x, n in value) or "none"
    if isinstance(value, tuple):
        return f"{len(value)} points, {number(min(value))} to {number(max(value))}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return number(value) if isinstance(value, float) else str(value)


def _heating(planned: Heating) -> str:
    return f"{planned} ({planned.temperature:.6g} K)"


def _cutter(cutter: Cutter) -> str:
    disc = f", disc of {cutter.diameter * 1e3:.6g} mm" if cutter.diameter else ""
    depth = f", to {cutter.depth * 1e3:.6g} mm deep" if cutter.depth else ""
    return f"{cutter.kind} {cutter.width * 1e3:.6g} mm{depth}{disc}"
