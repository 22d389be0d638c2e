"""Designs that share contour, stations and hot gas, laid out as arrays for one call of the core."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.case.keys import SAND_GRAIN_PER_RA
from regen.checks.review import injector_pressure
from regen.coolant.table import table_of
from regen.design import Design, Profile, Shop
from regen.errors import RangeError
from regen.geometry.channels import Ground, Sizes, can_be_cut, ground_of, lay
from regen.geometry.circuits import geometry_of, surface_resistance
from regen.physics import arrays as A
from regen.physics.balance import NEAR_CRITICAL
from regen.solver import bands
from regen.solver.prepare import Prepared, check_feed, prepare
from regen.solver.solve import chosen_models, coolant_choice
from regen.solver.worst_channel import Corner, corners
from regen.studies.batch.gas_axes import FEED, GAS, GasGrid, Span, gas_grid, interpolated
from regen.studies.batch.parameters import Parameter, applied

Array = NDArray[np.float64]

SIZES = ("liner.wall", "channels.width", "channels.depth")
COUNT = "channels.count"
RUN = {
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
"""Keys that are one number of a run, and its name there."""

FLOW = "coolant.mass_flow"
CONDUCTIVITY = "models.conductivity_factor"
DEPOSIT = "models.deposit_resistance"
FACTORS = ("models.barrel_factor", "models.throat_factor")


def fast(key: Parameter, design: Design, spans: Mapping[str, Span]) -> bool:
    """Return whether designs that differ in a key can share contour and stations.

    Parameters
    ----------
    key : Parameter
        What varies.
    design : Design
        The base.
    spans : mapping
        Spans of the whole study by path.

    Returns
    -------
    bool
        False: each value needs tables of its own.
    """
    path = key.path
    if interpolated(key, design, spans):
        return True
    if path in FEED and design.coolant.returns_to_injector:
        return False  # the hot gas is burned from what is fed
    if path.endswith("_factor") and path.startswith("models.") and design.film is not None:
        return path == CONDUCTIVITY  # a film counts with the others
    return path in (*SIZES, *RUN, COUNT, FLOW, CONDUCTIVITY, DEPOSIT)


@dataclass(frozen=True)
class Profiles:
    """One size along x for each of L designs: nodes (N,) [m] and values (L, N), as ``Profile``."""

    x: Array
    value: Array

    def at(self, x: ArrayLike, /) -> Array:
        """Return the sizes at ``x`` (n,) [m]: (L, n), held beyond the ends."""
        x = np.asarray(x, dtype=np.float64)
        if self.x.size == 1:
            return np.broadcast_to(self.value, (self.value.shape[0], x.size))
        i = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, self.x.size - 2)
        slope = np.diff(self.value, axis=1) / np.diff(self.x)
        found = slope.take(i, axis=1) * (x - self.x[i]) + self.value.take(i, axis=1)
        found[:, x < self.x[0]] = self.value[:, :1]
        found[:, x >= self.x[-1]] = self.value[:, -1:]
        return found

    def raised(self, by: float | Array) -> Profiles:
        """Return the sizes with ``by`` [m] added everywhere."""
        return Profiles(self.x, self.value + by)


@dataclass(frozen=True)
class Layout:
    """L designs as arrays: ``prepared`` holds all of them, a run and a geometry row each.

    ``worst`` is the same with one slot each at every corner of the tolerances, if they were asked
    for: L geometry rows a corner, one corner behind the other. ``sound`` (L,) is False where a
    slot, or one at a corner, cannot be cut, or its feed is refused; ``refused`` says why by row,
    where it is the feed.
    ``names`` are the models of each row by role that it is first solved with, ``by_rule`` is True
    where the coolant side's is the rule's; ``mixture_ratio`` [-] and ``injector_pressure`` [Pa]
    (L,) are those of its chamber.
    """

    prepared: Prepared
    worst: Prepared | None
    sound: NDArray[np.bool_]
    refused: Mapping[int, str]
    names: tuple[Mapping[str, str], ...]
    by_rule: bool
    mixture_ratio: Array
    injector_pressure: Array


@dataclass(frozen=True)
class Template:
    """What designs of one layout have in common: tables, stations, and the ground for slots.

    ``grid`` holds the hot gas where it differs between them.
    """

    base: Design
    prepared: Prepared
    ground: Ground
    grid: GasGrid | None


def template_of(
    design: Design, keys: Sequence[Parameter], values: Array, spans: Mapping[str, Span]
) -> Template:
    """Prepare what designs share that differ in fast keys alone.

    Parameters
    ----------
    design : Design
        The base, at its values of all other keys.
    keys : sequence of Parameter
        Fast keys that vary.
    values : ndarray
        Their values (L, K) [SI or factors].
    spans : mapping
        Spans of the whole study by path.

    Returns
    -------
    Template
        Prepared at the thinnest, narrowest, shallowest and fewest slots of the study.

    Raises
    ------
    GeometryError, RangeError
        If not even those can be.
    """
    base, fed = design, _first_fed(design, keys, values)
    for k, key in enumerate(keys):
        if key.path == DEPOSIT:
            continue  # the geometry of each design has it
        slot = key.path in (*SIZES, COUNT)
        value = spans[key.name].low if slot else values[fed, k]
        if key.path in (*FACTORS, CONDUCTIVITY):
            value = 1.0  # the runs have it
        design = applied(design, key, float(value))
    if any(key.path in FACTORS for key in keys):  # one fades into the other: the runs have both
        models = replace(design.models, barrel_factor=1.0, throat_factor=1.0)
        design = replace(design, models=models)
    of_gas = tuple(key for key in keys if interpolated(key, base, spans))
    for key in of_gas:
        if key.path in GAS:
            design = applied(design, key, spans[key.path].low)
    prepared, ground, grid = _tables(design, of_gas, tuple(spans.items()))
    return Template(base, prepared, ground, grid)


@lru_cache(maxsize=8)
def _tables(
    design: Design, of_gas: tuple[Parameter, ...], spans: tuple[tuple[str, Span], ...]
) -> tuple[Prepared, Ground, GasGrid | None]:
    """Prepare a template; parts of one study ask for the same again and again."""
    prepared = prepare(design)
    path = prepared.paths[0]
    ground = ground_of(prepared.contour, path.circuit.channels, path.x)
    grid = gas_grid(design, of_gas, dict(spans), prepared.coolant) if of_gas else None
    return prepared, ground, grid


def _first_fed(design: Design, keys: Sequence[Parameter], values: Array) -> int:
    """Return the first row whose feed is a liquid within the coolant's table; 0 if none is."""
    feed = [k for k, key in enumerate(keys) if key.path in FEED]
    table = table_of(design.coolant)
    for n in range(values.shape[0] if feed else 0):
        fed = design
        for k in feed:
            fed = applied(fed, keys[k], float(values[n, k]))
        with suppress(RangeError):
            check_feed(fed, table)
            return n
    return 0


def laid_out(
    template: Template,
    keys: Sequence[Parameter],
    values: Array,
    models: Mapping[str, Sequence[str]] | None = None,
    *,
    worst: bool,
) -> Layout:
    """Lay designs out as arrays.

    Parameters
    ----------
    template : Template
        What they share.
    keys : sequence of Parameter
        Fast keys that vary.
    values : ndarray
        Their values (L, K) [SI or factors].
    models : mapping, optional
        Names of models by role, one a row.
    worst : bool
        Lay the slots at the corners out too; whether they can be cut is asked anyway.

    Returns
    -------
    Layout
        The designs.
    """
    prepared, size = template.prepared, values.shape[0]
    columns = {key.path: (key, values[:, k]) for k, key in enumerate(keys)}
    wall, width, depth = (_profiles(template.base, path, keys, values) for path in SIZES)
    counts = template.ground.counts
    if COUNT in columns:
        counts = np.repeat(columns[COUNT][1][:, None], counts.size, axis=1)
    run = np.repeat(prepared.run, size)
    run["geometry"] = np.arange(size)
    if any(path in columns for path in FACTORS):
        for path in FACTORS:
            run[RUN[path]] = getattr(template.base.models, RUN[path])
    for path, name in RUN.items():
        if path in columns:
            key, given = columns[path]
            run[name] = given * (SAND_GRAIN_PER_RA if path == "channels.roughness_Ra" else 1.0)
    gas, mixture_ratio, pressure = _gas(template, columns, run)
    _flow(columns, run, template.base, mixture_ratio)
    walls = prepared.walls
    if CONDUCTIVITY in columns:
        run["wall"] = np.arange(size)
        factor = columns[CONDUCTIVITY][1][:, None]
        closeout = np.repeat(walls.closeout, size, axis=0)
        walls = walls._replace(liner=factor * walls.liner, closeout=closeout)
    sizes = Sizes(wall, width, depth)
    refused = _refused_feeds(prepared, columns, run)
    ground = template.ground
    made, folded = with_slots(template, sizes, counts, run, walls, gas)
    if DEPOSIT in columns:
        made = _covered(template, made, keys, values)
    slots = made.paths[0].passage
    sound = ~folded
    for ends in _extremes(prepared.design.shop, wall, width, depth):
        sound &= can_be_cut(ground, ends, counts)
    for size in (slots.wall, slots.width, slots.depth, slots.land):
        sound &= np.all(size > 0.0, axis=-1)
    sound[list(refused)] = False
    slots_at_corners = None
    if worst:
        every = corners(prepared.design.shop)
        wall, width, depth = (
            _at_corners(every, of, name)
            for of, name in ((wall, "wall"), (width, "width"), (depth, "depth"))
        )
        of_all = np.tile(run, len(every))
        of_all["geometry"] = np.arange(of_all.size)
        many = np.tile(counts, (len(every), 1)) if counts.ndim == 2 else counts
        sizes = Sizes(wall, width, depth)
        slots_at_corners = with_slots(template, sizes, many, of_all, walls, gas)[0]
        if DEPOSIT in columns:
            values = np.tile(values, (len(every), 1))
            slots_at_corners = _covered(template, slots_at_corners, keys, values)
    return Layout(
        made,
        slots_at_corners,
        sound,
        refused,
        _model_names(prepared, run, models),
        prepared.design.models.coolant_side is None and "coolant_side" not in (models or {}),
        mixture_ratio,
        pressure,
    )


def _covered(
    template: Template, prepared: Prepared, keys: Sequence[Parameter], values: Array
) -> Prepared:
    """Return designs with a deposit on the hot wall of each."""
    base, x = template.base, prepared.paths[0].flowing("x")
    bare = replace(base, models=replace(base.models, deposit_resistance=None))
    resistance = surface_resistance(bare, x) + _profiles(base, DEPOSIT, keys, values).at(x)
    return replace(prepared, geometry=prepared.geometry._replace(resistance=resistance))


def _extremes(shop: Shop, wall: Profiles, width: Profiles, depth: Profiles) -> tuple[Sizes, Sizes]:
    """Return the two ends of the tolerances that can be cut only if all corners can.

    Lands are least where slots are wide and the wall thin; a mid-line folds where wall and depth
    together are greatest or least.
    """
    by_wall, by_width, by_depth = shop.wall_tolerance, shop.width_tolerance, shop.depth_tolerance
    return (
        Sizes(wall.raised(-by_wall), width.raised(by_width), depth.raised(-by_depth)),
        Sizes(wall.raised(by_wall), width.raised(-by_width), depth.raised(by_depth)),
    )


def _at_corners(every: Sequence[Corner], size: Profiles, name: str) -> Profiles:
    """Return one size of every design at every corner, all designs of one behind another's."""
    shifted = [size.value + getattr(corner, name) for corner in every]
    return Profiles(size.x, np.concatenate(shifted))


def _gas(
    template: Template, columns: Mapping[str, tuple[Parameter, Array]], run: NDArray[Any]
) -> tuple[A.GasStations, Array, Array]:
    """Return hot gas, mixture ratio and injector pressure of each design; set its run."""
    prepared, size = template.prepared, run.size
    values = {path: given for path, (_, given) in columns.items()}
    ratio = values.get(GAS[0], np.full(size, prepared.design.propellants.mixture_ratio))
    if template.grid is None:
        return prepared.gas, ratio, np.full(size, injector_pressure(prepared))
    gas = template.grid.at(values, size)
    run["gas"] = np.arange(size)
    run["h0"] = template.grid.h0(gas, values, run)
    if prepared.design.chamber.pressure_at == "injector":
        chamber = prepared.design.chamber.pressure
        return gas, ratio, values.get(GAS[1], np.full(size, chamber))
    core = gas.core[:, 0]
    barrel = np.argmin(core[..., A.G_MACH], axis=-1)[:, None, None]
    still = np.take_along_axis(core, barrel, axis=1)[:, 0]
    return gas, ratio, still[:, A.G_P] + still[:, A.G_RHO] * still[:, A.G_U] ** 2


def _refused_feeds(
    prepared: Prepared, columns: Mapping[str, tuple[Parameter, Array]], run: NDArray[Any]
) -> dict[int, str]:
    """Return why a feed is refused, by row."""
    varied = [columns[path] for path in FEED if path in columns]
    found: dict[int, str] = {}
    for n in range(run.size if varied else 0):
        fed = prepared.design
        for key, values in varied:
            fed = applied(fed, key, float(values[n]))
        try:
            check_feed(fed, prepared.coolant)
        except RangeError as error:
            found[n] = str(error)
    return found


def _profiles(design: Design, path: str, keys: Sequence[Parameter], values: Array) -> Profiles:
    """Return one size along x of every design, each key applied in turn to what the base has."""
    section, _, name = path.partition(".")
    own: Profile = getattr(getattr(design, section), name) or Profile.constant(0.0)
    made = Profiles(np.array(own.x), np.repeat(np.array([own.value]), values.shape[0], axis=0))
    for k, key in enumerate(keys):
        if key.path == path:
            made = _varied(made, key, values[:, k, None])
    return made


def _varied(made: Profiles, key: Parameter, given: Array) -> Profiles:
    """Return sizes with one key at its values (L, 1), as ``keys.applied`` has it for one design."""
    if key.shift:
        return made.raised(given)
    if key.point is not None:
        value = made.value.copy()
        value[:, key.point] = given[:, 0]
        return Profiles(made.x, value)
    return Profiles(made.x, made.value * given) if key.relative else Profiles(np.zeros(1), given)


def _flow(
    columns: Mapping[str, tuple[Parameter, Array]], run: NDArray[Any], base: Design, ratio: Array
) -> None:
    """Set the coolant's flow of every run, which may go by the fuel of its own mixture."""
    share = np.full(run.size, base.coolant.fuel_fraction or np.nan)
    if FLOW in columns:
        key, values = columns[FLOW]
        if key.form == "flow":
            run["mass_flow"], run["fuel_share"] = values, 0.0
            return
        share = values
    elif base.coolant.fuel_fraction is None:
        return
    run["mass_flow"], run["fuel_share"] = 0.0, share / (1.0 + ratio)


def with_slots(
    template: Template,
    sizes: Sizes,
    counts: Array,
    run: NDArray[Any],
    walls: A.Walls,
    gas: A.GasStations,
) -> tuple[Prepared, NDArray[np.bool_]]:
    """Return designs with these slots, cut or not, and which mid-lines fold.

    Parameters
    ----------
    template : Template
        What they share.
    sizes : Sizes
        Profiles of L designs.
    counts : ndarray
        Number of slots at each row, (R,) or (L, R) [-].
    run : structured ndarray
        ``arrays.RUN`` (L,) [-].
    walls, gas : Walls, GasStations
        What the runs point into.

    Returns
    -------
    Prepared
        All designs, a geometry row each.
    ndarray of bool
        (L,): True where a slot's mid-line folds.
    """
    prepared = template.prepared
    closeout = prepared.design.closeout
    passage, folded = lay(template.ground, sizes, counts, closeout.thickness)
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
        run=run,
        walls=walls,
        gas=gas,
    )
    return whole, folded


def _passage_fields(passage: Any) -> list[str]:
    return [name for name in passage.__slots__ if name != "notes"]


def _by_x(flowing: Array, rows: NDArray[np.int64]) -> Array:
    return np.ascontiguousarray(flowing[..., rows])


def _model_names(
    prepared: Prepared, run: NDArray[Any], models: Mapping[str, Sequence[str]] | None
) -> tuple[Mapping[str, str], ...]:
    """Return the models of each row by role: named, or by the rule for its feed.

    Rows of the same models share one mapping.
    """
    usual = chosen_models(replace(prepared, run=run))
    choices = feed_choices(prepared, run)
    known: dict[tuple[str, ...], Mapping[str, str]] = {}
    rows = []
    for n, choice in enumerate(choices):
        own = dict(usual)
        if prepared.design.models.coolant_side is None:
            own["coolant_side"] = choice.members[0]
        own |= {role: names[n] for role, names in (models or {}).items()}
        rows.append(known.setdefault(tuple(own.values()), own))
    return tuple(rows)


def feed_choices(prepared: Prepared, run: NDArray[Any]) -> list[bands.Choice]:
    """Return the coolant-side members by the rule for each run's own feed, before it is solved.

    Parameters
    ----------
    prepared : Prepared
        Coolant and its table.
    run : structured ndarray
        ``arrays.RUN`` (L,) [-].

    Returns
    -------
    list of Choice
        One a run.
    """
    return span_choices(prepared, run, run["pressure"], run["pressure"])


def span_choices(
    prepared: Prepared, run: NDArray[Any], low: Array, high: Array
) -> list[bands.Choice]:
    """Return the coolant-side members by the rule for the pressures along each run's slots.

    Parameters
    ----------
    prepared : Prepared
        Coolant and its table.
    run : structured ndarray
        ``arrays.RUN`` (L,) [-].
    low, high : ndarray
        Lowest and highest pressure along the slots (L,) [Pa].

    Returns
    -------
    list of Choice
        One a run; the rule is asked once for all runs far above the critical pressure, and once
        for all far below.
    """
    p_c = prepared.coolant.p_critical
    known: dict[tuple[float, ...], bands.Choice] = {}
    found = []
    spans = zip(run["inlet_temperature"].tolist(), low.tolist(), high.tolist(), strict=True)
    for n, (T, least, most) in enumerate(spans):
        above, below = least > bands.NEAR_CRITICAL_PRESSURE * p_c, most < NEAR_CRITICAL * p_c
        key = (float(above),) if above or below else (T, least, most)
        if key not in known:
            known[key] = coolant_choice(prepared, run[n], (least, most))
        found.append(known[key])
    return found
