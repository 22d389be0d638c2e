"""``regen review``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import (
    OF_A_SOLVE,
    CasePath,
    JsonOption,
    SetOption,
    check_writable,
    exit_codes,
    say,
)
from regen_cli.results import finish

EXIT_CODES = OF_A_SOLVE

Out = Annotated[
    Path,
    typer.Option("-o", "--out", metavar="DIR", help="Folder for the report and what it rests on."),
]


def run(
    case: CasePath,
    out: Out = Path("review"),
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make the folder of a design review.

    Reads CASE and the tables it names, solves it, checks its limits, and checks its wall by finite
    elements at the hottest station, the throat, the barrel and the coolant's outlet. Prints a
    summary, and writes report.html, figures, stations.csv, strength.csv and result.json to DIR
    when all is solved. report.html is one page that needs nothing beside it and prints well.
    Progress goes to standard error.
    """
    with exit_codes(out):
        import regen

        loaded = regen.load(case, overrides or ())
        check_writable(out)
        finish(regen.review(loaded, progress=say), out, as_json)
