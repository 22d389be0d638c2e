"""``regen envelope``."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from regen_cli.options import (
    OF_ROWS,
    CasePath,
    JsonOption,
    SetOption,
    check_writable,
    exit_codes,
    say,
)
from regen_cli.results import finish

EXIT_CODES = OF_ROWS


class Rule(StrEnum):
    """Whether the coolant follows the chamber."""

    proportional = "proportional"
    constant = "constant"


Out = Annotated[
    Path,
    typer.Option("-o", "--out", metavar="DIR", help="Folder for the table and the figures."),
]
ChamberPressure = Annotated[
    str | None,
    typer.Option(
        metavar="RANGE", help="START:STOP:N:UNIT, such as 12:33:8:bar, or START%:STOP%:N."
    ),
]
MixtureRatio = Annotated[
    str | None,
    typer.Option(metavar="RANGE", help="START:STOP:N, such as 2.4:3.6:7, or START%:STOP%:N."),
]
InletTemperature = Annotated[
    str | None,
    typer.Option(metavar="RANGE", help="Of the coolant: START:STOP:N:UNIT, such as 110:150:5:K."),
]
InletPressure = Annotated[
    str | None,
    typer.Option(
        metavar="RANGE",
        help="Of the coolant: START:STOP:N:UNIT, such as 40:90:6:bar, or START%:STOP%:N.",
    ),
]
FeedPressure = Annotated[
    Rule,
    typer.Option(
        help="Coolant pressure in proportion to the chamber pressure (a pump, or a throttle ahead "
        "of the channels), or constant (a tank, and a throttle behind them). Proportional brings "
        "it nearest to boiling; constant asks more above the case's own chamber pressure."
    ),
]
CoolantFlow = Annotated[
    Rule,
    typer.Option(
        help="Where the case gives a value: in proportion to the flow of the propellant that "
        "cools, or else of the hot gas; or constant. A share of the fuel follows by itself."
    ),
]


def run(
    case: CasePath,
    out: Out = Path("envelope"),
    chamber_pressure: ChamberPressure = None,
    mixture_ratio: MixtureRatio = None,
    inlet_temperature: InletTemperature = None,
    inlet_pressure: InletPressure = None,
    feed_pressure: FeedPressure = Rule.proportional,
    coolant_flow: CoolantFlow = Rule.proportional,
    overrides: SetOption = None,
    as_json: JsonOption = False,
) -> None:
    """Map the operating envelope: which limit holds where.

    Reads CASE and the tables it names; solves and judges it at every combination of the axes
    given; prints what limits where, and how far the chamber throttles; writes envelope.csv,
    figures and envelope.json to DIR. Axes left out stay at the case's value; with fewer than two,
    chamber pressure (40%:110%:8) and mixture ratio (80%:120%:7) join. The first two make the map.
    The throat stays as built. A point that is not solved keeps its row, with the reason. Progress
    goes to standard error.
    """
    with exit_codes():
        import regen

        loaded = regen.load(case, overrides or ())
        check_writable(out)
        result = regen.envelope(
            loaded,
            chamber_pressure=chamber_pressure,
            mixture_ratio=mixture_ratio,
            inlet_temperature=inlet_temperature,
            inlet_pressure=inlet_pressure,
            feed_pressure=feed_pressure.value,
            coolant_flow=coolant_flow.value,
            progress=say,
        )
        finish(result, out, as_json)
