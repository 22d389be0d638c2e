"""Designs side by side: inputs that differ, quantities, limits; a page, curves, compare.json."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from regen.output.figures.along import curve, panels
from regen.output.figures.style import CORNER, THROAT, line_look
from regen.output.folder import Folder
from regen.output.labels import COLUMN_MARKS, SEVERITY, column_text, limit_name, limit_text
from regen.output.page import Section, page
from regen.output.review import side_by_side
from regen.output.table import Column, Table, text_column
from regen.quantities import HEADLINE, OPERATION, quantity
from regen.result import COLUMN_NAMES, Result
from regen.storage.cache import made_with

SCHEMA = 1
INDEX = "compare.json"
CURVES = ("T_wall_hot_K", "q_W_m2", "T_coolant_K", "p_coolant_Pa")
CAPTION = "Nominal channels along x: hot-gas-side wall, heat flux, coolant temperature, pressure."
TIGHTEST = 6
"""Limits shown where all designs meet all of them."""


@dataclass(frozen=True)
class Compared:
    """One design: what it is called here, its inputs as text by "section.key", its result."""

    name: str
    inputs: dict[str, str]
    result: Result


def verdicts(designs: Sequence[Compared]) -> list[str]:
    """Return the name, title and verdict of each design."""
    return [f"{one.name}: {one.result.title}: {one.result.verdict}" for one in designs]


def inputs_table(designs: Sequence[Compared]) -> Table:
    """Return the inputs that are not the same in all designs; a section that one lacks, once."""
    held = [{key.rpartition(".")[0] for key in one.inputs} for one in designs]
    rows: dict[str, tuple[str, ...]] = {}
    for key in dict.fromkeys(key for one in designs for key in one.inputs):
        section = key.rpartition(".")[0]
        if all(section in sections for sections in held):
            rows[key] = tuple(one.inputs.get(key, "-") for one in designs)
        else:
            rows[section] = tuple("given" if section in sections else "-" for sections in held)
    columns = [text_column("input", "input"), *(text_column(one.name, one.name) for one in designs)]
    return Table(columns, [(key, *v) for key, v in rows.items() if len(set(v)) > 1], kind="whole")


def quantities_table(designs: Sequence[Compared]) -> Table:
    """Return the quantities: nominal, band and worst channel below each other."""
    rows: list[tuple[str, ...]] = []
    for key in HEADLINE:
        cells = [side_by_side(one.result, key) for one in designs]
        labels = (quantity(key).heading, "  band", "  worst channel")
        rows += [
            (label, *each)
            for label, *each in zip(labels, *cells, strict=True)
            if set(each) != {"-"}
        ]
    for shown in map(quantity, OPERATION):
        values = [shown.text(one.result.summary[shown.key]) for one in designs]
        rows.append((shown.heading, *values))
    return Table(_columns("quantity", designs), rows)


def limits_table(designs: Sequence[Compared]) -> Table:
    """Return the limits that any design does not pass, the worst first, or the tightest."""
    by_name = [{m.name: m for m in one.result.margins} for one in designs]
    deciding = [m.name for one in by_name for m in one.values() if not m.informative]
    rows = {name: [one.get(name) for one in by_name] for name in dict.fromkeys(deciding)}

    def order(name: str) -> tuple[int, float]:
        known = [margin for margin in rows[name] if margin is not None]
        worst = [SEVERITY.index(m.verdict) for m in known if m.verdict in SEVERITY]
        values = [m.margin(column) for m in known for column in COLUMN_NAMES]
        least = min((value for value in values if value is not None), default=2.0)
        return min(worst, default=len(SEVERITY)), least

    ranked = sorted(rows, key=order)
    open_ones = [name for name in ranked if order(name)[0] < len(SEVERITY)]
    table = []
    for name in open_ones or ranked[:TIGHTEST]:
        for n, label in enumerate((limit_name(name), "  band edge", "  worst channel")):
            cells = [m and column_text(m, COLUMN_NAMES[n]) for m in rows[name]]
            table.append((label, *(cell or "-" for cell in cells)))
        table.append(("  limit", *(limit_text(m) if m else "-" for m in rows[name])))
        table.append(("  verdict", *((m.verdict or "") if m else "-" for m in rows[name])))
    return Table(_columns("margin of", designs), table)


def _columns(first: str, designs: Sequence[Compared]) -> list[Column]:
    return [text_column(first, first), *(Column(one.name, one.name) for one in designs)]


def parts(designs: Sequence[Compared]) -> Iterator[str | Table]:
    """Yield what a terminal shows."""
    yield from verdicts(designs)
    differing = inputs_table(designs)
    yield from ("", differing if differing.rows else "all inputs are the same")
    yield from ("", quantities_table(designs), "", limits_table(designs), COLUMN_MARKS)


def figure(designs: Sequence[Compared]) -> Any:
    """Return the curves of all designs, a panel a quantity."""
    drawn, axes = panels(len(CURVES), 8.5)
    for ax, key in zip(axes, CURVES, strict=True):
        for n, one in enumerate(designs):
            colour, dash = line_look(n)
            ax.plot(*curve(one.result.stations, key), color=colour, ls=dash, label=one.name)
        ax.set_ylabel(quantity(key).axis)
        ax.axvline(0.0, **THROAT)
    axes[-1].set_xlabel("x [mm], throat at 0 (dotted)")
    axes[0].legend(**CORNER)
    return drawn


def description(designs: Sequence[Compared]) -> dict[str, Any]:
    """Return what compare.json holds."""
    differing = inputs_table(designs)
    return {
        "schema": SCHEMA,
        "designs": [
            {
                "name": one.name,
                "title": one.result.title,
                "verdict": one.result.verdict,
                "summary": dict(one.result.summary),
                "margins": {
                    m.name: {name: m.margin(name) for name in COLUMN_NAMES} | {"verdict": m.verdict}
                    for m in one.result.margins
                },
                "case_sha256": one.result.provenance["case_sha256"],
            }
            for one in designs
        ],
        "inputs": {
            key: dict(zip(differing.headings[1:], v, strict=True)) for key, *v in differing.rows
        },
        "provenance": made_with("numpy"),
    }


def write(designs: Sequence[Compared], path: Path) -> list[Path]:
    """Write compare.html with its figure and compare.json; return the files written."""
    folder = Folder(path, INDEX)
    picture = folder.draw("figures/compare.svg", lambda: figure(designs), CAPTION)
    differing = inputs_table(designs)
    sections = [
        Section("Verdicts", [verdicts(designs)]),
        Section("Inputs that differ", [differing if differing.rows else "None."]),
        Section("Quantities", [quantities_table(designs)]),
        Section("Limits", [limits_table(designs), COLUMN_MARKS]),
        Section("Along x", [picture], kind="fresh"),
    ]
    folder.add("compare.html", page("Designs side by side", sections=sections))
    return folder.write(description(designs))
