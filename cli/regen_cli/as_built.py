"""``regen as-built``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import BROKEN_LIMIT, CasePath, JsonOption, SetOption, exit_codes, say

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


def as_built(
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
        from regen.case.read import load_case

        loaded = load_case(case, overrides or ())
        from regen.case.measured import read_measured

        sheet = read_measured(measured, loaded.design.channels.count)
        from regen.output.folder import check_writable
        from regen.studies.as_built.study import as_built as solve_slots

        check_writable(out)
        solved = solve_slots(loaded.design, sheet, case_hash=loaded.hash, progress=say)
        from regen.output.as_built import lines, write

        say("table, page and figure")
        written = write(solved, loaded, sheet, out)
        if as_json:
            typer.echo(written[-1].read_text(encoding="utf-8"), nl=False)
        else:
            for line in lines(solved):
                typer.echo(line)
            typer.echo(f"written: {out}")
        if not solved.all_usable:
            raise typer.Exit(BROKEN_LIMIT)
