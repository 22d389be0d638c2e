"""``regen schema``."""

from __future__ import annotations

import json

import typer

from regen_cli.options import OF_A_TEXT, exit_codes

EXIT_CODES = OF_A_TEXT


def run() -> None:
    """Print the JSON schema of the case file.

    It has every section and key with its meaning, kind, bounds and default; editors that know
    TOML schemas complete and check with it.
    """
    with exit_codes():
        from regen.case.keys import json_schema

        typer.echo(json.dumps(json_schema(), indent=1))
