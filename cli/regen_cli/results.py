"""The end of every command that judges a design: what is printed, and the exit code."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from regen_cli.options import BROKEN_LIMIT

if TYPE_CHECKING:
    from regen.result import Result


def finish(result: Result, written: Sequence[Path], as_json: bool) -> None:
    """Print the summary, or result.json, and where the files are; set the exit code.

    Parameters
    ----------
    result : Result
        Judged design.
    written : sequence of Path
        Files written, result.json last.
    as_json : bool
        Print result.json instead of the summary.

    Raises
    ------
    typer.Exit
        With code 3 if the nominal channel is not shown to keep every limit.
    """
    if as_json:
        typer.echo(written[-1].read_text(encoding="utf-8"), nl=False)
    else:
        from rich.console import Console

        from regen.output.review import print_summary

        print_summary(result, Console())
        report = [path for path in written if path.suffix == ".html"]
        folder = written[-1].parent
        typer.echo(f"report: {report[0]}" if report else f"written: {folder}")
    if not result.nominal_kept:
        raise typer.Exit(BROKEN_LIMIT)
