"""Cases read from their files, and results from the folder of a command."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from regen.case.read import Case, load_case
from regen.library.stations import Stations
from regen.output.folder import OutputError
from regen.result import Array

INDEX_OF = "files"
"""Key of an index file that holds the hashes of the others."""


def load(path: Path | str, values: Mapping[str, Any] | Sequence[str] = ()) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path : Path or str
        Case file, TOML in UTF-8.
    values : mapping, or sequence of str
        Values by "section.key" that replace those of the file: numbers in SI or texts with units,
        a single value where the file has pairs along x; or texts "section.key=value".

    Returns
    -------
    Case
        The checked case; ``case.with_values(...)`` returns a changed one.

    Raises
    ------
    CaseError
        If anything is wrong, with everything that is.
    """
    return load_case(Path(path), values)


class Record(Mapping[str, Any]):
    """What a command wrote: the keys of its index file, and its tables.

    ``path`` is the index file. Numbers are in SI, as their keys say.
    """

    def __init__(self, path: Path, values: Mapping[str, Any]) -> None:
        self.path, self._values = path, values

    def __getitem__(self, key: str) -> Any:
        return self._values[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __repr__(self) -> str:
        return f"<Record of {self.path}: {', '.join(self._values)}>"

    def table(self, name: str) -> dict[str, Array | list[str]]:
        """Return a table of the folder by columns.

        Parameters
        ----------
        name : str
            Such as "stations.csv".

        Returns
        -------
        dict
            Arrays of numbers (rows,) in SI, as their keys say, else lists of texts.

        Raises
        ------
        OutputError
            If the index does not list the file.
        """
        if not name.endswith(".csv") or name not in self[INDEX_OF]:
            known = ", ".join(n for n in self[INDEX_OF] if n.endswith(".csv"))
            message = f"{self.path.parent} has no table {name}; it has {known or 'none'}"
            raise OutputError(message)
        return read_table(self.path.parent / name)

    @property
    def stations(self) -> Stations:
        """Columns along x of a solved design."""
        columns = self.table("stations.csv")
        return Stations({key: np.asarray(cells) for key, cells in columns.items()})


def read_table(path: Path) -> dict[str, Array | list[str]]:
    """Return the columns of a CSV file [SI]: arrays of numbers (rows,), else lists of texts."""
    if path.suffix != ".csv":
        message = f"{path} is no CSV file; read it with a package that knows {path.suffix}"
        raise OutputError(message)
    with path.open(newline="", encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    columns = zip(*rows, strict=True) if rows else [()] * len(head)
    return {key: _column(cells) for key, cells in zip(head, columns, strict=True)}


def read(folder: Path | str) -> Record:
    """Read what a command wrote into a folder.

    Parameters
    ----------
    folder : Path or str
        With an index such as result.json.

    Returns
    -------
    Record
        Keys of the index; tables by name.

    Raises
    ------
    OutputError
        If the folder has no index of a command, or a file is not the one its index lists.
    """
    folder = Path(folder)
    for path in sorted(folder.glob("*.json")):
        try:
            values = json.loads(path.read_bytes())
        except ValueError:
            continue
        if isinstance(values, dict) and isinstance(values.get(INDEX_OF), dict):
            _check_files(path, values[INDEX_OF])
            return Record(path, values)
    message = f"{folder} holds no result of regen; give the folder that a command wrote"
    raise OutputError(message)


def _check_files(path: Path, hashes: Mapping[str, str]) -> None:
    for name, expected in hashes.items():
        try:
            content = (path.parent / name).read_bytes()
        except OSError as error:
            message = f"{path.parent / name} cannot be read ({error.strerror}); solve again"
            raise OutputError(message) from error
        if hashlib.sha256(content).hexdigest() != expected:
            message = f"{path.parent / name} is not the file that {path.name} lists; solve again"
            raise OutputError(message)


def _column(cells: tuple[str, ...]) -> Array | list[str]:
    try:
        return np.array([float(cell) if cell else np.nan for cell in cells])
    except ValueError:
        return list(cells)
