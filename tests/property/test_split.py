"""The split between circuits: whatever their slots, all lose the same pressure and none flow."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from regen.physics import arrays as A
from regen.solver.flow_split import through_circuits
from tests.helpers.passages import metal, models, passage, runs

RESIDUAL = 1e-4  # largest difference of the pressure drops that may be left
FLUX = 1e4  # mean mass flux of all slots [kg/(m2 s)]; the gas heats so little that none starves

SLOT = st.fixed_dictionaries(
    {
        "length": st.floats(0.02, 0.4),
        "width": st.floats(0.5e-3, 2e-3),
        "depth": st.floats(0.8e-3, 4e-3),
        "slots": st.integers(40, 90).map(float),
        "turn": st.sampled_from([0.0, 0.0, 2.2]),
    }
)


def geometry(slots):
    ones = []
    for one in slots:
        turn = np.zeros(21)
        turn[10] = one["turn"]
        sizes = {name: one[name] for name in ("width", "depth", "slots")}
        ones.append(passage(21, one["length"], loss=turn, **sizes))
    return A.Geometry(*(np.concatenate(fields) for fields in zip(*ones, strict=True)))


@settings(
    deadline=None,
    max_examples=60,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(slots=st.lists(SLOT, min_size=2, max_size=5))
def test_the_drops_are_one_and_the_flows_sum(slots, constant_coolant, plain_gas):
    shape = geometry(slots)
    flow = FLUX * sum(one["slots"] * one["width"] * one["depth"] for one in slots)
    rows = runs(len(slots), mass_flow=flow, pressure=350e5, gas_factor=0.05)
    rows["geometry"] = np.arange(len(slots))
    path = SimpleNamespace(circuit=SimpleNamespace(share=None, mass_flow=None))
    prepared = SimpleNamespace(
        paths=[path] * len(slots),
        run=rows,
        geometry=shape,
        gas=plain_gas(21),
        coolant=constant_coolant,
        walls=metal(),
    )
    solved = through_circuits(prepared, models())
    assert solved.settled.all()
    total = solved.total[0]
    drop = total[:, A.T_P_IN] - total[:, A.T_P_OUT]
    assert np.ptp(drop) / drop.mean() < RESIDUAL
    assert total[:, A.T_MASS_FLOW].sum() == pytest.approx(flow, rel=1e-12)
    assert np.all(total[:, A.T_MASS_FLOW] > 0.0)
    # of two alike but for their length the shorter takes more
    order = np.argsort([one["length"] for one in slots])
    alike = {(o["width"], o["depth"], o["slots"], o["turn"]) for o in slots}
    if len(alike) == 1:
        assert np.all(np.diff(total[order, A.T_MASS_FLOW]) <= 1e-9)
    assert solved.steps[0] <= 12
