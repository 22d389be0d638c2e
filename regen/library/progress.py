"""What the library tells while it works: texts, and counts with the time that is left."""

from __future__ import annotations

import os
import time
from collections.abc import Callable

Tell = Callable[[str], None]
"""Takes a text on what is being waited for, such as ``print``."""

COMPILES = "the first run compiles the physics and builds tables"

STEP = 2.0
"""Least time between two texts [s]."""


def silent(text: str) -> None:
    """Tell nothing."""


class Clock:
    """Tells how many of something are done and about how long the rest takes.

    ``before`` of them were finished by an earlier call.
    """

    def __init__(self, what: str, tell: Tell, before: int = 0) -> None:
        self.what, self.tell, self.before = what, tell, before
        self.first: int | None = None
        self.started = self.told = 0.0

    def __call__(self, done: int, total: int) -> None:
        """Tell, at most every ``STEP``, that ``done`` of ``total`` are done."""
        now = time.monotonic()
        if done == self.before:
            if done:
                self.tell(f"{done} of {total} {self.what} were finished before")
            if done < total:
                self.tell(f"{total - done} {self.what} ({COMPILES})")
        elif self.first is None:
            # the first may have compiled: it says nothing of the rest
            self.first, self.started, self.told = done, now, now
        elif now - self.told >= STEP and done < total:
            left = (now - self.started) / (done - self.first) * (total - done)
            self.tell(f"{done} of {total} {self.what}, about {left:.0f} s left")
            self.told = now


def cores() -> int:
    """Return the cores of this machine [-]."""
    return os.cpu_count() or 1
