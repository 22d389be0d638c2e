"""What designs of a batch share: contour, stations and tables, and the gas between tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from regen.design import Design
from regen.errors import RangeError
from regen.solver.layout import lay_designs
from regen.solver.prepare import Prepared, prepare
from regen.studies.batch.gas_axes import (
    FEED,
    GAS,
    GasGrid,
    GridError,
    Span,
    gas_grid,
    interpolated,
)
from regen.studies.batch.parameters import Parameter, applied

SLOTS = ("wall", "width", "depth", "count")
FACTORS = ("models.barrel_factor", "models.throat_factor")
CONDUCTIVITY = "models.conductivity_factor"

SHARING = {
    *("liner.wall", "channels.width", "channels.depth", "channels.count"),
    *("channels.roughness_Ra", "channels.roughness_sand_grain"),
    *("coolant.mass_flow", "coolant.inlet_loss", "coolant.outlet_loss", *FEED),
    *(CONDUCTIVITY, *FACTORS, "models.deposit_resistance"),
}
"""Keys that change neither contour, stations nor tables, beside all of manifolds and some of
circuits: designs that differ in them go through the core together."""


def shares_tables(key: Parameter, design: Design, spans: Mapping[str, Span]) -> bool:
    """Return whether designs that differ in a key can share contour, stations and tables."""
    path = key.path
    if interpolated(key, design, spans):
        return True
    if path in FEED and design.coolant.returns_to_injector:
        return False  # the hot gas is burned from what is fed
    if path in FACTORS and design.film is not None:
        return False  # a film counts with them
    section, _, rest = path.partition(".")
    if section == "circuits":
        name, _, entry = rest.partition(".")
        circuit = next(one for one in design.circuits if one.name == name)
        return entry in SLOTS or getattr(circuit, entry, None) is not None
    return section == "manifolds" or path in SHARING


@dataclass(frozen=True)
class Template:
    """One design on whose tables others are laid; ``grid`` is the hot gas where theirs differ."""

    prepared: Prepared
    grid: GasGrid | None

    def lay(self, designs: Sequence[Design]) -> Prepared:
        """Return designs that differ in keys that share tables."""
        if self.grid is None:
            return lay_designs(self.prepared, designs)
        return lay_designs(self.prepared, designs, *self.grid.at(designs))


def template_of(design: Design, keys: Sequence[Parameter], spans: Mapping[str, Span]) -> Template:
    """Prepare what designs share that differ in keys that share tables.

    ``design`` is the base, at its values of all other keys, ``spans`` are those of the whole study.
    Raises ``GridError`` if no gas tables can be laid over it, else as ``prepare`` does.
    """
    of_gas = tuple(key for key in keys if interpolated(key, design, spans))
    for key in keys:
        if key.path in GAS or key.path.rpartition(".")[2] in SLOTS:  # the same for every part
            design = applied(design, key, spans[key.name].low)
        elif key.path in FACTORS:  # one fades into the other: the runs have both
            models = replace(design.models, barrel_factor=1.0, throat_factor=1.0)
            design = replace(design, models=models)
        elif key.path == CONDUCTIVITY:
            design = applied(design, key, 1.0)
    return _tables(design, of_gas, tuple(spans.items()))


@lru_cache(maxsize=8)
def _tables(
    design: Design, of_gas: tuple[Parameter, ...], spans: tuple[tuple[str, Span], ...]
) -> Template:
    """Prepare a template; parts of one study ask for the same again and again."""
    if not of_gas:
        return Template(prepare(design, checked=False), None)
    try:
        prepared = prepare(design, checked=False)
        return Template(prepared, gas_grid(design, of_gas, dict(spans), prepared.coolant))
    except RangeError as error:
        raise GridError(str(error)) from error
