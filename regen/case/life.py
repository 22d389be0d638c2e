"""The life asked of a liner in a case file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from regen.units import Refusal

LAW = (
    "fatigue_strength",
    "fatigue_strength_exponent",
    "fatigue_ductility",
    "fatigue_ductility_exponent",
    "fatigue_temperature",
)
"""Keys of a strain-life law: all or none."""


def check_life(keys: Mapping[str, Any]) -> list[Refusal]:
    """Return what is wrong with the choice of keys of [life], whatever their values.

    Parameters
    ----------
    keys : mapping
        The section as it stands in the file.

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    missing = [key for key in LAW if key not in keys]
    if len(missing) in (0, len(LAW)):
        return []
    what = f"a strain-life law needs all its keys, and {', '.join(missing)} is not given"
    if len(missing) > 1:
        what = what.replace(" is not given", " are not given")
    return [Refusal(what, "all or none", "add the rest, from one source", "life")]
