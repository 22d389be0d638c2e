"""Start and stop of a firing: a dry hot wall, time constants, heat soaked back, purge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from regen.checks.coolant import looked_up
from regen.checks.findings import Table, joined, peak, text
from regen.checks.runs import Run
from regen.checks.stations import peak_of
from regen.checks.strength.structure import jacket_temperature, mean_land
from regen.checks.thermal_limits import working_limit
from regen.design import Design
from regen.errors import RangeError
from regen.gas.flux import surface_flux
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition, span
from regen.physics import arrays as A
from regen.physics import lookups
from regen.physics.march import gas_at
from regen.result import Array, Finding, Mask
from regen.solver.prepare import Prepared

START_STOP = Table("start and stop")

_EARLY = 0.05
"""Fourier number below which a slab is still a half-space, within 1e-8 of its rise [-]."""
_TERMS = np.arange(1, 9)[:, None]
_NEWTON_STEPS = 30


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
    liner = metals.liner(design)
    cosine = np.cos(slots.slope_angle)
    T_wall = 0.5 * (s["T_wall_hot_mean_K"] + s["T_wall_cold_K"])
    T_land, T_end = _land_temperature(design, liner, run), jacket_temperature(design, liner, run)
    layers: list[tuple[AlloyCondition, Array, Array | float, Array | float, Array]] = [
        (liner, slots.r, slots.wall, 0.0, T_wall),
        (liner, slots.floor_radius, slots.depth, slots.width * slots.depth, T_land),
    ]
    roof = slots.floor_radius + slots.depth * cosine
    for metal, thickness in metals.closeout(design):
        if thickness > 0.0:
            layers.append((metal, roof, thickness, 0.0, T_end))
        roof = roof + thickness * cosine
    capacity = []
    for metal, inner, thick, slot, T in layers:
        ring = 2.0 * np.pi * (inner + 0.5 * thick * cosine) * thick / slots.count
        capacity.append(heat_capacity(metal, T) * (ring - slot))
    held = {
        str(metal): held_capacity(metal, np.stack([T for m, _, _, _, T in layers if m is metal]))
        for metal, *_ in layers
    }
    return _Slot(np.stack(capacity), np.stack([T for *_, T in layers]), joined(*held.values()))


def _land_temperature(design: Design, liner: AlloyCondition, run: Run) -> Array:
    """Return the mean over the height of a land, as ``jacket_temperature`` has it (rows,) [K]."""
    s = run.stations
    bulk, land, h = s["T_coolant_K"], mean_land(run), s["h_coolant_W_m2K"]
    rise = s["T_wall_cold_K"] - bulk
    k = _conductivity(design, liner, bulk + 0.5 * rise)
    m = np.sqrt(2.0 * h / (k * land))
    md, roof = m * s["channel_depth_m"], h * s["channel_width_m"] / (k * m * land)
    whole = np.sinh(md) + roof * (np.cosh(md) - 1.0)
    return np.asarray(bulk + rise * whole / (md * (np.cosh(md) + roof * np.sinh(md))))


def findings(prepared: Prepared, run: Run) -> tuple[Finding, ...]:
    """Return what can be reported of start and stop of the nominal channel.

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
    parts = {
        "dry_wall_time_to_limit": _dry_wall,
        "wall_time_constant": _time_constants,
        "purge_time": _stop,
    }
    result: list[Finding] = []
    for name, part in parts.items():
        try:
            result += part(prepared, run)
        except RangeError as error:
            result.append(START_STOP.finding(name, note=str(error)))
    return tuple(result)


class _HeatFlow(NamedTuple):
    """Rows with heat into the coolant, its flow into one slot (rows,) [W/m], and what is left out.

    The flow is 1 where there is none, for quotients that are not asked for there.
    """

    rows: Mask
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
    start, fluxes = prepared.design.life.start_temperature, []
    for n, path in enumerate(prepared.paths):
        gas = A.GasStations(*(values[n : n + 1] for values in prepared.gas))
        core, stagnation = np.empty(gas.core.shape[2:]), np.empty(A.N_STAGNATION)
        gas_at(gas, 0, float(prepared.run["h0"][n]), core, stagnation)
        r = path.flowing("r")
        surface = np.full(r.shape, start)
        fluxes.append(surface_flux(gas, core, stagnation, prepared.design.models, r, surface))
    return prepared.rows.joined(fluxes)


def _dry_wall(prepared: Prepared, run: Run) -> Iterator[Finding]:
    """Yield how long a hot wall lasts that the gas meets without coolant."""
    s, design, liner = run.stations, prepared.design, metals.liner(prepared.design)
    start = design.life.start_temperature
    q = ignition_flux(prepared)
    top, x_top = peak_of(prepared, q)
    heated = q > 0.0
    if not heated.any():
        cold = f"the film is nowhere hotter than a wall of {start:.0f} K: none"
        yield START_STOP.finding("ignition_flux", note=cold)
        return
    film = ", with the film of the case" if design.film is not None else ""
    yield START_STOP.finding("ignition_flux", float(top), float(x_top), start=start, film=film)
    q, x, wall = q[heated], s["x_m"][heated], s["wall_m"][heated]
    targets = (
        ("limit", "working limit", working_limit(design, liner), "give limits.T_wall_hot"),
        ("solidus", "solidus", liner.alloy.solidus, "no solidus is tabulated"),
    )
    for target, what, fact, missing in targets:
        name = f"dry_wall_time_to_{target}"
        if fact is None:
            note = f"its {what} of {liner.alloy.key} is not known: {missing}"
            yield START_STOP.finding(name, note=note)
            continue
        T = fact.value
        middle = np.full(q.shape, 0.5 * (start + T))
        k, rho_cp = _conductivity(design, liner, middle), heat_capacity(liner, middle)
        times = dry_time(q, k, rho_cp, wall, T - start)
        at = int(np.argmin(times))
        half = float(half_space_time(q[at], k[at], rho_cp[at], T - start))
        lump = float(lumped_time(q[at], rho_cp[at], wall[at], T - start))
        bounds = {"half": _time(half), "lump": _time(lump)}
        note = text("finding: dry wall time", T=T, start=start, film=film, **bounds)
        more = held_capacity(liner, middle)
        yield START_STOP.finding(name, float(times[at]), float(x[at]), note, more=more)


def _conductivity(design: Design, liner: AlloyCondition, T: Array) -> Array:
    """Return that of the liner at T [K], with the case's factor, shape of T [W/(m K)]."""
    k = liner.value("thermal_conductivity", T).value
    return np.asarray(k * design.models.conductivity_factor)


def _time(time: float) -> str:
    return f"{1e3 * time:.3g} ms" if time < 1.0 else f"{time:.3g} s"


def _time_constants(prepared: Prepared, run: Run) -> Iterator[Finding]:
    """Yield how fast the wall follows its fluxes."""
    s, liner = run.stations, metals.liner(prepared.design)
    T = 0.5 * (s["T_wall_hot_mean_K"] + s["T_wall_cold_K"])
    rho_cp, k = heat_capacity(liner, T), _conductivity(prepared.design, liner, T)
    x, greatest, across = s["x_m"], START_STOP.greatest, rho_cp * s["wall_m"] ** 2 / k
    yield greatest("wall_crossing_time", across, x, held_capacity(liner, T))
    heat = _heat_flow(prepared, s)
    rise = np.where(heat.rows, s["T_wall_hot_mean_K"] - s["T_coolant_K"], 1.0)
    both = np.where(heat.rows, s["q_W_m2"] / rise + s["h_gas_W_m2K"], 1.0)
    lumped = rho_cp * s["wall_m"] / both
    yield greatest("wall_time_constant", lumped, x, heat.note, among=heat.rows)
    whole = _metal_round_a_slot(prepared, run).above(s["T_coolant_K"]) / heat.into_slot
    yield greatest("structure_time_constant", whole, x, heat.note, among=heat.rows)


def _lengths(prepared: Prepared) -> Array:
    """Return the length of contour (rows,) that each row stands for, of its pass [m]."""
    lengths = []
    for path in prepared.paths:
        step = path.passage.step_gas
        after = np.concatenate([step[1:], [0.0]])
        lengths.append((0.5 * (step + after) * path.share)[path.order])
    return prepared.rows.joined(lengths)


def _boiling_points(prepared: Prepared, T: Array, s: Mapping[str, Array]) -> list[Array]:
    """Return boiling temperature, its enthalpy, enthalpy and density of the coolant (rows,)."""
    return looked_up(lookups.boiling_points, prepared.coolant, 4, T, s["p_coolant_Pa"])


def _stop(prepared: Prepared, run: Run) -> Iterator[Finding]:
    """Yield what happens when flame and coolant stop together, and the least purge."""
    s, slots, length = run.stations, prepared.passage, _lengths(prepared)
    if np.any(s["p_coolant_Pa"] < prepared.design.coolant.may_boil_below):
        note = "no saturation of the coolant is given: when it boils is not known"
        yield START_STOP.finding("purge_time", note=note)
        return
    T_boil, h_boil, h, rho = _boiling_points(prepared, s["T_coolant_K"], s)
    metal = _metal_round_a_slot(prepared, run)
    content = rho * slots.width * slots.depth
    each = length * slots.count
    stored = float(np.sum(metal.above(T_boil) * each))
    taken = float(np.sum(content * np.maximum(h_boil - h, 0.0) * each))
    mass = float(np.sum(content * each))
    below = s["p_coolant_Pa"] < prepared.coolant.p_critical
    boils = " or ".join(["boils"] * bool(below.any()) + ["turns gas-like"] * bool((~below).any()))
    yield START_STOP.finding("stored_heat", stored, more=metal.note, boils=boils)
    yield START_STOP.finding("heat_to_boil", taken, boils=boils)
    if taken > 0.0:
        outcome = "all of it does" if stored / taken > 1.0 else "not all of it does"
        yield START_STOP.finding("soak_back_ratio", stored / taken, outcome=outcome)
    sweep = mass / float(run.totals["coolant_mass_flow_kg_s"])
    yield START_STOP.finding("sweep_time", sweep, grams=mass * 1e3)
    yield _purge(prepared, run, metal, sweep)


def _purge(prepared: Prepared, run: Run, metal: _Slot, sweep: float) -> Finding:
    """Return how long coolant must run on after the flame: once through, and metal cooled."""
    s, T_in = run.stations, prepared.design.coolant.inlet_temperature
    T_boil = _boiling_points(prepared, np.full(s["x_m"].shape, T_in), s)[0]
    heat, note = _heat_flow(prepared, s), ""
    if np.any(T_boil <= T_in):
        note = "the coolant enters warmer than it boils or turns gas-like: nothing to wait for"
    elif not heat.rows.any():
        note = "no heat flows into the coolant anywhere: nothing to wait for"
    if note:
        return START_STOP.finding("purge_time", note=note)
    constant = metal.above(s["T_coolant_K"]) / heat.into_slot
    ratio = np.maximum((s["T_wall_hot_K"] - T_in) / (T_boil - T_in), 1.0)
    wait = peak(constant * np.log(ratio), s["x_m"], heat.rows)
    parts = {"sweep": _time(sweep), "wait": _time(wait.value)}
    return START_STOP.finding("purge_time", sweep + wait.value, wait.x, more=heat.note, **parts)


# --- closed forms of walls that heat up, and the heat that metals hold ---------------------------
def dry_time(q: ArrayLike, k: ArrayLike, rho_cp: ArrayLike, t: ArrayLike, rise: ArrayLike) -> Array:
    """Return when the hot face of a wall without coolant has risen by so much.

    Parameters
    ----------
    q : array_like
        Constant flux into the hot face [W/m2].
    k, rho_cp : array_like
        Conductivity [W/(m K)] and heat capacity by volume [J/(m3 K)].
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


def half_space_time(q: Array, k: Array, rho_cp: Array, rise: Array | float) -> Array:
    """Return when the face of a half-space has risen by so much: never sooner than that of a wall.

    Parameters
    ----------
    q, k, rho_cp, rise : ndarray
        Those of ``dry_time`` [SI].

    Returns
    -------
    ndarray
        (pi/4) k rho_cp (rise/q)^2, broadcast shape [s].
    """
    return np.asarray(np.pi / 4.0 * k * rho_cp * (rise / q) ** 2)


def lumped_time(q: Array, rho_cp: Array, t: Array, rise: Array | float) -> Array:
    """Return when a wall of one temperature has risen by so much: never sooner than a real one.

    Parameters
    ----------
    q, rho_cp, t, rise : ndarray
        Those of ``dry_time`` [SI].

    Returns
    -------
    ndarray
        rho_cp t rise/q, broadcast shape [s].
    """
    return np.asarray(rho_cp * t * rise / q)


def heat_capacity(metal: AlloyCondition, T: Array) -> Array:
    """Return the heat capacity of a metal by volume, shape of T [J/(m3 K)], at T [K].

    Where its table ends before T, that of the nearer end: it rises slowly and steadily with
    temperature, and ``held_capacity`` says so. Raises ``MissingProperty`` without a table.
    """
    table = metal.table("specific_heat")
    return np.asarray(metal.alloy.density.value * np.interp(T, table.T, table.value))


def held_capacity(metal: AlloyCondition, T: Array) -> str:
    """Say where ``heat_capacity`` held the end of its table at T [K], "" where it covers T."""
    table = metal.table("specific_heat")
    if np.all((table.T[0] <= T) & (table.T[-1] >= T)):
        return ""
    held = {"table": span(table.T), "T": span(T)}
    return text("finding: specific heat", metal=metal.alloy.key, **held)
