"""Texts that several outputs share: verdicts, names of limits, margins, reasons and cautions."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import TypeVar

from regen.quantities import decimal, factor, shown_unit, with_unit
from regen.result import COLUMN_NAMES, Column, Margin, Result, Verdict

T = TypeVar("T")

COMPARED = (
    "compared with twelve measured walls of a heated hydrogen tube and two of a milled "
    "hydrogen-cooled cylinder (annular throat, coolant state assumed), never with a whole chamber "
    "from inlet to outlet"
)
"""What the computed walls have been compared with, in the same words everywhere."""

VERDICTS: dict[Verdict, str] = {
    "pass": "every limit is met by the nominal channel, over the band and in the worst channel",
    "open": "no limit is shown to be exceeded, but one or more are not shown to be met",
    "at risk": "the nominal channel meets the limit; a band edge or the worst channel exceeds it",
    "fail": "the nominal channel exceeds a limit",
}

SEVERITY: tuple[Verdict, ...] = ("fail", "at risk", "open")

COLUMN_LABELS = {
    "nominal": "nominal",
    "band_edge": "band edge",
    "worst_channel": "worst channel",
}

STATES = {"kept": "met", "broken": "exceeded"}
"""Of a column without a number."""

COLUMN_MARKS = "*: indicative, by a floor or a correlation not made for this fluid; ?: not known"

DECIMALS = {"bar": 1, "MPa": 1, "MW/m2": 2, "mm": 3, "firings": 0}
"""Of a limit in its shown unit."""


def limit_name(name: str, informs: bool = False) -> str:
    """Return the name of a limit in words; one that only informs says so."""
    text = name.replace("_", " ").replace("mach", "Mach number")
    return f"{text} (information)" if informs else text


def limit_of(margins: Iterable[Margin], name: str) -> float | None:
    """Return the value of the limit of a name [SI], None if it is not among them or not known."""
    return next((margin.limit for margin in margins if margin.name == name), None)


def percent(margin: float | None) -> str:
    """Return a margin [-] in per cent of its limit."""
    return "not evaluated" if margin is None else f"{_percent(margin):+} %"


def _percent(margin: float) -> float:
    """Return a margin in per cent, never rounded so far that an exceeded limit looks met."""
    value = 100.0 * margin
    if abs(value) >= 1.0 or value == 0.0:
        return round(value)
    return round(value, 1) or math.copysign(0.1, value)


def column_text(margin: Margin, name: str) -> str:
    """Return one of ``COLUMN_NAMES`` of a limit's row, see ``COLUMN_MARKS``; "-": no demand."""
    column = margin.columns.get(name)
    if column is None or not column.asked:
        return "-"
    if column.state == "unknown":
        return "?"
    text = STATES[column.state] if column.margin is None else percent(column.margin)
    return f"{text}*" if column.indicative else text


def limit_text(margin: Margin) -> str:
    """Return a limit with its sense and unit."""
    if margin.limit is None:
        return "not known" if margin.nominal is None else "does not apply"
    return f"{'at most' if margin.kind == 'max' else 'at least'} {_shown(margin, margin.limit, 0)}"


def nominal_text(margin: Margin) -> str:
    """Return the nominal value that is held against a limit, temperatures to 10 K."""
    if margin.limit is None or margin.nominal is None:
        return "-"
    sign = -1.0 if margin.kind == "max" else 1.0
    return _shown(margin, margin.limit * (1.0 + sign * margin.nominal), -1)


def _shown(margin: Margin, value: float, kelvins: int) -> str:
    """Return a value [SI] in the unit of its limit, temperatures with so many decimals."""
    unit = shown_unit(margin.unit, margin.name)
    decimals = kelvins if unit == "K" else DECIMALS.get(unit, 2)
    return with_unit(decimal(value * factor(unit), decimals), unit)


def counts(result: Result) -> str:
    """Return how many limits that decide have each verdict, from worst to best."""
    verdicts = [m.verdict for m in result.margins if m.verdict is not None]
    parts = [f"{verdicts.count(v)} {v}" for v in (*SEVERITY, "pass") if v in verdicts]
    return f"{', '.join(parts)} of {len(verdicts)} limits"


def firings(conservative: float | None, optimistic: float | None) -> str:
    """Return a life for a narrow column: conservative (optimistic), a dash if not known."""
    lives = (conservative, optimistic)
    first, second = ("-" if n is None else f"{n:.2g}" if n < 10 else f"{n:.0f}" for n in lives)
    return first if optimistic is None else f"{first} ({second})"


def reasons(result: Result) -> list[str]:
    """Return a line for each limit short of a pass, worst first; if all pass, the tightest."""
    deciding = [m for m in result.margins if not m.informative]
    short_of = [m for verdict in SEVERITY for m in deciding if m.verdict == verdict]
    if short_of:
        return [_reason(margin) for margin in short_of]
    return [f"tightest: {_reason(margin)}" for margin in sorted(deciding, key=_least)[:1]]


def _least(margin: Margin) -> float:
    margins = (margin.margin(name) for name in COLUMN_NAMES)
    return min((value for value in margins if value is not None), default=math.inf)


def _reason(margin: Margin) -> str:
    outcomes = "; ".join(
        f"{COLUMN_LABELS[name]} {_outcome(column)}" for name, column in margin.columns.items()
    )
    nominal, *others = margin.columns.values()
    whys = [column.why for column in others if column.state != "kept" and column.why]
    head = f"{margin.verdict}: {limit_name(margin.name)}, {limit_text(margin)}: {outcomes}"
    texts = (head, *dict.fromkeys((nominal.why, *whys[:1])), nominal.caution)
    text = "; ".join(filter(None, texts))
    asks = margin.verdict == "open" and margin.closes and margin.closes not in text
    return f"{text}; give {margin.closes}" if asks else text


def _outcome(column: Column) -> str:
    if column.state == "unknown":
        return "unknown"
    met = column.state == "kept" and column.margin is not None
    remarks = ["" if met else STATES[column.state], "indicative" if column.indicative else ""]
    text = ", ".join(filter(None, remarks))
    number = "" if column.margin is None else percent(column.margin)
    return f"{number} ({text})".strip() if text else number


def grouped(items: Iterable[T], key: Callable[[T], str]) -> dict[str, list[T]]:
    """Return items by a key of theirs, in their order."""
    groups: dict[str, list[T]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return groups
