"""Many designs: the full kernel against the least one, whole batches, a million of them, sizing."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from statistics import median
from typing import Any

import numpy as np

from regen.case.read import load_case
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.solver.models import first_models, ids_of
from regen.solver.prepare import Prepared
from regen.studies.batch.designs import DesignBatch, Judged, solve_batch
from regen.studies.batch.template import template_of
from regen.studies.size.study import size
from regen.studies.sweep.plan import SweepPlan
from regen.studies.sweep.study import Local
from regen.studies.sweep.vary import grid_of
from tests.benchmark import minimal
from tests.benchmark.timing import CASES, DEMO, INLET_GIVEN, Jobs, design_of, interleaved, rounds

STATIONS = "models.stations=51"
RUNS = 2048
ROWS: dict[Judged, int] = {"nominal": 1024, "worst": 512, "full": 128}
"""Designs of a batch by the runs judged: a part of a sweep."""

SIDE = 100
QUICK_SIDE = 22


def varied(side: int) -> tuple[str, ...]:
    """Return side^3 designs around the demo, nearly all of which are solved."""
    return (
        f"channels.width=0.7:0.85:{side}:mm",
        f"channels.depth=95%:120%:{side}",
        f"liner.wall=0.7:0.9:{side}:mm",
    )


def plan_of(rows: int, *given: str) -> SweepPlan:
    """Return random designs among those varied; the first ones of the largest plan."""
    case = load_case(CASES / f"{DEMO}.toml", [STATIONS, *given])
    whole = grid_of(varied(SIDE), case, "nominal")
    low, high = np.array([(span.low, span.high) for span in whole.spans.values()]).T
    values = np.random.default_rng(1).uniform(low, high, (rows, low.size))
    return replace(whole, axes=(), table=values, whole=whole.spans, part_rows=0)


def _batch(*given: str) -> Prepared:
    batch = plan_of(RUNS, *given).batch(0, RUNS)
    template = template_of(batch.design, batch.keys, batch.all_spans)
    return template.lay([batch.row(n) for n in range(RUNS)])


def kernel_against_minimal(repeat: int) -> dict[str, Any]:
    """Kernel with all its physics against the least one: same designs, inlet given, 51 stations."""
    prepared = _batch(*INLET_GIVEN)
    runs, models = prepared.runs[:, 0].copy(), ids_of(first_models(prepared))
    jobs: Jobs = {}
    for threads in (1, 2):
        jobs[f"full, {threads}"] = lambda threads=threads: march_all(
            *prepared.tables, runs, models, threads=threads
        )
        jobs[f"minimal, {threads}"] = lambda threads=threads: minimal.run(
            prepared, runs, threads=threads
        )
    solved = int(np.sum(march_all(*prepared.tables, runs, models)[1][:, 0] == st.OK))
    minimal.run(prepared, runs)
    times = rounds(repeat, jobs)
    found: dict[str, Any] = {"solved": solved / RUNS}
    for threads in (1, 2):
        full, least = f"full, {threads}", f"minimal, {threads}"
        found[f"{threads} thread{'s' * (threads - 1)}"] = {
            "full_designs_per_second": RUNS / median(one[full] for one in times),
            "minimal_designs_per_second": RUNS / median(one[least] for one in times),
            "full_over_minimal": median(one[least] / one[full] for one in times),
        }
    return found | _without_bends()


def _without_bends() -> dict[str, float]:
    """Return how far the two kernels are apart where they solve the same."""
    prepared = _batch(*INLET_GIVEN, 'models.curvature="off"')
    runs, models = prepared.runs[:, 0].copy(), ids_of(first_models(prepared))
    out, status = march_all(*prepared.tables, runs, models)
    rows, totals, _ = minimal.run(prepared, runs)
    good = status[:, 0] == st.OK
    walls = rows[good, :, minimal.T_HOT] / out.station[good, :, A.O_T_WALL_HOT]
    drops = totals[:, minimal.DROP] / (out.total[:, A.T_P_IN] - out.total[:, A.T_P_OUT])
    return {
        "T_wall_hot_differs": float(np.abs(walls - 1.0).max()),
        "drop_differs": float(np.abs(drops[good] - 1.0).max()),
    }


def batches(repeat: int) -> dict[str, Any]:
    """Designs per second of whole batches, solved and judged, by the runs judged."""
    jobs: Jobs = {}
    for mode, given in (("inlet given", INLET_GIVEN), ("as it is", ())):
        for judged, count in ROWS.items():
            batch = plan_of(count, *given).batch(0, count)
            for threads in (1, 2):
                jobs[f"{mode}, {judged}, {threads}"] = (
                    lambda batch=batch, judged=judged, t=threads: solve_batch(
                        batch, judged=judged, threads=t
                    )
                )
            solve_batch(
                DesignBatch(batch.design, batch.keys, batch.values[:2], spans=batch.all_spans),
                judged=judged,
            )
    times = interleaved(repeat, jobs)
    found: dict[str, Any] = {}
    for name, seconds in times.items():
        mode, judged, threads = name.split(", ")
        rate = ROWS[judged] / seconds  # type: ignore[index]
        found.setdefault(mode, {}).setdefault(judged, {})[f"{threads}_per_second"] = rate
    return found


def linear(counts: tuple[int, ...], repeat: int, threads: int) -> dict[str, Any]:
    """Time of a sweep against its designs, part by part as a sweep goes, nothing written."""
    jobs: Jobs = {}
    for count in counts:
        plan = plan_of(count, *INLET_GIVEN)

        def consumed(plan: Any = plan) -> int:
            return sum(len(rows) for _, rows in Local(threads)(plan, range(plan.parts)))

        jobs[str(count)] = consumed
    jobs[str(counts[0])]()
    times = interleaved(repeat, jobs)
    each = {count: times[count] / int(count) for count in times}
    middle = median(each.values())
    return {
        "seconds": times,
        "designs_per_second": {count: 1.0 / t for count, t in each.items()},
        "largest_deviation": max(abs(t / middle - 1.0) for t in each.values()),
        "threads": threads,
    }


def memory(side: int) -> dict[str, float]:
    """A whole ``regen sweep`` of side^3 designs in a process of its own: memory and time."""
    command = [sys.executable, "-m", "regen_cli", "sweep", str(CASES / f"{DEMO}.toml")]
    for key in varied(side):
        command += ["--vary", key]
    for given in (STATIONS, *INLET_GIVEN):
        command += ["--set", given]
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        silent = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        child = subprocess.Popen([*command, "--judge", "nominal", "-o", folder], **silent)
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        seconds = time.perf_counter() - start
    return {
        "designs": side**3,
        "exit_code": child.returncode,
        "largest_resident_MB": used.ru_maxrss / 1024.0,  # the system counts in kB
        "designs_per_second": side**3 / seconds,
    }


def sizing(repeat: int) -> dict[str, Any]:
    """Sizing of the demo, its tables at hand [s]."""
    design = design_of(DEMO)
    start = time.perf_counter()
    sized = size(design, threads=2)
    first = time.perf_counter() - start
    times = interleaved(repeat, {"sizing": lambda: size(design, threads=2)})
    return {"first_s": first, "next_s": times["sizing"], "feasible": sized.feasible}
