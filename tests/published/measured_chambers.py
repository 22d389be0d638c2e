"""A heated tube, a milled cylinder and a nozzle that were measured, and what our forms give there.

The coolant side is taken station by station at the measured, or assumed, bulk and the measured
flux, so that no other part of the program can hide what a form does.
"""

from __future__ import annotations

import csv
import math
import tomllib
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from regen.case.read import load_case
from regen.coolant.table import coolant_table
from regen.design import Design
from regen.gas import flux
from regen.geometry.contour import build_contour
from regen.metals import alloys
from regen.physics import arrays as A
from regen.physics import tables as tb
from regen.physics._dispatch import COOLANT_SIDE, GAS_SIDE
from regen.physics.film import dense_film
from regen.physics.wall import first_mode, wall_form
from regen.solver import bands
from regen.solver.prepare import Prepared, prepare
from regen.solver.solve import MIN_BAND
from tests.published.gas_flux import fluxes

Array = NDArray[np.float64]

HERE = Path(__file__)
DATA: dict[str, Any] = tomllib.loads(HERE.with_suffix(".toml").read_text(encoding="utf-8"))
TUBE, CYLINDER, NOZZLE = DATA["tube"], DATA["cylinder"], DATA["nozzle"]
CASE = HERE.parents[2] / "cases" / "b-hydrogen.toml"
INCH, RANKINE = 25.4e-3, 1.0 / 1.8

FORMS = bands.coolant_side("hydrogen", 3.6, 1.0).members
"""Coolant-side members for hydrogen, the default first."""

LOW = flux.LOW_THROAT
HOTTEST, PLACES = 1500.0, 400
"""Where the search for wall temperatures ends [K], and how many it looks at."""


# --- a form at a state --------------------------------------------------------------------------
@dataclass(frozen=True)
class State:
    """Hydrogen in a passage: bulk [K], pressure [Pa], mass flux [kg/(m2 s)], diameter [m], x/D."""

    T: float
    p: float
    G: float
    D: float
    x_D: float

    def h_coolant(self, form: str, T_wall: float) -> float:
        """Film coefficient [W/(m2 K)] as the march has it."""
        table, p = coolant_table("hydrogen"), self.p
        h, _ = tb.coolant_h(table, self.T, p)
        T, rho, mu, k, cp, _ = tb.coolant_hp(table, h, p)
        stream = A.Stream(
            p, h, T, rho, mu, k, cp, self.G * self.D / mu, mu * cp / k, self.x_D, self.D, 1.0, 0.0
        )
        h_wall, _ = tb.coolant_h(table, T_wall, p)
        T_pc = tb.pseudo_critical_T(table, p)
        bar = tb.isobar(table, p)
        return float(dense_film(COOLANT_SIDE[form], table, bar, stream, h_wall, T_pc)[0])


def hottest_root(miss: Any, low: float) -> float:
    """Return the hottest temperature at which ``miss`` is 0, as the march takes it."""
    places = np.linspace(HOTTEST, low + 1.0, PLACES)
    values = [miss(T) for T in places]
    for a, b, f_a, f_b in zip(places, places[1:], values, values[1:], strict=False):
        if f_a * f_b < 0.0:
            return float(brentq(miss, b, a, xtol=1e-6))
    message = f"no wall between {low:.0f} and {HOTTEST:.0f} K"
    raise AssertionError(message)


# --- the heated tube ----------------------------------------------------------------------------
@dataclass(frozen=True)
class Walls:
    """Positions [m], bulk and wall as measured [K] (12,), and the walls of each form [K]."""

    x: Array
    bulk: Array
    measured: Array
    ours: dict[str, Array]


@cache
def tube() -> Walls:
    with HERE.with_name("hydrogen_tube.csv").open(newline="", encoding="utf-8") as file:
        rows = np.array([[float(v) for v in row.values()] for row in csv.DictReader(file)])
    x, bulk, wall = rows[:, 0] * INCH, rows[:, 1] * RANKINE, rows[:, 2] * RANKINE
    states = [tube_state(*at) for at in zip(x, bulk, strict=True)]
    ours = {form: np.array([tube_wall(state, form) for state in states]) for form in FORMS}
    return Walls(x, bulk, wall, ours)


def tube_state(x: float, bulk: float) -> State:
    D = TUBE["diameter_m"]
    return State(bulk, TUBE["pressure_Pa"], TUBE["mass_flux_kg_m2s"], D, x / D)


def tube_wall(state: State, form: str) -> float:
    """Wall at which a form takes up the measured flux [K]."""
    q = TUBE["flux_W_m2"]
    return hottest_root(lambda T: state.h_coolant(form, T) * (T - state.T) - q, state.T)


def tube_ratio(form: str) -> Array:
    """Film coefficient of a form at the measured wall over the measured one (12,)."""
    at = tube()
    return np.array(
        [
            tube_state(x, T).h_coolant(form, wall) * (wall - T) / TUBE["flux_W_m2"]
            for x, T, wall in zip(at.x, at.bulk, at.measured, strict=True)
        ]
    )


def bare_band(ours: dict[str, Array]) -> tuple[Array, Array]:
    """Return the lowest and the highest wall of all members."""
    walls = np.array([ours[form] for form in FORMS])
    return walls.min(axis=0), walls.max(axis=0)


def floored_band(ours: dict[str, Array], bulk: Array) -> tuple[Array, Array]:
    """Return the band with its floor: wall less coolant at least a quarter about the default's."""
    low, high = bare_band(ours)
    rise = ours[FORMS[0]] - bulk
    return (
        np.minimum(low, bulk + (1.0 - MIN_BAND) * rise),
        np.maximum(high, bulk + (1.0 + MIN_BAND) * rise),
    )


def outside(measured: Array, band: tuple[Array, Array], bulk: Array | float) -> Array:
    """Return by how much measurement lies above a band (+) or below it (-), 0 inside.

    A share of wall less coolant as measured [-].
    """
    low, high = band
    miss = np.maximum(measured - high, 0.0) + np.minimum(measured - low, 0.0)
    return np.asarray(miss / (measured - bulk))


# --- the milled cylinder ------------------------------------------------------------------------
NODES = np.arange(10.0, 1500.0, 10.0)


@cache
def copper() -> Array:
    return np.asarray(alloys.find("Cu-OFHC", "annealed").conductivity_grid(NODES))


def closeout_conductivity() -> float:
    """Of electroformed copper and nickel side by side, 390 and 90 W/(m K)."""
    thick, jacket = CYLINDER["copper_m"], CYLINDER["nickel_m"]
    return float((390.0 * thick + 90.0 * jacket) / (thick + jacket))


@cache
def cylinder_wall(form: str, slots: int, bulk: int) -> float:
    """Hottest hot-gas-side wall at the throat [K] with the calorimeter's gas."""
    row, at = CYLINDER["slots"][slots], CYLINDER["bulk"][bulk]
    count, d, w, wall = row["count"], row["depth_m"], row["width_m"], CYLINDER["wall_m"]
    D = 2.0 * w * d / (w + d)
    G = CYLINDER["mass_flow_kg_s"] / (count * w * d)
    state = State(at["T_K"], at["p_Pa"], G, D, CYLINDER["from_inlet_m"] / D)
    h_gas = CYLINDER["h_gas_W_m2K"]
    T_aw = CYLINDER["calorimeter_K"] + CYLINDER["flux_W_m2"] / h_gas
    r = 0.5 * CYLINDER["bore_m"]
    land, ratio = 2.0 * math.pi * (r + wall) / count - w, r / (r + wall)
    thick = CYLINDER["copper_m"] + CYLINDER["nickel_m"]
    through = wall * (1.0 + 0.5 * (1.0 / ratio - 1.0))

    def pitch(T: float) -> tuple[float, float]:
        """Flux the gas gives less what the root takes [W/m2]; the hottest wall [K]."""
        h_c = state.h_coolant(form, T)
        rise, land_mean, spread, q = 50.0, 0.5, 0.0, 0.0
        for _ in range(30):
            k_w = np.interp(T + 0.5 * rise, NODES, copper())
            k_l = np.interp(state.T + land_mean * (T - state.T), NODES, copper())
            h_eff, spread, _, land_mean = wall_form(
                first_mode(w, land, wall), w, land, d, thick, math.pi / count,
                k_w, k_l, closeout_conductivity(), h_c, h_c, h_gas,
            )  # fmt: skip
            q = h_eff * (T - state.T)
            rise = q * through / k_w
        return h_gas * (T_aw - T - rise) * ratio - q, T + rise + spread * (T - state.T)

    return pitch(hottest_root(lambda T: pitch(T)[0], state.T))[1]


@cache
def cylinder() -> dict[str, Array]:
    """Hot walls of each form (2 sets of slots, 3 bulk states) [K]."""
    return {
        form: np.array(
            [[cylinder_wall(form, n, b) for b in range(3)] for n in range(len(CYLINDER["slots"]))]
        )
        for form in FORMS
    }


def cylinder_bulk() -> Array:
    return np.array([row["T_K"] for row in CYLINDER["bulk"]])


def cylinder_measured() -> Array:
    """Inferred hot walls (2, 1) [K]."""
    return np.array([[row["wall_K"]] for row in CYLINDER["slots"]])


# --- the gas side -------------------------------------------------------------------------------
def _hydrogen(*overrides: str) -> Design:
    """Case B's propellants without what its coolant brings back, all burnt."""
    given = ("coolant.returns_to_injector=false", "chamber.combustion_efficiency=1.0")
    return load_case(CASE, [*given, 'coolant.mass_flow="0.1 kg/s"', *overrides]).design


@cache
def cylinder_flux() -> dict[str, float]:
    """Flux of each form over the calorimeter's: a round throat of the annulus' diameter [-].

    The curvature of the centre body is not known; the contour's usual one stands in. The
    boundary layer is that of a plate of half the cylinder's length.
    """
    D = 1e3 * (CYLINDER["bore_m"] - CYLINDER["body_m"])
    bore, body = CYLINDER["bore_m"], CYLINDER["body_m"]
    design = _hydrogen(
        f"chamber.pressure={CYLINDER['chamber_Pa'] / 1e6:g} MPa", "chamber.pressure_at=nozzle",
        f"propellants.mixture_ratio={CYLINDER['mixture_ratio']}",
        f"contour.throat_diameter={D:g} mm",
        f"contour.contraction_ratio={bore**2 / (bore**2 - body**2):.3f}", "contour.area_ratio=3.0",
        "channels.count=10", "channels.width=0.9 mm", "channels.depth=1 mm",
    )  # fmt: skip
    prepared = prepare(design)
    at = int(np.argmin(prepared.geometry.r[0]))
    return {
        form: float(flux[at]) / CYLINDER["flux_W_m2"]
        for form, flux in _flux(prepared, CYLINDER["calorimeter_K"], 76.2e-3).items()
    }


def _flux(prepared: Prepared, T_wall: float, x_eff: Array | float) -> dict[str, Array]:
    """Flux of each gas-side member along the contour, in flow order [W/m2]."""
    D = 2.0 * prepared.geometry.r[0]
    found = {form: fluxes(prepared.gas, form, D, T_wall, x_eff) for form in GAS_SIDE}
    base, factor = flux.correlation_of(LOW)
    barrel = prepared.gas.core[0, 0, :, A.G_BARREL]
    return {**found, LOW: found[base] * (factor + (1.0 - factor) * barrel)}


@cache
def nozzle_prepared() -> Prepared:
    design = _hydrogen(
        f"chamber.pressure={NOZZLE['pressure_psi']:g} psi",
        f"propellants.mixture_ratio={NOZZLE['mixture_ratio']}",
        f"contour.throat_diameter={NOZZLE['throat_in'] * 25.4:g} mm",
        f"contour.contraction_ratio={NOZZLE['contraction_ratio']}", "contour.area_ratio=4.0",
        "channels.width=0.9 mm", "channels.depth=4 mm",
    )  # fmt: skip
    shape, r = design.contour, 0.5 * NOZZLE["throat_in"] * INCH
    shape = replace(shape, characteristic_length=None, barrel_length=0.1)
    short = -build_contour(shape, r).x_injector
    length = 0.1 + NOZZLE["face_to_throat_in"] * INCH - short
    return prepare(replace(design, contour=replace(shape, barrel_length=length)))


@cache
def nozzle_constants() -> dict[str, dict[str, float]]:
    """C of each gas-side member at the four places, by the flux per driving enthalpy."""
    prepared, T_wall = nozzle_prepared(), NOZZLE["wall_K"]
    core, layer = prepared.gas.core[0, 0], prepared.gas.layer[0]
    T_nodes = prepared.gas.layer_T[0, 0] + prepared.gas.layer_T[0, 1] * np.arange(layer.shape[1])
    rows = range(core.shape[0])
    h_w = np.array([np.interp(T_wall, T_nodes, layer[i, :, A.LAYER_H]) for i in rows])
    h_ref = 0.5 * (h_w + core[:, A.G_H]) + 0.22 * (core[:, A.G_H_AW] - core[:, A.G_H])

    def starred(along: Array) -> Array:
        """At the reference enthalpy, from values (S, N) at the nodes."""
        return np.array([np.interp(h_ref[i], layer[i, :, A.LAYER_H], along[i]) for i in rows])

    T = starred(np.broadcast_to(T_nodes, layer.shape[:2]))
    fields = A.LAYER_MU, A.LAYER_K, A.LAYER_CP, A.LAYER_MOLAR_MASS
    mu, k, cp, molar = (starred(layer[:, :, field]) for field in fields)
    G = core[:, A.G_P] * molar / (8.314462618 * T) * core[:, A.G_U]
    D = 2.0 * prepared.geometry.r[0]
    per_flux = (mu * cp / k) ** 0.7 * (G * D / mu) ** 0.2 / (G * (core[:, A.G_H_AW] - h_w))
    at = _places(prepared)
    return {
        form: {place: float(flux[i] * per_flux[i]) for place, i in at.items()}
        for form, flux in _flux(prepared, T_wall, core[:, A.G_X_EFF]).items()
    }


def _places(prepared: Prepared) -> dict[str, int]:
    """Return the stations taken for the four places: the barrel's is its middle."""
    x, core = prepared.paths[0].flowing("x"), prepared.gas.core[0, 0]
    barrel = np.flatnonzero(core[:, A.G_BARREL] > 1.0 - 1e-6)
    miss = np.abs(core[:, A.G_AREA_RATIO] - NOZZLE["area_ratio_stations"])
    return {
        "barrel": int(barrel[np.argmin(np.abs(x[barrel] - x[barrel].mean()))]),
        "convergent": int(np.argmin(np.where(x < 0.0, miss, np.inf))),
        "throat": int(np.argmin(prepared.geometry.r[0])),
        "downstream": int(np.argmin(np.where(x > 0.0, miss, np.inf))),
    }
