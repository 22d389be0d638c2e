"""Write our own numbers of the example cases anew: ``python -m tests.frozen``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from regen.case.read import load_case
from regen.checks.review import review
from tests.helpers.places import CASES

FILE = Path(__file__).with_name("cases.json")
NUMBERS = (
    "T_wall_hot_max_K",
    "T_wall_cold_max_K",
    "q_max_W_m2",
    "heat_total_W",
    "coolant_temperature_out_K",
    "coolant_pressure_drop_Pa",
    "coolant_mass_flow_kg_s",
    "gas_mass_flow_kg_s",
    "chamber_temperature_K",
    "characteristic_velocity_m_s",
    "T_wall_hot_band_min_K",
    "T_wall_hot_band_max_K",
)
STORE: dict[str, dict[str, Any]] = json.loads(FILE.read_text()) if FILE.exists() else {}


def solved(name: str) -> dict[str, Any]:
    result = review(load_case(CASES / f"{name}.toml").design)
    band = result.bands["T_wall_hot_max_K"]
    found = {**result.summary, "T_wall_hot_band_min_K": band.min, "T_wall_hot_band_max_K": band.max}
    return {"verdict": result.verdict, **{key: found[key] for key in NUMBERS}}


if __name__ == "__main__":
    names = sorted(path.stem for path in CASES.glob("*.toml"))
    FILE.write_text(json.dumps({name: solved(name) for name in names}, indent=1) + "\n")
