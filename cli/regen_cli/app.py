"""The command line: each file of ``commands`` is a command, a thin call of the library."""

from __future__ import annotations

import sys
from importlib import import_module
from io import TextIOWrapper
from pkgutil import iter_modules
from typing import Annotated

import typer

from regen_cli import commands

HELP = (
    "Thermal design of regeneratively cooled chamber walls.\n\n"
    "'regen new chamber.toml' writes a case; 'regen review chamber.toml -o review' solves it, "
    "checks its limits and makes the folder of a design review.\n\n"
    "Results support, and never replace, local codes, hydrostatic proof and the judgement of "
    "licensed engineers."
)

# plain help: boxes cost a tenth of a second, and a reader of a pipe gets none
app = typer.Typer(no_args_is_help=True, add_completion=False, rich_markup_mode=None, help=HELP)
for command in iter_modules(commands.__path__):
    module = import_module(f"{commands.__name__}.{command.name}")
    app.command(command.name.replace("_", "-"), epilog=module.EXIT_CODES)(module.run)


def _version(wanted: bool) -> None:
    if wanted:
        from regen import __version__

        typer.echo(f"regen {__version__}")
        raise typer.Exit


@app.callback()
def common(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Options before any command."""


def main() -> None:
    """Run the command line."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            # a terminal without a letter gets its code, not an error
            stream.reconfigure(errors="backslashreplace")
    app()
