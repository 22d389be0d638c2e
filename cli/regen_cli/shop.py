"""``regen shop``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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

if TYPE_CHECKING:
    from regen.studies.release.to_shop import ToShop

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
    cutter, a page on cutters and tolerances, the lathe profile and sections of the slots as DXF,
    the traveller, the inspection and proof sheet, an empty table for the measured slots, and
    shop.json. Where the cutters cannot make the slots it says why, and writes nothing that could
    be cut wrongly. Where a limit is broken the files are written, and say on every page that they
    are not released. Progress goes to standard error.
    """
    with exit_codes():
        from regen.case.read import load_case
        from regen.errors import CaseError, Problem

        loaded = load_case(case, overrides or ())
        from regen.output.folder import check_writable
        from regen.shop.plating.values import PlanError
        from regen.studies.release.to_shop import to_shop

        check_writable(out)
        try:
            found = to_shop(loaded.design, case_hash=loaded.hash, progress=say)
        except PlanError as error:
            raise CaseError(str(case), [Problem(error.key, str(error))]) from None
        if found.drawn is None:
            raise typer.Exit(_refuse(found, out))
        say("tables, drawings and pages")
        from regen.output import shop as output
        from regen.output import shop_cutters

        written = output.write(found, out)
        if as_json:
            typer.echo(written[-1].read_text(encoding="utf-8"), nl=False)
        else:
            for line in output.lines(found.drawn, found.plated):
                typer.echo(line)
            typer.echo()
            for line in shop_cutters.lines(found.machined, found.tolerances, found.at_widths):
                typer.echo(line)
            typer.echo(f"written: {', '.join(path.name for path in written)} in {out}")
        if not found.released:
            raise typer.Exit(BROKEN_LIMIT)


def _refuse(found: ToShop, out: Path) -> int:
    """Say why nothing is written, and return the exit code."""
    problems = found.plan.problems
    what = "the cutters cannot make these slots" if problems else "not solved as it is cut"
    typer.echo(f"nothing is written: {what}", err=True)
    for text in problems or (found.stopped,):
        typer.echo(f"- {text}", err=True)
    for remedy in found.remedies:
        typer.echo(f"would do: {remedy.text}", err=True)
    if found.at_widths:
        from regen.output.shop_cutters import widths

        typer.echo("\n".join(widths(found.at_widths).lines()), err=True)
    if (out / "shop.json").exists():
        typer.echo(f"{out} still holds the files of an earlier case: do not cut by them", err=True)
    return BROKEN_LIMIT if problems else NOT_SOLVED
