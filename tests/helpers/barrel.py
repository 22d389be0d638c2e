"""Round slots on a plain barrel, on their way to bath and shop without a solve: sums by hand.

Radii [mm]: hot wall 40, slot floor 41, blank 45, copper 45.5, jacket 48.5. Slots lie from
x = -300 to -200 mm, the thinnest nickel at -250.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from regen.case.read import load_case
from regen.geometry.circuits import lay_paths
from regen.geometry.contour import build_contour
from regen.output import shop
from regen.result import STATION_COLUMNS, Finding, Result
from regen.shop.cutters.plan import plan_cutting
from regen.shop.drawings.sheets import shop_set
from regen.shop.plating.plan import PlatingPlan, plan_plating
from regen.studies.release.as_machined import Machined
from regen.studies.release.to_shop import ToShop

CASE = Path(__file__).with_name("barrel.toml")
PLACES = np.array([-0.3, -0.25, -0.2])
T_BATH = 323.15


def solved(T_liner: float = T_BATH) -> Result:
    """Return what a solve of the barrel could be, in round numbers, its liner at T [K]."""
    one = np.ones(PLACES.size)
    stations = {name: one for name in STATION_COLUMNS} | {
        "x_m": PLACES,
        "r_m": 0.040 * one,
        "wall_m": 1e-3 * one,
        "channel_depth_m": 4e-3 * one,
        "channel_width_m": 1.25e-3 * one,
        "land_width_m": 3.75e-3 * one,
        "T_wall_hot_mean_K": (T_liner + 20.0) * one,
        "T_wall_cold_K": (T_liner - 20.0) * one,
    }
    proofs = (
        Finding("proof", "pressure_channels", "channels", 171.4e5, "Pa", "common_practice"),
        Finding("proof", "pressure_bore", "bore", 45.4e5, "Pa", "common_practice"),
    )
    return Result(
        title="Linnet test chamber, slots on the barrel",
        status="solved",
        verdict="pass",
        summary={
            "x_T_wall_hot_max_m": -0.22,
            "T_wall_hot_max_K": 760.0,
            "throat_diameter_m": 0.04,
            "coolant_pressure_in_Pa": 90e5,
        },
        bands={},
        worst_channel={},
        margins=(),
        notes=(),
        provenance={"regen": "0.1.0"},
        stations=stations,
        station_bands={},
        contour_x=PLACES,
        contour_r=0.04 * one,
        findings=proofs,
        checked={
            "jacket_needed_m": np.array([1.5e-3, 2e-3, 1e-3]),
            "T_jacket_K": np.array([310.0, T_BATH, 320.0]),
        },
    )


def plated(*overrides: str, result: Result | None = None) -> PlatingPlan:
    """Return the plating plan of the barrel."""
    return plan_plating(load_case(CASE, overrides).design, result or solved())


def to_shop(*overrides: str) -> ToShop:
    """Return the barrel on its way to the shop, plated."""
    design = load_case(CASE, overrides).design
    contour = build_contour(design.contour)
    cut = plan_cutting(design, contour, lay_paths(design, contour))
    plan = plan_plating(design, solved())
    drawn = shop_set(cut, solved(), plan, "ab" * 32)
    return ToShop(Machined(cut, ()), drawn=drawn, plated=plan)


def shop_texts(*overrides: str) -> dict[str, str]:
    """Return all files of the shop as text by name."""
    made = shop.collect(to_shop(*overrides), Path()).files
    return {name: content.decode() for name, content in made.items()}
