"""The review folder: one self-contained report, its figures, stations and result."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from markupsafe import Markup

from regen.design import Design
from regen.output import review
from regen.output.figures.review import Plate, captions, plates
from regen.output.labels import COLUMN_MARKS, COMPARED, VERDICTS, counts, limit_name, reasons
from regen.output.listing import design_sections, inputs
from regen.output.page import Picture, Section, in_columns, link, page, small
from regen.output.table import Column, Table, text_column
from regen.result import Note, Result


def write_review(
    result: Result, design: Design, case_text: str, changes: Sequence[str], path: Path
) -> list[Path]:
    """Write report.html, the figures, stations.csv, strength.csv and result.json."""
    folder = review.result_folder(result, path)
    pictures = []
    for plate in plates(result, design):
        drawn = folder.draw(f"figures/{plate.name}.svg", plate.draw, plate.caption)
        if isinstance(drawn, Picture):
            pictures.append(replace(drawn, kind=plate.kind))
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
    numbered = [replace(picture, number=n) for n, picture in enumerate(pictures, start=1)]
    of_section = [picture for picture in numbered if picture.name == Plate.SECTION]
    sections = [
        _summary(result),
        _case(design, case_text, changes),
        Section("Figures", [p for p in numbered if p not in of_section], kind="fresh"),
        _stations(result),
        _margins(result),
        *_findings(result),
    ]
    if result.section_checks:
        sections.append(_wall_check(result, of_section))
    used = {margin.source for margin in result.margins}
    used |= {finding.source for finding in result.findings}
    return page(
        result.title,
        f"Thermal review of the chamber wall, regen {result.provenance['regen']}.",
        [*sections, _notes(result)],
        sources=used.union(result.provenance["sources"]),
        contents=True,
    )


def _summary(result: Result) -> Section:
    verdict = Markup('<p><span class="verdict">{}</span> {}: {}.</p>').format(
        result.verdict, VERDICTS[result.verdict], counts(result)
    )
    compared = Markup("<p><strong>{}</strong>: the numbers are predictions.</p>").format(
        COMPARED.capitalize()
    )
    columns = (text_column("label", "operation, nominal"), Column("value"))
    band = result.bands["T_wall_hot_max_K"]
    remark = small(
        "Temperatures to 10 K: the correlations are no better than that. The band is the envelope "
        f"of {len(band.members)} full marches that were solved: {band.rule}. Nominal: "
        f"{review.nominal_basis(result)}. The worst channel is one slot at the bad end of the "
        "shop's tolerances, with less flow and a streak of hot gas on it."
    )
    return Section(
        "Summary",
        [
            *(verdict, compared, reasons(result), review.quantities_table(result)),
            Table(columns, review.operation(result)),
            review.circuits_table(result) if len(result.circuits) > 1 else None,
            remark,
        ],
    )


def _case(design: Design, case_text: str, changes: Sequence[str]) -> Section:
    parts: list[object] = [Markup("<h3>As given</h3>\n<pre>{}</pre>").format(case_text)]
    if changes:
        parts += ["Changed since the file was read:", list(changes)]
    parts.append(Markup("<h3>As read</h3>"))
    parts.append(
        small(
            "Every value used, defaults included. x: throat at 0, injector side negative. "
            "Pressures are absolute."
        )
    )
    columns = (text_column("key", "key"), text_column("value", "value"))
    read: list[object] = []
    for one in design_sections(design):
        read.append(Table(columns, one.rows, title=one.name, kind="numbers"))
        if one.absent:
            read.append(small(f"Not given, derived or not needed: {', '.join(one.absent)}."))
    return Section("Case", [*parts, in_columns(*read)], kind="fresh")


def _stations(result: Result) -> Section:
    several = len(result.circuits) > 1 or result.stations["pass_number"].max() > 1
    letters = "; C is the circuit, P the pass (1 down, 2 back)" if several else ""
    remark = small(
        f"Nominal channel, by rising x{letters}; throat and hottest station are bold. Temperatures "
        "are printed to 1 K to show their course, not their accuracy. All columns in SI are in "
        "stations.csv."
    )
    return Section("Stations", [remark, review.stations_table(result)], kind="sideways wide")


def _margins(result: Result) -> Section:
    remark = small(
        "Per cent of the limit, positive where it is met. Value, limit and place x are those of "
        f"the nominal channel where its margin is smallest. {COLUMN_MARKS.capitalize()}. "
        "Information: reported without a verdict."
    )
    columns = [text_column("name", "margin of"), Column("value"), Column("limit")]
    columns += [Column("x", unit="mm"), Column("nominal"), Column("band_edge")]
    columns += [Column("worst_channel"), text_column("verdict", "verdict")]
    name = Markup('<strong>{}</strong>: {}<br><span class="small">source: {}</span>')
    rows = [
        row
        | {"name": name.format(row["name"], margin.text, link(margin.source))}
        | {"limit": row["limit"].replace("<=", "≤").replace(">=", "≥")}
        for margin, row in zip(result.margins, review.margin_rows(result), strict=True)
    ]
    parts: list[object] = [remark, Table(columns, rows, kind="margins")]
    notes = [f"{limit_name(m.name)}: {m.note}" for m in result.margins if m.note]
    if notes:
        parts += [Markup("<h3>Remarks</h3>"), notes]
    return Section("Margins", parts, kind="fresh")


def _findings(result: Result) -> Iterator[Section]:
    columns = (text_column("text", "quantity"), Column("value"), Column("x_m", decimals=0))
    for name, found in review.findings(result).items():
        rows = [
            (
                Markup('{}<br><span class="small">{}</span>').format(one.text, one.note)
                if one.note
                else one.text,
                *(review.finding_text(one), one.x_m, link(one.source)),
            )
            for one in found
        ]
        emphasis = {n: "small" for n, one in enumerate(found) if one.name in review.SECONDARY}
        table = Table((*columns, text_column("source", "source")), rows, emphasis=emphasis)
        yield Section(name.capitalize(), [table])


def _wall_check(result: Result, pictures: Sequence[Picture]) -> Section:
    notes = [note.text for note in result.notes if note.code == "wall check"]
    held = list(dict.fromkeys(check.note for check in result.section_checks if check.note))
    texts = [f"{text[0].upper()}{text[1:]}." for text in notes]
    table = review.wall_check_table(result)
    return Section(
        "Wall check", [small(captions()["conduction"]), table, *texts, held or None, *pictures]
    )


def _notes(result: Result) -> Section:
    band, known = result.bands["T_wall_hot_max_K"], result.provenance
    models = (f"{role.replace('_', ' ')} {name}" for role, name in known["models"].items())
    parts: list[object] = [
        [review.note_text(note) for note in result.notes],
        Markup("<h3>Correlations</h3>"),
        f"Nominal: {', '.join(models)}.",
        f"Band: {band.rule}. Members:",
        in_columns(band.members),
    ]
    if result.excluded:
        parts += ["Left out, and why:", review.excluded(result)]
    versions = "".join(f", {name} {version}" for name, version in known["packages"].items())
    parts.append(
        small(
            f"Energy balance of the march closes to {result.summary['energy_residual']:.1e}. Case "
            f"SHA-256 {known['case_sha256'] or 'not given'}. Python {known['python']}{versions}."
        )
    )
    return Section("Notes", parts, kind="fresh")
