"""Start and stop of a firing: a dry hot wall, time constants, heat soaked back, purge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.checks.runs import Run
from regen.checks.stations import peak_of
from regen.checks.strength.structure import jacket_temperature, mean_land
from regen.checks.transient import (
    dry_time,
    half_space_time,
    heat_capacity,
    held_capacity,
    lumped_time,
)
from regen.design import Design
from regen.errors import RangeError
from regen.gas.flux import surface_flux
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition
from regen.physics import arrays as A
from regen.physics import lookups
from regen.physics.march import gas_at
from regen.result import Array, Finding
from regen.solver.prepare import Prepared

SECTION = "start and stop"


class _Slot(NamedTuple):
    """Metal round one slot, per length of contour, in its layers (layers, rows) [SI]."""

    capacity: Array
    T: Array
    note: str

    def above(self, T: Array | float) -> Array:
        """Return the heat stored above a temperature [K], per length of contour (rows,) [J/m]."""
        return np.asarray((self.capacity * np.maximum(self.T - T, 0.0)).sum(axis=0))


def _metal_round_a_slot(prepared: Prepared, run: Run) -> _Slot:
    """Return hot wall, land, copper and jacket of one slot with their mean temperatures.

    The land is the fin of ``jacket_temperature``, from its foot to the roof that it feeds; copper
    and jacket have the temperature of its outer end.
    """
    design, slots, s = prepared.design, prepared.passage, run.stations
    liner, closeout = metals.liner(design), prepared.design.closeout
    cosine = np.cos(slots.slope_angle)
    T_wall = 0.5 * (s["T_wall_hot_mean_K"] + s["T_wall_cold_K"])
    T_land, T_end = _land_temperature(design, liner, run), jacket_temperature(design, liner, run)
    roof = slots.floor_radius + slots.depth * cosine
    nothing = np.zeros(1)
    every: tuple[tuple[AlloyCondition, Array, Array, Array, Array], ...] = (
        (liner, slots.r, slots.wall, nothing, T_wall),
        (liner, slots.floor_radius, slots.depth, slots.width * slots.depth, T_land),
        (metals.plated_copper(design), roof, np.asarray(closeout.copper), nothing, T_end),
        (
            metals.jacket(design),
            roof + closeout.copper * cosine,
            np.asarray(closeout.jacket),
            nothing,
            T_end,
        ),
    )
    layers = [layer for layer in every if np.any(layer[2])]
    capacity = []
    for metal, inner, thickness, cut, T in layers:
        ring = 2.0 * np.pi * (inner + 0.5 * thickness * cosine) * thickness / slots.count
        capacity.append(heat_capacity(metal, T) * (ring - cut))
    said = {
        str(metal): held_capacity(metal, np.stack([T for m, _, _, _, T in layers if m is metal]))
        for metal, *_ in layers
    }
    notes = "; ".join(note for note in said.values() if note)
    return _Slot(np.stack(capacity), np.stack([T for *_, T in layers]), notes)


def _land_temperature(design: Design, liner: AlloyCondition, run: Run) -> Array:
    """Return the mean over the height of a land, as ``jacket_temperature`` has it (rows,) [K]."""
    s = run.stations
    bulk, land = s["T_coolant_K"], mean_land(run)
    rise = s["T_wall_cold_K"] - bulk
    k = liner.value("thermal_conductivity", bulk + 0.5 * rise).value
    k = k * design.models.conductivity_factor
    h = s["h_coolant_W_m2K"]
    m = np.sqrt(2.0 * h / (k * land))
    md, roof = m * s["channel_depth_m"], h * s["channel_width_m"] / (k * m * land)
    whole = np.sinh(md) + roof * (np.cosh(md) - 1.0)
    return np.asarray(bulk + rise * whole / (md * (np.cosh(md) + roof * np.sinh(md))))


def findings(prepared: Prepared, run: Run) -> tuple[Finding, ...]:
    """Return what can be said of start and stop of the nominal channel.

    Parameters
    ----------
    prepared : Prepared
        Design, slots and coolant.
    run : Run
        The nominal channel.

    Returns
    -------
    tuple of Finding
        Section "start and stop"; one without value where a property is missing.
    """
    found: list[Finding] = []
    for part in (_dry_wall, _time_constants, _stop):
        try:
            found += part(prepared, run)
        except RangeError as error:
            name, text = _UNASSESSED[part.__name__]
            found.append(
                Finding(SECTION, name, text, None, "s", "common_practice", None, str(error))
            )
    return tuple(found)


_UNASSESSED = {
    "_dry_wall": ("dry_wall_time_to_limit", "start: dry hot wall, time to its limit"),
    "_time_constants": ("wall_time_constant", "time constants of the wall"),
    "_stop": ("purge_time", "stop: heat soaked back, and purge"),
}


class _Place(NamedTuple):
    """Greatest of a column and where it is [m]; None where no place was asked for."""

    value: float | None
    x: float | None


def _longest(stations: Mapping[str, Array], values: Array, rows: NDArray[np.bool_]) -> _Place:
    """Return the greatest of some rows."""
    if not rows.any():
        return _Place(None, None)
    at = int(np.argmax(np.where(rows, values, -np.inf)))
    return _Place(float(values[at]), float(stations["x_m"][at]))


class _HeatFlow(NamedTuple):
    """Rows with heat into the coolant, its flow into one slot (rows,) [W/m], and what is left out.

    The flow is 1 where there is none, for quotients that are not asked for there.
    """

    rows: NDArray[np.bool_]
    into_slot: Array
    note: str


def _heat_flow(prepared: Prepared, s: Mapping[str, Array]) -> _HeatFlow:
    heated = s["q_W_m2"] > 0.0
    flow = s["q_W_m2"] * 2.0 * np.pi * s["r_m"] / prepared.passage.count
    note = ""
    if not heated.all():
        count = int((~heated).sum())
        note = f"without {count} of {heated.size} stations, where no heat flows into the coolant"
    return _HeatFlow(heated, np.where(heated, flow, 1.0), note)


def _limit(design: Design, liner: AlloyCondition) -> float | None:
    if design.limits.T_wall_hot is not None:
        return design.limits.T_wall_hot
    fact = liner.limit(design.limits.service)
    return fact.value if fact else None


def ignition_flux(prepared: Prepared) -> Array:
    """Return the heat flux on a wall that is still at its start temperature.

    Parameters
    ----------
    prepared : Prepared
        Gas beside the wall, film, factors and radiation included, and the start temperature.

    Returns
    -------
    ndarray
        By the nominal gas-side form, of the propellants as fed: no heat has come back with the
        fuel yet (rows,) [W/m2]. Below zero where a film is colder than the wall.
    """
    start, found = prepared.design.life.start_temperature, []
    for n, path in enumerate(prepared.paths):
        gas = A.GasStations(*(values[n : n + 1] for values in prepared.gas))
        core, stagnation = np.empty(gas.core.shape[2:]), np.empty(A.N_STAGNATION)
        gas_at(gas, 0, float(prepared.run["h0"][n]), core, stagnation)
        r = path.flowing("r")
        surface = np.full(r.shape, start)
        found.append(surface_flux(gas, core, stagnation, prepared.design.models, r, surface))
    return prepared.rows.joined(found)


def _dry_wall(prepared: Prepared, run: Run) -> Iterator[Finding]:
    """Yield how long a hot wall lasts that the gas meets without coolant."""
    s = run.stations
    design, liner = prepared.design, metals.liner(prepared.design)
    start = design.life.start_temperature
    q = ignition_flux(prepared)
    top, x_top = peak_of(prepared, q)
    heated = q > 0.0
    name, text = "ignition_flux", "start: heat flux on a wall that is still cold, highest"
    if not heated.any():
        cold = f"the film is nowhere hotter than a wall of {start:.0f} K: none"
        yield Finding(SECTION, name, text, None, "W/m2", "common_practice", None, cold)
        return
    film = ", with the film of the case" if design.film is not None else ""
    note = (
        f"nominal gas-side form on a wall of {start:.0f} K at full chamber pressure{film}; no heat"
        " has come back with the fuel yet"
    )
    yield Finding(SECTION, name, text, float(top), "W/m2", "common_practice", float(x_top), note)
    said = (
        f"from {start:.0f} K; full chamber pressure at once{film}, flux held at its value on a"
        " wall of that temperature, back insulated, nothing given to lands or closeout: the safe"
        " side"
    )
    q, x, wall = q[heated], s["x_m"][heated], s["wall_m"][heated]
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
        rho_cp = heat_capacity(liner, middle)
        k = liner.value("thermal_conductivity", middle).value
        k = k * design.models.conductivity_factor
        times = dry_time(q, k, rho_cp, wall, T - start)
        at = int(np.argmin(times))
        half = float(half_space_time(q[at], k[at], rho_cp[at], T - start))
        lump = float(lumped_time(q[at], rho_cp[at], wall[at], T - start))
        note = (
            f"to {T:.0f} K {said}. Bounds from above there: {_said(half)} as a half-space,"
            f" {_said(lump)} as one lump"
        )
        note = _joined(note, held_capacity(liner, middle))
        least, where = float(times[at]), float(x[at])
        yield Finding(SECTION, key, text, least, "s", "carslaw_jaeger1959", where, note)


def _joined(*notes: str) -> str:
    return ". ".join(note for note in notes if note)


def _said(time: float) -> str:
    return f"{1e3 * time:.3g} ms" if time < 1.0 else f"{time:.3g} s"


def _time_constants(prepared: Prepared, run: Run) -> Iterator[Finding]:
    """Yield how fast the wall follows its fluxes."""
    s = run.stations
    liner = metals.liner(prepared.design)
    T = 0.5 * (s["T_wall_hot_mean_K"] + s["T_wall_cold_K"])
    rho_cp = heat_capacity(liner, T)
    k = liner.value("thermal_conductivity", T).value * prepared.design.models.conductivity_factor
    across = _longest(s, rho_cp * s["wall_m"] ** 2 / k, np.ones(T.shape, dtype=bool))
    yield Finding(
        SECTION,
        "wall_crossing_time",
        "time for heat to cross the hot wall, longest",
        across.value,
        "s",
        "carslaw_jaeger1959",
        across.x,
        _joined("thickness squared over diffusivity", held_capacity(liner, T)),
    )
    heat = _heat_flow(prepared, s)
    rise = np.where(heat.rows, s["T_wall_hot_mean_K"] - s["T_coolant_K"], 1.0)
    both = np.where(heat.rows, s["q_W_m2"] / rise + s["h_gas_W_m2K"], 1.0)
    lumped = _longest(s, rho_cp * s["wall_m"] / both, heat.rows)
    yield Finding(
        SECTION,
        "wall_time_constant",
        "time constant of the hot wall alone between both films, longest",
        lumped.value,
        "s",
        "lumped_wall",
        lumped.x,
        _joined("running coefficients; it is steady after three to five of these", heat.note),
    )
    slot = _metal_round_a_slot(prepared, run)
    whole = _longest(s, slot.above(s["T_coolant_K"]) / heat.into_slot, heat.rows)
    yield Finding(
        SECTION,
        "structure_time_constant",
        "time constant of wall, lands and closeout together, longest",
        whole.value,
        "s",
        "lumped_wall",
        whole.x,
        _joined("heat stored above the coolant over the running heat flow", heat.note),
    )


def _lengths(prepared: Prepared) -> Array:
    """Return the length of contour (rows,) that each row stands for, of its pass [m]."""
    found = []
    for path in prepared.paths:
        step = path.passage.step_gas
        after = np.concatenate([step[1:], [0.0]])
        found.append((0.5 * (step + after) * path.share)[path.order])
    return prepared.rows.joined(found)


def _stop(prepared: Prepared, run: Run) -> Iterator[Finding]:
    """Yield what happens when flame and coolant stop together, and the least purge."""
    s, slots, length = run.stations, prepared.passage, _lengths(prepared)
    if np.any(s["p_coolant_Pa"] < prepared.design.coolant.may_boil_below):
        note = "no saturation of the coolant is given: when it boils is not known"
        text = "stop: coolant must run on after the flame for at least"
        yield Finding(SECTION, "purge_time", text, None, "s", "lumped_wall", None, note)
        return
    states = np.empty((length.size, 4))
    lookups.boiling_points(prepared.coolant, s["T_coolant_K"], s["p_coolant_Pa"], states)
    T_boil, h_boil, h, rho = states.T
    metal = _metal_round_a_slot(prepared, run)
    content = rho * slots.width * slots.depth
    each = length * slots.count
    stored = float(np.sum(metal.above(T_boil) * each))
    taken = float(np.sum(content * np.maximum(h_boil - h, 0.0) * each))
    mass = float(np.sum(content * each))
    what = _boiling(prepared, s)
    yield Finding(
        SECTION,
        "stored_heat",
        f"stop: heat in the metal above where the coolant {what}",
        stored,
        "J",
        "lumped_wall",
        None,
        _joined("as it runs; lands as fins, the closeout as warm as their outer end", metal.note),
    )
    yield Finding(
        SECTION,
        "heat_to_boil",
        f"stop: heat that the coolant in the slots takes until it {what}",
        taken,
        "J",
        "coolprop",
        None,
        "at the running pressure, as it falls it takes less; gas-like: beyond the peak of the heat"
        " capacity",
    )
    if taken > 0.0:
        share = stored / taken
        outcome = "all of it does" if share > 1.0 else "not all of it does"
        yield Finding(
            SECTION,
            "soak_back_ratio",
            "stop: ratio of the two; above 1, coolant that stands still boils in the slots",
            share,
            "-",
            "lumped_wall",
            None,
            f"no heat leaves by other ways: {outcome} where coolant is not followed by a purge",
        )
    sweep = mass / float(run.totals["coolant_mass_flow_kg_s"])
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


def _boiling(prepared: Prepared, s: Mapping[str, Array]) -> str:
    low = bool(np.any(s["p_coolant_Pa"] < prepared.coolant.p_critical))
    high = bool(np.any(s["p_coolant_Pa"] >= prepared.coolant.p_critical))
    words = ["boils"] * low + ["turns gas-like"] * high
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
    heat = _heat_flow(prepared, s)
    if not heat.rows.any():
        note = "no heat flows into the coolant anywhere: nothing to wait for"
        return Finding(SECTION, name, text, None, "s", "lumped_wall", None, note)
    constant = metal.above(s["T_coolant_K"]) / heat.into_slot
    ratio = np.maximum((s["T_wall_hot_K"] - T_in) / (T_boil - T_in), 1.0)
    wait = _longest(s, constant * np.log(ratio), heat.rows)
    longest = wait.value or 0.0
    note = (
        f"one sweep, {_said(sweep)}, and {_said(longest)} until the hottest metal is below"
        " where the coolant boils or turns gas-like, at the running flow with coolant as it enters."
        " A gas purge cools less and needs longer; an estimate: confirm it on the stand"
    )
    note = _joined(note, heat.note)
    return Finding(SECTION, name, text, sweep + longest, "s", "lumped_wall", wait.x, note)
