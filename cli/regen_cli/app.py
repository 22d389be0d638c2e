"""The command line: each command is a thin call of the library."""

from __future__ import annotations

from typing import Annotated

import typer

from regen_cli.listing import listing
from regen_cli.new import new
from regen_cli.review import review
from regen_cli.schema import schema
from regen_cli.solve import solve

HELP = (
    "Thermal design of regeneratively cooled chamber walls.\n\n"
    "'regen new chamber.toml' writes a case; 'regen review chamber.toml -o review' solves it, "
    "checks its limits and makes the folder of a design review.\n\n"
    "Results support, and never replace, local codes, hydrostatic proof and the judgement of "
    "licensed engineers."
)

app = typer.Typer(no_args_is_help=True, add_completion=False, help=HELP)
for command in (new, solve, review, schema):
    app.command()(command)
app.command("list")(listing)


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
    app()
