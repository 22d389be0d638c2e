"""Files of a solved design: its columns, and result.json with the hashes of its siblings."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Mapping
from dataclasses import asdict
from math import isnan
from pathlib import Path
from typing import Any

from regen.result import (
    COLUMN_NAMES,
    SCHEMA,
    STATION_COLUMNS,
    Array,
    Margin,
    Result,
    SectionCheck,
)


class OutputError(OSError):
    """The output folder cannot be written; what it held is untouched."""


class Drawn(dict[str, bytes]):
    """SVG documents by path within the output folder.

    Parameters
    ----------
    files : mapping of str to bytes
        Those that were drawn.
    not_drawn : tuple of str
        Of each that was not, which and why, in words.
    """

    def __init__(
        self, files: Mapping[str, bytes] | None = None, not_drawn: tuple[str, ...] = ()
    ) -> None:
        super().__init__(files or {})
        self.not_drawn = not_drawn


def stations_text(result: Result) -> str:
    """Return the stations as CSV text: one header row, rows by rising x.

    Parameters
    ----------
    result : Result
        Solved design.

    Returns
    -------
    str
        CSV text.
    """
    return _columns_text({name: result.stations[name] for name in STATION_COLUMNS})


def checked_text(result: Result) -> str:
    """Return the columns of the strength checks as CSV text, rows as the stations.

    Parameters
    ----------
    result : Result
        Solved design.

    Returns
    -------
    str
        CSV text; a cell is empty where a value is not known.
    """
    return _columns_text(result.checked)


def _columns_text(columns: Mapping[str, Array]) -> str:
    rows = zip(*columns.values(), strict=True)
    lines = [",".join(columns)]
    lines += [",".join("" if isnan(one) else f"{one:.9g}" for one in row) for row in rows]
    return "\n".join(lines) + "\n"


def result_object(result: Result, files: dict[str, str]) -> dict[str, Any]:
    """Return what result.json holds.

    Parameters
    ----------
    result : Result
        Solved design.
    files : dict
        SHA-256 of each sibling file by name.

    Returns
    -------
    dict
        JSON-serialisable.
    """
    return {
        "schema": SCHEMA,
        "title": result.title,
        "status": result.status,
        "verdict": result.verdict,
        "summary": dict(result.summary),
        "circuits": [asdict(circuit) for circuit in result.circuits],
        "bands": {name: asdict(band) for name, band in result.bands.items()},
        "excluded": dict(result.excluded),
        "worst_channel": dict(result.worst_channel),
        "margins": [margin_object(margin) for margin in result.margins],
        "findings": [asdict(finding) for finding in result.findings],
        "notes": [asdict(note) for note in result.notes],
        "section_checks": [_section(check) for check in result.section_checks],
        "provenance": dict(result.provenance),
        "files": files,
    }


def margin_object(margin: Margin) -> dict[str, Any]:
    """Return a row with what it works out itself: the margin of each column, or null."""
    of_columns = {name: margin.margin(name) for name in COLUMN_NAMES}
    return {**asdict(margin), **of_columns, "informative": margin.informative}


def _section(check: SectionCheck) -> dict[str, Any]:
    """Return a section check with the differences that it works out itself."""
    return {
        **asdict(check),
        "T_difference_K": check.T_difference_K,
        "T_difference": check.T_difference,
        "q_difference": check.q_difference,
    }


def check_writable(folder: Path) -> None:
    """Refuse an output folder that cannot be made or written, before anything is computed.

    Parameters
    ----------
    folder : Path
        Output folder; it need not exist.

    Raises
    ------
    OutputError
        If a file is in its way, or there is no permission.
    """
    existing = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    if not existing.is_dir():
        message = f"cannot write {folder}: {existing} is a file; give another folder with -o"
        raise OutputError(message)
    if not os.access(existing, os.W_OK):
        message = f"cannot write {folder}: no permission in {existing}; give another with -o"
        raise OutputError(message)


def write(result: Result, folder: Path, siblings: Mapping[str, bytes] | None = None) -> list[Path]:
    """Write stations.csv, strength.csv and other files, then result.json with their hashes.

    Files that an earlier result.json lists and this one does not are removed, unless they were
    changed since: an old report beside a new result would mislead.

    Everything is written beside its place first and moved there at the end, result.json last: a
    killed run leaves each file whole, and a result.json that belongs to other files says so.

    Parameters
    ----------
    result : Result
        Solved design.
    folder : Path
        Output folder, made if it is absent.
    siblings : mapping of str to bytes, optional
        Further files by path within the folder.

    Returns
    -------
    list of Path
        Files written.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    contents = {"stations.csv": stations_text(result).encode()}
    if result.checked:
        contents["strength.csv"] = checked_text(result).encode()
    contents |= siblings or {}
    return publish(folder, contents, "result.json", lambda files: result_object(result, files))


def publish(
    folder: Path,
    contents: Mapping[str, bytes],
    index: str,
    describe: Callable[[dict[str, str]], Mapping[str, Any]],
    not_drawn: tuple[str, ...] = (),
) -> list[Path]:
    """Write files and, last, the index that holds their hashes; see ``write`` for how.

    Parameters
    ----------
    folder : Path
        Output folder, made if it is absent.
    contents : mapping of str to bytes
        Files by path within the folder.
    index : str
        Name of the index, JSON.
    describe : callable
        Makes what the index holds from the files' SHA-256 by name; it keeps them under "files".
    not_drawn : tuple of str
        Figures that could not be drawn and why, kept in the index under "figures_not_drawn".

    Returns
    -------
    list of Path
        Files written, the index last.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    hashes = {name: hashlib.sha256(content).hexdigest() for name, content in contents.items()}
    told = dict(describe(hashes))
    if not_drawn:
        told["figures_not_drawn"] = list(not_drawn)
    text = json.dumps(told, indent=1, allow_nan=False)
    whole = {**contents, index: (text + "\n").encode()}
    try:
        old = _listed(folder, index)
        _replace_all({folder / name: content for name, content in whole.items()})
        for name in old - set(whole):
            (folder / name).unlink(missing_ok=True)
    except OSError as error:
        message = f"cannot write {folder}: {error.strerror or error}; give another folder with -o"
        raise OutputError(message) from error
    return [folder / name for name in whole]


def _listed(folder: Path, index: str) -> set[str]:
    """Return the files that the folder's index lists and that are still as it says."""
    try:
        hashes = json.loads((folder / index).read_bytes())["files"]
        return {
            name
            for name, digest in hashes.items()
            if hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return set()


def _replace_all(contents: Mapping[Path, bytes]) -> None:
    staged: dict[Path, Path] = {}
    try:
        for path, content in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            # not a temporary file of the system's: those are readable by their owner alone
            staged[path] = path.with_name(f".{path.name}.{os.getpid()}.part")
            staged[path].write_bytes(content)
        for path, part in staged.items():
            part.replace(path)
    finally:
        for part in staged.values():
            part.unlink(missing_ok=True)
