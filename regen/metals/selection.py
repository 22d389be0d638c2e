"""The metals of a design's wall: liner, plated copper, jacket, each in its condition.

A view of a metal honours what the design says of it: alloys of the user's own, strengths given in
the case, and heatings that are planned, after which a strength is known only if its condition
covers them.
"""

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from operator import attrgetter
from pathlib import PurePosixPath
from types import MappingProxyType

import numpy as np

from regen.design import Allowables, Design, Heating, MaterialFile
from regen.metals import heating
from regen.metals.alloys import ANY, Alloy, AlloyCondition, Table, alloy_of, find

PLATED_COPPER = "copper-electroformed"
GIVEN_IN_CASE = "given_in_case"


def _keys(part: str) -> dict[str, str]:
    """Return the keys of the case by the property they replace."""
    return {"yield": f"{part}yield_strength", "uts": f"{part}ultimate_strength"}


LINER_KEYS, JACKET_KEYS = map(_keys, ("liner.", "closeout.jacket_"))


@cache
def own_alloys(files: tuple[MaterialFile, ...]) -> Mapping[str, Alloy]:
    """Return the alloys of a user's own files, which have been checked."""
    return MappingProxyType(
        {
            key: alloy_of(key, stanza, own={PurePosixPath(n).name: t for n, t in file.tables})
            for file in files
            for key, stanza in tomllib.loads(file.stanzas).items()
        }
    )


def liner(design: Design) -> AlloyCondition:
    """Return the metal of the liner."""
    return _metal(design, "liner.")


def plated_copper(design: Design) -> AlloyCondition:
    """Return the metal of the closeout's copper layer, too thin to be credited with strength."""
    return find(PLATED_COPPER, ANY)


def jacket(design: Design) -> AlloyCondition:
    """Return the metal of the jacket."""
    return _metal(design, "closeout.jacket_")


def _metal(design: Design, part: str) -> AlloyCondition:
    """Return the metal whose keys of the case begin with ``part``."""
    made = attrgetter(*(part + key for key in ("alloy", "condition", "process")))
    name, condition, process = made(design)
    alloy = find(name, condition, own_alloys(design.materials)).alloy
    keys = _keys(part)
    given = {name: attrgetter(key)(design) for name, key in keys.items()}
    tables = {name: _table(pairs) for name, pairs in given.items() if pairs is not None}
    lost = uncovered(alloy, condition, process)
    return AlloyCondition(alloy, condition, lost=lost, given=tables, keys=keys)


def _table(given: Allowables) -> Table:
    T, value = np.array(given.T), np.array(given.value)
    none = np.full(T.shape, np.nan)
    for array in (T, value, none):
        array.flags.writeable = False
    sources, marks = (GIVEN_IN_CASE,) * T.size, ("common-practice",) * T.size
    return Table(T, value, sources, marks, none, none)


def _same(process: Sequence[Heating], recorded: Sequence[Heating]) -> bool:
    """Return whether two sequences of heatings are the same, one by one."""
    return len(process) == len(recorded) and all(map(heating.same, process, recorded))


def uncovered(alloy: Alloy, condition: str, process: Sequence[Heating]) -> str:
    """Return why planned heatings, in order, leave the strength of a condition unknown.

    "" if the condition covers all of them: it is soft already, or it is the state after just
    these heatings, and any further one stays within what it holds to.
    """
    recorded = alloy.after.get(condition, ())
    rest = process[len(recorded) :] if _same(process[: len(recorded)], recorded) else process
    soft, holds = condition in alloy.already_soft, alloy.holds_to.get(condition)
    for planned in rest:
        if soft or (holds is not None and planned.temperature <= holds.value):
            continue
        text = f'"{planned}" is planned, and this condition {covered(alloy, condition)}'
        after = condition_after(alloy, process)
        return f'{text}; condition "{after}" is the state after it' if after else text
    return ""


def condition_after(alloy: Alloy, process: Sequence[Heating]) -> str:
    """Return the condition of an alloy that is its state after just these heatings, "" if none."""
    return next((name for name, had in alloy.after.items() if _same(process, had)), "")


def covered(alloy: Alloy, condition: str) -> str:
    """Return which heating the strength of a condition covers, such as "holds to 773 K (...)"."""
    if condition in alloy.already_soft:
        return "is soft already: heating below the solidus does not soften it"
    parts = []
    if condition in alloy.after:
        had = " and ".join(f'"{one}"' for one in alloy.after[condition])
        parts.append(f"is the state after {had}")
    if condition in alloy.holds_to:
        fact = alloy.holds_to[condition]
        parts.append(f"holds to {fact.value:.0f} K ({fact.source}, {fact.mark})")
    return " and ".join(parts) or "is not known to withstand any heating"


def heating_notes(design: Design) -> tuple[str, ...]:
    """Return notes on the heatings that a design plans, one for each metal that is heated."""
    parts = (
        ("liner", liner(design), design.liner.process),
        ("jacket", jacket(design), design.closeout.jacket_process),
    )
    return tuple(_heating_note(part, metal, process) for part, metal, process in parts if process)


def _heating_note(part: str, metal: AlloyCondition, process: Sequence[Heating]) -> str:
    planned = ", ".join(f'"{one}"' for one in process)
    unchanged = "conductivity, heat capacity, modulus and expansion are taken as unchanged"
    if not metal.lost:
        text = covered(metal.alloy, metal.condition)
        return f"{part}, {metal}: {planned} planned; this condition {text}; {unchanged}"
    if metal.given:
        given = " and ".join(metal.keys[name] for name in metal.given)
        strength = f"the only strength known after it is what the case gives, {given}"
    else:
        keys = " and ".join(metal.keys.values())
        strength = f"its strength, fatigue and creep after it are not known; give {keys}"
    return f"{part}, {metal}: {metal.lost}: {strength}; {unchanged}"


def closeout(design: Design) -> tuple[tuple[AlloyCondition, float], ...]:
    """Return the layers of the closeout from the slots outward: metal and thickness [m]."""
    layers = design.closeout
    return (plated_copper(design), layers.copper), (jacket(design), layers.jacket)
