"""A solved design: its files, the tables of it that are shown, and its summary on a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from regen import result as results
from regen.design import Design
from regen.output import labels
from regen.output.folder import Folder
from regen.output.listing import inputs
from regen.output.table import STYLES, Column, Table, print_parts, text_column
from regen.quantities import HEADLINE, OPERATION, STATION, amount, quantity
from regen.result import COLUMN_NAMES, Array, Finding, Margin, Note, Result

if TYPE_CHECKING:
    from rich.console import Console

INDEX = "result.json"

SECONDARY = ("life_optimistic", "life_optimistic_modified")
"""Findings that judge nothing and are printed smaller."""

PRINTED = ("proof", "life")
"""Findings that a terminal shows; the others are long."""

DIFFERENCES = ("T_difference_K", "T_difference", "q_difference")
"""Of a section check: closed form less finite elements."""

# files


def result_folder(result: Result, path: Path) -> Folder:
    """Return the folder of a result with its columns along x, to be added to and written."""
    folder = Folder(path, INDEX)
    columns = {name: result.stations[name] for name in results.STATION_COLUMNS}
    folder.add("stations.csv", Table.of_arrays(columns))
    if result.checked:
        folder.add("strength.csv", Table.of_arrays(result.checked))
    return folder


def write(result: Result, design: Design, path: Path) -> list[Path]:
    """Write stations.csv, strength.csv and, last, result.json with their hashes."""
    return result_folder(result, path).write(result_object(result) | {"inputs": inputs(design)})


def result_object(result: Result) -> dict[str, Any]:
    """Return what result.json holds beside the hashes of its siblings."""
    return {
        "schema": results.SCHEMA,
        "title": result.title,
        "status": result.status,
        "verdict": result.verdict,
        "summary": dict(result.summary),
        "circuits": [asdict(circuit) for circuit in result.circuits],
        "bands": {name: asdict(band) for name, band in result.bands.items()},
        "excluded": dict(result.excluded),
        "worst_channel": dict(result.worst_channel),
        "margins": [margin_object(margin) for margin in result.margins],
        "findings": [asdict(finding) for finding in result.findings],
        "notes": [asdict(note) for note in result.notes],
        "section_checks": [
            asdict(check) | {name: getattr(check, name) for name in DIFFERENCES}
            for check in result.section_checks
        ],
        "provenance": dict(result.provenance),
    }


def result_from(values: Mapping[str, Any], stations: Mapping[str, Array]) -> Result:
    """Return what a folder holds of a result: all but bands along x, contour and section."""
    plain = ("title", "status", "verdict", "summary", "worst_channel", "excluded", "provenance")
    margins = []
    for row in values["margins"]:
        columns = {name: results.Column(**column) for name, column in row["columns"].items()}
        own = {field.name: row[field.name] for field in fields(Margin)}
        margins.append(Margin(**own | {"columns": columns}))
    return Result(
        **{name: values[name] for name in plain},
        bands={name: results.Band(**band) for name, band in values["bands"].items()},
        margins=tuple(margins),
        notes=tuple(Note(**note) for note in values["notes"]),
        circuits=tuple(results.CircuitResult(**circuit) for circuit in values["circuits"]),
        findings=tuple(Finding(**finding) for finding in values["findings"]),
        stations=stations,
        station_bands={},
        contour_x=stations["x_m"],
        contour_r=stations["r_m"],
    )


def margin_object(margin: Margin) -> dict[str, Any]:
    """Return a limit's row as plain values, with the margin of each column, or null."""
    margins = {name: margin.margin(name) for name in COLUMN_NAMES}
    return {**asdict(margin), **margins, "informative": margin.informative}


# tables


def quantities_table(result: Result) -> Table:
    """Return the quantities shown first: nominal, band and worst channel side by side."""
    columns = [text_column("quantity", "quantity")]
    columns += map(Column, ("nominal", "band", "worst channel"))
    return Table(columns, [(quantity(k).heading, *side_by_side(result, k)) for k in HEADLINE])


def side_by_side(result: Result, key: str) -> tuple[str, str, str]:
    """Return nominal, band and worst channel of a quantity, which may be open at an end."""
    shown, worst = quantity(key), result.worst_channel
    of_band = "-"
    if band := result.bands.get(key):
        falls = key == "coolant_pressure_out_Pa"  # as the wall gets hotter
        low = shown.text(band.min) + " or less" * (band.open and falls)
        high = shown.text(band.max) + " or more" * (band.open and not falls)
        of_band = f"{low} to {high}"
    more = " or more" if worst.get("corners_not_solved") and key in worst else ""
    return shown.text(result.summary[key]), of_band, shown.text(worst.get(key)) + more


def operation(result: Result) -> list[tuple[str, str]]:
    """Return the quantities of the operating point: label, value with its unit."""
    shown = map(quantity, OPERATION)
    return [(one.label, one.amount(result.summary[one.key])) for one in shown]


def circuits_table(result: Result) -> Table:
    """Return the circuits from manifold to manifold."""
    columns = (
        text_column("name", "circuit"),
        Column("x", unit="mm"),
        Column("mass_flow_kg_s", "flow"),
        Column("flow_share", "share", "%"),
        Column("heat_W", "heat", "kW", 1),
        Column("temperature_rise_K", "rise", decimals=0),
        Column("pressure_drop_Pa", "drop"),
        Column("T_wall_hot_max_K", "hot wall", decimals=-1),
        Column("x_T_wall_hot_max_m", "at x", decimals=0),
    )
    rows = [
        asdict(one) | {"x": f"{place(one.x_from_m)} to {place(one.x_to_m)}"}
        for one in result.circuits
    ]
    return Table(columns, rows)


def margins_table(result: Result) -> Table:
    """Return the limits with their margins for a terminal."""
    columns = [text_column("name", "margin of"), Column("limit"), Column("nominal")]
    columns += [Column("band_edge"), Column("worst_channel", "worst"), Column("verdict")]
    rows = [
        (
            labels.limit_name(margin.name, margin.informative),
            labels.limit_text(margin).replace("at most", "<=").replace("at least", ">="),
            *(labels.column_text(margin, name) for name in COLUMN_NAMES),
            margin.verdict or "",
        )
        for margin in result.margins
    ]
    return Table(columns, rows)


def findings(result: Result) -> dict[str, list[Finding]]:
    """Return the findings by section, in their order."""
    return labels.grouped(result.findings, attrgetter("section"))


def finding_text(finding: Finding) -> str:
    """Return the value of a finding with its unit."""
    if finding.value is None:
        return "not assessed"
    return amount(finding.value, finding.unit, finding.name)


def findings_table(rows: list[Finding]) -> Table:
    """Return findings for a terminal."""
    small = {n: "small" for n, finding in enumerate(rows) if finding.name in SECONDARY}
    cells = [("  " * (n in small) + one.text, finding_text(one)) for n, one in enumerate(rows)]
    return Table((text_column("text"), Column("value", "")), cells, emphasis=small)


def wall_check_table(result: Result) -> Table:
    """Return the wall by closed form and by finite elements."""
    columns = (
        text_column("place", "place"),
        Column("x_m", "x"),
        Column("T_wall_hot_K", "closed form", decimals=0),
        Column("T_wall_hot_fe_K", "finite elements", decimals=0),
        Column("T_difference_K", "difference", decimals=1, sign="+"),
        Column("T_difference", "of wall less coolant", "%", 1, sign="+"),
        Column("q_difference", "heat flux", "%", 1, sign="+"),
        Column("T_error_K", "mesh", decimals=2),
    )
    return Table(columns, result.section_checks)


def stations_table(result: Result) -> Table:
    """Return the stations of the nominal channel, throat and hottest station marked."""
    stations = result.stations
    several = [
        Column(key, heading, decimals=0)
        for key, heading in (("circuit", "C"), ("pass_number", "P"))
        if stations[key].max() > 1
    ]
    columns = [*several, *map(Column, STATION), text_column("station", "station")]
    throat, hottest = int(abs(stations["x_m"]).argmin()), int(stations["T_wall_hot_K"].argmax())
    names = {hottest: "hottest"}
    names[throat] = "throat, hottest" if throat == hottest else "throat"
    arrays = (stations[column.key].tolist() for column in columns[:-1])
    rows = [(*row, names.get(n, "")) for n, row in enumerate(zip(*arrays, strict=True))]
    return Table(columns, rows, emphasis=dict.fromkeys(names, "marked"), kind="numbers")


# texts


def place(x: float | None) -> str:
    """Return an axial position [m] in millimetres."""
    return quantity("x_m", decimals=0).text(x)


def note_text(note: Note) -> str:
    """Return a note with its subject."""
    return f"{note.code.replace('-', ' ')}: {note.text}"


def nominal_basis(result: Result) -> str:
    """Return what chose the nominal correlations and where they stand in the band."""
    return next((note.text for note in result.notes if note.code == "basis"), "")


def excluded(result: Result) -> list[str]:
    """Return the members that the band leaves out, those with the same reason together."""
    by_reason = labels.grouped(result.excluded, result.excluded.__getitem__)
    return [f"{', '.join(names)}: {reason}" for reason, names in by_reason.items()]


def cautions_of_passes(result: Result) -> list[str]:
    """Return what limits that pass rest on; other limits say it with their reason."""
    passed = [m for m in result.margins if m.verdict == "pass" and m.columns["nominal"].caution]
    return [f"{labels.limit_name(m.name)}: {m.columns['nominal'].caution}" for m in passed]


def slots(design: Design) -> str:
    """Return the numbers of slots of a design, as "80", or "60 to 80" where they differ."""
    channels = [circuit.channels for circuit in design.circuits] or [design.channels]
    numbers = [n for c in channels for n in (c.count, *(n for _, n in c.count_changes))]
    low, high = min(numbers), max(numbers)
    return f"{low}" if low == high else f"{low} to {high}"


# terminal


def summary(result: Result) -> list[str | Table]:
    """Return verdict, quantities side by side, limits, wall check if there is one, and notes."""
    parts: list[str | Table] = [
        f"{result.title}: {result.verdict} ({labels.counts(result)})",
        f"{labels.VERDICTS[result.verdict]}; {labels.COMPARED}",
        "",
        quantities_table(result),
        "",
        "; ".join(f"{label} {value}" for label, value in operation(result)),
        "",
    ]
    if len(result.circuits) > 1:
        parts += [circuits_table(result), ""]
    parts += [margins_table(result), labels.COLUMN_MARKS, ""]
    if texts := [*labels.reasons(result), *cautions_of_passes(result)]:
        parts += [*texts, ""]
    sections = findings(result)
    for name in (name for name in PRINTED if name in sections):
        parts += [name, findings_table(sections.pop(name)), ""]
    if sections:
        parts += [f"{', '.join(sections)}: in result.json and the report", ""]
    if result.section_checks:
        title = "hot wall by the closed form, and by finite elements on the true section"
        parts += [title, wall_check_table(result), ""]
    return parts + [f"note: {note_text(note)}" for note in result.notes]


def print_summary(result: Result, console: Console) -> None:
    """Print the summary, the verdict in its colour."""
    from rich.text import Text

    first, *rest = summary(result)
    head = Text(str(first))
    start = len(f"{result.title}: ")
    head.stylize(STYLES[result.verdict], start, start + len(result.verdict))
    print_parts([head, *rest], console)
