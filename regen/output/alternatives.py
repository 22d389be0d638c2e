"""Alternatives of a case: alternatives.csv, a printable page, a figure, alternatives.json, text."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from regen.case.read import Case
from regen.checks.review import PACKAGES
from regen.output.folder import Folder
from regen.output.labels import firings, limit_name, percent
from regen.output.page import Picture, page
from regen.output.table import Column, Table, text_column
from regen.quantities import decimal
from regen.result import COLUMN_NAMES, Result
from regen.sources import MARKS
from regen.storage.cache import made_with
from regen.studies.alternatives.processes import TUBES, processes
from regen.studies.alternatives.study import LIVES, START, Alternatives, Row

SCHEMA = 1
INDEX = "alternatives.json"
CAPTION = (
    "Peak hot-wall temperature of each process, nominal and of the worst channel, against the "
    "limit of its own liner; and the coolant's pressure drop."
)
SUMMARY = (
    "T_wall_hot_max_K",
    "T_wall_cold_max_K",
    "q_max_W_m2",
    "coolant_temperature_out_K",
    "coolant_pressure_drop_Pa",
    "coolant_pressure_out_Pa",
    "mass_cooled_kg",
)
COLUMNS = (
    text_column("name", ""),
    text_column("process", "process"),
    Column("T_wall_hot_max_K", "hot wall", decimals=0),
    Column("T_wall_hot_max_worst_K", "worst channel", decimals=0),
    Column("coolant_pressure_drop_Pa", "pressure drop"),
    text_column("least", "least nominal margin"),
    Column("life", "life", "firings"),
    Column("mass_cooled_kg", "mass"),
    Column("hours", "hours"),
    text_column("verdict", "verdict"),
)


# --- files


def row(alternative: Row) -> dict[str, Any]:
    """Return one row as plain values, SI; None where there is no number."""
    result, plan = alternative.result, alternative.plan
    summary = result.summary if result else {}
    hours = processes()[alternative.process].hours
    return {
        "name": alternative.name,
        "route": alternative.process,
        "origin": alternative.origin,
        "status": "solved" if result else "not solved",
        "verdict": result.verdict if result else None,
        **{name: summary.get(name) for name in SUMMARY},
        "T_wall_hot_max_worst_K": result.worst_channel.get("T_wall_hot_max_K") if result else None,
        **{f"{name}_firings": life for name, life in _lives(alternative).items()},
        "plating_hours": plan.on_time / 3600.0 if plan else None,
        "plating_calendar_hours": plan.calendar_time / 3600.0 if plan else None,
        "hours_from": hours.low if hours else None,
        "hours_to": hours.high if hours else None,
        "not_made_so": list(alternative.out_of_reach),
        "bond": alternative.bond or None,
        "not_assessed": list(alternative.not_assessed),
        "reason": alternative.reason or None,
        "values": dict(alternative.values),
        "case_sha256": alternative.case.hash if alternative.case else None,
    }


def _lives(alternative: Row) -> dict[str, float | None]:
    lives = alternative.lives
    return {name: lives[name].value if name in lives else None for name in LIVES}


def table(study: Alternatives) -> Table:
    """Return the rows as data."""
    return Table.of_rows(map(row, study.rows))


def description(study: Alternatives, case: Case) -> dict[str, Any]:
    """Return what alternatives.json holds; null where there is no number."""
    return {
        "schema": SCHEMA,
        "title": study.title,
        "rows": [row(one) for one in study.rows],
        "margins": {
            one.name: {
                margin.name: {
                    **{name: margin.margin(name) for name in COLUMN_NAMES},
                    "verdict": margin.verdict,
                }
                for margin in one.result.margins
            }
            for one in study.rows
            if one.result
        },
        "brazed_tubes": TUBES,
        "words": lines(study),
        "provenance": {**made_with(*PACKAGES), "case_sha256": case.hash},
    }


def write(study: Alternatives, case: Case, folder: Path) -> list[Path]:
    """Write table and index, then both again with figure and page; return the paths."""
    out = Folder(folder, INDEX)
    out.add("alternatives.csv", table(study))
    whole = description(study, case)
    out.write(whole)  # the numbers are not to wait for the figure

    from regen.output.figures.alternatives import processes_figure

    picture = out.draw("figures/alternatives.svg", partial(processes_figure, study), CAPTION)
    out.add("alternatives.html", comparison_page(study, case, picture))
    return out.write(whole)


def comparison_page(study: Alternatives, case: Case, picture: Picture | str) -> str:
    """Return the printable page."""
    known = {one.process: processes()[one.process] for one in study.rows}
    return page(
        f"{study.title}: by other processes",
        f"Case {case.path.name}; regen {made_with()['regen']}.",
        sources=set().union(*(process.sources for process in known.values())),
        template="alternatives.html",
        rows=study.rows,
        known=known,
        compared=replace(shown_table(study), kind="whole"),
        picture=picture,
        notes=notes,
        tubes=TUBES,
        marks=MARKS,
    )


# --- text


def lines(study: Alternatives) -> list[str]:
    """Return what the terminal shows."""
    remarks = [
        line
        for one in study.rows
        if (texts := notes(one))
        for line in ("", f"{one.name}:", *(f"  {text}" for text in texts))
    ]
    shown = shown_table(study).lines()
    return [f"{study.title}: by other processes", "", *shown, *remarks, "", TUBES]


def shown_table(study: Alternatives) -> Table:
    """Return the rows as terminal and page show them."""
    return Table(COLUMNS, [_shown(one) for one in study.rows])


def _shown(alternative: Row) -> dict[str, Any]:
    result, origin = alternative.result, alternative.origin
    shown = {
        "name": alternative.name,
        "process": alternative.process + (f", {origin}" if origin == START else ""),
        "hours": _time(alternative)[0],
        "verdict": "not solved",
        "least": "-",
    }
    if result is None:
        return shown
    worst: Any = result.worst_channel.get("T_wall_hot_max_K")
    if worst is not None and result.worst_channel.get("corners_not_solved"):
        worst = f"{decimal(worst, 0)} or more"
    return {
        **result.summary,
        **shown,
        "T_wall_hot_max_worst_K": worst,
        "least": least(result),
        "life": firings(*_lives(alternative).values()),
        "verdict": result.verdict,
    }


def least(result: Result) -> str:
    """Return the limit with the least nominal margin, and that margin."""
    margin, name = min(
        (m.nominal, m.name) for m in result.margins if m.nominal is not None and not m.informative
    )
    return f"{limit_name(name)} {percent(margin)}"


def notes(alternative: Row) -> list[str]:
    """Return what differs in one row, what its process does not make, and what is missing."""
    caution = processes()[alternative.process].caution if alternative.origin == START else ""
    life = alternative.lives.get(LIVES[0])
    texts = [
        f"differs: {changed(alternative)}" if alternative.values else "",
        caution,
        alternative.reason,
        *(f"outside what this process makes: {text}" for text in alternative.out_of_reach),
        alternative.bond,
        f"life: {life.note}" if life is not None and life.value is not None else "",
        _time(alternative)[1],
        *(f"not assessed: {text}" for text in alternative.not_assessed),
    ]
    return [text for text in texts if text]


def _time(alternative: Row) -> tuple[str, str]:
    """Return the hours in the bath or of the process's own step, and what they are."""
    if (plan := alternative.plan) is not None:
        on, whole = plan.on_time / 3600.0, plan.calendar_time / 3600.0
        low, high = (time / 86400.0 for time in plan.calendar_range)
        return decimal(on, 0), (
            f"{on:.0f} h with current, {whole:.0f} h with all turnings; a calendar of {low:.0f} to "
            f"{high:.0f} days is usual"
        )
    hours = processes()[alternative.process].hours
    if hours is None:
        return "-", ""
    return f"{hours.low:g}-{hours.high:g}", (
        f"{hours.low:g} to {hours.high:g} h {hours.marked}; preparation, machining and tests "
        "are not included"
    )


def changed(alternative: Row) -> str:
    """Return what a row changes in the case, without the keys that it takes out."""
    given = {key: value for key, value in alternative.values.items() if value not in (None, [])}
    return ", ".join(f"{key} = {_value(value)}" for key, value in given.items())


def _value(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(map(_value, value))
    return f'"{value}"' if isinstance(value, str) else str(value)
