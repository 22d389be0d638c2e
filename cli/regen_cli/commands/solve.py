"""``regen solve``."""

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
    Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for tables and result.json.")
]


def run(
    case: CasePath,
    out: Out = Path("solved"),
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Solve a case and check its limits.

    Reads CASE and the tables it names, prints a summary, and writes result.json, stations.csv and
    strength.csv to DIR when all is solved. Progress goes to standard error.
    """
    with exit_codes(out):
        import regen

        loaded = regen.load(case, overrides or ())
        check_writable(out)
        result = regen.review(loaded, check_wall=False, progress=say)
        finish(result, out, as_json, report=False)
