"""The parts of a study on other machines: a Dask scheduler hands them to its workers.

A part goes only to a worker that runs the same sources and versions as this process. A part is
a pure function of the plan and its number: a worker that dies costs time, never a row, and a row
that is solved twice is handed over once.
"""

# ruff: noqa: EM101, EM102 - these messages are read by people, never in a traceback

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from regen.studies.sweep import scheduler
from regen.studies.sweep.fingerprint import HOST, differences, fingerprint
from regen.studies.sweep.scheduler import (
    JOIN,
    ClusterError,
    client_of,
    dask,
    place_of,
    quiet,
    texts,
)

if TYPE_CHECKING:
    from regen.studies.batch.designs import Rows
    from regen.studies.sweep.plan import SweepPlan

Report = Callable[[str], None]
Function = Callable[..., Any]
Call = tuple[int, tuple[Any, ...]]
"""A number, and the arguments of the function that is called."""

Sent = tuple[Call, frozenset[str]]
"""A call that was handed out, and the workers that may answer it."""

ASK = 60.0
"""How long a worker may take to say what it runs: it imports everything first [s]."""

ALONE = 120.0
"""How long a study waits for a worker after its last one has gone [s]."""

DEATHS = 4
"""A part that so many workers died with is not tried again [-]."""

FETCH = 10.0
"""How long the answer of a worker may take to arrive before it is asked again [s]."""

POLL = 0.002
"""Time between two looks at whether a part is done [s]: the workers have the next at hand."""

TICK = 1.0
"""Time between two looks at who has come and who has gone [s]."""

AHEAD = 3
"""Parts handed out per thread of a worker: one in work, the next ones at hand."""


@dataclass(frozen=True)
class Refused:
    """In place of a value: the worker runs something else than this process."""

    worker: str
    runs: Mapping[str, str]


def guarded(own: Mapping[str, str], function: Function, arguments: tuple[Any, ...]) -> Any:
    """Call a function on a worker if it runs what ``own`` says; else say what it runs.

    Whoever starts a worker anew with other sources at an address that was looked at before
    must not slip in: the look is taken once more where the work is done.
    """
    runs = fingerprint()
    if differences(own, runs):
        return Refused(dask().get_worker().address, runs)
    return function(*arguments)


@contextmanager
def connected(address: str, report: Report = lambda text: None) -> Iterator[Cluster]:
    """Connect to a scheduler at "host:port", and look at every worker before anything is sent.

    ``report`` receives a line about each worker that comes, goes or is left out. Raises
    ``ClusterError`` if Dask is not installed, no scheduler answers, it has no worker, or a worker
    runs other sources or versions.
    """
    place = place_of(address)
    dask()
    with quiet():
        client = client_of(place)
        try:
            cluster = Cluster(client, place, report)
            cluster.meet()
            yield cluster
        finally:
            client.close(timeout=scheduler.CONNECT)


class Cluster:
    """The workers of one scheduler that run what this process runs."""

    def __init__(self, client: Any, place: str, report: Report) -> None:
        self._client, self._place, self._report = client, place, report
        self._own = fingerprint()
        self._threads: dict[str, int] = {}
        self._asked: dict[str, Any] = {}
        self._left_out: set[str] = set()
        self._deaths: Counter[int] = Counter()

    @property
    def threads(self) -> int:
        """Threads of all workers that may solve."""
        return sum(self._threads.values())

    @property
    def workers(self) -> int:
        """Workers that may solve."""
        return len(self._threads)

    @property
    def _strength(self) -> str:
        return f"workers: {self.workers}, threads: {self.threads}"

    def _error(self, name: str, **places: object) -> ClusterError:
        text = texts()[name].format(join=JOIN.format(address=self._place), **places)
        return ClusterError(f"--cluster {self._place}: {text}")

    def meet(self) -> None:
        """Look at every worker that is there; one that differs stops the study before it starts."""
        other: dict[str, str] = {}

        def all_answered() -> bool:
            other.update(self._look())
            self._left_out |= other.keys()
            return not self._asked

        with self._lost_connections_explained():
            self._see_scheduler()
            if not _waited(self._client.nthreads, scheduler.CONNECT, 0.2):
                raise self._error("no_worker")
            _waited(all_answered, ASK, 0.1)
        if other:
            listed = "\n".join(f"  {worker}: {what}" for worker, what in other.items())
            raise self._error("differing", listed=listed)
        if not self._threads:
            raise self._error("no_answer", seconds=ASK, workers=", ".join(self._asked))
        for worker in self._asked:
            self._report(f"worker {worker} does not answer yet: going on without it")
        self._report(self._strength)

    def __call__(self, plan: SweepPlan, parts: Sequence[int]) -> Iterator[tuple[int, Rows]]:
        """Solve parts of a sweep on the workers, each part by one thread; yield as they finish."""
        from regen.studies.sweep.study import solve_part

        return self.spread(solve_part, ((n, _alone(plan, n)) for n in parts))

    def spread(self, function: Function, calls: Iterable[Call]) -> Iterator[tuple[int, Any]]:
        """Call a function on the workers, a few calls for each thread at a time.

        ``function`` is pure, and importable on the workers. Yields the number and the value of
        each call once, as they finish. Raises ``ClusterError`` if the scheduler or the last worker
        has gone for good, or a call costs every worker.
        """
        left, again = iter(calls), list[Call]()
        running: dict[Any, Sent] = {}
        coming = dask().as_completed(loop=self._client.loop, with_results=True, raise_errors=False)
        looked = alone = 0.0
        try:
            with self._lost_connections_explained():
                while True:
                    now = time.monotonic()
                    if now - looked >= TICK:
                        before = set(self._threads)
                        self._leave_out(self._look())
                        if self._threads.keys() - before:
                            self._report(self._strength)
                        again += self._stranded(running)
                        looked = now
                    alone = self._patient(alone, now)
                    may = frozenset(self._threads)
                    while may and len(running) < AHEAD * self.threads:
                        call = again.pop() if again else next(left, None)
                        if call is None:
                            break
                        future = self._submit(may, guarded, self._own, function, call[1])
                        running[future] = (call, may)
                        coming.add(future)
                    if may and not running and not again:
                        return
                    failed = None
                    for future, value in _ready(coming):
                        if future not in running:  # it was called back
                            continue
                        (n, arguments), _ = running.pop(future)
                        if future.status == "error":
                            failed = future.exception()
                            if isinstance(failed, dask().KilledWorker):
                                failed = self._error("deadly", n=n)
                        elif isinstance(value, CancelledError):
                            raise value
                        elif isinstance(value, Refused):
                            self._leave_out({value.worker: self._difference(value.runs)})
                            again.append((n, arguments))
                        else:
                            yield n, value
                    if failed is not None:
                        raise failed
        finally:
            if self._client.status == "running":
                self._client.cancel(list(running), force=True)

    def _submit(self, workers: Iterable[str], *call: Any, **more: Any) -> Any:
        more |= {"workers": list(workers), "allow_other_workers": False, "pure": False}
        return self._client.submit(*call, **more)

    def _stranded(self, running: dict[Any, Sent]) -> list[Call]:
        """Call back calls of which no worker is left that may answer them."""
        lost = [future for future, (_, may) in running.items() if not may & self._threads.keys()]
        calls = [running.pop(future)[0] for future in lost]
        if lost:
            self._client.cancel(lost, force=True)
        for n, _ in calls:
            self._deaths[n] += 1
            if self._deaths[n] == DEATHS:
                raise self._error("deadly", n=n)
        return calls

    def _patient(self, since: float, now: float) -> float:
        """Return since when there is no worker, 0 if there is one; patience has an end."""
        if self._threads:
            return 0.0
        if not since:
            self._report(f"no worker is left: waiting {ALONE:.0f} s for another")
            return now
        if now - since > ALONE:
            raise self._error("none_left")
        return since

    def _look(self) -> dict[str, str]:
        """See who has come and gone, and ask newcomers what they run.

        Returns those that have answered since and differ, with what differs.
        """
        here = self._client.nthreads()
        for gone in self._threads.keys() - here.keys():
            del self._threads[gone]
            self._report(f"worker {gone} has gone: {self.workers} left")
        self._left_out &= here.keys()
        self._asked = {worker: one for worker, one in self._asked.items() if worker in here}
        for worker in here.keys() - self._threads.keys() - self._left_out - self._asked.keys():
            self._asked[worker] = self._submit([worker], fingerprint, priority=1)
        other = {}
        for worker in [worker for worker, answer in self._asked.items() if answer.done()]:
            what = self._answered(self._asked.pop(worker))
            if what:
                other[worker] = what
            elif what is not None:  # None: it has gone, or will be asked again
                self._threads[worker] = here[worker]
        return other

    def _answered(self, answer: Any) -> str | None:
        """Return what differs on a worker, "" if nothing does, None if the answer was lost."""
        if answer.status == "error":
            return f"regen cannot be loaded there ({answer.exception()})"
        try:
            return self._difference(answer.result(timeout=FETCH))
        except TimeoutError:
            return None

    def _difference(self, runs: Mapping[str, str]) -> str:
        what = differences(self._own, runs)
        return f"on {runs.get(HOST, 'an unknown host')}: {what}" if what else ""

    def _leave_out(self, other: Mapping[str, str]) -> None:
        """Leave out workers that came later and differ: the study goes on without them."""
        for worker, what in other.items():
            if worker not in self._left_out:
                self._left_out.add(worker)
                self._threads.pop(worker, None)
                self._report(f"worker {worker} is left out, {what}")

    def _see_scheduler(self) -> None:
        """Refuse a scheduler that does not know regen: it reads every task it passes on."""
        try:
            self._client.run_on_scheduler(_nothing)
        except (ImportError, AttributeError) as error:
            raise self._error("no_regen", error=error) from error

    @contextmanager
    def _lost_connections_explained(self) -> Iterator[None]:
        try:
            yield
        except (OSError, TimeoutError, CancelledError) as error:
            raise self._error("lost") from error


def _waited(ready: Callable[[], Any], seconds: float, pause: float) -> Any:
    """Return what ``ready`` gives once it gives something, or after so many seconds."""
    until = time.monotonic() + seconds
    while not (value := ready()) and time.monotonic() < until:
        time.sleep(pause)
    return value


def _ready(coming: Any) -> list[tuple[Any, Any]]:
    """Return the calls that are done with their values, after a while none.

    Values are fetched beside each other: one that is lost with its worker, and is worked out
    anew, holds up none of the others.
    """
    return list(coming.next_batch(block=False)) if _waited(coming.has_ready, TICK, POLL) else []


def _nothing() -> None:
    """Do nothing: whoever can read this knows regen."""


def _alone(plan: SweepPlan, n: int) -> tuple[SweepPlan, int]:
    """Return a plan that has part n, and the part's number in it.

    A grid is a few numbers and goes as it is; of a table of designs go the part's own rows, and
    the ends of the whole.
    """
    if plan.table is None:
        return plan, n
    rows = plan.rows_of(n)
    return replace(plan, table=plan.table[rows.start : rows.stop], whole=plan.spans), 0
