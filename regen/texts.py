"""Texts of data/texts.toml: what is wrong, or to be known, of geometry, gas, coolant and metals."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from string import Formatter
from typing import Any

from regen.sources import DATA

SCALES = {"mm": 1e3, "deg": 180.0 / math.pi, "bar": 1e-5}
"""Factor from SI to each unit that a place may ask for."""


class _Places(Formatter):
    def format_field(self, value: Any, format_spec: str) -> Any:
        """Show ``{x:mm}`` or ``{p:.3g bar}``, given in SI, in its unit; four digits are usual."""
        digits, _, unit = format_spec.rpartition(" ")
        if unit not in SCALES:
            return super().format_field(value, format_spec)
        return f"{format(value * SCALES[unit], digits or '.4g')} {unit}"


@cache
def _texts() -> dict[str, str]:
    return tomllib.loads((DATA / "texts.toml").read_text(encoding="utf-8"))


def text(name: str, /, **values: object) -> str:
    """Return a text of data/texts.toml, its places filled in with values [SI]."""
    return _Places().vformat(_texts()[name], (), values)
