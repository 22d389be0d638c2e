"""Values with units: "9.5 MPa", "0.031 in", "20 degC", "900 psi gauge" to SI and back."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import difflib
import functools
import math
import re
import sys
from dataclasses import dataclass
from typing import Any, cast

# Where dask is installed pint imports it, for arrays that are not used here: 0.15 s of every start.
_DASK = sys.modules.setdefault("dask", cast(Any, None))
import pint  # noqa: E402

from regen.errors import Problem  # noqa: E402

if _DASK is None:
    del sys.modules["dask"]

ATMOSPHERE = 101325.0
"""Standard atmosphere [Pa], exact by definition: what "gauge" adds."""

# The units of the trade only: the registry pint ships costs 0.4 s to build, this one 5 ms.
# Factors are exact by definition. Angle is a dimension here, so that a bare ratio is no angle.
DEFINITIONS = """
m = [length]
kg = [mass]
s = [time]
K = [temperature]; offset: 0
rad = [angle]
A = [current]
mol = [substance]
mm = 1e-3 * m
cm = 1e-2 * m
dm = 1e-1 * m
um = 1e-6 * m
in = 0.0254 * m
mil = 2.54e-5 * m
ft = 0.3048 * m
g = 1e-3 * kg
lb = 0.45359237 * kg
min = 60 * s
h = 3600 * s
degC = K; offset: 273.15
degF = 5 / 9 * K; offset: 255.3722222222222222
degR = 5 / 9 * K; offset: 0
deg = 0.017453292519943295 * rad
N = kg * m / s ** 2
kN = 1e3 * N
lbf = 4.4482216152605 * N
Pa = N / m ** 2
hPa = 1e2 * Pa
kPa = 1e3 * Pa
MPa = 1e6 * Pa
mPa = 1e-3 * Pa
uPa = 1e-6 * Pa
cP = 1e-3 * Pa * s
mbar = 1e2 * Pa
bar = 1e5 * Pa
psi = 6894.757293168361 * Pa
ksi = 1e3 * psi
atm = 101325 * Pa
J = N * m
W = J / s
kW = 1e3 * W
MW = 1e6 * W
kJ = 1e3 * J
Btu = 1055.05585262 * J
GPa = 1e9 * Pa
d = 86400 * s
mA = 1e-3 * A
"""

HINTS = {
    "psig": 'write "psi gauge"',
    "psia": 'write "psi": pressures are absolute unless "gauge" is said',
    "barg": 'write "bar gauge"',
    "bara": 'write "bar": pressures are absolute unless "gauge" is said',
    "C": 'write "degC"',
    "F": 'write "degF"',
    "R": 'write "degR"',
    "celsius": 'write "degC"',
    "kelvin": 'write "K"',
    "inch": 'write "in"',
    "thou": 'write "mil"',
    "micron": 'write "um"',
    "lbs": 'write "lb"',
    "sec": 'write "s"',
    "degree": 'write "deg"',
    "degrees": 'write "deg"',
}

NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_VALUE = re.compile(rf"\s*(?P<number>{NUMBER})\s*(?P<unit>.*?)\s*", re.DOTALL)
_UNIT = re.compile(r"[A-Za-z]+(?:\^[1-9])?(?:\s*[*/]\s*[A-Za-z]+(?:\^[1-9])?){0,4}")
_PRESSURE_WORD = re.compile(r"(?P<unit>.*?)\s+(?P<word>gauge|absolute)", re.DOTALL)
_SPELLINGS = {"µ": "u", "μ": "u", "°C": "degC", "°F": "degF", "°": "deg", "·": "*", "**": "^"}


@dataclass(frozen=True, slots=True)
class Kind:
    """A physical kind of value: its SI unit, how to write it, and a unit to show it in."""

    name: str
    si: str
    examples: tuple[str, ...]
    shown: str

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        quoted = ", ".join(f'"{example}"' for example in self.examples)
        return f"{self.phrase} with its unit, such as {quoted}"

    @property
    def phrase(self) -> str:
        """The name with its article."""
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"


KINDS = {
    kind.name: kind
    for kind in (
        Kind("length", "m", ("0.8 mm", "0.031 in", "0.75 m", "5 um"), "mm"),
        Kind("pressure", "Pa", ("9.5 MPa", "95 bar", "1400 psi", "900 psi gauge"), "bar"),
        Kind("temperature", "K", ("120 K", "20 degC", "70 degF"), "K"),
        Kind("mass flow", "kg/s", ("0.48 kg/s", "480 g/s", "1.06 lb/s"), "kg/s"),
        Kind("angle", "rad", ("15 deg", "0.26 rad"), "deg"),
        Kind("force", "N", ("5 kN", "1100 lbf"), "kN"),
        Kind("conductivity", "W/m/K", ("1.2 W/(m K)", "0.012 W/(cm K)"), "W/(m K)"),
        Kind("thermal resistance", "m^2*K/W", ("2e-5 m2 K/W", "20 mm2 K/W"), "m2 K/W"),
        Kind("area", "m^2", ("2 dm2", "150 cm2", "1.5 ft2"), "dm^2"),
        Kind("stress", "Pa", ("70 MPa", "10 ksi"), "MPa"),
        Kind("time", "s", ("60 s", "15 min", "8 h"), "s"),
        Kind("current density", "A/m^2", ("2 A/dm2", "20 A/ft2", "25 mA/cm2"), "A/dm^2"),
        Kind("rate of growth", "m/s", ("25 um/h", "1 mil/h"), "um/h"),
        Kind("toughness", "J/m^2", ("250 J/m2",), "J/m^2"),
        Kind("heat flux", "W/m^2", ("12 MW/m2", "7.3 Btu/in2/s"), "MW/m^2"),
        Kind("density", "kg/m^3", ("800 kg/m3",), "kg/m^3"),
        Kind("heat capacity", "J/kg/K", ("2000 J/(kg K)", "2.0 kJ/(kg K)"), "J/(kg K)"),
        Kind("enthalpy", "J/kg", ("250 kJ/kg",), "kJ/kg"),
        Kind("viscosity", "Pa*s", ("1.2 mPa s", "1.2 cP"), "mPa s"),
        Kind("speed", "m/s", ("1300 m/s",), "m/s"),
        Kind("surface tension", "N/m", ("0.025 N/m",), "N/m"),
        Kind("molar mass", "kg/mol", ("170 g/mol",), "g/mol"),
    )
}

_DIMENSION_NAMES = {
    "length": "m",
    "area": "m^2",
    "volume": "m^3",
    "mass": "kg",
    "time": "s",
    "speed": "m/s",
    "volume flow": "m^3/s",
    "density": "kg/m^3",
    "energy": "J",
    "power": "W",
    "heat flux": "W/m^2",
    "pressure": "Pa",
    "temperature": "K",
    "mass flow": "kg/s",
    "angle": "rad",
    "force": "N",
    "conductivity": "W/m/K",
    "thermal resistance": "m^2*K/W",
    "current density": "A/m^2",
    "toughness": "J/m^2",
    "heat capacity": "J/kg/K",
    "enthalpy": "J/kg",
    "viscosity": "Pa*s",
    "surface tension": "N/m",
    "molar mass": "kg/mol",
}


class Refusal(ValueError):
    """A value that cannot be taken.

    Parameters
    ----------
    what : str
        What is wrong with it.
    accepted : str
        What is accepted in its place.
    do : str
        What to do, if that is not plain from ``accepted``.
    where : str
        Suffix of the key path, such as "[2]".
    given : str, optional
        The offending part, if it is not the whole value.
    """

    def __init__(
        self, what: str, accepted: str = "", do: str = "", where: str = "", given: str | None = None
    ) -> None:
        super().__init__(what)
        self.what = what
        self.accepted = accepted
        self.do = do
        self.where = where
        self.given = given

    def problem(self, key: str, given: str | None = None) -> Problem:
        """Return it as a problem of a key, with what was given there unless it names a part."""
        return Problem(key, self.what, given or self.given, self.accepted, self.do)


@dataclass(frozen=True, slots=True)
class Amount:
    """A value in SI, and whether it was given as gauge pressure."""

    value: float
    gauge: bool = False


@functools.cache
def registry() -> pint.UnitRegistry[float]:
    """Return the registry of the trade's units [any], built once."""
    units: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    units.load_definitions(DEFINITIONS.strip().splitlines())
    return units


@functools.cache
def unit_names() -> tuple[str, ...]:
    """Return the names of the known units."""
    return tuple(line.split("=")[0].strip() for line in DEFINITIONS.strip().splitlines())


def parse(given: object, kind: str) -> Amount:
    """Return a value with unit in SI.

    Parameters
    ----------
    given : object
        What stands in the file; only a string such as "0.8 mm" is taken.
    kind : str
        Key of ``KINDS``: what the value must be [-].

    Returns
    -------
    Amount
        Value [SI unit of the kind]; pressures absolute, temperatures in K.

    Raises
    ------
    Refusal
        If it is not a finite number with a known unit of that kind.
    """
    wanted = KINDS[kind]
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise Refusal(f"it is not {wanted.phrase}", wanted.accepted)
    if not isinstance(given, str):
        raise Refusal("a bare number has no unit", wanted.accepted, _add_unit(given, wanted))
    match = _VALUE.fullmatch(given)
    if match is None and re.match(r"\s*[+-]?(inf|nan)", given, re.IGNORECASE):
        raise Refusal("it must be finite", wanted.accepted)
    if match is None:
        raise Refusal("it does not begin with a number", wanted.accepted)
    unit, gauge = _unit_text(match["unit"], wanted)
    number = float(match["number"])
    value = _to_si(number, unit, wanted) if math.isfinite(number) else number
    if not math.isfinite(value):
        raise Refusal("the number is too large to be finite", wanted.accepted)
    return Amount(value + ATMOSPHERE if gauge else value, gauge)


def _add_unit(given: float, wanted: Kind) -> str:
    """Advise the unit; the number is repeated only where it is short and finite."""
    if not abs(given) < 1e9:
        return "write the value with its unit, in quotes"
    return f'write it with its unit, in quotes: "{given!r} {wanted.shown}" if that is what is meant'


def _unit_text(text: str, wanted: Kind) -> tuple[str, bool]:
    """Return the spelling the registry knows, and whether "gauge" was said."""
    gauge = False
    if wanted.name == "pressure" and (word := _PRESSURE_WORD.fullmatch(text)):
        text, gauge = word["unit"], word["word"] == "gauge"
    for spelling, plain in _SPELLINGS.items():
        text = text.replace(spelling, plain)
    text = _products(text)
    if not text:
        raise Refusal("the unit is missing", wanted.accepted)
    if text.startswith(",") or re.match(r"[\d.,]", text):
        do = "write a decimal point and no thousands separator: 1.5, 1400"
        raise Refusal("the number is not plain", wanted.accepted, do)
    unknown = [name for name in re.findall(r"[A-Za-z]+", text) if name not in unit_names()]
    if unknown or not _UNIT.fullmatch(text):
        raise _unknown_unit(text, unknown, wanted)
    return text, gauge


def _products(text: str) -> str:
    """Return "W/m/K" for "W/(m K)", "mPa*s" for "mPa s" and "A/dm^2" for "A/dm2"."""
    text = re.sub(r"\b([A-Za-z]+)([1-9])\b", r"\1^\2", text)
    if not re.search(r"K|Pa s", text) or not re.search(r"[ (]", text):
        return text
    text = re.sub(r"/\s*\(\s*([A-Za-z]+)\s*[* ]\s*([A-Za-z]+)\s*\)", r"/\1/\2", text)
    return re.sub(r"(?<=[A-Za-z0-9])\s+(?=[A-Za-z])", "*", text)


def _unknown_unit(text: str, unknown: list[str], wanted: Kind) -> Refusal:
    shown = text if len(text) <= 30 else text[:27] + "..."
    do = ""
    if unknown:
        hint = HINTS.get(unknown[0])
        near = difflib.get_close_matches(unknown[0], unit_names(), 1)
        do = hint or (f'did you mean "{near[0]}"?' if near else "")
    return Refusal(f'"{shown}" is no unit known here', wanted.accepted, do)


@functools.cache
def _pint_unit(text: str) -> Any:
    return registry().parse_units(_products(text).replace("^", "**"))


def _to_si(number: float, text: str, wanted: Kind) -> float:
    unit = _pint_unit(text)
    if unit.dimensionality != _pint_unit(wanted.si).dimensionality:
        what = f'"{text}" is a unit of {_dimension_name(unit)}, and {wanted.phrase} is due'
        raise Refusal(what, wanted.accepted)
    try:
        return float(registry().Quantity(number, unit).to(_pint_unit(wanted.si)).magnitude)
    except (pint.errors.OffsetUnitCalculusError, OverflowError) as error:
        raise Refusal(f'"{text}" cannot be converted', wanted.accepted) from error


def _dimension_name(unit: Any) -> str:
    for name, text in _DIMENSION_NAMES.items():
        if unit.dimensionality == _pint_unit(text).dimensionality:
            return name
    return str(unit.dimensionality)


def show(value: float, kind: str, unit: str | None = None) -> str:
    """Return a value in SI as text with a unit, as a case file would have it.

    Parameters
    ----------
    value : float
        Value [SI unit of the kind].
    kind : str
        Key of ``KINDS`` [-].
    unit : str, optional
        Unit to write it in; the kind's usual one if left out.

    Returns
    -------
    str
        Such as "0.8 mm"; read back it is the same value to 10 digits.
    """
    wanted = KINDS[kind]
    unit = unit or wanted.shown
    quantity = registry().Quantity(value, _pint_unit(wanted.si))
    return f"{quantity.to(_pint_unit(unit)).magnitude:.10g} {unit}"
