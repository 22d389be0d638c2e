"""``regen sweep``."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import CasePath, JsonOption, SetOption, check_writable, exit_codes, say
from regen_cli.results import finish

EXIT_CODES = (
    "Exit codes: 0 all rows written, also of designs that break a limit or are not solved; 2 wrong "
    "usage, a bad case, or a folder that cannot be written: rows that are finished stay, and the "
    "same command goes on; 1 a bug."
)


class JudgedRuns(StrEnum):
    """Runs that are solved and judged."""

    full = "full"
    worst = "worst"
    nominal = "nominal"


class TableFormat(StrEnum):
    """Format of the table."""

    csv = "csv"
    parquet = "parquet"


Out = Annotated[
    Path,
    typer.Option(
        "-o",
        "--out",
        metavar="DIR",
        help="Folder for the table and the figures. The same command into the same folder goes on "
        "where it was stopped.",
    ),
]
Vary = Annotated[
    list[str] | None,
    typer.Option(
        metavar="KEY=RANGE",
        help="START:STOP:N:UNIT, such as channels.width=0.6:1.0:5:mm; no UNIT for plain numbers, "
        "channels.count=60:100:5; per cent of the case's own, channels.depth=80%:120%:5; or a "
        "list, liner.wall=0.6,0.7,0.9:mm. May be repeated: every combination is solved, the last "
        "key varying fastest.",
    ),
]
VaryFrom = Annotated[
    Path | None,
    typer.Option(
        metavar="FILE",
        help="In place of --vary: a CSV file whose header names keys with units, such as "
        "'channels.width [mm], channels.count [-]'; each row is a design.",
    ),
]
Judge = Annotated[
    JudgedRuns,
    typer.Option(
        help="full: nominal, band and worst channel, as regen solve; worst: without the band; "
        "nominal: nothing else, the fastest."
    ),
]
Threads = Annotated[
    int | None, typer.Option(min=1, max=1024, metavar="N", help="Threads; all cores without it.")
]
Cluster = Annotated[
    str | None,
    typer.Option(
        metavar="ADDRESS",
        help="Solve on the workers of a Dask scheduler at HOST:PORT, see docs/scale.md; needs the "
        "extra 'cluster' on every machine.",
    ),
]
Format = Annotated[
    TableFormat,
    typer.Option("--format", help="Of the table; parquet needs the extra 'sweep'."),
]


def run(
    case: CasePath,
    out: Out = Path("sweep"),
    vary: Vary = None,
    vary_from: VaryFrom = None,
    judge: Judge = JudgedRuns.full,
    threads: Threads = None,
    cluster: Cluster = None,
    table_format: Format = TableFormat.csv,
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Solve many designs of one case: one or more keys varied.

    Reads CASE and the tables it names; solves and judges every row; writes sweep.csv, figures and
    sweep.json to DIR; prints how many rows keep every limit, and the best of them. A row that is
    not solved stays, with the reason. Rows are kept as they are finished: after a stop the same
    command goes on. Progress goes to standard error.
    """
    with exit_codes():
        import regen

        loaded = regen.load(case, overrides or ())
        if bool(vary) == (vary_from is not None):
            what = "are both given" if vary else "are both missing"
            message = f"--vary and --vary-from {what}: give one of them"
            raise typer.BadParameter(message)
        if cluster and threads:
            message = "--threads is of this machine; with --cluster each worker has its own"
            raise typer.BadParameter(message)
        check_writable(out)
        result = regen.sweep(
            loaded,
            vary or (),
            rows=vary_from,
            judge=judge.value,
            folder=out,
            table=table_format.value,
            threads=threads,
            cluster=cluster,
            progress=say,
        )
        finish(result, out, as_json)
