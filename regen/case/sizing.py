"""What a case asks of sizing: which sizes are free, between which bounds, and for what."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, get_args

from regen import design
from regen.case.fields import FieldKind, Flow, Reading, shown, suggestion
from regen.units import Refusal

FREE: tuple[str, ...] = get_args(design.Free)
BOUNDS = ("count", "width", "depth", "wall", "flow")


@dataclass(frozen=True)
class FreeSizes(FieldKind):
    """A list of the sizes that are free."""

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return "a list of " + ", ".join(f'"{name}"' for name in FREE)

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        return {"type": "array", "items": {"enum": list(FREE)}, "minItems": 1, "uniqueItems": True}

    def check(self, given: object, key: str, reading: Reading) -> tuple[str, ...]:
        """Return the names in the order of the design's sizes."""
        if not isinstance(given, list) or not given:
            raise Refusal("it is not a list of sizes", self.accepted)
        for name in given:
            if name not in FREE:
                do = suggestion(name, FREE) if isinstance(name, str) else ""
                raise Refusal(f"{shown(name)} is not a size that can be free", self.accepted, do)
        if len(set(given)) < len(given):
            raise Refusal("a size is named twice", self.accepted, "name each once")
        return tuple(name for name in FREE if name in given)


def check_sizing(sizing: Any) -> list[Refusal]:
    """Return what is wrong between the keys of a checked section.

    Parameters
    ----------
    sizing : Section
        Checked section [-].

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    wrong: list[Refusal] = []
    free = sizing.free or design.Sizing().free
    for name in BOUNDS:
        low, high = getattr(sizing, f"{name}_from"), getattr(sizing, f"{name}_to")
        if (low is not None or high is not None) and name not in free:
            which = f"{name}_from" if low is not None else f"{name}_to"
            do = f'remove it, or add "{name}" to sizing.free'
            wrong.append(Refusal(f"the {name} is not free", "", do, f"sizing.{which}"))
        elif low is not None and high is not None:
            wrong += _order(name, low, high)
    return wrong


def _order(name: str, low: Any, high: Any) -> list[Refusal]:
    where = f"sizing.{name}_to"
    if isinstance(low, Flow):
        if (low.mass_flow is None) != (high.mass_flow is None):
            what = f"sizing.{name}_from and {name}_to are not of one kind"
            accepted = "both with a unit of mass flow, or both shares of the fuel"
            return [Refusal(what, accepted, "", where)]
        low, high = (v.mass_flow or v.fuel_fraction for v in (low, high))
    if low < high:
        return []
    return [Refusal(f"it is not above sizing.{name}_from", "a greater value", "", where)]


def build_sizing(given: Mapping[str, Any]) -> design.Sizing:
    """Return what the case asks of sizing.

    Parameters
    ----------
    given : mapping
        Keys that are given, with their checked values [-].

    Returns
    -------
    Sizing
        In SI.
    """
    values = dict(given)
    for end in ("flow_from", "flow_to"):
        flow = values.pop(end, None)
        if isinstance(flow, Flow):
            values[end] = flow.mass_flow or flow.fuel_fraction
            values["flow_by_fuel"] = flow.mass_flow is None
    return design.Sizing(**values)
