"""Proof test, and the jacket as a shell: temperature, what it carries, how thick it must be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from regen.checks.runs import INJECTOR, Run, Solved, once
from regen.checks.strength.stresses import allowed_with_floor, membrane_stress, von_mises
from regen.design import Design, Limits
from regen.errors import RangeError
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition, span
from regen.result import Array

T_PROOF = 293.15
"""Temperature of the proof test [K]: common practice."""

UNDER = {"channels": ("ligament", "lands", "jacket"), "bore": ("ligament", "jacket")}
"""Parts that each test loads: channels with the bore empty, and the bore alone."""

SETTLED = 12
"""Passes for the thickness a shell needs; each leaves about t/(2 r) of the last miss."""


@dataclass(frozen=True, slots=True, eq=False)
class Proof:
    """Pressures of both tests (...,) [Pa], and the strength cold over hot of each part [-].

    ``ratios`` has the parts whose strength is known in operation, (...,) each, at least 1 and the
    highest along x; ``left_out`` says of the others why not. ``working`` are the highest pressures
    in operation (...,) [Pa], of channels and bore.
    """

    channels: Array
    bore: Array
    ratios: Mapping[str, Array]
    working: Mapping[str, Array]
    left_out: str = ""

    def governs(self, test: str) -> tuple[str, float]:
        """Return the part with the largest ratio in one test of one design, and that ratio [-]."""
        known = {part: float(self.ratios[part]) for part in UNDER[test] if part in self.ratios}
        return max(known.items(), key=lambda pair: -np.inf if np.isnan(pair[1]) else pair[1])


def working(run: Run) -> dict[str, Array]:
    """Return the highest pressures in operation (...,) [Pa], of "channels" and "bore"."""
    s, totals = run.stations, run.totals
    inlet, face = (np.asarray(totals.get(k, 0.0)) for k in ("coolant_pressure_in_Pa", INJECTOR))
    return {
        "channels": np.maximum(s["p_coolant_Pa"].max(axis=-1), inlet),
        "bore": np.maximum(s["p_gas_Pa"].max(axis=-1), face),
    }


def proof(
    limits: Limits, liner: AlloyCondition, jacket: AlloyCondition, run: Run, T_jacket: Array
) -> Proof:
    """Return the pressures of the proof tests of a run.

    Parameters
    ----------
    limits : Limits
        Proof factor.
    liner, jacket : AlloyCondition
        Metals.
    run : Run
        Solved run, or many.
    T_jacket : ndarray
        Temperature of the jacket in operation (..., S) [K].

    Returns
    -------
    Proof
        Factor times the highest working pressure times the largest yield ratio, proof over
        operating, of the parts that the test loads; never less than the factor alone.

    Raises
    ------
    RangeError
        If the liner's yield is not tabulated, unless its ``beyond`` is "nan". A jacket whose hot
        yield is not tabulated is left out and named.

    Notes
    -----
    Source: proof_by_strength. The coolant's highest pressure is that of its inlet plenum, the
    bore's that at the injector face.
    """
    ratios = {
        "ligament": _ratio(liner, run.T_wall),
        "lands": _ratio(liner, run.stations["T_wall_cold_K"]),
    }
    counted, left_out = dict(ratios), ""
    try:
        ratios["jacket"] = _ratio(jacket.quiet, T_jacket)
        if np.isnan(ratios["jacket"]).any():
            left_out = untabulated(jacket, T_jacket)
        # a jacket's ratio that is not known is left out; a liner's makes all unknown
        counted["jacket"] = np.nan_to_num(ratios["jacket"], nan=1.0)
    except RangeError as error:
        left_out = str(error)
    highest = working(run)
    pressures = {}
    for test, parts in UNDER.items():
        loaded = np.stack([counted[part] for part in parts if part in counted])
        pressures[test] = limits.proof_factor * highest[test] * loaded.max(axis=0)
    return Proof(**pressures, ratios=ratios, working=highest, left_out=left_out)


def untabulated(jacket: AlloyCondition, T: Array) -> str:
    """Say that the jacket's yield is not tabulated at its temperatures T [K], and what to do."""
    hot = np.asarray(T)[np.isnan(jacket.quiet.value("yield", T).value)]
    return (
        f"yield of {jacket} at {span(hot)} is not tabulated (its table:"
        f" {span(jacket.table('yield').T)}); give closeout.jacket_yield_strength at that"
        " temperature"
    )


def _ratio(metal: AlloyCondition, T: Array) -> Array:
    """Return yield at the proof test over yield in operation, the largest along x (...,) [-]."""
    cold = float(metal.value("yield", T_PROOF).value)
    return np.asarray(np.maximum((cold / metal.value("yield", T).value).max(axis=-1), 1.0))


def jacket_temperature(design: Design, liner: AlloyCondition, run: Run) -> Array:
    """Return the temperature of the jacket, which is that of the lands' tips.

    Parameters
    ----------
    design : Design
        Layers of the closeout.
    liner : AlloyCondition
        Metal of the lands; they conduct by its table.
    run : Run
        Solved run, or many.

    Returns
    -------
    ndarray
        (..., S) [K].

    Notes
    -----
    A land as a fin from the channel root, of its mean width, wetted on both sides: T_c +
    (T_root - T_c)/(cosh md + c sinh md). Its tip feeds the roof on both sides, fins of half a
    channel each: c = 2 K n tanh(n w/2)/(k m b), K = the layers' conductivity times thickness,
    n^2 = h_roof/K, as the march's own wall form has it. The roof spans less than its own fin
    length, and no heat leaves the outside, so the jacket has about the tip's temperature. Over
    the channel it is colder: for strength this is the safe side.
    """
    s = run.stations
    bulk, w, h = s["T_coolant_K"], s["channel_width_m"], s["h_coolant_W_m2K"]
    rise, land = s["T_wall_cold_K"] - bulk, mean_land(run)
    k = liner.value("thermal_conductivity", bulk + 0.5 * rise).value
    m = np.sqrt(2.0 * h / (k * land))
    along, through = _roof(design, bulk)
    h_roof = 1.0 / (1.0 / h + through)
    n = np.sqrt(h_roof / along)
    tip = 2.0 * along * n * np.tanh(0.5 * n * w) / (k * m * land)
    md = m * s["channel_depth_m"]
    return np.asarray(bulk + rise / (np.cosh(md) + tip * np.sinh(md)))


def _roof(design: Design, T: Array) -> tuple[Array, Array]:
    """Return what the closeout conducts along itself [W/K] and resists across [m2 K/W], at T."""
    along = np.zeros(T.shape)
    for metal, thickness in metals.closeout(design):
        along = along + thickness * metal.value("thermal_conductivity", T).value
    return along, np.asarray(design.closeout.thickness**2 / (3.0 * along))


def mean_land(run: Run) -> Array:
    """Return the land's mean width over the slot's depth (..., S) [m]; slots keep their width."""
    s = run.stations
    pitch = s["channel_width_m"] + s["land_width_m"]
    grown = 0.5 * s["channel_depth_m"] / (s["r_m"] + s["wall_m"])
    return np.asarray(pitch * (1.0 + grown) - s["channel_width_m"])


def cosine(run: Run) -> Array:
    """Return the cosine of the contour's slope at the stations (..., S) [-], from their radii."""
    x, r = run.stations["x_m"], run.stations["r_m"]
    if not x.size:
        return np.ones(r.shape)
    # many designs share their stations; circuits and passes repeat some
    along, first, back = np.unique(x.reshape(-1, x.shape[-1])[0], True, True)
    slope = np.gradient(r[..., first], along, axis=-1)[..., back]
    return np.asarray(1.0 / np.sqrt(1.0 + slope * slope))


def thrust(run: Run, p_injector: Array) -> Array:
    """Return the thrust against vacuum that the stations' wall and the injector take (...,) [N].

    The injector's pressure [Pa] on the bore, and the gas pressure on every ring of wall.
    """
    s = run.stations
    area, p = np.pi * s["r_m"] ** 2, s["p_gas_Pa"]
    rings = np.sum(0.5 * (p[..., 1:] + p[..., :-1]) * np.diff(area, axis=-1), axis=-1)
    return np.asarray(p_injector * area[..., 0] + rings)


@dataclass(frozen=True, slots=True, eq=False)
class Shell:
    """The jacket of a run, arrays (..., S): what its stress comes from, SI.

    ``inside`` is the radius of its inner face along the normal of the contour, ``bore`` that of
    the hot wall, ``F`` the thrust (...,). ``p_coolant`` is the highest that acts on it when the
    lands' bond is lost, ``p_gas`` that in the bore; ``w`` the roof's span, ``t`` the thickness as
    designed.
    """

    T: Array
    inside: Array
    bore: Array
    F: Array
    p_coolant: Array
    p_gas: Array
    w: Array
    t: Array

    def hoop(self, p: Array, t: Array) -> Array:
        """Return the hoop stress from pressure [Pa] at thickness [m], (..., S) [Pa]."""
        return membrane_stress(p, self.inside + 0.5 * t, t)

    def axial(self, p: Array, t: Array) -> Array:
        """Return the axial stress from pressure [Pa] in a closed bore, (..., S) [Pa]."""
        return 0.5 * membrane_stress(p, self.bore, t)

    def axial_thrust(self, t: Array) -> Array:
        """Return the axial stress from the whole thrust at thickness [m], (..., S) [Pa]."""
        return np.asarray(self.F[..., None] / (2.0 * np.pi * (self.inside + 0.5 * t) * t))

    def running(self, t: Array) -> Array:
        """Return the governing membrane stress at start and run, thickness [m], (..., S) [Pa].

        Hoop from the coolant's pressure alone, as if the lands' bond were lost; and with it the
        axial stress of the closed bore plus or less the whole thrust, as von Mises.
        """
        hoop = self.hoop(np.maximum(self.p_coolant, self.p_gas), t)
        axial, thrust = self.axial(self.p_gas, t), self.axial_thrust(t)
        pulled, pushed = von_mises(hoop, axial + thrust), von_mises(hoop, axial - thrust)
        return np.asarray(np.maximum(hoop, np.maximum(pulled, pushed)))

    def proving(self, t: Array, tested: Proof) -> Array:
        """Return the governing membrane stress at proof, thickness [m], (..., S) [Pa]."""
        bore = tested.bore[..., None]
        both = von_mises(self.hoop(bore, t), self.axial(bore, t))
        return np.asarray(np.maximum(self.hoop(tested.channels[..., None], t), both))


@once
def jacket_T(solved: Solved, run: Run) -> Array:
    """Return ``jacket_temperature`` of a run of a solved design (..., S) [K]."""
    return jacket_temperature(solved.design, solved.alloy, run)


@once
def jacket_shell(solved: Solved, run: Run) -> Shell:
    """Return the jacket of a run of a solved design as a shell; lengths in [m]."""
    s, cos, closeout, T = run.stations, cosine(run), solved.design.closeout, jacket_T(solved, run)
    return Shell(
        T=T,
        inside=s["r_m"] / cos + s["wall_m"] + s["channel_depth_m"] + closeout.copper,
        bore=s["r_m"] / cos,
        F=thrust(run, working(run)["bore"]),
        p_coolant=s["p_coolant_Pa"],
        p_gas=s["p_gas_Pa"],
        w=s["channel_width_m"],
        t=np.full(T.shape, closeout.jacket),
    )


@once
def proof_test(solved: Solved, run: Run) -> Proof:
    """Return the proof tests of a run of a solved design."""
    T = jacket_T(solved, run)
    return proof(solved.design.limits, solved.alloy, solved.jacket, run, T)


class Needed(NamedTuple):
    """Least jacket thickness (..., S) [m], NaN where it is not known; and its basis."""

    thickness: Array
    note: str


@once
def jacket_needed(solved: Solved, run: Run) -> Needed:
    """Return the least jacket thickness that keeps every primary check of the jacket.

    Parameters
    ----------
    solved : Solved
        Solved runs with design and liner.
    run : Run
        One of them, or many.

    Returns
    -------
    Needed
        By hoop with the bond lost, hoop and axial together, and bending of the roof; in operation
        against the hot strength where it is known, and at proof against the cold one.

    Notes
    -----
    The roof in closed form. The shell's stress is K/t but for the mean radius, which grows by
    half of t: t is multiplied by stress over allowed until it stands.
    """
    solved = solved.quiet
    metal = solved.jacket
    try:
        made, test = jacket_shell(solved, run), proof_test(solved, run)
        cold = metal.value("yield", T_PROOF).value
    except RangeError as error:
        return Needed(np.full(run.stations["r_m"].shape, np.nan), f"not known: {error}")
    strength = allowed_with_floor(metal, made.T, solved.design)
    hot = np.where(strength.indicative, np.nan, strength.value)
    p_proof = np.broadcast_to(test.channels[..., None], hot.shape)
    t = made.t
    for _ in range(SETTLED):
        t = t * np.fmax(made.running(t) / hot, made.proving(t, test) / cold)
    roof = np.sqrt(0.5 * np.fmax(made.p_coolant / hot, p_proof / cold)) * made.w
    thickness = np.where(np.isnan(p_proof), np.nan, np.maximum(t, roof))
    note = "for run and proof, hot and cold"
    if np.isnan(hot).any():
        note = f"for the proof test alone where {untabulated(metal, made.T)}"
    return Needed(thickness, note)
