"""What data/plating.toml holds: baths, allowances, bond, hydrogen; in SI, each with its source."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, reduce
from operator import getitem
from typing import Any, Literal

from regen.metals.alloys import Fact
from regen.sources import read_data

_FILE = read_data("plating.toml")

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

    In the window of current densities results are known, the widest is quoted, where it is;
    ``stress`` is usual, ``stress_limit`` that of its quality check either way [Pa], where known.
    """

    key: str
    name: str
    metal: MetalName
    notes: tuple[str, ...]
    current_density: Fact
    efficiency: Fact
    efficiency_low: Fact
    efficiency_high: Fact
    window_low: Fact
    window_high: Fact
    temperature: Fact
    temperature_low: Fact
    temperature_high: Fact
    widest_low: Fact | None = None
    widest_high: Fact | None = None
    stress: Fact | None = None
    stress_limit: Fact | None = None


def _fact(entry: Mapping[str, Any]) -> Fact:
    value, unit = float(entry["value"]), entry["unit"]
    if unit == "degC":
        return Fact(value + ZERO_CELSIUS, "K", entry["source"], entry["mark"])
    factor, si = FACTORS[unit]
    return Fact(value * factor, si, entry["source"], entry["mark"])


def facts(*tables: str) -> dict[str, Fact]:
    """Return the numbers of one table of the file in SI, such as "hydrogen", "ratios"."""
    table: Mapping[str, Any] = reduce(getitem, tables, _FILE)
    return {key: _fact(entry) for key, entry in table.items() if "value" in entry}


@cache
def bath(key: str) -> Bath:
    """Return a bath in SI: "sulfamate", "watts" or "acid-copper"."""
    entry = _FILE["baths"][key]
    notes = tuple(entry["notes"])
    return Bath(key, entry["name"], entry["metal"], notes, **facts("baths", key))
