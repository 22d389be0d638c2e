"""Print the ratios that the design promises, as JSON: ``python -m tests.benchmark``.

Everything compared is measured in turn within one run, and the median of the repeats counts:
ratios hold from machine to machine, times do not.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from typing import Any

import numpy as np

from regen.checks.stations import energy_residual, peak_at
from regen.gas import table as hotgas
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.solver.models import model_row
from regen.solver.prepare import Prepared, prepare
from regen.solver.solve import solve_nominal
from tests.benchmark import batches, checks, reference
from tests.benchmark.timing import CASES, DEMO, design_of, interleaved

RUNS = 2048
KERNEL_CALLS = 100
SPREAD = np.linspace(0.9, 1.1, RUNS)
"""Factor on the gas side that makes every run of a batch another design."""


ONE_CIRCUIT = ('coolant.inlet_pressure="60 bar"', 'channels.depth="1.2 mm"')
"""So that the calorimeter's water gets through all its slots in one go."""


def arguments(prepared: Prepared, runs: int = 1, **fields: float) -> tuple[Any, ...]:
    rows = np.repeat(prepared.run, runs)
    if runs > 1:
        rows["gas_factor"] = SPREAD[:runs]
    for name, value in fields.items():
        rows[name] = value
    models = np.repeat(model_row(prepared), runs)
    tables = prepared.geometry, prepared.gas, prepared.coolant, prepared.walls
    return (*tables, rows, models)


def against_reference(repeat: int) -> dict[str, Any]:
    """Kernel against the hand-written march: same stations, no heat returned."""
    found = {}
    for name in (DEMO, "b-hydrogen", "d-water-calorimeter"):
        more = ONE_CIRCUIT if name == "d-water-calorimeter" else ()
        design = design_of(name, "coolant.returns_to_injector=false", *more)
        prepared = prepare(replace(design, circuits=()))  # the march by hand knows one
        args = arguments(prepared)

        def kernel(args: tuple[Any, ...] = args) -> None:
            for _ in range(KERNEL_CALLS):
                march_all(*args)

        def by_hand(prepared: Prepared = prepared) -> None:
            reference.march(prepared)

        out, _ = march_all(*args)
        rows, p_out = reference.march(prepared)
        times = interleaved(repeat, {"kernel": kernel, "by hand": by_hand})
        station, total = out.station[0], out.total[0]
        drop = prepared.run["pressure"][0] - p_out
        found[name] = {
            "times_faster": times["by hand"] / (times["kernel"] / KERNEL_CALLS),
            "T_wall_hot_differs_K": float(np.abs(station[:, A.O_T_WALL_HOT] - rows[:, 0]).max()),
            "q_differs": float(np.abs(station[:, A.O_Q] / rows[:, 3] - 1).max()),
            "drop_differs": float(abs((total[A.T_P_IN] - total[A.T_P_OUT]) / drop - 1)),
        }
    return found


def kernel_alone(repeat: int) -> dict[str, Any]:
    """Designs per second: 51 stations, default correlations."""
    prepared = prepare(design_of(DEMO, "models.stations=51"))
    p_out = float(solve_nominal(prepared).total[A.T_P_OUT])
    modes = {
        "inlet given": arguments(prepared, RUNS, returns=0.0),
        "outlet given": arguments(prepared, RUNS, returns=0.0, outlet_given=1, pressure=p_out),
        "heat returned": arguments(prepared, RUNS),
    }
    jobs = {
        f"{mode}, {threads}": lambda args=args, threads=threads: march_all(*args, threads=threads)
        for mode, args in modes.items()
        for threads in (1, 2)
    }
    solved = {mode: int(np.sum(march_all(*args)[1][:, 0] == st.OK)) for mode, args in modes.items()}
    times = interleaved(repeat, jobs)
    return {
        mode: {
            "designs_per_second_1_thread": RUNS / times[f"{mode}, 1"],
            "designs_per_second_2_threads": RUNS / times[f"{mode}, 2"],
            "two_over_one": times[f"{mode}, 1"] / times[f"{mode}, 2"],
            "solved": solved[mode] / RUNS,
        }
        for mode in modes
    }


def resolution() -> dict[str, Any]:
    """75 stations against 1600, and the energy balance of each case."""
    found = {}
    for path in sorted(CASES.glob("*.toml")):
        design = design_of(path.stem)
        fine = replace(design, models=replace(design.models, stations=1600))
        coarse, ideal = prepare(design), prepare(fine)
        runs = [solve_nominal(p) for p in (coarse, ideal)]
        drops = [float(run.total[A.T_P_IN] - run.total[A.T_P_OUT]) for run in runs]
        walls = [
            peak_at(p, run.station, A.O_T_WALL_HOT)[0]
            for p, run in zip((coarse, ideal), runs, strict=True)
        ]
        found[path.stem] = {
            "drop_differs": abs(drops[0] / drops[1] - 1),
            "T_wall_hot_max_differs_K": abs(walls[0] - walls[1]),
            "energy_residual": energy_residual(runs[0], coarse.paths),
        }
    return found


def gas_table(repeat: int) -> dict[str, float]:
    """Hot-gas table of one chamber after the first, always another mixture ratio [s]."""
    with tempfile.TemporaryDirectory() as cache:
        os.environ["REGEN_CACHE"] = cache
        design = design_of(DEMO)
        ratios = iter(np.linspace(2.9, 3.1, repeat + 1))

        def build() -> None:
            propellants = replace(design.propellants, mixture_ratio=float(next(ratios)))
            hotgas.gas_table(
                propellants,
                design.chamber,
                contraction_ratio=6.0,
                area_ratio_max=8.0,
                fuel_feed=(120.0, 90e5),
            )

        build()
        return {"next_s": interleaved(repeat, {"next": build})["next"]}


def processes(repeat: int, cache: str | None) -> dict[str, float]:
    """Whole processes: help, and a solve with warm caches of a channel width never seen."""
    environment = dict(os.environ)
    environment.pop("REGEN_CACHE", None)
    if cache:
        environment["REGEN_CACHE"] = cache
    widths = iter(f"0.{7001 + n} mm" for n in range(repeat + 1))
    regen = [sys.executable, "-m", "regen_cli"]

    def call(*command: str) -> None:
        subprocess.run(command, check=False, capture_output=True, env=environment)

    with tempfile.TemporaryDirectory() as out:

        def solve() -> None:
            width = f"channels.width={next(widths)}"
            call(*regen, "solve", str(CASES / f"{DEMO}.toml"), "--set", width, "-o", out)

        solve()
        times = interleaved(
            repeat,
            {
                "import": lambda: call(sys.executable, "-c", "import CoolProp.CoolProp"),
                "solve": solve,
                "help": lambda: call(*regen, "--help"),
            },
        )
    return {
        "solve_over_import_of_CoolProp": times["solve"] / times["import"],
        "help_over_import_of_CoolProp": times["help"] / times["import"],
        "import_of_CoolProp_s": times["import"],
    }


def first_run() -> float:
    """Return the time of the very first solve, every cache empty [s]."""
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "REGEN_CACHE": f"{folder}/cache"}
        command = [sys.executable, "-m", "regen_cli", "solve", str(CASES / f"{DEMO}.toml")]
        start = time.perf_counter()
        subprocess.run([*command, "-o", f"{folder}/out"], capture_output=True, env=environment)
        return time.perf_counter() - start


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=7, help="runs of which the median counts")
    parser.add_argument(
        "--long", action="store_true", help="up to a million designs: half an hour more"
    )
    parser.add_argument("--short", action="store_true", help="without whole batches of designs")
    given = parser.parse_args()
    repeat = given.repeat
    counts, threads = ((10_000, 100_000, 1_000_000), 2) if given.long else ((1000, 3000, 10_000), 1)
    cache = os.environ.get("REGEN_CACHE")
    found = {
        "kernel_against_reference": against_reference(repeat),
        "batches": kernel_alone(repeat),
        "75_stations_against_1600": resolution(),
        "gas_table": gas_table(repeat),
        "processes": processes(repeat, cache),
        "strength_and_life": checks.cost(repeat),
        "first_run_s": first_run(),
        "kernel_against_minimal": batches.kernel_against_minimal(repeat),
    }
    if not given.short:
        found |= {
            "batches": batches.batches(repeat),
            "sizing": batches.sizing(min(repeat, 3)),
            "time_against_designs": batches.linear(counts, min(repeat, 5), threads),
            "memory": batches.memory(batches.SIDE if given.long else batches.QUICK_SIDE),
        }
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main()
