"""Measured slots in words: what a terminal and a page say of them."""

from __future__ import annotations

import math

from regen.output.sheet import aligned
from regen.output.words import firings, percent, spoken
from regen.studies.as_built.slot_verdict import ORDER, RULE
from regen.studies.as_built.study import AsBuilt, SlotResult

HEAD = (
    *("slot", "verdict", "width", "depth", "wall", "flow", "wall T", "streak"),
    *("life", "least margin", "under streak", "why"),
)
UNITS = ("", "", "mm off", "mm off", "mm off", "of mean", "K", "K", "firings", "", "", "")

LIFE = (
    "life is the conservative one; in brackets, judging nothing, the optimistic one. A dash where "
    "it is not known at some station. Take no computed life for better than a factor of two to "
    "three"
)

USABLE_SHOWN = 10
"""Slots to be used that a terminal lists; the rest stand in as_built.csv."""


def headline(found: AsBuilt) -> str:
    """Return how many slots are to be used, and which are not."""
    counts = []
    for word in ORDER[::-1]:
        numbers = found.of(word)
        if numbers:
            which = "" if word == "use" else f" ({', '.join(map(str, numbers))})"
            counts.append(f"{len(numbers)} {word}{which}")
    return f"{len(found.slots)} of {found.count} slots measured: {', '.join(counts)}"


def chamber(found: AsBuilt) -> str:
    """Return what the slots make of the whole chamber, in words."""
    lost = sum(not math.isfinite(slot.flow) for slot in found.slots)
    if lost == len(found.slots):
        return "whole chamber: not known, the flow of no measured slot was found"
    more = found.flow_at_drop_drawn / found.flow - 1.0
    taken = f"; {lost} of the measured slots, whose flow was not found, are taken as drawn in it"
    return (
        f"whole chamber: {found.drop / 1e5:.2f} bar between the manifolds as made, "
        f"{found.drop_drawn / 1e5:.2f} bar as drawn, at the same {found.flow:.4g} kg/s; at the "
        f"drawn drop {found.flow_at_drop_drawn:.4g} kg/s would pass ({100.0 * more:+.2f} %)"
        f"{taken if lost else ''}"
    )


def lines(found: AsBuilt) -> list[str]:
    """Return what a terminal says.

    Parameters
    ----------
    found : AsBuilt
        Solved slots.

    Returns
    -------
    list of str
        Lines.
    """
    first = [s for s in found.worst_first if why(s)]
    good = [s for s in found.worst_first if not why(s)]
    shown = [*first, *good[:USABLE_SHOWN]]
    rows = [row(slot)[:-1] for slot in (found.drawn, *shown)]
    rest = len(good) - USABLE_SHOWN
    more = [f"and {rest} more slots to be used, within tolerance"] if rest > 0 else []
    reasons = [f"slot {slot.measured.number}: {why(slot)}" for slot in first]
    return [
        f"{found.design.title}, {found.file}",
        headline(found),
        chamber(found),
        "",
        *aligned(HEAD[:-1], [UNITS[:-1], *rows], texts=2),
        *more,
        "",
        *reasons,
        *([""] if reasons else []),
        *notes(found),
    ]


def row(slot: SlotResult) -> tuple[str, ...]:
    """Return one slot's texts, in the order of ``HEAD``."""
    drawn = not slot.measured.number
    off = [
        f"{slot.measured.deviations[name].largest * 1e3:+z.3f}"
        for name in ("width", "depth", "wall")
    ]
    if slot.measured.wall_inferred:
        off[2] += "*"
    return (
        "as drawn" if drawn else str(slot.measured.number),
        "" if drawn else slot.verdict.word,
        *(("", "", "") if drawn else off),
        _number(slot.flow, 3),
        _number(slot.T_wall, 0),
        _number(slot.T_streak, 0),
        firings(*(life if math.isfinite(life) else None for life in slot.lives)),
        _least(*slot.least),
        _least(*slot.least_under_streak),
        "" if drawn else why(slot),
    )


def why(slot: SlotResult) -> str:
    """Return why a slot has its verdict, in words; what is out of tolerance, too."""
    said = []
    if slot.verdict.word != "use":
        about = ", ".join(spoken(name) for name in slot.verdict.limits)
        said.append(f"{about}: {slot.verdict.why}" if about else slot.verdict.why)
    if math.isfinite(slot.T_wall) and not math.isfinite(slot.T_streak):
        said.append("not solved under the streak")
    if slot.outside:
        said.append(f"{' and '.join(slot.outside)} out of tolerance")
    return "; ".join(said)


def notes(found: AsBuilt) -> list[str]:
    """Return what must be known of the numbers, a line each."""
    words = [f"{word}: {RULE[word]}" for word in ORDER[::-1]]
    said = [
        "wall T is the peak of the hot wall at the slot's own flow, streak the same under the "
        "shop's streak and flow shortfall; deviations are the largest along x",
        "neighbours are as drawn, and no heat is taken to go across the lands to them: in truth "
        "a hot slot is a little cooler, a cold one a little warmer",
        "correlations are the nominal ones: the band is that of the design, and so are the walls "
        "beyond the ends of the slots",
    ]
    if found.left_out:
        names = ", ".join(map(spoken, found.left_out))
        said.append(f"not known of the design either, and so of no slot: {names}")
    if found.no_life:
        said.append(f"life is not assessed: {found.no_life}")
    else:
        said.append(LIFE)
    if found.design.verdict == "fail":
        said.append("the design itself breaks a limit: settle it first, by regen solve")
    if any(slot.measured.wall_inferred for slot in found.slots):
        said.append("*: the wall was not measured")
    unsolved = [s.measured.number for s in found.slots if not math.isfinite(s.flow)]
    if unsolved:
        said.append(
            f"slots {', '.join(map(str, unsolved))} were not solved, and count in the chamber's "
            "flow as drawn"
        )
    return [*words, *(f"note: {text}" for text in (*said, *found.notes))]


def _number(value: float, decimals: int) -> str:
    return f"{value:.{decimals}f}" if math.isfinite(value) else "-"


def _least(name: str, margin: float) -> str:
    return f"{spoken(name)} {percent(margin)}" if name else "-"
