"""Axes of an operating envelope: what may vary, and how a range is written and checked."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import prod

import numpy as np

from regen.design import Design
from regen.quantities import Quantity, quantity, with_unit
from regen.studies.batch.parameters import Parameter, numeric_key, own_value, read_range
from regen.units import Refusal, Wrong, accepting

MOST_VALUES = 100
MOST_POINTS = 5000

SAME = 1e-9
"""Relative distance below which a value of an axis is the case's own [-]."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What an axis varies: its name in a point, key of the case, column, form of a range.

    ``usual`` is its range where an envelope needs it and nobody gave one.
    """

    name: str
    path: str
    column: str
    example: str
    usual: str = ""

    @property
    def quantity(self) -> Quantity:
        """How its values are shown."""
        return quantity(self.column)

    @property
    def option(self) -> str:
        """The option that gives its range."""
        return "--" + self.name.replace("_", "-")

    def text(self, value: float) -> str:
        """Return a value [SI] with its unit, to four digits."""
        return with_unit(f"{self.quantity.shown(value):.4g}", self.quantity.unit)


PERCENT = "START%:STOP%:N of the case's value"

KINDS = (
    Kind(
        *("chamber_pressure", "chamber.pressure", "chamber_pressure_Pa"),
        f"START:STOP:N:UNIT such as 12:33:8:bar, or {PERCENT}",
        "40%:110%:8",
    ),
    Kind(
        *("mixture_ratio", "propellants.mixture_ratio", "mixture_ratio"),
        f"START:STOP:N such as 2.4:3.6:7, or {PERCENT}",
        "80%:120%:7",
    ),
    Kind(
        *("inlet_temperature", "coolant.inlet_temperature", "coolant_inlet_temperature_K"),
        "START:STOP:N:UNIT such as 110:150:5:K",
    ),
    Kind(
        *("inlet_pressure", "coolant.inlet_pressure", "coolant_inlet_pressure_Pa"),
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


def axes_of(given: Mapping[str, str | None], design: Design) -> tuple[Axis, ...]:
    """Return the axes of an envelope, at least two, in the order of ``KINDS``.

    ``given`` has a range by name of ``KINDS``, None where the option was left out. Where fewer
    than two are given, chamber pressure and mixture ratio join with their usual ranges. Raises
    ``CaseError`` with everything that is wrong.
    """
    ranges = {kind.name: text for kind in KINDS if (text := given.get(kind.name)) is not None}
    for kind in KINDS:
        if len(ranges) < 2 and kind.usual:
            ranges.setdefault(kind.name, kind.usual)
    axes, wrong = [], Wrong()
    for kind in KINDS:
        if kind.name not in ranges:
            continue
        parameter, text = numeric_key(kind.path, design), ranges[kind.name]
        bounds = parameter.accepted.rpartition("; ")[2]
        accepted = f"{kind.example}, N a whole number from 2 to {MOST_VALUES}; values: {bounds}"
        with wrong.gather(kind.option, f'"{text[:60]}"'), accepting(accepted):
            axes.append(_axis(kind, parameter, text, design))
    count = prod(len(axis.values) for axis in axes)
    if not wrong and count > MOST_POINTS:
        what, accepted = f"the axes make {count} points", f"at most {MOST_POINTS}"
        wrong.append(Refusal(what, accepted, "take fewer values", "axes"))
    wrong.refuse_case("envelope")
    return tuple(axes)


def _axis(kind: Kind, parameter: Parameter, text: str, design: Design) -> Axis:
    _, start, stop, count = read_range(parameter, text, MOST_VALUES, design)
    nominal, values = own_value(design, parameter), np.linspace(start, stop, count)
    if nominal is not None:
        # the case's own point is to be that very point, not its neighbour by a rounding
        values[np.abs(values / nominal - 1.0) < SAME] = nominal
    return Axis(kind, tuple(values.tolist()), nominal)
