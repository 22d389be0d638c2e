"""``regen list``: what is built in, with range, source and mark."""

from __future__ import annotations

import json
from collections.abc import Callable
from enum import StrEnum
from typing import Annotated, Any

import typer

from regen_cli.options import JsonOption, exit_codes

Row = dict[str, Any]


class What(StrEnum):
    """What can be listed."""

    alloys = "alloys"
    coolants = "coolants"
    propellants = "propellants"
    correlations = "correlations"
    limits = "limits"


def listing(
    what: Annotated[What, typer.Argument(metavar="WHAT", help="One of: " + ", ".join(What))],
    as_json: JsonOption = False,
) -> None:
    """List alloys, coolants, propellants, correlations or limits: range, source, mark."""
    with exit_codes():
        rows = ROWS[what]()
        if as_json:
            typer.echo(json.dumps(rows, indent=1))
        else:
            _print(rows)


def _print(rows: list[Row]) -> None:
    from rich.console import Console

    console = Console(soft_wrap=True, highlight=False)
    for row in rows:
        name, *rest = row.items()
        console.print(f"[bold]{name[1]}[/]")
        for key, value in rest:
            if value not in (None, "", [], {}):
                text = "; ".join(map(str, value)) if isinstance(value, list) else value
                console.print(f"  {key.replace('_', ' ')}: {text}", markup=False)


def _cite(key: str) -> str:
    from regen.sources import cite, find

    return f"{key}: {cite(find(key))}"


def _alloys() -> list[Row]:
    from regen.properties.alloys import alloys

    rows = []
    for alloy in alloys().values():
        spans = [
            f"{name} ({condition}) {table.T[0]:.0f} to {table.T[-1]:.0f} K"
            for (condition, name), table in alloy.tables.items()
        ]
        keys = sorted({key for table in alloy.tables.values() for key in table.sources})
        limits = [
            f"{service} service {fact.value:.0f} K ({fact.source}, {fact.mark})"
            for service, fact in alloy.T_max.items()
        ]
        rows.append(
            {
                "name": alloy.key,
                "composition": alloy.composition,
                "form": alloy.form,
                "conditions": [f"{name}: {text}" for name, text in alloy.conditions.items()],
                "hot_wall_limit": limits,
                "tables": spans,
                "notes": list(alloy.notes),
                "sources": [_cite(key) for key in keys],
            }
        )
    return rows


def _coolants() -> list[Row]:
    from regen import bands
    from regen.checks.limits import coking_limits
    from regen.properties.coolant import COOLANTS, coolant_table

    coking = coking_limits()
    rows = []
    for name in COOLANTS:
        table = coolant_table(name)
        limit = coking.get(name)
        wall = f"{limit.value:.0f} K ({limit.source}, {limit.mark})" if limit else "none known"
        forms = [
            f"{where} the critical pressure: {', '.join(bands.coolant_side(name, above).members)}"
            for where, above in (("above", True), ("below", False))
        ]
        rows.append(
            {
                "name": name,
                "critical_point": f"{table.T_critical:.2f} K, {table.p_critical / 1e5:.2f} bar",
                "temperature": f"{table.T_min:.0f} to {table.T_max:.0f} K; extrapolated and noted "
                f"to {table.T_top:.0f} K",
                "pressure": f"{table.p_min / 1e5:.3g} to {table.p_max / 1e5:.0f} bar",
                "wall_limit": wall,
                "correlations": forms,
                "source": _cite("coolprop"),
            }
        )
    return rows


def _propellants() -> list[Row]:
    from regen.properties.feed import SPECIES

    return [
        {
            "name": name,
            "states": ["liquid", "gas"] if species.gas else ["liquid"],
            "usual_storage_temperature": f"{species.storage:.2f} K",
            "source": _cite(species.source),
        }
        for name, species in SPECIES.items()
        if name != "water"
    ]


def _correlations() -> list[Row]:
    from regen.physics import _dispatch, burnout  # noqa: F401 - registers them
    from regen.physics.registry import CORRELATIONS
    from regen.sources import find

    return [
        {
            "name": c.name,
            "role": c.role.replace("_", " "),
            "text": c.text,
            "range": [f"{key} {low:g} to {high:g}" for key, (low, high) in c.ranges.items()],
            "source": _cite(c.source),
            "mark": find(c.source).mark,
        }
        for c in CORRELATIONS.values()
    ]


def _limits() -> list[Row]:
    from dataclasses import fields

    from regen.case_model import Limits as Keys
    from regen.checks.limits import coking_limits
    from regen.design import Limits

    texts = {name: info.description for name, info in Keys.model_fields.items()}
    rows: list[Row] = [
        {
            "name": f"limits.{field.name}",
            "text": texts.get(field.name),
            "default": "of alloy or coolant" if field.default is None else field.default,
        }
        for field in fields(Limits)
    ]
    rows += [
        {
            "name": f"coolant-side wall of {fluid}",
            "default": f"{fact.value:.0f} K",
            "mark": fact.mark,
            "source": _cite(fact.source),
        }
        for fluid, fact in coking_limits().items()
    ]
    return rows


ROWS: dict[What, Callable[[], list[Row]]] = {
    What.alloys: _alloys,
    What.coolants: _coolants,
    What.propellants: _propellants,
    What.correlations: _correlations,
    What.limits: _limits,
}
