"""The metals a case names: the user's own alloys from files; conditions, heatings, strengths."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import PurePosixPath
from typing import Any, get_args

import numpy as np

from regen import design
from regen.case.kinds import Reading, each, note, quoted, shown
from regen.case.table import BESIDE_CASE, decoded, file_bytes
from regen.design import MaterialFile
from regen.metals import alloys, selection
from regen.units import Refusal, Wrong, refusal

BONDED = ("HIP-bonded", "brazed")
JOINTS = ("HIP", "braze")
BATHS = get_args(design.NickelBath)


class MaterialFiles:
    """A list of stanza files; each alloy's table stands beside its file as <name>.csv."""

    accepted = (
        'a list of files with stanzas of alloys such as ["own-alloy.toml"]; the rows of each '
        "alloy stand beside it in <name of the alloy>.csv"
    )
    form: Mapping[str, Any] = {"type": "array", "items": {"type": "string", "minLength": 1}}

    def check(self, given: object, reading: Reading) -> tuple[MaterialFile, ...]:
        """Return the texts of all files."""
        if not isinstance(given, list):
            raise Refusal("not a list", self.accepted, "put the names in brackets")
        names = {name.lower(): "" for name in alloys.alloys()}
        seen: set[str] = set()

        def one(name: object) -> MaterialFile:
            reading.path(name, self.accepted)
            if name in seen:
                raise Refusal("named twice")
            seen.add(str(name))
            return _file(str(name), reading, names)

        return tuple(each(given, one))


def _text(name: str, reading: Reading, do: str = BESIDE_CASE) -> str:
    reading.files[name] = data = file_bytes(reading.folder / name, do)
    return decoded(data, PurePosixPath(name).name)


def _file(name: str, reading: Reading, names: dict[str, str]) -> MaterialFile:
    """Read one stanza file and its tables; ``names`` takes those of its alloys."""
    from regen.metals import alloy_checks as checks

    text = _text(name, reading)
    stanzas, refused = checks.read_stanzas(name, text)
    wrong = Wrong(refused)
    tables: list[tuple[str, str]] = []
    for key, stanza in stanzas.items():
        of_stanza = checks.check_stanza(name, text, key, stanza)
        if key.lower() in names:
            other = names[key.lower()]
            what = f"in {other} already" if other else "the name of a built-in alloy"
            of_stanza.append(refusal("alloy named twice", file=name, alloy=key, what=what))
        names[key.lower()] = name
        wrong += of_stanza
        if not isinstance(stanza, Mapping) or not checks.KEY.fullmatch(key):
            continue
        conditions = stanza.get("conditions")
        known = tuple(conditions) if isinstance(conditions, Mapping) else ()
        for part in checks.PARTS:
            file = str(PurePosixPath(name).parent / f"{key}{part}.csv")
            if part and not (reading.folder / file).exists():
                continue
            with wrong.gather():
                table = _text(file, reading, f"the rows of {key} stand there")
                of_table = checks.check_table(file, table, part, known)
                if not (part or of_stanza or of_table):
                    of_table = checks.check_whole(file, table, key, stanza)
                wrong += of_table
                tables.append((file, table))
    wrong.refuse()
    return MaterialFile(name, text, tuple(tables))


def check_metals(good: Mapping[str, Any], notes: list[str]) -> list[Refusal]:
    """Return what is wrong with liner and jacket as metals; ``notes`` takes what to know."""
    if "materials" not in good:  # a name that is not known may stand in a file that is wrong
        return []
    own, wrong = selection.own_alloys(good["materials"].files or ()), Wrong()
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


def _of_its_bath(closeout: Any, bath: design.NickelBath | None) -> Iterator[Refusal]:
    """Refuse to plate nickel in one bath and judge it by the strength of another's."""
    condition = closeout.jacket_condition or design.JACKET_CONDITION
    alloy = closeout.jacket_alloy or design.NICKEL
    if alloy == design.NICKEL and condition in BATHS and bath not in (None, condition):
        yield refusal("another bath", "plating.nickel_bath", condition=condition, bath=bath)


def conditions(alloy: object, own: Mapping[str, alloys.Alloy] | None = None) -> str:
    """Return the conditions of an alloy in quotes, "" for an unknown one."""
    known = {**alloys.alloys(), **(own or {})}
    metal = known.get(alloy) if isinstance(alloy, str) else None
    return quoted(metal.conditions if metal else ())


def _named(
    section: str, part: str, alloy: str, condition: str, own: Mapping[str, alloys.Alloy]
) -> Iterator[Refusal]:
    known = conditions(alloy, own)
    name, given = ("condition", condition) if known else ("alloy", alloy)
    what, do = "strength depends on the condition", "name the one you will make"
    if condition != alloys.ANY or not known:
        try:
            alloys.find(alloy, condition, own)
            return
        except ValueError as error:
            what, do = str(error), "" if known else "or bring it yourself: files in [materials]"
    yield Refusal(what, known, do, f"{section}.{part}{name}", shown(given))


def _heated(
    key: str, alloy: str, process: Iterable[design.Heating] | None, own: Mapping[str, alloys.Alloy]
) -> Iterator[Refusal]:
    """Refuse to melt the metal."""
    known = {**alloys.alloys(), **own}
    solidus = known[alloy].solidus if alloy in known else None
    for index, one in enumerate(process or (), start=1):
        if solidus is not None and one.temperature >= solidus.value:
            where, given = f"{key}[{index}]", shown(str(one))
            yield refusal("it melts", where, given, alloy=alloy, solidus=solidus)


def _ranked(
    prefix: str, at_yield: design.Allowables | None, ultimate: design.Allowables | None
) -> Iterator[Refusal]:
    """Refuse a tensile strength below the yield, where both are given."""
    if at_yield is None or ultimate is None:
        return
    top = min(at_yield.T[-1], ultimate.T[-1])
    T = np.array([t for t in (*at_yield.T, *ultimate.T) if t <= top])
    below = np.interp(T, ultimate.T, ultimate.value) < np.interp(T, at_yield.T, at_yield.value)
    if below.any():
        where = f"{prefix}ultimate_strength"
        yield refusal("below the yield", where, prefix=prefix, T=T[below][0])


def _joint_notes(liner: Any, closeout: Any) -> Iterator[str]:
    """Say where making the joint heats the liner, and the case does not count it."""
    counted, process = liner.process or (), closeout.jacket_process or ()
    apart = [one for one in process if one.word in JOINTS and one not in counted]
    for one in apart:
        yield note("heating of the jacket alone", heating=one)
    bare = liner.process is None and liner.yield_strength is None
    if closeout.route in BONDED and bare and not apart:
        yield note("no heating of the liner", route=closeout.route)
