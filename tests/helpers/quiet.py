"""A quiet design of three stations, far from every limit: what tests of limits start from."""

from __future__ import annotations

import numpy as np

from regen.checks.coolant import CoolantFacts, Saturation, State
from regen.checks.limits import margins
from regen.checks.runs import INJECTOR, Run, Solved
from regen.design import (
    Chamber,
    Channels,
    Closeout,
    ContourShape,
    Coolant,
    Design,
    Limits,
    Liner,
    Profile,
    Propellants,
)
from regen.metals.alloys import find

BAR = 1e5
STEEL = Closeout(0.0, 6e-3, "316L", "annealed-minimum", "HIP-bonded")
"""A jacket whose strength is tabulated hot and cold."""
# A made-up coolant: critical at 46 bar, boiling at 180 K, properties to 600 K.
SATURATION = Saturation(180.0, 2e5, 5e5, 300.0, 60.0, 2e-3)


def facts(fluid="methane", T_max=600.0):
    return CoolantFacts(
        fluid=fluid,
        p_critical=46 * BAR,
        T_max=T_max,
        saturation=lambda p: SATURATION,
        state=lambda T, p: State(2e5 + 3000.0 * (T - 180.0), 400.0),
    )


def stations(**columns):
    """Three quiet stations; the first is the coolant's outlet."""
    base = {
        "x_m": [-0.10, 0.0, 0.05],
        "r_m": [0.046, 0.019, 0.032],
        "h_coolant_W_m2K": [20e3, 60e3, 40e3],
        "T_wall_hot_K": [600.0, 700.0, 500.0],
        "T_wall_cold_K": [450.0, 500.0, 400.0],
        "T_wall_floor_K": [440.0, 490.0, 398.0],
        "T_coolant_K": [300.0, 200.0, 150.0],
        "p_coolant_Pa": [80 * BAR, 85 * BAR, 90 * BAR],
        "p_gas_Pa": [30 * BAR, 17 * BAR, 2 * BAR],
        "q_W_m2": [15e6, 40e6, 5e6],
        "q_wetted_W_m2": [10e6, 25e6, 3e6],
        "v_coolant_m_s": [20.0, 25.0, 10.0],
        "channel_width_m": [0.8e-3, 0.8e-3, 0.8e-3],
        "channel_depth_m": [1.6e-3, 2.0e-3, 2.0e-3],
        "land_width_m": [1.6e-3, 0.8e-3, 1.2e-3],
        "wall_m": [0.8e-3, 0.8e-3, 0.8e-3],
        "passage_length_m": [0.15, 0.05, 0.0],
        "circuit": [1.0, 1.0, 1.0],
        "mach_coolant": [0.05, 0.07, 0.02],
    }
    return {k: np.array(columns.get(k, v), dtype=np.float64) for k, v in base.items()}


def run(totals=None, **columns):
    s = stations(**columns)
    base = {
        "T_wall_hot_max_K": float(s["T_wall_hot_K"].max()),
        "q_max_W_m2": float(s["q_W_m2"].max()),
        "coolant_pressure_in_Pa": 90 * BAR,
        "coolant_pressure_out_Pa": 75 * BAR,
        INJECTOR: 30 * BAR,
    }
    return Run(s, {**base, **(totals or {})})


def solved(alloy="Cu-Cr-Zr", condition="solution-annealed-aged", fluid="methane", **parts):
    columns = {name: parts.pop(name) for name in ("band", "worst") if name in parts}
    columns = {n: one if isinstance(one, tuple) else (one,) for n, one in columns.items()}
    design = Design(
        title="Linnet test",
        propellants=Propellants("oxygen", "methane", 3.0),
        chamber=Chamber(30 * BAR),
        contour=ContourShape(6.0, 5.0, throat_diameter=0.038, barrel_length=0.1),
        liner=Liner(alloy, condition, Profile.constant(0.8e-3)),
        channels=Channels(80, Profile.constant(0.8e-3), Profile.constant(1.6e-3), 3e-6),
        coolant=Coolant(
            parts.pop("coolant", "methane"), 120.0, feeds_injector=parts.pop("feeds", True)
        ),
        closeout=parts.pop("closeout", STEEL),
        limits=Limits(**parts.pop("limits", {})),
    )
    return Solved(
        design=design,
        alloy=find(alloy, condition),
        coolant=facts(fluid),
        nominal=parts.pop("nominal", run()),
        **columns,
        **parts,
    )


def margin(name, case):
    (found,) = [m for m in margins(case) if m.name == name]
    return found


def names(case):
    return [m.name for m in margins(case)]
