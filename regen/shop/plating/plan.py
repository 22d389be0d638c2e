"""The plating plan of a solved design: layers, cycles, current, hours, metal, and its checks."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from regen.checks.runs import Run
from regen.checks.strength.structure import jacket_temperature
from regen.design import Design
from regen.metals import selection as metals
from regen.result import Array, Result
from regen.shop.plating import bath_checks, bond_checks, hydrogen
from regen.shop.plating.bath_checks import UM_H
from regen.shop.plating.baths import facts
from regen.shop.plating.check import Check, check, note
from regen.shop.plating.layers import Layer, Step, plate
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
    normals, ``need`` the nickel that the strength checks ask for [m], NaN where it is not known.
    ``layers`` are in plating order, nickel last; ``copper`` is what is left of the layer below
    it, zeros without one [m].
    """

    title: str
    x: Array
    r: Array
    r_finished: Array
    need: Array
    values: Values
    layers: tuple[Layer, ...]
    copper: Array
    checks: tuple[Check, ...]
    notes: tuple[str, ...]
    design_verdict: str

    @property
    def nickel(self) -> Layer:
        """The jacket."""
        return self.layers[-1]

    @property
    def steps(self) -> tuple[Step, ...]:
        """Cycles of all layers in their order, each ended by a turning."""
        return tuple(step for layer in self.layers for step in layer.steps)

    @property
    def on_time(self) -> float:
        """Time with current [s]."""
        return sum(layer.time for layer in self.layers)

    @property
    def calendar_time(self) -> float:
        """Time with all turnings [s]."""
        return self.on_time + len(self.steps) * self.values.turning.time

    @property
    def calendar_range(self) -> tuple[float, float]:
        """Calendar by the share that hours with current usually are of it [s]."""
        shop = facts("shop")
        return self.on_time / shop["share_high"].value, self.on_time / shop["share_low"].value

    @property
    def mass(self) -> float:
        """Metal deposited [kg]."""
        return sum(layer.mass for layer in self.layers)

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
    surface = surface_of(design, result)
    base, layers = 0.0, []
    for spec in values.specs:
        layers.append(plate(surface, spec, _ratio(spec, surface), values.turning, base))
        base = spec.finished
    *below, nickel = layers
    copper = below[0].left if below else np.zeros_like(surface.x)
    need, tolerance = _needed(result, surface), values.turning.tolerance
    thinnest = int(np.argmin(copper))
    barrier = max(float(copper[thinnest]) - tolerance, 0.0)
    return PlatingPlan(
        title=design.title,
        x=surface.x,
        r=surface.outside(0.0)[1],
        r_finished=surface.outside(design.closeout.copper + nickel.left)[1],
        need=need,
        values=values,
        layers=tuple(layers),
        copper=copper,
        checks=(
            *(_thinnest(layer, surface.x) for layer in layers),
            _strength(need, nickel.left - tolerance, surface.x, result),
            *bath_checks.checks(values.specs, design.plating.wax_melts),
            *bond_checks.checks(_plated(design, result, surface.x, copper, nickel)),
            *hydrogen.checks(design, barrier, float(surface.x[thinnest])),
        ),
        notes=tuple(text for layer in layers for text in _notes(layer, surface.x)),
        design_verdict=result.verdict,
    )


def _ratio(spec: LayerSpec, surface: Surface) -> Array:
    """Return local over mean thickness (S,): as given, or straight from both ends to the throat."""
    x = surface.x
    if spec.profile is not None:
        return surface.even(spec.profile.at(x))
    middle = 0.0 if x[0] < 0.0 < x[-1] else 0.5 * (x[0] + x[-1])
    ends = facts("shop")["end_ratio"].value
    return surface.even(np.interp(x, (x[0], middle, x[-1]), (ends, 1.0, ends)))


def _needed(result: Result, surface: Surface) -> Array:
    """Return the jacket that strength needs, the greatest of all rows at each x, NaN if unknown."""
    need = np.full(surface.x.size, np.nan)
    if (rows := result.checked.get(NEED)) is not None:
        np.fmax.at(need, np.searchsorted(surface.x, result.stations["x_m"]), rows)
    return need


def _thinnest(layer: Layer, x: Array) -> Check:
    """Check that the thinnest place is left with the thickness drawn and its turning stock."""
    spec, i = layer.spec, layer.thinnest
    text = note("deposit", share=layer.ratio[i], mean=layer.deposit * 1e3)
    return check(
        "{metal}_at_thinnest",
        layer.as_plated[i],
        spec.finished + spec.stock,
        x_m=x[i],
        notes=[text],
        metal=layer.metal,
        needed=layer.deposit_needed * 1e3,
        finished=spec.finished * 1e3,
        stock=spec.stock * 1e3,
    )


def _strength(need: Array, left: Array, x: Array, result: Result) -> Check:
    """Check what turning leaves, less its tolerance, against what strength needs."""
    unknown = np.isnan(need)
    if unknown.all():
        return check("nickel_need", notes=[note("no need")])
    i = int(np.nanargmin(left - need))
    basis = next((one.note for one in result.findings if one.name == "jacket_needed"), "")
    greatest = f"greatest need anywhere {np.nanmax(need) * 1e3:.3g} mm"
    notes = [f"{greatest}, {basis}" if basis else greatest]
    if unknown.any():
        notes.append(f"not known at {np.count_nonzero(unknown)} stations")
    short = (need[i] - left[i]) * 1e3
    return check("nickel_need", left[i], need[i], x_m=x[i], notes=notes, short=short)


def _plated(
    design: Design, result: Result, x: Array, copper: Array, nickel: Layer
) -> bond_checks.PlatedLayers:
    """Return the layers at the rows of the result, for the checks of stress."""
    s, T_jacket = result.stations, result.checked.get("T_jacket_K")
    if T_jacket is None:
        T_jacket = jacket_temperature(design, metals.liner(design), Run(s, result.summary))
    return bond_checks.PlatedLayers(
        design=design,
        stations=s,
        spec=nickel.spec,
        copper=np.interp(s["x_m"], x, copper),
        nickel=np.interp(s["x_m"], x, nickel.left),
        as_plated=np.interp(s["x_m"], x, nickel.as_plated),
        T_jacket=T_jacket,
        pressure=result.summary["coolant_pressure_in_Pa"],
    )


def _notes(layer: Layer, along: Array) -> Iterator[str]:
    """Yield what governs a layer's hours, and how a measured rate compares with theory."""
    spec, i, hours = layer.spec, layer.thinnest, layer.time / 3600
    x, share = float(along[i]), float(layer.ratio[i])
    if share < 1.0 - WAIST:
        where = "the throat" if abs(x) < 1e-3 else f"x = {x * 1e3:.0f} mm"
        even = layer.time * layer.even_deposit / layer.deposit_needed / 3600
        values = {"metal": layer.metal, "share": share, "even": even, "hours": hours}
        yield note("governs", where=where, **values)
    if spec.rate is not None:
        theory, rate = layer.theory_time / 3600, spec.rate / UM_H
        yield note("measured", metal=layer.metal, rate=rate, hours=hours, theory=theory)
