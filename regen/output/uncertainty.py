"""An uncertainty study: every design as samples.csv, figures, uncertainty.json and a summary."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.output.folder import Folder
from regen.output.labels import limit_name
from regen.output.table import Column, Table, text_column, text_columns
from regen.quantities import quantity
from regen.sources import read_data
from regen.studies.uncertainty.distributions import TRUNCATED
from regen.studies.uncertainty.indices import CONFIDENCE, Indices
from regen.studies.uncertainty.study import EVERY_KEPT, OUTPUTS, QUANTILES, Kept, Uncertainty

SCHEMA = 1
INDEX = "uncertainty.json"
SAMPLES = "samples.csv"

LABELS = {EVERY_KEPT: "whether every limit is met"} | {key: quantity(key).label for key in OUTPUTS}
"""Names of what has indices."""

SHOWN = (0.05, 0.5, 0.95)
"""Quantiles of the summary, of ``QUANTILES``."""

INTERVAL = f"{100.0 * CONFIDENCE:g} % interval"
NOTES: Mapping[str, str] = read_data("studies.toml")["uncertainty"]["notes"]
ERROR, MODELS = NOTES["error"].format(interval=INTERVAL), NOTES["models"]
MOST = 4
"""Inputs named for each output."""

LOST = 0.05
"""Share of base points left out of an index above which it is noted [-]."""


def write(study: Uncertainty, folder: Path) -> list[Path]:
    """Write samples.csv and uncertainty.json, then both again with the figures."""
    out = Folder(folder, INDEX)
    out.add(SAMPLES, samples(study))
    description = uncertainty_object(study)
    out.write(description)
    from regen.output.figures.uncertainty import figures

    for name, make in figures(study).items():
        out.draw(name, make)
    return out.write(description)


def samples(study: Uncertainty) -> Table:
    """Return every design as a row.

    ``sample`` is A or B, the base samples that are counted, or the input that A has from B;
    ``point`` numbers the base points.
    """
    rows, batch = study.rows, study.batch
    sets = ["A", "B", *(one.path for one in study.inputs)]
    margins = {f"margin_{name}": runs["nominal"] for name, runs in rows.margins.items()}
    numbers = {**study.outputs, **margins, "x_reached_m": rows.x_stop}
    return Table.of_arrays(
        {
            "sample": np.repeat(sets, study.samples),
            "point": np.tile(np.arange(study.samples), len(sets)),
            **{p.column: column for p, column in zip(batch.keys, batch.values.T, strict=True)},
            **{f"models.{role}": np.array(names) for role, names in (batch.models or {}).items()},
            "status": rows.status,
            "verdict": rows.verdict,
            **{k: np.where(np.isfinite(column), column, np.nan) for k, column in numbers.items()},
            "reason": rows.reason,
        }
    )


def uncertainty_object(study: Uncertainty) -> dict[str, Any]:
    """Return what uncertainty.json holds; null where there is no number."""
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
        "limits": {one.limit: _kept_object(one) for one in study.kept},
        "quantiles_at": list(QUANTILES),
        "quantiles": {name: _numbers(values) for name, values in study.quantiles.items()},
        "indices": {name: _indices_object(study, one) for name, one in study.indices.items()},
        "bands_along_x": _along_object(study),
        "summary": lines(study),
        "provenance": dict(study.provenance),
    }


def _numbers(values: Iterable[float]) -> list[float | None]:
    return [float(value) if np.isfinite(value) else None for value in values]


def _kept_object(one: Kept) -> dict[str, Any]:
    """Return how often a limit was kept; no probability where it could not be evaluated."""
    whole = {"probability": one.probability, "count": one.count, **asdict(one)}
    return whole if one.known else whole | dict.fromkeys(("probability", "low", "high"))


def _indices_object(study: Uncertainty, indices: Indices) -> dict[str, Any]:
    columns = {name: _numbers(values) for name, values in asdict(indices).items() if name != "used"}
    return {
        one.path: {name: values[n] for name, values in columns.items()}
        | {"base_points_used": int(indices.used[n])}
        for n, one in enumerate(study.inputs)
    }


def _along_object(study: Uncertainty) -> dict[str, Any] | None:
    if study.along is None:
        return None
    bands = zip(QUANTILES, study.along.T_wall_hot, strict=True)
    return {
        "x_m": _numbers(study.along.x),
        "T_wall_hot_K": {f"{level:g}": _numbers(row) for level, row in bands},
        "how": study.along.how or None,
    }


def lines(study: Uncertainty) -> list[str]:
    """Return the summary of a study as text."""
    counts = f"{study.base} designs counted, {len(study.rows)} solved or tried, seed {study.seed}"
    return [
        *(f"{study.title}: {counts}", "", *inputs(study).lines(), *_input_notes(study), ""),
        *(*probabilities(study).lines(), *_indicative(study), ERROR, MODELS, *_unsolved(study), ""),
        *(*quantiles(study).lines(), "", *ranking(study).lines(), *lost(study)),
    ]


def inputs(study: Uncertainty) -> Table:
    """Return what varies, and on what basis where nobody gave it."""
    usual = any(one.why for one in study.inputs)
    title = "inputs, independent of each other"
    title += "; the case gives none, so these are usual ones" if usual else ""
    headings = {"path": "input", "text": "distribution", "why": "basis" if usual else ""}
    return Table([text_column(*one) for one in headings.items()], study.inputs, title)


def _input_notes(study: Uncertainty) -> list[str]:
    notes = [f"left out: {text}" for text in study.left_out]
    if any(one.given.law == "normal" for one in study.inputs):
        notes.append(f"normal distributions are {TRUNCATED}")
    return notes


def probabilities(study: Uncertainty) -> Table:
    """Return how probably each limit is met, and why designs did not meet it."""
    columns = text_columns("limit", f"probability, {INTERVAL}", f"not met, of {study.base}")
    title = "probability of meeting each limit, nominal channel"
    rows = [[limit_name(k.limit, k.informative), interval(k), missed(k)] for k in study.kept]
    return Table(columns, rows, title)


def interval(one: Kept) -> str:
    """Return a probability with its interval, or that it is not known."""
    if not one.known:
        return "not known"
    return f"{one.probability:.3f} ({one.low:.3f} to {one.high:.3f})"


def missed(one: Kept) -> str:
    """Return why designs did not meet a limit, in numbers of designs."""
    numbers = (one.broken, one.not_evaluated, one.not_solved)
    reasons = zip(("exceeded", "not evaluated", "not solved"), numbers, strict=True)
    return ", ".join(f"{why} {number}" for why, number in reasons if number)


def _indicative(study: Uncertainty) -> list[str]:
    """Name the limits that the case itself meets or exceeds only by an indication."""
    names = [
        limit_name(one.name)
        for one in (study.nominal.margins if study.nominal is not None else ())
        if one.verdict is not None and one.columns["nominal"].indicative
    ]
    text = "indicative only, by a floor or a correlation not made for this fluid: "
    return [text + ", ".join(names)] if names else []


def _unsolved(study: Uncertainty) -> list[str]:
    """Return what was not solved among the designs counted, and the first reason of each kind."""
    base = slice(0, study.base)
    status, reason = study.rows.status[base], study.rows.reason[base]
    text = []
    for kind in dict.fromkeys(status[status != "solved"]):
        rows = np.flatnonzero(status == kind)
        first = str(reason[rows[0]]).removeprefix("not solved: ")
        count = f"{rows.size} of {study.base} designs{_by_model(study, rows)}"
        text.append(f"not solved, {kind}: {count}; first: {first}")
    if text:
        text.append("designs that are not solved meet no limit, and count as worse than any other")
    return text


def _by_model(study: Uncertainty, rows: NDArray[np.intp]) -> str:
    """Return how many of some designs have which correlation of each role."""
    roles = []
    for role, names in (study.batch.models or {}).items():
        counts = sorted(Counter(names[n] for n in rows).items())
        roles.append(f"models.{role} " + ", ".join(f"{one} {n}" for one, n in counts))
    return f" ({'; '.join(roles)})" if roles else ""


def quantiles(study: Uncertainty) -> Table:
    """Return the values that shares of the designs lie below, and those of the case itself."""
    own = study.nominal.summary if study.nominal else {}

    def row(key: str) -> list[str | None]:
        shown = quantity(key)
        values = (float(study.quantiles[key][QUANTILES.index(level)]) for level in SHOWN)
        cells = [shown.text(value) if np.isfinite(value) else "not solved" for value in values]
        return [shown.label, shown.unit, *cells, shown.text(own[key]) if key in own else None]

    columns = [text_column("output", "output"), text_column("unit")]
    columns += [Column(f"below_{level:g}", f"{100.0 * level:.0f} %") for level in SHOWN]
    columns += [Column("case", "the case itself")]
    return Table(columns, [row(key) for key in OUTPUTS], "shares of the designs that lie below")


def ranking(study: Uncertainty) -> Table:
    """Return the inputs that matter most to each output."""
    keys = {"total": "total index", "interval": INTERVAL, "first": "first order"}
    columns = text_columns("output", "input")
    columns += [Column(key, heading) for key, heading in keys.items()]
    rows: list[list[str | float]] = []
    for key, label in LABELS.items():
        index = study.indices[key]
        order = np.argsort(-np.nan_to_num(index.total, nan=-1.0), kind="stable")[:MOST]
        known = [n for n in order if not np.isnan(index.total[n])]
        if not known:
            text = "no index: it does not vary, or too little was solved"
            rows.append([label, text, "", "", ""])
        for n in [n for n in known if n == known[0] or index.total[n] >= 0.01]:
            ends = f"{index.total_low[n]:.2f} to {index.total_high[n]:.2f}"
            numbers = (float(index.total[n]), ends, float(index.first[n]))
            rows.append(["" if n != known[0] else label, study.inputs[n].path, *numbers])
    return Table(columns, rows, "what matters most")


def lost(study: Uncertainty) -> list[str]:
    """Return how many base points the indices leave out, if that matters."""
    used = np.concatenate([study.indices[key].used for key in OUTPUTS])
    if not used.size or used.min() >= (1.0 - LOST) * study.samples:
        return []
    least, most = int(used.min()), int(used.max())
    return [NOTES["lost"].format(least=least, most=most, samples=study.samples)]
