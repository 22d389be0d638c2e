"""Texts of the data folder, their places filled in: what is wrong, or to be known."""

import math
from functools import partial
from string import Formatter
from typing import Any

from regen.sources import read_data

SCALES = {"mm": 1e3, "deg": 180.0 / math.pi, "bar": 1e-5}
"""Factor from SI to each unit that a place may ask for."""


class _Places(Formatter):
    def format_field(self, value: Any, format_spec: str) -> Any:
        """Show ``{x:mm}`` or ``{p:.3g bar}``, given in SI, in its unit; four digits are usual."""
        digits, _, unit = format_spec.rpartition(" ")
        if unit not in SCALES:
            return super().format_field(value, format_spec)
        return f"{format(value * SCALES[unit], digits or '.4g')} {unit}"


def text_in(file: str, name: str, /, **values: object) -> str:
    """Return a text of a file of the data, its places filled in with values [SI]."""
    return _Places().vformat(read_data(file)[name], (), values)


text = partial(text_in, "texts.toml")
