"""How a plating plan is said: rows of its tables, once for terminal and sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from regen import sources
from regen.shop.plating.layers import Layer, Step
from regen.shop.plating.outcome import Check
from regen.shop.plating.plan import Plan
from regen.shop.plating.values import Taken

HOUR, DAY = 3600.0, 86400.0
KELVIN = 273.15

SHOWN = {
    "m": (1e3, "mm"),
    "Pa": (1e-6, "MPa"),
    "A/m2": (1e-2, "A/dm2"),
    "m/s": (3.6e9, "um/h"),
    "s": (1.0 / HOUR, "h"),
}
"""Factor from SI and unit that the shop reads."""

VERDICTS = {
    "kept": "kept",
    "broken": "BROKEN",
    "not checked": "not checked",
    "watch": "watch",
    "told": "",
}

FAR = 1e9
"""A buckling stress above this [Pa] is beyond the strength of any deposit."""

LAYER_HEADINGS = (
    ("layer", ""),
    ("drawn", "mm"),
    ("plated, mean", "mm"),
    ("thinnest / mean", ""),
    ("cycles", ""),
    ("A/dm2", ""),
    ("efficiency", ""),
    ("area", "dm2"),
    ("current", "A"),
    ("hours", "h"),
    ("charge", "Ah"),
    ("metal", "kg"),
    ("stays", "kg"),
)

STEP_HEADINGS = (
    ("step", ""),
    ("grows by, mean", "mm"),
    ("thinnest, before", "mm"),
    ("thinnest, plated", "mm"),
    ("thickest, plated", "mm"),
    ("area", "dm2"),
    ("current", "A"),
    ("hours", "h"),
    ("charge", "Ah"),
    ("metal", "kg"),
    ("then turn to", "mm"),
)

BEFORE = (
    "every slot deburred, counted and measured",
    "slots filled with wax, proud of the lands, scraped flush; no wax smeared on the lands",
    "wax made conductive with {skin}; continuity of the skin measured",
    "lands degreased, abraded, activated; part goes in live",
    "adhesion coupon of the liner's alloy in the same load, from skin to last nickel",
    "stress of the nickel measured on strip or spiral at the start of each shift; a strip's bow "
    "gives it by Stoney's formula while the deposit is thin, never for the jacket itself",
)
"""What must be done and signed before the current is switched on."""

CAUTIONS = (
    "Plating baths, acids and their mists are toxic and corrosive; nickel salts cause cancer and "
    "allergy. Ventilation, protection and waste by the rules of the place.",
    "Never mix baths, acids and cleaners: poisonous gas may come off. Label, separate, rinse.",
    "Hot wax and solvents burn: no open flame when the wax is melted out; weigh what comes out.",
    "Rectifiers of high current: lock out before hands touch racks or bars.",
    "The closed part is a pressure vessel that nobody has proved: hydrostatic proof behind a "
    "barrier, by licensed engineers and local rules, comes before gas or fire.",
)


@dataclass(frozen=True, slots=True)
class Said:
    """One check as a row: what, value, limit, verdict, note, reference."""

    verdict: str
    text: str
    value: str
    limit: str
    place: str
    note: str
    source: str


def headline(plan: Plan) -> str:
    """Return the verdict on a plan in one line.

    Parameters
    ----------
    plan : Plan
        Any.

    Returns
    -------
    str
        How many checks are broken, how many could not be made.
    """
    broken = len(plan.broken)
    missing = sum(check.verdict == "not checked" for check in plan.checks)
    first = f"{broken} broken" if broken else "no check is broken"
    return f"{first}, {missing} not checked" if missing else f"{first}, all checked"


def hours_lines(plan: Plan) -> list[str]:
    """Return what is to be said of hours, calendar and metal.

    Parameters
    ----------
    plan : Plan
        Any.

    Returns
    -------
    list of str
        Without the notes of the plan.
    """
    low, high = (time / DAY for time in plan.calendar_range)
    turned = sum(layer.mass - layer.mass_left for layer in plan.layers)
    metal = sum(layer.mass for layer in plan.layers)
    return [
        f"current on for {plan.on_time / HOUR:.0f} h ({plan.on_time / DAY:.1f} days)",
        f"calendar {plan.calendar_time / DAY:.0f} days with {len(plan.steps)} turnings of "
        f"{plan.values.turn_time / HOUR:g} h, masking, waxing, activating and waiting not "
        f"counted; usual shares of 5 to 20 % say {low:.0f} to {high:.0f} days",
        f"metal {metal:.2f} kg, of which {turned:.2f} kg is turned off, or sits on ends and racks",
    ]


def layer_row(layer: Layer) -> list[str]:
    """Return the row of a layer, as ``LAYER_HEADINGS``.

    Parameters
    ----------
    layer : Layer
        Of a plan.

    Returns
    -------
    list of str
        One text a column.
    """
    of, steps = layer.wanted, layer.steps
    return [
        layer.metal,
        f"{of.finished * 1e3:.2f}",
        f"{layer.deposit * 1e3:.2f}",
        f"{of.ratio.min():.2f}",
        f"{len(steps)}",
        f"{of.current_density / 100.0:.3g}",
        f"{of.efficiency:g}",
        _span(steps[0].area_from * 100.0, steps[-1].area_to * 100.0, 1),
        _span(steps[0].current_from, steps[-1].current_to, 1),
        f"{layer.time / HOUR:.1f}",
        f"{layer.charge / HOUR:.0f}",
        f"{layer.mass:.2f}",
        f"{layer.mass_left:.2f}",
    ]


def step_row(step: Step) -> list[str]:
    """Return the row of a cycle, as ``STEP_HEADINGS``.

    Parameters
    ----------
    step : Step
        Of a layer.

    Returns
    -------
    list of str
        One text a column.
    """
    return [
        f"{step.layer} {step.number}",
        f"{step.growth * 1e3:.2f}",
        f"{step.least_from * 1e3:.2f}",
        f"{step.least_plated * 1e3:.2f}",
        f"{step.most_plated * 1e3:.2f}",
        _span(step.area_from * 100.0, step.area_to * 100.0, 2),
        _span(step.current_from, step.current_to, 1),
        f"{step.time / HOUR:.1f}",
        f"{step.charge / HOUR:.0f}",
        f"{step.mass:.2f}",
        f"{step.least_to * 1e3:.2f}",
    ]


def _span(low: float, high: float, decimals: int) -> str:
    one, other = f"{low:.{decimals}f}", f"{high:.{decimals}f}"
    return one if one == other else f"{one}-{other}"


def amount(value: float, unit: str, name: str = "") -> str:
    """Return a value in the unit that the shop reads.

    Parameters
    ----------
    value : float
        In SI [unit].
    unit : str
        SI unit.
    name : str
        Of its check: baths and wax are told in degC.

    Returns
    -------
    str
        With its unit.
    """
    if unit == "K" and ("bath" in name or "wax" in name):
        return f"{value - KELVIN:.0f} degC"
    if unit == "K":
        return f"{value:.0f} K"
    if unit == "J/m2":
        return f"{value:.3g} J/m2"
    if unit == "Pa":
        if name.endswith("buckling") and value > FAR:
            return "> 1000 MPa"
        return f"{value / 1e6:.3g} MPa" if value < FAR else f"{value / 1e6:.0f} MPa"
    factor, shown = SHOWN.get(unit, (1.0, unit))
    text = f"{value * factor:.3g}" if shown != "mm" else f"{value * factor:.2f}"
    return f"{text} {shown}".removesuffix(" -")


def said(check: Check) -> Said:
    """Return a check as a row.

    Parameters
    ----------
    check : Check
        Of a plan.

    Returns
    -------
    Said
        Texts.
    """
    limit = ""
    if check.limit is not None:
        sign = "<=" if check.kind == "max" else ">="
        said_limit = amount(check.limit, check.unit, check.name)
        limit = said_limit if said_limit.startswith(">") else f"{sign} {said_limit}"
    unit = check.unit
    if unit.startswith("notched"):
        unit = "-"
    return Said(
        verdict=VERDICTS[check.verdict],
        text=check.text,
        value="-" if check.value is None else amount(check.value, unit, check.name),
        limit=limit,
        place="" if check.x_m is None else f"{check.x_m * 1e3:.0f}",
        note=check.note,
        source=check.source,
    )


def taken(one: Taken) -> tuple[str, str, str]:
    """Return a value that the case leaves out: key, value, and how it was come by.

    Parameters
    ----------
    one : Taken
        Of a plan.

    Returns
    -------
    tuple of str
        Key path, value with its unit, words of the mark.
    """
    mark = sources.MARKS[one.mark] or "seen"
    return one.key, amount(one.value, one.unit, one.key), mark


def places(plan: Plan, most: int = 9) -> Iterator[list[str]]:
    """Yield rows of the layers at some stations: x, radii and thicknesses [mm].

    Parameters
    ----------
    plan : Plan
        Any.
    most : int
        Rows, the thinnest place and both ends among them [-].

    Yields
    ------
    list of str
        x, radius of liner, copper drawn, nickel needed, drawn, before the last turning, radius
        finished.
    """
    even = np.linspace(plan.x[0], plan.x[-1], most - 1)
    rows = {int(np.argmin(np.abs(plan.x - x))) for x in even} | {plan.nickel.thinnest}
    for i in sorted(rows):
        copper = 0.0 if plan.copper is None else float(plan.copper.left[i])
        nickel = plan.nickel
        yield [
            f"{plan.x[i] * 1e3:.1f}",
            f"{plan.r[i] * 1e3:.2f}",
            f"{copper * 1e3:.2f}",
            "-" if plan.need is None else f"{plan.need[i] * 1e3:.2f}",
            f"{nickel.left[i] * 1e3:.2f}",
            f"{nickel.as_plated[i] * 1e3:.2f}",
            f"{plan.r_finished[i] * 1e3:.2f}",
        ]
