"""``regen list``: what is built in, with range, source and mark."""

from __future__ import annotations

import json
from enum import StrEnum
from typing import Annotated, Any

import typer

from regen_cli.options import OF_A_TEXT, JsonOption, exit_codes, say

EXIT_CODES = OF_A_TEXT


class What(StrEnum):
    """What can be listed."""

    alloys = "alloys"
    coolants = "coolants"
    propellants = "propellants"
    correlations = "correlations"
    limits = "limits"


def run(
    what: Annotated[What, typer.Argument(metavar="WHAT", help="One of: " + ", ".join(What))],
    as_json: JsonOption = False,
) -> None:
    """List what is built in, with sources.

    Prints every alloy, coolant, propellant, correlation or limit with its range, its source and
    the basis of that source. A name is what a case file takes. Reads and writes no case.
    """
    with exit_codes():
        from regen.output import built_in

        rows = built_in.rows(what, say)
        if as_json:
            typer.echo(json.dumps(rows, indent=1))
        else:
            for row in rows:
                _print(row)


def _print(row: dict[str, Any]) -> None:
    """Print the name, then a line an entry; lists of texts below their heading."""
    typer.echo(row["name"])
    for key, value in row.items():
        heading = key.replace("_", " ")
        if key == "name" or value in (None, "", []):
            continue
        if isinstance(value, list) and (len(value) > 1 or len(str(value[0])) > 60):
            typer.echo(f"  {heading}:")
            for entry in value:
                typer.echo(f"    {entry}")
        else:
            typer.echo(f"  {heading}: {value[0] if isinstance(value, list) else value}")
