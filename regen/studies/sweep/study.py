"""A sweep: many designs of one case, solved in parts.

The seam for whatever solves the parts, local or far away, is two things:

- ``solve_part(plan, n) -> Rows`` solves part n of a plan. It is pure: the same plan and number
  give the same rows on every thread, process and host with the same build.
- a ``Runner``, called as ``run(plan, parts)``, takes the numbers of the parts that are still to be
  solved and yields ``(n, rows)`` for each, once, in any order. ``Local`` is the one for this
  machine.

Nothing here writes; ``output.sweep`` keeps what a runner yields.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from regen.studies.batch.designs import Rows, solve_batch
from regen.studies.sweep.plan import SweepPlan

Runner = Callable[[SweepPlan, Sequence[int]], Iterator[tuple[int, Rows]]]


def solve_part(plan: SweepPlan, n: int, *, threads: int = 1) -> Rows:
    """Solve and judge part n; the rows do not depend on the number of threads.

    Parameters
    ----------
    plan : SweepPlan
        The whole sweep.
    n : int
        Number of the part, from 0 [-].
    threads : int
        Threads to spread the part over [-].

    Returns
    -------
    Rows
        In the order of the plan, solved or not.
    """
    rows = plan.rows_of(n)
    return solve_batch(plan.batch(rows.start, rows.stop), judged=plan.judged, threads=threads)


@dataclass(frozen=True)
class Local:
    """Runner that solves parts on this machine, one on each thread; all cores by default."""

    threads: int | None = None

    def __call__(self, plan: SweepPlan, parts: Sequence[int]) -> Iterator[tuple[int, Rows]]:
        """Yield the parts in order; the next are solved while one is being written."""
        threads = self.threads or os.cpu_count() or 1
        workers = max(1, min(threads, len(parts)))
        within = threads // workers
        waiting: deque[tuple[int, Future[Rows]]] = deque()
        with ThreadPoolExecutor(workers) as pool:
            try:
                for n in parts:
                    waiting.append((n, pool.submit(solve_part, plan, n, threads=within)))
                    if len(waiting) > workers:  # no more: solved parts wait in memory
                        first, solving = waiting.popleft()
                        yield first, solving.result()
                yield from ((n, solving.result()) for n, solving in waiting)
            finally:
                pool.shutdown(cancel_futures=True)
