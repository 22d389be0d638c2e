"""The command line: each command is a thin call of the library."""

from __future__ import annotations

import sys
from io import TextIOWrapper
from typing import Annotated

import typer

from regen_cli.alternatives import alternatives
from regen_cli.as_built import as_built
from regen_cli.closeout import closeout
from regen_cli.envelope import envelope
from regen_cli.listing import listing
from regen_cli.new import new
from regen_cli.options import BUILT, CUT, JUDGED, MAPPED, PLANNED, SIZED, SWEPT, TOLD
from regen_cli.review import review
from regen_cli.schema import schema
from regen_cli.shop import shop
from regen_cli.size import size
from regen_cli.solve import solve
from regen_cli.sweep import sweep
from regen_cli.uncertainty import uncertainty

HELP = (
    "Thermal design of regeneratively cooled chamber walls.\n\n"
    "'regen new chamber.toml' writes a case; 'regen review chamber.toml -o review' solves it, "
    "checks its limits and makes the folder of a design review.\n\n"
    "Results support, and never replace, local codes, hydrostatic proof and the judgement of "
    "licensed engineers."
)

# plain help: boxes cost a tenth of a second, and a reader of a pipe gets none
app = typer.Typer(no_args_is_help=True, add_completion=False, rich_markup_mode=None, help=HELP)
app.command(epilog=TOLD)(new)
app.command(epilog=MAPPED)(envelope)
app.command(epilog=JUDGED)(review)
app.command(epilog=JUDGED)(solve)
app.command(epilog=SIZED)(size)
app.command("as-built", epilog=BUILT)(as_built)
app.command(epilog=MAPPED)(alternatives)
app.command(epilog=PLANNED)(closeout)
app.command(epilog=CUT)(shop)
app.command(epilog=MAPPED)(uncertainty)
app.command(epilog=SWEPT)(sweep)
app.command("list", epilog=TOLD)(listing)
app.command(epilog=TOLD)(schema)


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
