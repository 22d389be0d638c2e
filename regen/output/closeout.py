"""A plating plan as table along x, sheet for the bath, terminal summary and plating.json."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from regen import sources
from regen.case.read import Case
from regen.design import Design
from regen.output.figures.closeout import layers_figure
from regen.output.folder import Folder
from regen.output.page import Picture, page
from regen.output.table import Column, Table, text_column
from regen.quantities import amount, factor, quantity, significant, with_unit
from regen.result import Array
from regen.shop.plating.check import Check
from regen.shop.plating.layers import Layer, Step
from regen.shop.plating.plan import PlatingPlan
from regen.shop.traveller import FIRST, before_plating, cautions, page_text
from regen.storage.cache import made_with

SCHEMA = 1
INDEX = "plating.json"
TABLE = "plating.csv"
SHEET = "plating_sheet.html"
FIGURE = "figures/plating_layers.svg"
CAPTION = "Layers along x: finished, before the last turning, deposited in all, needed by strength."

HOUR, DAY = 3600.0, 86400.0

VERDICTS = {"broken": "BROKEN", "told": ""}
"""Verdicts of checks that are not shown as they are."""

STRONGEST = 1e9
"""A buckling stress above this [Pa] is beyond the strength of any deposit."""

PLATED = (
    Column("area_m2", "area", unit="dm2"),
    Column("current_A", "current"),
    Column("time_s", "time", unit="h"),
    Column("charge_C", "charge"),
    Column("mass_kg", "metal"),
)
LAYERS = (
    text_column("metal", "layer"),
    Column("finished_m", "drawn"),
    Column("mean_deposit_m", "plated, mean"),
    Column("thinnest_over_mean", "thinnest / mean"),
    Column("cycles", "cycles"),
    Column("current_density_A_m2", "current density"),
    Column("efficiency", "efficiency"),
    *PLATED,
    Column("mass_finished_kg", "stays"),
)
STEPS = (
    text_column("step", "step"),
    Column("growth_m", "grows by, mean"),
    Column("least_from_m", "thinnest, before"),
    Column("least_plated_m", "thinnest, plated"),
    Column("most_plated_m", "thickest, plated"),
    *PLATED,
    Column("least_to_m", "then turn to"),
    Column("measured_m", "measured"),
    text_column("signed", "signed"),
)
CHECKS = (
    text_column("check", "check"),
    Column("value", "value"),
    Column("limit", "limit"),
    Column("x_m", "x", decimals=0),
    text_column("verdict", "verdict"),
    text_column("note", "note"),
)
ALONG = (
    Column("x_m", "x"),
    Column("r_liner_m", "radius of liner"),
    Column("copper_m", "copper drawn"),
    Column("nickel_need_m", "nickel needed"),
    Column("nickel_finished_m", "nickel drawn"),
    Column("nickel_before_last_turning_m", "nickel before last turning"),
    Column("r_finished_m", "radius finished"),
)


def columns(plan: PlatingPlan) -> dict[str, Array]:
    """Return the columns along x in SI (S,), NaN for what is not known."""
    along = {
        "x_m": plan.x,
        "r_liner_m": plan.r,
        "r_finished_m": plan.r_finished,
        "nickel_need_m": plan.need,
    }
    for layer in plan.layers:
        along |= {
            f"{layer.metal}_local_over_mean": layer.ratio,
            f"{layer.metal}_deposit_m": layer.deposit * layer.ratio,
            f"{layer.metal}_before_last_turning_m": layer.as_plated,
            f"{layer.metal}_stock_m": layer.as_plated - layer.left,
            f"{layer.metal}_finished_m": layer.left,
        }
    return along


def headline(plan: PlatingPlan) -> str:
    """Return how many checks are broken and how many could not be made."""
    missing = sum(check.verdict == "not checked" for check in plan.checks)
    first = f"{len(plan.broken)} broken" if plan.broken else "no check is broken"
    return f"{first}, {missing} not checked" if missing else f"{first}, all checked"


def hours_lines(plan: PlatingPlan) -> list[str]:
    """Return hours, calendar and metal in sentences."""
    low, high = (time / DAY for time in plan.calendar_range)
    turned = sum(layer.mass - layer.mass_left for layer in plan.layers)
    return [
        f"current on for {plan.on_time / HOUR:.0f} h ({plan.on_time / DAY:.1f} days)",
        f"calendar {plan.calendar_time / DAY:.0f} days with {len(plan.steps)} turnings of "
        f"{plan.values.turning.time / HOUR:g} h, without masking, waxing, activating and waiting; "
        f"current is usually on for 5 to 20 % of the calendar: {low:.0f} to {high:.0f} days",
        f"metal {plan.mass:.2f} kg, of which {turned:.2f} kg is turned off or sits on ends and "
        "racks",
    ]


def layers_table(plan: PlatingPlan) -> Table:
    """Return the layers, a row each."""
    rows = [
        {**_layer_object(layer), "cycles": len(layer.steps), **_plated(layer.steps)}
        for layer in plan.layers
    ]
    return Table(LAYERS, rows, kind="numbers whole")


def steps_table(plan: PlatingPlan) -> Table:
    """Return the cycles of all layers, with columns to be filled in by hand."""
    rows = [
        {
            **{f"{name}_m": value for name, value in asdict(step).items()},
            **_plated([step]),
            **{"step": f"{step.layer} {step.number}", "measured_m": "", "signed": ""},
        }
        for step in plan.steps
    ]
    return Table(STEPS, rows, kind="blank numbers sign whole")


def _plated(steps: Sequence[Step]) -> dict[str, Any]:
    """Return ``PLATED`` of steps on end."""
    first, last = steps[0], steps[-1]
    return {
        "area_m2": _span(first.area_from, last.area_to, "dm2"),
        "current_A": _span(first.current_from, last.current_to, "A"),
        "time_s": sum(step.time for step in steps),
        "charge_C": sum(step.charge for step in steps),
        "mass_kg": sum(step.mass for step in steps),
    }


def _span(low: float, high: float, unit: str) -> str:
    texts = (quantity("", unit=unit).text(value) for value in (low, high))
    return "-".join(dict.fromkeys(texts))


def checks_table(plan: PlatingPlan) -> Table:
    """Return the checks, the broken ones standing out."""
    rows = [
        (
            check.text,
            shown(check.value, check.unit, check.name),
            _limit(check),
            "" if check.x_m is None else check.x_m,
            VERDICTS.get(check.verdict, check.verdict),
            check.note,
        )
        for check in plan.checks
    ]
    broken = {n: "marked" for n, check in enumerate(plan.checks) if check.verdict == "broken"}
    return Table(CHECKS, rows, emphasis=broken, kind="numbers")


def _limit(check: Check) -> str:
    text = shown(check.limit, check.unit, check.name)
    sense = "<=" if check.kind == "max" else ">="
    return text if not text or text.startswith(">") else f"{sense} {text}"


def shown(value: float | None, si: str, name: str = "") -> str:
    """Return a value in the unit that the shop reads, by the name of its check or key."""
    if value is None:
        return ""
    if name.endswith("buckling") and value > STRONGEST:
        return "> 1000 MPa"
    if si == "K":
        unit = "degC" if "bath" in name or "wax" in name else "K"
        return quantity("", unit=unit).amount(value)
    unit = {"s": "h", "m/s": "um/h"}.get(si, "")
    return with_unit(significant(value * factor(unit)), unit) if unit else amount(value, si, name)


def along_table(plan: PlatingPlan, most: int = 9) -> Table:
    """Return the layers at some stations, the thinnest place and both ends among them."""
    even = np.linspace(plan.x[0], plan.x[-1], most - 1)
    nearest = np.abs(plan.x[:, None] - even).argmin(axis=0)
    stations = np.union1d(nearest, plan.nickel.thinnest)
    along = columns(plan) | {"copper_m": plan.copper}
    rows = np.stack([along[column.key] for column in ALONG], axis=-1)[stations].tolist()
    return Table(ALONG, rows)


def baths_table(plan: PlatingPlan) -> Table:
    """Return the baths with their settings."""
    columns = [text_column("bath", "bath"), Column("density_A_m2", "current density")]
    columns += [Column("T_K", "temperature", unit="degC"), text_column("notes", "notes")]
    rows = [
        (spec.bath.name, spec.current_density, spec.temperature, "; ".join(spec.bath.notes))
        for spec in plan.values.specs
    ]
    return Table(columns, rows)


def summary(plan: PlatingPlan) -> Iterator[Any]:
    """Yield what a console prints: verdict, layers, hours, checks and their notes."""
    layers, checks = layers_table(plan), checks_table(plan)
    yield f"{plan.title}: plating plan, {headline(plan)}"
    yield f"the design's own verdict is {plan.design_verdict}"
    yield ""
    # side by side: layers are few, their numbers many
    beside = [text_column("", ""), *(Column(layer.metal, layer.metal) for layer in plan.layers)]
    rows = zip(layers.headings, *layers.texts(), strict=True)
    yield Table(beside, list(rows)[1:]).rich()
    yield from ("", *hours_lines(plan), *plan.notes, "")
    yield Table(CHECKS[:-1], [row[:-1] for row in checks.rows]).rich()
    yield ""
    for check in plan.checks:
        if check.verdict in ("broken", "not checked", "watch") and check.note:
            yield f"{VERDICTS.get(check.verdict, check.verdict)}: {check.text}: {check.note}"


def plan_object(plan: PlatingPlan, case: Case) -> dict[str, Any]:
    """Return what plating.json holds, null where there is no number."""
    return {
        "schema": SCHEMA,
        "title": plan.title,
        "broken": [check.name for check in plan.broken],
        "design_verdict": plan.design_verdict,
        "time_with_current_s": plan.on_time,
        "calendar_time_s": plan.calendar_time,
        "calendar_range_s": list(plan.calendar_range),
        "turnings": len(plan.steps),
        "mass_kg": plan.mass,
        "layers": [_layer_object(layer) for layer in plan.layers],
        "checks": [asdict(check) for check in plan.checks],
        "taken": [asdict(one) for one in plan.values.assumed],
        "notes": list(plan.notes),
        "words": [headline(plan), *hours_lines(plan)],
        "provenance": {**made_with("numpy"), "case_sha256": case.hash},
    }


def _layer_object(layer: Layer) -> dict[str, Any]:
    spec = layer.spec
    return {
        "metal": layer.metal,
        "bath": spec.bath.name,
        "finished_m": spec.finished,
        "stock_m": spec.stock,
        "mean_deposit_m": layer.deposit,
        "mean_deposit_needed_m": layer.deposit_needed,
        "thinnest_over_mean": float(layer.ratio.min()),
        "current_density_A_m2": spec.current_density,
        "efficiency": spec.efficiency,
        "measured_rate_m_s": spec.rate,
        "growth_by_theory_m_s": layer.growth,
        "time_s": layer.time,
        "time_by_theory_s": layer.theory_time,
        "charge_C": layer.charge,
        "mass_kg": layer.mass,
        "mass_finished_kg": layer.mass_left,
        "steps": [
            {
                **asdict(step),
                "current_density_A_m2": step.current_density,
                "current_from_A": step.current_from,
                "current_to_A": step.current_to,
            }
            for step in layer.steps
        ],
    }


def sheet(plan: PlatingPlan, design: Design, picture: Picture | str) -> str:
    """Return the plating sheet: one page that needs nothing beside it and prints on A4."""
    return page(
        plan.title,
        "Plating sheet",
        sources=[*(c.source for c in plan.checks), *(a.source for a in plan.values.assumed)],
        cautions=[FIRST, *cautions("baths", "solvents", "proof")],
        template="plating.html",
        plan=plan,
        liner=design.liner,
        headline=headline(plan),
        lines=[*hours_lines(plan), *plan.notes],
        before=before_plating(design),
        layers=layers_table(plan),
        steps=steps_table(plan),
        baths=baths_table(plan),
        checks=checks_table(plan),
        picture=picture,
        along=along_table(plan),
        marks=sources.MARKS,
        shown=shown,
        text=page_text,
    )


def add_sheet(folder: Folder, plan: PlatingPlan, design: Design) -> None:
    """Add sheet and figure to a folder."""
    picture = folder.draw(FIGURE, partial(layers_figure, plan), CAPTION)
    folder.add(SHEET, sheet(plan, design, picture))


def write(plan: PlatingPlan, case: Case, path: Path) -> list[Path]:
    """Write table, sheet and figure, then plating.json; return the files written."""
    folder = Folder(path, INDEX, {TABLE: Table.of_arrays(columns(plan))})
    add_sheet(folder, plan, case.design)
    return folder.write(plan_object(plan, case))
