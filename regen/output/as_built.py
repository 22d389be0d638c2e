"""Measured slots: as_built.csv, a printable page, a figure, as_built.json and terminal text."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from regen.case.measured import SIZES
from regen.case.read import Case
from regen.checks.review import PACKAGES
from regen.output.folder import Folder
from regen.output.labels import firings, limit_name, limit_of, percent
from regen.output.page import Picture, Section, page
from regen.output.table import Column, Table, text_column
from regen.sources import read_data
from regen.storage.cache import made_with
from regen.studies.as_built.slot_verdict import ORDER
from regen.studies.as_built.study import AsBuilt, SlotResult

SCHEMA = 1
INDEX = "as_built.json"
TEXTS = read_data("as_built.toml")

COLUMNS = (
    text_column("slot", "slot"),
    text_column("verdict", "verdict"),
    *(Column(f"{name}_m", f"{name} off", "mm", 3, sign="+") for name in SIZES),
    Column("flow_over_mean", "flow / mean", decimals=3),
    Column("T_wall_hot_max_K", "hot wall", decimals=0),
    Column("T_wall_hot_max_streak_K", "under streak", decimals=0),
    Column("life", "life", "firings"),
    text_column("least", "least margin"),
    text_column("least_streak", "least under streak"),
    text_column("why", "why"),
)

WALL = next(column for column in COLUMNS if column.key == "wall_m")
NOT_OF_THE_DRAWN = ("verdict", "why", *(f"{name}_m" for name in SIZES))

BASES = ("conservative", "optimistic")
USABLE_SHOWN = 10
"""Usable slots that a terminal lists; the rest stand in as_built.csv."""


# --- files


def row(slot: SlotResult) -> dict[str, Any]:
    """Return one slot as plain values, SI; None where there is no number."""
    measured, verdict = slot.measured, slot.verdict
    values: dict[str, Any] = {
        "slot": measured.number,
        "verdict": verdict.word,
        "why": verdict.why,
        "limits": "; ".join(verdict.limits),
        "out_of_tolerance": "; ".join(slot.outside) or None,
        "wall_inferred": measured.wall_inferred,
        **{f"{name}_deviation_max_m": off.largest for name, off in measured.deviations.items()},
        **slot.summary,
    }
    if not measured.number:
        values |= dict.fromkeys(("verdict", "why", "limits"))
    for name, margins in slot.margins.items():
        keys = f"margin_{name}", f"margin_{name}_streak", f"x_margin_{name}_m"
        values |= zip(keys, margins, strict=True)
    return {key: _known(v) if isinstance(v, float) else v for key, v in values.items()}


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def table(study: AsBuilt) -> Table:
    """Return the measured slots as data, those to be looked at first on top."""
    return Table.of_rows(map(row, study.worst_first))


def description(study: AsBuilt, case: Case) -> dict[str, Any]:
    """Return what as_built.json holds; null where there is no number."""
    known = any(slot.solved for slot in study.slots)
    return {
        "schema": SCHEMA,
        "title": study.design.title,
        "measured_file": study.sheet.name,
        "slots_of_the_chamber": study.count,
        "all_usable": study.all_usable,
        "design_verdict": study.design.verdict,
        "coolant_mass_flow_kg_s": study.flow,
        "pressure_drop_Pa": study.drop if known else None,
        "pressure_drop_as_drawn_Pa": study.drop_drawn,
        "flow_at_drop_as_drawn_kg_s": study.flow_at_drop_drawn if known else None,
        "T_wall_hot_limit_K": limit_of(study.design.margins, "hot_wall_temperature"),
        "limits_left_out": list(study.left_out),
        "life_not_assessed": study.no_life or None,
        "rule": TEXTS["rule"],
        "as_drawn": row(study.drawn),
        "slots": list(map(row, study.worst_first)),
        "words": lines(study),
        "provenance": {
            **made_with(*PACKAGES),
            "case_sha256": case.hash,
            "measured_sha256": hashlib.sha256(study.sheet.data).hexdigest(),
        },
    }


def write(study: AsBuilt, case: Case, folder: Path) -> list[Path]:
    """Write table and index, then both again with figure and page; return the paths."""
    out = Folder(folder, INDEX)
    out.add("as_built.csv", table(study))
    whole = description(study, case)
    out.write(whole)  # the numbers are not to wait for the figure

    from regen.output.figures.as_built import slots_figure

    picture = out.draw("figures/as_built.svg", partial(slots_figure, study), TEXTS["caption"])
    out.add("as_built.html", sheet_page(study, picture))
    return out.write(whole)


def sheet_page(study: AsBuilt, picture: Picture | str) -> str:
    """Return the printable page."""
    slots = [study.drawn, *study.worst_first]
    marked = {n: "marked" for n, slot in enumerate(slots) if n and slot.verdict.word != "use"}
    shown = replace(shown_table(slots), emphasis=marked, kind="whole")
    return page(
        f"{study.design.title}: slots as made",
        f"Measured file {study.sheet.name}; regen {study.design.provenance['regen']}. "
        "Measured by: ____________   Date: ____________   Decided by: ____________",
        [
            Section("Chamber", [f"{headline(study)}.", f"{chamber(study)}.", picture]),
            Section("Slots, those to be looked at first on top", [shown]),
            Section("Rule and notes", [notes(study)]),
        ],
    )


# --- text


def lines(study: AsBuilt) -> list[str]:
    """Return what the terminal shows."""
    remarked = [slot for slot in study.worst_first if why(slot)]
    usable = [slot for slot in study.worst_first if not why(slot)]
    shown = shown_table([study.drawn, *remarked, *usable[:USABLE_SHOWN]])
    table = replace(shown, columns=COLUMNS[:-1]).lines()
    if (rest := len(usable) - USABLE_SHOWN) > 0:
        table.append(f"and {rest} more usable slots, within tolerance")
    reasons = [f"slot {slot.measured.number}: {why(slot)}" for slot in remarked]
    head = [f"{study.design.title}, {study.sheet.name}", headline(study), chamber(study)]
    return [*head, "", *table, "", *reasons, *([""] if reasons else []), *notes(study)]


def headline(study: AsBuilt) -> str:
    """Return how many slots have each verdict, and which are not to be used."""
    counts = []
    for word in ORDER[::-1]:
        if of := [s.measured.number for s in study.slots if s.verdict.word == word]:
            which = "" if word == "use" else f" ({', '.join(map(str, of))})"
            counts.append(f"{len(of)} {word}{which}")
    return f"{len(study.slots)} of {study.count} slots measured: {', '.join(counts)}"


def chamber(study: AsBuilt) -> str:
    """Return flow and pressure drop of the whole chamber."""
    lost = sum(not slot.solved for slot in study.slots)
    if lost == len(study.slots):
        return "whole chamber: not known, the flow of no measured slot was found"
    more = study.flow_at_drop_drawn / study.flow - 1.0
    rest = f"; {lost} of the measured slots, whose flow was not found, are taken as drawn"
    return (
        f"whole chamber: {study.drop / 1e5:.2f} bar between the manifolds as made, "
        f"{study.drop_drawn / 1e5:.2f} bar as drawn, at the same {study.flow:.4g} kg/s; at the "
        f"drawn drop {study.flow_at_drop_drawn:.4g} kg/s would pass ({100.0 * more:+.2f} %)"
        f"{rest if lost else ''}"
    )


def shown_table(slots: Iterable[SlotResult]) -> Table:
    """Return slots as terminal and page show them."""
    return Table(COLUMNS, [_shown(slot) for slot in slots])


def _shown(slot: SlotResult) -> dict[str, Any]:
    shown: dict[str, Any] = {
        **{f"{name}_m": off.largest for name, off in slot.measured.deviations.items()},
        **slot.summary,
        "slot": slot.measured.number,
        "verdict": slot.verdict.word,
        "life": firings(*(_known(slot.summary[f"life_{basis}_firings"]) for basis in BASES)),
        "least": _least(*slot.least("own")),
        "least_streak": _least(*slot.least("streak")),
        "why": why(slot),
    }
    if slot.measured.wall_inferred:
        shown["wall_m"] = f"{WALL.text(shown['wall_m'])}*"
    drawn = {**dict.fromkeys(NOT_OF_THE_DRAWN, ""), "slot": "as drawn"}
    return shown if slot.measured.number else shown | drawn


def _least(name: str, margin: float) -> str:
    return f"{limit_name(name)} {percent(margin)}" if name else "-"


def why(slot: SlotResult) -> str:
    """Return the reason for a slot's verdict, and what is out of tolerance."""
    texts = []
    if slot.verdict.word != "use":
        about = ", ".join(map(limit_name, slot.verdict.limits))
        texts.append(f"{about}: {slot.verdict.why}" if about else slot.verdict.why)
    if slot.solved and not math.isfinite(slot.summary["T_wall_hot_max_streak_K"]):
        texts.append("not solved under the streak")
    if slot.outside:
        texts.append(f"{' and '.join(slot.outside)} out of tolerance")
    return "; ".join(texts)


def notes(study: AsBuilt) -> list[str]:
    """Return the rule, and what a reader must know of the numbers."""
    remarks = {
        "left_out": ", ".join(map(limit_name, study.left_out)),
        "no_life": study.no_life,
        "life": not study.no_life,
        "design_fails": study.design.verdict == "fail",
        "inferred": any(slot.measured.wall_inferred for slot in study.slots),
        "lost": ", ".join(str(slot.measured.number) for slot in study.slots if not slot.solved),
    }
    added = (TEXTS["remarks"][name].format(value) for name, value in remarks.items() if value)
    rule = [f"{word}: {TEXTS['rule'][word]}" for word in ORDER[::-1]]
    return rule + [f"note: {text}" for text in (*TEXTS["notes"], *added, *study.notes)]
