"""``regen schema``."""

from __future__ import annotations

import json

import typer


def schema() -> None:
    """Print the JSON schema of the case file: every key, its kind, meaning and default."""
    from regen.case import json_schema

    typer.echo(json.dumps(json_schema(), indent=1))
