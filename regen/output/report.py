"""The review folder: one self-contained report, its figures, stations and result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from regen.design import Design
from regen.output import labels, review
from regen.output.figures.review import captions, plates
from regen.output.listing import design_sections, inputs
from regen.output.page import Picture, page
from regen.result import Note, Result


def write_review(
    result: Result, design: Design, case_text: str, changes: Sequence[str], path: Path
) -> list[Path]:
    """Write report.html, the figures, stations.csv, strength.csv and result.json."""
    folder = review.result_folder(result, path)
    drawn = [
        folder.draw(f"figures/{plate.name}.svg", plate.draw, plate.caption)
        for plate in plates(result, design)
    ]
    pictures = [picture for picture in drawn if isinstance(picture, Picture)]
    missing = tuple(Note("figure", text) for text in folder.not_drawn)
    result = replace(result, notes=(*result.notes, *missing))
    folder.add("report.html", html(result, design, case_text, changes, pictures))
    return folder.write(review.result_object(result) | {"inputs": inputs(design)})


def html(
    result: Result,
    design: Design,
    case_text: str,
    changes: Sequence[str],
    pictures: Sequence[Picture],
) -> str:
    """Return the report as one page; it shows the figures that could be drawn."""
    used = {margin.source for margin in result.margins}
    used |= {finding.source for finding in result.findings}
    return page(
        result.title,
        f"Thermal review of the chamber wall, regen {result.provenance['regen']}.",
        sources=used.union(result.provenance["sources"]),
        template="report.html",
        result=result,
        design=design_sections(design),
        case_text=case_text,
        changes=changes,
        pictures=pictures,
        conduction=captions()["conduction"],
        review=review,
        labels=labels,
    )
