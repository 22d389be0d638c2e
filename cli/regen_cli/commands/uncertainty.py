"""``regen uncertainty``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import (
    OF_ROWS,
    CasePath,
    JsonOption,
    SetOption,
    check_writable,
    exit_codes,
    say,
)
from regen_cli.results import finish

EXIT_CODES = OF_ROWS


Out = Annotated[
    Path,
    typer.Option("-o", "--out", metavar="DIR", help="Folder for the table and the figures."),
]
InputOption = Annotated[
    list[str] | None,
    typer.Option(
        "--input",
        metavar="KEY=DISTRIBUTION",
        help='Spread of a key about its own value, e.g. --input "channels.width=normal 0.02 mm" '
        '--input "coolant.mass_flow=uniform 3 %" --input models.gas_side=any; takes the place of '
        "the case's for that key. May be repeated.",
    ),
]
Samples = Annotated[
    int,
    typer.Option(
        metavar="N",
        help="Base points, a power of two: 2 N designs are counted, N for each input more serve "
        "the indices.",
    ),
]
Seed = Annotated[int, typer.Option(metavar="S", min=0, help="Same seed, same numbers.")]
Threads = Annotated[
    int | None,
    typer.Option(metavar="N", min=1, help="Threads; all cores without it. Numbers stay the same."),
]


def run(
    case: CasePath,
    out: Out = Path("uncertainty"),
    inputs: InputOption = None,
    samples: Samples = 256,
    seed: Seed = 1,
    threads: Threads = None,
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say how probable it is that each limit is kept, and which input matters.

    Reads CASE and the tables it names; samples its inputs by their distributions, solves and
    judges the nominal channel of every sample; prints probabilities with their error; writes
    samples.csv, figures and uncertainty.json to DIR. Inputs come from the case's [uncertainty]
    and --input; without any, usual ones are taken and listed. A design that is not solved keeps
    its row and no limit. Progress goes to standard error.
    """
    with exit_codes():
        import regen

        loaded = regen.load(case, overrides or ())
        check_writable(out)
        result = regen.uncertainty(
            loaded, inputs or (), samples=samples, seed=seed, threads=threads, progress=say
        )
        finish(result, out, as_json)
