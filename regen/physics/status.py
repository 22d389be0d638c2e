"""Outcome of a march: integer codes from the compiled core, and their one table of texts."""

from __future__ import annotations

from typing import NamedTuple

OK, CHOKED, BOILED, COOLANT_RANGE, COOLANT_COLD, PRESSURE_LOST = range(6)
NOT_CONVERGED, NO_WALL_ROOT, GAS_RANGE, GAS_COOLANT = range(6, 10)


class Text(NamedTuple):
    """What happened and what to do about it."""

    name: str
    what: str
    remedy: str


TEXTS: dict[int, Text] = {
    OK: Text("ok", "solved", ""),
    CHOKED: Text(
        "choked",
        "the coolant flow chokes: no subsonic state passes this mass flow",
        "make the slots deeper, wider or more, lower the coolant flow, or raise its pressure",
    ),
    BOILED: Text(
        "bulk boiling",
        "the coolant's bulk reaches saturation below its critical pressure; two-phase flow is "
        "not solved",
        "raise the coolant pressure or flow, or shorten the cooled length",
    ),
    COOLANT_RANGE: Text(
        "coolant out of range",
        "a coolant state lies beyond the property tables (more than 1.5 times the equation of "
        "state's highest temperature, the last row of a table of your own, or outside their "
        "pressures)",
        "raise the coolant flow or thin the wall so that the coolant stays cooler, or bring its "
        "pressure into range",
    ),
    COOLANT_COLD: Text(
        "coolant too cold",
        "the coolant is below its melting line or the lowest temperature of its properties",
        "raise the inlet temperature",
    ),
    PRESSURE_LOST: Text(
        "coolant pressure used up",
        "friction and acceleration use up the coolant's pressure before the outlet",
        "raise the inlet pressure, or make the slots deeper, wider or more",
    ),
    NOT_CONVERGED: Text(
        "not converged",
        "the loop over outlet pressure and returned heat did not converge",
        "give the inlet pressure instead of the outlet pressure, or look for a flow near choking",
    ),
    NO_WALL_ROOT: Text(
        "no wall balance",
        "no wall temperature between coolant and gas balances the two sides",
        "check the coolant correlation against its range",
    ),
    GAS_COOLANT: Text(
        "coolant a gas below its critical pressure",
        "the coolant falls below its critical pressure as a gas; below it only the liquid is "
        "tabulated",
        "raise the inlet pressure, or lower the pressure drop: slots deeper, wider or more",
    ),
    GAS_RANGE: Text(
        "gas table left",
        "the heat that returns with the fuel exceeds the hot-gas table",
        "lower the returned heat: more coolant flow or a shorter cooled length",
    ),
}
