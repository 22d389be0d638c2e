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
    exit_codes,
    say,
)

Out = Annotated[
    Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for tables, drawings and pages.")
]


def shop(
    case: CasePath,
    out: Out = Path("shop"),
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write what the shop cuts, closes and measures by.

    Reads CASE and the tables it names, finds the floor that the cutters of its [shop] leave, and
    solves the design with it. Writes to DIR the cutting table (CSV and a page), the way of each
    cutter, the lathe profile and sections of the slots as DXF, the traveller, the inspection and
    proof sheet, an empty table for the measured slots, and shop.json. Where the cutters cannot
    make the slots it says why, and writes nothing that could be cut wrongly. Where a limit is
    broken the files are written, and say on every page that they are not released. Progress goes
    to standard error.
    """
    with exit_codes():
        from regen.case import CaseError, Problem, load_case

        loaded = load_case(case, overrides or ())
        from regen.output.files import check_writable
        from regen.shop.layers import PlanError
        from regen.studies.to_shop import to_shop

        check_writable(out)
        try:
            found = to_shop(loaded.design, case_hash=loaded.hash, progress=say)
        except PlanError as error:
            raise CaseError(str(case), [Problem(error.key, str(error))]) from None
        if found.drawn is None:
            _refuse(found.plan.problems or (found.stopped,), found.remedies, out)
            raise typer.Exit(BROKEN_LIMIT if found.plan.problems else NOT_SOLVED)
        say("tables, drawings and pages")
        from regen.output.shop_files import write_shop
        from regen.output.shop_words import lines

        written = write_shop(found, out)
        if as_json:
            typer.echo(written[-1].read_text(encoding="utf-8"), nl=False)
        else:
            for line in lines(found.drawn, found.plated):
                typer.echo(line)
            typer.echo(f"written: {', '.join(path.name for path in written)} in {out}")
        if not found.released:
            raise typer.Exit(BROKEN_LIMIT)


def _refuse(reasons, remedies, out: Path) -> None:  # type: ignore[no-untyped-def]
    typer.echo("nothing is written: these slots cannot be cut as the case has them", err=True)
    for text in reasons:
        typer.echo(f"- {text}", err=True)
    for remedy in remedies:
        typer.echo(f"would do: {remedy.text}", err=True)
    if (out / "shop.json").exists():
        typer.echo(f"{out} still holds earlier files: they are not of this case", err=True)
