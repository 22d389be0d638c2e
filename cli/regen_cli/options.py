"""Arguments and options that commands share, and how an error becomes an exit code."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Annotated

import typer

BUG, BAD_CASE, BROKEN_LIMIT, NOT_SOLVED = 1, 2, 3, 4
CLOSED_PIPE = 141
"""What a shell says of a program whose reader went away."""

OF_A_SOLVE = (
    "Exit codes: 0 pass, at risk, or open with the nominal channel kept; 2 wrong usage or a bad "
    "case; 3 fail, or a limit that the nominal channel is not shown to keep; 4 not solved, with "
    "place and remedy on standard error; 1 a bug."
)
OF_ROWS = (
    "Exit codes: 0 all rows written, also of points or routes that break a limit or are not "
    "solved; 2 wrong usage or a bad case; 1 a bug."
)
OF_A_TEXT = "Exit codes: 0 done; 2 wrong usage, or a file that cannot be written; 1 a bug."

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
    bool, typer.Option("--json", help="Print JSON on standard output instead of words.")
]


@contextmanager
def exit_codes(folder: Path | None = None) -> Iterator[None]:
    """Turn what a command may run into a message on standard error and an exit code.

    Parameters
    ----------
    folder : Path, optional
        Where the command writes: an earlier result that stays there is named.

    Yields
    ------
    None
        To the command's body.
    """
    try:
        yield
    except (typer.Exit, typer.Abort, typer.BadParameter):
        raise
    except (BrokenPipeError, SystemExit):  # rich leaves by the latter when its reader has gone
        _forget_output()
        raise typer.Exit(CLOSED_PIPE) from None
    except Exception as error:
        code = _code(error)
        if code == BUG and os.environ.get("REGEN_TRACEBACK"):
            raise
        typer.echo(_message(error, code), err=True)
        if folder is not None and (folder / "result.json").exists():
            typer.echo(f"{folder} still holds an earlier result", err=True)
        if isinstance(error, OSError):
            _forget_output()
        raise typer.Exit(code) from None


def _code(error: Exception) -> int:
    """Return the exit code of an error by its class, importing only what was imported before."""
    names = {kind.__name__ for kind in type(error).__mro__}
    if names & {"CaseError", "GeometryError", "RangeError", "OSError", "ClusterError"}:
        return BAD_CASE
    return NOT_SOLVED if "MarchError" in names else BUG


def _message(error: Exception, code: int) -> str:
    if code == BUG:
        return (
            f"regen has a bug: {type(error).__name__}: {error}\n"
            "Please report it with the case; REGEN_TRACEBACK=1 shows where it happened."
        )
    if isinstance(error, OSError) and type(error).__name__ != "OutputError":
        return f"cannot read or write: {error}; make room, or name another place"
    return str(error)


def _forget_output() -> None:
    """Give what is still to be printed to nobody, or the interpreter would fail on it again."""
    with suppress(OSError):  # not a file at all: nothing will fail on it
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def say(text: str) -> None:
    """Tell what is being waited for, on standard error.

    Parameters
    ----------
    text : str
        What is being done.
    """
    typer.echo(f"{text} ...", err=True)


def check_writable(folder: Path) -> None:
    """Refuse a folder that cannot be written, before anything is computed."""
    from regen.output.folder import check_writable as check

    check(folder)
