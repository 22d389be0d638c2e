"""Files of a plating plan: table along x, sheet for the bath, figure, and plating.json."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from regen.case.read import Case
from regen.output import closeout_words as words
from regen.output.closeout_sheet import html
from regen.output.figures.closeout import drawn
from regen.output.files import publish
from regen.result import Array
from regen.shop.plating.layers import Layer, Step
from regen.shop.plating.plan import Plan
from regen.storage.cache import made_with

SCHEMA = 1
INDEX = "plating.json"
TABLE = "plating.csv"
SHEET = "plating_sheet.html"


def columns(plan: Plan) -> dict[str, Array]:
    """Return the table along x.

    Parameters
    ----------
    plan : Plan
        Any.

    Returns
    -------
    dict of str to ndarray
        SI, (S,) each, NaN for what is not known.
    """
    found = {
        "x_m": plan.x,
        "r_liner_m": plan.r,
        "r_finished_m": plan.r_finished,
        "nickel_need_m": np.full_like(plan.x, np.nan) if plan.need is None else plan.need,
    }
    for layer in plan.layers:
        name, of = layer.metal, layer.wanted
        found |= {
            f"{name}_local_over_mean": of.ratio,
            f"{name}_deposit_m": layer.deposit * of.ratio,
            f"{name}_before_last_turning_m": layer.as_plated,
            f"{name}_stock_m": layer.as_plated - layer.left,
            f"{name}_finished_m": layer.left,
        }
    return found


def table_text(plan: Plan) -> str:
    """Return the table along x as CSV text, empty where nothing is known.

    Parameters
    ----------
    plan : Plan
        Any.

    Returns
    -------
    str
        One header row, rows by rising x.
    """
    found = columns(plan)
    rows = zip(*found.values(), strict=True)
    lines = [",".join(found)]
    lines += [",".join("" if np.isnan(v) else f"{v:.9g}" for v in row) for row in rows]
    return "\n".join(lines) + "\n"


def _step(step: Step) -> dict[str, Any]:
    return {
        **asdict(step),
        "current_density_A_m2": step.current_density,
        "current_from_A": step.current_from,
        "current_to_A": step.current_to,
    }


def _layer(layer: Layer) -> dict[str, Any]:
    of = layer.wanted
    return {
        "metal": layer.metal,
        "bath": of.bath.name,
        "finished_m": of.finished,
        "stock_m": of.stock,
        "mean_deposit_m": layer.deposit,
        "mean_deposit_needed_m": layer.deposit_needed,
        "thinnest_over_mean": float(of.ratio.min()),
        "current_density_A_m2": of.current_density,
        "efficiency": of.efficiency,
        "measured_rate_m_s": of.rate,
        "growth_by_theory_m_s": layer.growth,
        "time_s": layer.time,
        "time_by_theory_s": layer.theory_time,
        "charge_C": layer.charge,
        "mass_kg": layer.mass,
        "mass_finished_kg": layer.mass_left,
        "steps": [_step(step) for step in layer.steps],
    }


def plan_object(plan: Plan, case: Case, files: dict[str, str]) -> dict[str, Any]:
    """Return what plating.json holds.

    Parameters
    ----------
    plan : Plan
        Any.
    case : Case
        What was planned.
    files : dict
        SHA-256 of each sibling file by name.

    Returns
    -------
    dict
        JSON-serialisable; null where there is no number.
    """
    return {
        "schema": SCHEMA,
        "title": plan.title,
        "broken": [check.name for check in plan.broken],
        "design_verdict": plan.design_verdict,
        "time_with_current_s": plan.on_time,
        "calendar_time_s": plan.calendar_time,
        "calendar_range_s": list(plan.calendar_range),
        "turnings": len(plan.steps),
        "mass_kg": sum(layer.mass for layer in plan.layers),
        "layers": [_layer(layer) for layer in plan.layers],
        "checks": [asdict(check) for check in plan.checks],
        "taken": [asdict(one) for one in plan.taken],
        "notes": list(plan.notes),
        "words": [words.headline(plan), *words.hours_lines(plan)],
        "provenance": {**made_with("numpy"), "case_sha256": case.hash},
        "files": files,
    }


def write_closeout(plan: Plan, case: Case, folder: Path) -> list[Path]:
    """Write table, sheet and figure, then plating.json with their hashes.

    Parameters
    ----------
    plan : Plan
        Any.
    case : Case
        What was planned.
    folder : Path
        Output folder, made if it is absent.

    Returns
    -------
    list of Path
        Files written, plating.json last.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    figures = drawn(plan)
    contents = {
        TABLE: table_text(plan).encode(),
        SHEET: html(plan, case.design, figures).encode(),
        **figures,
    }
    return publish(
        folder,
        contents,
        INDEX,
        lambda files: plan_object(plan, case, files),
        figures.not_drawn,
    )
