"""``regen closeout``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import CasePath, JsonOption, SetOption, check_writable, exit_codes, say
from regen_cli.results import finish

EXIT_CODES = (
    "Exit codes: 0 planned, no check broken; 2 wrong usage or a bad case; 3 a check is broken; "
    "4 the design is not solved; 1 a bug."
)

Out = Annotated[
    Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for the plating plan.")
]


def run(
    case: CasePath,
    out: Out = Path("closeout"),
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan how the slots are closed in the bath: copper, then nickel.

    Reads CASE and the tables it names, solves it, and plans its [plating]: what the thinnest place
    needs, cycles of plating and turning, current, hours, metal; whether stress lifts the layer;
    what hydrogen asks. Prints a summary, and writes plating_sheet.html (for the bath, A4),
    plating.csv (along x), a figure and plating.json to DIR. Progress goes to standard error.
    """
    with exit_codes():
        import regen

        loaded = regen.load(case, overrides or ())
        check_writable(out)
        finish(regen.closeout(loaded, progress=say), out, as_json)
