"""The shop's cutters in a case file: saws and end mills, a table each."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from regen import design
from regen.case.fields import (
    Choice,
    FieldKind,
    Quantity,
    Reading,
    Refusals,
    options,
    shown,
    suggestion,
)
from regen.units import Refusal

KINDS: dict[str, FieldKind] = {
    "kind": Choice(options(design.Cutter, "kind")),
    "width": Quantity("length", "0.1 mm", "50 mm"),
    "depth": Quantity("length", "0.1 mm", "100 mm"),
    "diameter": Quantity("length", "5 mm", "500 mm"),
}
NEEDED = ("kind", "width")
EXAMPLE = '[{kind = "saw", width = "0.8 mm", diameter = "63 mm", depth = "5 mm"}]'


@dataclass(frozen=True)
class Cutters(FieldKind):
    """A list of cutters, each a table."""

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return f"a list of tables with the keys {', '.join(KINDS)}, such as {EXAMPLE}"

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        entry = {
            "type": "object",
            "properties": {name: dict(kind.form) for name, kind in KINDS.items()},
            "required": list(NEEDED),
            "additionalProperties": False,
        }
        return {"type": "array", "items": entry, "minItems": 1}

    def check(self, given: object, key: str, reading: Reading) -> tuple[design.Cutter, ...]:
        """Return the cutters in SI, by rising width."""
        if not isinstance(given, list) or not given:
            raise Refusal("it is not a list of cutters", self.accepted)
        wrong: list[Refusal] = []
        found = [self._one(n, entry, reading, wrong) for n, entry in enumerate(given, start=1)]
        if wrong:
            raise Refusals(wrong)
        return tuple(sorted((c for c in found if c), key=lambda cutter: cutter.width))

    def _one(
        self, number: int, entry: object, reading: Reading, wrong: list[Refusal]
    ) -> design.Cutter | None:
        where = f"[{number}]"
        if not isinstance(entry, dict):
            wrong.append(Refusal("it is not a table", EXAMPLE, "", where, shown(entry)))
            return None
        values: dict[str, Any] = {}
        for name, value in entry.items():
            if name not in KINDS:
                do = suggestion(name, tuple(KINDS))
                what = "it is not a known key"
                wrong.append(Refusal(what, ", ".join(KINDS), do, f"{where}.{name}", shown(value)))
                continue
            try:
                values[name] = KINDS[name].check(value, name, reading)
            except Refusal as error:
                error.where, error.given = f"{where}.{name}", shown(value)
                wrong.append(error)
        wrong += [
            Refusal("it is missing", KINDS[name].accepted, "add it", f"{where}.{name}")
            for name in NEEDED
            if name not in entry
        ]
        if entry.get("kind") == "end mill" and "diameter" in entry:
            what = "an end mill cuts as wide as it is: its width is its diameter"
            wrong.append(Refusal(what, "", "remove it", f"{where}.diameter"))
        depth, diameter = values.get("depth"), values.get("diameter")
        if entry.get("kind") == "saw" and depth and diameter and 2 * depth >= diameter:
            what = "a saw cuts less deep than half its diameter: its collar takes the rest"
            accepted = f"below {diameter * 500:.4g} mm, from the collar to the rim"
            wrong.append(Refusal(what, accepted, "", f"{where}.depth", shown(entry["depth"])))
        return design.Cutter(**values) if set(NEEDED) <= set(values) else None
