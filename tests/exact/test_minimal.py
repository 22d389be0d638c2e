"""The least kernel of the benchmark solves what the full one does: it is a fair yardstick."""

from __future__ import annotations

import numpy as np
import pytest

from regen.case.read import load_case
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.solver.models import model_row
from regen.solver.prepare import prepare
from tests.benchmark import minimal
from tests.helpers.places import CASES

# Both meet their balances within 1e-5 of the flux, and differ in nothing else.
TOLERANCE = 1e-4

# What the least kernel does not know: returned heat, and bends.
PLAIN = (
    'coolant.mass_flow="0.474 kg/s"',
    "coolant.returns_to_injector=false",
    'models.curvature="off"',
    "models.stations=51",
)


@pytest.fixture(scope="module")
def prepared():
    return prepare(load_case(CASES / "a-methane.toml", PLAIN).design)


def feeds(prepared, flows):
    runs = np.repeat(prepared.run, len(flows))
    runs["mass_flow"] = flows
    runs["inlet_temperature"] = np.linspace(110.0, 140.0, len(flows))
    runs["roughness"] = np.linspace(1e-6, 8e-6, len(flows))
    return runs


def full(prepared, runs):
    tables = prepared.geometry, prepared.gas, prepared.coolant, prepared.walls
    return march_all(*tables, runs, np.repeat(model_row(prepared), runs.size))


def test_walls_flux_and_drop_are_those_of_the_full_kernel(prepared):
    runs = feeds(prepared, np.linspace(0.42, 0.52, 7))
    out, status = full(prepared, runs)
    rows, totals, codes = minimal.run(prepared, runs)
    assert (status[:, 0] == st.OK).all()
    assert (codes == minimal.OK).all()
    columns = (A.O_T_WALL_HOT, A.O_Q, A.O_T_COOLANT, A.O_P_COOLANT)
    np.testing.assert_allclose(rows, out.station[..., columns], rtol=TOLERANCE)
    drop = out.total[:, A.T_P_IN] - out.total[:, A.T_P_OUT]
    np.testing.assert_allclose(totals[:, minimal.DROP], drop, rtol=TOLERANCE)


def test_both_stop_where_the_flow_cannot_pass(prepared):
    runs = feeds(prepared, [0.47, 1.5, 2.5])
    _, status = full(prepared, runs)
    _, _, codes = minimal.run(prepared, runs)
    assert status[0, 0] == st.OK
    assert (status[1:, 0] != st.OK).all()
    assert codes[0] == minimal.OK
    assert (codes[1:] != minimal.OK).all()


def test_threads_change_nothing(prepared):
    runs = feeds(prepared, np.linspace(0.42, 0.52, 2 * minimal.CHUNK + 3))
    one, two = minimal.run(prepared, runs), minimal.run(prepared, runs, threads=2)
    assert all(np.array_equal(a, b) for a, b in zip(one, two, strict=True))
