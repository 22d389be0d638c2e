"""What is to be done with a slot as it was made: use, rework, sleeve or scrap, by a stated rule."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from regen.result import Result

Word = Literal["use", "rework", "sleeve", "scrap", "unknown"]
ORDER: tuple[Word, ...] = ("scrap", "unknown", "rework", "sleeve", "use")
"""From what must be looked at first."""

SAME = 1e-6
"""Margins nearer than this are the same [-]."""


class Margins(NamedTuple):
    """Margin of one limit: as measured, and under the streak [-]; NaN where not evaluated.

    ``x`` is where that as measured is least [m].
    """

    own: float = math.nan
    streak: float = math.nan
    x: float = math.nan


@dataclass(frozen=True, slots=True)
class SlotVerdict:
    """Verdict of a slot, the reason, and the ``limits`` against it."""

    word: Word
    why: str
    limits: tuple[str, ...] = ()


def design_margins(result: Result) -> dict[str, Margins]:
    """Return nominal and worst-channel margins of a design, of the limits that decide."""
    known = (
        (m.name, [math.nan if one is None else one for one in (m.nominal, m.worst_channel)])
        for m in result.margins
        if not m.informative
    )
    return {name: Margins(*both) for name, both in known}


def left_open(result: Result) -> tuple[str, ...]:
    """Return the limits that the drawn design leaves open: broken by an indication only."""
    nominal = {m.name: m.columns["nominal"] for m in result.margins if not m.informative}
    return tuple(n for n, one in nominal.items() if one.state == "broken" and one.indicative)


def judge_slot(slot: Mapping[str, Margins], design: Mapping[str, Margins]) -> SlotVerdict:
    """Return use, sleeve, scrap or unknown for a solved slot, by its margins and the design's.

    Only limits of the slot are looked at; whether a cut would cure it is asked later.
    """
    design = {name: design.get(name, Margins()) for name in slot}
    spoiled = tuple(name for name in slot if not design[name].own >= 0.0)
    if spoiled:
        what = "breaks it" if design[spoiled[0]].own < 0.0 else "does not know it"
        return SlotVerdict("unknown", f"the design itself {what}", spoiled)
    # where the design's own worst channel is not known, there is nothing to compare with
    known = {n: m.streak for n, m in slot.items() if not math.isnan(design[n].streak)}
    worse = [n for n, streak in known.items() if streak < min(0.0, design[n].streak) - SAME]
    against: tuple[tuple[Word, str, list[str]], ...] = (
        ("scrap", "broken as measured", [n for n, m in slot.items() if m.own < 0.0]),
        ("unknown", "not evaluated", [n for n, m in slot.items() if math.isnan(m.own)]),
        ("unknown", "not evaluated under the streak", [n for n in known if math.isnan(known[n])]),
        ("sleeve", "broken under the streak", worse),
    )
    verdicts = (SlotVerdict(word, why, tuple(names)) for word, why, names in against if names)
    return next(verdicts, SlotVerdict("use", ""))


def after_recut(verdict: SlotVerdict, recut: SlotVerdict) -> SlotVerdict:
    """Return the verdict of a slot, given that of the same slot cut to the drawing."""
    if verdict.word == "use" or recut.word != "use":
        return verdict
    return replace(verdict, word="rework", why=f"{verdict.why}; a cut to the drawing cures it")
