"""Values with units: "9.5 MPa", "0.031 in", "20 degC", "900 psi gauge" to SI and back; bounds."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import difflib
import functools
import math
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

from regen.errors import CaseError, Problem
from regen.sources import DATA, read_data

if TYPE_CHECKING:
    import pint

ATMOSPHERE = 101325.0
"""Standard atmosphere [Pa], exact by definition: what "gauge" adds."""

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
    examples: Sequence[str]
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


_FILE = read_data("kinds.toml")
KINDS = {name: Kind(name, **kind) for name, kind in _FILE["kinds"].items()}
HINTS: Mapping[str, str] = _FILE["hints"]
"""What to write in place of units that are not known."""
_DIMENSIONS = {**_FILE["other_dimensions"], **{kind.name: kind.si for kind in KINDS.values()}}
"""What a unit may be of, and the SI unit of each."""


class Refusal(ValueError):
    """A value that is refused: what is wrong with it, what is accepted, and what to do.

    ``where`` is a suffix of the key path such as "[2]", or the whole path; ``given`` the offending
    part if it is not the whole value, "" if there is none.
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
        self.refusals = [self]
        """Everything that is wrong: this, unless there is more."""

    def problem(self, key: str | None = None, given: str | None = None) -> Problem:
        """Return it as a problem of a key, else of ``where``, with what was given there."""
        where = self.where if key is None else key
        return Problem(where, self.what, given or self.given or None, self.accepted, self.do)


class Refusals(Refusal):
    """Several refusals of one value, such as of entries in a list."""

    def __init__(self, refusals: list[Refusal]) -> None:
        super().__init__("; ".join(str(refusal) for refusal in refusals))
        self.refusals = refusals


def refusal(name: str, where: str = "", given: str | None = None, /, **places: object) -> Refusal:
    """Return a refusal of data/refusals.toml with its places filled in."""
    texts = {part: text.format(**places) for part, text in read_data("refusals.toml")[name].items()}
    return Refusal(**texts, where=where, given=given)


class Wrong(list[Refusal]):
    """What is wrong with the parts of one value, gathered part by part."""

    @contextmanager
    def gather(self, where: str = "", given: str | None = None) -> Iterator[None]:
        """Take what is refused inside, as of a part of the value."""
        try:
            yield
        except Refusal as error:
            for one in error.refusals:
                one.where = where + one.where
                one.given = given if one.given is None else one.given
                self.append(one)

    def refuse(self) -> None:
        """Raise everything gathered, if there is anything."""
        if self:
            raise Refusals(self)

    def refuse_case(self, source: str) -> None:
        """Raise everything gathered as problems of a case, if there is anything."""
        if self:
            raise CaseError(source, [one.problem() for one in self])


@contextmanager
def accepting(accepted: str) -> Iterator[None]:
    """Let what is refused inside say what is accepted here."""
    try:
        yield
    except Refusal as error:
        error.accepted = accepted
        raise


def suggestion(given: str, names: Sequence[str]) -> str:
    """Return 'did you mean "name"?' for the nearest name, "" if none is near."""
    by_lower = {name.lower(): name for name in names}
    near = difflib.get_close_matches(given.strip().lower()[:80], by_lower, 1, 0.55)
    return f'did you mean "{by_lower[near[0]]}"?' if near else ""


@dataclass(frozen=True, slots=True)
class Amount:
    """A value in SI, and whether it was given as gauge pressure."""

    value: float
    gauge: bool = False


@functools.cache
def _pint() -> Any:
    """Import pint without dask, which it looks for and would bring: 0.15 s of every start."""
    dask = sys.modules.setdefault("dask", cast(Any, None))
    import pint

    if dask is None:
        del sys.modules["dask"]
    return pint


@functools.cache
def _definitions() -> tuple[str, ...]:
    lines = (DATA / "units.txt").read_text(encoding="utf-8").splitlines()
    return tuple(line for line in lines if not line.startswith("#"))


@functools.cache
def registry() -> pint.UnitRegistry[float]:
    """Return the registry of the trade's units, built once."""
    units: pint.UnitRegistry[float] = _pint().UnitRegistry(None)
    units.load_definitions(_definitions())
    return units


@functools.cache
def unit_names() -> tuple[str, ...]:
    """Return the names of the known units."""
    return tuple(line.partition(" =")[0] for line in _definitions())


def parse(given: object, kind: str) -> Amount:
    """Return a value such as "0.8 mm" in the SI unit of its kind; pressures are absolute.

    ``kind`` is a key of ``KINDS``. Raises ``Refusal`` for anything but a text with a finite number
    and a known unit of that kind.
    """
    wanted = KINDS[kind]
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise Refusal(f"not {wanted.phrase}", wanted.accepted)
    if not isinstance(given, str):
        raise Refusal("number without a unit", wanted.accepted, _add_unit(given, wanted))
    match = _VALUE.fullmatch(given)
    if match is None:
        infinite = re.match(r"\s*[+-]?(inf|nan)", given, re.IGNORECASE)
        what = "must be finite" if infinite else "does not begin with a number"
        raise Refusal(what, wanted.accepted)
    unit, gauge = _unit_text(match["unit"], wanted)
    number = float(match["number"])
    value = _to_si(number, unit, wanted) if math.isfinite(number) else number
    if not math.isfinite(value):
        raise Refusal("number too large", wanted.accepted)
    return Amount(value + ATMOSPHERE if gauge else value, gauge)


def _add_unit(given: float, wanted: Kind) -> str:
    """Advise the unit; the number is repeated only where it is short and finite."""
    if not abs(given) < 1e9:
        return "write the value with its unit, in quotes"
    return f'write it with its unit, in quotes: "{given!r} {wanted.shown}" if that is what is meant'


def _unit_text(text: str, wanted: Kind) -> tuple[str, bool]:
    """Return the spelling the registry knows, and whether "gauge" was given."""
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
        raise Refusal("not a plain number", wanted.accepted, do)
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
    near = difflib.get_close_matches(unknown[0], unit_names(), 1) if unknown else ()
    do = HINTS.get(unknown[0], "") if unknown else ""
    do = do or (f'did you mean "{near[0]}"?' if near else "")
    return Refusal(f'unknown unit "{shown}"', wanted.accepted, do)


@functools.cache
def _pint_unit(text: str) -> Any:
    return registry().parse_units(_products(text).replace("^", "**"))


def _to_si(number: float, text: str, wanted: Kind) -> float:
    unit = _pint_unit(text)
    if unit.dimensionality != _pint_unit(wanted.si).dimensionality:
        what = f'"{text}" is a unit of {_dimension_name(unit)}, not of {wanted.name}'
        raise Refusal(what, wanted.accepted)
    try:
        return float(registry().Quantity(number, unit).to(_pint_unit(wanted.si)).magnitude)
    except (_pint().errors.OffsetUnitCalculusError, OverflowError) as error:
        raise Refusal(f'"{text}" cannot be converted', wanted.accepted) from error


def _dimension_name(unit: Any) -> str:
    of = unit.dimensionality
    known = (name for name, si in _DIMENSIONS.items() if of == _pint_unit(si).dimensionality)
    return next(known, str(of))


def show(value: float, kind: str, unit: str | None = None) -> str:
    """Return a value in SI as text with a unit, its kind's usual one: "0.8 mm", to 10 digits."""
    wanted = KINDS[kind]
    unit = unit or wanted.shown
    quantity = registry().Quantity(value, _pint_unit(wanted.si))
    return f"{quantity.to(_pint_unit(unit)).magnitude:.10g} {unit}"


@dataclass(frozen=True)
class Quantity:
    """A value with unit of a kind, between two bounds that are themselves written with units."""

    kind: str
    low: str
    high: str

    @property
    def accepted(self) -> str:
        """What may be written."""
        return f"{KINDS[self.kind].accepted}; from {self.low} to {self.high}"

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        kind = KINDS[self.kind]
        text = f"{kind.name} with unit, from {self.low} to {self.high}"
        return {"type": "string", "x-kind": text, "examples": list(kind.examples)}

    def check(self, given: object, reading: object = None) -> float:
        """Return the value in SI [of its kind], or raise ``Refusal``; ``reading`` is not used."""
        with accepting(self.accepted):
            value = parse(given, self.kind).value
        low, high = parse(self.low, self.kind).value, parse(self.high, self.kind).value
        # bounds are for slips of units, so a rounding of the conversion must not refuse them
        slack = 1e-12 * abs(high)
        if value < low - slack or value > high + slack:
            what = "must be above zero" if value <= 0 < low else "out of range"
            raise Refusal(what, self.accepted)
        return value


@dataclass(frozen=True)
class Number:
    """A plain number between two bounds."""

    low: float
    high: float
    whole: bool = False

    @property
    def accepted(self) -> str:
        """What may be written."""
        name = "a whole number" if self.whole else "a plain number"
        return f"{name} from {self.low:g} to {self.high:g}"

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        kind = "integer" if self.whole else "number"
        return {"type": kind, "minimum": self.low, "maximum": self.high}

    def check(self, given: object, reading: object = None) -> float:
        """Return the number [-], or raise ``Refusal``; ``reading`` is not used."""
        if isinstance(given, str):
            do = "drop the quotes and any unit"
            raise Refusal("text in place of a number", self.accepted, do)
        if isinstance(given, bool) or not isinstance(given, int | float):
            raise Refusal("not a number", self.accepted)
        if not (self.low <= given <= self.high):
            finite = isinstance(given, int) or math.isfinite(given)
            raise Refusal("out of range" if finite else "must be finite", self.accepted)
        if self.whole and given != int(given):
            raise Refusal("not a whole number", self.accepted)
        return int(given) if self.whole else float(given)
