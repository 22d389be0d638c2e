"""What data/plating.toml holds: baths, allowances, bond, hydrogen; in SI, each with its source."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from regen.metals.alloys import Fact
from regen.sources import DATA

FILE = DATA / "plating.toml"

FACTORS = {
    "-": (1.0, "-"),
    "g/mol": (1e-3, "kg/mol"),
    "kg/m3": (1.0, "kg/m3"),
    "A/dm2": (100.0, "A/m2"),
    "mm": (1e-3, "m"),
    "MPa": (1e6, "Pa"),
    "GPa": (1e9, "Pa"),
    "h": (3600.0, "s"),
    "J/m2": (1.0, "J/m2"),
    "K": (1.0, "K"),
}
"""Factor to SI and SI unit of each unit that the file may have, beside degC."""

ZERO_CELSIUS = 273.15

MetalName = Literal["copper", "nickel"]


@dataclass(frozen=True, slots=True)
class Bath:
    """A plating bath: its metal, and what is usual and known of it, in SI.

    ``window`` holds the current densities [A/m2] in which results are known, ``widest`` the
    widest that are quoted, where they are; ``stress`` is usual, ``stress_limit`` that of its
    quality check either way [Pa], where known.
    """

    key: str
    name: str
    metal: MetalName
    current_density: Fact
    efficiency: Fact
    efficiencies: tuple[Fact, Fact]
    window: tuple[Fact, Fact]
    widest: tuple[Fact | None, Fact | None]
    temperature: Fact
    temperatures: tuple[Fact, Fact]
    stress: Fact | None
    stress_limit: Fact | None
    notes: tuple[str, ...]


@cache
def _file() -> Mapping[str, Any]:
    with FILE.open("rb") as file:
        return tomllib.load(file)


def _fact(entry: Mapping[str, Any]) -> Fact:
    value, unit = float(entry["value"]), entry["unit"]
    if unit == "degC":
        return Fact(value + ZERO_CELSIUS, "K", entry["source"], entry["mark"])
    factor, si = FACTORS[unit]
    return Fact(value * factor, si, entry["source"], entry["mark"])


def facts(*tables: str) -> dict[str, Fact]:
    """Return the numbers of one table of the file in SI, such as "hydrogen", "ratios"."""
    table = _file()
    for name in tables:
        table = table[name]
    return {key: _fact(entry) for key, entry in table.items() if "value" in entry}


@cache
def bath(key: str) -> Bath:
    """Return a bath in SI: "sulfamate", "watts" or "acid-copper"."""
    entry = _file()["baths"][key]
    of = {name: _fact(value) for name, value in entry.items() if isinstance(value, dict)}
    return Bath(
        key=key,
        name=entry["name"],
        metal=entry["metal"],
        current_density=of["current_density"],
        efficiency=of["efficiency"],
        efficiencies=(of["efficiency_low"], of["efficiency_high"]),
        window=(of["window_low"], of["window_high"]),
        widest=(of.get("widest_low"), of.get("widest_high")),
        temperature=of["temperature"],
        temperatures=(of["temperature_low"], of["temperature_high"]),
        stress=of.get("stress"),
        stress_limit=of.get("stress_limit"),
        notes=tuple(entry["notes"]),
    )
