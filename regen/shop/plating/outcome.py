"""What a check of the shop's plan came to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Verdict = Literal["kept", "broken", "not checked", "watch", "told"]


@dataclass(frozen=True, slots=True)
class Check:
    """One check of a plan: a value [SI unit] against a limit, or why there is none.

    "watch" is outside what is usual, "told" a number without limit; only "broken" breaks a plan.
    """

    name: str
    """Short name with words and underscores, one per plan."""
    text: str
    verdict: Verdict
    source: str
    """Key in data/sources.toml."""
    value: float | None = None
    limit: float | None = None
    kind: Literal["max", "min"] = "max"
    unit: str = ""
    x_m: float | None = None
    note: str = ""


def judged(value: float, limit: float, kind: Literal["max", "min"]) -> Verdict:
    """Return whether a limit is kept.

    Parameters
    ----------
    value, limit : float
        In the same unit [any].
    kind : {"max", "min"}
        What the limit is.

    Returns
    -------
    Verdict
        "kept" or "broken"; a rounding of the last digits does not break it.
    """
    slack = 1e-9 * abs(limit)
    good = value <= limit + slack if kind == "max" else value >= limit - slack
    return "kept" if good else "broken"
