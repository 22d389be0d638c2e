"""Quantities: the SI unit that a key's suffix names, and how the value is shown to a reader."""

from __future__ import annotations

import math
from dataclasses import dataclass, is_dataclass, replace
from functools import cache
from typing import Any, get_type_hints

MISSING, UNLIMITED = "-", "unlimited"
"""Shown where there is no value, and for infinity."""

UNITS: dict[str, tuple[str, float, int]] = {
    "-": ("-", 1.0, 2),
    "%": ("-", 1e2, 0),
    "m": ("m", 1.0, 3),
    "mm": ("m", 1e3, 2),
    "um": ("m", 1e6, 1),
    "m2": ("m2", 1.0, 4),
    "dm2": ("m2", 1e2, 2),
    "m3": ("m3", 1.0, 6),
    "s": ("s", 1.0, 1),
    "h": ("s", 1.0 / 3600.0, 1),
    "days": ("s", 1.0 / 86400.0, 1),
    "K": ("K", 1.0, 0),
    "degC": ("K", 1.0, 0),
    "Pa": ("Pa", 1.0, 0),
    "bar": ("Pa", 1e-5, 1),
    "MPa": ("Pa", 1e-6, 1),
    "kg": ("kg", 1.0, 2),
    "kg/s": ("kg/s", 1.0, 3),
    "m/s": ("m/s", 1.0, 1),
    "um/h": ("m/s", 3.6e9, 1),
    "rad": ("rad", 1.0, 4),
    "deg": ("rad", 180.0 / math.pi, 1),
    "N": ("N", 1.0, 0),
    "kN": ("N", 1e-3, 2),
    "J": ("J", 1.0, 0),
    "kJ": ("J", 1e-3, 1),
    "W": ("W", 1.0, 0),
    "kW": ("W", 1e-3, 0),
    "W/m2": ("W/m2", 1.0, 0),
    "MW/m2": ("W/m2", 1e-6, 2),
    "W/(m2 K)": ("W/(m2 K)", 1.0, 0),
    "kW/(m2 K)": ("W/(m2 K)", 1e-3, 1),
    "W/(m K)": ("W/(m K)", 1.0, 1),
    "m2 K/W": ("m2 K/W", 1.0, 8),
    "J/m2": ("J/m2", 1.0, 0),
    "A": ("A", 1.0, 1),
    "A/m2": ("A/m2", 1.0, 0),
    "A/dm2": ("A/m2", 1e-2, 2),
    "C": ("C", 1.0, 0),
    "Ah": ("C", 1.0 / 3600.0, 0),
    "kg/mol": ("kg/mol", 1.0, 5),
    "g/mol": ("kg/mol", 1e3, 2),
}
"""Of each unit: its SI unit, the factor from SI and the decimals it is usually shown with."""

OFFSETS = {"degC": -273.15}

SHOWN = {
    **{"m": "mm", "m2": "dm2", "Pa": "MPa", "rad": "deg", "N": "kN", "J": "kJ", "W": "kW"},
    **{"W/m2": "MW/m2", "W/(m2 K)": "kW/(m2 K)", "A/m2": "A/dm2", "C": "Ah", "kg/mol": "g/mol"},
}
"""Unit that a reader expects in place of an SI unit; pressures are in bar, see ``shown_unit``."""

FINE = 1e-5
"""Lengths below are shown in micrometres [m]."""

NAMED: dict[str, tuple[str, str, int]] = {
    "T_wall_hot_max_K": ("peak hot-gas-side wall temperature", "K", -1),
    "T_wall_cold_max_K": ("peak coolant-side wall temperature", "K", -1),
    "q_max_W_m2": ("peak heat flux", "MW/m2", 1),
    "coolant_temperature_out_K": ("coolant outlet temperature", "K", -1),
    "coolant_pressure_drop_Pa": ("coolant pressure drop", "bar", 1),
    "coolant_pressure_out_Pa": ("coolant outlet pressure", "bar", 1),
    "heat_total_W": ("heat into the coolant", "kW", 0),
    "coolant_mass_flow_kg_s": ("coolant mass flow", "kg/s", 3),
    "gas_mass_flow_kg_s": ("hot-gas mass flow", "kg/s", 3),
    "chamber_temperature_K": ("chamber temperature at the given efficiency", "K", -1),
    "characteristic_velocity_m_s": ("characteristic velocity", "m/s", 0),
    "throat_diameter_m": ("throat diameter", "mm", 2),
    "mass_cooled_kg": ("mass of the cooled length", "kg", 2),
    "least_margin": ("least margin", "%", 0),
    "x_m": ("x", "mm", 1),
    "r_m": ("r", "mm", 2),
    "area_ratio": ("A/At", "-", 2),
    "mach": ("Mach gas", "-", 2),
    "T_aw_K": ("T adiab. wall", "K", 0),
    "h_gas_W_m2K": ("h gas", "kW/(m2 K)", 1),
    "q_W_m2": ("q", "MW/m2", 2),
    "T_wall_hot_K": ("T wall, gas", "K", 0),
    "T_wall_cold_K": ("T wall, coolant", "K", 0),
    "q_wetted_W_m2": ("q wetted", "MW/m2", 2),
    "h_coolant_W_m2K": ("h coolant", "kW/(m2 K)", 1),
    "T_coolant_K": ("T coolant", "K", 0),
    "p_coolant_Pa": ("p coolant", "bar", 1),
    "v_coolant_m_s": ("v coolant", "m/s", 1),
    "mach_coolant": ("Mach coolant", "-", 3),
    "wall_m": ("wall", "mm", 2),
    "channel_width_m": ("width", "mm", 2),
    "channel_depth_m": ("depth", "mm", 2),
    "land_width_m": ("land", "mm", 2),
}
"""Label, shown unit and decimals of quantities that have a name of their own."""

HEADLINE = tuple(NAMED)[:6]
"""Quantities of a solved design that are shown first."""

OPERATION = tuple(NAMED)[6:12]
"""Quantities of its operating point."""

OWN_UNITS = {
    "x": "mm",
    "r": "mm",
    "characteristic_length": "m",
    "roughness": "um",
    "turn_time": "h",
}
"""Shown units of keys of a design that have none by their kind, or another one."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """How the values of one key [SI] are shown: label, unit and decimals, -1 for to the ten."""

    key: str
    label: str
    unit: str
    decimals: int

    @property
    def heading(self) -> str:
        """Label and unit for a table."""
        return f"{self.label}, {self.unit}" if self.unit not in ("", "-") else self.label

    @property
    def axis(self) -> str:
        """Label and unit for the axis of a figure."""
        return f"{self.label} [{typeset(self.unit or '-')}]"

    def shown(self, value: Any) -> Any:
        """Return a value or array [SI] in the shown unit."""
        return value * factor(self.unit) + OFFSETS.get(self.unit, 0.0)

    def text(self, value: float | None, sign: str = "") -> str:
        """Return a value [SI] as text without its unit."""
        return MISSING if value is None else decimal(self.shown(value), self.decimals, sign)

    def amount(self, value: float | None) -> str:
        """Return a value [SI] with its unit."""
        return with_unit(self.text(value), self.unit)


@cache
def quantity(
    key: str, label: str = "", unit: str | None = None, decimals: int | None = None
) -> Quantity:
    """Return how a key is shown; what is not given follows from its name and suffix.

    Raises
    ------
    ValueError
        If the unit is not one of the SI unit that the key's suffix names.
    """
    si = si_of(key)
    if key in NAMED:
        usual = Quantity(key, *NAMED[key])
    else:
        stem = key.removesuffix(f"_{suffix(si)}") if si else key
        usual = Quantity(key, stem.replace("_", " "), shown_unit(si, key), 0)
        usual = replace(usual, decimals=_usual_decimals(usual.unit))
    if unit is not None and unit != usual.unit:
        if si and UNITS.get(unit, ("",))[0] != si:
            message = f"{key} is in {si} and cannot be shown in {unit}"
            raise ValueError(message)
        usual = replace(usual, unit=unit, decimals=_usual_decimals(unit))
    number = usual.decimals if decimals is None else decimals
    return replace(usual, label=label or usual.label, decimals=number)


def _usual_decimals(unit: str) -> int:
    return UNITS[unit][2] if unit in UNITS else 2


def suffix(si: str) -> str:
    """Return how a key names an SI unit: "W_m2K" of "W/(m2 K)" or "W/m^2/K"."""
    first, *rest = "".join(c for c in si if c not in "() *^").split("/")
    return "_".join((first, "".join(rest))) if rest else first


SUFFIXES = {suffix(si): si for si, _, _ in UNITS.values() if si != "-"}
"""SI unit by the suffix of a key."""


@cache
def si_of(key: str) -> str:
    """Return the SI unit that a key's suffix names, "" if it names none."""
    known = [name for name in SUFFIXES if key.endswith(f"_{name}")]
    return SUFFIXES[max(known, key=len)] if known else ""


def shown_unit(si: str, name: str = "") -> str:
    """Return the unit that a reader expects for a value of an SI unit and a name or key."""
    if si == "Pa" and ("pressure" in name or name.startswith("p_")):
        return "bar"
    return SHOWN.get(si, si)


@cache
def design_units() -> dict[str, str]:
    """Return the shown units of the keys of a design that have a dimension, by their kinds."""
    from regen import design, units

    parts = [one for one in vars(design).values() if isinstance(one, type) and is_dataclass(one)]
    kinds = {
        name: units.KINDS[extra.kind].shown.replace("^", "")
        for part in parts
        for name, hint in get_type_hints(part, include_extras=True).items()
        for extra in getattr(hint, "__metadata__", ())
        if isinstance(extra, units.Quantity)
    }
    return kinds | OWN_UNITS


def design_unit(key: str) -> str:
    """Return the unit in which a key of a design is shown, "" if it has no dimension."""
    return design_units().get(key, "")


def factor(unit: str) -> float:
    """Return the factor from SI to a unit; 1 of what is no unit, such as "firings"."""
    return UNITS[unit][1] if unit in UNITS else 1.0


def decimal(value: float, decimals: int, sign: str = "") -> str:
    """Return a number with so many decimals; -1 rounds to the ten; ``sign`` may be "+"."""
    if math.isnan(value):
        return MISSING
    if math.isinf(value):
        return UNLIMITED
    whole = round(float(value), decimals) + 0.0  # no -0
    return f"{whole:{sign}.{max(decimals, 0)}f}"


def significant(value: float, figures: int = 3) -> str:
    """Return a number to so many significant figures, without an exponent."""
    size = math.floor(math.log10(abs(value))) if value and math.isfinite(value) else 0
    return decimal(value, figures - 1 - size)


def amount(value: float | None, si: str, name: str = "") -> str:
    """Return a value of an SI unit to three figures in the unit that a reader expects."""
    if value is None:
        return MISSING
    unit = "um" if si == "m" and abs(value) < FINE else shown_unit(si, name)
    return with_unit(significant(value * factor(unit) / factor(si)), unit)


def with_unit(text: str, unit: str) -> str:
    """Return a text with its unit; none for a plain number, a missing or unlimited value."""
    return text if text in (MISSING, UNLIMITED) or unit in ("", "-") else f"{text} {unit}"


def typeset(unit: str) -> str:
    """Return a unit as a page or a figure prints it."""
    return unit.replace("m2", "m²").replace("m3", "m³").replace("um", "µm")
