"""The end of every command: files written, what is printed, the exit code."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from regen_cli.options import BROKEN_LIMIT, say

if TYPE_CHECKING:
    from regen.library.answer import Answer


def finish(answer: Answer, out: Path, as_json: bool, **options: bool) -> None:
    """Write the answer and print its summary, or its index file.

    Raises
    ------
    typer.Exit
        With code 3 if the answer is not accepted.
    """
    say("tables and pages")
    written = answer.write(out, **options)
    if as_json:
        typer.echo(written[-1].read_text(encoding="utf-8"), nl=False)
    else:
        from rich.console import Console

        answer.print(Console())
        report = out / "report.html"
        typer.echo(f"report: {report}" if report in written else f"written: {out}")
    if not answer.accepted:
        raise typer.Exit(BROKEN_LIMIT)
