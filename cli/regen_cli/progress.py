"""What the commands that solve many designs share: cores, and how far they are."""

from __future__ import annotations

import os
import time

from regen_cli.options import say

STEP = 2.0
"""Least time between two lines of progress [s]."""


def cores() -> int:
    """Return the cores of this machine [-]."""
    return os.cpu_count() or 1


class Clock:
    """Says how many of something are done, and about how long the rest takes.

    Parameters
    ----------
    what : str
        What is counted, in words.
    before : int
        How many were finished before this run [-].
    """

    def __init__(self, what: str, before: int = 0) -> None:
        self.what, self.before = what, before
        self.first: int | None = None
        self.started = self.told = 0.0

    def __call__(self, done: int, total: int) -> None:
        """Tell, at most every ``STEP``, that ``done`` of ``total`` are done [-]."""
        now = time.monotonic()
        if done == self.before:
            if done:
                say(f"{done} of {total} {self.what} were finished before")
            if done < total:
                more = "the first run compiles the physics and builds tables"
                say(f"{total - done} {self.what} ({more})")
        elif self.first is None:
            # the first may have compiled: it says nothing of the rest
            self.first, self.started, self.told = done, now, now
        elif now - self.told >= STEP and done < total:
            left = (now - self.started) / (done - self.first) * (total - done)
            say(f"{done} of {total} {self.what}, about {left:.0f} s left")
            self.told = now
