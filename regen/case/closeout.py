"""The closeout in a case file: layers, how the jacket is made, and of what."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from regen import design
from regen.case.fields import shown
from regen.units import Refusal

OTHER = ("jacket", "jacket_condition")
"""What a jacket of another metal needs beside its name."""


def check_closeout(keys: Mapping[str, Any]) -> list[Refusal]:
    """Return what is wrong with the choice of keys of [closeout], whatever their values.

    Parameters
    ----------
    keys : mapping
        The section as it stands in the file.

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    alloy = keys.get("jacket_alloy", design.NICKEL)
    if alloy == design.NICKEL:
        return _of_nickel(keys)
    wrong = []
    if "nickel" in keys:
        what = f"the jacket is of {alloy}"
        do = "give its thickness as closeout.jacket"
        wrong.append(Refusal(what, "", do, "closeout.nickel", shown(keys["nickel"])))
    for name in OTHER:
        if name not in keys:
            what = f"a jacket of {alloy} needs it"
            wrong.append(Refusal(what, "", "add it", f"closeout.{name}"))
    if keys.get("route", "electroformed") == "electroformed":
        what = f"a jacket of {alloy} is not electroformed"
        accepted = '"HIP-bonded", "brazed", "printed"'
        wrong.append(Refusal(what, accepted, "say how it is made", "closeout.route"))
    return wrong


def _of_nickel(keys: Mapping[str, Any]) -> list[Refusal]:
    wrong = []
    if "jacket" in keys:
        what = "it is the thickness of a jacket of another metal, and none is named"
        do = "give closeout.nickel, or name the metal in closeout.jacket_alloy"
        wrong.append(Refusal(what, "", do, "closeout.jacket", shown(keys["jacket"])))
    route = keys.get("route", "electroformed")
    if route != "electroformed":
        what = "nickel is electroformed here, and no other metal is named"
        do = "name the jacket's metal in closeout.jacket_alloy, with its condition and thickness"
        wrong.append(Refusal(what, '"electroformed"', do, "closeout.route", shown(route)))
    return wrong


def build_closeout(given: Mapping[str, Any]) -> design.Closeout:
    """Return the closeout of checked keys; without an electroformed jacket there is no copper.

    Parameters
    ----------
    given : mapping
        Values in SI of the keys that the case gives.

    Returns
    -------
    Closeout
        In SI.
    """
    keys = dict(given)
    if "nickel" in keys:
        keys["jacket"] = keys.pop("nickel")
    if keys.get("route", "electroformed") != "electroformed":
        keys.setdefault("copper", 0.0)
    return design.Closeout(**keys)
