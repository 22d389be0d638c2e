"""``regen as-built``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import CasePath, JsonOption, SetOption, check_writable, exit_codes, say
from regen_cli.results import finish

EXIT_CODES = (
    "Exit codes: 0 every measured slot can be used; 2 wrong usage, a bad case or a bad measured "
    "file; 3 a slot is to be reworked, sleeved or scrapped, or is unknown; 4 the slots as drawn "
    "are not solved; 1 a bug."
)

Measured = Annotated[
    Path,
    typer.Argument(
        metavar="MEASURED",
        help='Table with the header "slot, x [mm], width [mm], depth [mm], wall [mm]"; one row a '
        "slot and place.",
    ),
]
Out = Annotated[
    Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for table, page and figure.")
]


def run(
    case: CasePath,
    measured: Measured,
    out: Out = Path("as-built"),
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Solve measured slots as they are: use, rework, sleeve or scrap.

    Reads CASE and MEASURED: slots count from 1, several rows a slot along x, sizes straight in
    between and held beyond the outer ones; slots and sizes that were not measured are as drawn,
    a wall that was not is what the depth leaves of the blank. Each slot is solved at the one
    pressure drop that all have. Prints the slots, worst first; writes as_built.csv, a printable
    page, a figure and as_built.json to DIR. Progress goes to standard error.
    """
    with exit_codes():
        import regen

        loaded = regen.load(case, overrides or ())
        check_writable(out)
        finish(regen.as_built(loaded, measured, progress=say), out, as_json)
