"""Parts that cost nothing: what a worker does with them says how they are handed out."""

from __future__ import annotations

import os
import time


def squared(job: float, n: int) -> tuple[int, int]:
    """Return the number's square and the process that worked it out, after ``job`` seconds."""
    time.sleep(job)
    return n * n, os.getpid()
