"""``regen alternatives``."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import (
    OF_ROWS,
    CasePath,
    JsonOption,
    SetOption,
    check_writable,
    exit_codes,
    say,
)
from regen_cli.results import finish

EXIT_CODES = OF_ROWS


class Route(StrEnum):
    """How a liner is closed."""

    electroformed = "electroformed"
    hip = "HIP-bonded"
    brazed = "brazed"
    printed = "printed"


Out = Annotated[
    Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for table, page and figure.")
]
RouteOption = Annotated[
    list[Route] | None,
    typer.Option(
        "--route", help="Compare with this route alone; may be repeated. All four without it."
    ),
]


def run(
    case: CasePath,
    out: Out = Path("alternatives"),
    route: RouteOption = None,
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Solve the same chamber by other routes: electroformed, HIP-bonded, brazed, printed.

    Reads CASE and the tables it names; solves it, each of its [alternatives.name], and a starting
    point of every route that has none, each anew with its own liner, roughness, jacket and roof.
    Prints the rows and what is not assessed; writes alternatives.csv, a printable page, a figure
    and alternatives.json to DIR. A row that is not solved says why. Progress goes to standard
    error.
    """
    with exit_codes():
        import regen

        loaded = regen.load(case, overrides or ())
        check_writable(out)
        processes = [each.value for each in route or ()]
        finish(regen.alternatives(loaded, processes, progress=say), out, as_json)
