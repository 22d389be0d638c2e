"""The command line: each command is a thin call of the library.

Exit codes: 0 pass or marginal; 2 usage or a bad case; 3 verdict fail or unknown; 4 not solved;
1 only for a bug.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(no_args_is_help=True, add_completion=False, help=__doc__)

CasePath = Annotated[Path, typer.Argument(help="Case file (TOML).")]
SetOption = Annotated[
    list[str] | None,
    typer.Option("--set", help="Override a key, e.g. --set channels.count=96; may be repeated."),
]


def _fail(error: Exception, code: int) -> typer.Exit:
    typer.echo(str(error), err=True)
    return typer.Exit(code)


@app.command()
def new(file: Annotated[Path, typer.Argument(help="File to write; must not exist.")]) -> None:
    """Write a commented starter case that solves as it is."""
    from regen.case import starter_text

    try:
        with file.open("x", encoding="utf-8") as target:
            target.write(starter_text())
    except FileExistsError:
        typer.echo(f"{file} exists: choose another name", err=True)
        raise typer.Exit(2) from None
    except OSError as error:
        typer.echo(f"cannot write {file}: {error.strerror}", err=True)
        raise typer.Exit(2) from None
    typer.echo(f"wrote {file}")


@app.command()
def schema() -> None:
    """Print the JSON schema of the case file."""
    from regen.case import json_schema

    typer.echo(json.dumps(json_schema(), indent=1))


@app.command()
def solve(
    case: CasePath,
    out: Annotated[Path, typer.Option("-o", "--out", help="Output folder.")] = Path("solved"),
    overrides: SetOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print result.json on stdout.")] = False,
) -> None:
    """Solve and check a case; write result.json and stations.csv."""
    from regen.case import load_case

    try:
        loaded = load_case(case, overrides or ())
    except ValueError as error:
        raise _fail(error, 2) from None
    from regen.checks.judge import review
    from regen.output.files import OutputError, write
    from regen.solve import MarchError

    def say(text: str) -> None:
        typer.echo(f"{text} ...", err=True)

    try:
        result = review(loaded.design, case_hash=loaded.hash, progress=say)
        written = write(result, out)
    except MarchError as error:
        raise _fail(error, 4) from None
    except (ValueError, OutputError) as error:
        raise _fail(error, 2) from None
    if as_json:
        typer.echo((out / "result.json").read_text())
    else:
        s, band = result.summary, result.bands["T_wall_hot_max_K"]
        typer.echo(f"{result.title}: {result.verdict}")
        typer.echo(
            f"peak hot wall {s['T_wall_hot_max_K']:.0f} K (band {band.min:.0f} to "
            f"{band.max:.0f} K), peak flux {s['q_max_W_m2'] / 1e6:.1f} MW/m2, coolant out "
            f"{s['coolant_temperature_out_K']:.0f} K, pressure drop "
            f"{s['coolant_pressure_drop_Pa'] / 1e5:.1f} bar"
        )
        for margin in result.margins:
            typer.echo(f"  {margin.verdict:9s} {margin.text}")
        typer.echo(f"wrote {', '.join(str(path) for path in written)}")
    if result.verdict in ("fail", "unknown"):
        raise typer.Exit(3)


def main() -> None:
    """Run the command line."""
    app()
