"""``regen closeout``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import (
    BROKEN_LIMIT,
    CasePath,
    JsonOption,
    SetOption,
    exit_codes,
    say,
)

Out = Annotated[
    Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for the plating plan.")
]


def closeout(
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
        from regen.case.read import load_case
        from regen.errors import CaseError, Problem

        loaded = load_case(case, overrides or ())
        from regen.checks.review import review
        from regen.output import closeout as output
        from regen.output.folder import check_writable
        from regen.shop.plating.plan import plan_plating
        from regen.shop.plating.values import PlanError, values_of

        check_writable(out)
        try:
            values_of(loaded.design)
            result = review(loaded.design, case_hash=loaded.hash, progress=say)
            made = plan_plating(loaded.design, result)
        except PlanError as error:
            raise CaseError(str(case), [Problem(error.key, str(error))]) from None
        say("sheet and figure")
        written = output.write(made, loaded, out)
        if as_json:
            typer.echo(written[-1].read_text(encoding="utf-8"), nl=False)
        else:
            from rich.console import Console

            console = Console()
            for part in output.summary(made):
                console.print(part, highlight=False, markup=False)
            typer.echo(f"written: {out}")
        if made.broken:
            raise typer.Exit(BROKEN_LIMIT)
