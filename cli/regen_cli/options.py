"""Arguments and options that commands share, and how an error becomes an exit code."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

BAD_CASE, BROKEN_LIMIT, NOT_SOLVED = 2, 3, 4

CasePath = Annotated[
    Path, typer.Argument(metavar="CASE", help="Case file; 'regen new' writes a commented one.")
]
SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        help='Override a key of the case, e.g. --set channels.count=96 --set liner.wall="0.7 mm". '
        "May be repeated.",
    ),
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print JSON on standard output instead of a table.")
]


@contextmanager
def exit_codes() -> Iterator[None]:
    """Turn what a command may run into a message on standard error and an exit code.

    Yields
    ------
    None
        To the command's body.
    """
    try:
        yield
    except (typer.Exit, typer.Abort, typer.BadParameter):
        raise
    except Exception as error:
        code = _code(error)
        if code == 1:
            if os.environ.get("REGEN_TRACEBACK"):
                raise
            kind = type(error).__name__
            typer.echo(f"regen has a bug: {kind}: {error}", err=True)
            typer.echo("Please report it; REGEN_TRACEBACK=1 shows where it happened.", err=True)
        else:
            typer.echo(str(error), err=True)
        raise typer.Exit(code) from None


def _code(error: Exception) -> int:
    """Return the exit code of an error by its class, importing only what was imported before."""
    names = {kind.__name__ for kind in type(error).__mro__}
    if names & {"CaseError", "GeometryError", "RangeError", "OutputError"}:
        return BAD_CASE
    return NOT_SOLVED if "MarchError" in names else 1


def say(text: str) -> None:
    """Tell what is being waited for, on standard error.

    Parameters
    ----------
    text : str
        What is being done.
    """
    typer.echo(f"{text} ...", err=True)
