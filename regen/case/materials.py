"""Alloys of the user's own in a case: stanza files and their tables, read and checked as ours."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from regen.case.fields import FieldKind, Reading, Refusals, shown
from regen.case.table import decoded, file_bytes
from regen.design import MaterialFile
from regen.metals.alloys import alloys
from regen.units import Refusal


@dataclass(frozen=True)
class MaterialFiles(FieldKind):
    """A list of stanza files; each alloy's table stands beside its file as <name>.csv."""

    @property
    def accepted(self) -> str:
        """What may be written, in words."""
        return (
            'a list of files with stanzas of alloys such as ["own-alloy.toml"]; the rows of each '
            "alloy stand beside it in <name of the alloy>.csv"
        )

    @property
    def form(self) -> dict[str, Any]:
        """JSON schema of the value."""
        return {"type": "array", "items": {"type": "string", "minLength": 1}}

    def check(self, given: object, key: str, reading: Reading) -> tuple[MaterialFile, ...]:
        """Return the texts of all files."""
        if not isinstance(given, list):
            raise Refusal("it is not a list", self.accepted, "put the names in brackets")
        read: list[MaterialFile] = []
        wrong: list[Refusal] = []
        names: dict[str, str] = {name.lower(): "" for name in alloys()}
        for index, name in enumerate(given, start=1):
            if not isinstance(name, str) or not name.strip() or not name.isprintable():
                what, where = "it is not the name of a file", f"[{index}]"
                wrong.append(Refusal(what, self.accepted, "", where, shown(name)))
                continue
            if given.index(name) < index - 1:
                wrong.append(Refusal("it is named twice", "", "", f"[{index}]", shown(name)))
                continue
            file, refused = _file(name, reading, names)
            for one in refused:
                one.where, one.given = f"[{index}]", shown(name)
            read.append(file)
            wrong += refused
        if wrong:
            raise Refusals(wrong)
        return tuple(read)


def _text(name: str, reading: Reading) -> str:
    data = file_bytes(reading.folder / name)
    reading.files[name] = data
    return decoded(data, PurePosixPath(name).name)


def _file(name: str, reading: Reading, names: dict[str, str]) -> tuple[MaterialFile, list[Refusal]]:
    """Read one stanza file and its tables; ``names`` takes those of its alloys."""
    from regen.metals import alloy_checks as checks

    nothing = MaterialFile(name, "", ())
    try:
        text = _text(name, reading)
    except Refusal as refusal:
        return nothing, [refusal]
    stanzas, wrong = checks.read_stanzas(name, text)
    tables: list[tuple[str, str]] = []
    for key, stanza in stanzas.items():
        of_stanza = checks.check_stanza(name, text, key, stanza)
        if key.lower() in names:
            other = names[key.lower()]
            what = f"{key} is {f'in {other} already' if other else 'the name of a built-in alloy'}"
            of_stanza.append(Refusal(f"{name}: {what}", "a name of its own", "rename it"))
        names[key.lower()] = name
        wrong += of_stanza
        if isinstance(stanza, Mapping) and checks.KEY.fullmatch(key):
            wrong += _tables(name, key, stanza, reading, tables, sound=not of_stanza)
    return MaterialFile(name, text, tuple(tables)), wrong


def _tables(
    name: str,
    key: str,
    stanza: Mapping[str, Any],
    reading: Reading,
    tables: list[tuple[str, str]],
    *,
    sound: bool,
) -> list[Refusal]:
    """Read and check the tables of one alloy; ``tables`` takes their texts."""
    from regen.metals import alloy_checks as checks

    conditions = stanza.get("conditions")
    known = tuple(conditions) if isinstance(conditions, Mapping) else ()
    wrong: list[Refusal] = []
    for part in checks.PARTS:
        file = str(PurePosixPath(name).parent / f"{key}{part}.csv")
        if part and not (reading.folder / file).exists():
            continue
        try:
            text = _text(file, reading)
        except Refusal as refusal:
            refusal.do = f"the rows of {key} stand there" if not part else refusal.do
            wrong.append(refusal)
            continue
        of_table = checks.check_table(file, text, part, known)
        if not part and sound and not of_table:
            of_table = checks.check_whole(file, text, key, stanza)
        wrong += of_table
        tables.append((file, text))
    return wrong
