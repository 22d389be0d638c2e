"""``regen size``."""

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
from regen_cli.progress import cores

Out = Annotated[
    Path,
    typer.Option("-o", "--out", metavar="DIR", help="Folder for the sized case and its figure."),
]
Seed = Annotated[int, typer.Option(metavar="S", min=0, help="Same seed, same sizes.")]
Threads = Annotated[
    int | None,
    typer.Option(metavar="N", min=1, help="Threads; all cores without it. Numbers stay the same."),
]


def size(
    case: CasePath,
    out: Out = Path("sized"),
    seed: Seed = 0,
    threads: Threads = None,
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Size slots, hot wall and coolant flow for the least pressure drop under every limit.

    Reads CASE and the tables it names. What is free, between which bounds and for what stands in
    its [sizing] (--set sizing.free='["count","width","depth","wall"]' and the like); what the shop
    can mill in its [shop]. Prints the sizes and the active constraints; writes sized.toml, a figure
    and size.json to DIR. sized.toml is proved by a full solve. Without a feasible design it names
    the nearest limit and the constraints to relax, and writes size.json alone. Progress goes to
    standard error.
    """
    with exit_codes():
        from regen.case.read import load_case

        loaded = load_case(case, overrides or ())
        from regen.output.folder import check_writable
        from regen.output.size import CASE, lines, write
        from regen.studies.size.sized_case import answer, check_files
        from regen.studies.size.study import size as search

        check_files(loaded)
        check_writable(out)
        workers = threads or cores()
        say("the first run compiles the physics and builds tables")
        found = search(loaded.design, threads=workers, seed=seed, progress=say)
        proved = None
        if found.feasible:
            say("full solve of the sized case")
            proved = answer(found, loaded, threads=workers)
        written = write(found, proved, loaded, seed, out)
        if as_json:
            typer.echo(written[-1].read_text(encoding="utf-8"), nl=False)
        else:
            for line in lines(found, proved):
                typer.echo(line)
            typer.echo(f"written: {out}")
        if proved is None or not proved.good:
            if (out / CASE).exists():
                typer.echo(f"{out / CASE} is older than this, and not of it", err=True)
            raise typer.Exit(BROKEN_LIMIT)
