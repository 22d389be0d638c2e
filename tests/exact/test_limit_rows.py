"""Every registered limit: one row, its margin worked by hand; and what each must say of itself."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from regen import sources
from regen.case.keys import SECTIONS
from regen.checks.limits import LIMITS, margins
from regen.checks.runs import Solved
from regen.design import Allowables, Closeout, Cutter
from regen.metals import selection as metals
from regen.result import STATION_COLUMNS
from tests.helpers.quiet import BAR, run, solved

EXACT = 1e-9
ROUNDING = 1e-8
"""Sizes have a billionth of room for rounding."""
HAND = 2e-5
"""Five digits."""


@dataclass(frozen=True)
class Row:
    """A limit, the nominal margin expected and where [m], and what the quiet design has changed.

    ``design`` holds values in SI by key of the case, ``stations`` columns of three stations, or
    one value for all of them.
    """

    limit: str
    margin: float
    x_m: float
    design: dict[str, Any] = field(default_factory=dict)
    stations: dict[str, Any] = field(default_factory=dict)
    rel: float = EXACT

    def solved(self) -> Solved:
        columns = {n: v if isinstance(v, list) else [v] * 3 for n, v in self.stations.items()}
        base = solved(nominal=run(**columns))
        design = base.design
        for key, value in self.design.items():
            section, _, name = key.partition(".")
            part = replace(getattr(design, section), **{name: value}) if name else value
            design = replace(design, **{section: part})
        return replace(base, design=design, alloy=metals.liner(design))


def constant(MPa: float) -> Allowables:  # noqa: N803
    return Allowables((77.0, 900.0), (MPa * 1e6, MPa * 1e6))


def von_mises(a: float, b: float) -> float:
    return (a * a - a * b + b * b) ** 0.5


# A cylinder of 40 mm bore: wall 0.8 (quiet), slots 0.8 x 2 mm, jacket 6 mm of 400 MPa, which has
# its inner face at 42.8 and its middle at 45.8 mm. Everything is at 293.15 K, so that the proof is
# 1.2 times 90 bar in the channels and 30 bar in the bore. Pressures 80, 85 and 90 bar.
COLD = {
    **dict.fromkeys(("T_wall_hot_K", "T_wall_cold_K", "T_wall_floor_K", "T_coolant_K"), 293.15),
    **{"r_m": 0.04, "channel_depth_m": 2e-3},
}
STRONG = {
    "liner.yield_strength": constant(250.0),
    "closeout.jacket_yield_strength": constant(400.0),
    "closeout.jacket_ultimate_strength": constant(800.0),
}
# last station: hoop 9 x 45.8/6 MPa; 0.5 x 0.2 x 40/6 of the bore less the thrust, 30 bar x bore
HOOP, PUSH = 9 * 45.8 / 6, 0.5 * 0.2 * 40 / 6 - 3.0 * 40**2 / (2 * 45.8 * 6)

# A wall at 400 K between 500 and 300 K, its jacket at rest. E 117.9 GPa, yield 268.5 MPa; expansion
# 15.9e-6 at 300 K and 17.8e-6 at 500 K: grown 1.6375e-3 to 400 K, and 3.37e-3 across the wall.
WARM = {"T_wall_hot_K": 500.0, "T_wall_cold_K": 300.0, "T_coolant_K": 300.0}
GROWN, ACROSS, E, NU = 1.6375e-3, 3.37e-3, 117.9e3, 0.34
# ligament stress of 50, 68 and 88 bar on walls as wide as thick; ratchets at yield squared over it
PRIMARY = 3**0.5 * 8.8 / 2

# Joined in a bath at 323.15 K, where the jacket still is; the liner is at 400 K. Expansion there
# 16.119925e-6 and 16.85e-6: 76.85 K of their mean. No modulus of nickel is known there: rigid.
JOINED = {
    **{"T_wall_hot_K": 476.85, "T_wall_cold_K": 323.15, "T_coolant_K": 323.15},
    **{"r_m": 0.04, "channel_depth_m": 2e-3, "land_width_m": 0.8e-3},
}
NICKEL = {"closeout": Closeout(jacket=3e-3, jacket_yield_strength=constant(400.0))}
PITCH = 1.6 * (1 + 0.5 * 2.0 / 40.8)  # lands and slots of 0.8 mm, at half of their depth
LINER = 0.8 + 2.0 * (PITCH - 0.8) / PITCH
REACTION = E * 76.85 * 0.5 * (16.119925e-6 + 16.85e-6) / (1 - NU) * LINER / 3.0

# A law without an elastic part: range/2 = 0.4 (2N)^-0.5. At 400 K on a jacket at rest, without
# pressure: held both ways, twice 1.6375e-3, which is elastic.
LAW = {
    "life.firings": 1000,
    "life.fatigue_strength": 1e-9,
    "life.fatigue_strength_exponent": -0.1,
    "life.fatigue_ductility": 0.4,
    "life.fatigue_ductility_exponent": -0.5,
    "life.fatigue_temperature": 400.0,
}
FIRED = {
    "T_wall_hot_K": [400.0, 350.0, 350.0],
    **dict.fromkeys(("T_wall_cold_K", "T_coolant_K"), 300.0),
    **dict.fromkeys(("p_coolant_Pa", "p_gas_Pa"), 30 * BAR),
}

SAWS = (Cutter("saw", 0.803e-3, 5e-3, 63e-3),)

ROWS = (
    Row("hot_wall_temperature", 1 - 700 / 800, 0.0),
    Row("melting", 1 - 700 / 1348.15, 0.0),
    Row("coolant_wall_temperature", 1 - 490 / 600, 0.0, {"limits.T_wall_cold": 600.0}),
    # yield at 450 K, between 288 MPa at 300 and 249 at 500 K
    Row("ligament_stress", 1 - PRIMARY / (258.75 / 1.25), 0.05),
    Row("ligament_proof", 1 - 3**0.5 * 10.8 / 2 / 250, -0.1, STRONG, COLD),
    Row("land_tension", 1 - 8.5 / (249 / 1.25), 0.0),
    Row("land_proof", 1 - 10.8 / 250, 0.0, STRONG, COLD),
    Row("bond_stress", 1 - 10.8 / (70 / 1.4), 0.0, STRONG, COLD),
    Row("jacket_stress", 1 - von_mises(HOOP, PUSH) / (400 / 1.25), 0.05, STRONG, COLD),
    Row("roof_bending", 1 - 0.5 * 9.0 * (0.8 / 6) ** 2 / (400 / 1.25), 0.05, STRONG, COLD),
    Row("jacket_proof", 1 - 10.8 * 45.8 / 6 / 400, -0.1, STRONG, COLD),
    Row("jacket_load_temperature", 1 - 323.15 / 473.15, -0.1, NICKEL, JOINED),
    Row("jacket_temperature", 1 - 323.15 / 673.15, -0.1, NICKEL, JOINED),
    # E 108.6 GPa and alpha 18.8e-6 at 600 K over a drop of 200 K
    Row("thermal_stress", 1 - 108.6e3 * 18.8e-6 * 200 / (2 * 0.66) / (2 * 220), 0.0),
    Row(
        "ratchet",
        1 - E / (1 - NU) * (0.5 * ACROSS + GROWN) / (268.5**2 / PRIMARY),
        0.05,
        stations=WARM,
    ),
    Row(
        "wall_buckling",
        1 - GROWN * 46.0 / 0.8 * (3 * (1 - NU**2)) ** 0.5,
        -0.1,
        stations=WARM,
    ),
    Row("jacket_reaction", 1 - REACTION / 400, -0.1, NICKEL, JOINED),
    Row("life", 0.5 * (0.4 / GROWN) ** 2 / 4000 - 1, -0.1, LAW, FIRED, HAND),
    Row("coolant_temperature", 1 - 300 / 600, -0.1),
    Row(
        "burnout",
        1 - 25 / (0.5 * 100),
        0.0,
        {"limits.burnout_flux": 100e6},
        {"p_coolant_Pa": 40 * BAR},
    ),
    Row("coolant_mach", 1 - 0.07 / 0.3, 0.0),
    Row("injector_pressure", (75 - 30) / (0.2 * 30) - 1, -0.1),
    Row("land_width", 0.8 / 0.5 - 1, 0.0, rel=ROUNDING),
    Row("slot_aspect", 1 - 2.0 / 0.8 / 8, 0.0, rel=ROUNDING),
    Row("cutter_width", 1 - 3 / 5, -0.1, {"shop.cutters": SAWS}, rel=ROUNDING),
    Row("cutter_depth", 1 - 2.0 / 5.005, 0.0, {"shop.cutters": SAWS}, rel=ROUNDING),
)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.limit)
def test_margin_by_hand(row):
    (margin,) = (one for one in margins(row.solved()) if one.name == row.limit)
    assert margin.nominal == pytest.approx(row.margin, rel=row.rel)
    assert margin.x_m == row.x_m


def test_every_limit_has_a_row():
    assert {row.limit for row in ROWS} == set(LIMITS)


@pytest.mark.parametrize("limit", LIMITS.values(), ids=LIMITS)
def test_a_limit_says_what_it_is(limit):
    assert sources.find(limit.source).title
    assert limit.text[0].islower()
    for key in filter(None, (limit.key, limit.closes)):
        section, name = key.split(".")
        assert name in SECTIONS[section], key
    assert limit.column in ("", *STATION_COLUMNS)
