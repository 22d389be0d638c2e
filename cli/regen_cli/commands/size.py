"""``regen size``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import CasePath, JsonOption, SetOption, check_writable, exit_codes, say
from regen_cli.results import finish

EXIT_CODES = (
    "Exit codes: 0 sized, every limit kept; 2 wrong usage or a bad case; 3 no feasible design; "
    "1 a bug."
)

Out = Annotated[
    Path,
    typer.Option("-o", "--out", metavar="DIR", help="Folder for the sized case and its figure."),
]
Seed = Annotated[int, typer.Option(metavar="S", min=0, help="Same seed, same sizes.")]
Threads = Annotated[
    int | None,
    typer.Option(metavar="N", min=1, help="Threads; all cores without it. Numbers stay the same."),
]


def run(
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
        import regen

        loaded = regen.load(case, overrides or ())
        check_writable(out)
        result = regen.size(loaded, seed=seed, threads=threads, progress=say)
        if not result.accepted and (out / "sized.toml").exists():
            typer.echo(f"{out / 'sized.toml'} is of an earlier run", err=True)
        finish(result, out, as_json)
