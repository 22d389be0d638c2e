"""Numeric keys of a case as inputs of a study: how they are named, read, written and applied."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Literal

from regen import design as d
from regen.case.along import Along, CountAlong
from regen.case.keys import SAND_GRAIN_PER_RA, check_path, keys_of, kind_of
from regen.case.kinds import CoolantFlow
from regen.design import Design, Profile
from regen.units import KINDS, NUMBER, Number, Quantity, Refusal, show

Form = Literal["value", "profile", "count", "flow", "share of the fuel"]

SUFFIX = {
    "length": "m",
    "pressure": "Pa",
    "temperature": "K",
    "mass flow": "kg_s",
    "angle": "rad",
    "force": "N",
    "conductivity": "W_mK",
    "thermal resistance": "m2K_W",
    "area": "m2",
    "stress": "Pa",
    "heat flux": "W_m2",
    "time": "s",
    "current density": "A_m2",
    "rate of growth": "m_s",
    "toughness": "J_m2",
    "molar mass": "kg_mol",
}
"""How a column names the SI unit of a kind."""

FUEL = "fuel"
"""In place of a unit: the value is a share of the fuel."""

RANGE = "START:STOP:N:UNIT"
SHARE = Number(1e-6, 1.0)
SCALE = Number(0.01, 100.0)

_PERCENT = re.compile(rf"\s*({NUMBER})\s*%\s*")
_NUMBER = re.compile(rf"\s*({NUMBER})\s*")


@dataclass(frozen=True, slots=True)
class Parameter:
    """One numeric key of a case, varied by values in SI, by factors on the case's own or by shifts.

    Parameters
    ----------
    path : str
        "section.key", or "circuits.name.key".
    form : str
        What the key holds: one value, a profile along x, a number of slots, a flow as a value or
        as a share of the fuel.
    entry : Quantity or Number
        Check of one value.
    relative : bool
        True where values are factors on the case's own profile or value [-].
    shift : bool
        True where values are added to the case's own profile [SI].
    point : int, optional
        Values are those of one point of the case's own profile, counted from 0 [-].
    """

    path: str
    form: Form
    entry: Quantity | Number
    relative: bool = False
    shift: bool = False
    point: int | None = None

    @property
    def name(self) -> str:
        """Path, with the point of a profile that is meant."""
        return self.path if self.point is None else f"{self.path}[{self.point + 1}]"

    @property
    def kind(self) -> str | None:
        """Parameter of ``units.KINDS``; None for a plain number, a share or a factor."""
        if self.relative or not isinstance(self.entry, Quantity):
            return None
        return self.entry.kind

    @property
    def whole(self) -> bool:
        """True if only whole numbers are accepted."""
        return isinstance(self.entry, Number) and self.entry.whole

    @property
    def column(self) -> str:
        """Name of the column that holds its values in tables, with the unit."""
        if self.relative:
            return f"{self.path}_over_case"
        if self.form == "share of the fuel":
            return f"{self.path}_of_fuel"
        path = f"{self.path}_added" if self.shift else self.path
        return f"{path}_{SUFFIX[self.kind]}" if self.kind else path

    @property
    def unit(self) -> str:
        """Unit it is shown in; "" for a plain number."""
        if self.relative:
            return "of the case's own"
        if self.form == "share of the fuel":
            return "of the fuel"
        return KINDS[self.kind].shown if self.kind else ""

    @property
    def label(self) -> str:
        """Name and unit for an axis of a figure."""
        added = " added" if self.shift else ""
        return f"{self.path}{added} [{self.unit or '-'}]"

    @property
    def accepted(self) -> str:
        """What one value may be."""
        return SCALE.accepted if self.relative else self.entry.accepted

    def shown(self, value: float) -> float:
        """Return a value in the unit it is shown in."""
        if self.kind is None or self.kind == "temperature":
            return float(value)
        return float(value) * _per_si(self.kind)

    def say(self, value: float) -> str:
        """Return a value with its unit to six digits, as a person would write it: "0.75 mm"."""
        return f"{self.shown(value):.6g} {self.unit}".rstrip()

    def check(self, value: float) -> float:
        """Return a value that lies within the bounds of the key, else raise ``Refusal``.

        A shift has no bounds of its own: what it makes of the profile is to be checked.
        """
        if self.relative:
            return float(SCALE.check(value))
        if self.shift:
            return float(value)
        given: object = show(value, self.entry.kind) if isinstance(self.entry, Quantity) else value
        self.entry.check(given)
        return float(value)

    def written(self, value: float, design: Design) -> Any:
        """Return what a case file has for this key at a value: text with unit, number, or pairs."""
        if not self.relative and not self.shift and self.point is None:
            return self._text(value)
        profile = own_profile(design, self.path)
        if profile is None:
            return self._text(value * (own_value(design, self) or 0.0))
        changed = _profile(profile, self, value)
        return [
            [show(x, "length"), self._text(v)]
            for x, v in zip(changed.x, changed.value, strict=True)
        ]

    def _text(self, value: float) -> Any:
        if self.form == "share of the fuel":
            return f"{value!r} fuel"
        if isinstance(self.entry, Quantity):
            return show(value, self.entry.kind)
        return int(value) if self.whole else float(value)


def _per_si(kind: str) -> float:
    return float(show(1.0, kind).partition(" ")[0])


def numeric_key(path: str, design: Design) -> Parameter:
    """Return the numeric key "section.key" or "circuits.name.key", varied by values in SI.

    A flow varies as the case gives it. ``Refusal`` if there is no such key, or it holds no number.
    """
    check_path(path)
    section, _, rest = path.partition(".")
    if section == "circuits":
        known = tuple(circuit.name for circuit in design.circuits)
        if rest.partition(".")[0] not in known:
            accepted = ", ".join(known) or "a case with circuits"
            raise Refusal("the case has no such circuit", accepted)
    if path == "title":
        raise Refusal("it holds no number", "a key that holds a number")
    if path in _JACKET and path != _jacket_key(design):
        raise Refusal(f"the case gives {_jacket_key(design)}", "", "vary that")
    field = kind_of(path)
    if isinstance(field, CoolantFlow):
        owner = design.film if section == "film" else design.coolant
        by_fuel = owner is not None and owner.fuel_fraction is not None
        return (
            Parameter(path, "share of the fuel", SHARE)
            if by_fuel
            else Parameter(path, "flow", field.bounds)
        )
    if isinstance(field, Along):
        return Parameter(path, "profile", field.bounds)
    if isinstance(field, CountAlong):
        return Parameter(path, "count", field.bounds)
    if isinstance(field, Quantity | Number):
        return Parameter(path, "value", field)
    raise Refusal("it holds no number, so it cannot be varied", numbers_of(section))


def numbers_of(section: str) -> str:
    """Return the keys of a section that hold a number."""
    kinds = (CoolantFlow, Along, CountAlong, Quantity, Number)
    names = [name for name, key in keys_of(section).items() if isinstance(key.kind, kinds)]
    return f"a key that holds a number; in [{section}]: {', '.join(names)}"


def read(key: Parameter, text: str, unit: str, design: Design) -> tuple[Parameter, float]:
    """Read one value of a key, as a person writes it: with its unit, or in per cent of the case's.

    ``unit`` stands elsewhere, "" for none, "fuel" for a share of the fuel. The key is made relative
    where per cent of a profile are given. ``Refusal`` if it is no value of this key.
    """
    if match := _PERCENT.fullmatch(text):
        return _percent(key, float(match[1]) / 100.0, unit, design)
    if unit == FUEL or text.strip().endswith(FUEL):
        if key.form not in ("flow", "share of the fuel"):
            raise Refusal("it is no flow, and cannot be a share of the fuel", key.accepted)
        number = text.strip().removesuffix(FUEL)
        return Parameter(key.path, "share of the fuel", SHARE), _plain(SHARE, number)
    if key.form == "share of the fuel":
        key = Parameter(key.path, "flow", d.MASS_FLOW)
    if isinstance(key.entry, Quantity):
        given = f"{text} {unit}".rstrip()
        return key, float(key.entry.check(given))
    if unit:
        raise Refusal(f"{key.path} has no unit", key.accepted, f'leave "{unit}" out')
    return key, _plain(key.entry, text)


def _plain(entry: Number, text: str) -> float:
    match = _NUMBER.fullmatch(text)
    if not match:
        raise Refusal(f'"{text.strip()}" is not a number', entry.accepted)
    return float(entry.check(float(match[1])))


def _percent(key: Parameter, factor: float, unit: str, design: Design) -> tuple[Parameter, float]:
    if unit:
        raise Refusal("per cent has no unit", "", f'leave "{unit}" out')
    if key.kind == "temperature":
        raise Refusal("per cent of a temperature says nothing", "", "give temperatures")
    if key.whole:
        raise Refusal("per cent of a whole number is not whole", key.accepted, "give numbers")
    profile = own_profile(design, key.path)
    if profile is not None and len(profile.x) > 1:
        for value in profile.value:
            key.check(factor * value)
        return replace(key, relative=True), float(factor)
    own = own_value(design, key)
    if own is None:
        what = f"the case gives no {key.path} to take per cent of"
        raise Refusal(what, key.accepted, "give values")
    return key, key.check(factor * own)


def read_range(
    key: Parameter, text: str, most: int, design: Design
) -> tuple[Parameter, float, float, int]:
    """Read START:STOP:N:UNIT, or START%:STOP%:N of the case's own; return key, ends and N.

    ``Refusal`` if it is no rising range of 2 to ``most`` values of this key.
    """
    parts = [part.strip() for part in text.split(":")]
    if len(parts) not in (3, 4):
        raise Refusal("not a range", RANGE)
    start, stop, count, *unit = parts
    if not count.isdecimal() or not count.isascii():
        do = f"the order is {RANGE}" if unit else ""
        raise Refusal(f'"{count}" is not a number of values', RANGE, do)
    if len(count) > 10 or not 2 <= int(count) <= most:
        do = f"for one value change the case: --set {key.path}=..." if int(count) == 1 else ""
        raise Refusal(f"{count[:20]} values make no range", f"N from 2 to {most}", do)
    (first, low), (last, high) = (read(key, end, "".join(unit), design) for end in (start, stop))
    if first != last:
        raise Refusal("one end is per cent of the case's own, the other is not", "", "both alike")
    if low == high:
        raise Refusal("start and stop are the same: the step is zero", "", "give two values")
    if low > high:
        raise Refusal("start is above stop", "", f"write {':'.join([stop, start, count, *unit])}")
    return first, low, high, int(count)


def own_profile(design: Design, path: str) -> Profile | None:
    """Return the case's own profile of a key, None if it holds none."""
    owner, name = _owner(design, path)
    value = getattr(owner, name, None)
    return value if isinstance(value, Profile) else None


def own_value(design: Design, key: Parameter) -> float | None:
    """Return the case's own value of a key [SI], None if it gives none or a profile."""
    owner, name = _owner(design, key.path)
    if owner is None:
        return None
    if key.form == "share of the fuel":
        name = "fuel_fraction"
    if name.startswith("roughness"):
        grain = float(owner.roughness)
        return grain / SAND_GRAIN_PER_RA if name == "roughness_Ra" else grain
    value = getattr(owner, name, None)
    if isinstance(value, Profile):
        return value.value[0] if len(value.x) == 1 else None
    return None if value is None else float(value)


def _owner(design: Design, path: str) -> tuple[Any, str]:
    """Return the part of a design that holds a key, and the key's name."""
    section, _, rest = path.partition(".")
    if section != "circuits":
        return getattr(design, section), _JACKET.get(path, rest)
    circuit, _, name = rest.partition(".")
    own = next(c for c in design.circuits if c.name == circuit)
    return (own if name in ("mass_flow", "share") else own.channels), name


def applied(design: Design, key: Parameter, value: float) -> Design:
    """Return a design with one key at another value, as the case file with it would give.

    What does not go together with it is the caller's to check, once for each key.
    """
    section, _, rest = key.path.partition(".")
    if section == "circuits":
        name, _, entry = rest.partition(".")
        circuits = tuple(
            _circuit(c, entry, key, value) if c.name == name else c for c in design.circuits
        )
        return replace(design, circuits=circuits)
    if section == "channels" and design.circuits:
        design = _inherited(design, key, value)
    if section == "manifolds" and design.manifolds is None:
        design = replace(design, manifolds=d.Manifolds())
    part, name = _owner(design, key.path)
    return replace(design, **{section: _changed(part, name, key, value)})


def all_applied(
    design: Design, keys: Sequence[Parameter], rows: Sequence[Sequence[float]]
) -> list[Design]:
    """Return ``applied`` of one key after another for each row of values (L, K).

    What a section that stands alone does not change is read once for all rows.
    """
    alone: dict[str, list[tuple[int, Parameter, str]]] = {}
    others: list[tuple[int, Parameter]] = []
    for k, key in enumerate(keys):
        section = key.path.partition(".")[0]
        if section in ("circuits", "manifolds") or (section == "channels" and design.circuits):
            others.append((k, key))
        else:
            alone.setdefault(section, []).append((k, key, _owner(design, key.path)[1]))
    parts = [
        (section, type(part), _fields(part), own)
        for section, own in alone.items()
        for part in (getattr(design, section),)
    ]
    whole, designs = _fields(design), []
    for values in rows:
        one = design
        for k, key in others:
            one = applied(one, key, values[k])
        changed: dict[str, Any] = dict(whole if one is design else _fields(one))
        for section, kind, same, own in parts:
            part = dict(same)
            for k, key, name in own:
                part |= _changes(part, name, key, values[k])
            changed[section] = kind(**part)
        designs.append(Design(**changed))
    return designs


def _fields(part: Any) -> dict[str, Any]:
    return {field.name: getattr(part, field.name) for field in fields(part)}


def _circuit(circuit: d.Circuit, name: str, key: Parameter, value: float) -> d.Circuit:
    if name in ("mass_flow", "share"):
        changed: dict[str, Any] = {name: float(value)}
        return replace(circuit, **changed)
    return replace(circuit, channels=_changed(circuit.channels, name, key, value))


def _inherited(design: Design, key: Parameter, value: float) -> Design:
    """Change the slots of circuits that have this key from [channels]."""
    name, own = key.path.partition(".")[2], design.channels

    def follows(circuit: d.Circuit) -> bool:
        fields = ("count", "count_changes") if name == "count" else (name,)
        if name.startswith("roughness"):
            fields = ("roughness",)
        return all(getattr(circuit.channels, f) == getattr(own, f) for f in fields)

    circuits = tuple(
        replace(c, channels=_changed(c.channels, name, key, value)) if follows(c) else c
        for c in design.circuits
    )
    return replace(design, circuits=circuits)


def _changed(part: Any, name: str, key: Parameter, value: float) -> Any:
    return replace(part, **_changes(_fields(part), name, key, value))


def _changes(own: dict[str, Any], name: str, key: Parameter, value: float) -> dict[str, Any]:
    """Return what a key changes in the fields of a part."""
    if name in _ROUGHNESS:
        return {"roughness": _ROUGHNESS[name] * float(value)}
    if name == "mass_flow" and key.form in ("flow", "share of the fuel"):
        flow = {"mass_flow": None, "fuel_fraction": None}
        return flow | {"mass_flow" if key.form == "flow" else "fuel_fraction": float(value)}
    if key.form == "profile":
        return {name: _profile(own[name], key, value)}
    if key.form == "count":  # a search for sizes also asks between whole numbers
        count = int(value) if float(value).is_integer() else value
        return {"count": count, "count_changes": ()}
    return {name: int(value) if key.whole else float(value)}


def _profile(own: Profile | None, key: Parameter, value: float) -> Profile:
    if key.shift and own is not None:
        return own.raised(value)
    if key.point is not None and own is not None:
        values = list(own.value)
        values[key.point] = float(value)
        return Profile(own.x, tuple(values))
    if not key.relative or own is None:
        return Profile.constant(value)
    return Profile(own.x, tuple(v * value for v in own.value))


def _jacket_key(design: Design) -> str:
    """Return the key that has the jacket's thickness: that of nickel, or of another metal."""
    nickel = design.closeout.jacket_alloy == d.NICKEL
    return "closeout.nickel" if nickel else "closeout.jacket"


_JACKET = {"closeout.nickel": "jacket", "closeout.jacket": "jacket"}
_ROUGHNESS = {"roughness_Ra": SAND_GRAIN_PER_RA, "roughness_sand_grain": 1.0}
