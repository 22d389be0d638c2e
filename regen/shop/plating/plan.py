"""The plating plan of a solved design: layers, cycles, current, hours, metal, and its checks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from regen.checks.runs import Run
from regen.checks.strength.structure import jacket_temperature
from regen.design import ContourShape, Design
from regen.geometry.contour import build_contour
from regen.metals import selection as metals
from regen.result import Array, Result
from regen.shop.plating import bath_checks, bond_checks, hydrogen
from regen.shop.plating.bath_checks import UM_H
from regen.shop.plating.baths import facts
from regen.shop.plating.layers import Layer, Step, Wanted, plate
from regen.shop.plating.outcome import Check, judged
from regen.shop.plating.surface import Surface, surface_of
from regen.shop.plating.values import InBath, Taken, Values, values_of

NEED = "jacket_needed_m"
"""Column of the strength checks: least jacket at each row of the result [m]."""

WAIST = 0.05
"""Share of the mean deposit below which the thinnest place does not govern the hours."""


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """How the slots of a design are closed in the bath; SI, arrays (S,) by rising x.

    Parameters
    ----------
    title : str
        Of the case.
    x, r, r_finished : ndarray
        Stations; radius of the liner's outside and of the finished jacket on their normals [m].
    need : ndarray or None
        Nickel that the strength checks ask for [m]; None where they were not made.
    values : Values
        Current densities, efficiencies, allowances: what is given, or taken.
    copper, nickel : Layer
        The layers; None for no copper.
    on_time, calendar_time : float
        Time with current, and with all turnings [s].
    calendar_range : tuple of float
        Calendar by the share that hours with current usually are of it [s].
    checks : tuple of Check
        In the order of the sheet.
    notes : tuple of str
        What governs, and how the shop's rate stands to theory.
    design_verdict : str
        Verdict on the design that is to be plated.
    """

    title: str
    x: Array
    r: Array
    r_finished: Array
    need: Array | None
    values: Values
    copper: Layer | None
    nickel: Layer
    on_time: float
    calendar_time: float
    calendar_range: tuple[float, float]
    checks: tuple[Check, ...]
    notes: tuple[str, ...]
    design_verdict: str

    @property
    def layers(self) -> tuple[Layer, ...]:
        """Layers in the order in which they are plated."""
        return (self.nickel,) if self.copper is None else (self.copper, self.nickel)

    @property
    def steps(self) -> tuple[Step, ...]:
        """Cycles of all layers in their order, each ended by a turning."""
        return tuple(step for layer in self.layers for step in layer.steps)

    @property
    def taken(self) -> tuple[Taken, ...]:
        """What the case leaves out."""
        return self.values.taken

    @property
    def broken(self) -> tuple[Check, ...]:
        """Checks that the plan breaks."""
        return tuple(check for check in self.checks if check.verdict == "broken")


def plan(design: Design, result: Result) -> Plan:
    """Return the plating plan of a solved design.

    Parameters
    ----------
    design : Design
        Its jacket is electroformed.
    result : Result
        The design solved and judged; its ``checked`` has the jacket that strength needs.

    Returns
    -------
    Plan
        With its checks; what cannot be evaluated says so.

    Raises
    ------
    PlanError
        If the jacket is not electroformed, or no plan can be made of what is given.
    """
    values = values_of(design)
    surface = _surface(design, result)
    copper = None
    if values.copper is not None:
        copper = plate(surface, _wanted(values, values.copper, surface, 0.0))
    nickel = plate(surface, _wanted(values, values.nickel, surface, design.closeout.copper))
    layers = (nickel,) if copper is None else (copper, nickel)
    wanted = _needed(result, surface)
    shop = facts("shop")
    on_time = sum(layer.time for layer in layers)
    turnings = sum(len(layer.steps) for layer in layers)
    return Plan(
        title=design.title,
        x=surface.x,
        r=surface.outside(0.0)[1],
        r_finished=surface.outside(design.closeout.copper + nickel.left)[1],
        need=wanted,
        values=values,
        copper=copper,
        nickel=nickel,
        on_time=on_time,
        calendar_time=on_time + turnings * values.turn_time,
        calendar_range=(on_time / shop["share_high"].value, on_time / shop["share_low"].value),
        checks=(
            *(_leaves(layer, surface) for layer in layers),
            _enough(wanted, nickel, surface, values.turn_tolerance, _need_note(result)),
            *bath_checks.checks(values.metals, design.plating.wax_melts),
            *bond_checks.checks(_laid(design, result, values, surface, layers)),
            *_hydrogen(design, copper, surface, values.turn_tolerance),
        ),
        notes=tuple(note for layer in layers for note in _notes(layer, surface)),
        design_verdict=result.verdict,
    )


def _surface(design: Design, result: Result) -> Surface:
    sized = isinstance(design.contour, ContourShape)
    throat = 0.5 * result.summary["throat_diameter_m"] if sized else None
    return surface_of(
        build_contour(design.contour, throat),
        result.stations,
        extra_area=design.plating.extra_area,
        ends=design.plating.ends == "plated",
    )


def _wanted(values: Values, of: InBath, surface: Surface, base: float) -> Wanted:
    return Wanted(
        bath=of.bath,
        current_density=of.current_density,
        efficiency=of.efficiency,
        rate=of.rate,
        ratio=_ratio(of, surface),
        base=base,
        finished=of.finished,
        stock=of.stock,
        turn_each=values.turn_each,
        cut=values.turn_cut,
        deposit=of.deposit,
    )


def _ratio(of: InBath, surface: Surface) -> Array:
    """Return local over mean thickness (S,): as given, or straight from both ends to the throat."""
    x = surface.x
    if of.profile is not None:
        return surface.even(of.profile.at(x))
    middle = 0.0 if x[0] < 0.0 < x[-1] else 0.5 * (x[0] + x[-1])
    return surface.even(np.interp(x, (x[0], middle, x[-1]), (of.end_ratio, 1.0, of.end_ratio)))


def _needed(result: Result, surface: Surface) -> Array | None:
    """Return the jacket that strength needs, the greatest of all rows at each x; None if unknown.

    A station where it is not known is NaN.
    """
    need = result.checked.get(NEED)
    if need is None or np.isnan(need).all():
        return None
    found = np.full(surface.x.size, np.nan)
    np.fmax.at(found, np.searchsorted(surface.x, result.stations["x_m"]), need)
    return found


def _leaves(layer: Layer, surface: Surface) -> Check:
    """Check that the thinnest place is left with the thickness drawn and its turning stock."""
    of, i = layer.wanted, layer.thinnest
    least = float(layer.as_plated[i])
    mean = f"{layer.deposit * 1e3:.3g} mm in all"
    note = f"there the deposit is {of.ratio[i]:.2f} of its mean, {mean}"
    verdict = judged(least, of.finished + of.stock, "min")
    if verdict == "broken":
        note += (
            f"; a mean of {layer.deposit_needed * 1e3:.3g} mm is needed for {of.finished * 1e3:g} "
            f"mm drawn and {of.stock * 1e3:g} mm of stock: plate more, or shield the ends"
        )
    return Check(
        f"{layer.metal}_at_thinnest",
        f"{layer.metal} before its last turning, at its thinnest place",
        verdict,
        "given_in_case",
        least,
        of.finished + of.stock,
        "min",
        "m",
        float(surface.x[i]),
        note,
    )


def _need_note(result: Result) -> str:
    """Return what the strength checks say that the need rests on."""
    found = (one.note for one in result.findings if one.name == "jacket_needed")
    return next(found, "")


def _enough(
    need: Array | None, nickel: Layer, surface: Surface, tolerance: float, rests_on: str
) -> Check:
    text = "nickel after turning, tolerance taken off, against what strength needs"
    if need is None:
        note = "the thickness that pressure and thrust need was not worked out"
        return Check("nickel_need", text, "not checked", "given_in_case", note=note)
    left = nickel.left - tolerance
    i = int(np.nanargmin(left - need))
    verdict = judged(float(left[i]), float(need[i]), "min")
    note = f"greatest need anywhere {np.nanmax(need) * 1e3:.3g} mm"
    if rests_on:
        note += f", {rests_on}"
    if np.isnan(need).any():
        note += f"; not known at {np.count_nonzero(np.isnan(need))} stations"
    if verdict == "broken":
        note += f"; draw closeout.nickel at least {(need[i] - left[i]) * 1e3:.3g} mm thicker"
    return Check(
        "nickel_need",
        text,
        verdict,
        "given_in_case",
        float(left[i]),
        float(need[i]),
        "min",
        "m",
        float(surface.x[i]),
        note,
    )


def _laid(
    design: Design,
    result: Result,
    values: Values,
    surface: Surface,
    layers: tuple[Layer, ...],
) -> bond_checks.Laid:
    """Return the layers at the rows of the result, for the checks of stress."""
    s = result.stations

    def at_rows(along: Array) -> Array:
        return np.asarray(np.interp(s["x_m"], surface.x, along))

    nickel = layers[-1]
    copper = at_rows(layers[0].left) if len(layers) > 1 else np.zeros_like(s["x_m"])
    return bond_checks.Laid(
        design=design,
        stations=s,
        bath=values.nickel.bath,
        copper=copper,
        nickel=at_rows(nickel.left),
        as_plated=at_rows(nickel.as_plated),
        stress=values.nickel.stress or 0.0,
        T_bath=values.nickel.temperature,
        T_jacket=_jacket_temperature(design, result),
        pressure=np.full_like(s["x_m"], result.summary["coolant_pressure_in_Pa"]),
    )


def _jacket_temperature(design: Design, result: Result) -> Array:
    """Return that of the strength checks, worked out again where a result has none [K]."""
    known = result.checked.get("T_jacket_K")
    if known is not None:
        return known
    run = Run(result.stations, result.summary)
    return jacket_temperature(design, metals.liner(design), run)


def _hydrogen(
    design: Design, copper: Layer | None, surface: Surface, tolerance: float
) -> Iterator[Check]:
    thinnest, x = 0.0, float(surface.x[0])
    if copper is not None:
        i = int(np.argmin(copper.left))
        thinnest, x = float(copper.left[i]) - tolerance, float(surface.x[i])
    yield from hydrogen.checks(design, max(thinnest, 0.0), x)


def _notes(layer: Layer, surface: Surface) -> Iterator[str]:
    """Yield what governs a layer's hours, and how a measured rate stands to theory."""
    of, i = layer.wanted, layer.thinnest
    x, share = float(surface.x[i]), float(of.ratio[i])
    where = "the throat" if abs(x) < 1e-3 else f"x = {x * 1e3:.0f} mm"
    if share < 1.0 - WAIST:
        even = layer.time * layer.even_deposit / layer.deposit_needed
        yield (
            f"{layer.metal}: {where} governs the hours. It gets {share:.2f} of the mean deposit; "
            f"an even deposit would take about {even / 3600:.0f} h in place of "
            f"{layer.time / 3600:.0f} h"
        )
    if of.rate is not None:
        yield (
            f"{layer.metal}: hours by the shop's measured {of.rate / UM_H:.3g} um/h, "
            f"{layer.time / 3600:.0f} h; Faraday's law at the set current says "
            f"{layer.theory_time / 3600:.0f} h"
        )
