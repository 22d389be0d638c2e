"""What a second worker brings, and what a sweep ships and stores.

``python -m tests.benchmark.cluster`` prints it as JSON. Everything compared is measured in turn,
round after round; a ratio is the median of the ratios of each round. Rounds in which others used
the machine meanwhile are left out, if there are any without.
"""

from __future__ import annotations

import argparse
import json
import os
import pickle
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack
from dataclasses import replace
from itertools import repeat
from multiprocessing import get_context
from pathlib import Path
from statistics import median
from typing import Any

import psutil  # comes with Dask

from regen.case.read import load_case
from regen.output.sweep import Store
from regen.output.sweep_table import summary_of
from regen.studies.batch.designs import Judged, Rows
from regen.studies.sweep.cluster import connected
from regen.studies.sweep.plan import SweepPlan
from regen.studies.sweep.study import Local, solve_part
from regen.studies.sweep.vary import grid_of
from tests.cluster.conftest import wait_for_workers
from tests.cluster.office import Office
from tests.cluster.parts import squared
from tests.helpers.places import CASES

VARIED = (
    "channels.width=0.7:0.85:100:mm",
    "channels.depth=95%:120%:100",
    "liner.wall=0.7:0.9:100:mm",
)
"""A million designs around the demo, nearly all of which are solved."""

PART_ROWS = 256
"""A quarter to an eighth of what the rule makes of a million: harder for the scheduler."""

PARTS = 16

QUIET = 0.15
"""Cores that others may keep busy before a round says nothing of this program [-]."""

TASKS = 2000


def demo(judged: Judged = "nominal") -> SweepPlan:
    case = load_case(CASES / "a-methane.toml", ())
    return replace(grid_of(VARIED, case, judged), part_rows=PART_ROWS)


def spread_out(plan: SweepPlan, number: int) -> list[int]:
    """Return numbers of parts all over the plan."""
    return [n * plan.parts // number for n in range(number)]


class Watch:
    """Tells how much of the machine others took meanwhile: the benchmark's processes are ours."""

    def __init__(self) -> None:
        self.at = self._now()

    def others(self) -> float:
        """Return cores that others kept busy since the start [-]."""
        (wall, busy, own), (wall_0, busy_0, own_0) = self._now(), self.at
        return ((busy - busy_0) - (own - own_0)) / (wall - wall_0)

    def _now(self) -> tuple[float, float, float]:
        every = psutil.cpu_times()
        ours = [psutil.Process(), *psutil.Process().children(recursive=True)]
        own = sum(sum(process.cpu_times()[:2]) for process in ours)
        return time.perf_counter(), sum(every) - every.idle - every.iowait, own


def rate(run: Any, plan: SweepPlan, parts: list[int]) -> tuple[float, float]:
    """Return rows a second, and the cores that others kept busy meanwhile."""
    watch, start = Watch(), time.perf_counter()
    rows = sum(len(rows) for _, rows in run(plan, parts))
    return rows / (time.perf_counter() - start), watch.others()


class Processes:
    """Parts over plain processes: what the machine gives without any scheduler."""

    def __init__(self, number: int) -> None:
        self.pool = ProcessPoolExecutor(number, mp_context=get_context("spawn"))

    def __call__(self, plan: SweepPlan, parts: list[int]) -> Iterator[tuple[int, Rows]]:
        yield from zip(parts, self.pool.map(solve_part, repeat(plan), parts), strict=True)


def offices(stack: ExitStack, folder: Path) -> Iterator[tuple[str, Any]]:
    """Yield clusters on this machine, idle but while one of them is measured."""
    for name, workers, threads in (
        ("1 worker", 1, 1),
        ("2 workers", 2, 1),
        ("1 worker of 2 threads", 1, 2),
    ):
        place = folder / name.replace(" ", "-")
        place.mkdir()
        office = Office(place)
        stack.callback(office.close)
        for _ in range(workers):
            office.worker(threads=threads)
        wait_for_workers(office, workers)
        yield name, stack.enter_context(connected(office.address))


def efficiency(rounds_wanted: int) -> dict[str, Any]:
    """Rows a second here and on workers, nominal runs alone: the least work for a part."""
    plan = demo()
    solve_part(plan, 0)
    parts = spread_out(plan, PARTS)
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        runs: dict[str, Any] = {"1 thread": Local(1), "2 threads": Local(2)}
        for number in (1, 2):
            processes = runs[f"{number} processes"] = Processes(number)
            stack.callback(processes.pool.shutdown)
        runs |= dict(offices(stack, folder))
        for run in runs.values():
            rate(run, plan, parts[:4])
        rounds: list[dict[str, tuple[float, float]]] = []
        for _ in range(rounds_wanted):
            rounds.append({name: rate(run, plan, parts) for name, run in runs.items()})
            print(json.dumps(rounds[-1]), file=sys.stderr)
        start = time.perf_counter()
        assert len(list(runs["2 workers"].spread(squared, calls(TASKS)))) == TASKS
        tasks = TASKS / (time.perf_counter() - start)

    def quiet(*names: str) -> list[dict[str, tuple[float, float]]]:
        """Return rounds that others left alone while these were measured; all if there are none."""
        return [r for r in rounds if all(r[name][1] < QUIET for name in names)] or rounds

    def over(one: str, two: str) -> float:
        return median(r[two][0] / r[one][0] for r in quiet(one, two))

    return {
        "rows_per_second": {name: median(r[name][0] for r in quiet(name)) for name in runs},
        "two_workers_over_one": over("1 worker", "2 workers"),
        "two_processes_over_one": over("1 processes", "2 processes"),
        "two_threads_over_one": over("1 thread", "2 threads"),
        "one_worker_over_one_thread": over("1 thread", "1 worker"),
        "rounds": len(rounds),
        "rounds_of_the_workers_alone": sum(
            max(r["1 worker"][1], r["2 workers"][1]) < QUIET for r in rounds
        ),
        "rows_per_part": plan.part_rows,
        "parts": len(parts),
        "empty_parts_per_second": tasks,
    }


def calls(number: int) -> list[tuple[int, tuple[float, int]]]:
    return [(n, (0.0, n)) for n in range(number)]


def runs() -> dict[str, float]:
    """Rows a second of one thread's own time, by the runs that are judged."""
    found = {}
    for judged in ("nominal", "worst", "full"):
        plan = replace(demo(judged), part_rows=128)
        solve_part(plan, 0)
        start = time.thread_time()
        rows = sum(len(solve_part(plan, n)) for n in spread_out(plan, 4))
        found[judged] = rows / (time.thread_time() - start)
    return found


def sizes() -> dict[str, float]:
    """Bytes that are shipped and stored with all runs judged, and what this machine does."""
    plan = demo("full")
    table, spans = plan.values(0, 1024), plan.spans
    small = replace(plan, axes=(), table=table, whole=spans, part_rows=128)
    parts = dict(Local(2)(small, range(small.parts)))
    found = {
        "grid_job": len(pickle.dumps(plan)),
        "table_job": len(pickle.dumps(small)),
        "rows_back_per_row": len(pickle.dumps(parts[0])) / len(parts[0]),
    }
    for form in ("csv", "parquet"):
        with tempfile.TemporaryDirectory() as folder:
            store = Store(Path(folder), small, "0", form)
            start = time.perf_counter()
            for n, rows in parts.items():
                store.keep(n, rows)
            found["kept_rows_per_s"] = len(small) / (time.perf_counter() - start)
            store.join()
            found[f"{form}_per_row"] = store.table.stat().st_size / len(small)
            start = time.perf_counter()
            summary_of(store.table, small, store.informative)
            found["read_rows_per_s"] = len(small) / (time.perf_counter() - start)
            store.close()
    with tempfile.TemporaryDirectory() as folder:
        program = "from tests.benchmark.cluster import demo, solve_part; solve_part(demo(), 0)"
        environment = os.environ | {"REGEN_CACHE": folder}
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", program], env=environment, check=True)
        found["first_part_of_a_new_machine_s"] = time.perf_counter() - start
        files = [path for path in Path(folder).rglob("*") if path.is_file()]
        tables = [path for path in files if path.suffix == ".npz"]
        found["tables"] = sum(path.stat().st_size for path in tables)
        found["compiled"] = sum(path.stat().st_size for path in files) - found["tables"]
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=5, help="rounds")
    wanted = parser.parse_args().repeat
    found = {
        "efficiency": efficiency(wanted),
        "rows_per_second_of_one_thread": runs(),
        "bytes_and_rates": sizes(),
    }
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main()
