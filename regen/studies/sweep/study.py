"""A sweep: many designs of one case, solved in parts.

The seam for whatever solves the parts, local or far away, is two things:

- ``solve_part(job, n) -> Rows`` solves part n of a job. It is pure: the same job and number give
  the same rows on every thread, process and host with the same build. A ``Job`` can be pickled.
- a ``Runner``, called as ``run(job, parts)``, takes the numbers of the parts that are still to be
  solved and yields ``(n, rows)`` for each, once, in any order. ``Local`` is the one for this
  machine.

Nothing here writes; ``output.sweep_files`` keeps what a runner yields.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from regen.design import Design
from regen.studies.batch.designs import Judged, Rows, solve_batch
from regen.studies.sweep.plan import Plan

LEAST_ROWS: dict[Judged, int] = {"nominal": 1024, "worst": 512, "full": 128}
"""Rows of a part by the runs judged: a second or two of one core."""

MOST_ROWS = 16384
MOST_PARTS = 2000
"""A large sweep has larger parts: a file each, and what a kill can cost stays small."""


@dataclass(frozen=True)
class Job:
    """What is solved, and how it is cut into parts of ``part_rows`` rows."""

    design: Design
    plan: Plan
    judged: Judged
    part_rows: int

    @property
    def parts(self) -> int:
        """Number of parts [-]."""
        return -(-len(self.plan) // self.part_rows)

    def rows_of(self, n: int) -> range:
        """Return the numbers of the rows of part n [-]."""
        start = n * self.part_rows
        return range(start, min(start + self.part_rows, len(self.plan)))


Runner = Callable[[Job, Sequence[int]], Iterator[tuple[int, Rows]]]


def job_of(design: Design, plan: Plan, judged: Judged) -> Job:
    """Return the job of a plan, cut into parts by a rule that depends on nothing else.

    Parameters
    ----------
    design : Design
        What the plan varies.
    plan : Plan
        The rows.
    judged : {"nominal", "worst", "full"}
        Runs that are solved and judged.

    Returns
    -------
    Job
        With parts of equal size, the last shorter.
    """
    wanted = -(-len(plan) // MOST_PARTS)
    return Job(design, plan, judged, min(max(LEAST_ROWS[judged], wanted), MOST_ROWS))


def solve_part(job: Job, n: int, *, threads: int = 1) -> Rows:
    """Solve and judge one part of a job.

    Parameters
    ----------
    job : Job
        The whole sweep.
    n : int
        Number of the part, from 0 [-].
    threads : int
        Threads to spread the part over [-]; the rows do not depend on it.

    Returns
    -------
    Rows
        In the order of the plan, solved or not.
    """
    rows = job.rows_of(n)
    batch = job.plan.batch(job.design, rows.start, rows.stop)
    return solve_batch(batch, judged=job.judged, threads=threads)


@dataclass(frozen=True)
class Local:
    """Runner that solves parts on this machine, one on each thread.

    Parameters
    ----------
    threads : int, optional
        All cores if left out [-].
    """

    threads: int | None = None

    def __call__(self, job: Job, parts: Sequence[int]) -> Iterator[tuple[int, Rows]]:
        """Yield each part in turn; the next are solved while one is being written.

        Parameters
        ----------
        job : Job
            The whole sweep.
        parts : sequence of int
            Numbers of the parts to solve [-].

        Yields
        ------
        tuple of int and Rows
            In the order of ``parts``.
        """
        threads = self.threads or os.cpu_count() or 1
        workers = max(1, min(threads, len(parts)))
        within = threads // workers
        waiting: deque[tuple[int, Future[Rows]]] = deque()
        with ThreadPoolExecutor(workers) as pool:
            try:
                for n in parts:
                    waiting.append((n, pool.submit(solve_part, job, n, threads=within)))
                    if len(waiting) > workers:  # no more: solved parts wait in memory
                        first, solving = waiting.popleft()
                        yield first, solving.result()
                for n, solving in waiting:
                    yield n, solving.result()
            finally:
                pool.shutdown(cancel_futures=True)
