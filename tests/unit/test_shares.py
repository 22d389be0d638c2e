"""The flow of a slot at its neighbours' drop: where the march stops, and where several have it."""

from types import SimpleNamespace

import numpy as np
import pytest

from regen.physics import arrays as A
from regen.physics import status as st
from regen.solver.worst_channel import DROP_TOLERANCE, _Search, shares_at_drop

DROP = 20e5
NOTHING = SimpleNamespace(tables=(SimpleNamespace(r=np.ones((1, 3))), None, None, None))


def pretend(monkeypatch, drop, low=0.0, high=9.0, starved=st.COOLANT_RANGE):
    """Let a slot lose ``drop(share)`` times its neighbours', starve below low, choke above high."""

    def run(geometry, gas, coolant, walls, runs, models):
        share = runs["flow_factor"]
        total = np.zeros((share.size, A.N_TOTAL))
        total[:, A.T_P_IN] = drop(share) * DROP
        status = np.zeros((share.size, 2), dtype=np.int64)
        status[:, 0] = np.where(share < low, starved, np.where(share > high, st.CHOKED, st.OK))
        status[:, 1] = np.where(share < low, 2, 1)
        station = np.zeros((share.size, 3, A.N_STATION_OUT))
        station[:, :, A.O_T_WALL_HOT] = 1000.0 * share[:, None]
        station[:, :, A.O_P_COOLANT] = total[:, None, A.T_P_IN]
        return SimpleNamespace(total=total, station=station), status

    monkeypatch.setattr("regen.solver.worst_channel.march_all", run)


def searched(monkeypatch, drop, start=1.0, **stops):
    pretend(monkeypatch, drop, **stops)
    runs, models = np.zeros(1, dtype=A.RUN), np.zeros(1, dtype=A.MODEL)
    search = _Search(NOTHING, runs, models, np.array([DROP]))
    search.look(np.arange(1), np.array([start]))
    return search


def crossing(*roots, steep=4.0):
    """Return a drop that is that of the neighbours at these flows, and rises at the outer ones."""
    return lambda share: np.exp(steep * np.prod([share - root for root in roots], axis=0))


@pytest.mark.parametrize("look", [False, True])
@pytest.mark.parametrize(
    ("resistance", "low", "high"),
    [
        (1.0, 0.0, 9.0),  # its neighbours' twin
        (1.82, 0.0, 9.0),
        (1.82, 0.62, 9.0),  # starved not far below
        (1.82, 0.74, 9.0),  # starved within the first look
        (0.5, 0.0, 1.45),  # a wide slot, that chokes just beyond its flow
        (4.0, 0.0, 0.51),  # the first flow tried chokes
        (0.2, 1.2, 9.0),  # the first flow tried is starved
    ],
)
def test_flow_at_the_drop(monkeypatch, resistance, low, high, look):
    pretend(monkeypatch, lambda share: resistance * share**2, low, high)
    runs, models = np.zeros(1, dtype=A.RUN), np.zeros(1, dtype=A.MODEL)
    (share,) = shares_at_drop(NOTHING, runs, models, np.array([DROP]), look=look)
    assert share == pytest.approx(resistance**-0.5, rel=DROP_TOLERANCE)


def test_the_lowest_stable_flow_of_three_is_taken(monkeypatch):
    search = searched(monkeypatch, crossing(0.4, 0.6, 0.9))
    assert search.share[0] == pytest.approx(0.4, rel=DROP_TOLERANCE)
    assert search.several[0]
    assert not search.steady[0]


def test_one_flow_is_not_said_to_be_several(monkeypatch):
    search = searched(monkeypatch, lambda share: share**1.8 / 0.81)
    assert search.share[0] == pytest.approx(0.81 ** (1 / 1.8), rel=DROP_TOLERANCE)
    assert not search.several[0]
    assert search.steady[0]


@pytest.mark.parametrize("start", [0.95, 1.0, 1.05])
def test_no_flow_at_which_the_drop_falls_is_taken(monkeypatch, start):
    # all three lie between two looks; at 0.92 the drop falls with the flow
    search = searched(monkeypatch, crossing(0.90, 0.92, 0.94, steep=300.0), start=start)
    assert min(abs(search.share[0] - root) for root in (0.90, 0.94)) < 1e-3


def test_a_flow_that_is_met_by_chance_where_the_drop_falls_is_left(monkeypatch):
    # the first secant, from 0.85 to 1 of the flow, leads to the middle one of three
    middle, apart = 0.5 * np.log(0.85), 0.02

    def drop(share):
        off = np.log(share) - middle
        return np.exp(1e3 * (off**3 - apart**2 * off))

    search = searched(monkeypatch, drop)
    assert search.share[0] == pytest.approx(np.exp(middle - apart), rel=DROP_TOLERANCE)


@pytest.mark.parametrize("starved", [st.COOLANT_RANGE, st.BOILED])
def test_a_flow_that_is_not_there_is_not_guessed_and_says_why(monkeypatch, starved):
    # the flow sought is 0.5; below 0.62 the slot is starved
    search = searched(monkeypatch, lambda share: 4.0 * share**2, low=0.62, starved=starved)
    assert np.isnan(search.share[0])
    stop = search.stops[0]
    assert (stop.code, stop.station) == (starved, 2)
    # the march that is shown is the one nearest to the flow sought
    assert stop.rows[0, A.O_T_WALL_HOT] == pytest.approx(620.0, rel=1e-3)


def test_a_drop_that_no_flow_has_is_not_found(monkeypatch):
    search = searched(monkeypatch, lambda share: 0.5 + 0.0 * share, high=np.inf)
    assert np.isnan(search.share[0])
    assert search.stops[0].code == st.NOT_CONVERGED


def test_runs_do_not_depend_on_their_company(monkeypatch):
    resistance = np.array([0.6, 1.1, 2.3, 5.0])
    drops = DROP / resistance

    def shares(at):
        pretend(monkeypatch, lambda share: share**1.8, low=0.45)
        runs, models = np.zeros(at.size, dtype=A.RUN), np.zeros(at.size, dtype=A.MODEL)
        return shares_at_drop(NOTHING, runs, models, drops[at], look=True)

    together = shares(np.arange(4))
    alone = np.concatenate([shares(np.array([n])) for n in range(4)])
    assert np.array_equal(together, alone, equal_nan=True)
    assert np.isnan(together[3])
