"""docs/trends.md, written from what the box's designs answer."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.property.trends import box
from tests.property.trends.causes import CAUSES, UNEXPLAINED
from tests.property.trends.runs import Case, cases
from tests.property.trends.siblings import SIBLINGS
from tests.property.trends.trends import TRENDS, Trend, Violation

PAGE = Path(__file__).parents[3] / "docs" / "trends.md"
LOOKS: tuple[Trend, ...] = (*TRENDS, *SIBLINGS)

ELSEWHERE = (
    ("property/test_march_trends.py", "directions on random passages, constant properties"),
    ("property/test_envelope_trends.py", "closed form exactly as p^0.8 at one wall temperature"),
    ("exact/test_wall.py", "no heat; no resistance in the metal; wall form without lands"),
    ("exact/test_march_closed_forms.py", "constant properties: heating, cone, taper, friction"),
    ("exact/test_march_extras.py", "covering in series, bends, roughness, entrance, turns"),
    ("property/test_no_case_is_a_bug.py", "any case within its bounds: a result, or words"),
)
"""Where the same directions and limits are held in closed form or with constant properties."""


@dataclass
class Found:
    """What the box's designs answered."""

    designs_looked: int = 0
    stopped: Counter[str] = field(default_factory=Counter)
    values: dict[str, list[float]] = field(default_factory=dict)
    halted: dict[str, Counter[str]] = field(default_factory=dict)
    looked: Counter[str] = field(default_factory=Counter)
    violations: list[Violation] = field(default_factory=list)
    designs: dict[int, str] = field(default_factory=dict)


def look(wanted: int) -> Iterator[Found]:
    """Yield what was found so far, after every design."""
    found = Found()
    for case in cases(wanted, found.stopped):
        for trend in LOOKS:
            if trend.applies(case):
                _add(found, trend, case)
        found.designs_looked += 1
        yield found


def _add(found: Found, trend: Trend, case: Case) -> None:
    outcome = trend(case)
    if outcome.stopped:
        found.halted.setdefault(trend.name, Counter())[outcome.stopped] += 1
        return
    found.looked[trend.name] += 1
    if outcome.value is not None:
        found.values.setdefault(trend.name, []).append(outcome.value)
    if outcome.violations:
        found.violations += outcome.violations
        found.designs[case.draw] = words(case)


def words(case: Case) -> str:
    """Return a design in a line."""
    design = case.design
    feed, pair = design.coolant, design.propellants
    form = design.models.coolant_side or "default form"
    return (
        f"{feed.fluid} {feed.inlet_temperature:.0f} K {feed.inlet_pressure / 1e5:.0f} bar, {form}; "
        f"{pair.oxidizer}/{pair.fuel} {pair.mixture_ratio:.2f}, "
        f"{design.chamber.pressure / 1e5:.0f} bar, {design.models.gas_side}; "
        f"{design.liner.alloy}, {design.channels.count} slots"
    )


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


# --- what does not depend on the answers --------------------------------------------------------
def _span(ends: tuple[float, float]) -> str:
    return f"{ends[0]:g} to {ends[1]:g}"


def box_words() -> str:
    """Return the box in tables."""
    ranges = table(
        ("value", "from", "to", "unit", "evenly in"),
        [
            (r.text, f"{r.low:g}", f"{r.high:g}", r.unit, "logarithm" if r.log else "value")
            for r in box.RANGES.values()
        ],
    )
    feeds = table(
        ("coolant", "mass flux at the throat, kg/(m2 s)", "inlet, bar", "inlet, K", "forms"),
        [
            (
                name,
                _span(feed.flux),
                _span(feed.pressure),
                _span(feed.temperature),
                ", ".join(feed.forms)
                + (f"; above {box.DENSE:g} p_c also " if feed.dense_forms else "")
                + ", ".join(feed.dense_forms),
            )
            for name, feed in box.FEEDS.items()
        ],
    )
    pairs = table(
        ("stoichiometric mixture ratio", *box.STOICHIOMETRIC["oxygen"]),
        [
            (oxidizer, *(f"{ratio:g}" for ratio in ratios.values()))
            for oxidizer, ratios in box.STOICHIOMETRIC.items()
        ],
    )
    metals = table(
        ("alloy", "condition", "hot wall below, K"),
        [(name, condition, f"{T:g}") for name, (condition, T) in box.ALLOYS.items()],
    )
    choices = "\n".join(
        f"- {name}: {', '.join(str(value) for value in values)}"
        for name, values in box.CHOICES.items()
    )
    return "\n\n".join((ranges, feeds, pairs, metals, "One of, all alike:", choices))


def trend_words() -> str:
    """Return the definitions of the trends in a table."""
    return table(
        ("trend", "change", "expected", "tolerance and why"),
        [(t.name, t.change, t.expected, t.tolerance) for t in LOOKS],
    )


def cause_words() -> str:
    """Return the causes a violation may have."""
    return table(
        ("cause", "what it is"),
        [(name, text) for name, text in CAUSES.items() if name != UNEXPLAINED],
    )


def elsewhere_words() -> str:
    return "\n".join(f"- `tests/{path}`: {text}" for path, text in ELSEWHERE)


def fingerprint() -> str:
    """Return a hash of box and definitions."""
    static = "\n".join(
        (str(box.SEED), str(box.WANTED), str(box.STATIONS), box_words(), trend_words())
    )
    return hashlib.sha256(static.encode()).hexdigest()[:16]


# --- the answers --------------------------------------------------------------------------------
def _numbers(values: list[float]) -> tuple[str, str, str]:
    if not values:
        return "-", "-", "-"
    return tuple(f"{v:.3g}" for v in np.percentile(values, (0, 50, 100)))  # type: ignore[return-value]


def _result_rows(found: Found) -> list[tuple[str, ...]]:
    rows = []
    for trend in LOOKS:
        against = {v.draw for v in found.violations if v.trend == trend.name}
        halted = found.halted.get(trend.name, Counter())
        said = ", ".join(f"{n} {name}" for name, n in halted.most_common()) or "-"
        numbers = _numbers(found.values.get(trend.name, []))
        looked = str(found.looked[trend.name])
        rows.append((trend.name, looked, str(len(against)), said, trend.value, *numbers))
    return rows


def text(found: Found) -> str:
    """Return the page."""
    drawn = box.WANTED + sum(found.stopped.values())
    by_cause = Counter((v.trend, v.cause) for v in found.violations)
    return f"""# Trends on random designs

Written by `python -m tests.property.trends`; a test keeps its box, definitions and causes current.
Fingerprint of box and definitions: {fingerprint()}.

{box.WANTED} designs are drawn at random from the box below. Each is changed in one respect at a
time and solved again, and the answer is asked for the direction that physics gives it. Every
violation is listed with its cause. A cause is found by evidence of its own: finite elements on
the section of the worst station with one part exchanged at a time, or the case solved again with
the suspected cause taken away. A violation without such evidence would be called unexplained;
there are {sum(v.cause == UNEXPLAINED for v in found.violations)} of these.

Changes are made to the nominal run with the correlations drawn. The trends speak of the program
and its correlations, not of a measured chamber.

## The box

Seed {box.SEED}, {box.STATIONS} stations. Coolants take turns; a coolant that is a propellant makes
the pair. Where it is the fuel it returns to the injector in half of the cases, as far as slots of
{box.LEAST_DEPTH:g} to {box.MOST_DEPTH:g} times their width carry it.

{box_words()}

## The draws

{drawn} draws gave {box.WANTED} designs that solve with a hot wall below melting. The others were
replaced:

{table(("what stopped the draw", "draws"), [(k, str(n)) for k, n in found.stopped.most_common()])}

## The trends

{trend_words()}

Held elsewhere, in closed form or with constant properties:

{elsewhere_words()}

## What was found

"Stopped" counts changed designs that do not solve, so that nothing can be compared: more flow or a
narrower slot uses up the pressure, and the coolant comes to saturation or chokes.

{
        table(
            ("trend", "compared", "against it", "stopped", "number", "least", "middle", "most"),
            _result_rows(found),
        )
    }

## Causes

{cause_words()}

{
        table(
            ("trend", "cause", "violations"),
            [(trend, cause, str(n)) for (trend, cause), n in by_cause.most_common()],
        )
    }

## Violations

One line a stretch of neighbouring stations; the size is that of its worst station.

{
        table(
            ("trend", "draw", "where", "by", "cause", "evidence"),
            [
                (v.trend, str(v.draw), v.where, v.size, v.cause, v.evidence)
                for v in sorted(found.violations, key=lambda v: (_order(v.trend), v.draw))
            ],
        )
    }

The draws named:

{table(("draw", "design"), [(str(n), said) for n, said in sorted(found.designs.items())])}
"""


def _order(name: str) -> int:
    return [trend.name for trend in LOOKS].index(name)
