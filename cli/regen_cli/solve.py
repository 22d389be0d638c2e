"""``regen solve``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import CasePath, JsonOption, SetOption, exit_codes, say
from regen_cli.results import finish

Out = Annotated[
    Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for stations.csv, result.json.")
]


def solve(
    case: CasePath,
    out: Out = Path("solved"),
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Solve a case, check its limits, print a summary; write result.json and stations.csv.

    Exit codes: 0 pass or marginal, 2 bad case, 3 fail or unknown, 4 not solved.
    """
    with exit_codes():
        from regen.case import load_case

        loaded = load_case(case, overrides or ())
        from regen.checks.judge import review
        from regen.output.files import write

        result = review(loaded.design, case_hash=loaded.hash, progress=say)
        finish(result, write(result, out), as_json)
