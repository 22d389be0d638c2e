"""Cutters, cut floor and tolerances in words: tables for terminal and page, and what they mean."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from regen.geometry.curves import mm
from regen.output.sheet import aligned
from regen.output.words import HEADLINE, Quantity, percent, reasons, short
from regen.result import Margin
from regen.shop.cutters.checks import CircuitCut, CutPlan, said
from regen.shop.cutters.slots import fine, place
from regen.shop.cutters.tool_paths import Cut, Ramp
from regen.studies.release.as_machined import Recut, Snapped
from regen.studies.release.tolerances import ANSWERS, Size, Tolerances

ASSUMED = (
    "Saws stand in planes through the axis and never cut below the wanted floor. End mills have a "
    "flat end and their axis along the radius. The outside of the blank is turned before slots are "
    "cut, so copper left on the floor is hot wall, and the slot is shallower by it."
)

RELATED = (
    "Here all slots are off together and take the whole flow: narrow or shallow slots then run "
    "faster, and mostly cool better. The worst channel is one slot that is narrow and shallow "
    "among good ones: it gets less flow for the same pressure drop, lacks shop.flow_shortfall of "
    "it besides, and lies under shop.streak. Both are needed; neither contains the other."
)

UNITS = {"T_wall_hot_max_K": ("K", 1.0, 0), "coolant_pressure_drop_Pa": ("bar", 1e-5, 2)}
"""Unit, factor from SI and decimals of what tolerances move."""

REASONS = 4
"""Most reasons of a verdict that are told."""

A_STEP = 0.01e-3
"""Slopes are told per this [m]."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table of texts: title, headings, rows."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def lines(self) -> list[str]:
        """Return it as lines for a terminal, columns set apart by two spaces."""
        return [f"{self.title}:", *aligned(self.headings, self.rows, len(self.headings))]


def lines(
    found: Recut, spread: Tolerances | None = None, snaps: Sequence[Snapped] = ()
) -> list[str]:
    """Return what cutters and tolerances do to a design.

    Parameters
    ----------
    found : Recut
        The design as wanted and as cut.
    spread : Tolerances, optional
        Effects of the shop's tolerances.
    snaps : sequence of Snapped
        The design at the widths of the shop's cutters.

    Returns
    -------
    list of str
        Lines to be printed, a blank one between tables.
    """
    tables = [
        cuts(found.plan),
        refused(found.plan),
        changes(found),
        *(() if spread is None else (effects(spread), together(spread))),
        widths(snaps),
    ]
    told = [verdict(found)]
    told += [f"  new: {text}" for text in _worse(found)[:REASONS]]
    told.append("")
    for table in tables:
        if table.rows:
            told += [*table.lines(), ""]
    if spread is not None:
        told += [RELATED, ""]
    for heading, texts in (
        ("cannot be made", found.plan.problems),
        (
            "widths that cannot be cut",
            [f"{mm(one.width)}: {text}" for one in snaps for text in one.problems],
        ),
        ("would do", [remedy.text for remedy in found.remedies]),
        ("notes", found.plan.notes),
    ):
        told += _listed(heading, texts)
    return [*told, ASSUMED]


def _listed(heading: str, texts: Iterable[str]) -> list[str]:
    found = [f"- {text}" for text in texts]
    return [f"{heading}:", *found, ""] if found else []


def _worse(found: Recut) -> list[str]:
    """Return the reasons of the verdict as cut that are none of the one as wanted."""
    new = [
        f"{other.verdict}: {short(other)},"
        for one, other in found.margins
        if other is not None and (one is None or one.verdict != other.verdict)
    ]
    told = reasons(found.cut) if found.cut is not None else []
    return [text for text in told if text.startswith(tuple(new))]


def verdict(found: Recut) -> str:
    """Return in one line whether the cutters make the design, and what they change."""
    if found.plan.problems:
        return "the shop's cutters cannot make these slots"
    if all(not circuit.cuts for circuit in found.plan.circuits):
        return "shop.cutters names no cutter: the slot floor is taken as the design wants it"
    left, x = found.plan.bridge
    if found.stopped:
        return f"as these cutters leave it: {found.stopped}"
    floor = "the cutters follow the wanted floor"
    if left > 1e-6:
        floor = f"the cutters leave up to {fine(left)} of copper on the floor, at x = {place(x)}"
    if found.wanted is None or found.cut is None:
        return floor
    T = found.change(ANSWERS[0])
    dp = found.change(ANSWERS[1]) * 1e-5
    return (
        f"{floor}: peak hot wall {T:+.0f} K, pressure drop {dp:+.2f} bar; verdict "
        f"{found.cut.verdict} (as wanted: {found.wanted.verdict})"
    )


def cuts(plan: CutPlan) -> Table:
    """Return which cutter cuts what, and what it leaves."""
    headings = (
        "slots",
        "cutter",
        "x from",
        "to [mm]",
        "passes",
        "depth of cut [mm]",
        "copper left [mm]",
        "at x [mm]",
        "ramps and run-out [mm]",
    )
    rows = [_cut_row(circuit, cut) for circuit in plan.circuits for cut in circuit.cuts]
    return Table("what cuts the slots", headings, tuple(rows))


def _cut_row(circuit: CircuitCut, cut: Cut) -> tuple[str, ...]:
    return (
        circuit.name,
        said(cut.cutter),
        f"{cut.start * 1e3:.1f}",
        f"{cut.stop * 1e3:.1f}",
        f"{cut.passes}",
        f"{cut.reach * 1e3:.2f}",
        f"{cut.bridge * 1e3:.3f}",
        f"{cut.x_bridge * 1e3:.1f}" if cut.bridge > 1e-6 else "-",
        ", ".join(_ramp(ramp) for ramp in cut.ramps) or "none",
    )


def _ramp(ramp: Ramp) -> str:
    kind = "ramp" if ramp.inside else "runs out"
    return f"{kind} {ramp.length * 1e3:.1f} at {ramp.x * 1e3:.1f}"


def refused(plan: CutPlan) -> Table:
    """Return which cutters cannot make which stretch, and every reason."""
    rows = [
        (
            circuit.name,
            f"{w.stretch.start * 1e3:.1f} to {w.stretch.stop * 1e3:.1f}",
            said(w.cutter),
            "; ".join(w.reasons),
        )
        for circuit in plan.circuits
        for w in circuit.weighed
        if w.reasons
    ]
    return Table("cutters that cannot", ("slots", "x [mm]", "cutter", "why"), tuple(rows))


def changes(found: Recut) -> Table:
    """Return the design as wanted and as cut, side by side."""
    headings = ("", "as wanted", "as cut", "change")
    if found.wanted is None or found.cut is None:
        return Table("solved as cut", headings, ())
    rows = [_change(found, quantity) for quantity in HEADLINE]
    rows += [_margin(*both) for both in found.margins]
    return Table("solved as cut, nominal", headings, tuple(rows))


def _margin(one: Margin | None, other: Margin | None) -> tuple[str, ...]:
    known = [margin for margin in (one, other) if margin is not None]
    change = "-"
    said_of = [percent(margin.nominal) if margin else "no such limit" for margin in (one, other)]
    if one and other and one.nominal is not None and other.nominal is not None:
        change = f"{100.0 * (other.nominal - one.nominal):+.1f}"
    return f"margin: {short(known[0])}", *said_of, change


def _change(found: Recut, quantity: Quantity) -> tuple[str, ...]:
    wanted, cut = (
        result.summary[quantity.key] if result else None for result in (found.wanted, found.cut)
    )
    change = found.change(quantity.key) * quantity.factor
    decimals = 0 if quantity.step >= 1.0 else 2
    label = f"{quantity.label} [{quantity.unit}]"
    return label, quantity.say(wanted), quantity.say(cut), f"{change:+.{decimals}f}"


def effects(spread: Tolerances) -> Table:
    """Return what each tolerance does by itself."""
    headings = (
        "size",
        "tolerance [mm]",
        "peak hot wall [K]",
        "K per 0.01 mm",
        "pressure drop [bar]",
        "bar per 0.01 mm",
    )
    rows = tuple(_effect_row(size) for size in spread.sizes)
    return Table("tolerances of all slots, one at a time (larger / smaller)", headings, rows)


def _effect_row(size: Size) -> tuple[str, ...]:
    row = [size.name, f"{size.tolerance * 1e3:.3g}"]
    for answer in ANSWERS:
        effect, (_, factor, decimals) = size.effects[answer], UNITS[answer]
        both = (_signed(value * factor, decimals) for value in (effect.plus, effect.minus))
        row += [" / ".join(both), _signed(effect.slope * A_STEP * factor, decimals + 1)]
    return tuple(row)


def _signed(value: float, decimals: int) -> str:
    return f"{value:+.{decimals}f}" if math.isfinite(value) else "not solved"


def together(spread: Tolerances) -> Table:
    """Return what all tolerances do together."""
    headings = ("", "nominal", "all at the bad end", "which end", "root sum square")
    rows = []
    names = [size.name for size in spread.sizes]
    for answer, label in zip(ANSWERS, ("peak hot wall", "pressure drop"), strict=True):
        one, (unit, factor, decimals) = spread.spreads[answer], UNITS[answer]
        ends = (
            f"{'large' if end > 0 else 'small'} {name}"
            for name, end in zip(names, one.corner, strict=False)
        )
        worst = "not solved"
        if math.isfinite(one.worst):
            more = _signed((one.worst - one.nominal) * factor, decimals)
            worst = f"{one.worst * factor:.{decimals}f} ({more})"
        square = one.root_sum_square * factor
        rows.append(
            (
                f"{label} [{unit}]",
                f"{one.nominal * factor:.{decimals}f}",
                worst,
                ", ".join(ends) or "-",
                f"+-{square:.{decimals}f}" if math.isfinite(square) else "not solved",
            )
        )
    if math.isfinite(spread.worst_channel):
        rows.append(("worst channel [K]", "-", f"{spread.worst_channel:.0f}", "one slot", "-"))
    return Table("tolerances of all slots together", headings, tuple(rows))


def widths(snaps: Sequence[Snapped]) -> Table:
    """Return the design at each width of the shop's cutters."""
    headings = (
        "width [mm]",
        "peak hot wall [K]",
        "pressure drop [bar]",
        "least margin",
        "verdict",
        "copper left [mm]",
        "can it be cut",
    )
    rows = tuple(
        (
            f"{one.width * 1e3:.6g}",
            f"{one.T_wall_hot:.0f}" if one.status == "solved" else one.status,
            f"{one.pressure_drop * 1e-5:.2f}" if one.status == "solved" else "-",
            percent(one.margin) if math.isfinite(one.margin) else "not evaluated",
            one.verdict or "-",
            f"{one.bridge * 1e3:.3f}" if math.isfinite(one.bridge) else "-",
            "no" if one.problems else "yes",
        )
        for one in snaps
    )
    return Table("one width all along, of the shop's cutters (floor as wanted)", headings, rows)
