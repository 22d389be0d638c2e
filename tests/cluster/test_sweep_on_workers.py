"""A sweep on two workers: the rows of this machine to the last bit, whoever is killed."""

from __future__ import annotations

import signal
from dataclasses import replace

import numpy as np
import pytest
from regen_cli.app import app
from typer.testing import CliRunner

from regen.case.read import load_case
from regen.output.sweep import Store
from regen.studies.batch.gas_axes import Span
from regen.studies.sweep import plan as plans
from regen.studies.sweep.cluster import _alone, connected
from regen.studies.sweep.plan import SweepPlan
from regen.studies.sweep.study import solve_part
from regen.studies.sweep.vary import grid_of
from tests.cluster.conftest import wait_for_workers
from tests.cluster.office import ROOT, Office

WATER = ROOT / "tests" / "helpers" / "water.toml"
FEW = "models.stations=21"
WIDTHS = "channels.width=0.5:1.5:4:mm"
COUNTS = "channels.count=30,36,42,60,70,80"
"""The last of them leave no land: a row that is not solved is a row too."""
PART_ROWS = 3


@pytest.fixture(scope="module")
def solvers(tmp_path_factory):
    """Return a scheduler and two workers that can solve."""
    solve_part(
        plan_of_test(), 0
    )  # compiles once, where it is new, and not in three processes at a time
    office = Office(tmp_path_factory.mktemp("solvers"))
    office.worker(), office.worker()
    wait_for_workers(office, 2)
    yield office
    office.close()


@pytest.fixture
def small_parts(monkeypatch):
    monkeypatch.setattr(plans, "LEAST_ROWS", dict.fromkeys(("nominal", "full"), PART_ROWS))


def plan_of_test() -> SweepPlan:
    case = load_case(WATER, (FEW,))
    return replace(grid_of((WIDTHS, COUNTS), case), part_rows=PART_ROWS)


def test_a_part_of_a_table_goes_alone_and_knows_the_ends_of_the_whole():
    grid = plan_of_test()
    values = grid.values(0, len(grid))
    table = replace(grid, axes=(), table=values)
    # by hand: widths of 0.5 to 1.5 mm, four of them, and six numbers of slots
    ends = {"channels.width": Span(0.5e-3, 1.5e-3, 4), "channels.count": Span(30.0, 80.0, 6)}
    assert grid.spans == table.spans == ends
    for n in range(grid.parts):
        assert _alone(grid, n) == (grid, n)
        alone, first = _alone(table, n)
        batch = alone.batch(alone.rows_of(first).start, alone.rows_of(first).stop)
        rows = grid.rows_of(n)
        assert len(alone) == len(rows)
        assert batch.spans == ends
        assert same(batch.values, values[rows.start : rows.stop])


def same(one: object, other: object) -> bool:
    """Return whether two values are equal to the last bit, NaN and texts included."""
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[k], other[k]) for k in one)
    if isinstance(one, np.ndarray) and one.dtype != object:
        return one.dtype == other.dtype and one.tobytes() == other.tobytes()
    if isinstance(one, np.ndarray):
        return one.tolist() == other.tolist()
    return one == other


def swept(folder, *more: str):
    arguments = ("sweep", WATER, "--set", FEW, "--vary", WIDTHS, "--vary", COUNTS)
    return CliRunner().invoke(app, [str(a) for a in (*arguments, "-o", folder, *more)])


@pytest.mark.full
def test_a_sweep_stopped_on_a_cluster_goes_on_there_and_is_the_local_one(
    solvers, small_parts, tmp_path, monkeypatch
):
    far, near = tmp_path / "far", tmp_path / "near"
    keep, kept = Store.keep, []

    def stopped_at_the_fourth(self, n, rows):
        if len(kept) == 3:
            raise KeyboardInterrupt
        keep(self, n, rows)
        kept.append(n)

    monkeypatch.setattr(Store, "keep", stopped_at_the_fourth)
    first = swept(far, "--cluster", solvers.address)
    assert first.exit_code == 130, first.stderr
    assert "stopped: 9 of 24 rows are finished and kept" in first.stderr
    monkeypatch.setattr(Store, "keep", lambda self, n, rows: (kept.append(n), keep(self, n, rows)))
    second = swept(far, "--cluster", solvers.address)
    assert second.exit_code == 0, second.stderr
    assert "workers: 2, threads: 2" in second.stderr
    assert sorted(kept) == list(range(8))
    monkeypatch.setattr(Store, "keep", keep)
    assert swept(near).exit_code == 0
    assert (far / "sweep.csv").read_bytes() == (near / "sweep.csv").read_bytes()
    assert len((near / "sweep.csv").read_text().splitlines()) == 25


def test_a_sweep_on_a_scheduler_that_does_not_answer_is_refused(tmp_path, small_parts, monkeypatch):
    monkeypatch.setattr("regen.studies.sweep.scheduler.CONNECT", 1.0)
    done = swept(tmp_path / "far", "--cluster", "127.0.0.1:1")
    assert done.exit_code == 2
    assert "no Dask scheduler answers there" in done.stderr
    assert "bug" not in done.stderr


def test_threads_are_of_this_machine(tmp_path):
    done = swept(tmp_path / "far", "--cluster", "127.0.0.1:1", "--threads", "2")
    assert done.exit_code == 2
    assert "--threads is of this machine" in done.stderr
    assert not (tmp_path / "far").exists()


def test_rows_are_those_of_this_machine_though_a_worker_is_killed(solvers):
    plan, found = plan_of_test(), {}
    victim = solvers.processes[1]
    with connected(solvers.address) as workers:
        for n, rows in workers(plan, range(plan.parts)):
            assert n not in found
            found[n] = rows
            if len(found) == 2:
                victim.send_signal(signal.SIGKILL)
    assert victim.wait() == -signal.SIGKILL
    assert sorted(found) == list(range(plan.parts))
    status = np.concatenate([rows.status for rows in found.values()])
    assert 0 < np.sum(status == "solved") < status.size
    for n, rows in found.items():
        own = solve_part(plan, n)
        for name in ("status", "reason", "verdict", "x_stop", "summary", "margins", "informative"):
            assert same(getattr(rows, name), getattr(own, name)), (n, name)
