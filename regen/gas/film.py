"""Film cooling in enthalpy form: a liquid that wets the wall, then a gas that mixes with the core.

The film changes what drives the heat, never the film coefficient's Stanton number, which stays
that of the core. It neither burns nor cracks.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.design import Design, Film
from regen.errors import RangeError
from regen.gas.feeds import feed_enthalpy, species_of, storage_temperature
from regen.gas.flux import surface_flux
from regen.gas.layer import check_injection, layer_nodes, set_adiabatic_wall
from regen.gas.vapour import TEMPERATURES, Vapour, vapour
from regen.geometry.curves import running_integral
from regen.physics import arrays as A
from regen.physics.arrays import Array
from regen.physics.film import R_UNIVERSAL
from regen.result import Note
from regen.texts import text

FAST_SLOT = 1.5
"""Speed in the slot over that of the core above which the film is a jet and no layer [-]."""


class Wall(NamedTuple):
    """Positions, radii and lengths along the contour from the injector face, each (S,) [m]."""

    x: Array
    r: Array
    s: Array


@dataclass(frozen=True)
class FilmReport:
    """Flow, state and effectiveness of a film.

    ``flow`` [kg/s] enters at ``temperature`` [K], where its fluid boils at ``boils_at`` [K] or,
    above its critical pressure, turns gas-like; ``effectiveness`` (S,) at the positions ``x`` (S,)
    [m], 1 where the wall is wet; ``dry_at`` where the liquid ends [m], None for a gas film;
    ``sources`` are keys.
    """

    flow: float
    temperature: float
    boils_at: float
    x: Array
    effectiveness: Array
    dry_at: float | None
    notes: tuple[Note, ...]
    sources: tuple[str, ...]


def with_film(gas: A.GasStations, design: Design, wall: Wall) -> tuple[A.GasStations, FilmReport]:
    """Return the gas with a film on the wall, and the report of the film.

    A liquid holds the wall at its saturation until the heat on its surface, from a gas to a
    surface at saturation, has evaporated all of it; entrainment of droplets and what the vapour
    takes off that heat are left out. From there on, or from the injection of a gas, with eta the
    film's share in the gas beside the wall,

        h_aw = (1 - eta) h_aw,core + eta h_film,    h(T) = (1 - eta) h_core(T) + eta h_vapour(T).

    Where heat returns with the fuel, eta and the wetted length are those of the hottest core.
    """
    film = design.film
    if film is None:
        raise RangeError("film: the section is missing")
    begins = check_injection(film, float(wall.x[0]))
    first = int(np.searchsorted(wall.x, begins - 1e-9))
    fuel = _fuel_flow(design, gas)
    flow = _flow(film, fuel)
    fluid = vapour(film.fluid)
    core = gas.core[0, -1]
    p = float(core[first, A.G_P])
    h_start, T_start = _injected(film, fluid, p, float(gas.core[0, 0, first, A.G_T_AW]))
    T_injected, boils_at = T_start, float(fluid.saturation(p)[0])
    notes: list[Note] = []
    wets = film.state == "liquid" and p < fluid.p_critical
    if film.state == "liquid" and not wets:
        above = text("film above critical", fluid=film.fluid, p=p, critical=fluid.p_critical)
        notes.append(Note("film", above, begins))
    made = A.GasStations(*(v.copy() for v in gas))
    dry = begins
    if wets:
        dry, wet = _wetted(made, design, wall, first, flow, fluid, h_start)
        _wet(made, wet, fluid)
        T_dry, h_dry = fluid.saturation(np.interp(dry, wall.x, core[:, A.G_P]))
        h_start, T_start = float(h_dry), float(T_dry)
    eta = np.where(wall.x < begins - 1e-9, 0.0, 1.0)
    if dry < wall.x[-1]:
        eta = np.where(wall.x >= dry, _effectiveness(film, core, wall, dry, flow), eta)
        _mix(made, np.where(wall.x >= dry, eta, 0.0), fluid, h_start, T_start)
    wet_to = dry if wets else None
    share = flow / fuel
    whole = text("film amount", flow=flow, fluid=film.fluid, share=share)
    if film.fluid == design.propellants.fuel:
        whole += text("film ratio", ratio=design.propellants.mixture_ratio / (1.0 + share))
    if wets and np.isfinite(dry):
        length = np.interp(dry, wall.x, wall.s) - np.interp(begins, wall.x, wall.s)
        whole += text("film wets", length=length, x=dry)
    elif wets:
        whole += text("film wets all")
    if wall.x[-1] >= 0.0:
        whole += text("film at throat", share=np.interp(0.0, wall.x, eta))
    if film.model == "entrainment":
        whole += text("film entrainment", given=film.entrainment)
    notes.append(Note("film", whole, begins))
    if film.slot_height is not None:
        rho = core[first, A.G_P] * species_of(film.fluid).molar_mass / (R_UNIVERSAL * T_start)
        speed = flow / (rho * 2.0 * np.pi * wall.r[first] * film.slot_height)
        if speed > FAST_SLOT * core[first, A.G_U]:
            jet = text("film jet", speed=speed, core=core[first, A.G_U])
            notes.append(Note("film", jet, float(wall.x[first])))
    source = "film_slot" if film.model == "slot" else "film_entrainment"
    sources = (source, "film_liquid") if wets else (source,)
    return made, FilmReport(flow, T_injected, boils_at, wall.x, eta, wet_to, tuple(notes), sources)


def _fuel_flow(design: Design, gas: A.GasStations) -> float:
    """Return the flow of fuel through the injector, propellants as fed [kg/s]."""
    stag = gas.stagnation[0, 0]
    throat = 0.25 * np.pi * stag[A.S_THROAT_DIAMETER] ** 2
    total = stag[A.S_P0] * throat / stag[A.S_CSTAR]
    return float(total / (1.0 + design.propellants.mixture_ratio))


def _flow(film: Film, fuel: float) -> float:
    """Return the film's flow [kg/s]."""
    if film.fuel_fraction is not None:
        return film.fuel_fraction * fuel
    flow = film.mass_flow or 0.0
    if not 0.0 < flow <= fuel:
        raise RangeError(text("film flow", flow=flow, fuel=fuel))
    return flow


def _injected(film: Film, fluid: Vapour, p: float, T_gas: float) -> tuple[float, float]:
    """Return enthalpy [J/kg] and temperature [K] of the film as injected at pressure p [Pa]."""
    usual = storage_temperature(film.fluid, film.state)
    T = usual if film.temperature is None else film.temperature
    if T_gas <= T:
        raise RangeError(text("film hot", fluid=film.fluid, T=T, T_gas=T_gas))
    if p < fluid.p_critical:
        T_sat = float(fluid.saturation(p)[0])
        if (film.state == "liquid") != (T < T_sat):
            side, other = ("below", "gas") if film.state == "liquid" else ("above", "liquid")
            do = f', or film.state = "{other}"' if species_of(film.fluid).gas else ""
            given = {"fluid": film.fluid, "T": T, "state": film.state, "p": p}
            raise RangeError(text("film phase", **given, side=side, T_sat=T_sat, do=do))
    try:
        h = feed_enthalpy(film.fluid, film.state, T, p, fixed=True)
    except RangeError as error:
        raise RangeError(f"film.temperature: {error}") from None
    return h, T


def _wetted(
    gas: A.GasStations,
    design: Design,
    wall: Wall,
    first: int,
    flow: float,
    fluid: Vapour,
    h_injected: float,
) -> tuple[float, NDArray[np.bool_]]:
    """Return where the liquid has evaporated [m], the end if it does not, and the wet rows (S,)."""
    T_sat, h_vapour = fluid.saturation(gas.core[0, -1, :, A.G_P])
    part = slice(first, None)
    q = surface_flux(
        gas._replace(layer=gas.layer[:, part]),
        gas.core[0, -1, part],
        gas.stagnation[0, -1],
        design.models,
        wall.r[part],
        T_sat[part],
    )
    # share of the flow that a length of wall evaporates
    rate = np.maximum(q, 0.0) * 2.0 * np.pi * wall.r[part] / (flow * (h_vapour[part] - h_injected))
    gone = running_integral(rate, np.diff(wall.s[part]))
    dry = float(np.interp(1.0, gone, wall.x[part])) if gone[-1] >= 1.0 else np.inf
    return dry, (wall.x >= wall.x[first]) & (wall.x < dry)


def _wet(gas: A.GasStations, wet: NDArray[np.bool_], fluid: Vapour) -> None:
    """Let saturation of the film drive the heat where the wall is wet; the film takes radiation."""
    core = gas.core[0]
    nodes = layer_nodes(gas)
    for i in np.flatnonzero(wet):
        T, _ = fluid.saturation(core[-1, i, A.G_P])
        h = np.interp(T, nodes, gas.layer[0, i, :, A.LAYER_H])
        set_adiabatic_wall(core[:, i], h, T)
        core[:, i, A.G_RADIATION] = 0.0


def _effectiveness(film: Film, core: Array, wall: Wall, begins: float, flow: float) -> Array:
    """Share of the film in the gas beside the wall (S,), 1 upstream of its beginning."""
    rate = core[:, A.G_RHO] * core[:, A.G_U] * 2.0 * np.pi * wall.r
    along = running_integral(rate, np.diff(wall.s))
    passed = np.maximum(along - np.interp(begins, wall.x, along), 0.0) / flow
    if film.model == "entrainment":
        return entrained(passed, film.entrainment)
    start = int(np.clip(np.searchsorted(wall.x, begins - 1e-9), 0, wall.x.size - 1))
    return slot(passed, flow / (2.0 * np.pi * wall.r[start] * core[start, A.G_MU]))


def entrained(passed: Array, fraction: float) -> Array:
    """Return the film's share eta = m_film/(m_film + fraction int G 2 pi R ds) (S,) [-].

    ``passed`` (S,) is int G 2 pi R ds over the film's flow [-], ``fraction`` the part of the
    passing core flow that mixes in.
    """
    return np.asarray(1.0 / (1.0 + fraction * passed))


def slot(passed: Array, Re_slot: float) -> Array:
    """Return the film's share by the slot correlation of Stollery and El-Ehwany (S,) [-].

    eta = 3.03 (x/(M s))^-0.8 (Re_s mu_s/mu)^0.2, at most 1: the core of the jet. ``passed`` (S,) is
    int G 2 pi R ds over the film's flow, x/(M s) on a plane wall; ``Re_slot`` the film's flow over
    perimeter and viscosity of the core, Re_s mu_s/mu of the source.
    """
    return np.asarray(np.minimum(3.03 * np.maximum(passed, 1e-9) ** -0.8 * Re_slot**0.2, 1.0))


def _mix(gas: A.GasStations, eta: Array, fluid: Vapour, h_start: float, T_start: float) -> None:
    """Mix the film into the gas beside the wall, rows with eta > 0."""
    core = gas.core[0]
    nodes = layer_nodes(gas)
    h_vapour = np.interp(nodes, TEMPERATURES, fluid.h)
    for i in np.flatnonzero(eta > 0.0):
        rows = (1.0 - eta[i]) * gas.layer[0, i, :, A.LAYER_H] + eta[i] * h_vapour
        gas.layer[0, i, :, A.LAYER_H] = rows
        # never below the film itself: vapour of a dense fluid as an ideal gas would be
        least = rows[0] + (T_start - nodes[0]) * (rows[1] - rows[0]) / (nodes[1] - nodes[0])
        least = least if T_start < nodes[0] else float(np.interp(T_start, nodes, rows))
        h_aw = np.maximum((1.0 - eta[i]) * core[:, i, A.G_H_AW] + eta[i] * h_start, least)
        T = np.interp(h_aw, rows, nodes)
        cold = nodes[0] + (h_aw - rows[0]) * (nodes[1] - nodes[0]) / (rows[1] - rows[0])
        set_adiabatic_wall(core[:, i], h_aw, np.where(h_aw < rows[0], cold, T))
