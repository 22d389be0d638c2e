"""Files of an operating envelope: envelope.csv, a row for each point, and envelope.json."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from io import StringIO
from pathlib import Path
from typing import Any

from regen.output.envelope_words import lines
from regen.output.files import Drawn, publish
from regen.result import Margin
from regen.studies.envelope.study import Envelope, Row

SCHEMA = 1
INDEX = "envelope.json"

RUNS = ("nominal", "band_edge", "worst_channel")

SUMMARY = (
    "T_wall_hot_max_K",
    "x_T_wall_hot_max_m",
    "q_max_W_m2",
    "heat_total_W",
    "coolant_temperature_out_K",
    "coolant_pressure_in_Pa",
    "coolant_pressure_drop_Pa",
    "coolant_pressure_out_Pa",
    "coolant_mach_max",
    "coolant_mass_flow_kg_s",
    "gas_mass_flow_kg_s",
    "characteristic_velocity_m_s",
)
"""Solved quantities of a row, as result.json names them."""


def limits_of(envelope: Envelope) -> tuple[str, ...]:
    """Return the names of every limit that was judged at any point, in the judge's order."""
    order: dict[str, None] = {}
    for row in sorted(envelope.rows, key=lambda row: -len(row.margins)):
        order |= dict.fromkeys(margin.name for margin in row.margins)
    return tuple(order)


def row_object(envelope: Envelope, row: Row) -> dict[str, Any]:
    """Return one point as plain values.

    Parameters
    ----------
    envelope : Envelope
        What the row belongs to.
    row : Row
        The point.

    Returns
    -------
    dict
        Values by column, None where there is none: the coolant's pressures in where it is not
        given, everything solved where nothing was, a margin that was not evaluated.
    """
    point, own = row.point, envelope.nominal.point
    summary: Mapping[str, float] = row.summary or {}
    found: dict[str, Any] = {
        "chamber_pressure_Pa": point.chamber_pressure,
        "chamber_pressure_over_nominal": point.chamber_pressure / own.chamber_pressure,
        "mixture_ratio": point.mixture_ratio,
        "coolant_inlet_temperature_K": point.inlet_temperature,
        "coolant_inlet_pressure_given_Pa": point.inlet_pressure,
        "coolant_outlet_pressure_given_Pa": point.outlet_pressure,
        "on_map": row.on_map,
        "on_throttle_line": row.on_line,
        "nominal_point": row.nominal,
        "status": row.status,
        "verdict": row.verdict or None,
        "coolant_side": row.coolant_side or None,
        "critical_pressure": row.regime or None,
    }
    found |= {name: summary.get(name) for name in SUMMARY}
    margins = {margin.name: margin for margin in row.margins}
    for name in limits_of(envelope):
        for run in RUNS:
            found[f"margin_{name}_{run}"] = getattr(margins.get(name), run, None)
    found |= {
        "not_evaluated": "; ".join(m.name for m in row.margins if m.nominal is None) or None,
        "notes": "; ".join(row.notes) or None,
        "x_reached_m": row.x_m,
        "reason": row.reason or None,
    }
    return found


COLUMNS = {
    "critical_pressure": "where the coolant is to its critical pressure: above, below, or "
    "crosses between inlet and outlet; where it was not solved, its feed",
    "coolant_side": "coolant-side correlation of the nominal run",
    "status": "solved, or what stopped the march",
    "verdict": "of nominal, band edge and worst channel, as in regen solve",
    "margin": "(limit - value)/limit for an upper limit, (value - limit)/limit for a lower one; "
    "empty: not evaluated (see not_evaluated), not solved, or the limit makes no demand there",
    "x_reached_m": "station at which the march stopped",
}
"""Columns that do not explain themselves."""


def table_text(envelope: Envelope) -> str:
    """Return the envelope as CSV text: one header row, then one row for each point.

    Parameters
    ----------
    envelope : Envelope
        Solved envelope.

    Returns
    -------
    str
        CSV text; nothing stands where there is no value.
    """
    rows = [row_object(envelope, row) for row in envelope.rows]
    buffer = StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(rows[0])
    for row in rows:
        writer.writerow([_cell(value) for value in row.values()])
    return buffer.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.9g}" if isinstance(value, float) else str(value)


def envelope_object(envelope: Envelope, files: dict[str, str]) -> dict[str, Any]:
    """Return what envelope.json holds.

    Parameters
    ----------
    envelope : Envelope
        Solved envelope.
    files : dict
        SHA-256 of each sibling file by name.

    Returns
    -------
    dict
        JSON-serialisable.
    """
    limits: dict[str, Margin] = {m.name: m for row in envelope.rows for m in row.margins}
    texts = ("text", "unit", "kind", "source", "informative")
    return {
        "schema": SCHEMA,
        "title": envelope.title,
        "axes": [
            {"name": axis.kind.column, "values": list(axis.values), "nominal": axis.nominal}
            for axis in envelope.axes
        ],
        "rules": dict(envelope.rules),
        "coolant_critical_pressure_Pa": envelope.p_critical or None,
        "summary": lines(envelope),
        "limits": {
            name: {key: getattr(limits[name], key) for key in texts} for name in limits_of(envelope)
        },
        "columns": COLUMNS,
        "rows": [row_object(envelope, row) for row in envelope.rows],
        "provenance": dict(envelope.provenance),
        "files": files,
    }


def write_envelope(envelope: Envelope, folder: Path, figures: Drawn | None = None) -> list[Path]:
    """Write envelope.csv and the figures, then envelope.json with their hashes.

    Parameters
    ----------
    envelope : Envelope
        Solved envelope.
    folder : Path
        Output folder, made if it is absent.
    figures : Drawn, optional
        Figures by path within the folder.

    Returns
    -------
    list of Path
        Files written, envelope.json last.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    contents = {"envelope.csv": table_text(envelope).encode(), **(figures or {})}
    return publish(
        folder,
        contents,
        INDEX,
        lambda files: envelope_object(envelope, files),
        figures.not_drawn if figures is not None else (),
    )
