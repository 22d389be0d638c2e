"""The whole march against a hand-written one on direct property calls: see tests/benchmark."""

from __future__ import annotations

import numpy as np
import pytest

from regen.case.read import load_case
from regen.physics import arrays as A
from regen.solver.prepare import prepare
from regen.solver.solve import solve_nominal
from tests.benchmark import reference
from tests.helpers.places import CASES, WATER

OVERRIDES = ("coolant.returns_to_injector=false", "models.stations=20")
TABLE_TOLERANCE = 1e-4  # property tables against direct calls: mostly below 0.01 %


@pytest.mark.parametrize("friction", ["colebrook", "heated_wall"])
@pytest.mark.parametrize(
    "path",
    [CASES / "a-methane.toml", CASES / "b-hydrogen.toml", WATER],
    ids=lambda path: path.stem,
)
def test_the_march_is_the_one_written_by_hand(path, friction):
    prepared = prepare(load_case(path, (*OVERRIDES, f"models.friction={friction}")).design)
    nominal = solve_nominal(prepared)
    station = nominal.station[::-1] if prepared.design.coolant.enters_at == "nozzle" else None
    rows, p_out = reference.march(prepared)
    columns = (A.O_T_WALL_HOT, A.O_T_COOLANT, A.O_P_COOLANT, A.O_Q)
    np.testing.assert_allclose(station[:, columns], rows, rtol=TABLE_TOLERANCE)
    drop = prepared.run["pressure"][0] - p_out
    solved = nominal.total[A.T_P_IN] - nominal.total[A.T_P_OUT]
    assert solved == pytest.approx(drop, rel=TABLE_TOLERANCE)
