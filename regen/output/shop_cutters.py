"""Cutters, cut floor and tolerances as tables, lines and page, and what they mean."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from regen.design import Design
from regen.geometry.curves import mm
from regen.output.figures.cutters import cutters_figure
from regen.output.folder import Folder
from regen.output.labels import limit_name, percent, reasons
from regen.output.page import Section, page
from regen.output.table import Column, Table, text_column, text_columns
from regen.quantities import HEADLINE, quantity
from regen.result import Margin
from regen.shop.cutters.plan import CutPlan, cutter_name
from regen.shop.cutters.slots import fine, place
from regen.shop.cutters.tool_paths import Ramp
from regen.shop.traveller import FIRST, cautions, page_text
from regen.studies.release.as_machined import AtWidth, Machined
from regen.studies.release.to_shop import ToShop
from regen.studies.release.tolerances import ANSWERS, Tolerances

PAGE = "cutters.html"
FIGURE = "figures/cutters.svg"
CAPTION = page_text("cutters_figure")

ASSUMED, RELATED = page_text("cutters_assumed"), page_text("tolerances_related")

PEAK = Column(ANSWERS[0], "peak hot-gas-side wall", decimals=0)
DROP = Column(ANSWERS[1], "pressure drop", decimals=2)
BRIDGE = Column("bridge_m", "copper left", decimals=3)

REASONS = 4
"""Most reasons of a verdict that are given."""

A_STEP = 0.01e-3
"""Slopes are given per this [m]."""

SEEN = 1e-6
"""Copper less than this counts as none [m]."""


def lines(job: ToShop) -> list[str]:
    """Return what cutters and tolerances do to a design, for a terminal."""
    machined = job.machined
    blocks = [[verdict(machined), *(f"  new: {text}" for text in _new_reasons(machined)[:REASONS])]]
    blocks += [table.lines() for table in tables(job)]
    blocks += [[RELATED]] if job.tolerances is not None else []
    lists = {
        "cannot be made": machined.plan.problems,
        "widths that cannot be cut": [
            f"{mm(snap.width)}: {text}" for snap in job.at_widths for text in snap.problems
        ],
        "would help": [remedy.text for remedy in machined.remedies],
    }
    blocks += [
        [f"{head}:", *(f"- {text}" for text in texts)] for head, texts in lists.items() if texts
    ]
    return [line for block in blocks for line in (*block, "")] + [ASSUMED]


def tables(job: ToShop) -> list[Table]:
    """Return the tables of cutters, of the design as machined and of tolerances, none empty."""
    plan, spread = job.machined.plan, job.tolerances
    every = [cuts(plan), refused(plan), changes(job.machined)]
    every += [effects(spread), together(spread)] if spread is not None else []
    return [table for table in (*every, widths(job.at_widths)) if table.rows]


def _new_reasons(machined: Machined) -> list[str]:
    """Return the reasons of the verdict as machined that are none of the one as drawn."""
    if machined.as_machined is None:
        return []
    new = tuple(
        f"{after.verdict}: {limit_name(after.name)},"
        for before, after in machined.margins
        if after is not None and (before is None or before.verdict != after.verdict)
    )
    return [text for text in reasons(machined.as_machined) if text.startswith(new)]


def verdict(machined: Machined) -> str:
    """Return in one line whether the cutters make the design, and what they change."""
    if machined.plan.problems:
        return "the shop's cutters cannot make these slots"
    if all(not circuit.tool_paths for circuit in machined.plan.circuits):
        return "shop.cutters names no cutter: the slot floor is assumed as designed"
    left, x = machined.plan.bridge
    if machined.stopped:
        return f"as these cutters leave it: {machined.stopped}"
    floor = "the cutters follow the wanted floor"
    if left > SEEN:
        floor = f"the cutters leave up to {fine(left)} of copper on the floor, at x = {place(x)}"
    if machined.both is None:
        return floor
    as_drawn, as_machined = machined.both
    T, dp = (_change(machined, column) for column in (PEAK, DROP))
    return (
        f"{floor}: peak hot-gas-side wall {T} K, pressure drop {dp} bar; verdict "
        f"{as_machined.verdict} (as drawn: {as_drawn.verdict})"
    )


def _change(machined: Machined, column: Column) -> str:
    return column.quantity.text(machined.change(column.key), "+")


def cuts(plan: CutPlan) -> Table:
    """Return which cutter cuts what, and what it leaves."""
    columns = [*text_columns("slots", "cutter"), Column("start_m", "x from", decimals=1)]
    columns += [Column("stop_m", "to", decimals=1), Column("passes")]
    columns += [Column("reach_m", "depth of cut"), BRIDGE, Column("x_m", "at x")]
    columns += text_columns("ramps and run-out, mm")
    rows = []
    for circuit in plan.circuits:
        for cut in circuit.tool_paths:
            name, cutter = circuit.slot.path.name, cutter_name(cut.cutter)
            at = cut.x_bridge if cut.bridge > SEEN else None
            ramps = ", ".join(map(_ramp, cut.ramps)) or "none"
            sizes = cut.start, cut.stop, cut.passes, cut.reach, cut.bridge
            rows.append((name, cutter, *sizes, at, ramps))
    return Table(columns, rows, "what cuts the slots")


def _ramp(ramp: Ramp) -> str:
    kind = "ramp" if ramp.inside else "runs out"
    return f"{kind} {ramp.length * 1e3:.1f} at {ramp.x * 1e3:.1f}"


def refused(plan: CutPlan) -> Table:
    """Return which cutters cannot make which stretch, and every reason."""
    rows = [
        (
            circuit.slot.path.name,
            f"{trial.stretch.start * 1e3:.1f} to {trial.stretch.stop * 1e3:.1f}",
            cutter_name(trial.cutter),
            "; ".join(trial.reasons),
        )
        for circuit in plan.circuits
        for trial in circuit.trials
        if trial.reasons
    ]
    return Table(text_columns("slots", "x, mm", "cutter", "why"), rows, "cutters that cannot")


def changes(machined: Machined) -> Table:
    """Return the design as drawn and as machined, side by side."""
    columns = [text_column("quantity", "")]
    columns += [Column(name, name) for name in ("as drawn", "as machined", "change")]
    if machined.both is None:
        return Table(columns, [])
    rows = []
    for key in HEADLINE:
        known = quantity(key)
        change = Column(key, decimals=0 if known.decimals < 0 else 2)
        values = (known.text(result.summary[key]) for result in machined.both)
        rows.append((known.heading, *values, _change(machined, change)))
    rows += [_margins(before, after) for before, after in machined.margins]
    return Table(columns, rows, "solved as machined, nominal")


def _margins(before: Margin | None, after: Margin | None) -> tuple[str, ...]:
    name = next(margin.name for margin in (before, after) if margin is not None)
    values = [percent(m.nominal) if m else "no such limit" for m in (before, after)]
    change = "-"
    if before and after and before.nominal is not None and after.nominal is not None:
        change = f"{100.0 * (after.nominal - before.nominal):+.1f}"
    return f"margin: {limit_name(name)}", *values, change


def effects(spread: Tolerances) -> Table:
    """Return what each tolerance does by itself."""
    columns = [text_column("size", "size"), Column("tolerance_m", "tolerance", decimals=3)]
    for column in (PEAK, DROP):
        columns += [column, Column("slope", f"{column.shown_unit} per 0.01 mm")]
    rows = []
    for size in spread.sizes:
        row: list[str | float] = [size.name, size.tolerance]
        for column in (PEAK, DROP):
            effect = size.effects[column.key]
            ends = (_number(column, value, "+") for value in (effect.plus, effect.minus))
            row += [" / ".join(ends), _number(column, effect.slope * A_STEP, "+", more=1)]
        rows.append(row)
    return Table(columns, rows, "tolerances of all slots, one at a time (larger / smaller)")


def _number(column: Column, value: float, sign: str = "", more: int = 0) -> str:
    """Return a value [SI] with so many decimals more than the column has."""
    known = column.quantity
    known = replace(known, decimals=known.decimals + more)
    return known.text(value, sign) if math.isfinite(value) else "not solved"


def together(spread: Tolerances) -> Table:
    """Return what all tolerances do together."""
    headings = ("nominal", "all at the bad end", "which end", "root sum square")
    columns = [text_column("quantity", ""), *(Column(heading, heading) for heading in headings)]
    names = [size.name for size in spread.sizes]
    rows = []
    for column in (PEAK, DROP):
        one = spread.spreads[column.key]
        ends = (
            f"{'large' if end > 0 else 'small'} {name}"
            for name, end in zip(names, one.corner, strict=False)
        )
        worst, likely = _number(column, one.worst), _number(column, one.root_sum_square)
        if math.isfinite(one.worst):
            worst = f"{worst} ({_number(column, one.worst - one.nominal, '+')})"
        if math.isfinite(one.root_sum_square):
            likely = f"\u00b1{likely}"
        head = f"{column.label}, {column.shown_unit}"
        rows.append((head, column.text(one.nominal), worst, ", ".join(ends) or "-", likely))
    if math.isfinite(spread.worst_channel):
        worst = PEAK.text(spread.worst_channel)
        rows.append(("worst channel, K", "-", worst, "one slot", "-"))
    return Table(columns, rows, "tolerances of all slots together")


def widths(at_widths: Sequence[AtWidth]) -> Table:
    """Return the design at each width of the shop's cutters."""
    columns = [Column("width", "width, mm"), PEAK, DROP, Column("margin", "least margin")]
    columns += [Column("verdict"), BRIDGE, Column("cuttable", "can it be cut")]
    rows = [
        (
            f"{snap.width * 1e3:.6g}",
            snap.T_wall_hot if snap.status == "solved" else snap.status,
            snap.pressure_drop if snap.status == "solved" else "-",
            percent(snap.margin) if math.isfinite(snap.margin) else "not evaluated",
            snap.verdict or "-",
            snap.bridge,
            not snap.problems,
        )
        for snap in at_widths
    ]
    return Table(columns, rows, "one width all along, of the shop's cutters (floor as drawn)")


def add_page(folder: Folder, job: ToShop, design: Design, release: str) -> None:
    """Add the page of cutters and tolerances, and its figure where there are cutters."""
    picture = None
    if any(circuit.tool_paths for circuit in job.machined.plan.circuits):
        make = partial(cutters_figure, job.machined.plan, design.shop.depth_tolerance, design.title)
        picture = folder.draw(FIGURE, make, CAPTION)
    sections = [
        Section("Summary", [release, FIRST, verdict(job.machined), picture]),
        Section("Tables", [*tables(job), RELATED]),
        Section("While cutting", [cautions("cutting"), ASSUMED]),
    ]
    if texts := [remedy.text for remedy in job.machined.remedies]:
        sections.insert(2, Section("Would leave less copper", [texts]))
    text = page(design.title, "Cutters and tolerances", sections, landscape=True)
    folder.add(PAGE, text)
