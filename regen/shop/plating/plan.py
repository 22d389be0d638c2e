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
from regen.shop.plating.check import Check, compare
from regen.shop.plating.layers import Layer, Step, Turning, plate
from regen.shop.plating.surface import Surface, surface_of
from regen.shop.plating.values import LayerSpec, Values, values_of

NEED = "jacket_needed_m"
"""Column of the strength checks: least jacket at each row of the result [m]."""

WAIST = 0.05
"""Share of the mean deposit below which the thinnest place does not govern the hours."""


@dataclass(frozen=True, slots=True, eq=False)
class PlatingPlan:
    """How the slots of a design are closed in the bath; SI, arrays (S,) by rising x.

    ``r`` is the radius of the liner's outside and ``r_finished`` of the finished jacket on their
    normals, ``need`` the nickel that the strength checks ask for [m], None where they were not
    made. ``copper`` is None for no copper layer. ``on_time`` is time with current,
    ``calendar_time`` with all turnings, ``calendar_range`` by the share that hours with current
    usually are of it [s].
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
    def broken(self) -> tuple[Check, ...]:
        """Checks that the plan breaks."""
        return tuple(check for check in self.checks if check.verdict == "broken")


def plan_plating(design: Design, result: Result) -> PlatingPlan:
    """Return the plating plan of a solved and judged design with an electroformed jacket.

    ``result.checked`` has the jacket that strength needs. PlanError if the jacket is not
    electroformed, or no plan can be made of what is given.
    """
    values = values_of(design)
    surface = _surface(design, result)
    turning = Turning(values.turn_each, values.turn_cut)
    copper = None
    if values.copper is not None:
        copper = plate(surface, values.copper, _ratio(values.copper, surface), turning)
    base = design.closeout.copper
    nickel = plate(surface, values.nickel, _ratio(values.nickel, surface), turning, base)
    layers = (nickel,) if copper is None else (copper, nickel)
    need = _needed(result, surface)
    shop = facts("shop")
    on_time = sum(layer.time for layer in layers)
    turnings = sum(len(layer.steps) for layer in layers)
    return PlatingPlan(
        title=design.title,
        x=surface.x,
        r=surface.outside(0.0)[1],
        r_finished=surface.outside(base + nickel.left)[1],
        need=need,
        values=values,
        copper=copper,
        nickel=nickel,
        on_time=on_time,
        calendar_time=on_time + turnings * values.turn_time,
        calendar_range=(on_time / shop["share_high"].value, on_time / shop["share_low"].value),
        checks=(
            *(_thinnest(layer, surface) for layer in layers),
            _strength(need, nickel, surface, values.turn_tolerance, result),
            *bath_checks.checks(values.specs, design.plating.wax_melts),
            *bond_checks.checks(_plated(design, result, surface, copper, nickel)),
            *hydrogen.checks(design, *_barrier(copper, surface, values.turn_tolerance)),
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


def _ratio(spec: LayerSpec, surface: Surface) -> Array:
    """Return local over mean thickness (S,): as given, or straight from both ends to the throat."""
    x = surface.x
    if spec.profile is not None:
        return surface.even(spec.profile.at(x))
    middle = 0.0 if x[0] < 0.0 < x[-1] else 0.5 * (x[0] + x[-1])
    ends = (spec.end_ratio, 1.0, spec.end_ratio)
    return surface.even(np.interp(x, (x[0], middle, x[-1]), ends))


def _needed(result: Result, surface: Surface) -> Array | None:
    """Return the jacket that strength needs, the greatest of all rows at each x, NaN if unknown."""
    rows = result.checked.get(NEED)
    if rows is None or np.isnan(rows).all():
        return None
    need = np.full(surface.x.size, np.nan)
    np.fmax.at(need, np.searchsorted(surface.x, result.stations["x_m"]), rows)
    return need


def _thinnest(layer: Layer, surface: Surface) -> Check:
    """Check that the thinnest place is left with the thickness drawn and its turning stock."""
    spec, i = layer.spec, layer.thinnest
    return compare(
        f"{layer.metal}_at_thinnest",
        f"{layer.metal} before its last turning, at its thinnest place",
        "given_in_case",
        float(layer.as_plated[i]),
        spec.finished + spec.stock,
        "min",
        "m",
        x_m=float(surface.x[i]),
        notes=[
            f"the deposit there is {layer.ratio[i]:.2f} of its mean, {layer.deposit * 1e3:.3g} mm "
            "in all"
        ],
        remedy=f"a mean of {layer.deposit_needed * 1e3:.3g} mm is needed for "
        f"{spec.finished * 1e3:g} mm drawn and {spec.stock * 1e3:g} mm of stock: plate more, or "
        "shield the ends",
    )


def _strength(
    need: Array | None, nickel: Layer, surface: Surface, tolerance: float, result: Result
) -> Check:
    """Check what turning leaves, less its tolerance, against what strength needs."""
    name, text = "nickel_need", "nickel after turning, less tolerance, against strength"
    if need is None:
        note = "the thickness needed for pressure and thrust was not worked out"
        return Check(name, text, "not checked", "given_in_case", note=note)
    left = nickel.left - tolerance
    i = int(np.nanargmin(left - need))
    basis = next((one.note for one in result.findings if one.name == "jacket_needed"), "")
    greatest = f"greatest need anywhere {np.nanmax(need) * 1e3:.3g} mm"
    notes = [f"{greatest}, {basis}" if basis else greatest]
    if np.isnan(need).any():
        notes.append(f"not known at {np.count_nonzero(np.isnan(need))} stations")
    return compare(
        name,
        text,
        "given_in_case",
        float(left[i]),
        float(need[i]),
        "min",
        "m",
        x_m=float(surface.x[i]),
        notes=notes,
        remedy=f"draw closeout.nickel at least {(need[i] - left[i]) * 1e3:.3g} mm thicker",
    )


def _plated(
    design: Design, result: Result, surface: Surface, copper: Layer | None, nickel: Layer
) -> bond_checks.PlatedLayers:
    """Return the layers at the rows of the result, for the checks of stress."""
    s = result.stations

    def at_rows(along: Array) -> Array:
        return np.asarray(np.interp(s["x_m"], surface.x, along))

    T_jacket = result.checked.get("T_jacket_K")
    if T_jacket is None:
        run = Run(result.stations, result.summary)
        T_jacket = jacket_temperature(design, metals.liner(design), run)
    return bond_checks.PlatedLayers(
        design=design,
        stations=s,
        bath=nickel.spec.bath,
        copper=np.zeros_like(s["x_m"]) if copper is None else at_rows(copper.left),
        nickel=at_rows(nickel.left),
        as_plated=at_rows(nickel.as_plated),
        stress=nickel.spec.stress or 0.0,
        T_bath=nickel.spec.temperature,
        T_jacket=T_jacket,
        pressure=np.full_like(s["x_m"], result.summary["coolant_pressure_in_Pa"]),
    )


def _barrier(copper: Layer | None, surface: Surface, tolerance: float) -> tuple[float, float]:
    """Return the thinnest copper after turning, tolerance taken off, and where it is [m]."""
    if copper is None:
        return 0.0, float(surface.x[0])
    i = int(np.argmin(copper.left))
    return max(float(copper.left[i]) - tolerance, 0.0), float(surface.x[i])


def _notes(layer: Layer, surface: Surface) -> Iterator[str]:
    """Yield what governs a layer's hours, and how a measured rate compares with theory."""
    spec, i = layer.spec, layer.thinnest
    x, share = float(surface.x[i]), float(layer.ratio[i])
    where = "the throat" if abs(x) < 1e-3 else f"x = {x * 1e3:.0f} mm"
    if share < 1.0 - WAIST:
        even = layer.time * layer.even_deposit / layer.deposit_needed
        yield (
            f"{layer.metal}: {where} governs the hours. It gets {share:.2f} of the mean deposit; "
            f"an even deposit would take about {even / 3600:.0f} h instead of "
            f"{layer.time / 3600:.0f} h"
        )
    if spec.rate is not None:
        yield (
            f"{layer.metal}: hours by the shop's measured {spec.rate / UM_H:.3g} um/h, "
            f"{layer.time / 3600:.0f} h; by Faraday's law at the set current, "
            f"{layer.theory_time / 3600:.0f} h"
        )
