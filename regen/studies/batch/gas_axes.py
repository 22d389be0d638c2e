"""Hot gas that varies from design to design, interpolated between tables: never a chemistry each.

Mixture ratio, chamber pressure and combustion efficiency become axes of Chebyshev nodes over the
whole study; at each node stands the gas along the chamber that ``prepare`` gives. The state in
which a returning coolant is fed only shifts the total enthalpy, along an axis that the gas has
anyway.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from regen.design import ContourProfile, Design
from regen.errors import RangeError
from regen.physics import arrays as A
from regen.physics.mixing import mix
from regen.physics.tables import CoolantTable, coolant_h
from regen.solver.prepare import Prepared, prepare
from regen.studies.batch.parameters import Parameter, applied

Array = NDArray[np.float64]

GAS = ("propellants.mixture_ratio", "chamber.pressure", "chamber.combustion_efficiency")
FEED = ("coolant.inlet_temperature", "coolant.inlet_pressure", "coolant.outlet_pressure")

ORDERS = (4, 5, 7, 9, 13)
"""Numbers of nodes that are tried on an axis."""

TOLERANCE = 5e-5
"""Largest error of the gas at the points where an axis is tried, over each field's range [-].

Half of what a wall temperature may be off by (1e-4), since several axes add up.
"""

TRIED = (0.31, 0.83)
"""Where on an axis it is tried, as parts of its length: between the nodes of every order."""

CHECKED = (A.G_P, A.G_RHO, A.G_U, A.G_H, A.G_MU, A.G_K, A.G_CP, A.G_H_AW)

ROOM = 1.02
"""Margin on the hottest stagnation temperature that the tables must have in common [-]."""


class GridError(RangeError):
    """No gas tables can be laid over a whole study: its range is too wide, or leaves the gas."""


@dataclass(frozen=True)
class Span:
    """Lowest and highest value of a key over a whole study, and how many values it has."""

    low: float
    high: float
    count: int


def spans_of(keys: Sequence[Parameter], values: Array) -> dict[str, Span]:
    """Return the spans of a study by the name of a key, from the values of all designs (L, K)."""
    columns = [np.unique(values[:, k]) for k in range(len(keys))]
    return {
        key.name: Span(float(v[0]), float(v[-1]), int(v.size))
        for key, v in zip(keys, columns, strict=True)
        if v.size
    }


def interpolated(key: Parameter, design: Design, spans: Mapping[str, Span]) -> bool:
    """Return whether a key's values are served by interpolation between gas tables.

    Not where the key does not change the gas, where it has no more values than an axis has nodes
    (each has a table of its own), or where more depends on the gas than an axis gives: a film,
    radiation, a throat sized by thrust, an uncooled end.
    """
    if key.path not in spans or spans[key.path].count <= ORDERS[-1]:
        return False
    if key.path in FEED:
        returns = design.coolant.returns_to_injector
        return returns and not key.relative and simple(design)
    return key.path in GAS and simple(design)


def simple(design: Design) -> bool:
    """Return whether nothing but the axes depends on the hot gas."""
    shape, channels = design.contour, design.channels
    sized = not isinstance(shape, ContourProfile) and shape.thrust is not None
    ends = (channels.cooled_from, channels.cooled_to, channels.cooled_to_area_ratio)
    whole = ends == (None, None, None)
    return design.film is None and design.models.radiation == "off" and not sized and whole


@dataclass(frozen=True)
class GasGrid:
    """Gas at the nodes of K = prod of the axes' orders: each field stacked (K, C, ...).

    ``keys`` are the paths of the axes, ``nodes`` their values. ``feed`` is the enthalpy [J/kg] of
    the coolant as it is fed to the tables, ``table`` looks up that of each design.
    """

    keys: tuple[str, ...]
    nodes: tuple[Array, ...]
    gas: A.GasStations
    feed: float | None
    table: CoolantTable

    def at(self, designs: Sequence[Design]) -> tuple[A.GasStations, Array]:
        """Return the gas of L designs, circuit by circuit, and its enthalpy as fed (L,) [J/kg]."""
        weights = np.ones((len(designs), 1))
        for path, nodes in zip(self.keys, self.nodes, strict=True):
            section, _, name = path.partition(".")
            values = [getattr(getattr(design, section), name) for design in designs]
            weights = _product(weights, _weights(nodes, np.array(values)))
        gas = A.GasStations(*(_mixed(weights, nodes) for nodes in self.gas))
        steps = np.repeat(self.gas.layer_T[0], len(designs), axis=0)
        gas = gas._replace(layer_T=steps)
        h0 = gas.h0[: len(designs), 0].copy()
        if self.feed is None:
            return gas, h0
        ratio = np.array([design.propellants.mixture_ratio for design in designs])
        fed = np.array([_fed(self.table, design) for design in designs])
        gain = gas.stagnation[: len(designs), 0, A.S_FEED_GAIN]
        return gas, h0 + gain * (fed - self.feed) / (1.0 + ratio)


def _fed(table: CoolantTable, design: Design) -> float:
    """Return the enthalpy of the coolant as it is fed [J/kg]."""
    feed = design.coolant
    p = feed.inlet_pressure or feed.outlet_pressure or 0.0
    return float(coolant_h(table, feed.inlet_temperature, p)[0])


def _product(a: Array, b: Array) -> Array:
    return np.reshape(a[:, :, None] * b[:, None, :], (a.shape[0], -1))


def _mixed(weights: Array, nodes: Array) -> Array:
    """Return a field (C L, ...) of L designs, circuit by circuit, from nodes (K, C, ...)."""
    mixed = np.empty((weights.shape[0], nodes[0].size))
    mix(weights, nodes.reshape(nodes.shape[0], -1), mixed)
    apart = np.swapaxes(mixed.reshape(weights.shape[0], *nodes.shape[1:]), 0, 1)
    return np.ascontiguousarray(apart).reshape(-1, *nodes.shape[2:])


def _nodes(span: Span, order: int) -> Array:
    middle, half = 0.5 * (span.low + span.high), 0.5 * (span.high - span.low)
    return np.asarray(middle + half * chebyshev.chebpts2(order))


def _weights(nodes: Array, x: Array) -> Array:
    """Return the weights (L, N) of the polynomial through the nodes at x (L,)."""
    weights = np.ones((x.size, nodes.size))
    for i in range(nodes.size):
        for j in range(nodes.size):
            if j != i:
                weights[:, i] *= (x - nodes[j]) / (nodes[i] - nodes[j])
    return weights


def gas_grid(
    design: Design, keys: Sequence[Parameter], spans: Mapping[str, Span], table: CoolantTable
) -> GasGrid:
    """Return the gas tables between which a study's gas is interpolated, as many as it needs.

    ``RangeError`` if a table cannot be made, or the most nodes are not enough.
    """
    axes = [key for key in keys if key.path in GAS]
    feed = None
    if design.coolant.returns_to_injector:
        design, feed = _coldest_feed(design, [k for k in keys if k.path in FEED], spans, table)
    hottest = ROOM * _hottest(design, axes, spans)
    nodes = [_nodes(spans[key.path], _order(design, key, spans, hottest)) for key in axes]
    sets = []
    for values in product(*nodes):
        node = design
        for key, value in zip(axes, values, strict=True):
            node = applied(node, key, float(value))
        sets.append(prepare(node, hottest=hottest, checked=False).gas)
    stacked = A.GasStations(*(np.stack(field) for field in zip(*sets, strict=True)))
    return GasGrid(tuple(key.path for key in axes), tuple(nodes), stacked, feed, table)


def _coldest_feed(
    design: Design, keys: Sequence[Parameter], spans: Mapping[str, Span], table: CoolantTable
) -> tuple[Design, float]:
    """Return the design fed with the least enthalpy of the study, and that enthalpy [J/kg]."""
    ends = [(spans[key.path].low, spans[key.path].high) for key in keys]
    feeds: list[tuple[float, Design]] = []
    for values in product(*ends):
        fed = design
        for key, value in zip(keys, values, strict=True):
            fed = applied(fed, key, value)
        feeds.append((_fed(table, fed), fed))
    h, coldest = min(feeds, key=lambda pair: pair[0])
    return coldest, h


def _hottest(design: Design, axes: Sequence[Parameter], spans: Mapping[str, Span]) -> float:
    """Return the highest stagnation temperature at the coarsest nodes of each axis [K]."""
    T0 = [_stagnation(prepare(design))]
    for key in axes:
        for value in _nodes(spans[key.path], ORDERS[0]):
            T0.append(_stagnation(prepare(applied(design, key, float(value)))))
    rise = [max(T0) / T0[0]] * max(len(axes), 1)
    return float(T0[0] * np.prod(rise))


def _stagnation(prepared: Prepared) -> float:
    return float(prepared.gas.stagnation[..., A.S_T0].max())


def _order(design: Design, key: Parameter, spans: Mapping[str, Span], hottest: float) -> int:
    """Return how many nodes one axis asks for, the others at the design's own values."""
    span = spans[key.path]

    def gas(value: float) -> A.GasStations:
        return prepare(applied(design, key, float(value)), hottest=hottest).gas

    tried = [span.low + share * (span.high - span.low) for share in TRIED]
    exact = [gas(value) for value in tried]
    error = np.inf
    for order in ORDERS:
        nodes = _nodes(span, order)
        sets = [gas(value) for value in nodes]
        weights = _weights(nodes, np.array(tried))
        error = max(_error(sets, weights[n], exact[n]) for n in range(len(tried)))
        if error <= TOLERANCE:
            return order
    message = (
        f"{key.path}: {key.say(span.low)} to {key.say(span.high)} is too wide for one set of hot "
        f"gas tables: {ORDERS[-1]} of them leave an error of {error:.1e}; study a narrower range, "
        "or several"
    )
    raise RangeError(message)


def _error(sets: Sequence[A.GasStations], weights: Array, exact: A.GasStations) -> float:
    """Return the largest error of the fields that heat and flow hang on, over their range."""
    pairs = []
    for name in ("core", "stagnation", "layer"):
        mixed = sum(w * getattr(gas, name) for w, gas in zip(weights, sets, strict=True))
        pairs.append((np.asarray(mixed), getattr(exact, name)))
    (core, core_exact), (still, still_exact), (layer, layer_exact) = pairs
    worst = [np.abs(still / still_exact - 1.0)[..., [A.S_P0, A.S_CSTAR, A.S_MU, A.S_CP]].max()]
    for field in CHECKED:
        scale = np.abs(core_exact[..., field]).max()
        worst.append(np.abs(core[..., field] - core_exact[..., field]).max() / scale)
    for field in range(A.N_LAYER):
        scale = np.abs(layer_exact[..., field]).max()
        worst.append(np.abs(layer[..., field] - layer_exact[..., field]).max() / scale)
    return float(max(worst))
