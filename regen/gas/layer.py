"""A wall layer of another mixture ratio than the core's, along the axis."""

from collections.abc import Callable

import numpy as np

from regen.design import Film, Profile
from regen.errors import RangeError
from regen.physics import arrays as A
from regen.physics.arrays import Array
from regen.result import Note
from regen.texts import text

LayerGas = Callable[[float], tuple[A.GasStations, tuple[str, ...]]]

FUEL_STEP = 0.02
"""Largest step in mass fraction of fuel between mixtures that are interpolated [-]."""


def check_injection(film: Film, x_injector: float) -> float:
    """Return where the film begins [m], refused outside the chamber and beyond the throat."""
    if film.injected_at is None:
        return x_injector
    if not x_injector - 1e-9 <= film.injected_at < 0.0:
        where = "beyond the throat" if film.injected_at >= 0.0 else "outside the chamber"
        given = {"given": film.injected_at, "where": where}
        raise RangeError(text("injected at", **given, start=x_injector))
    return film.injected_at


def with_layer(
    gas: A.GasStations, begins: float, ratio: Profile, x: Array, layer_gas: LayerGas
) -> tuple[A.GasStations, tuple[Note, ...]]:
    """Return the gas with a wall layer of its own mixture ratio, and notes on it.

    From ``begins`` [m] on the mixture ratio along the axis is ``ratio``; ``x`` (S,) are rising
    stations [m]; ``layer_gas`` gives the gas there for a mixture ratio, and the notes of its table.

    The adiabatic wall, and all of the gas beside the wall, are those of the layer's mixture, which
    burns with the same efficiency of its own characteristic velocity and expands through the same
    areas by itself. Between mixtures both are linear in the mass fraction of fuel. The film
    coefficient's core is that of the core.
    """
    fuel = 1.0 / (1.0 + ratio.at(x))
    inside = x >= begins - 1e-9
    nodes = _nodes(fuel[inside])
    made = [layer_gas(float(1.0 / f - 1.0)) for f in nodes]
    hottest = max((gas, *(g for g, _ in made)), key=lambda g: float(layer_nodes(g)[-1]))
    layer_T = hottest.layer_T
    core, layer = gas.core.copy(), _on(gas, layer_T)
    layers = [_on(g, layer_T) for g, _ in made]
    for i in np.flatnonzero(inside):
        n = int(np.clip(np.searchsorted(nodes, fuel[i]) - 1, 0, max(nodes.size - 2, 0)))
        m = min(n + 1, nodes.size - 1)
        share = (fuel[i] - nodes[n]) / (nodes[m] - nodes[n]) if m > n else 0.0
        low, high = made[n][0].core[0, :, i], made[m][0].core[0, :, i]
        layer[0, i] = (1.0 - share) * layers[n][0, i] + share * layers[m][0, i]
        beside = (1.0 - share) * low + share * high
        set_adiabatic_wall(core[0, :, i], beside[:, A.G_H_AW], beside[:, A.G_T_AW])
    given = text("wall layer", span=ends_text(ratio.value, ".3g"), start=begins)
    texts = dict.fromkeys((given, *(note for _, notes in made for note in notes)))
    notes = tuple(Note("wall layer", one) for one in texts)
    return gas._replace(core=core, layer=layer, layer_T=layer_T), notes


def set_adiabatic_wall(core: Array, h: Array | float, T: Array | float) -> None:
    """Give the core at one station (H, N_CORE) another adiabatic wall; its Stanton number stays."""
    core[:, A.G_H] += h - core[:, A.G_H_AW]
    core[:, A.G_H_AW], core[:, A.G_T_AW] = h, T


def layer_nodes(gas: A.GasStations) -> Array:
    """Return the temperatures of the wall layer's nodes (N,) [K]."""
    return np.asarray(gas.layer_T[0, 0] + gas.layer_T[0, 1] * np.arange(gas.layer.shape[2]))


def _nodes(fuel: Array) -> Array:
    low, high = float(fuel.min()), float(fuel.max())
    if high - low < 1e-9:
        return np.array([low])
    return np.linspace(low, high, 2 + int((high - low) / FUEL_STEP))


def _on(gas: A.GasStations, layer_T: Array) -> Array:
    """Wall layer on other uniform temperature nodes, linear beyond its own."""
    if np.array_equal(gas.layer_T, layer_T):
        return gas.layer.copy()
    count = gas.layer.shape[2]
    T = layer_T[0, 0] + layer_T[0, 1] * np.arange(count)
    place = (T - gas.layer_T[0, 0]) / gas.layer_T[0, 1]
    n = np.clip(place.astype(int), 0, count - 2)
    share = (place - n)[None, None, :, None]
    return np.asarray((1.0 - share) * gas.layer[:, :, n] + share * gas.layer[:, :, n + 1])


def ends_text(values: tuple[float, ...], digits: str) -> str:
    """Return the least and the greatest of some values, "1 to 2", or "1" if they are the same."""
    return " to ".join(format(v, digits) for v in dict.fromkeys((min(values), max(values))))
