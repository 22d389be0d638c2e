"""Designs that share contour, stations and hot gas, laid out as arrays for one call of the core."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.case_checks import SAND_GRAIN_PER_RA
from regen.design import Design, Profile
from regen.passage import Ground, Sizes, ground_of, lay
from regen.paths import geometry_of
from regen.physics import arrays as A
from regen.prepare import Prepared, prepare
from regen.solve import chosen_models, coolant_choice
from regen.studies.keys import Key, applied

Array = NDArray[np.float64]

SIZES = ("liner.wall", "channels.width", "channels.depth")
COUNT = "channels.count"
LANE = {
    "coolant.mass_flow": "mass_flow",
    "coolant.inlet_temperature": "inlet_temperature",
    "coolant.inlet_pressure": "pressure",
    "coolant.outlet_pressure": "pressure",
    "coolant.inlet_loss": "inlet_loss",
    "coolant.outlet_loss": "outlet_loss",
    "channels.roughness_Ra": "roughness",
    "channels.roughness_sand_grain": "roughness",
    "models.barrel_factor": "barrel_factor",
    "models.throat_factor": "throat_factor",
}
"""Keys that are one number of a lane, and its name there."""

CONDUCTIVITY = "models.conductivity_factor"
FEED = ("coolant.inlet_temperature", "coolant.inlet_pressure", "coolant.outlet_pressure")


def fast(key: Key, design: Design) -> bool:
    """Return whether designs that differ in a key can share contour, stations and hot gas.

    Parameters
    ----------
    key : Key
        What varies.
    design : Design
        The base.

    Returns
    -------
    bool
        False: each value needs tables of its own.
    """
    path = key.path
    if path in FEED and design.coolant.returns_to_injector:
        return False  # the hot gas is burned from what is fed
    if path.endswith("_factor") and path.startswith("models.") and design.film is not None:
        return path == CONDUCTIVITY  # a film counts with the others
    return path in (*SIZES, *LANE, COUNT, CONDUCTIVITY)


@dataclass(frozen=True)
class Profiles:
    """One size along x for each of L designs: nodes (N,) [m] and values (L, N), as ``Profile``."""

    x: Array
    value: Array

    def at(self, x: ArrayLike, /) -> Array:
        """Return the sizes at ``x`` (n,) [m]: (L, n), held beyond the ends."""
        x = np.asarray(x, dtype=np.float64)
        if self.x.size == 1:
            return np.repeat(self.value, x.size, axis=1)
        i = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, self.x.size - 2)
        slope = np.diff(self.value, axis=1) / np.diff(self.x)
        inside = slope[:, i] * (x - self.x[i]) + self.value[:, i]
        ends = np.where(x < self.x[0], self.value[:, :1], self.value[:, -1:])
        return np.where((x < self.x[0]) | (x >= self.x[-1]), ends, inside)

    def raised(self, by: float) -> Profiles:
        """Return the sizes with ``by`` [m] added everywhere."""
        return Profiles(self.x, self.value + by)


@dataclass(frozen=True)
class Batch:
    """L designs as arrays: ``prepared`` holds all of them, a lane and a geometry row each.

    ``worst`` is the same with one bad slot each; ``sound`` (L,) is False where a slot, or its bad
    one, cannot be cut. ``names`` are the models of each row by role.
    """

    prepared: Prepared
    worst: Prepared
    sound: NDArray[np.bool_]
    names: tuple[Mapping[str, str], ...]


@dataclass(frozen=True)
class Template:
    """What designs of one batch have in common: tables, stations, and the ground for slots."""

    base: Design
    prepared: Prepared
    ground: Ground


def template_of(design: Design, keys: Sequence[Key], values: Array) -> Template:
    """Prepare what designs share that differ in fast keys alone.

    Parameters
    ----------
    design : Design
        The base, at its values of all other keys.
    keys : sequence of Key
        Fast keys that vary.
    values : ndarray
        Their values (L, K) [SI or factors].

    Returns
    -------
    Template
        Prepared at the thinnest, narrowest, shallowest and fewest slots of all.

    Raises
    ------
    GeometryError, RangeError
        If not even those can be.
    """
    base = design
    for k, key in enumerate(keys):
        slot = key.path in (*SIZES, COUNT)
        value = values[:, k].min() if slot else values[0, k]
        if key.path in ("models.barrel_factor", "models.throat_factor", CONDUCTIVITY):
            value = 1.0  # the lanes have it
        design = applied(design, key, float(value))
    prepared = prepare(design)
    if len(prepared.paths) > 1 or design.manifolds is not None:
        message = "several circuits or manifolds are solved one design at a time"
        raise ValueError(message)
    path = prepared.paths[0]
    return Template(base, prepared, ground_of(prepared.contour, path.circuit.channels, path.x))


def laid_out(
    template: Template,
    keys: Sequence[Key],
    values: Array,
    models: Mapping[str, Sequence[str]] | None = None,
) -> Batch:
    """Lay designs out as arrays.

    Parameters
    ----------
    template : Template
        What they share.
    keys : sequence of Key
        Fast keys that vary.
    values : ndarray
        Their values (L, K) [SI or factors].
    models : mapping, optional
        Names of models by role, one a row.

    Returns
    -------
    Batch
        The designs.
    """
    prepared, size = template.prepared, values.shape[0]
    columns = {key.path: (key, values[:, k]) for k, key in enumerate(keys)}
    wall, width, depth = (_profiles(template.base, path, columns, size) for path in SIZES)
    counts = template.ground.counts
    if COUNT in columns:
        counts = np.repeat(columns[COUNT][1][:, None], counts.size, axis=1)
    lane = np.repeat(prepared.lane, size)
    lane["geometry"] = np.arange(size)
    for path, name in LANE.items():
        if path in columns:
            _set(lane, name, *columns[path], prepared)
    walls = prepared.walls
    if CONDUCTIVITY in columns:
        lane["wall"] = np.arange(size)
        factor = columns[CONDUCTIVITY][1][:, None]
        closeout = np.repeat(walls.closeout, size, axis=0)
        walls = walls._replace(liner=factor * walls.liner, closeout=closeout)
    shop = prepared.design.shop
    bad = Sizes(
        wall.raised(shop.wall_tolerance),
        width.raised(-shop.width_tolerance),
        depth.raised(-shop.depth_tolerance),
    )
    sizes = Sizes(wall, width, depth)
    made = [_with_slots(template, s, counts, lane, walls) for s in (sizes, bad)]
    names = _model_names(prepared, lane, models)
    return Batch(made[0][0], made[1][0], made[0][1] & made[1][1], names)


def _profiles(
    design: Design, path: str, columns: Mapping[str, tuple[Key, Array]], size: int
) -> Profiles:
    section, _, name = path.partition(".")
    own: Profile = getattr(getattr(design, section), name)
    x, value = np.array(own.x), np.array(own.value)
    if path not in columns:
        return Profiles(x, np.repeat(value[None], size, axis=0))
    key, given = columns[path]
    if not key.relative:
        return Profiles(np.zeros(1), given[:, None].copy())
    return Profiles(x, given[:, None] * value)


def _set(lane: NDArray[Any], name: str, key: Key, values: Array, prepared: Prepared) -> None:
    """Set one number of every lane."""
    if name == "mass_flow":
        by_fuel = key.form == "share of the fuel"
        whole = 1.0 + prepared.design.propellants.mixture_ratio
        lane["mass_flow"] = 0.0 if by_fuel else values
        lane["fuel_share"] = values / whole if by_fuel else 0.0
        return
    lane[name] = values * (SAND_GRAIN_PER_RA if key.path == "channels.roughness_Ra" else 1.0)


def _with_slots(
    template: Template, sizes: Sizes, counts: Array, lane: NDArray[Any], walls: A.Walls
) -> tuple[Prepared, NDArray[np.bool_]]:
    """Return the designs with these slots, and which of them can be cut."""
    prepared = template.prepared
    closeout = prepared.design.closeout
    passage, folded = lay(template.ground, sizes, counts, closeout.copper + closeout.nickel)
    sound = ~folded & np.all(passage.land > 0.0, axis=-1)
    for size in (passage.wall, passage.width, passage.depth):
        sound &= np.all(size > 0.0, axis=-1)
    path = replace(prepared.paths[0], passage=passage)
    rows = prepared.rows.index
    by_x: dict[str, Any] = {
        n: _by_x(getattr(passage, n)[..., path.order], rows) for n in _passage_fields(passage)
    }
    whole = replace(
        prepared,
        paths=(path,),
        passage=replace(passage, **by_x),
        geometry=geometry_of(prepared.design, (path,)),
        lane=lane,
        walls=walls,
    )
    return whole, sound


def _passage_fields(passage: Any) -> list[str]:
    return [name for name in passage.__slots__ if name != "notes"]


def _by_x(flowing: Array, rows: NDArray[np.int64]) -> Array:
    return np.ascontiguousarray(flowing[..., rows])


def _model_names(
    prepared: Prepared, lane: NDArray[Any], models: Mapping[str, Sequence[str]] | None
) -> tuple[Mapping[str, str], ...]:
    """Return the models of each row by role: named, or by the rule for its feed."""
    usual = chosen_models(prepared)
    rows: list[Mapping[str, str]] = []
    by_rule = prepared.design.models.coolant_side is None
    fixed = np.ptp(lane["inlet_temperature"]) == 0.0 and np.ptp(lane["pressure"]) == 0.0
    for n in range(lane.size):
        own = dict(usual)
        if by_rule and not fixed:
            own["coolant_side"] = coolant_choice(prepared, lane[n]).members[0]
        own |= {role: names[n] for role, names in (models or {}).items()}
        rows.append(own)
    return tuple(rows)
