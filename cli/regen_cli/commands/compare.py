"""``regen compare``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import JsonOption, check_writable, exit_codes, say
from regen_cli.results import finish

EXIT_CODES = (
    "Exit codes: 0 compared, whatever the verdicts; 2 wrong usage, a bad case, or a folder that "
    "holds no solved design; 4 a case is not solved; 1 a bug."
)

Designs = Annotated[
    list[Path],
    typer.Argument(
        metavar="A B ...",
        help="Case files, which are solved, or folders that regen solve or regen review wrote.",
    ),
]
Out = Annotated[
    Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for the page and its figure.")
]


def run(designs: Designs, out: Out = Path("compared"), as_json: JsonOption = False) -> None:
    """Show what differs between designs, side by side.

    Prints the inputs that differ, the quantities and the limits that not all designs pass; writes
    compare.html with the curves of all designs, a figure and compare.json to DIR. Progress goes to
    standard error.
    """
    with exit_codes():
        import regen

        if len(designs) < 2:
            message = "give at least two case files or folders"
            raise typer.BadParameter(message)
        check_writable(out)
        finish(regen.compare(*designs, progress=say), out, as_json)
