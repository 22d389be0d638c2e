"""The table of a sweep as Parquet, for those who have the extra "sweep"."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from regen.output.files import OutputError
from regen.output.sweep_table import TEXTS, fitted


def check_available() -> None:
    """Refuse the format where its library is missing, before anything is computed.

    Raises
    ------
    OutputError
        If pyarrow is not installed.
    """
    try:
        import pyarrow.parquet  # noqa: F401 - a large package, for one format
    except ImportError as error:
        message = (
            "--format parquet needs the package pyarrow, which is not installed: install it with "
            'pip install "regen[sweep]", or leave the option out'
        )
        raise OutputError(message) from error


def joined(path: Path, header: Sequence[str], parts: Iterable[Sequence[str]]) -> None:
    """Write parts of a table as one file.

    Parameters
    ----------
    path : Path
        File to be; written beside its place first.
    header : sequence of str
        Columns [-].
    parts : iterable of sequence of str
        CSV lines of each part, its own header first.
    """
    import pyarrow as pa
    from pyarrow import parquet

    kinds = {"row": pa.int64()} | dict.fromkeys(TEXTS, pa.string())
    schema = pa.schema([(name, kinds.get(name, pa.float64())) for name in header])
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    with parquet.ParquetWriter(beside, schema) as writer:
        for lines in parts:
            rows = list(csv.DictReader([",".join(header), *fitted(lines, header)]))
            columns = [
                pa.array([_value(row[name], field.type) for row in rows], field.type)
                for name, field in zip(header, schema, strict=True)
            ]
            writer.write_table(pa.Table.from_arrays(columns, schema=schema))
    beside.replace(path)


def _value(text: str, kind: Any) -> Any:
    if text == "":
        return None
    if str(kind) == "string":
        return text
    return int(text) if str(kind) == "int64" else float(text)


def read_blocks(path: Path, wanted: Sequence[str], size: int) -> Iterator[dict[str, Any]]:
    """Read columns in blocks.

    Parameters
    ----------
    path : Path
        Parquet file.
    wanted : sequence of str
        Columns; one that is not there is left out [-].
    size : int
        Most rows of a block [-].

    Yields
    ------
    dict of str to ndarray
        By column: numbers, NaN where there is none, or words.
    """
    from pyarrow import parquet

    with parquet.ParquetFile(path) as file:
        names = [name for name in wanted if name in file.schema_arrow.names]
        for batch in file.iter_batches(size, columns=names):
            yield {name: _array(name, batch.column(name).to_pylist()) for name in names}


def _array(name: str, values: list[Any]) -> Any:
    if name in TEXTS:
        return np.array([value or "" for value in values], dtype=object)
    return np.array([np.nan if value is None else float(value) for value in values])
