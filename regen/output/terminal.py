"""Summary of a solved design for a terminal."""

from __future__ import annotations

from rich.console import Console, JustifyMethod
from rich.table import Table
from rich.text import Text

from regen.output import words
from regen.result import COLUMN_NAMES, Finding, Result

STYLES = {"pass": "green", "open": "magenta", "at risk": "yellow", "fail": "bold red"}


PRINTED = ("proof", "life")
"""Tables of findings that are printed; the others are long."""


def print_summary(result: Result, console: Console) -> None:
    """Print verdict, quantities side by side, margins, wall check if there is one, and notes.

    Parameters
    ----------
    result : Result
        Judged design.
    console : rich.console.Console
        Where to print; it leaves colours out when it is no terminal.
    """
    style = STYLES[result.verdict]
    head = (result.verdict, style), f" ({words.counts(result)})"
    console.print(Text.assemble(result.title, ": ", *head))
    console.print(f"{words.VERDICTS[result.verdict]}; {words.COMPARED}", highlight=False)
    console.print()
    console.print(_quantities(result))
    console.print()
    operation = (f"{q.label} {q.say(result.summary[q.key])} {q.unit}" for q in words.OPERATION)
    console.print("; ".join(operation), highlight=False)
    console.print()
    if len(result.circuits) > 1:
        console.print(_circuits(result))
        console.print()
    console.print(_margins(result))
    console.print(words.COLUMN_MARKS, highlight=False)
    console.print()
    for line in (*words.reasons(result), *words.cautions_of_rows(result)):
        console.print(line, highlight=False, markup=False)
    console.print()
    tables = dict(words.finding_tables(result))
    for name in [name for name in PRINTED if name in tables]:
        console.print(name)
        console.print(_findings(tables.pop(name)))
        console.print()
    if tables:
        console.print(f"{', '.join(tables)}: in result.json and the report", highlight=False)
        console.print()
    if result.section_checks:
        console.print("hot wall by the closed form, and by finite elements on the true section")
        console.print(_sections(result))
        console.print()
    for note in result.notes:
        console.print(f"note: {words.note(note)}", highlight=False, markup=False)


def _quantities(result: Result) -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column("")
    for heading in ("nominal", "band", "worst channel"):
        table.add_column(heading, justify="right")
    for quantity in words.HEADLINE:
        nominal, low, high, worst = words.side_by_side(result, quantity)
        band = "-" if low == "-" else f"{low} to {high}"
        table.add_row(f"{quantity.label}, {quantity.unit}", nominal, band, worst)
    return table


def _circuits(result: Result) -> Table:
    table = Table(box=None, pad_edge=False)
    for n, (heading, unit) in enumerate(words.CIRCUIT_HEADINGS):
        justify: JustifyMethod = "left" if n == 0 else "right"
        table.add_column(f"{heading}\n{unit}", justify=justify, no_wrap=True)
    for circuit in result.circuits:
        table.add_row(*words.circuit_row(circuit))
    return table


def _margins(result: Result) -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column("margin of")
    for heading in ("limit", "nominal", "band edge", "worst", "verdict"):
        table.add_column(heading, justify="right")
    for margin in result.margins:
        name = words.short(margin) + (" (information)" if margin.informative else "")
        said = (words.column(margin, column) for column in COLUMN_NAMES)
        verdict = f"[{STYLES[margin.verdict]}]{margin.verdict}[/]" if margin.verdict else ""
        limit = words.limit(margin).replace("at most ", "<= ").replace("at least ", ">= ")
        table.add_row(name, limit, *said, verdict)
    return table


def _findings(rows: list[Finding]) -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column("")
    table.add_column("", justify="right", no_wrap=True)
    for row in rows:
        if row.name in words.SECONDARY:
            table.add_row(f"  {row.text}", words.finding(row), style="dim")
        else:
            table.add_row(row.text, words.finding(row))
    return table


def _sections(result: Result) -> Table:
    table = Table(box=None, pad_edge=False)
    for n, (heading, unit) in enumerate(words.SECTION_HEADINGS):
        justify: JustifyMethod = "left" if n == 0 else "right"
        table.add_column(f"{heading}, {unit}" if unit else heading, justify=justify)
    for check in result.section_checks:
        table.add_row(*words.section_row(check))
    return table
