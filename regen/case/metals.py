"""The metals a case names: alloy and condition known, planned heatings and strengths that fit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

import numpy as np

from regen import design
from regen.case.fields import shown
from regen.metals import alloys
from regen.metals import selection as metals
from regen.units import Refusal

BONDED = ("HIP-bonded", "brazed")
JOINTS = ("HIP", "braze")
BATHS = get_args(design.NickelBath)


def check_metals(good: Mapping[str, Any], notes: list[str]) -> list[Refusal]:
    """Return what is wrong with liner and jacket as metals.

    Parameters
    ----------
    good : mapping
        Checked sections by name.
    notes : list of str
        Takes what the user must know although nothing is wrong.

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    if "materials" not in good:  # a name that is not known may stand in a file that is wrong
        return []
    own = metals.own_alloys(good["materials"].files or ())
    wrong: list[Refusal] = []
    liner, closeout = good.get("liner"), good.get("closeout")
    if liner is not None:
        wrong += _named("liner", "", liner.alloy, liner.condition, own)
        wrong += _heated("liner.process", liner.alloy, liner.process, own)
        wrong += _ranked("liner.", liner.yield_strength, liner.ultimate_strength)
    if closeout is not None:
        alloy = closeout.jacket_alloy or design.NICKEL
        if closeout.jacket_condition is not None:
            wrong += _named("closeout", "jacket_", alloy, closeout.jacket_condition, own)
        wrong += _heated("closeout.jacket_process", alloy, closeout.jacket_process, own)
        given = closeout.jacket_yield_strength, closeout.jacket_ultimate_strength
        wrong += _ranked("closeout.jacket_", *given)
        if good.get("plating") is not None:
            wrong += _of_its_bath(closeout, good["plating"].nickel_bath)
    if liner is not None and closeout is not None:
        notes += _joint_notes(liner, closeout)
    return wrong


def _of_its_bath(closeout: Any, bath: design.NickelBath | None) -> list[Refusal]:
    """Refuse to plate nickel in one bath and judge it by the strength of another's."""
    condition = closeout.jacket_condition or design.JACKET_CONDITION
    alloy = closeout.jacket_alloy or design.NICKEL
    if alloy != design.NICKEL or condition not in BATHS or bath in (None, condition):
        return []
    what = f'its strength is judged as that of "{condition}", closeout.jacket_condition'
    do = f'give closeout.jacket_condition = "{bath}"'
    return [Refusal(what, f'"{condition}"', do, "plating.nickel_bath", shown(bath))]


def conditions(alloy: object, own: Mapping[str, alloys.Alloy] | None = None) -> str:
    """Return the conditions of an alloy as accepted values, or "" for an unknown alloy.

    Parameters
    ----------
    alloy : object
        What the file has for ``liner.alloy`` [-].
    own : mapping, optional
        The user's own alloys by name.

    Returns
    -------
    str
        Names in quotes.
    """
    known = {**alloys.alloys(), **(own or {})}
    found = known.get(alloy) if isinstance(alloy, str) else None
    return ", ".join(f'"{name}"' for name in (found.conditions if found else ()))


def _named(
    section: str, part: str, alloy: str, condition: str, own: Mapping[str, alloys.Alloy]
) -> list[Refusal]:
    known = conditions(alloy, own)
    name, given = ("condition", condition) if known else ("alloy", alloy)
    key = f"{section}.{part}{name}"
    if condition == alloys.ANY and known:
        what = "strength depends on the condition"
        return [Refusal(what, known, "name the one you will make", key, shown(given))]
    try:
        alloys.find(alloy, condition, own)
    except ValueError as error:
        do = "" if known else "or bring it yourself: files in [materials]"
        return [Refusal(str(error), known, do, key, shown(given))]
    return []


def _heated(
    key: str,
    alloy: str,
    process: tuple[design.Heating, ...] | None,
    own: Mapping[str, alloys.Alloy],
) -> list[Refusal]:
    """Refuse to melt the metal."""
    known = {**alloys.alloys(), **own}
    solidus = known[alloy].solidus if alloy in known else None
    if solidus is None:
        return []
    return [
        Refusal(
            f"{alloy} begins to melt at {solidus.value:.0f} K ({solidus.mark})",
            "a temperature below it",
            "",
            f"{key}[{index}]",
            shown(str(one)),
        )
        for index, one in enumerate(process or (), start=1)
        if one.temperature >= solidus.value
    ]


def _ranked(
    prefix: str, at_yield: design.Allowables | None, ultimate: design.Allowables | None
) -> list[Refusal]:
    """Refuse a tensile strength below the yield, where both are given."""
    if at_yield is None or ultimate is None:
        return []
    top = min(at_yield.T[-1], ultimate.T[-1])
    T = np.array([t for t in (*at_yield.T, *ultimate.T) if t <= top])
    below = np.interp(T, ultimate.T, ultimate.value) < np.interp(T, at_yield.T, at_yield.value)
    if not below.any():
        return []
    what = f"it lies below {prefix}yield_strength at {T[below][0]:.0f} K"
    accepted = "tensile strength at least the yield"
    return [Refusal(what, accepted, "check both", f"{prefix}ultimate_strength")]


def _joint_notes(liner: Any, closeout: Any) -> list[str]:
    """Say where making the joint heats the liner, and the case does not count it."""
    found = []
    counted = liner.process or ()
    for one in closeout.jacket_process or ():
        if one.word in JOINTS and one not in counted:
            found.append(
                f'closeout.jacket_process has "{one}", and liner.process has not: if it is done on '
                "the chamber it heats the liner too, and belongs in both"
            )
    bare = liner.process is None and liner.yield_strength is None
    if closeout.route in BONDED and bare and not found:
        found.append(
            f"the jacket is {closeout.route}, and liner.process names no heating: the liner's "
            "strength is that of its condition as it is, which a braze or HIP cycle may undo; name "
            "it, or give liner.yield_strength measured after it"
        )
    return found
