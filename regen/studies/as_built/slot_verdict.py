"""What is to be done with a slot as it was made: use, rework, sleeve or scrap, by a stated rule."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from regen.result import Result

Word = Literal["use", "rework", "sleeve", "scrap", "unknown"]
ORDER: tuple[Word, ...] = ("scrap", "unknown", "rework", "sleeve", "use")
"""From what must be looked at first."""

SAME = 1e-6
"""Margins nearer than this are the same [-]."""

RULE: dict[Word, str] = {
    "use": "as measured it keeps every limit; under the streak and the flow shortfall it is no "
    "worse than the worst channel that the design was judged by, or than a slot as drawn in "
    "its place; a limit that the worst channel leaves unknown is not asked of it there",
    "rework": "it does not, but would after a cut to the drawing, as wide as drawn and down to the "
    "drawn depth and wall: before the slots are filled",
    "sleeve": "as measured it keeps every limit, but not under the streak, and no cut cures it: "
    "line the slot back to the drawing, or have the shortfall accepted",
    "scrap": "as measured it breaks a limit, and no cut cures it",
    "unknown": "it was not solved, or a limit could not be evaluated, or the design itself "
    "breaks that limit",
}


class Margins(NamedTuple):
    """Margin of one limit: as measured, and under the streak [-]; NaN where not evaluated."""

    own: float
    streak: float


@dataclass(frozen=True, slots=True)
class SlotVerdict:
    """Verdict of a slot, and why in words; ``limits`` that speak against it."""

    word: Word
    why: str
    limits: tuple[str, ...] = ()


def own_limits(result: Result) -> dict[str, Margins]:
    """Return the margins of the design itself, of the limits that decide.

    Parameters
    ----------
    result : Result
        Judged design.

    Returns
    -------
    dict
        Nominal and worst channel by limit; NaN where one was not evaluated.
    """
    return {
        margin.name: Margins(*(_known(v) for v in (margin.nominal, margin.worst_channel)))
        for margin in result.margins
        if not margin.informative
    }


def unassessed(result: Result) -> tuple[str, ...]:
    """Return the limits that the drawn design leaves open: broken by an indication only."""
    return tuple(
        margin.name
        for margin in result.margins
        if not margin.informative
        and margin.columns["nominal"].state == "broken"
        and margin.columns["nominal"].indicative
    )


def _known(margin: float | None) -> float:
    return math.nan if margin is None else margin


def judge_slot(slot: Mapping[str, Margins], design: Mapping[str, Margins]) -> SlotVerdict:
    """Return the verdict of one solved slot, before it is asked what a cut would cure.

    Parameters
    ----------
    slot, design : mapping
        Margins of the slot and of the design by limit; only limits of the slot are looked at.

    Returns
    -------
    SlotVerdict
        Use, sleeve, scrap or unknown.
    """
    design = {name: design.get(name, Margins(math.nan, math.nan)) for name in slot}
    spoiled = [name for name in slot if not design[name].own >= 0.0]
    if spoiled:
        what = "breaks it" if design[spoiled[0]].own < 0.0 else "does not know it"
        return SlotVerdict("unknown", f"the design itself {what}", tuple(spoiled))
    broken = [name for name, margins in slot.items() if margins.own < 0.0]
    if broken:
        return SlotVerdict("scrap", "broken as measured", tuple(broken))
    blind = [name for name, margins in slot.items() if math.isnan(margins.own)]
    if blind:
        return SlotVerdict("unknown", "not evaluated", tuple(blind))
    lost = [n for n, m in slot.items() if math.isnan(m.streak) and not math.isnan(design[n].streak)]
    if lost:
        return SlotVerdict("unknown", "not evaluated under the streak", tuple(lost))
    # where the design's own worst channel is not known, a slot cannot be held against it
    known = [name for name in slot if not math.isnan(design[name].streak)]
    worse = [n for n in known if slot[n].streak < min(0.0, design[n].streak) - SAME]
    if worse:
        return SlotVerdict("sleeve", "broken under the streak", tuple(worse))
    return SlotVerdict("use", "", ())


def after_recut(verdict: SlotVerdict, recut: SlotVerdict) -> SlotVerdict:
    """Return the verdict of a slot, given that of the same slot with what was left on cut away.

    Parameters
    ----------
    verdict, recut : SlotVerdict
        As measured, and after the cut.

    Returns
    -------
    SlotVerdict
        Rework where the cut cures it.
    """
    if verdict.word != "use" and recut.word == "use":
        return SlotVerdict(
            "rework", f"{verdict.why}; a cut to the drawing cures it", verdict.limits
        )
    return verdict
