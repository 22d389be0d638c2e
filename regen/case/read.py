"""The case file: read, checked, in SI; its starter, its JSON schema, and edits that keep comments.

Everything wrong with a case is reported at once, in one ``CaseError``.
"""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, dataclass, fields
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from regen.case.alternatives import ALTERNATIVES, Alternative, alternatives
from regen.case.checks import build_design, check_keys, check_values, correlated_as
from regen.case.circuits import check_names
from regen.case.fields import Quantity, Reading, Refusals, shown, suggestion
from regen.case.metals import conditions
from regen.case.model import (
    DEFAULTS,
    NAMED_OTHERWISE,
    REQUIRED_SECTIONS,
    SECTIONS,
    CaseFile,
    Circuit,
)
from regen.case.section import Section
from regen.case.uncertainty import SECTION, distributions, model_names
from regen.design import Design
from regen.errors import CaseError, Problem
from regen.sources import DATA
from regen.units import Refusal, show

VERSION = 1
MAX_BYTES = 1_000_000
_BESIDE = ("case", "title", "circuits", SECTION, ALTERNATIVES)
"""What stands in the file beside its sections."""

_NOT_YET = {"instruments": "this build does not read it"}


@dataclass(frozen=True, slots=True)
class Case:
    """A checked case.

    ``text`` is the file's text with overrides written into it; ``hash`` changes with any value
    and with the content of any file the case refers to, not with comments or layout. ``files``
    are those, by the name the case has for them; ``alternatives`` the same chamber by other
    routes, their tables checked as tables.
    """

    design: Design
    text: str
    hash: str
    path: Path
    notes: tuple[str, ...]
    files: Mapping[str, bytes]
    alternatives: tuple[Alternative, ...] = ()


def load_case(path: Path, overrides: Sequence[str] = ()) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path : Path
        Case file, TOML in UTF-8.
    overrides : sequence of str
        Each "section.key=value"; the right side is read as a TOML value, else as a text [-].

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
    text = _read(path)
    raw = _parse(text, path.name)
    problems: list[Problem] = []
    if overrides:
        values = _override_values(overrides, problems)
        text = _written(text, values, path.name, problems)
        raw = _parse(text, path.name)
    return _case(text, raw, path, problems)


def case_from(text: str, path: Path) -> Case:
    """Check the text of a case.

    Parameters
    ----------
    text : str
        TOML.
    path : Path
        Where it will stand: files it refers to are looked for beside it.

    Returns
    -------
    Case
        With its design in SI.

    Raises
    ------
    CaseError
        If anything is wrong, with everything that is.
    """
    return _case(text, _parse(text, path.name), path, [])


def _case(text: str, raw: dict[str, Any], path: Path, problems: list[Problem]) -> Case:
    reading = Reading(path.parent)
    title, good = _check(raw, reading, problems)
    if problems:
        raise CaseError(path.name, problems)
    design = build_design(title, good, reading.notes)
    digest = _hash(raw, reading.files)
    others = good.get(ALTERNATIVES, ())
    return Case(design, text, digest, path, tuple(reading.notes), dict(reading.files), others)


def problems_of(text: str, folder: Path) -> tuple[Problem, ...]:
    """Return everything wrong with the text of a case that stands in a folder, nothing if sound."""
    try:
        case_from(text, folder / "case")
    except CaseError as error:
        return error.problems
    return ()


def _read(path: Path) -> str:
    def refuse(what: str, do: str) -> CaseError:
        return CaseError(path.name or str(path), [Problem(str(path), what, do=do)])

    start = f'check the path, or write a starter case with "regen new {path.name or "case.toml"}"'
    try:
        if path.is_dir():
            raise refuse("it is a folder", "name the case file in it")
        if not path.exists():
            raise refuse("there is no such file", start)
        if not path.is_file() or path.stat().st_size > MAX_BYTES:
            raise refuse("it is not a plain file of at most 1 MB", "name a case file")
        data = path.read_bytes()
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = f"line {line} is not text in UTF-8"
        raise refuse(what, "save the file as plain text, UTF-8") from error
    except OSError as error:
        raise refuse(f"it cannot be read ({error.strerror})", "check its permissions") from error
    except ValueError as error:
        if isinstance(error, CaseError):
            raise
        raise refuse(f"it cannot be read ({error})", "check the path") from error
    if not text.strip():
        raise refuse("it is empty", start)
    return text


def _parse(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        problem = Problem("TOML", "lists or tables are nested too deeply")
        raise CaseError(name, [problem]) from error
    except ValueError as error:
        what = str(error)
        do = "correct the line; texts stand in quotes, one key = value on a line"
        if "overwrite" in what or "declare" in what or "twice" in what:
            what = f"a key or section is given twice: {what}"
            do = "remove one of the two"
        raise CaseError(name, [Problem("TOML", what, do=do)]) from error


def _check(
    raw: dict[str, Any], reading: Reading, problems: list[Problem]
) -> tuple[str, dict[str, Any]]:
    """Return title and checked sections; whatever is wrong is added to ``problems``."""
    version = raw.get("case")
    if version != VERSION or isinstance(version, bool):
        problems.append(_version_problem(version))
        return "", {}
    title = _title(raw, problems)
    for key in raw:
        if key not in SECTIONS and key not in _BESIDE:
            problems.append(_unknown_section(key, raw[key]))
    good: dict[str, Any] = {}
    tables: dict[str, Mapping[str, Any]] = {}
    for name, model in SECTIONS.items():
        given = raw.get(name, {})
        if name not in raw and name in REQUIRED_SECTIONS:
            do = f"add [{name}]; a starter case shows its keys"
            problems.append(Problem(f"[{name}]", "the section is missing", do=do))
        elif not isinstance(given, dict):
            what = "it is not a section"
            accepted = f"[{name}] on its own line, its keys below"
            problems.append(Problem(name, what, shown(given), accepted))
        else:
            tables[name] = given
            try:
                good[name] = model.model_validate(given, context=reading)
            except ValidationError as error:
                problems.extend(_translated(name, model, error, given))
    wrong = check_keys({name: tables[name] for name in tables if name in raw})
    if "circuits" in raw:
        good["circuits"] = _circuits(raw["circuits"], reading, problems)
    if SECTION in raw:
        good[SECTION], refused = distributions(raw[SECTION], raw.get("circuits"), _strange)
        wrong += refused
    if ALTERNATIVES in raw:
        good[ALTERNATIVES], refused = alternatives(raw[ALTERNATIVES], _strange)
        wrong += refused
    wrong += check_values(good, reading.notes)
    if "coolant" in good:
        wrong += model_names(good.get(SECTION, ()), correlated_as(good["coolant"]))
    problems.extend(Problem(r.where, r.what, r.given, r.accepted, r.do) for r in wrong)
    problems.sort(key=_place)  # stable: as the file has them within a section
    return title, good


def _circuits(given: object, reading: Reading, problems: list[Problem]) -> dict[str, Section]:
    """Return the sound circuits by name; whatever is wrong is added to ``problems``."""
    wrong = check_names(given)
    problems.extend(Problem(r.where, r.what, r.given, r.accepted, r.do) for r in wrong)
    good: dict[str, Section] = {}
    if wrong or not isinstance(given, dict):
        return good
    for name, table in given.items():
        try:
            good[name] = Circuit.model_validate(table, context=reading)
        except ValidationError as error:
            problems.extend(_translated(f"circuits.{name}", Circuit, error, table))
    return good if len(good) == len(given) else {}


def _strange(path: str) -> Refusal | None:
    """Return what is wrong with the path of a key that stands in the file."""
    problem = unknown_path(path)
    return Refusal(problem.what, problem.accepted, problem.do) if problem else None


def _place(problem: Problem) -> int:
    """Return where a problem's section stands among all; what is in none comes first."""
    section = problem.key.partition(".")[0]
    beside = ("circuits", SECTION, ALTERNATIVES)
    if section in beside:
        return 1 + len(SECTIONS) + beside.index(section)
    return 1 + list(SECTIONS).index(section) if section in SECTIONS else 0


def _version_problem(version: object) -> Problem:
    accepted = f"case = {VERSION}, the one form this build reads"
    if version is None:
        what = "the version of the file's form is missing"
        return Problem("case", what, None, accepted, f"write case = {VERSION} in the first line")
    what = "this build does not read that version"
    return Problem("case", what, shown(version), accepted, "use the build it was written for")


def _title(raw: Mapping[str, Any], problems: list[Problem]) -> str:
    title = raw.get("title")
    accepted = 'a text in quotes, such as "Linnet bench chamber, 5 kN"'
    if title is None:
        problems.append(Problem("title", "it is missing", None, accepted, "add it at the top"))
    elif not isinstance(title, str) or not title.strip() or not title.isprintable():
        problems.append(Problem("title", "it is not a text", shown(title), accepted))
    else:
        return title.strip()
    return ""


def _unknown_section(key: str, given: object) -> Problem:
    names = tuple(SECTIONS)
    what = _NOT_YET.get(key, "it is not a known section or key")
    do = "remove it" if key in _NOT_YET else suggestion(key, (*names, "title"))
    if key not in _NOT_YET and not isinstance(given, dict) and (home := _homes(key)):
        do = f"put it below {home}"
    name = f"[{key[:40]}]" if isinstance(given, dict) else key[:40]
    return Problem(name, what, None, "title, " + ", ".join(f"[{n}]" for n in names), do)


def _homes(key: str) -> str:
    """Return the sections that have a key, as "[a] or [b]"; circuits only repeat keys."""
    return " or ".join(f"[{name}]" for name, m in SECTIONS.items() if key in m.model_fields)


def _translated(
    section: str, model: type[Section], error: ValidationError, keys: Mapping[str, Any]
) -> list[Problem]:
    found = []
    for item in error.errors(include_url=False):
        key = str(item["loc"][0])
        path = f"{section}.{key}"
        cause = item.get("ctx", {}).get("error")
        if item["type"] == "missing":
            accepted = model.model_fields[key].metadata[0].accepted
            if path == "liner.condition":
                accepted = conditions(keys.get("alloy")) or accepted
            found.append(Problem(path, "it is missing", None, accepted, "add it"))
        elif isinstance(cause, Refusals):
            found += [_refused(path, refusal, item["input"]) for refusal in cause.refusals]
        elif isinstance(cause, Refusal):
            found.append(_refused(path, cause, item["input"]))
        else:
            found.append(_unknown_key(section, key, model, item["input"]))
    return found


def _refused(path: str, refusal: Refusal, given: object) -> Problem:
    text = shown(given) if refusal.given is None else refusal.given
    return Problem(path + refusal.where, refusal.what, text, refusal.accepted, refusal.do)


def _unknown_key(section: str, key: str, model: type[Section], given: object) -> Problem:
    names = tuple(model.model_fields)
    home = _homes(key)
    do = f"put it below {home}" if home else suggestion(key, names)
    path = f"{section}.{key[:40]}"
    return Problem(path, "it is not a known key", shown(given), ", ".join(names), do)


def _hash(raw: Mapping[str, Any], files: Mapping[str, bytes]) -> str:
    content = json.dumps(raw, sort_keys=True, ensure_ascii=True, allow_nan=False)
    whole = hashlib.sha256(content.encode())
    for name in sorted(files):
        whole.update(hashlib.sha256(files[name]).digest())
    return whole.hexdigest()


def _override_values(overrides: Sequence[str], problems: list[Problem]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for text in overrides:
        key, sign, right = (part.strip() for part in text.partition("="))
        if not sign or not key or not right:
            accepted = 'section.key=value, such as channels.count=96 or liner.wall="0.7 mm"'
            problems.append(Problem("--set", "it is not an assignment", shown(text), accepted))
        elif problem := unknown_path(key):
            problems.append(problem)
        else:
            values[key] = _toml_value(right)
    return values


def _toml_value(right: str) -> Any:
    """Return the right side as a TOML value, else as a text."""
    try:
        read = tomllib.loads(f"value = {right}")
    except (ValueError, RecursionError):
        return right
    return read["value"] if len(read) == 1 else right


def unknown_path(path: str) -> Problem | None:
    """Return what is wrong with the path of a key.

    Parameters
    ----------
    path : str
        "section.key", "circuits.name.key" or "title" [-].

    Returns
    -------
    Problem or None
        None if the case file knows such a key; a circuit's name is not looked at.
    """
    section, dot, key = path.partition(".")
    if path == "title":
        return None
    if section == "circuits":
        return _unknown_circuit_path(path)
    if section == SECTION:
        what, accepted = "it is no value of the chamber", "a key of another section"
        do = 'change it in the file, or give "--input KEY=DISTRIBUTION" to regen uncertainty'
        return Problem(f"--set {path[:60]}", what, None, accepted, do)
    if not dot:
        home = _homes(path)
        names = tuple(SECTIONS)
        do = f'write "{home.strip("[]")}.{path}"' if home else suggestion(path, (*names, "title"))
        if path in SECTIONS:
            do = f"name one of its keys: {', '.join(SECTIONS[path].model_fields)}"
        accepted = "section.key, such as channels.count"
        return Problem("--set", "it does not name a section and a key", shown(path), accepted, do)
    if section not in SECTIONS:
        what, do = "it is not a known section", suggestion(section, tuple(SECTIONS))
        return Problem(f"--set {path[:60]}", what, shown(section), ", ".join(SECTIONS), do)
    if key not in SECTIONS[section].model_fields:
        found = _unknown_key(section, key, SECTIONS[section], key)
        return Problem(f"--set {path[:60]}", found.what, shown(key), found.accepted, found.do)
    return None


def _unknown_circuit_path(path: str) -> Problem | None:
    parts = path.split(".")
    accepted = 'circuits.name.key, such as circuits.barrel.mass_flow="0.1 kg/s"'
    if len(parts) != 3:
        what = "it does not name a circuit and a key"
        return Problem("--set", what, shown(path), accepted)
    if parts[2] not in Circuit.model_fields:
        found = _unknown_key(f"circuits.{parts[1]}", parts[2], Circuit, parts[2])
        return Problem(f"--set {path[:60]}", found.what, shown(parts[2]), found.accepted, found.do)
    return None


def _unknown_circuit(path: str, document: Mapping[str, Any]) -> Problem | None:
    """Refuse to set a key of a circuit that the case does not name."""
    parts = path.split(".")
    if parts[0] != "circuits":
        return None
    known = document.get("circuits", {})
    names = tuple(map(str, known)) if isinstance(known, dict) else ()
    if parts[1] in names:
        return None
    what = "the case has no such circuit"
    accepted = ", ".join(names) or "a case with circuits"
    return Problem(
        f"--set {path[:60]}", what, shown(parts[1]), accepted, suggestion(parts[1], names)
    )


def _written(text: str, values: Mapping[str, Any], name: str, problems: list[Problem]) -> str:
    """Return the text with values written into it; comments and layout stay."""
    import tomlkit  # only edits need it
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        for path, value in values.items():
            if problem := _unknown_circuit(path, document):
                problems.append(problem)
                continue
            *sections, key = path.split(".")
            if value is None and sections and sections[0] not in document:
                continue
            if sections and sections[0] not in document:
                document[sections[0]] = tomlkit.table()
            target: Any = document
            for section in sections:
                target = target[section]
            if not isinstance(target, dict):
                continue  # refused where the sections are checked
            if value is None:
                target.pop(key, None)
                continue
            if isinstance(value, dict):
                table = tomlkit.inline_table()
                table.update(value)
                value = table
            target[key] = value
        return tomlkit.dumps(document)
    except (TOMLKitError, RecursionError) as error:
        problem = Problem("TOML", f"the file cannot be edited: {error}")
        raise CaseError(name, [*problems, problem]) from error


def with_values(source: Path | str, values: Mapping[str, Any]) -> str:
    """Return the text of a case with some values replaced, its comments kept.

    Parameters
    ----------
    source : Path or str
        Case file, or the text of one.
    values : mapping
        Values by "section.key", each as the file would have it: "0.7 mm", 96, pairs; None takes
        the key out [-].

    Returns
    -------
    str
        Text of the new case; it is not checked here.

    Raises
    ------
    CaseError
        If a key is not known or the text is not TOML.
    """
    name = source.name if isinstance(source, Path) else "case"
    text = _read(source) if isinstance(source, Path) else source
    problems = [problem for path in values if (problem := unknown_path(path))]
    if problems:
        raise CaseError(name, problems)
    _parse(text, name)
    written = _written(text, values, name, problems)
    if problems:
        raise CaseError(name, problems)
    return written


def starter_text() -> str:
    """Return the commented starter case, which solves as it is.

    Returns
    -------
    str
        Text of the case [-].
    """
    return (DATA / "starter.toml").read_text(encoding="utf-8")


def json_schema() -> dict[str, Any]:
    """Return the JSON schema of the case file: every key with its text, kind and default.

    Returns
    -------
    dict
        JSON schema, draft 2020-12.
    """
    schema = CaseFile.model_json_schema()
    models: dict[str, type[Section]] = {**SECTIONS, "circuits": Circuit}
    for name, model in models.items():
        section = schema["$defs"][model.__name__]
        for key, entry in section["properties"].items():
            for noise in ("default", "title"):
                entry.pop(noise, None)
            default = _default(name, key)
            if default is not None:
                entry["default"] = default
    for name in (*SECTIONS, "circuits", ALTERNATIVES):
        schema["properties"][name].pop("default", None)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _default(section: str, key: str) -> Any:
    """Return the value of a key that is left out, as a case file would have it, or None."""
    known = {f.name: f.default for f in fields(DEFAULTS[section])} if section in DEFAULTS else {}
    value = known.get(NAMED_OTHERWISE.get((section, key), key), MISSING)
    if value is MISSING or value is None or key == "returns_to_injector":
        return None
    kind = SECTIONS[section].model_fields[key].metadata[0]
    return show(value, kind.kind) if isinstance(kind, Quantity) else value
