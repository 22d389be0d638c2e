"""The flow of a slot at its neighbours' drop, where the march stops at other flows."""

from types import SimpleNamespace

import numpy as np
import pytest

from regen.physics import arrays as A
from regen.physics import status as st
from regen.solve import SHARE_TOLERANCE, shares_at_drop

DROP = 20e5


def pretend(monkeypatch, resistance, low=0.0, high=9.0):
    """Let a slot lose resistance times flow squared, and stop outside [low, high]."""

    def run(geometry, gas, coolant, walls, lanes, models):
        share = lanes["flow_factor"]
        total = np.zeros((share.size, A.N_TOTAL))
        total[:, A.T_P_IN] = resistance * share**2 * DROP
        stopped = (share < low) | (share > high)
        status = np.zeros((share.size, 2), dtype=np.int64)
        status[:, 0] = np.where(stopped, st.CHOKED, st.OK)
        return SimpleNamespace(total=total), status

    monkeypatch.setattr("regen.solve.run", run)
    nothing = SimpleNamespace(geometry=None, gas=None, coolant=None, walls=None)
    lanes, models = np.zeros(1, dtype=A.LANE), np.zeros(1, dtype=A.MODEL)
    return shares_at_drop(nothing, lanes, models, np.array([DROP]), start=1.0)[0]


@pytest.mark.parametrize(
    ("resistance", "low", "high"),
    [
        (1.0, 0.0, 9.0),  # its neighbours' twin
        (1.82, 0.0, 9.0),
        (1.82, 0.62, 9.0),  # the first step goes where too little flow boils dry
        (0.5, 0.0, 1.45),  # a wide slot, that chokes just beyond its flow
    ],
)
def test_flow_at_the_drop(monkeypatch, resistance, low, high):
    share = pretend(monkeypatch, resistance, low, high)
    assert share == pytest.approx(resistance**-0.5, rel=SHARE_TOLERANCE)


def test_no_flow_is_not_guessed(monkeypatch):
    assert np.isnan(pretend(monkeypatch, 4.0, low=0.62))
