"""``regen shop``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import (
    BROKEN_LIMIT,
    NOT_SOLVED,
    CasePath,
    JsonOption,
    SetOption,
    check_writable,
    exit_codes,
    say,
)
from regen_cli.results import finish

EXIT_CODES = (
    "Exit codes: 0 written; 2 wrong usage or a bad case; 3 the cutters cannot make the slots, and "
    "nothing is written, or a limit is broken or unknown, and the pages say so; 4 not solved; "
    "1 a bug."
)

Out = Annotated[
    Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for tables, drawings and pages.")
]


def run(
    case: CasePath,
    out: Out = Path("shop"),
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write what the shop cuts, closes and measures by.

    Reads CASE and the tables it names, finds the floor that the cutters of its [shop] leave, and
    solves the design with it. Writes to DIR the cutting table (CSV and a page), the way of each
    cutter, a page on cutters and tolerances, the lathe profile and sections of the slots as DXF,
    the traveller, the inspection and proof sheet, an empty table for the measured slots, and
    shop.json. Where the cutters cannot make the slots it says why, and writes nothing that could
    be cut wrongly. Where a limit is broken the files are written, and say on every page that they
    are not released. Progress goes to standard error.
    """
    with exit_codes():
        import regen

        loaded = regen.load(case, overrides or ())
        check_writable(out)
        result = regen.shop(loaded, progress=say)
        if result.writable:
            finish(result, out, as_json)
            return
        typer.echo("\n".join(result.parts()), err=True)
        if (out / "shop.json").exists():
            older = f"{out} still holds the files of an earlier case: do not machine by them"
            typer.echo(older, err=True)
        raise typer.Exit(BROKEN_LIMIT if result.study.machined.plan.problems else NOT_SOLVED)
