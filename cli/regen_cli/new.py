"""``regen new``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import BAD_CASE


def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Case file to write.")],
) -> None:
    """Write a commented starter case that solves as it is.

    An existing file is never overwritten (exit code 2).
    """
    from regen.case import starter_text

    try:
        with file.open("x", encoding="utf-8") as target:
            target.write(starter_text())
    except FileExistsError:
        typer.echo(f"{file} exists and is left as it is: give another name", err=True)
        raise typer.Exit(BAD_CASE) from None
    except OSError as error:
        typer.echo(f"cannot write {file}: {error.strerror}: give another place", err=True)
        raise typer.Exit(BAD_CASE) from None
    typer.echo(f"wrote {file}; next: regen review {file} -o review")
