"""Many designs, and slots at the corners of the shop's tolerances, on the stations of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from regen.design import Design, Profile
from regen.errors import GeometryError, RangeError
from regen.geometry.channels import Sizes, can_be_cut, lay
from regen.geometry.circuits import (
    geometry_of,
    joined_passage,
    lay_paths,
    shifted,
    surface_resistance,
)
from regen.physics import arrays as A
from regen.solver.prepare import Array, Prepared, check_feed, runs_of
from regen.solver.worst_channel import Corner, corners

AS_DRAWN = Corner(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Profiles:
    """One size along x for each of L designs: nodes (N,) [m] and values (L, N), as ``Profile``."""

    x: Array
    value: Array

    @classmethod
    def of(cls, profiles: Sequence[Profile]) -> Profiles:
        """Return the profiles of some designs, all with the same nodes."""
        return cls(np.array(profiles[0].x), np.array([profile.value for profile in profiles]))

    def at(self, x: ArrayLike, /) -> Array:
        """Return the sizes at ``x`` (n,) [m]: (L, n), held beyond the ends."""
        x = np.asarray(x, dtype=np.float64)
        if self.x.size == 1:
            return np.broadcast_to(self.value, (self.value.shape[0], x.size))
        i = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, self.x.size - 2)
        slope = np.diff(self.value, axis=1) / np.diff(self.x)
        sizes = slope.take(i, axis=1) * (x - self.x[i]) + self.value.take(i, axis=1)
        sizes[:, x < self.x[0]] = self.value[:, :1]
        sizes[:, x >= self.x[-1]] = self.value[:, -1:]
        return sizes

    def off(self, by: Sequence[float]) -> Profiles:
        """Return K times L profiles, all of one deviation [m] behind those of another."""
        return Profiles(self.x, np.concatenate([self.value + one for one in by]))


def lay_designs(
    template: Prepared,
    designs: Sequence[Design],
    gas: A.GasStations | None = None,
    h0: Array | None = None,
) -> Prepared:
    """Lay L designs on the stations and tables of one, slots that cannot be cut among them.

    ``gas`` is that of each, circuit by circuit, and ``h0`` (L,) its total enthalpy [J/kg]; without
    them all have the template's. Profiles of all designs have the same nodes.
    """
    shared = template.design
    run = runs_of(designs, template.run["h0"][0] if h0 is None else h0, shared)
    run["geometry"] = np.arange(run.size).reshape(run.shape[::-1]).T
    if gas is not None:
        run["gas"] = run["geometry"]
    walls, factors = template.walls, [design.models.conductivity_factor for design in designs]
    if any(factor != shared.models.conductivity_factor for factor in factors):
        run["wall"] = np.arange(len(designs))[:, None]
        bare = walls.liner / shared.models.conductivity_factor
        walls = walls._replace(
            liner=np.array(factors)[:, None] * bare,
            closeout=np.repeat(walls.closeout, len(designs), axis=0),
        )
    whole = replace(
        template,
        designs=tuple(designs),
        run=run,
        walls=walls,
        gas=template.gas if gas is None else gas,
    )
    return with_slots(whole, sizes_of(whole), counts_of(whole))


def sizes_of(prepared: Prepared, every: Sequence[Corner] = (AS_DRAWN,)) -> list[Sizes]:
    """Return the sizes of the designs' slots at some corners, K times L profiles a circuit."""
    by = np.array(every).T
    wall = Profiles.of([design.liner.wall for design in prepared.designs]).off(by[2])
    return [
        Sizes(
            wall,
            Profiles.of([one.width for one in channels]).off(by[0]),
            Profiles.of([one.depth for one in channels]).off(by[1]),
        )
        for channels in prepared.channels
    ]


def counts_of(prepared: Prepared, corners: int = 1) -> list[Array]:
    """Return the numbers of slots at each row (K L, R) of each circuit."""
    counts = []
    for own, ground in zip(prepared.channels, prepared.grounds, strict=True):
        each = np.tile(ground.counts, (len(own), 1))
        if not own[0].count_changes:  # with changes, all designs have the same
            each[:] = np.array([[float(one.count)] for one in own])
        counts.append(np.tile(each, (corners, 1)))
    return counts


def with_slots(prepared: Prepared, sizes: Sequence[Sizes], counts: Sequence[Array]) -> Prepared:
    """Return designs with these slots, cut or not: sizes and counts of each circuit.

    Deposits are those of each design, at every corner for which there are slots.
    """
    closeout = prepared.design.closeout.thickness
    slots = zip(prepared.paths, prepared.grounds, sizes, counts, strict=True)
    paths = tuple(
        replace(path, passage=lay(ground, of_path, count, closeout))
        for path, ground, of_path, count in slots
    )
    geometry = geometry_of(prepared.design, paths)
    own = prepared.design.models.deposit_resistance
    if any(design.models.deposit_resistance != own for design in prepared.designs):
        covers = [
            np.stack([surface_resistance(design, path.flowing("x")) for design in prepared.designs])
            for path in paths
        ]
        corners = paths[0].passage.width.shape[0] // len(prepared.designs)
        resistance = np.concatenate([np.tile(of_path, (corners, 1)) for of_path in covers])
        geometry = geometry._replace(resistance=resistance)
    passage = joined_passage(paths, prepared.rows)
    return replace(prepared, paths=paths, passage=passage, geometry=geometry)


def slots_at_corners(prepared: Prepared, every: Sequence[Corner]) -> Prepared:
    """Return slots of L designs at K corners as K times L designs, one corner behind another."""
    K = len(every)
    slots = with_slots(prepared, sizes_of(prepared, every), counts_of(prepared, K))
    run = np.tile(prepared.runs, (K, 1))
    run["geometry"] = np.arange(run.size).reshape(run.shape[::-1]).T
    return replace(slots, designs=prepared.designs * K, run=run)


def refusals(prepared: Prepared) -> dict[int, GeometryError | RangeError]:
    """Return why designs cannot be solved, by number: their feed, or slots that cannot be cut.

    Two ends of the tolerances can be cut only if all corners can, and what is between: lands are
    least where slots are wide and the wall thin; a mid-line folds where wall and depth together
    are greatest or least.
    """
    shop = prepared.design.shop
    by = Corner(shop.width_tolerance, -shop.depth_tolerance, -shop.wall_tolerance)
    other = Corner(-by.width, -by.depth, -by.wall)
    counts = counts_of(prepared)
    slots = zip(prepared.grounds, sizes_of(prepared), counts, strict=True)
    sound = np.all([can_be_cut(*of_path, (by, other)) for of_path in slots], axis=0)
    cut = {int(n): _reason(prepared, prepared.designs[n]) for n in np.flatnonzero(~sound)}
    return {**cut, **_refused_feeds(prepared)}


def _refused_feeds(prepared: Prepared) -> dict[int, RangeError]:
    known: dict[tuple[float | None, ...], RangeError | None] = {}
    refused = {}
    for n, design in enumerate(prepared.designs):
        feed = design.coolant
        key = feed.inlet_temperature, feed.inlet_pressure, feed.outlet_pressure
        if key not in known:
            known[key] = None
            try:
                check_feed(design, prepared.coolant)
            except RangeError as error:
                known[key] = error
        if why := known[key]:
            refused[n] = why
    return refused


def _reason(prepared: Prepared, design: Design) -> GeometryError:
    try:
        for path in lay_paths(design, prepared.contour):
            for corner in corners(design.shop):
                shifted(design, prepared.contour, path, *corner)
    except GeometryError as error:
        return error
    return GeometryError("channels: the slots cannot be cut; change width, depth or count")
