"""Every record of the published checks, by section of docs/validation.md."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache
from typing import Any

import numpy as np

from regen.coolant.table import COOLANTS, coolant_table
from regen.physics import friction
from regen.physics.burnout import hall_mudawar_inlet
from regen.physics.registry import CORRELATIONS
from tests.conftest import build_constant_coolant, build_plain_gas
from tests.published import test_burnout as burnout
from tests.published import test_chambers as chambers
from tests.published import test_chemistry as chemistry
from tests.published import test_conical_nozzle as nozzle
from tests.published import test_coolant_points as coolant
from tests.published import test_coolant_trends as trends
from tests.published import test_correlations as correlations
from tests.published import test_fin as fin
from tests.published import test_gas_radiation as gas_radiation
from tests.published import test_internal_convection as convection
from tests.published import test_life as life
from tests.published import test_materials as materials
from tests.published import test_measured_chambers as measured
from tests.published import test_plating as plating
from tests.published import test_section as section
from tests.published import test_square_chamber as square
from tests.published import test_wall_chemistry as wall_chemistry
from tests.published import test_wall_fe as wall
from tests.published.ledger import Check, Record, Window


@cache
def records(collect: Callable[[], Iterator[Record]]) -> tuple[Record, ...]:
    """Every record of a collector below, worked out once."""
    return tuple(collect())


def each(checks: Callable[..., Any], rows: Iterable[Any]) -> Iterator[Record]:
    for row in rows:
        yield from checks(row)


# --- hot gas ------------------------------------------------------------------------------------
def chemistry_outside() -> Iterator[Record]:
    yield from each(chemistry.performance_checks, chemistry.DATA["performance"])
    yield from chemistry.small_engine_checks()
    yield from chemistry.gasoline_records()
    yield from chemistry.recalled_checks()
    yield from chemistry.paraffin_checks()
    elsewhere = ("nitrous-oxide", "isopropanol")
    fluids = [f for f in sorted(chemistry.SPECIES) if f not in elsewhere]
    yield from map(chemistry.feed_check, fluids)
    yield from chemistry.isopropanol_checks()


def chemistry_separate() -> Iterator[Record]:
    yield from chemistry.separate_checks()
    yield from chemistry.throat_checks()
    yield from each(chemistry.model_checks, chemistry.DATA["chemistry_model"])
    yield from each(chemistry.transport_checks, chemistry.DATA["transport"])
    yield from map(wall_chemistry.driving_check, chemistry.DATA["driving_enthalpy"])
    yield from each(wall_chemistry.freezing_checks, chemistry.DATA["freezing"])
    yield wall_chemistry.integral_layer_check()
    yield chemistry.feed_check("nitrous-oxide")
    yield from chemistry.alcohol_checks()
    yield from each(gas_radiation.barrel_checks, gas_radiation.DATA["barrel"])
    yield from gas_radiation.emissivity_checks()


def nozzle_flow() -> Iterator[Record]:
    for row in nozzle.TABLE_ROWS:
        yield from nozzle.table_checks(*row)
    yield from nozzle.cone_records()


# --- heat flux ----------------------------------------------------------------------------------
def chamber_flux() -> Iterator[Record]:
    yield from chambers.sizing_checks()
    yield from chambers.annulus_records()
    yield from chambers.rule_of_thumb_records()
    yield from chambers.sign_records()
    yield from chambers.peak_windows()


def hydrogen_nozzle() -> Iterator[Record]:
    yield from measured.nozzle_records()


def milled_cylinder() -> Iterator[Record]:
    yield from measured.cylinder_records()


def hydrogen_tube() -> Iterator[Record]:
    yield from measured.tube_records()


def square_chamber() -> Iterator[Record]:
    yield from square.block_checks()
    yield from square.flux_checks()
    yield from square.prediction_records()


# --- coolant ------------------------------------------------------------------------------------
table = cache(coolant_table)


@cache
def direct(fluid: str) -> Any:
    from CoolProp.CoolProp import AbstractState

    return AbstractState("HEOS", COOLANTS[fluid])


def coolant_properties() -> Iterator[Record]:
    yield from each(lambda row: coolant.water_checks(table, row), coolant.DATA["water"])
    yield from coolant.water_line_checks(table)
    yield from each(lambda fluid: coolant.boiling_checks(table, fluid), coolant.BOILING)
    yield from each(lambda fluid: coolant.critical_checks(table, fluid), sorted(COOLANTS))
    rows = coolant.DATA["transport"]
    yield from each(lambda row: coolant.transport_checks(table, direct, row), rows)
    rows = coolant.DATA["saturated"]
    yield from each(lambda row: coolant.saturated_checks(table, direct, row), rows)
    yield from coolant.library_checks(direct)
    yield from coolant.kerosene_windows(table)


ROLES = {
    "gas_side": "gas side",
    "coolant_side": "coolant side",
    "friction": "friction",
    "boiling": "boiling",
    "burnout": "burnout",
}
ROUNDING = 1e-4
"""Rows worked by hand to many digits; the others compare with a separate calculation."""


def correlation_rows() -> Iterator[Record]:
    for row in correlations.ROWS:
        c = CORRELATIONS[row["correlation"]]
        tolerance = float(row["tolerance"])
        by_hand = tolerance <= ROUNDING
        role = ROLES.get(c.role, c.role.replace("_", " "))
        yield Check(
            row["source_key"],
            f"{role}: {'worked by hand from the equation' if by_hand else 'separate or recalled'}",
            c.name,
            float(row["expected"]),
            float(c.function(**correlations.inputs(row))),
            tolerance,
            "digits of the hand" if by_hand else "rounded inputs, see the row",
            own_mark=row["mark"],
        )


def convection_examples() -> Iterator[Record]:
    fluid, gas = build_constant_coolant(), build_plain_gas()
    yield from convection.holman_checks()
    yield from convection.kreith_checks()
    yield from convection.duct_checks()
    yield from convection.duct_march_checks(fluid, gas)
    yield from each(lambda s: convection.glycol_checks(s, fluid, gas), convection.GLYCOL)
    yield from trends.trend_windows()


LAWS = {"colebrook": friction.colebrook, "haaland": friction.haaland}


def friction_data() -> Iterator[Record]:
    parts = (
        ("Re above 10 000", 1e4, 2e6, correlations.EACH_POINT, correlations.MEAN_OF_POINTS,
         "scatter of the data about any smooth law"),
        ("Re below 1200, 64/Re", 0.0, 1.2e3, correlations.EACH_LAMINAR, correlations.MEAN_LAMINAR,
         "error of the data: the law is exact"),
    )  # fmt: skip
    for name, law in LAWS.items():
        for where, low, high, each_point, mean, why in parts:
            series = f"smooth pipe, {where}, {name}"
            points = [
                (Re, f) for Re, f in zip(*correlations.oregon_smooth_data, strict=True)
                if low < Re < high
            ]  # fmt: skip
            for Re, f in points:
                yield Check(
                    "oregon_smooth_pipe", series, f"Re {Re:.3g}", f, law(Re, 0.0), each_point, why
                )
            off = float(correlations.measured(low, high, law).mean())
            yield Check(
                "oregon_smooth_pipe", f"{series}: mean of ours over measured", "all", 1.0,
                1.0 + off, mean, "mean of the points",
            )  # fmt: skip


def burnout_rows() -> Iterator[Record]:
    for point, rho_l, rho_v, sigma, h_fg, x_in, expected in burnout.WORKED:
        q = hall_mudawar_inlet(15e3, 1.5e-3, 45e-3, x_in, rho_l, rho_v, h_fg, sigma)
        yield Check(
            "hall_mudawar2000", "burnout by the inlet form, worked elsewhere", point,
            expected * 1e6, q, burnout.PRINTED, "two or three digits, rounded properties", "W/m2",
            own_mark="computed",
        )  # fmt: skip
    yield from trends.nitrogen_windows()


# --- wall and metal -----------------------------------------------------------------------------
SECTIONS = {"copper": 20, "wide and shallow": 10, "poor conductor": 10}


@cache
def wall_errors(name: str) -> dict[str, np.ndarray]:
    box = wall.BOXES[name]
    return wall.errors(box, SECTIONS[name], 20, build_constant_coolant(), build_plain_gas())


def wall_sections() -> Iterator[Record]:
    why = "one cosine in the hot wall, land and closeout in one dimension"
    for name, box in wall.BOXES.items():
        found = wall_errors(name)
        bounds = {
            "hot wall's highest temperature": ("hot_max", box.worst),
            "heat taken up": ("heat", (-box.heat, box.heat)),
            "slot floor's wetted flux": ("floor", box.floor),
        }
        for what, (key, (low, high)) in bounds.items():
            for n, miss in enumerate(found[key]):
                series = f"{name}: {what}, over that of finite elements, less 1"
                yield Window(
                    "wall_elements", series, f"section {n + 1}", 100 * low, 100 * high, 100 * miss,
                    why, "%",
                )  # fmt: skip


def section_examples() -> Iterator[Record]:
    yield from section.cylinder_checks()
    yield from fins()


def fins() -> Iterator[Record]:
    yield from fin.array_checks()
    yield from each(lambda row: fin.efficiency_checks(*row), fin.EFFICIENCIES)


def life_examples() -> Iterator[Record]:
    yield from life.rupture_checks()
    yield from life.fatigue_checks()
    yield from life.chamber_windows()


def plating_examples() -> Iterator[Record]:
    yield from plating.faraday_checks()
    yield from plating.practice_windows()
    yield from plating.debond_checks()


def wall_materials() -> Iterator[Record]:
    yield from materials.copper_conductivity_checks()
    yield from materials.copper_checks()
    yield from materials.two_fits_checks()
    yield from materials.expansion_checks()
    yield from materials.stainless_checks()
    yield from materials.fatigue_checks()
