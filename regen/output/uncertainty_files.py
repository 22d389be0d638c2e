"""Files of an uncertainty study: samples.csv, a row for each design, and uncertainty.json."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from dataclasses import asdict
from io import StringIO
from pathlib import Path
from typing import Any

import numpy as np

from regen.output.files import Drawn, publish
from regen.output.uncertainty_words import ERROR, MODELS, lines
from regen.studies.uncertainty.indices import CONFIDENCE, Indices
from regen.studies.uncertainty.study import QUANTILES, Kept, Uncertainty

SCHEMA = 1
INDEX = "uncertainty.json"
SAMPLES = "samples.csv"

BASE = ("A", "B")
"""The two base samples, whose designs are counted."""


def rows(study: Uncertainty) -> Iterator[dict[str, Any]]:
    """Return every design as plain values.

    Parameters
    ----------
    study : Uncertainty
        Sampled and solved.

    Yields
    ------
    dict
        Values by column; None where there is none. ``sample`` is A, B, or the input that A has
        from B; ``point`` numbers the base points.
    """
    table, batch = study.rows, study.batch
    sets = [*BASE, *(one.path for one in study.inputs)]
    numeric = [one for one in study.inputs if one.parameter is not None]
    for n in range(len(table)):
        found: dict[str, Any] = {"sample": sets[n // study.samples], "point": n % study.samples}
        found |= {
            one.column: float(value) for one, value in zip(numeric, batch.values[n], strict=True)
        }
        found |= {f"models.{role}": names[n] for role, names in (batch.models or {}).items()}
        found |= {"status": table.status[n], "verdict": table.verdict[n] or None}
        found |= {name: _number(values[n]) for name, values in study.outputs.items()}
        found |= {
            f"margin_{name}": _number(runs["nominal"][n]) for name, runs in table.margins.items()
        }
        found |= {"x_reached_m": _number(table.x_stop[n]), "reason": table.reason[n] or None}
        yield found


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _numbers(values: Any) -> list[float | None]:
    return [_number(value) for value in values]


def table_text(study: Uncertainty) -> str:
    """Return every design as CSV text: one header row, then one row each.

    Parameters
    ----------
    study : Uncertainty
        Sampled and solved.

    Returns
    -------
    str
        CSV text; nothing stands where there is no value.
    """
    buffer = StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    for n, row in enumerate(rows(study)):
        if n == 0:
            writer.writerow(row)
        writer.writerow([_cell(value) for value in row.values()])
    return buffer.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    return f"{value:.9g}" if isinstance(value, float) else str(value)


def uncertainty_object(study: Uncertainty, files: dict[str, str]) -> dict[str, Any]:
    """Return what uncertainty.json holds.

    Parameters
    ----------
    study : Uncertainty
        Sampled and solved.
    files : dict
        SHA-256 of each sibling file by name.

    Returns
    -------
    dict
        JSON-serialisable; null where there is no number.
    """
    paths = [one.path for one in study.inputs]
    return {
        "schema": SCHEMA,
        "title": study.title,
        "seed": study.seed,
        "samples": study.samples,
        "designs_counted": study.base,
        "designs": len(study.rows),
        "inputs": [
            {
                "key": one.path,
                "law": one.given.law,
                "distribution": one.text,
                "column": one.column,
                "names": list(one.names),
                "reach": list(one.reach) if one.parameter else None,
                "usual": one.why or None,
            }
            for one in study.inputs
        ],
        "left_out": list(study.left_out),
        "confidence": CONFIDENCE,
        "probability_error": ERROR,
        "probability_meaning": MODELS,
        "limits": {one.limit: _kept(one) for one in study.kept},
        "quantiles_at": list(QUANTILES),
        "quantiles": {name: _numbers(values) for name, values in study.quantiles.items()},
        "indices": {name: _indices(paths, found) for name, found in study.indices.items()},
        "bands_along_x": _along(study),
        "summary": lines(study),
        "provenance": dict(study.provenance),
        "files": files,
    }


def _kept(one: Kept) -> dict[str, Any]:
    """Return how often a limit was kept; no probability where it could not be evaluated."""
    found = {"probability": one.probability, "count": one.count, **asdict(one)}
    return found if one.known else found | dict.fromkeys(("probability", "low", "high"))


def _indices(paths: list[str], found: Indices) -> dict[str, Any]:
    by_input: dict[str, Any] = {}
    for n, path in enumerate(paths):
        entry: dict[str, Any] = {k: _number(v[n]) for k, v in asdict(found).items() if k != "used"}
        by_input[path] = {**entry, "base_points_used": int(found.used[n])}
    return by_input


def _along(study: Uncertainty) -> dict[str, Any] | None:
    if study.along is None:
        return None
    bands = np.asarray(study.along.T_wall_hot)
    return {
        "x_m": _numbers(study.along.x),
        "T_wall_hot_K": {f"{q:g}": _numbers(row) for q, row in zip(QUANTILES, bands, strict=True)},
        "how": study.along.how or None,
    }


def write_uncertainty(study: Uncertainty, folder: Path, figures: Drawn | None = None) -> list[Path]:
    """Write samples.csv and the figures, then uncertainty.json with their hashes.

    Parameters
    ----------
    study : Uncertainty
        Sampled and solved.
    folder : Path
        Output folder, made if it is absent.
    figures : Drawn, optional
        Figures by path within the folder.

    Returns
    -------
    list of Path
        Files written, uncertainty.json last.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    contents = {SAMPLES: table_text(study).encode(), **(figures or {})}
    return publish(
        folder,
        contents,
        INDEX,
        lambda files: uncertainty_object(study, files),
        figures.not_drawn if figures is not None else (),
    )
