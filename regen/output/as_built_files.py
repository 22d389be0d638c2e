"""Files of measured slots: as_built.csv, a row a slot, a page, and as_built.json."""

from __future__ import annotations

import csv
import hashlib
import math
from io import StringIO
from pathlib import Path
from typing import Any

from regen.case.measured import Sheet
from regen.case.read import Case
from regen.checks.review import PACKAGES
from regen.output import sheet as pages
from regen.output.as_built_words import HEAD, UNITS, chamber, headline, lines, notes, row
from regen.output.files import Drawn, publish
from regen.storage.cache import made_with
from regen.studies.as_built.slot_verdict import RULE
from regen.studies.as_built.study import AsBuilt, SlotResult

SCHEMA = 1
INDEX = "as_built.json"
TABLE = "as_built.csv"
PAGE = "as_built.html"
CAPTION = (
    "Peak hot-wall temperature by slot, as measured and under the streak, against the limit; "
    "below, the flow of each slot over the mean."
)


def slot_object(slot: SlotResult) -> dict[str, Any]:
    """Return one slot as plain values, SI; None where there is no number."""
    found: dict[str, Any] = {
        "slot": slot.measured.number,
        "verdict": slot.verdict.word if slot.measured.number else None,
        "why": slot.verdict.why if slot.measured.number else None,
        "limits": "; ".join(slot.verdict.limits) if slot.measured.number else None,
        "out_of_tolerance": "; ".join(slot.outside) or None,
        "wall_inferred": slot.measured.wall_inferred,
    }
    for name, off in slot.measured.deviations.items():
        found[f"{name}_deviation_max_m"] = off.largest
    found |= {
        "flow_over_mean": _known(slot.flow),
        "T_wall_hot_max_K": _known(slot.T_wall),
        "x_T_wall_hot_max_m": _known(slot.x_T_wall),
        "T_wall_hot_max_streak_K": _known(slot.T_streak),
        "coolant_temperature_out_K": _known(slot.T_out),
        "life_conservative_firings": _known(slot.lives[0]),
        "life_optimistic_firings": _known(slot.lives[1]),
    }
    for name, margins in slot.margins.items():
        found[f"margin_{name}"] = _known(margins.own)
        found[f"margin_{name}_streak"] = _known(margins.streak)
        found[f"x_margin_{name}_m"] = _known(slot.places[name])
    return found


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def table_text(found: AsBuilt) -> str:
    """Return the measured slots as CSV text, those to be looked at first on top."""
    rows = [slot_object(slot) for slot in found.worst_first]
    names = list(dict.fromkeys(name for each in rows for name in each))
    buffer = StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(names)
    for each in rows:
        writer.writerow([_cell(each.get(name)) for name in names])
    return buffer.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.9g}" if isinstance(value, float) else str(value)


def page(found: AsBuilt, figures: Drawn) -> str:
    """Return the printable page.

    Parameters
    ----------
    found : AsBuilt
        Solved slots.
    figures : Drawn
        The figure, if it could be drawn.

    Returns
    -------
    str
        HTML.
    """
    shown = [found.drawn, *found.worst_first]
    head = [f"{name}, {unit}" if unit else name for name, unit in zip(HEAD, UNITS, strict=True)]
    marked = [n for n, slot in enumerate(shown) if n and slot.verdict.word != "use"]
    parts = [
        pages.paragraph(headline(found) + "."),
        pages.paragraph(chamber(found) + "."),
        *pages.figures(figures, CAPTION),
        pages.heading("Slots, those to be looked at first on top"),
        pages.table(
            head,
            [row(slot) for slot in shown],
            texts=(0, 1, 9, 10, 11),
            marked=marked,
            whole=True,
        ),
        pages.heading("Rule and notes"),
        pages.points(notes(found)),
    ]
    title = f"{found.design.title}: slots as made"
    subtitle = (
        f"Measured file {found.file}; regen {found.design.provenance['regen']}. "
        "Measured by: ____________   Date: ____________   Decided by: ____________"
    )
    return pages.page(title, subtitle, parts)


def as_built_object(
    found: AsBuilt, case: Case, sheet: Sheet, files: dict[str, str]
) -> dict[str, Any]:
    """Return what as_built.json holds.

    Parameters
    ----------
    found : AsBuilt
        Solved slots.
    case : Case
        What was drawn.
    sheet : Sheet
        What was measured.
    files : dict
        SHA-256 of each sibling file by name.

    Returns
    -------
    dict
        JSON-serialisable; null where there is no number.
    """
    known = any(math.isfinite(slot.flow) for slot in found.slots)
    return {
        "schema": SCHEMA,
        "title": found.design.title,
        "measured_file": found.file,
        "slots_of_the_chamber": found.count,
        "all_usable": found.all_usable,
        "design_verdict": found.design.verdict,
        "coolant_mass_flow_kg_s": found.flow,
        "pressure_drop_Pa": found.drop if known else None,
        "pressure_drop_as_drawn_Pa": found.drop_drawn,
        "flow_at_drop_as_drawn_kg_s": found.flow_at_drop_drawn if known else None,
        "T_wall_hot_limit_K": _known(found.T_limit),
        "limits_left_out": list(found.left_out),
        "life_not_assessed": found.no_life or None,
        "rule": RULE,
        "as_drawn": slot_object(found.drawn),
        "slots": [slot_object(slot) for slot in found.worst_first],
        "words": lines(found),
        "provenance": {
            **made_with(*PACKAGES),
            "case_sha256": case.hash,
            "measured_sha256": hashlib.sha256(sheet.data).hexdigest(),
        },
        "files": files,
    }


def write_as_built(
    found: AsBuilt, case: Case, sheet: Sheet, folder: Path, figures: Drawn | None = None
) -> list[Path]:
    """Write the table, the page and the figure, then as_built.json with their hashes.

    Parameters
    ----------
    found : AsBuilt
        Solved slots.
    case : Case
        What was drawn.
    sheet : Sheet
        What was measured.
    folder : Path
        Output folder, made if it is absent.
    figures : Drawn, optional
        Figures by path within the folder.

    Returns
    -------
    list of Path
        Files written, as_built.json last.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    figures = Drawn() if figures is None else figures
    contents = {
        TABLE: table_text(found).encode(),
        PAGE: page(found, figures).encode(),
        **figures,
    }
    return publish(
        folder,
        contents,
        INDEX,
        lambda files: as_built_object(found, case, sheet, files),
        figures.not_drawn,
    )
