"""Kinds of field a case file has: each checks one value and says in words what it accepts."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, get_args, get_type_hints

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from regen.units import KINDS, NUMBER, Refusal, parse


@dataclass(slots=True)
class Reading:
    """What the checks of one case share: its folder, notes found, bytes of files read.

    ``own_coolant`` is true once the case is seen to bring a property table of its coolant.
    """

    folder: Path
    notes: list[str] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)
    own_coolant: bool = False


class Refusals(ValueError):
    """Several refusals of one value, such as of entries in a list."""

    def __init__(self, refusals: list[Refusal]) -> None:
        super().__init__("; ".join(str(refusal) for refusal in refusals))
        self.refusals = refusals


@dataclass(frozen=True)
class FieldKind:
    """Base of the kinds: hands the value to ``check`` and its form to the JSON schema."""

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        raise NotImplementedError

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        raise NotImplementedError

    def check(self, given: object, key: str, reading: Reading) -> object:
        """Return the value in SI, or raise ``Refusal`` or ``Refusals``."""
        raise NotImplementedError

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Make ``check`` the whole validation of the field."""

        def validate(given: object, info: ValidationInfo) -> object:
            reading = info.context if isinstance(info.context, Reading) else Reading(Path())
            return self.check(given, info.field_name or "", reading)

        return core_schema.with_info_plain_validator_function(validate)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Return the form of the value."""
        return dict(self.form)


@dataclass(frozen=True)
class Quantity(FieldKind):
    """A value with unit between two bounds, themselves written with units."""

    kind: str
    low: str
    high: str

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return f"{KINDS[self.kind].accepted}; from {self.low} to {self.high}"

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        kind = KINDS[self.kind]
        words = f"{kind.name} with unit, from {self.low} to {self.high}"
        return {"type": "string", "x-kind": words, "examples": list(kind.examples)}

    def check(self, given: object, key: str, reading: Reading) -> float:
        """Return the value in SI [of its kind]."""
        try:
            amount = parse(given, self.kind)
        except Refusal as error:
            error.accepted = self.accepted
            raise
        low, high = parse(self.low, self.kind).value, parse(self.high, self.kind).value
        # bounds are for slips of units, so a rounding of the conversion must not refuse them
        slack = 1e-12 * abs(high)
        if amount.value < low - slack or amount.value > high + slack:
            low_end = amount.value <= 0 < low
            what = "it must be above zero" if low_end else "it lies outside what makes sense here"
            raise Refusal(what, self.accepted)
        if amount.gauge:
            reading.notes.append(
                f"{key}: {given} was read as gauge; 101325 Pa, one standard atmosphere, was "
                "added to make it absolute"
            )
        return amount.value


@dataclass(frozen=True)
class Number(FieldKind):
    """A plain number between two bounds."""

    low: float
    high: float
    whole: bool = False

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        word = "a whole number" if self.whole else "a plain number"
        return f"{word} from {self.low:g} to {self.high:g}"

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        kind = "integer" if self.whole else "number"
        return {"type": kind, "minimum": self.low, "maximum": self.high}

    def check(self, given: object, key: str, reading: Reading) -> float:
        """Return the number [-]."""
        if isinstance(given, str):
            raise Refusal("it is a text", self.accepted, "write it without quotes and unit")
        if isinstance(given, bool) or not isinstance(given, int | float):
            raise Refusal("it is not a number", self.accepted)
        if not (self.low <= given <= self.high):
            finite = isinstance(given, int) or math.isfinite(given)
            what = "it lies outside what makes sense here" if finite else "it must be finite"
            raise Refusal(what, self.accepted)
        if self.whole and given != int(given):
            raise Refusal("it is not a whole number", self.accepted)
        return int(given) if self.whole else float(given)


@dataclass(frozen=True)
class Flag(FieldKind):
    """True or false."""

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return "true or false, without quotes"

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        return {"type": "boolean"}

    def check(self, given: object, key: str, reading: Reading) -> bool:
        """Return the flag."""
        if not isinstance(given, bool):
            raise Refusal("it is neither true nor false", self.accepted)
        return given


@dataclass(frozen=True)
class Text(FieldKind):
    """A text that is not blank."""

    meaning: str

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return f"{self.meaning}, in quotes"

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        return {"type": "string", "minLength": 1}

    def check(self, given: object, key: str, reading: Reading) -> str:
        """Return the text without blanks around it."""
        if not isinstance(given, str):
            raise Refusal("it is not a text", self.accepted, "put it in quotes")
        if not given.strip() or not given.isprintable():
            raise Refusal("it is blank or has unprintable characters", self.accepted)
        return given.strip()


def options(section: type, name: str) -> tuple[str, ...]:
    """Return the values that a field of a design section may have.

    Parameters
    ----------
    section : type
        Dataclass of the design.
    name : str
        Field of literal type [-].

    Returns
    -------
    tuple of str
        In the order of the type.
    """
    return tuple(get_args(get_type_hints(section)[name]))


@dataclass(frozen=True)
class Choice(FieldKind):
    """One of some names; ``refused`` gives reasons for names one might expect among them."""

    names: tuple[str, ...]
    refused: Mapping[str, str] = field(default_factory=dict)

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return "one of " + ", ".join(f'"{name}"' for name in self.names)

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        return {"enum": list(self.names)}

    def check(self, given: object, key: str, reading: Reading) -> str:
        """Return the name."""
        if isinstance(given, str) and given in self.names:
            return given
        if not isinstance(given, str):
            raise Refusal("it is not a text", self.accepted, "put the name in quotes")
        reasons = {name.lower(): reason for name, reason in self.refused.items()}
        reason = reasons.get(given.strip().lower())
        if reason:
            raise Refusal(reason, self.accepted)
        raise Refusal("it is not a known name", self.accepted, suggestion(given, self.names))


def suggestion(given: str, names: tuple[str, ...]) -> str:
    """Return "did you mean ...?" for the nearest name, or nothing.

    Parameters
    ----------
    given : str
        Word that is not known [-].
    names : tuple of str
        Words that are.

    Returns
    -------
    str
        A question, or "" if none is near.
    """
    by_lower = {name.lower(): name for name in names}
    near = difflib.get_close_matches(given.strip().lower()[:80], by_lower, 1, 0.55)
    return f'did you mean "{by_lower[near[0]]}"?' if near else ""


@dataclass(frozen=True, slots=True)
class Flow:
    """A coolant flow: explicit [kg/s], or a fraction of the fuel [-]."""

    mass_flow: float | None = None
    fuel_fraction: float | None = None


@dataclass(frozen=True)
class CoolantFlow(FieldKind):
    """The coolant's mass flow: "fuel", "0.8 fuel" or a value with unit."""

    bounds: Quantity = Quantity("mass flow", "1e-5 kg/s", "2000 kg/s")

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return (
            '"fuel" (all of the fuel), a share of the fuel such as "0.8 fuel", or a mass flow '
            'with its unit such as "0.48 kg/s", "1.06 lb/s"'
        )

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        return {
            "type": "string",
            "x-kind": 'mass flow with unit, or "fuel", or "0.8 fuel"',
            "examples": ["fuel", "0.8 fuel", "0.48 kg/s", "1.06 lb/s"],
        }

    def check(self, given: object, key: str, reading: Reading) -> Flow:
        """Return the flow."""
        if isinstance(given, int | float) and not isinstance(given, bool):
            do = f'for a share of the fuel write "{given!r} fuel"' if 0 < given <= 1 else ""
            raise Refusal("a bare number has no unit", self.accepted, do)
        if isinstance(given, str):
            share = re.fullmatch(rf"\s*(?:({NUMBER})\s*(%?)\s*(?:of\s+)?)?fuel\s*", given)
            if share:
                return self._share(share)
        try:
            return Flow(mass_flow=self.bounds.check(given, key, reading))
        except Refusal as error:
            error.accepted = self.accepted
            raise

    def _share(self, share: re.Match[str]) -> Flow:
        if share[1] is None:
            return Flow(fuel_fraction=1.0)
        fraction = float(share[1]) / (100.0 if share[2] else 1.0)
        if not 0 < fraction <= 1:
            raise Refusal("a share of the fuel lies above 0 and at most at 1", self.accepted)
        return Flow(fuel_fraction=fraction)


def shown(value: object, depth: int = 3) -> str:
    """Return a value as a case file would have it, cut to a readable length.

    Parameters
    ----------
    value : object
        What a TOML reader gives.
    depth : int
        How deep nested lists and tables are shown [-].

    Returns
    -------
    str
        At most 60 characters.
    """
    if isinstance(value, str):
        text = f'"{value[:80]}"'
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, int) and abs(value) > 10**60:
        text = "a number of more than 60 digits"
    elif isinstance(value, list | dict) and depth == 0:
        text = "..."
    elif isinstance(value, list):
        text = "[" + ", ".join(shown(entry, depth - 1) for entry in value[:8]) + "]"
    elif isinstance(value, dict):
        pairs = [f"{key} = {shown(entry, depth - 1)}" for key, entry in list(value.items())[:8]]
        text = "{" + ", ".join(pairs) + "}"
    else:
        text = str(value)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 60 else text[:56] + " ..."
