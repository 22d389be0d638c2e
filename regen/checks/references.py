"""Which published sources a result rests on: keys in data/sources.toml."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from regen.checks.thermal_limits import sulfur_limits
from regen.design import Design
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

WALL_PROPERTIES = (
    *("thermal_conductivity", "specific_heat", "yield", "yield_floor", "uts"),
    *("reduction_of_area", "youngs_modulus", "tangent_modulus", "poisson_ratio"),
    *("thermal_expansion_instantaneous", "thermal_expansion_mean"),
)

FACTORS = "nasa_std_5012"

INTEGRAL = ("integral_layer", "layer_start")
"""The correlation that rests on the boundary layer's length, and the source of how that begins."""

IN_SLOTS: Mapping[str, Callable[[Design], bool]] = {
    "one_sided_bend": lambda design: design.models.curvature != "off",
    "entrance_rise": lambda design: design.models.entrance,
    "norris": lambda design: design.models.rough_gain,
}
"""Correlations of what raises or lowers the coolant's coefficient in the slots."""

BY_DESIGN: Mapping[str, Callable[[Design], bool]] = {
    "leckner1972": lambda design: design.models.radiation != "off",
    "beam_length": lambda design: design.models.radiation != "off",
    "given_in_case": lambda design: design.coolant.table is not None,
    "assigned_enthalpy": lambda design: bool(design.propellants.fuel_water),
    "manifold_headers": lambda design: design.manifolds is not None,
    "adams_grant_watson2012": lambda design: any("roughness_Ra" in n for n in design.notes),
}
"""Sources of what a design has or asks for."""


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
    design, film = solution.prepared.design, solution.prepared.film
    feeds = design.propellants
    members = [member.name for member in solution.members]
    names = {name for member in members for name in bands.correlations_of(member)}
    names |= set(models_in_use(solution).values())
    names |= {name for name, serves in IN_SLOTS.items() if serves(design)}
    keys = {*ALWAYS, FACTORS, *_wall_sources(design), *(margin.source for margin in margins)}
    keys |= {CORRELATIONS[name].source for name in names}
    keys |= {source for source, serves in BY_DESIGN.items() if serves(design)}
    if any(margin.name == "burnout" for margin in margins):
        keys.add(CORRELATIONS["hall_mudawar_inlet"].source)
    if INTEGRAL[0] in names:
        keys.add(INTEGRAL[1])
    keys |= {SPECIES[name].source for name in (feeds.oxidizer, feeds.fuel)}
    if any(flux.LOW_THROAT in member for member in members):
        keys |= {throat.source for throat in bands.measured_throats()}
    if design.film is not None and film is not None:
        keys |= {*film.sources, species_of(design.film.fluid).source}
    if design.coolant.fluid in sulfur_limits():
        keys.add(sulfur_limits()[design.coolant.fluid][0].source)
    return sorted(keys)


def _wall_sources(design: Design) -> Iterator[str]:
    copper = metals.plated_copper(design)
    yield copper.alloy.density.source
    yield from copper.table("thermal_conductivity").sources
    pairs = (
        (metals.liner(design), design.liner.process),
        (metals.jacket(design), design.closeout.jacket_process),
    )
    for metal, process in pairs:
        yield metal.alloy.density.source
        for table in map(metal.known, WALL_PROPERTIES):
            yield from table.sources if table else ()
        if process and metal.condition in metal.alloy.holds_to:
            yield metal.alloy.holds_to[metal.condition].source
