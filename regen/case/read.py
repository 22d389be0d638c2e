"""The case file: read, checked, in SI; its starter, and edits that keep comments.

Everything wrong with a case is reported at once, in one ``CaseError``.
"""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from numbers import Real
from pathlib import Path
from typing import Any

from regen.case import keys, studies
from regen.case.along import Strengths
from regen.case.build import Given, build_design, correlated_as
from regen.case.checks import check_keys, check_values
from regen.case.circuits import check_circuit, check_names
from regen.case.keys import REQUIRED, SECTIONS, check_path, keys_of
from regen.case.kinds import Reading, Text, note, shown
from regen.case.materials import conditions
from regen.case.studies import ALTERNATIVES, UNCERTAINTY, Alternative
from regen.case.table import decoded, file_bytes
from regen.design import POSITION, Design, Profile
from regen.sources import DATA
from regen.units import KINDS, Quantity, Refusal, Wrong, parse, refusal, show, suggestion

VERSION = 1
MAX_BYTES = 1_000_000
TITLE = Text('a text such as "Linnet bench chamber, 5 kN"')
BESIDE = ("circuits", UNCERTAINTY, ALTERNATIVES)
"""Tables that stand in the file beside its sections."""


@dataclass(frozen=True, slots=True)
class Case:
    """A checked case.

    Parameters
    ----------
    design : Design
        In SI.
    text : str
        The file's text with overrides written into it.
    hash : str
        Changes with any value and with the content of any file the case refers to, not with
        comments or layout.
    path : Path
        Where it stands: files it refers to are beside it.
    notes : tuple of str
        What the user must know although nothing is wrong.
    files : mapping of str to bytes
        What the case refers to, by the name it has for it.
    alternatives : tuple of Alternative
        The same chamber by other processes, their tables checked as tables.
    changes : tuple of str
        Values that were replaced since the file was read, such as "channels.count = 96".
    """

    design: Design
    text: str
    hash: str
    path: Path
    notes: tuple[str, ...]
    files: Mapping[str, bytes]
    alternatives: tuple[Alternative, ...] = ()
    changes: tuple[str, ...] = ()

    def with_values(self, values: Mapping[str, Any]) -> Case:
        """Return a new checked case with some values replaced.

        Parameters
        ----------
        values : mapping
            By "section.key": a number in SI, a text as the file has it ("0.75 mm"), true or false,
            pairs ``[x, value]`` of either; one value for a key along x is a constant. None takes
            the key out.

        Returns
        -------
        Case
            Its text keeps the comments.

        Raises
        ------
        CaseError
            As for a file, with everything that is wrong.
        """
        wrong = Wrong()
        case = case_from(self.text, self.path, _in_file(values, wrong), wrong)
        return replace(case, changes=(*self.changes, *case.changes))


def load_case(path: Path | str, values: Mapping[str, Any] | Sequence[str] = ()) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path : Path or str
        Case file, TOML in UTF-8.
    values : mapping or sequence of str
        Values that replace those of the file: a mapping as for ``Case.with_values``, or texts
        "section.key=value", whose right side is read as a TOML value, else as a text [-].

    Returns
    -------
    Case
        With its design in SI.

    Raises
    ------
    CaseError
        If anything is wrong, with everything that is.
    """
    path = Path(path)
    text, wrong = _read(path), Wrong()
    _parse(text, path.name)
    read = _in_file(values, wrong) if isinstance(values, Mapping) else _assignments(values, wrong)
    return case_from(text, path, read, wrong)


def case_from(
    text: str, path: Path, values: Mapping[str, Any] | None = None, wrong: Wrong | None = None
) -> Case:
    """Check the text of a case that stands, or will stand, at a path; raise as ``load_case``.

    ``values``, by path as a file has them, are written into it; ``wrong`` has what was wrong with
    others.
    """
    values, wrong = values or {}, Wrong() if wrong is None else wrong
    text = _written(text, values, path.name, wrong) if values else text
    raw = _parse(text, path.name)
    reading = Reading(path.parent)
    good = _check(raw, reading, wrong)
    if wrong:
        wrong.sort(key=_place)  # stable: as the file has them within a section
        for one in wrong:
            one.given = one.given or _given(raw, one.where)
        wrong.refuse_case(path.name)
    design = build_design(good["title"], good, reading.notes)
    others = good.get(ALTERNATIVES, ())
    notes, files = tuple(reading.notes), dict(reading.files)
    changes = tuple(f"{key} = {value}" for key, value in values.items())
    return Case(design, text, _hash(raw, files), path, notes, files, others, changes)


def _hash(raw: Mapping[str, Any], files: Mapping[str, bytes]) -> str:
    content = json.dumps(raw, sort_keys=True, ensure_ascii=True, allow_nan=False)
    whole = hashlib.sha256(content.encode())
    for name in sorted(files):
        whole.update(hashlib.sha256(files[name]).digest())
    return whole.hexdigest()


def _read(path: Path) -> str:
    name = path.name or str(path)
    start = f'check the path, or write a starter case with "regen new {path.name or "case.toml"}"'
    wrong = Wrong()
    with wrong.gather("case file"):
        text = decoded(file_bytes(path, start, MAX_BYTES), name)
        if not text.strip():
            raise Refusal("it is empty", do=start)
    wrong.refuse_case(name)
    return text


def _parse(text: str, name: str) -> dict[str, Any]:
    wrong = Wrong()
    with wrong.gather("TOML"):
        try:
            return tomllib.loads(text)
        except RecursionError as error:
            raise refusal("nested too deeply") from error
        except ValueError as error:
            twice = re.search("overwrite|declare|twice", str(error))
            raise refusal("given twice" if twice else "not TOML", error=error) from error
    wrong.refuse_case(name)


def _check(raw: dict[str, Any], reading: Reading, wrong: Wrong) -> dict[str, Any]:
    """Return title and checked sections; ``wrong`` takes what is wrong with the others."""
    version = raw.get("case")
    if version != VERSION or isinstance(version, bool):
        name = "no version" if version is None else "another version"
        wrong.append(refusal(name, "case", version=VERSION))
        return {}
    good: dict[str, Any] = {}
    tables: dict[str, Mapping[str, Any]] = {}
    with wrong.gather("title"):
        if "title" not in raw:
            raise Refusal("required key missing", TITLE.accepted)
        good["title"] = TITLE.check(raw["title"], reading)
    for key in raw:
        if key not in (*SECTIONS, *BESIDE, "case", "title"):
            wrong.append(_unknown_section(key, raw[key]))
    reading.own_coolant = "table" in (raw.get("coolant") or ())
    for name in SECTIONS:
        table = raw.get(name, {})
        if name not in raw and name in REQUIRED:
            wrong.append(refusal("no section", f"[{name}]", section=name))
        elif not isinstance(table, dict):
            wrong.append(
                Refusal("not a section", f"[{name}] on its own line, its keys below", "", name)
            )
        else:
            tables |= {name: table} if name in raw else {}
            with wrong.gather(name):
                good[name] = _section(name, table, reading)
    wrong += check_keys(tables)
    if "circuits" in raw:
        good["circuits"] = {}
        with wrong.gather():
            good["circuits"] = _circuits(raw["circuits"], reading)
    if UNCERTAINTY in raw:
        good[UNCERTAINTY], refused = studies.distributions(raw[UNCERTAINTY], raw.get("circuits"))
        wrong += refused
    if ALTERNATIVES in raw:
        good[ALTERNATIVES], refused = studies.alternatives(raw[ALTERNATIVES])
        wrong += refused
    wrong += check_values(good, reading.notes)
    if "coolant" in good:
        wrong += studies.model_names(good.get(UNCERTAINTY, ()), correlated_as(good["coolant"]))
    return good


def _given(raw: Any, where: str) -> str | None:
    """Return what the file gives for a key path, None for nothing and for a section."""
    for key in where.split("."):
        raw = raw.get(key) if isinstance(raw, dict) else None
    return None if raw is None or isinstance(raw, dict) else shown(raw)


def _section(name: str, table: Mapping[str, Any], reading: Reading) -> Given:
    """Return the checked values of a section, or raise everything that is wrong in it."""
    wrong, given = Wrong(), Given()
    for key, entry in keys_of(name).items():
        if key in table:
            value, reading.key = table[key], key
            with wrong.gather(f".{key}", shown(value)):
                given[key] = entry.kind.check(value, reading)
                if isinstance(entry.kind, Quantity) and parse(value, entry.kind.kind).gauge:
                    reading.notes.append(note("gauge", key=key, value=value))
        elif entry.needed:
            metal = conditions(table.get("alloy")) if f"{name}.{key}" == "liner.condition" else ""
            accepted = metal or entry.kind.accepted
            wrong.append(Refusal("required key missing", accepted, where=f".{key}"))
    for key, value in table.items():
        if key not in keys_of(name):
            with wrong.gather(f".{key[:40]}", shown(value)):
                raise keys.unknown_key(name, key)
    wrong.refuse()
    return given


def _circuits(tables: Any, reading: Reading) -> dict[str, Given]:
    """Return the circuits by name, or raise everything that is wrong with any."""
    Wrong(check_names(tables)).refuse()
    wrong, good = Wrong(), {}
    for name, table in tables.items():
        with wrong.gather(f"circuits.{name}"):
            good[name] = _section("circuits", table, reading)
    wrong.refuse()
    return good


def _place(refusal: Refusal) -> int:
    """Return where a refusal's section stands among all; what is in none comes first."""
    order = (*SECTIONS, *BESIDE)
    section = refusal.where.partition(".")[0]
    return 1 + order.index(section) if section in order else 0


def _unknown_section(key: str, given: object) -> Refusal:
    names = tuple(SECTIONS)
    what, do = "unknown section or key", suggestion(key, (*names, "title"))
    if key == "instruments":
        what, do = "this build does not read it", "remove it"
    elif not isinstance(given, dict) and (home := keys.homes(key)):
        do = f"put it below {home}"
    name = f"[{key[:40]}]" if isinstance(given, dict) else key[:40]
    return Refusal(what, "title, " + ", ".join(f"[{n}]" for n in names), do, name)


def _assignments(overrides: Sequence[str], wrong: Wrong) -> dict[str, Any]:
    """Return values by path from texts "section.key=value"."""
    values: dict[str, Any] = {}
    for text in overrides:
        key, sign, right = (part.strip() for part in text.partition("="))
        if not sign or not key or not right:
            wrong.append(refusal("not an assignment", "--set", shown(text)))
            continue
        with wrong.gather(f"--set {key[:60]}", shown(right)):
            check_path(key)
            values[key] = _toml_value(right)
    return values


def _toml_value(right: str) -> Any:
    """Return the right side as a TOML value, else as a text."""
    try:
        read = tomllib.loads(f"value = {right}")
    except (ValueError, RecursionError):
        return right
    return read["value"] if len(read) == 1 else right


def _in_file(values: Mapping[str, Any], wrong: Wrong) -> dict[str, Any]:
    """Return values by path, numbers in SI among them, as the file has them."""
    written: dict[str, Any] = {}
    for path, value in values.items():
        with wrong.gather(path[:60], shown(value)):
            check_path(path)
            written[path] = value if path == "title" else _as_written(path, value)
    return written


def _as_written(path: str, value: Any) -> Any:
    """Return a value in SI as the file has it; what is a text already stays."""
    bounds = keys.bounds_of(path)
    if isinstance(value, Profile):
        value = [list(pair) for pair in zip(value.x, value.value, strict=True)]
        value = value[0][1] if len(value) == 1 else value
    value = value.tolist() if hasattr(value, "tolist") else value  # numpy's arrays and numbers
    if not isinstance(value, list | tuple):
        return _with_unit(value, bounds)
    kind = keys.kind_of(path)
    pair = kind.kinds if isinstance(kind, Strengths) else (POSITION, bounds)
    return [
        [_with_unit(v, of) for v, of in zip(one, pair, strict=True)]
        if isinstance(one, list | tuple) and len(one) == 2
        else one
        for one in value
    ]


def _with_unit(value: Any, kind: object) -> Any:
    """Return a number in SI with its unit, to the last bit where the kind has one."""
    value = value.tolist() if hasattr(value, "tolist") else value
    if not isinstance(value, Real) or isinstance(value, bool) or not isinstance(kind, Quantity):
        return value
    text = show(float(value), kind.kind)
    exact = f"{float(value)!r} {KINDS[kind.kind].si}"
    return text if float(value) == parse(text, kind.kind).value else exact


def _written(text: str, values: Mapping[str, Any], name: str, wrong: Wrong) -> str:
    """Return the text with values written into it; comments and layout stay."""
    import tomlkit  # only edits need it
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        for path, value in values.items():
            with wrong.gather(path[:60], shown(value)):
                _write(document, path, value)
        return tomlkit.dumps(document)
    except (TOMLKitError, RecursionError) as error:
        wrong.append(Refusal(f"the file cannot be edited: {error}", where="TOML"))
        wrong.refuse_case(name)
        raise


def _write(document: Any, path: str, value: Any) -> None:
    from tomlkit import inline_table, table

    *sections, key = path.split(".")
    if sections[:1] == ["circuits"]:
        check_circuit(sections[1], document.get("circuits"))
    elif sections and sections[0] not in document and value is not None:
        document[sections[0]] = table()
    for section in sections:
        document = document.get(section)
    if not isinstance(document, dict):
        return  # refused where the sections are checked, or nothing to take out
    if value is None:
        document.pop(key, None)
    elif isinstance(value, dict):
        document[key] = inline_table()
        document[key].update(value)
    else:
        document[key] = value


def starter_text() -> str:
    """Return the commented starter case, which solves as it is: cases/a-methane.toml.

    An installed package has it among its data (pyproject.toml).
    """
    packed = DATA / "starter.toml"
    source = packed if packed.exists() else DATA.parents[1] / "cases" / "a-methane.toml"
    return source.read_text(encoding="utf-8")
