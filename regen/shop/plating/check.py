"""One check of the plating plan: a value against its limit, or why there is none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Kind = Literal["max", "min"]
Verdict = Literal["kept", "broken", "not checked", "watch", "told"]


@dataclass(frozen=True, slots=True)
class Check:
    """A value [SI unit] with its limit and verdict.

    "watch" is outside usual practice, "told" a value without a limit; only "broken" stops a plan.
    """

    name: str
    """Unique in its plan, lower case with underscores."""
    text: str
    verdict: Verdict
    source: str
    """Key in data/sources.toml."""
    value: float | None = None
    limit: float | None = None
    kind: Kind = "max"
    unit: str = ""
    x_m: float | None = None
    note: str = ""


def judged(value: float, limit: float, kind: Kind) -> Verdict:
    """Return "kept" or "broken"; rounding of the last digits does not break a limit."""
    slack = 1e-9 * abs(limit)
    good = value <= limit + slack if kind == "max" else value >= limit - slack
    return "kept" if good else "broken"


def compare(
    name: str,
    text: str,
    source: str,
    value: float,
    limit: float | None,
    kind: Kind = "max",
    unit: str = "Pa",
    *,
    x_m: float | None = None,
    notes: Sequence[str] = (),
    remedy: str = "",
    worst: Verdict = "broken",
) -> Check:
    """Return the check of a value: "not checked" without a limit, ``worst`` beyond it.

    The note joins ``notes``, and ``remedy`` where the limit is not kept.
    """
    verdict: Verdict = "not checked"
    if limit is not None:
        verdict = judged(value, limit, kind)
    if verdict == "broken":
        verdict, notes = worst, (*notes, remedy)
    note = "; ".join(filter(None, notes))
    return Check(name, text, verdict, source, value, limit, kind, unit, x_m, note)
