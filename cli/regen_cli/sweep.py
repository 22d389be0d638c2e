"""``regen sweep``."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from regen_cli.options import CasePath, JsonOption, SetOption, exit_codes, say
from regen_cli.progress import Clock

if TYPE_CHECKING:
    from regen.case.read import Case
    from regen.output.sweep import Store
    from regen.studies.batch.designs import Judged
    from regen.studies.sweep.plan import SweepPlan
    from regen.studies.sweep.study import Runner


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


def sweep(
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
        from regen.case.read import load_case

        loaded = load_case(case, overrides or ())
        plan = _plan(loaded, vary or (), vary_from, judge.value)
        if cluster and threads:
            message = "--threads is of this machine; with --cluster each worker has its own"
            raise typer.BadParameter(message)
        from regen.output.folder import check_writable
        from regen.output.sweep import Store, write

        check_writable(out)
        if table_format is TableFormat.parquet:
            from regen.output.sweep_table import check_parquet

            check_parquet()
        store = Store(out, plan, loaded.hash, table_format.value)
        try:
            if store.missing:
                with _runner(threads, cluster) as run:
                    _solve(store, run)
            say("table and figures")
            text = write(store)
        finally:
            store.close()
        if as_json:
            typer.echo((out / "sweep.json").read_text(encoding="utf-8"), nl=False)
            return
        for line in text:
            typer.echo(line)
        typer.echo(f"written: {out}")


def _plan(
    case: Case, vary: list[str] | tuple[()], vary_from: Path | None, judged: Judged
) -> SweepPlan:
    if bool(vary) == (vary_from is not None):
        what = "are both given" if vary else "are both missing"
        message = f"--vary and --vary-from {what}: give one of them"
        raise typer.BadParameter(message)
    if vary_from is not None:
        from regen.studies.sweep.vary import table_of

        return table_of(vary_from, case, judged)
    from regen.studies.sweep.vary import grid_of

    return grid_of(vary, case, judged)


def _runner(threads: int | None, cluster: str | None) -> AbstractContextManager[Runner]:
    """Return what solves the parts: this machine, or the workers of a scheduler."""
    if cluster is None:
        from regen.studies.sweep.study import Local

        return nullcontext(Local(threads))
    from regen.studies.sweep.cluster import connected

    say(f"asking the workers of {cluster} what they run")
    return connected(cluster, report=lambda text: typer.echo(text, err=True))


def _solve(store: Store, run: Runner) -> None:
    """Solve what is missing, keeping each part as it is done."""
    clock, missing = Clock("rows", store.rows_done), store.missing
    total = len(store.plan)
    clock(store.rows_done, total)
    try:
        for n, rows in run(store.plan, missing):
            store.keep(n, rows)
            clock(store.rows_done, total)
    except KeyboardInterrupt:
        kept = f"stopped: {store.rows_done} of {total} rows are finished and kept"
        typer.echo(f"{kept}; the same command goes on", err=True)
        raise
