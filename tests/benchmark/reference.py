"""The same march as anybody would write it by hand: high-level property calls and root finders.

It shares the stations, the hot gas at the stations and the trapezoid with `regen`, and nothing
else: properties come straight from CoolProp, correlations and wall form are typed again from
their sources, and every balance is a bracketed root of scipy. Slow and plain on purpose.

Sources: Bartz 1957 (gas side); Gnielinski 1976, Miller 1965, Krasnoshchekov and Protopopov 1959
(coolant side); Colebrook 1939 and Jones 1976 (friction), Ito 1959 and Niino 1982 (bends, counted
where they hurt), as named in regen/data/sources.toml.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import copysign, cosh, exp, log, log10, pi, sin, sinh, sqrt, tanh
from typing import Any

import numpy as np
from CoolProp.CoolProp import PropsSI
from scipy.optimize import brentq

from regen.coolant.table import COOLANTS
from regen.physics import arrays as A
from regen.solver.models import chosen_models
from regen.solver.prepare import Prepared

ROOT: dict[str, Any] = {"xtol": 1e-9, "rtol": 1e-9}


@dataclass
class Fluid:
    """Coolant through single property calls."""

    name: str

    def at(self, output: str, h: float, p: float) -> float:
        return float(PropsSI(output, "H", h, "P", p, self.name))

    def state(self, h: float, p: float) -> dict[str, float]:
        names = {"T": "T", "rho": "D", "mu": "V", "k": "L", "cp": "C"}
        return {name: self.at(output, h, p) for name, output in names.items()}

    def warmed(self, b: dict[str, float], w: dict[str, float], p: float) -> dict[str, float]:
        """Return the state at the mean of bulk and wall temperature."""
        h = float(PropsSI("H", "T", 0.5 * (b["T"] + w["T"]), "P", p, self.name))
        return self.state(h, p)


def miller(b: dict[str, float], w: dict[str, float], f: dict[str, float], Re: float) -> float:
    Re_f = Re * f["rho"] / b["rho"] * b["mu"] / f["mu"]
    nu_ratio = w["mu"] / w["rho"] / (b["mu"] / b["rho"])
    Pr_f = f["mu"] * f["cp"] / f["k"]
    return 0.0204 * Re_f**0.8 * Pr_f**0.4 * (1 + 0.00983 * nu_ratio) * f["k"] / b["k"]


def gnielinski(b: dict[str, float], w: dict[str, float], f: object, Re: float) -> float:
    Pr, Pr_w = (s["mu"] * s["cp"] / s["k"] for s in (b, w))
    f8 = (0.79 * log(Re) - 1.64) ** -2 / 8
    nu = f8 * (Re - 1000) * Pr / (1 + 12.7 * sqrt(f8) * (Pr ** (2 / 3) - 1))
    return float(nu * (Pr / Pr_w) ** 0.11)


def krasnoshchekov_protopopov(
    b: dict[str, float], w: dict[str, float], f: object, Re: float
) -> float:
    Pr = b["mu"] * b["cp"] / b["k"]
    f8 = (0.79 * log(Re) - 1.64) ** -2 / 8
    c = 1.07 + 900 / Re - 0.63 / (1 + 10 * Pr)
    nu = f8 * Re * Pr / (c + 12.7 * sqrt(f8) * (Pr ** (2 / 3) - 1))
    cp_mean = (w["h"] - b["h"]) / (w["T"] - b["T"]) if w["T"] - b["T"] > 1e-3 else b["cp"]
    ratios = (b["mu"] / w["mu"]) ** 0.11 * (b["k"] / w["k"]) ** -0.33
    return float(nu * ratios * (cp_mean / b["cp"]) ** 0.35)


NUSSELT = {
    "miller": miller,
    "gnielinski": gnielinski,
    "krasnoshchekov_protopopov": krasnoshchekov_protopopov,
}


def colebrook(Re: float, roughness: float) -> float:
    def miss(f: float) -> float:
        return 1 / sqrt(f) + 2 * log10(roughness / 3.7 + 2.51 / (Re * sqrt(f)))

    return float(brentq(miss, 1e-3, 0.5, **ROOT))


def bend_exponent(before: float, Re: float, Dh: float, curvature: float, ds: float) -> float:
    """Return the logarithm of the bend's factor on heat, grown over 15 diameters, within 1.4."""
    strength = Re * (0.5 * Dh * curvature) ** 2
    long = copysign(0.05 * log(strength), curvature) if strength > 6 else 0.0
    long = min(max(long, -log(1.4)), log(1.4))
    return long + (before - long) * exp(-ds / (15 * Dh))


def bartz(core: Any, stag: Any, T_w: float) -> float:
    D, rc = stag[A.S_THROAT_DIAMETER], stag[A.S_THROAT_CURVATURE]
    rise = 1 + 0.5 * (stag[A.S_GAMMA] - 1) * core[A.G_MACH] ** 2
    sigma = (0.5 * T_w / stag[A.S_T0] * rise + 0.5) ** -0.68 * rise**-0.12
    transport = stag[A.S_MU] ** 0.2 * stag[A.S_CP] / stag[A.S_PR] ** 0.6
    flow = (stag[A.S_P0] / stag[A.S_CSTAR]) ** 0.8
    return float(
        0.026 / D**0.2 * transport * flow * (D / rc) ** 0.1 / core[A.G_AREA_RATIO] ** 0.9 * sigma
    )


def pitch(w, t, d, tw, tc, taper, kw, kl, kc, hc, hg):
    """Coefficient of one pitch at the root, spread of the hot wall, mean excess of the land."""
    m0 = sqrt(2 * hc / (kl * t))
    tl = t + taper * tanh(m0 * d) / m0
    h1 = 1 / (1 / hc + tl / (6 * kl))
    h2 = 1 / (1 / hc + tc / (3 * kc))
    m, mc = sqrt(2 * h1 / (kl * tl)), sqrt(h2 / (kc * tc))
    g = 2 * kc * tc * mc * tanh(mc * w / 2) / (kl * m * tl)
    hf = kl * m * (tanh(m * d) + g) / (1 + g * tanh(m * d)) * tl / t
    P, a = (w + t) / 2, w / 2
    b = pi / P
    H00 = hc * a + hf * (P - a)
    H01 = (hc - hf) * sin(b * a) / b
    H11 = hc * (a / 2 + sin(2 * b * a) / (4 * b)) + hf * ((P - a) / 2 - sin(2 * b * a) / (4 * b))
    phi = cosh(b * tw) + hg / (kw * b) * sinh(b * tw)
    psi = kw * b * sinh(b * tw) + hg * cosh(b * tw)
    D = psi * P / 2 + H11 * phi
    return (H00 - H01**2 * phi / D) / P, abs(H01 / D), tanh(m0 * d) / (m0 * d)


@dataclass
class Station:
    """One pitch of wall between gas and coolant."""

    prepared: Prepared
    i: int
    p: float
    bulk: dict[str, float]
    Re: float
    bend: float

    def conductivity(self, table: Any, T: float) -> float:
        T_0, step = self.prepared.walls.T
        return float(np.interp(T, T_0 + step * np.arange(table.size), table))

    def balance(self, T_w: float) -> tuple[float, float, float]:
        """Return flux the gas gives less flux the root takes [W/m2], gas flux, hottest wall."""
        walls, i, b = self.prepared.walls, self.i, self.bulk
        g = {name: float(array[0, i]) for name, array in self.prepared.geometry._asdict().items()}
        core, stag = self.prepared.gas.core[0, 0, i], self.prepared.gas.stagnation[0, 0]
        fluid = Fluid(COOLANTS[self.prepared.design.coolant.fluid])
        h_w = float(PropsSI("H", "T", T_w, "P", self.p, fluid.name))
        wall = {**fluid.state(h_w, self.p), "T": T_w, "h": h_w}
        w, d = g["width"], g["depth"]
        name = chosen_models(self.prepared)["coolant_side"]
        film = fluid.warmed(b, wall, self.p) if name == "miller" else wall
        nu = NUSSELT[name](b, wall, film, self.Re)
        h_c = self.bend * nu * b["k"] * (w + d) / (2 * w * d)
        t = 2 * pi * g["floor_radius"] / g["slots"] - w
        ratio = g["r"] / g["floor_radius"]
        drop = g["wall"] * (1 + 0.5 * (1 / ratio - 1))
        taper = pi / g["slots"] * g["cos_slope"]
        k_c = self.conductivity(walls.closeout[0], b["T"])
        rise, land, h_gas = 50.0, 0.5, 5e3
        for _ in range(60):
            k_w = self.conductivity(walls.liner[0], T_w + 0.5 * rise)
            k_l = self.conductivity(walls.liner[0], b["T"] + land * (T_w - b["T"]))
            h_eff, spread, land = pitch(
                w, t, d, g["wall"], g["closeout"], taper, k_w, k_l, k_c, h_c, h_gas
            )
            q_root = h_eff * (T_w - b["T"])
            before, rise = rise, q_root * drop / k_w
            h_gas = bartz(core, stag, T_w + rise)
            if abs(rise - before) < 1e-9 * rise:
                break
        q = h_gas * (core[A.G_T_AW] - T_w - rise)
        return q * ratio - q_root, q, T_w + rise + spread * (T_w - b["T"])

    def solve(self) -> tuple[float, float, float]:
        """Return gas flux [W/m2], hottest wall and wall at the root [K]."""
        top = 1.4 * float(PropsSI("TMAX", COOLANTS[self.prepared.design.coolant.fluid]))
        core = self.prepared.gas.core[0, 0, self.i]
        root = brentq(
            lambda T: self.balance(T)[0],
            self.bulk["T"] + 1e-3,
            min(core[A.G_T_AW], top),
            **ROOT,
        )
        _, q, T_hot = self.balance(root)
        return q, T_hot, root


def heated(fluid: Fluid, b: dict[str, float], T_w: float, p: float) -> float:
    """Return friction over isothermal friction, (rho_w/rho_b)^0.4 (mu_w/mu_b)^0.2."""
    rho, mu = (float(PropsSI(name, "T", T_w, "P", p, fluid.name)) for name in "DV")
    return float((rho / b["rho"]) ** 0.4 * (mu / b["mu"]) ** 0.2)


def pressure(start: float, momentum: float, before: float, v: float) -> float:
    """Return the static pressure at velocity v."""
    return start - momentum * v + before


def velocity(fluid: Fluid, h_t: float, G: float, pressure: Callable[[float], float]) -> float:
    """Return the velocity of continuity where static pressure and enthalpy depend on it."""
    guess = G / fluid.at("D", h_t, pressure(0.0))
    return float(
        brentq(
            lambda v: v - G / fluid.at("D", h_t - 0.5 * v * v, pressure(v)),
            0.5 * guess,
            1.5 * guess,
            **ROOT,
        )
    )


def march(prepared: Prepared) -> tuple[np.ndarray, float]:
    """March the nominal design once at its own total enthalpy, inlet pressure given.

    Returns station rows (S, 4): hottest wall [K], coolant temperature [K], coolant pressure
    [Pa], heat flux [W/m2]; and the outlet plenum's pressure [Pa].
    """
    run, geometry = prepared.run[0], prepared.geometry
    fluid = Fluid(COOLANTS[prepared.design.coolant.fluid])
    stag = prepared.gas.stagnation[0, 0]
    flow = run["mass_flow"]
    if run["fuel_share"] > 0:
        throat = pi / 4 * stag[A.S_THROAT_DIAMETER] ** 2
        flow = run["fuel_share"] * stag[A.S_P0] * throat / stag[A.S_CSTAR]
    p = run["pressure"]
    h_t = float(PropsSI("H", "T", run["inlet_temperature"], "P", p, fluid.name))
    rows = np.zeros((geometry.r.shape[1], 4))
    u = G = fr = line = turn = 0.0
    for i, row in enumerate(rows):
        w, d = geometry.width[0, i], geometry.depth[0, i]
        Dh, aspect = 2 * w * d / (w + d), min(w, d) / max(w, d)
        Re_scale = 2 / 3 + 11 / 24 * aspect * (2 - aspect)
        ds, half = geometry.step_passage[0, i], 0.5 * geometry.step_gas[0, i] / flow
        G_old, G = G, flow / (geometry.slots[0, i] * w * d)

        # an entry from a plenum at rest first, then momentum along the passage
        entry, momentum = (1 + run["inlet_loss"], 0.0) if i == 0 else (0.0, 0.5 * (G + G_old))
        at = partial(pressure, p - fr * ds, 0.5 * entry * G + momentum, momentum * u)
        h_new = h_t + 2 * half * line
        u_old, u = u, velocity(fluid, h_new, G, at)
        h = h_new - 0.5 * u * u
        bulk = {**fluid.state(h, at(u)), "h": h}
        Re = G * Dh / bulk["mu"]
        turn = bend_exponent(turn, Re, Dh, geometry.bend[0, i], ds)
        q, T_hot, T_w = Station(prepared, i, at(u), bulk, Re, exp(min(turn, 0.0))).solve()
        line_old, line = line, q * 2 * pi * geometry.r[0, i]
        fr_old = fr
        f = exp(abs(turn)) * colebrook(Re_scale * Re, run["roughness"] / Dh)
        if chosen_models(prepared)["friction"] == "heated_wall":
            f *= heated(fluid, bulk, T_w, at(u))
        fr = f * G * u / (2 * Dh)
        if i > 0:
            h_t += half * (line_old + line)
            at = partial(pressure, p - 0.5 * (fr_old + fr) * ds, momentum, momentum * u_old)
            u = velocity(fluid, h_t, G, at)
        p = at(u)
        row[:] = T_hot, fluid.at("T", h_t - 0.5 * u * u, p), p, q
    return rows, p + 0.5 * (1 - run["outlet_loss"]) * G * u
