"""A small invented result, solved by nothing; the refusals of cases as recorded."""

from __future__ import annotations

import dataclasses
import json
import os
from pathlib import Path

import numpy as np
import pytest

from regen import design as d
from regen.case.read import load_case
from regen.errors import CaseError
from regen.result import (
    STATION_COLUMNS,
    Band,
    CircuitResult,
    Margin,
    Note,
    Result,
    SectionCheck,
    SectionField,
)
from tests.helpers.rows import SUMMARY, columns
from tests.helpers.rows import margin as made_up

TITLE = "Linnet <b>&"
"""A title that would break a page that does not escape it."""


def margin(name: str, nominal, band_edge, worst, verdict, **more) -> Margin:
    given = {"unit": "K", "limit": 800.0, "kind": "max", "x_m": -0.01, "source": "common_practice"}
    return Margin(
        name=name,
        text=f"{name} in words",
        columns=columns(nominal, band_edge, worst),
        verdict=verdict,
        **(given | more),
    )


REFUSALS = Path(__file__).with_name("refusals.json")


@pytest.fixture
def recorded(request, tmp_path):
    """Return a check that problems are those of refusals.json, field by field.

    REGEN_RECORD=1 writes them there: key, what is wrong, given, accepted, what to do.
    """

    def check(problems):
        name = f"{request.path.stem}::{request.node.name}"
        now = [list(dataclasses.astuple(problem)) for problem in problems]
        plain = json.dumps(now).replace(f"{tmp_path}/", "").replace(str(tmp_path), "folder")
        now = json.loads(plain)
        texts = json.loads(REFUSALS.read_text(encoding="utf-8"))
        if os.environ.get("REGEN_RECORD"):
            texts[name] = now
            lines = [f"{json.dumps(one)}: {json.dumps(texts[one])}" for one in sorted(texts)]
            REFUSALS.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
        assert now == texts.get(name)

    return check


@pytest.fixture
def drawn_design() -> d.Design:
    return d.Design(
        title=TITLE,
        propellants=d.Propellants("oxygen", "methane", 3.0),
        chamber=d.Chamber(pressure=30e5),
        contour=d.ContourShape(
            contraction_ratio=6.0, area_ratio=5.0, throat_diameter=0.04, barrel_length=0.1
        ),
        liner=d.Liner("Cu-Cr-Zr", "solution-annealed-aged", d.Profile.constant(0.8e-3)),
        channels=d.Channels(
            count=80,
            width=d.Profile((-0.1, 0.0), (0.8e-3, 0.7e-3)),
            depth=d.Profile.constant(2.0e-3),
            roughness=5e-6,
        ),
        coolant=d.Coolant("methane", 120.0, mass_flow=0.48, inlet_pressure=90e5),
    )


@pytest.fixture
def drawn_result() -> Result:
    x = np.linspace(-0.10, 0.05, 9)
    r = 0.02 + 0.25 * np.abs(x)
    stations = {name: np.linspace(1.0, 2.0, x.size) for name in STATION_COLUMNS}
    stations |= {
        "x_m": x,
        "r_m": r,
        "T_gas_K": np.linspace(3300.0, 2300.0, x.size),
        "T_aw_K": np.linspace(3300.0, 2900.0, x.size),
        "T_wall_hot_K": 760.0 - 3000.0 * np.abs(x),
        "T_wall_cold_K": 700.0 - 3000.0 * np.abs(x),
        "T_coolant_K": np.linspace(500.0, 120.0, x.size),
        "p_coolant_Pa": np.linspace(70e5, 90e5, x.size),
        "mach_coolant": np.linspace(0.2, 0.01, x.size),
        "q_W_m2": 30e6 - 200e6 * np.abs(x),
        "channel_width_m": np.full(x.size, 0.7e-3),
        "channel_depth_m": np.full(x.size, 2.0e-3),
        "land_width_m": np.full(x.size, 0.9e-3),
        "wall_m": np.full(x.size, 0.8e-3),
        "circuit": np.ones(x.size),
        "pass_number": np.ones(x.size),
        "passage_length_m": x[-1] - x,
    }
    worst = dict(stations) | {"T_wall_hot_K": stations["T_wall_hot_K"] + 150.0}
    summary = {
        "T_wall_hot_max_K": 763.4,
        "x_T_wall_hot_max_m": 0.0,
        "T_wall_cold_max_K": 701.0,
        "q_max_W_m2": 36.84e6,
        "heat_total_W": 717e3,
        "coolant_temperature_out_K": 551.0,
        "coolant_pressure_in_Pa": 90e5,
        "coolant_pressure_drop_Pa": 20.6e5,
        "coolant_pressure_out_Pa": 69.4e5,
        "coolant_mass_flow_kg_s": 0.474,
        "chamber_temperature_K": 3430.0,
        "characteristic_velocity_m_s": 1783.0,
        "gas_mass_flow_kg_s": 1.898,
        "throat_diameter_m": 0.04,
        "energy_residual": 1e-15,
    }
    members = ("bartz + gnielinski + colebrook", "pipe_film + gnielinski + haaland")
    bands = {
        name: Band(
            0.8 * summary[name], summary[name], 1.3 * summary[name], members, "all of them", 1
        )
        for name in ("T_wall_hot_max_K", "q_max_W_m2", "coolant_pressure_drop_Pa")
    }
    return Result(
        title=TITLE,
        status="solved",
        verdict="at risk",
        summary=summary,
        bands=bands,
        worst_channel={"T_wall_hot_max_K": 913.0, "q_max_W_m2": 39.9e6},
        margins=(
            margin("hot_wall_temperature", 0.046, -0.26, -0.141, "at risk", source="wall_limits"),
            margin("ligament_stress", 0.96, None, None, "open", unit="Pa", limit=204e6),
            margin("coolant_mach", 0.09, 0.02, 0.05, "pass", unit="-", limit=0.3),
            margin("injector_pressure", 5.56, 4.7, 5.26, "pass", unit="Pa", limit=6e5, kind="min"),
            margin("thermal_stress", 0.64, 0.1, -0.2, None, unit="Pa"),
        ),
        notes=(Note("range", "gnielinski is used outside its range [re] <x>", -0.1),),
        provenance={
            "regen": "0.1.0",
            "python": "3.11.0",
            "packages": {"numpy": "2.0.0"},
            "case_sha256": "abc123",
            "models": {"gas_side": "bartz", "coolant_side": "gnielinski"},
            "sources": ["bartz1957", "gnielinski1976"],
        },
        stations=stations,
        station_bands={
            "T_wall_hot_K": (stations["T_wall_hot_K"] - 90.0, stations["T_wall_hot_K"] + 90.0),
            "q_W_m2": (0.8 * stations["q_W_m2"], 1.1 * stations["q_W_m2"]),
        },
        contour_x=np.linspace(-0.12, 0.06, 40),
        contour_r=0.02 + 0.25 * np.abs(np.linspace(-0.12, 0.06, 40)),
        worst_stations=worst,
        excluded={"taylor": "fitted to hydrogen"},
    )


@pytest.fixture
def drawn_check() -> SectionCheck:
    return SectionCheck(
        x_m=-0.005,
        T_coolant_K=250.0,
        T_wall_hot_K=755.0,
        T_wall_hot_fe_K=750.0,
        T_error_K=0.05,
        q_W_m2=30.3e6,
        q_fe_W_m2=30e6,
        boiling=False,
        note="conductivity of <one> is held",
        place="throat",
    )


@pytest.fixture
def drawn_field() -> SectionField:
    """An L of three cells: hot wall, and land beside the channel up to the closeout."""
    x, y = (0.0, 0.35e-3, 0.8e-3), (-0.8e-3, 0.0, 2.0e-3)
    points = np.array([(a, b) for b in y for a in x])
    cells = np.array([(0, 1, 4, 3), (1, 2, 5, 4), (4, 5, 8, 7)])
    return SectionField(points, cells, 750.0 - 1e5 * (points[:, 1] + 0.8e-3), (2.0e-3,))


@pytest.fixture
def drawn_circuits(drawn_result) -> Result:
    """Return the result in two circuits with a gap between them, the second down and back."""
    s = drawn_result.stations
    first, second = np.arange(0, 4), np.arange(5, 9)
    at = np.concatenate([first, np.repeat(second, 2)])
    circuit = np.repeat([1.0, 2.0], [4, 8])
    passes = np.concatenate([np.ones(4), np.tile([1.0, 2.0], 4)])
    x = s["x_m"][at]
    down = np.where(circuit == 1, x - x[0], x[-1] - x)
    length = np.where(passes == 1, down, 2.0 * np.ptp(x[4:]) - down)
    new = {"circuit": circuit, "pass_number": passes, "passage_length_m": length}
    records = tuple(
        CircuitResult(
            name=name,
            mass_flow_kg_s=flow,
            flow_share=flow / 0.4,
            temperature_in_K=290.0,
            temperature_out_K=320.0,
            temperature_rise_K=30.0,
            pressure_in_Pa=20e5,
            pressure_out_Pa=18e5,
            pressure_drop_Pa=2e5,
            heat_W=40e3,
            T_wall_hot_max_K=700.0,
            x_T_wall_hot_max_m=0.0,
            x_from_m=float(x[rows[0]]),
            x_to_m=float(x[rows[-1]]),
        )
        for name, flow, rows in (("barrel", 0.1, range(4)), ("throat", 0.3, range(4, 12)))
    )
    return dataclasses.replace(
        drawn_result,
        stations={name: column[at] for name, column in s.items()} | new,
        worst_stations={n: c[at] for n, c in drawn_result.worst_stations.items()} | new,
        station_bands={
            name: (low[at], high[at]) for name, (low, high) in drawn_result.station_bands.items()
        },
        circuits=records,
    )


@pytest.fixture
def solved(drawn_result):
    """A made-up design at risk, with three rows."""
    return dataclasses.replace(
        drawn_result,
        verdict="at risk",
        summary=SUMMARY,
        worst_channel={"T_wall_hot_max_K": 903.4},
        margins=(
            made_up("hot_wall_temperature", 0.065, -0.2, -0.13),
            made_up("coolant_mach", 0.041, 0.02, 0.03),
            made_up("thermal_stress", -0.5, verdict=None),
        ),
    )


@pytest.fixture
def refused(recorded):
    """Return the keys of the problems of a case, each as it is recorded."""

    def keys(path: Path, *overrides: str) -> list[str]:
        with pytest.raises(CaseError) as caught:
            load_case(path, overrides)
        recorded(caught.value.problems)
        return [problem.key for problem in caught.value.problems]

    return keys
