"""The case file: read, checked, in SI; its starter, and edits that keep comments.

Everything wrong with a case is reported at once, in one ``CaseError``.
"""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from numbers import Real
from pathlib import Path
from typing import Any

from regen.case.along import Strengths
from regen.case.build import Given, build_design, correlated_as
from regen.case.checks import check_keys, check_values
from regen.case.circuits import check_names, unknown_circuit
from regen.case.keys import (
    REQUIRED,
    SECTIONS,
    bounds_of,
    homes,
    keys_of,
    kind_of,
    unknown_key,
    unknown_path,
)
from regen.case.kinds import Reading, shown
from regen.case.materials import conditions
from regen.case.studies import (
    ALTERNATIVES,
    UNCERTAINTY,
    Alternative,
    alternatives,
    distributions,
    model_names,
)
from regen.design import POSITION, Design, Profile
from regen.errors import CaseError, Problem
from regen.sources import DATA
from regen.units import KINDS, Quantity, Refusal, parse, show, suggestion

VERSION = 1
MAX_BYTES = 1_000_000
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
        problems: list[Problem] = []
        case = _edited_case(self.text, _in_file(values, problems), self.path, problems)
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
    text = _read(path)
    problems: list[Problem] = []
    if not values:
        return _case(text, path, problems)
    _parse(text, path.name)
    if isinstance(values, Mapping):
        values = _in_file(values, problems)
    else:
        values = _assignments(values, problems)
    return _edited_case(text, values, path, problems)


def case_from(text: str, path: Path) -> Case:
    """Check the text of a case that stands, or will stand, at a path; raise as ``load_case``."""
    return _case(text, path, [])


def _edited_case(text: str, values: Mapping[str, Any], path: Path, problems: list[Problem]) -> Case:
    case = _case(_written(text, values, path.name, problems), path, problems)
    return replace(case, changes=tuple(f"{key} = {value}" for key, value in values.items()))


def _case(text: str, path: Path, problems: list[Problem]) -> Case:
    raw = _parse(text, path.name)
    reading = Reading(path.parent)
    title, good = _check(raw, reading, problems)
    if problems:
        raise CaseError(path.name, problems)
    design = build_design(title, good, reading.notes)
    others = good.get(ALTERNATIVES, ())
    notes, files = tuple(reading.notes), dict(reading.files)
    return Case(design, text, _hash(raw, files), path, notes, files, others)


def _hash(raw: Mapping[str, Any], files: Mapping[str, bytes]) -> str:
    content = json.dumps(raw, sort_keys=True, ensure_ascii=True, allow_nan=False)
    whole = hashlib.sha256(content.encode())
    for name in sorted(files):
        whole.update(hashlib.sha256(files[name]).digest())
    return whole.hexdigest()


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
            raise refuse("not a plain file of at most 1 MB", "name a case file")
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


def _problem(refusal: Refusal, path: str = "", given: object = None) -> Problem:
    """Return a refusal as a problem of a path; without one, ``where`` is the whole path."""
    text = shown(given) if path and refusal.given is None else refusal.given
    return Problem(path + refusal.where, refusal.what, text, refusal.accepted, refusal.do)


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
        if key not in (*SECTIONS, *BESIDE, "case", "title"):
            problems.append(_unknown_section(key, raw[key]))
    good: dict[str, Any] = {}
    tables: dict[str, Mapping[str, Any]] = {}
    reading.own_coolant = "table" in (raw.get("coolant") or ())
    for name in SECTIONS:
        table = raw.get(name, {})
        if name not in raw and name in REQUIRED:
            do = f"add [{name}]; a starter case shows its keys"
            problems.append(Problem(f"[{name}]", "required section missing", do=do))
        elif not isinstance(table, dict):
            accepted = f"[{name}] on its own line, its keys below"
            problems.append(Problem(name, "not a section", shown(table), accepted))
        else:
            tables |= {name: table} if name in raw else {}
            if (given := _section(name, name, table, reading, problems)) is not None:
                good[name] = given
    wrong = list(check_keys(tables))
    if "circuits" in raw:
        refused = check_names(raw["circuits"])
        wrong += refused
        good["circuits"] = {} if refused else _circuits(raw["circuits"], reading, problems)
    if UNCERTAINTY in raw:
        good[UNCERTAINTY], refused = distributions(raw[UNCERTAINTY], raw.get("circuits"))
        wrong += refused
    if ALTERNATIVES in raw:
        good[ALTERNATIVES], refused = alternatives(raw[ALTERNATIVES])
        wrong += refused
    wrong += check_values(good, reading.notes)
    if "coolant" in good:
        wrong += model_names(good.get(UNCERTAINTY, ()), correlated_as(good["coolant"]))
    problems.extend(map(_problem, wrong))
    problems.sort(key=_place)  # stable: as the file has them within a section
    return title, good


def _section(
    name: str, path: str, table: Mapping[str, Any], reading: Reading, problems: list[Problem]
) -> Given | None:
    """Return the checked values of a section, None if anything is wrong in it."""
    before, given = len(problems), Given()
    for key, entry in keys_of(name).items():
        if key in table:
            value, reading.key = table[key], key
            try:
                given[key] = entry.kind.check(value, reading)
            except Refusal as error:
                problems += [_problem(one, f"{path}.{key}", value) for one in error.refusals]
                continue
            if isinstance(entry.kind, Quantity) and parse(value, entry.kind.kind).gauge:
                reading.notes.append(
                    f"{key}: {value} was read as gauge; 101325 Pa, one standard atmosphere, was "
                    "added to make it absolute"
                )
        elif entry.needed:
            metal = conditions(table.get("alloy")) if f"{name}.{key}" == "liner.condition" else ""
            accepted = metal or entry.kind.accepted
            problems.append(Problem(f"{path}.{key}", "required key missing", None, accepted))
    for key, value in table.items():
        if key not in keys_of(name):
            problems.append(_problem(unknown_key(name, key), f"{path}.{key[:40]}", value))
    return given if len(problems) == before else None


def _circuits(
    tables: Mapping[str, Any], reading: Reading, problems: list[Problem]
) -> dict[str, Given]:
    """Return the circuits by name, none if anything is wrong with one."""
    good: dict[str, Given] = {}
    for name, table in tables.items():
        given = _section("circuits", f"circuits.{name}", table, reading, problems)
        if given is not None:
            good[name] = given
    return good if len(good) == len(tables) else {}


def _place(problem: Problem) -> int:
    """Return where a problem's section stands among all; what is in none comes first."""
    order = (*SECTIONS, *BESIDE)
    section = problem.key.partition(".")[0]
    return 1 + order.index(section) if section in order else 0


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
        problems.append(Problem("title", "required key missing", None, accepted))
    elif not isinstance(title, str) or not title.strip() or not title.isprintable():
        problems.append(Problem("title", "not a text", shown(title), accepted))
    else:
        return title.strip()
    return ""


def _unknown_section(key: str, given: object) -> Problem:
    names = tuple(SECTIONS)
    what, do = "unknown section or key", suggestion(key, (*names, "title"))
    if key == "instruments":
        what, do = "this build does not read it", "remove it"
    elif not isinstance(given, dict) and (home := homes(key)):
        do = f"put it below {home}"
    name = f"[{key[:40]}]" if isinstance(given, dict) else key[:40]
    return Problem(name, what, None, "title, " + ", ".join(f"[{n}]" for n in names), do)


def _assignments(overrides: Sequence[str], problems: list[Problem]) -> dict[str, Any]:
    """Return values by path from texts "section.key=value"."""
    values: dict[str, Any] = {}
    for text in overrides:
        key, sign, right = (part.strip() for part in text.partition("="))
        if not sign or not key or not right:
            accepted = 'section.key=value, such as channels.count=96 or liner.wall="0.7 mm"'
            problems.append(Problem("--set", "not an assignment", shown(text), accepted))
        elif refused := unknown_path(key):
            problems.append(_problem(refused, f"--set {key[:60]}", right))
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


def _in_file(values: Mapping[str, Any], problems: list[Problem]) -> dict[str, Any]:
    """Return values by path, numbers in SI among them, as the file has them."""
    written: dict[str, Any] = {}
    for path, value in values.items():
        if refused := unknown_path(path):
            problems.append(_problem(refused, path[:60], value))
        else:
            written[path] = value if path == "title" else _as_written(path, value)
    return written


def _as_written(path: str, value: Any) -> Any:
    """Return a value in SI as the file has it; what is a text already stays."""
    bounds = bounds_of(path)
    if isinstance(value, Profile):
        value = [list(pair) for pair in zip(value.x, value.value, strict=True)]
        value = value[0][1] if len(value) == 1 else value
    value = value.tolist() if hasattr(value, "tolist") else value  # numpy's arrays and numbers
    if not isinstance(value, list | tuple):
        return _with_unit(value, bounds)
    kind = kind_of(path)
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


def _written(text: str, values: Mapping[str, Any], name: str, problems: list[Problem]) -> str:
    """Return the text with values written into it; comments and layout stay."""
    import tomlkit  # only edits need it
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        for path, value in values.items():
            *sections, key = path.split(".")
            if sections[:1] == ["circuits"]:
                known = document.get("circuits", {})
                names = map(str, known) if isinstance(known, dict) else ()
                if refused := unknown_circuit(sections[1], names):
                    problems.append(_problem(refused, path[:60], sections[1]))
                    continue
            if sections and sections[0] not in document:
                if value is None:
                    continue
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


def edited(source: Path | str, values: Mapping[str, Any]) -> str:
    """Return the text of a case with values replaced as for ``Case.with_values``, unchecked.

    ``source`` is a case file, or the text of one. Raises ``CaseError`` if a key is unknown or the
    text is not TOML.
    """
    name = source.name if isinstance(source, Path) else "case"
    text = _read(source) if isinstance(source, Path) else source
    problems: list[Problem] = []
    given = _in_file(values, problems)
    _parse(text, name)
    written = _written(text, given, name, problems)
    if problems:
        raise CaseError(name, problems)
    return written


def starter_text() -> str:
    """Return the commented starter case, which solves as it is: cases/a-methane.toml.

    An installed package has it among its data (pyproject.toml).
    """
    packed = DATA / "starter.toml"
    source = packed if packed.exists() else DATA.parents[1] / "cases" / "a-methane.toml"
    return source.read_text(encoding="utf-8")
