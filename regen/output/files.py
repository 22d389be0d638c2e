"""Files of a solved design: stations.csv, and result.json with the hashes of its siblings."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from dataclasses import asdict
from pathlib import Path
from typing import Any

from regen.result import SCHEMA, STATION_COLUMNS, Result


class OutputError(OSError):
    """The output folder cannot be written; what it held is untouched."""


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
    rows = zip(*(result.stations[name] for name in STATION_COLUMNS), strict=True)
    lines = [",".join(STATION_COLUMNS)]
    lines += [",".join(f"{value:.9g}" for value in row) for row in rows]
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
        "bands": {name: asdict(band) for name, band in result.bands.items()},
        "excluded": dict(result.excluded),
        "worst_channel": dict(result.worst_channel),
        "margins": [asdict(margin) for margin in result.margins],
        "notes": [asdict(note) for note in result.notes],
        "provenance": dict(result.provenance),
        "files": files,
    }


def write(result: Result, folder: Path) -> list[Path]:
    """Write stations.csv, then result.json; each is whole or absent.

    Parameters
    ----------
    result : Result
        Solved design.
    folder : Path
        Output folder, made if it is absent.

    Returns
    -------
    list of Path
        Files written.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    stations = stations_text(result)
    files = {"stations.csv": hashlib.sha256(stations.encode()).hexdigest()}
    text = json.dumps(result_object(result, files), indent=1, allow_nan=False)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in (("stations.csv", stations), ("result.json", text + "\n")):
            _replace(folder / name, content)
    except OSError as error:
        message = f"cannot write {folder}: {error.strerror or error}; give another folder with -o"
        raise OutputError(message) from error
    return [folder / "stations.csv", folder / "result.json"]


def _replace(path: Path, content: str) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(content)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
