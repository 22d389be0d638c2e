"""Files of alternatives: alternatives.csv, a row a route, a page, and alternatives.json."""

from __future__ import annotations

import csv
import json
from io import StringIO
from pathlib import Path
from typing import Any

from regen.case.read import Case
from regen.checks.review import PACKAGES
from regen.output import sheet as pages
from regen.output.alternatives_words import HEAD, UNITS, cells, lines, remarks
from regen.output.files import Drawn, publish
from regen.sources import MARKS, cite, find
from regen.storage.cache import made_with
from regen.studies.alternatives.processes import TUBES, Fact, processes
from regen.studies.alternatives.study import LIVES, Alternatives, Row

SCHEMA = 1
INDEX = "alternatives.json"
TABLE = "alternatives.csv"
PAGE = "alternatives.html"
CAPTION = (
    "Peak hot-wall temperature of each route, nominal and of the worst channel, against the limit "
    "of its own liner; and the coolant's pressure drop."
)
SUMMARY = (
    "T_wall_hot_max_K",
    "T_wall_cold_max_K",
    "q_max_W_m2",
    "coolant_temperature_out_K",
    "coolant_pressure_drop_Pa",
    "coolant_pressure_out_Pa",
    "mass_cooled_kg",
)


def row_object(row: Row) -> dict[str, Any]:
    """Return one row as plain values, SI; None where there is no number."""
    result = row.result
    summary = dict(result.summary) if result else {}
    worst = result.worst_channel if result else {}
    known = processes()[row.route].hours
    lives = {name: found.value for name, found in row.lives.items()}
    return {
        "name": row.name,
        "route": row.route,
        "origin": row.origin,
        "status": "solved" if result else "not solved",
        "verdict": result.verdict if result else None,
        **{name: summary.get(name) for name in SUMMARY},
        "T_wall_hot_max_worst_K": worst.get("T_wall_hot_max_K"),
        **{f"{name}_firings": lives.get(name) for name in LIVES},
        "plating_hours": row.plan.on_time / 3600.0 if row.plan else None,
        "plating_calendar_hours": row.plan.calendar_time / 3600.0 if row.plan else None,
        "hours_from": known.low if known else None,
        "hours_to": known.high if known else None,
        "not_made_so": list(row.out_of_reach),
        "bond": row.bond or None,
        "not_assessed": list(row.not_assessed),
        "reason": row.reason or None,
        "values": dict(row.values),
        "case_sha256": row.case.hash if row.case else None,
    }


def table_text(found: Alternatives) -> str:
    """Return the rows as CSV text; lists are joined by semicolons, values stand as JSON."""
    rows = [row_object(row) for row in found.rows]
    buffer = StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(rows[0])
    for row in rows:
        writer.writerow([_cell(value) for value in row.values()])
    return buffer.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return "; ".join(map(str, value))
    if isinstance(value, dict):
        return json.dumps(value)
    return f"{value:.9g}" if isinstance(value, float) else str(value)


def page(found: Alternatives, case: Case, figures: Drawn) -> str:
    """Return the printable page.

    Parameters
    ----------
    found : Alternatives
        Solved rows.
    case : Case
        The base.
    figures : Drawn
        The figure, if it could be drawn.

    Returns
    -------
    str
        HTML.
    """
    head = [f"{name}, {unit}" if unit else name for name, unit in zip(HEAD, UNITS, strict=True)]
    parts = [
        pages.paragraph(
            "The same chamber, closed in other ways. Each row is a solve of its own with its own "
            "liner, roughness, jacket and roof; a starting point is a guess at a first try, to be "
            "made a table [alternatives.name] of the case and filled in from coupons."
        ),
        pages.table(head, [cells(row) for row in found.rows], texts=(0, 1, 5, 9), whole=True),
        *pages.figures(figures, CAPTION),
    ]
    for row in found.rows:
        parts += [pages.heading(row.name), pages.paragraph(processes()[row.route].about)]
        parts.append(pages.points(remarks(row)))
    parts += [pages.heading("Brazed tubes"), pages.paragraph(f"{TUBES[0].upper()}{TUBES[1:]}.")]
    shown = dict.fromkeys(row.route for row in found.rows)
    facts = [(route, fact) for route in shown for fact in processes()[route].facts]
    parts += [
        pages.heading("What is known of the routes"),
        pages.table(
            ("route", "fact", "how it is known"),
            [(route, fact.text, _known(fact)) for route, fact in facts],
            texts=(0, 1, 2),
        ),
        pages.heading("References"),
        pages.points([cite(find(key)) for key in _sources(list(shown))]),
    ]
    subtitle = f"Case {case.path.name}; regen {made_with()['regen']}."
    return pages.page(f"{found.title}: by other routes", subtitle, parts)


def _known(fact: Fact) -> str:
    return MARKS[fact.mark] or "seen in its source"


def _sources(shown: list[str]) -> list[str]:
    known = [processes()[route] for route in shown]
    keys = {fact.source for data in known for fact in data.facts}
    keys |= {feature.source for data in known for feature in data.features}
    return sorted(keys | {data.hours.source for data in known if data.hours})


def alternatives_object(found: Alternatives, case: Case, files: dict[str, str]) -> dict[str, Any]:
    """Return what alternatives.json holds.

    Parameters
    ----------
    found : Alternatives
        Solved rows.
    case : Case
        The base.
    files : dict
        SHA-256 of each sibling file by name.

    Returns
    -------
    dict
        JSON-serialisable; null where there is no number.
    """
    return {
        "schema": SCHEMA,
        "title": found.title,
        "rows": [row_object(row) for row in found.rows],
        "margins": {
            row.name: {
                m.name: {
                    "nominal": m.nominal,
                    "band_edge": m.band_edge,
                    "worst_channel": m.worst_channel,
                    "verdict": m.verdict,
                }
                for m in row.result.margins
            }
            for row in found.rows
            if row.result
        },
        "brazed_tubes": TUBES,
        "words": lines(found),
        "provenance": {**made_with(*PACKAGES), "case_sha256": case.hash},
        "files": files,
    }


def write_alternatives(
    found: Alternatives, case: Case, folder: Path, figures: Drawn | None = None
) -> list[Path]:
    """Write the table, the page and the figure, then alternatives.json with their hashes.

    Parameters
    ----------
    found : Alternatives
        Solved rows.
    case : Case
        The base.
    folder : Path
        Output folder, made if it is absent.
    figures : Drawn, optional
        Figures by path within the folder.

    Returns
    -------
    list of Path
        Files written, alternatives.json last.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    figures = Drawn() if figures is None else figures
    contents = {
        TABLE: table_text(found).encode(),
        PAGE: page(found, case, figures).encode(),
        **figures,
    }
    return publish(
        folder,
        contents,
        INDEX,
        lambda files: alternatives_object(found, case, files),
        figures.not_drawn,
    )
