"""Start and stop of a firing by closed forms: a dry hot wall, time constants, soak-back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from regen.checks.columns import peak_of
from regen.design import Design
from regen.physics import lookups
from regen.prepare import Prepared
from regen.properties import metals
from regen.properties.alloys import AlloyCondition, RangeError
from regen.result import Array, Finding

SECTION = "start and stop"

_EARLY = 0.05
"""Fourier number below which a slab is still a half-space, within 1e-8 of its rise [-]."""
_TERMS = np.arange(1, 9)[:, None]
_NEWTON_STEPS = 30


def dry_time(q: ArrayLike, k: ArrayLike, rho_cp: ArrayLike, t: ArrayLike, rise: ArrayLike) -> Array:
    """Return when the hot face of a wall without coolant has risen by so much.

    Parameters
    ----------
    q : array_like
        Constant flux into the hot face [W/m2].
    k : array_like
        Conductivity [W/(m K)].
    rho_cp : array_like
        Heat capacity by volume [J/(m3 K)].
    t : array_like
        Wall thickness, its back insulated [m].
    rise : array_like
        Rise of the hot face [K].

    Returns
    -------
    ndarray
        Time, broadcast shape [s]; zero where the rise is not above zero.

    Notes
    -----
    Slab of uniform first temperature: rise k/(q t) = Fo + 1/3 - (2/pi^2) sum exp(-n^2 pi^2 Fo)/n^2
    with Fo = time k/(rho_cp t^2), before Fo = 0.05 the half-space 2 sqrt(Fo/pi). The rise grows
    ever slower, so Newton's steps from an earlier time never pass the root.
    Source: carslaw_jaeger1959.
    """
    q, k, rho_cp, t, rise = np.broadcast_arrays(
        *(np.asarray(values, dtype=np.float64) for values in (q, k, rho_cp, t, rise))
    )
    aim = np.maximum(rise * k / (q * t), 0.0)
    early = np.pi / 4.0 * aim**2
    Fo = np.maximum(aim - 1.0 / 3.0, _EARLY)
    for _ in range(_NEWTON_STEPS):
        terms = np.exp(-((_TERMS * np.pi) ** 2) * Fo.ravel())
        series = (2.0 / np.pi**2 * terms / _TERMS**2).sum(axis=0).reshape(Fo.shape)
        slope = 1.0 + 2.0 * terms.sum(axis=0).reshape(Fo.shape)
        step = (aim - (Fo + 1.0 / 3.0 - series)) / slope
        Fo = np.maximum(Fo + step, _EARLY)
        if np.all(np.abs(step) <= 1e-13 * Fo):
            break
    return np.asarray(np.where(early <= _EARLY, early, Fo) * rho_cp * t**2 / k)


def half_space_time(q: ArrayLike, k: ArrayLike, rho_cp: ArrayLike, rise: ArrayLike) -> Array:
    """Return when the face of a half-space has risen by so much: a bound, never sooner than a wall.

    Parameters
    ----------
    q : array_like
        Constant flux into the face [W/m2].
    k : array_like
        Conductivity [W/(m K)].
    rho_cp : array_like
        Heat capacity by volume [J/(m3 K)].
    rise : array_like
        Rise of the face [K].

    Returns
    -------
    ndarray
        (pi/4) k rho_cp (rise/q)^2, broadcast shape [s]. Source: carslaw_jaeger1959.
    """
    ratio = np.asarray(rise, dtype=np.float64) / np.asarray(q)
    return np.asarray(np.pi / 4.0 * np.asarray(k) * np.asarray(rho_cp) * ratio**2)


def lumped_time(q: ArrayLike, rho_cp: ArrayLike, t: ArrayLike, rise: ArrayLike) -> Array:
    """Return when a wall of one temperature has risen by so much: a bound, never sooner than a wall.

    Parameters
    ----------
    q : array_like
        Constant flux into the hot face [W/m2].
    rho_cp : array_like
        Heat capacity by volume [J/(m3 K)].
    t : array_like
        Wall thickness, its back insulated [m].
    rise : array_like
        Rise of its temperature [K].

    Returns
    -------
    ndarray
        rho_cp t rise/q, broadcast shape [s].
    """
    return np.asarray(np.asarray(rho_cp) * np.asarray(t) * np.asarray(rise) / np.asarray(q))


class Metal(NamedTuple):
    """Heat capacity of one metal by volume [J/(m3 K)], and what must be said of it."""

    rho_cp: Array
    note: str


def heat_capacity(metal: AlloyCondition, T: Array) -> Metal:
    """Return the heat capacity of a metal by volume.

    Parameters
    ----------
    metal : AlloyCondition
        Any with a table of specific heat.
    T : ndarray
        Temperatures [K].

    Returns
    -------
    Metal
        Same shape as T. Where the table ends before T, the value of its nearer end, and a note
        that says so: heat capacity rises slowly and steadily with temperature.

    Raises
    ------
    MissingProperty
        If there is no table.
    """
    table = metal.table("specific_heat")
    value = np.interp(T, table.T, table.value)
    note = ""
    if np.any((table.T[0] > T) | (table.T[-1] < T)):
        ends = " to ".join(f"{end:.0f}" for end in dict.fromkeys((table.T[0], table.T[-1])))
        note = (
            f"specific heat of {metal.alloy.key} is tabulated at {ends} K; the nearer end is taken"
            f" for {np.min(T):.0f} to {np.max(T):.0f} K (copper's rises by about a tenth from 300"
            " to 700 K)"
        )
    return Metal(np.asarray(metal.alloy.density.value * value), note)


class _Slot(NamedTuple):
    """Metal round one slot, per length of contour, in its layers (layers, rows) [SI]."""

    capacity: Array
    T: Array
    notes: tuple[str, ...]

    def above(self, T: Array | float) -> Array:
        """Return the heat stored above a temperature [K], per length of contour (rows,) [J/m]."""
        return np.asarray((self.capacity * np.maximum(self.T - T, 0.0)).sum(axis=0))


def _metal_round_a_slot(prepared: Prepared, s: Mapping[str, Array]) -> _Slot:
    """Return hot wall, land, copper and jacket of one slot with their mean temperatures.

    The land is a fin with an insulated end; the closeout has the temperature of that end.
    """
    design, slots = prepared.design, prepared.passage
    cosine, count = np.cos(slots.slope_angle), slots.count
    liner = metals.liner(design)
    T_wall = 0.5 * (s["T_wall_hot_mean_K"] + s["T_wall_cold_K"])
    k = liner.value("thermal_conductivity", s["T_wall_cold_K"]).value
    m = np.sqrt(2.0 * s["h_coolant_W_m2K"] / (k * slots.land)) * slots.depth
    above = s["T_wall_cold_K"] - s["T_coolant_K"]
    T_land = s["T_coolant_K"] + above * np.tanh(m) / m
    T_end = s["T_coolant_K"] + above / np.cosh(m)
    roof = slots.floor_radius + slots.depth * cosine
    copper = design.closeout.copper
    layers = (
        (liner, slots.r, slots.wall, np.zeros(()), T_wall),
        (liner, slots.floor_radius, slots.depth, slots.width * slots.depth, T_land),
        (metals.plated_copper(design), roof, np.asarray(copper), np.zeros(()), T_end),
        (
            metals.jacket(design),
            roof + copper * cosine,
            np.asarray(design.closeout.jacket),
            np.zeros(()),
            T_end,
        ),
    )
    capacity, temperatures, notes = [], [], []
    for metal, inner, thickness, cut, T in layers:
        if not np.any(thickness):
            continue
        found = heat_capacity(metal, T)
        ring = 2.0 * np.pi * (inner + 0.5 * thickness * cosine) * thickness / count
        capacity.append(found.rho_cp * (ring - cut))
        temperatures.append(T)
        notes.append(found.note)
    return _Slot(np.stack(capacity), np.stack(temperatures), tuple(dict.fromkeys(notes)))


def findings(prepared: Prepared, stations: Mapping[str, Array]) -> tuple[Finding, ...]:
    """Return what can be said of start and stop of the nominal channel.

    Parameters
    ----------
    prepared : Prepared
        Design, slots and coolant.
    stations : mapping
        Columns of ``result.STATION_COLUMNS`` (rows,).

    Returns
    -------
    tuple of Finding
        Section "start and stop"; one without value where a property is missing.
    """
    found: list[Finding] = []
    for part in (_dry_wall, _time_constants, _stop):
        try:
            found += part(prepared, stations)
        except RangeError as error:
            name, text = _UNASSESSED[part.__name__]
            found.append(Finding(SECTION, name, text, None, "s", "common_practice", None, str(error)))
    return tuple(found)


_UNASSESSED = {
    "_dry_wall": ("dry_wall_time_to_limit", "start: dry hot wall, time to its limit"),
    "_time_constants": ("wall_time_constant", "time constants of the wall"),
    "_stop": ("purge_time", "stop: heat soaked back, and purge"),
}


class _Place(NamedTuple):
    """Least or greatest of a column and where it is [m]."""

    value: float
    x: float


def _least(stations: Mapping[str, Array], values: Array) -> _Place:
    at = int(np.argmin(values))
    return _Place(float(values[at]), float(stations["x_m"][at]))


def _limit(design: Design, liner: AlloyCondition) -> float | None:
    if design.limits.T_wall_hot is not None:
        return design.limits.T_wall_hot
    fact = liner.limit(design.limits.service)
    return fact.value if fact else None


def _dry_wall(prepared: Prepared, s: Mapping[str, Array]) -> Iterator[Finding]:
    """Yield how long a hot wall lasts that the gas meets without coolant."""
    design, liner = prepared.design, metals.liner(prepared.design)
    start = design.life.start_temperature
    q = s["h_gas_W_m2K"] * (s["T_aw_K"] - start)
    top, x_top = peak_of(prepared, q)
    said = (
        f"from {start:.0f} K; full chamber pressure at once, flux held at its value on a wall of"
        " that temperature, back insulated, nothing given to lands or closeout: the safe side"
    )
    yield Finding(
        SECTION,
        "ignition_flux",
        "start: heat flux on a wall that is still cold, highest",
        float(top),
        "W/m2",
        "common_practice",
        float(x_top),
        "gas-side coefficient of the running chamber, wall at its start temperature",
    )
    solidus = liner.alloy.solidus
    aims = (
        ("limit", "its working limit", _limit(design, liner), "give limits.T_wall_hot"),
        ("solidus", "its solidus", solidus.value if solidus else None, "no solidus is tabulated"),
    )
    for name, of, T, missing in aims:
        text = f"start: dry hot wall, time to {of}"
        key = f"dry_wall_time_to_{name}"
        if T is None:
            note = f"{of} of {liner.alloy.key} is not known: {missing}"
            yield Finding(SECTION, key, text, None, "s", "carslaw_jaeger1959", None, note)
            continue
        middle = np.full(q.shape, 0.5 * (start + T))
        metal = heat_capacity(liner, middle)
        k = liner.value("thermal_conductivity", middle).value
        k = k * design.models.conductivity_factor
        least = _least(s, dry_time(q, k, metal.rho_cp, s["wall_m"], T - start))
        at = int(np.argmin(np.abs(s["x_m"] - least.x)))
        half = float(half_space_time(q[at], k[at], metal.rho_cp[at], T - start))
        lump = float(lumped_time(q[at], metal.rho_cp[at], s["wall_m"][at], T - start))
        note = (
            f"to {T:.0f} K {said}. Bounds from above there: {_ms(half)} as a half-space,"
            f" {_ms(lump)} as one lump"
        )
        note = f"{note}. {metal.note}" if metal.note else note
        yield Finding(SECTION, key, text, least.value, "s", "carslaw_jaeger1959", least.x, note)


def _ms(time: float) -> str:
    return f"{1e3 * time:.3g} ms"


def _time_constants(prepared: Prepared, s: Mapping[str, Array]) -> Iterator[Finding]:
    """Yield how fast the wall follows its fluxes."""
    liner = metals.liner(prepared.design)
    T = 0.5 * (s["T_wall_hot_mean_K"] + s["T_wall_cold_K"])
    metal = heat_capacity(liner, T)
    k = liner.value("thermal_conductivity", T).value * prepared.design.models.conductivity_factor
    across = _least(s, -metal.rho_cp * s["wall_m"] ** 2 / k)
    yield Finding(
        SECTION,
        "wall_crossing_time",
        "time for heat to cross the hot wall, longest: thickness squared over diffusivity",
        -across.value,
        "s",
        "carslaw_jaeger1959",
        across.x,
        metal.note,
    )
    film = s["q_W_m2"] / (s["T_wall_hot_mean_K"] - s["T_coolant_K"])
    lumped = _least(s, -metal.rho_cp * s["wall_m"] / (film + s["h_gas_W_m2K"]))
    yield Finding(
        SECTION,
        "wall_time_constant",
        "time constant of the hot wall alone between both films, longest",
        -lumped.value,
        "s",
        "lumped_wall",
        lumped.x,
        "running coefficients; it is steady after three to five of these",
    )
    slot = _metal_round_a_slot(prepared, s)
    flow = s["q_W_m2"] * 2.0 * np.pi * s["r_m"] / prepared.passage.count
    whole = _least(s, -slot.above(s["T_coolant_K"]) / flow)
    yield Finding(
        SECTION,
        "structure_time_constant",
        "time constant of wall, lands and closeout together, longest",
        -whole.value,
        "s",
        "lumped_wall",
        whole.x,
        "heat stored above the coolant over the running heat flow",
    )


def _lengths(prepared: Prepared) -> Array:
    """Return the length of contour (rows,) that each row stands for, of its pass [m]."""
    found = []
    for path in prepared.paths:
        step = path.passage.step_gas
        after = np.concatenate([step[1:], [0.0]])
        found.append((0.5 * (step + after) * path.share)[path.order])
    return prepared.rows.joined(found)


def _stop(prepared: Prepared, s: Mapping[str, Array]) -> Iterator[Finding]:
    """Yield what happens when flame and coolant stop together, and the least purge."""
    slots, length = prepared.passage, _lengths(prepared)
    states = np.empty((length.size, 4))
    lookups.boiling_points(prepared.coolant, s["T_coolant_K"], s["p_coolant_Pa"], states)
    T_boil, h_boil, h, rho = states.T
    metal = _metal_round_a_slot(prepared, s)
    content = rho * slots.width * slots.depth
    each = length * slots.count
    stored = float(np.sum(metal.above(T_boil) * each))
    taken = float(np.sum(content * np.maximum(h_boil - h, 0.0) * each))
    mass = float(np.sum(content * each))
    what = _boiling(prepared, s)
    notes = " ".join(note for note in metal.notes if note)
    yield Finding(
        SECTION,
        "stored_heat",
        f"stop: heat in liner, lands and closeout above the temperature where the coolant {what}",
        stored,
        "J",
        "lumped_wall",
        None,
        "as it runs; lands as fins, closeout at their outer end's temperature. " + notes,
    )
    yield Finding(
        SECTION,
        "heat_to_boil",
        f"stop: heat that stagnant coolant in the slots takes until it {what}",
        taken,
        "J",
        "coolprop",
        None,
        "at the running pressure; as the pressure falls it takes less",
    )
    if taken > 0.0:
        share = stored / taken
        outcome = "all of it does" if share > 1.0 else "not all of it does"
        yield Finding(
            SECTION,
            "soak_back_ratio",
            "stop: stored heat over the heat to boil; above 1 stagnant coolant boils in the slots",
            share,
            "-",
            "lumped_wall",
            None,
            f"no heat leaves by other ways: {outcome} where coolant is not followed by a purge",
        )
    flow = float(prepared_flow(prepared, s, content))
    sweep = mass / flow
    yield Finding(
        SECTION,
        "sweep_time",
        "stop: time in which the running flow sweeps the slots once",
        sweep,
        "s",
        "lumped_wall",
        None,
        f"{mass * 1e3:.3g} g of coolant in the slots",
    )
    yield _purge(prepared, s, metal, sweep)


def prepared_flow(prepared: Prepared, s: Mapping[str, Array], content: Array) -> float:
    """Return the mass flow through all slots [kg/s]: that at the inlet of each circuit.

    Parameters
    ----------
    prepared : Prepared
        Slots.
    s : mapping
        Columns (rows,).
    content : ndarray
        Coolant in one slot per length (rows,) [kg/m].

    Returns
    -------
    float
        Flow of all circuits together.
    """
    flow, share = content * s["v_coolant_m_s"] * prepared.passage.count, _shares(prepared)
    total = 0.0
    for number in np.unique(s["circuit"]):
        mine = s["circuit"] == number
        first = int(np.argmin(np.where(mine, s["passage_length_m"], np.inf)))
        total += float(flow[first] * share[first])
    return total


def _shares(prepared: Prepared) -> Array:
    return prepared.rows.joined([np.full(path.order.size, path.share) for path in prepared.paths])


def _boiling(prepared: Prepared, s: Mapping[str, Array]) -> str:
    low = bool(np.any(s["p_coolant_Pa"] < prepared.coolant.p_critical))
    high = bool(np.any(s["p_coolant_Pa"] >= prepared.coolant.p_critical))
    words = ["boils"] * low + ["turns from liquid-like to gas-like (heat-capacity peak)"] * high
    return " or ".join(words)


def _purge(prepared: Prepared, s: Mapping[str, Array], metal: _Slot, sweep: float) -> Finding:
    """Return how long coolant must run on after the flame: once through, and metal cooled."""
    T_in = prepared.design.coolant.inlet_temperature
    inlet = np.full(s["x_m"].shape, T_in)
    states = np.empty((inlet.size, 4))
    lookups.boiling_points(prepared.coolant, inlet, s["p_coolant_Pa"], states)
    T_boil = states[:, 0]
    name, text = "purge_time", "stop: coolant must run on after the flame for at least"
    if np.any(T_boil <= T_in):
        note = "the coolant enters warmer than it boils or turns gas-like: nothing to wait for"
        return Finding(SECTION, name, text, None, "s", "lumped_wall", None, note)
    flow = s["q_W_m2"] * 2.0 * np.pi * s["r_m"] / prepared.passage.count
    constant = metal.above(s["T_coolant_K"]) / flow
    ratio = np.maximum((s["T_wall_hot_K"] - T_in) / (T_boil - T_in), 1.0)
    wait = _least(s, -constant * np.log(ratio))
    note = (
        f"one sweep, {_ms(sweep)}, and {_ms(-wait.value)} until the hottest metal is below where"
        " the coolant boils or turns gas-like, at the running flow with coolant as it enters."
        " A gas purge cools less and needs longer; an estimate: confirm it on the stand"
    )
    return Finding(SECTION, name, text, sweep - wait.value, "s", "lumped_wall", wait.x, note)
