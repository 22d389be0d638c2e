"""``regen new``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import BAD_CASE, OF_A_TEXT, exit_codes

EXIT_CODES = OF_A_TEXT


def run(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Case file to write.")],
) -> None:
    """Write a commented starter case.

    The case solves as it is, and its comments explain every key. A file that exists is never
    overwritten.
    """
    with exit_codes():
        from regen.case.read import starter_text

        try:
            with file.open("x", encoding="utf-8") as target:
                target.write(starter_text())
        except OSError as error:
            exists = isinstance(error, FileExistsError)
            why = "it exists and is left as it is" if exists else error.strerror
            typer.echo(f"cannot write {file}: {why}; give another name or place", err=True)
            raise typer.Exit(BAD_CASE) from None
        typer.echo(f"wrote {file}; next: regen review {file} -o review")
