"""Summary of a plating plan for a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from regen.output import closeout_words as words
from regen.shop.plating.plan import Plan

STYLES = {"kept": "green", "BROKEN": "bold red", "not checked": "magenta", "watch": "yellow"}


def print_plan(plan: Plan, console: Console) -> None:
    """Print verdict, layers, hours, checks and what is to be known of them.

    Parameters
    ----------
    plan : Plan
        Any.
    console : rich.console.Console
        Where to print; it leaves colours out when it is no terminal.
    """
    console.print(f"{plan.title}: plating plan, {words.headline(plan)}", highlight=False)
    console.print(f"the design's own verdict is {plan.design_verdict}", highlight=False)
    console.print()
    console.print(_layers(plan))
    console.print()
    for line in (*words.hours_lines(plan), *plan.notes):
        console.print(line, highlight=False, markup=False)
    console.print()
    console.print(_checks(plan))
    console.print()
    for check in plan.checks:
        if check.verdict in ("broken", "not checked", "watch") and check.note:
            text = f"{words.VERDICTS[check.verdict]}: {check.text}: {check.note}"
            console.print(text, highlight=False, markup=False)


def _layers(plan: Plan) -> Table:
    """Return the layers side by side: they are few, their numbers many."""
    table = Table(box=None, pad_edge=False)
    table.add_column("")
    for layer in plan.layers:
        table.add_column(layer.metal, justify="right", no_wrap=True)
    rows = [words.layer_row(layer) for layer in plan.layers]
    for n, (name, unit) in enumerate(words.LAYER_HEADINGS):
        if n:
            table.add_row(f"{name}, {unit}" if unit else name, *(row[n] for row in rows))
    return table


def _checks(plan: Plan) -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column("check")
    for heading in ("value", "limit", "x, mm"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("verdict", no_wrap=True)
    for check in plan.checks:
        row = words.said(check)
        style = STYLES.get(row.verdict)
        verdict = f"[{style}]{row.verdict}[/]" if style else row.verdict
        table.add_row(row.text, row.value, row.limit, row.place, verdict)
    return table
