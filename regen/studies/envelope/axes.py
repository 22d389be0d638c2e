"""Axes of an operating envelope: what may vary, and how a range is written and checked."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from regen.case.keys import SECTIONS
from regen.design import Design
from regen.errors import CaseError, Problem
from regen.units import NUMBER, Quantity, Refusal, show

MOST_VALUES = 100
MOST_POINTS = 5000

SAME = 1e-9
"""Relative distance below which a value of an axis is the case's own [-]."""

_PERCENT = re.compile(rf"\s*({NUMBER})\s*%\s*")
_NUMBER = re.compile(rf"\s*{NUMBER}\s*")


@dataclass(frozen=True, slots=True)
class Kind:
    """What an axis varies: option, key of the case, column, label, its unit and factor from SI.

    ``usual`` is its range where an envelope needs it and nobody gave one.
    """

    name: str
    section: str
    key: str
    column: str
    label: str
    unit: str
    factor: float
    example: str
    usual: str = ""

    @property
    def option(self) -> str:
        """The option that gives its range."""
        return "--" + self.name.replace("_", "-")

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        bounds = self.field.accepted.rpartition("; ")[2]
        return f"{self.example}, N a whole number from 2 to {MOST_VALUES}; values: {bounds}"

    @property
    def field(self) -> Any:
        """The case's own check of a value."""
        return SECTIONS[self.section][self.key].kind

    def say(self, value: float) -> str:
        """Return a value [SI] with its unit, to four digits."""
        return f"{value * self.factor:.4g} {self.unit}".rstrip()


PERCENT = "START%:STOP%:N of the case's value"

KINDS = (
    Kind(
        "chamber_pressure",
        *("chamber", "pressure", "chamber_pressure_Pa", "chamber pressure", "bar", 1e-5),
        f"START:STOP:N:UNIT such as 12:33:8:bar, or {PERCENT}",
        "40%:110%:8",
    ),
    Kind(
        "mixture_ratio",
        *("propellants", "mixture_ratio", "mixture_ratio", "mixture ratio", "", 1.0),
        f"START:STOP:N such as 2.4:3.6:7, or {PERCENT}",
        "80%:120%:7",
    ),
    Kind(
        "inlet_temperature",
        *("coolant", "inlet_temperature", "coolant_inlet_temperature_K"),
        *("coolant inlet temperature", "K", 1.0),
        "START:STOP:N:UNIT such as 110:150:5:K",
    ),
    Kind(
        "inlet_pressure",
        *("coolant", "inlet_pressure", "coolant_inlet_pressure_Pa"),
        *("coolant inlet pressure", "bar", 1e-5),
        f"START:STOP:N:UNIT such as 40:90:6:bar, or {PERCENT}",
    ),
)
"""What may vary, in the order of axes: the first two that vary make the map."""


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: rising values [SI], and the case's own value where it gives one."""

    kind: Kind
    values: tuple[float, ...]
    nominal: float | None


def nominal_of(design: Design, kind: Kind) -> float | None:
    """Return a case's own value of what an axis varies [SI], None if it gives none."""
    value = getattr(getattr(design, kind.section), kind.key)
    return None if value is None else float(value)


def axes_of(given: Mapping[str, str | None], design: Design) -> tuple[Axis, ...]:
    """Return the axes of an envelope.

    Parameters
    ----------
    given : mapping
        Range by name of ``KINDS``, None where the option was left out [-]. Where fewer than two
        are given, chamber pressure and mixture ratio join with their usual ranges.
    design : Design
        Gives the nominal values.

    Returns
    -------
    tuple of Axis
        At least two, in the order of ``KINDS``.

    Raises
    ------
    CaseError
        If a range cannot be taken, with everything that is wrong.
    """
    ranges = {kind.name: text for kind in KINDS if (text := given.get(kind.name)) is not None}
    for kind in KINDS:
        if len(ranges) < 2 and kind.usual:
            ranges.setdefault(kind.name, kind.usual)
    axes, problems = [], []
    for kind in KINDS:
        if kind.name not in ranges:
            continue
        try:
            axes.append(_axis(kind, ranges[kind.name], nominal_of(design, kind)))
        except Refusal as error:
            given_as = f'"{ranges[kind.name][:60]}"'
            problem = Problem(kind.option, error.what, given_as, kind.accepted, error.do)
            problems.append(problem)
    count = int(np.prod([len(axis.values) for axis in axes]))
    if not problems and count > MOST_POINTS:
        what = f"the axes make {count} points"
        problems.append(Problem("axes", what, None, f"at most {MOST_POINTS}", "take fewer values"))
    if problems:
        raise CaseError("envelope", problems)
    return tuple(axes)


def _axis(kind: Kind, text: str, nominal: float | None) -> Axis:
    parts = [part.strip() for part in text.split(":")]
    if len(parts) not in (3, 4):
        raise Refusal("it is no range")
    count = parts[2]
    if not count.isdecimal() or not count.isascii():
        do = "the order is START:STOP:N:UNIT" if len(parts) == 4 else ""
        raise Refusal(f'"{count}" is not a number of values', "", do)
    if not 2 <= int(count) <= MOST_VALUES:
        do = ""
        if int(count) < 2:
            do = f"leave the option out, or change the case: --set {kind.section}.{kind.key}=..."
        raise Refusal("one value makes no axis" if int(count) == 1 else f"N is {count}", "", do)
    unit = parts[3] if len(parts) == 4 else ""
    start, stop = (_value(kind, part, unit, nominal) for part in parts[:2])
    if start == stop:
        raise Refusal("start and stop are the same: the step is zero", "", "give two values")
    if start > stop:
        swapped = ":".join([parts[1], parts[0], *parts[2:]])
        raise Refusal("start is above stop", "", f"write {swapped}")
    values = np.linspace(start, stop, int(count))
    if nominal is not None:
        # the case's own point is to be that very point, not its neighbour by a rounding
        values[np.abs(values / nominal - 1.0) < SAME] = nominal
    return Axis(kind, tuple(float(v) for v in values), nominal)


def _value(kind: Kind, part: str, unit: str, nominal: float | None) -> float:
    """Return one end of a range [SI], checked as the case would check it."""
    field = kind.field
    if match := _PERCENT.fullmatch(part):
        return _share(kind, float(match[1]) / 100.0, unit, nominal)
    if isinstance(field, Quantity):
        return float(field.check(f"{part} {unit}".rstrip()))
    if unit:
        raise Refusal(f"a {kind.label} has no unit", "", f'leave ":{unit}" out')
    if not _NUMBER.fullmatch(part):
        raise Refusal(f'"{part}" is not a number')
    return float(field.check(float(part)))


def _share(kind: Kind, share: float, unit: str, nominal: float | None) -> float:
    if kind.unit == "K":
        raise Refusal("per cent of a temperature says nothing", "", "give temperatures")
    if nominal is None:
        what = f"the case gives no {kind.section}.{kind.key} to take per cent of"
        raise Refusal(what, "", "give values with a unit")
    if unit:
        raise Refusal("per cent has no unit", "", f'leave ":{unit}" out')
    field, value = kind.field, share * nominal
    checked = show(value, field.kind) if isinstance(field, Quantity) else value
    field.check(checked)
    return value
