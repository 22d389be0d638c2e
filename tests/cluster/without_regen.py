"""Preloaded by a scheduler on whose machine regen is not installed."""

from __future__ import annotations

import sys


def dask_setup(scheduler):
    """Called by Dask as the scheduler starts."""
    sys.modules["regen"] = None
