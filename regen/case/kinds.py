"""Kinds of value a case file has: each checks one value and says what it accepts."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol, TypeVar, get_args

from regen import design
from regen.case.table import Lines
from regen.metals import heating
from regen.sources import read_data
from regen.units import NUMBER, Quantity, Refusal, Wrong, accepting, refusal, suggestion

T = TypeVar("T")


@dataclass(slots=True)
class Reading:
    """What the checks of one case share.

    Its folder, the notes so far, bytes of files read, the key being read, and whether the case
    brings a property table of its coolant.
    """

    folder: Path
    notes: list[str] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)
    key: str = ""
    own_coolant: bool = False

    def path(self, given: object, accepted: str) -> Path:
        """Return the path of a file that a value names; refuse what is no name."""
        if not isinstance(given, str) or not given.strip() or not given.isprintable():
            do = "" if isinstance(given, str) else "put the name in quotes"
            raise Refusal("not the name of a file", accepted, do)
        return self.folder / given

    def take(self, name: str, lines: Lines) -> None:
        """Keep the bytes of a table that was read, and what the user must know of it."""
        self.files[name] = lines.data
        self.notes.extend(lines.notes)


def note(name: str, /, **places: object) -> str:
    """Return a note of data/case_notes.toml with its places filled in."""
    text: str = read_data("case_notes.toml")[name].format(**places)
    return text


class Kind(Protocol):
    """A kind of value; ``Quantity`` and ``Number`` are two."""

    @property
    def accepted(self) -> str:
        """What may be written."""

    @property
    def form(self) -> Mapping[str, Any]:
        """JSON schema of the value."""

    def check(self, given: object, reading: Reading, /) -> object:
        """Return the value in SI, or raise ``Refusal``."""


TEXT_FORM: Mapping[str, Any] = {"type": "string", "minLength": 1}
FLOW_FORM: Mapping[str, Any] = {
    "type": "string",
    "x-kind": 'mass flow with unit, or "fuel", or "0.8 fuel"',
    "examples": ["fuel", "0.8 fuel", "0.48 kg/s", "1.06 lb/s"],
}


def quoted(names: Iterable[str]) -> str:
    """Return names in quotes, with commas between them."""
    return ", ".join(f'"{name}"' for name in names)


class Flag:
    """True or false."""

    accepted = "true or false, without quotes"
    form: Mapping[str, Any] = {"type": "boolean"}

    def check(self, given: object, reading: Reading) -> bool:
        """Return the flag."""
        if not isinstance(given, bool):
            raise Refusal("neither true nor false", self.accepted)
        return given


@dataclass(frozen=True)
class Text:
    """A text that is not blank."""

    meaning: str
    form = TEXT_FORM

    @property
    def accepted(self) -> str:
        """What may be written."""
        return f"{self.meaning}, in quotes"

    def check(self, given: object, reading: Reading) -> str:
        """Return the text without blanks around it."""
        if not isinstance(given, str):
            raise Refusal("not a text", self.accepted, "put it in quotes")
        if not given.strip() or not given.isprintable():
            raise Refusal("blank or unprintable", self.accepted)
        return given.strip()


@dataclass(frozen=True)
class Choice:
    """One of some names; ``refused`` gives reasons for names one might expect among them."""

    names: tuple[str, ...]
    refused: Mapping[str, str] = field(default_factory=dict)

    @property
    def accepted(self) -> str:
        """What may be written."""
        return f"one of {quoted(self.names)}"

    @property
    def form(self) -> Mapping[str, Any]:
        """JSON schema of the value."""
        return {"enum": list(self.names)}

    def check(self, given: object, reading: Reading) -> str:
        """Return the name."""
        if not isinstance(given, str):
            raise Refusal("not a text", self.accepted, "put the name in quotes")
        if given in self.names:
            return given
        reasons = {name.lower(): reason for name, reason in self.refused.items()}
        if reason := reasons.get(given.strip().lower()):
            raise Refusal(reason, self.accepted)
        raise Refusal("unknown name", self.accepted, suggestion(given, self.names))


@dataclass(frozen=True, slots=True)
class Flow:
    """A coolant flow: explicit [kg/s], or a share of the fuel [-]."""

    mass_flow: float | None = None
    fuel_fraction: float | None = None


@dataclass(frozen=True)
class CoolantFlow:
    """A mass flow: "fuel", "0.8 fuel" or a value with unit."""

    bounds: Quantity
    accepted = (
        '"fuel" (all of the fuel), a share of the fuel such as "0.8 fuel", or a mass flow '
        'with its unit such as "0.48 kg/s", "1.06 lb/s"'
    )
    form = FLOW_FORM

    def check(self, given: object, reading: Reading) -> Flow:
        """Return the flow."""
        if isinstance(given, int | float) and not isinstance(given, bool):
            do = f'for a share of the fuel write "{given!r} fuel"' if 0 < given <= 1 else ""
            raise Refusal("number without a unit", self.accepted, do)
        pattern = rf"\s*(?:({NUMBER})\s*(%?)\s*(?:of\s+)?)?fuel\s*"
        if isinstance(given, str) and (match := re.fullmatch(pattern, given)):
            fraction = float(match[1] or 1.0) / (100.0 if match[2] else 1.0)
            if not 0 < fraction <= 1:
                raise Refusal("share of the fuel outside 0 to 1", self.accepted)
            return Flow(fuel_fraction=fraction)
        with accepting(self.accepted):
            return Flow(mass_flow=self.bounds.check(given))


class FreeSizes:
    """A list of the sizes that are free."""

    names: tuple[str, ...] = get_args(design.Free)
    accepted = f"a list of {quoted(names)}"
    form: Mapping[str, Any] = {
        "type": "array",
        "items": {"enum": list(names)},
        "minItems": 1,
        "uniqueItems": True,
    }

    def check(self, given: object, reading: Reading) -> tuple[str, ...]:
        """Return the names in the order of the design's sizes."""
        if not isinstance(given, list) or not given:
            raise Refusal("not a list of sizes", self.accepted)
        for name in given:
            if name not in self.names:
                do = suggestion(name, self.names) if isinstance(name, str) else ""
                raise Refusal(f"{shown(name)} is not a size that can be free", self.accepted, do)
        if len(set(given)) < len(given):
            raise Refusal("a size is named twice", self.accepted, "name each once")
        return tuple(name for name in self.names if name in given)


class Heatings:
    """Planned heatings of a metal, in order."""

    accepted = f"a list of {heating.ACCEPTED}"
    form: Mapping[str, Any] = {
        "type": "array",
        "items": {"type": "string"},
        "examples": [["braze at 935 degC"], ["HIP at 950 degC for 3 h"]],
    }

    def check(self, given: object, reading: Reading) -> tuple[design.Heating, ...]:
        """Return the heatings."""
        if not isinstance(given, list):
            do = f"put it in brackets: [{shown(given)}]" if isinstance(given, str) else ""
            raise Refusal("not a list", self.accepted, do)
        return tuple(each(given, self._one))

    def _one(self, text: object) -> design.Heating:
        if not isinstance(text, str):
            raise Refusal("not a text", self.accepted)
        try:
            return heating.read(text)
        except heating.HeatingError as error:
            raise Refusal(str(error), self.accepted) from error


@dataclass(frozen=True, slots=True)
class Key:
    """A key: its kind of value, whether it must be given, and what is taken else [SI]."""

    kind: Kind
    needed: bool = False
    default: Any = None


CUTTER = '[{kind = "saw", width = "0.8 mm", diameter = "63 mm", depth = "5 mm"}]'


@dataclass(frozen=True)
class Cutters:
    """A list of saws and end mills, each a table of keys."""

    keys: Mapping[str, Key]

    @property
    def accepted(self) -> str:
        """What may be written."""
        return f"a list of tables with the keys {', '.join(self.keys)}, such as {CUTTER}"

    @property
    def form(self) -> Mapping[str, Any]:
        """JSON schema of the value."""
        entry = {
            "type": "object",
            "properties": {name: dict(key.kind.form) for name, key in self.keys.items()},
            "required": [name for name, key in self.keys.items() if key.needed],
            "additionalProperties": False,
        }
        return {"type": "array", "items": entry, "minItems": 1}

    def check(self, given: object, reading: Reading) -> tuple[design.Cutter, ...]:
        """Return the cutters in SI, by rising width."""
        if not isinstance(given, list) or not given:
            raise Refusal("not a list of cutters", self.accepted)
        return tuple(sorted(each(given, self._one), key=lambda cutter: cutter.width))

    def _one(self, entry: object) -> design.Cutter:
        if not isinstance(entry, dict):
            raise Refusal("not a table", CUTTER)
        values: dict[str, Any] = {}
        wrong = Wrong()
        for name, value in entry.items():
            with wrong.gather(f".{name}", shown(value)):
                if name not in self.keys:
                    do = suggestion(name, tuple(self.keys))
                    raise Refusal("unknown key", ", ".join(self.keys), do)
                values[name] = self.keys[name].kind.check(value, Reading(Path()))
        for name, key in self.keys.items():
            if key.needed and name not in entry:
                wrong.append(Refusal("missing", key.kind.accepted, "add it", f".{name}", ""))
        if entry.get("kind") == "end mill" and "diameter" in entry:
            wrong.append(refusal("diameter of an end mill", ".diameter"))
        depth, diameter = values.get("depth"), values.get("diameter")
        if entry.get("kind") == "saw" and depth and diameter and 2 * depth >= diameter:
            given = shown(entry["depth"])
            wrong.append(refusal("depth of a saw", ".depth", given, most=diameter * 500))
        wrong.refuse()
        return design.Cutter(**values)


def each(entries: Sequence[object], check: Callable[[Any], T], of: str = "") -> list[T]:
    """Return the checked entries of a list, or raise everything that is wrong with them."""
    read: list[T] = []
    wrong = Wrong()
    for n, entry in enumerate(entries, start=1):
        with wrong.gather(f"[{of}{n}]", shown(entry)):
            read.append(check(entry))
    wrong.refuse()
    return read


def shown(value: object, depth: int = 3) -> str:
    """Return a value as a case file would have it, cut to at most 60 characters."""
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
