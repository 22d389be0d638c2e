"""Kinds of field about a metal's strength: planned heatings, and allowables of the user's own."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from regen.case.fields import FieldKind, Quantity, Reading, Refusals, shown
from regen.design import Allowables, Heating
from regen.metals import heating
from regen.units import Refusal

TEMPERATURE = Quantity("temperature", "4 K", "2000 K")
STRESS = Quantity("stress", "0.1 MPa", "5000 MPa")


@dataclass(frozen=True)
class Heatings(FieldKind):
    """Planned heatings of a metal, in order."""

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return f"a list of {heating.ACCEPTED}"

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        return {
            "type": "array",
            "items": {"type": "string"},
            "examples": [["braze at 935 degC"], ["HIP at 950 degC for 3 h"]],
        }

    def check(self, given: object, key: str, reading: Reading) -> tuple[Heating, ...]:
        """Return the heatings."""
        if not isinstance(given, list):
            do = f"put it in brackets: [{shown(given)}]" if isinstance(given, str) else ""
            raise Refusal("it is not a list", self.accepted, do)
        read: list[Heating] = []
        wrong: list[Refusal] = []
        for index, text in enumerate(given, start=1):
            where = f"[{index}]"
            if not isinstance(text, str):
                wrong.append(Refusal("it is not a text", self.accepted, "", where, shown(text)))
                continue
            try:
                read.append(heating.read(text))
            except heating.HeatingError as error:
                wrong.append(Refusal(str(error), self.accepted, "", where, shown(text)))
        if wrong:
            raise Refusals(wrong)
        return tuple(read)


@dataclass(frozen=True)
class Strengths(FieldKind):
    """Allowables at temperatures: pairs, each with both units."""

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return (
            'pairs [temperature, stress] such as [["20 degC", "90 MPa"], ["500 degC", "60 MPa"]], '
            f"temperatures rising, {TEMPERATURE.low} to {TEMPERATURE.high}, stresses {STRESS.low} "
            f"to {STRESS.high}"
        )

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        pair = {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2}
        return {"type": "array", "items": pair, "minItems": 1}

    def check(self, given: object, key: str, reading: Reading) -> Allowables:
        """Return the pairs in SI."""
        if isinstance(given, str | int | float) and not isinstance(given, bool):
            what = "a strength without its temperature says nothing of a hot wall"
            do = "say at which temperature it was measured; a strength is never extended above it"
            raise Refusal(what, self.accepted, do)
        if not isinstance(given, list) or not given:
            raise Refusal("it is not a list of pairs", self.accepted)
        points: list[list[float]] = []
        wrong: list[Refusal] = []
        for index, pair in enumerate(given, start=1):
            if not isinstance(pair, list) or len(pair) != 2:
                what, where = "it is not a pair", f"[pair {index}]"
                wrong.append(Refusal(what, self.accepted, "", where, shown(pair)))
                continue
            points.append([])
            kinds = (TEMPERATURE, STRESS)
            for one, kind, name in zip(pair, kinds, ("temperature", "stress"), strict=True):
                try:
                    points[-1].append(kind.check(one, key, reading))
                except Refusal as error:
                    error.where, error.given = f"[pair {index}, {name}]", shown(one)
                    wrong.append(error)
        if wrong:
            raise Refusals(wrong)
        for index, (before, after) in enumerate(zip(points, points[1:], strict=False), start=2):
            if after[0] <= before[0]:
                what = f"temperatures must rise from pair to pair, and pair {index} does not"
                raise Refusal(what, self.accepted, "sort the pairs, coldest first")
        return Allowables(tuple(T for T, _ in points), tuple(value for _, value in points))
