"""``regen uncertainty``."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from regen_cli.options import CasePath, JsonOption, SetOption, exit_codes, say
from regen_cli.progress import Clock, cores

if TYPE_CHECKING:
    from regen.design import Design
    from regen.result import Result


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


def uncertainty(
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
        from regen.case.read import load_case

        loaded = load_case(case, overrides or ())
        from regen.output.folder import check_writable
        from regen.solver.prepare import prepare
        from regen.studies.batch.designs import DesignBatch, Rows, solve_batch
        from regen.studies.uncertainty.distributions import applicable, inputs_of
        from regen.studies.uncertainty.study import check_samples, cost, study

        design = loaded.design
        options = cache(lambda: applicable(prepare(design, say)))
        chosen, left_out = inputs_of(design, inputs or (), options)
        check_samples(samples, len(chosen))
        check_writable(out)
        say("the case itself (the first run compiles the physics and builds tables)")
        workers = threads or cores()

        def model(batch: DesignBatch, along: bool) -> Rows:
            return solve_batch(batch, judged="nominal", threads=workers, along=along)

        nominal = _nominal(design)
        typer.echo(cost(design, chosen, model, samples=samples, seed=seed).text, err=True)
        found = study(
            design,
            chosen,
            model,
            samples=samples,
            seed=seed,
            left_out=left_out,
            nominal=nominal,
            case_hash=loaded.hash,
            progress=Clock("designs"),
        )
        from regen.output.uncertainty import lines, write

        say("table and figures")
        written = write(found, out)
        if as_json:
            typer.echo(written[-1].read_text(encoding="utf-8"), nl=False)
            return
        for line in lines(found):
            typer.echo(line)
        typer.echo(f"written: {out}")


def _nominal(design: Design) -> Result | None:
    """Return the case itself, judged; None, and why, where it is not solved."""
    from regen.checks.review import review
    from regen.solver.solve import MarchError

    try:
        return review(design)
    except MarchError as error:
        typer.echo(f"the case itself is {error}", err=True)
        return None
