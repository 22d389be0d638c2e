"""Solving a design: worst channel, open bands, fitted factors, outer loops, refusals."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from regen.case.read import load_case
from regen.checks.review import review
from regen.checks.stations import energy_residual
from regen.gas.wall import fitted_factor
from regen.output.review import side_by_side
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.physics.boiling import cooper
from regen.solver.models import model_row
from regen.solver.prepare import prepare
from regen.solver.solve import MarchError, solve, solve_nominal
from regen.solver.worst_channel import DROP_TOLERANCE
from tests.helpers.places import CASES

LOOP_TOLERANCE = 2e-7  # the loop ends within 1e-7 of the outlet pressure


def design_of(name: str, *overrides: str):
    return load_case(CASES / f"{name}.toml", overrides).design


def test_the_worst_slot_loses_what_its_neighbours_lose():
    calm = ("shop.flow_shortfall=0.0", "shop.streak=0.0")
    solution = solve(design_of("c-ethanol-measured", *calm))
    nominal, worst = solution.nominal.total, solution.worst.total
    drop = nominal[A.T_P_IN] - nominal[A.T_P_OUT]
    found = worst[A.T_P_IN] - worst[A.T_P_OUT]
    assert found == pytest.approx(drop, rel=DROP_TOLERANCE)
    # what is said of it belongs together: its own flow, and the heat that flow took
    assert energy_residual(solution.worst, solution.hottest.paths) < 1e-12
    # it is narrower and shallower, so it takes less coolant and heats it more
    assert worst[A.T_H_OUT] > nominal[A.T_H_OUT]


def test_shortfall_and_streak_come_on_top():
    hottest = [
        solve(design_of("d-water-calorimeter", *more)).worst.station[:, A.O_T_WALL_HOT].max()
        for more in (
            ("shop.flow_shortfall=0.0", "shop.streak=0.0"),
            ("shop.flow_shortfall=0.1", "shop.streak=0.0"),
            ("shop.flow_shortfall=0.1", "shop.streak=0.2"),
        )
    ]
    assert hottest == sorted(hottest)
    assert hottest[0] < hottest[1] < hottest[2]


def test_members_that_were_not_solved_leave_the_edge_open():
    result = review(design_of("a-methane"))
    unsolved = [name for name, why in result.excluded.items() if why.startswith("not solved")]
    assert unsolved
    rows = {margin.name: margin for margin in result.margins}
    # coolant hotter than its tables: rows of temperature and coolant state are broken and name it
    for name in ("hot_wall_temperature", "coolant_wall_temperature", "coolant_temperature"):
        edge = rows[name].columns["band_edge"]
        assert (edge.state, rows[name].verdict) == ("broken", "at risk")
        assert any(member in edge.why for member in unsolved)
        assert "coolant out of range at x =" in edge.why
    # others are judged by the members that were solved
    assert rows["melting"].verdict == "pass"
    assert rows["melting"].band_edge > 0.0
    assert all(f"{len(unsolved)} members were not solved" in b.rule for b in result.bands.values())
    assert all(band.open for band in result.bands.values())
    _, band, _ = side_by_side(result, "T_wall_hot_max_K")
    assert re.fullmatch(r"\d+0 to \d+0 or more", band)
    # a hotter wall leaves less pressure, so that band is open at its low end
    _, band, _ = side_by_side(result, "coolant_pressure_out_Pa")
    assert re.fullmatch(r"[\d.]+ or less to [\d.]+", band)
    # nothing boils above the critical pressure
    assert "boiling" not in result.provenance["models"]
    assert result.worst_channel["energy_residual"] < 1e-12
    share = result.worst_channel["coolant_mass_flow_kg_s"]
    assert share < 0.9 * result.summary["coolant_mass_flow_kg_s"]


def test_a_gas_below_the_critical_pressure_is_named():
    # methane: critical pressure 46 bar; it is far above its critical 190 K at the injector end
    with pytest.raises(MarchError, match="as a gas") as caught:
        solve_nominal(prepare(design_of("a-methane", 'coolant.inlet_pressure="62 bar"')))
    assert caught.value.status == st.TEXTS[st.GAS_COOLANT].name


def test_an_outlet_pressure_near_choking_finds_its_inlet():
    # the lowest inlet pressure, to half a bar, at which the demo chamber still flows
    for bar in np.arange(62.0, 100.0, 0.5):
        design = design_of("b-hydrogen", f'coolant.inlet_pressure="{bar} bar"')
        design = replace(design, coolant=replace(design.coolant, returns_to_injector=False))
        prepared = prepare(design)
        args = prepared.geometry, prepared.gas, prepared.coolant, prepared.walls
        out, status = march_all(*args, prepared.run, model_row(prepared))
        if status[0, 0] == st.OK:
            break
    assert status[0, 0] == st.OK
    back = prepared.run.copy()
    back["outlet_given"] = 1
    back["pressure"] = out.total[0, A.T_P_OUT]
    again, status = march_all(*args, back, model_row(prepared))
    assert status[0, 0] == st.OK
    assert again.total[0, A.T_P_OUT] == pytest.approx(out.total[0, A.T_P_OUT], rel=LOOP_TOLERANCE)


def test_fitted_factors_belong_to_barrel_and_throat_not_to_the_slots():
    design = design_of("a-methane", "models.barrel_factor=0.3", "models.throat_factor=0.5")
    # barrel at area ratio 6, half way at 3.5, throat, nozzle
    ratio, x = np.array([6.0, 3.5, 1.0, 4.0]), np.array([-0.1, -0.03, 0.0, 0.06])
    assert fitted_factor(design, ratio, x, 6.0) == pytest.approx([0.3, 0.4, 0.5, 0.5])
    # slots that begin half way in see the same factors
    assert fitted_factor(design, ratio[1:], x[1:], 6.0) == pytest.approx([0.4, 0.5, 0.5])


def test_boiling_on_the_floor_leaves_a_cool_land_to_convection():
    """A land below saturation carries less than one that boils all over: the floor takes more."""
    solution = prepare(design_of("c-ethanol-bare"))
    row = solve_nominal(solution).station
    boils = (row[:, A.O_FLAGS].astype(int) & A.FLAG_BOILING) > 0
    assert boils.any()
    geometry = solution.geometry
    width, depth = (solution.rows.joined([v[0]]) for v in (geometry.width, geometry.depth))
    pitch = solution.rows.joined([2 * np.pi * geometry.r[0] / geometry.slots[0]])
    everywhere = row[:, A.O_Q] * pitch / (width + 2 * depth)
    throat = np.argmax(row[:, A.O_Q])
    assert boils[throat]
    # boiling all round would spread the flux evenly; the floor of the throat takes well over that
    assert row[throat, A.O_Q_WETTED] > 1.25 * everywhere[throat]


def test_cooper_is_held_at_the_end_of_its_range():
    at = dict(dT_sat=10.0, molar_mass=0.046)
    assert cooper(p_r=0.999, **at) == cooper(p_r=0.9, **at)
    assert cooper(p_r=0.85, **at) < cooper(p_r=0.9, **at)


def test_arrays_that_would_compile_the_core_again_are_refused():
    prepared = prepare(design_of("c-ethanol-bare", "models.stations=21"))
    frozen = prepared.geometry.width.copy()
    frozen.flags.writeable = False
    geometry = prepared.geometry._replace(width=frozen)
    with pytest.raises(ValueError, match="writeable"):
        march_all(
            *(geometry, prepared.gas, prepared.coolant, prepared.walls),
            *(prepared.run, model_row(prepared)),
        )


def test_boiling_walls_balance_over_a_wide_box():
    """Random flow and heat on the boiling chamber: each run is solved, or its bulk boils."""
    prepared = prepare(design_of("c-ethanol-bare"))
    draw = np.random.default_rng(0)
    runs = np.repeat(prepared.run, 400)
    runs["gas_factor"] = draw.uniform(0.3, 1.5, runs.size)
    runs["flow_factor"] = draw.uniform(0.8, 1.6, runs.size)
    runs["returns"] = 0.0
    args = prepared.geometry, prepared.gas, prepared.coolant, prepared.walls
    _, status = march_all(*args, runs, np.repeat(model_row(prepared), runs.size))
    assert set(status[:, 0]) <= {st.OK, st.BOILED}
    assert np.mean(status[:, 0] == st.OK) > 0.6
