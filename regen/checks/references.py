"""Which published sources a result rests on: keys in data/sources.toml."""

from __future__ import annotations

from collections.abc import Iterator

from regen.checks.thermal_limits import sulfur_limits
from regen.design import Design
from regen.errors import MissingProperty
from regen.gas import flux
from regen.gas.feeds import SPECIES, species_of
from regen.metals import selection as metals
from regen.physics.registry import CORRELATIONS
from regen.result import Margin
from regen.solver import bands
from regen.solver.solve import Solution, models_in_use

ALWAYS = (
    *("nasa_gas", "gri_transport", "oh_formation", "coolprop_transport", "layer_freeze"),
    *("coolprop", "jones1976", "deterioration_watch"),
)
"""Gas data, gas beside the wall, gas and coolant properties, rectangular ducts; what every run
is watched for."""

RADIATION = ("leckner1972", "beam_length")
INTEGRAL = ("integral_layer", "layer_start")
"""The correlation that rests on the boundary layer's length, and the source of how that begins."""

ROUGHNESS = "adams_grant_watson2012"
MANIFOLDS = "manifold_headers"

WALL_PROPERTIES = (
    "thermal_conductivity",
    "specific_heat",
    "yield",
    "yield_floor",
    "uts",
    "reduction_of_area",
    "youngs_modulus",
    "tangent_modulus",
    "poisson_ratio",
    "thermal_expansion_instantaneous",
    "thermal_expansion_mean",
)

FACTORS = "nasa_std_5012"


def used(solution: Solution, margins: tuple[Margin, ...]) -> list[str]:
    """Return the keys of all sources that a result rests on.

    Parameters
    ----------
    solution : Solution
        Solved runs with their correlations.
    margins : tuple of Margin
        Judged limits.

    Returns
    -------
    list of str
        Sorted keys of data/sources.toml.
    """
    design = solution.prepared.design
    keys = set(ALWAYS)
    members = [member.name for member in solution.members]
    names = {name for member in members for name in bands.correlations_of(member)}
    if any(flux.LOW_THROAT in member for member in members):
        keys |= {throat.source for throat in bands.measured_throats()}
    names |= set(models_in_use(solution).values())
    keys |= {CORRELATIONS[name].source for name in names}
    keys |= {margin.source for margin in margins} | {FACTORS}
    if any(margin.name == "burnout" for margin in margins):
        keys.add(CORRELATIONS["hall_mudawar_inlet"].source)
    if INTEGRAL[0] in names:
        keys.add(INTEGRAL[1])
    keys |= set(_beside_wall(solution))
    keys |= {CORRELATIONS[name].source for name in _in_passages(design)}
    if design.coolant.fluid in sulfur_limits():
        keys.add(sulfur_limits()[design.coolant.fluid][0].source)
    if design.coolant.table is not None:
        keys.add("given_in_case")
    if design.propellants.fuel_water:
        keys.add("assigned_enthalpy")
    if design.manifolds is not None:
        keys.add(MANIFOLDS)
    if any("roughness_Ra" in note for note in design.notes):
        keys.add(ROUGHNESS)
    keys |= {
        SPECIES[name].source for name in (design.propellants.oxidizer, design.propellants.fuel)
    }
    return sorted(keys | set(_wall_sources(design)))


def _in_passages(design: Design) -> Iterator[str]:
    """Yield the correlations of what raises or lowers the coolant's coefficient in the slots."""
    models = design.models
    if models.curvature != "off":
        yield "one_sided_bend"
    if models.entrance:
        yield "entrance_rise"
    if models.rough_gain:
        yield "norris"


def _beside_wall(solution: Solution) -> Iterator[str]:
    """Yield the sources of film and radiation where there are any."""
    prepared = solution.prepared
    if prepared.design.models.radiation != "off":
        yield from RADIATION
    if prepared.design.film is not None and prepared.film is not None:
        yield from prepared.film.sources
        yield species_of(prepared.design.film.fluid).source


def _wall_sources(design: Design) -> Iterator[str]:
    copper = metals.plated_copper(design)
    for metal in (metals.liner(design), metals.jacket(design)):
        for name in WALL_PROPERTIES:
            try:
                yield from metal.table(name).sources
            except MissingProperty:
                continue
        yield metal.alloy.density.source
    yield copper.alloy.density.source
    yield from copper.table("thermal_conductivity").sources
    pairs = (
        (metals.liner(design), design.liner.process),
        (metals.jacket(design), design.closeout.jacket_process),
    )
    for metal, process in pairs:
        if process and metal.condition in metal.alloy.holds_to:
            yield metal.alloy.holds_to[metal.condition].source
