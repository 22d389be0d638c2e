"""Parts that cost nothing: what a worker does with them says how they are handed out."""

from __future__ import annotations

import os
import signal
import time


def squared(job: float, n: int) -> tuple[int, int]:
    """Return the number's square and the process that worked it out, after ``job`` seconds."""
    time.sleep(job)
    return n * n, os.getpid()


def fatal(job: float, n: int) -> tuple[int, int]:
    """Kill the worker that has number 3, as a machine does that runs out of memory."""
    if n == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    return squared(job, n)
