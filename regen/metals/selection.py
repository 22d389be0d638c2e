"""The metals of a design's wall: liner, plated copper, jacket, each in its condition.

A view of a metal honours what the design says of it: alloys of the user's own, strengths given in
the case, and heatings that are planned, after which a strength is known only if its condition
covers them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import PurePosixPath
from types import MappingProxyType

import numpy as np

from regen.design import Allowables, Design, Heating, MaterialFile
from regen.metals import heating
from regen.metals.alloys import ANY, Alloy, AlloyCondition, Table, alloy_of, find

PLATED_COPPER = "copper-electroformed"
GIVEN_IN_CASE = "given_in_case"

LINER_KEYS = {"yield": "liner.yield_strength", "uts": "liner.ultimate_strength"}
JACKET_KEYS = {
    "yield": "closeout.jacket_yield_strength",
    "uts": "closeout.jacket_ultimate_strength",
}
"""Keys of the case by the property they replace."""


@cache
def own_alloys(files: tuple[MaterialFile, ...]) -> Mapping[str, Alloy]:
    """Return the alloys of a user's own files, which have been checked.

    Parameters
    ----------
    files : tuple of MaterialFile
        Texts of the files.

    Returns
    -------
    mapping of str to Alloy
        By name.
    """
    return MappingProxyType(
        {
            key: alloy_of(key, stanza, own={PurePosixPath(n).name: t for n, t in file.tables})
            for file in files
            for key, stanza in tomllib.loads(file.stanzas).items()
        }
    )


def liner(design: Design) -> AlloyCondition:
    """Return the metal of the liner.

    Parameters
    ----------
    design : Design
        Names alloy and condition, planned heatings and strengths of its own.

    Returns
    -------
    AlloyCondition
        View of its tables.
    """
    own = design.liner
    given = {"yield": own.yield_strength, "uts": own.ultimate_strength}
    return _view(design, own.alloy, own.condition, own.process, given, LINER_KEYS)


def plated_copper(design: Design) -> AlloyCondition:
    """Return the metal of the closeout's copper layer.

    Parameters
    ----------
    design : Design
        Any.

    Returns
    -------
    AlloyCondition
        View of its tables; without strength, which no layer this thin is credited with.
    """
    return find(PLATED_COPPER, ANY)


def jacket(design: Design) -> AlloyCondition:
    """Return the metal of the jacket.

    Parameters
    ----------
    design : Design
        Names alloy and condition, planned heatings and strengths of its own.

    Returns
    -------
    AlloyCondition
        View of its tables.
    """
    own = design.closeout
    given = {"yield": own.jacket_yield_strength, "uts": own.jacket_ultimate_strength}
    alloy, condition = own.jacket_alloy, own.jacket_condition
    return _view(design, alloy, condition, own.jacket_process, given, JACKET_KEYS)


def _view(
    design: Design,
    alloy: str,
    condition: str,
    process: Sequence[Heating],
    given: Mapping[str, Allowables | None],
    keys: Mapping[str, str],
) -> AlloyCondition:
    metal = find(alloy, condition, own_alloys(design.materials))
    tables = {name: _table(one) for name, one in given.items() if one is not None}
    lost = uncovered(metal.alloy, condition, process)
    return AlloyCondition(metal.alloy, condition, lost=lost, given=tables, keys=keys)


def _table(given: Allowables) -> Table:
    T, value = np.array(given.T), np.array(given.value)
    none = np.full(T.shape, np.nan)
    for array in (T, value, none):
        array.flags.writeable = False
    sources, marks = (GIVEN_IN_CASE,) * T.size, ("common-practice",) * T.size
    return Table(T, value, sources, marks, none, none)


def uncovered(alloy: Alloy, condition: str, process: Sequence[Heating]) -> str:
    """Return why planned heatings leave the strength of a condition unknown.

    Parameters
    ----------
    alloy : Alloy
        The metal.
    condition : str
        One of its conditions [-].
    process : sequence of Heating
        Planned, in order.

    Returns
    -------
    str
        "" if the condition covers all of them: it is soft already, or it is the state after just
        these heatings, and any further one stays within what it holds to.
    """
    left = list(process)
    had = alloy.after.get(condition, ())
    if had and len(left) >= len(had) and all(map(heating.same, left, had)):
        left = left[len(had) :]
    soft, holds = condition in alloy.already_soft, alloy.holds_to.get(condition)
    for planned in left:
        if soft or (holds is not None and planned.temperature <= holds.value):
            continue
        text = f'"{planned}" is planned, and {covered(alloy, condition)}'
        after = condition_after(alloy, process)
        return f'{text}; condition "{after}" is the state after it' if after else text
    return ""


def condition_after(alloy: Alloy, process: Sequence[Heating]) -> str:
    """Return the condition of an alloy that is its state after just these heatings.

    Parameters
    ----------
    alloy : Alloy
        The metal.
    process : sequence of Heating
        Planned, in order.

    Returns
    -------
    str
        Its name, "" if there is none.
    """
    for condition, had in alloy.after.items():
        if len(had) == len(process) and all(map(heating.same, process, had)):
            return condition
    return ""


def covered(alloy: Alloy, condition: str) -> str:
    """Return which heating the strength of a condition covers, in words.

    Parameters
    ----------
    alloy : Alloy
        The metal.
    condition : str
        One of its conditions [-].

    Returns
    -------
    str
        Such as "this condition holds to 773 K (source, mark)".
    """
    if condition in alloy.already_soft:
        return "this condition is soft already: heating below the solidus does not soften it"
    said = []
    if condition in alloy.after:
        had = " and ".join(f'"{one}"' for one in alloy.after[condition])
        said.append(f"is the state after {had}")
    if condition in alloy.holds_to:
        fact = alloy.holds_to[condition]
        said.append(f"holds to {fact.value:.0f} K ({fact.source}, {fact.mark})")
    if not said:
        return "what heating this condition stands is not known"
    return f"this condition {' and '.join(said)}"


def heating_notes(design: Design) -> tuple[str, ...]:
    """Return what is to be said of the heatings that a design plans.

    Parameters
    ----------
    design : Design
        Checked design.

    Returns
    -------
    tuple of str
        One text a metal that is heated.
    """
    parts = (
        ("liner", liner(design), design.liner.process),
        ("jacket", jacket(design), design.closeout.jacket_process),
    )
    return tuple(_heating_note(part, metal, process) for part, metal, process in parts if process)


def _heating_note(part: str, metal: AlloyCondition, process: Sequence[Heating]) -> str:
    planned = ", ".join(f'"{one}"' for one in process)
    stays = "conductivity, heat capacity, modulus and expansion are taken as unchanged"
    if not metal.lost:
        said = covered(metal.alloy, metal.condition)
        return f"{part}, {metal}: {planned} planned, and {said}; {stays}"
    given = " and ".join(metal.keys[name] for name in metal.given)
    strength = "its strength, fatigue and creep are not known after it; give " + " and ".join(
        metal.keys.values()
    )
    if given:
        strength = f"of its strength after it only what the case gives is known, {given}"
    return f"{part}, {metal}: {metal.lost}: {strength}; {stays}"
