"""The shop's pages: cutting table, traveller, inspection sheet; self-contained, no scripts."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files as resources
from typing import Any

import jinja2

from regen.output import shop_route, shop_table, shop_words
from regen.output.shop_sketch import sketches
from regen.output.shop_table import COLUMNS, MM, number
from regen.result import Finding
from regen.shop.drawings.drawing import Rows
from regen.shop.drawings.sheets import Sheet, ShopSet
from regen.shop.plating.plan import Plan

TEMPLATES = "templates"
PAGES = {
    "cutting_table": "Cutting table for the mill",
    "traveller": "Process traveller",
    "inspection": "Inspection and proof sheet",
}

MAKING = {
    "electroformed": ("cutting", "baths", "solvents"),
    "HIP-bonded": ("cutting", "joining", "solvents"),
    "brazed": ("cutting", "joining", "solvents"),
    "printed": ("powder", "joining", "cutting", "solvents"),
}
"""Cautions of a traveller, by route."""

PROOF = "proof"
"""Section of the findings."""

HOLD = "10 min"
"""At full proof pressure: common practice."""


def pages(shop: ShopSet, plated: Plan | None) -> dict[str, bytes]:
    """Return the pages by file name.

    Parameters
    ----------
    shop : ShopSet
        All that goes to the shop.
    plated : Plan or None
        Plating plan; None where the jacket is not plated.

    Returns
    -------
    dict of str to bytes
        HTML; the same for the same arguments.
    """
    release = shop_words.release(shop.result, plated)
    made = {"traveller": _traveller(shop, plated), "inspection": _inspection(shop)}
    if shop.design.closeout.route != "printed":
        made["cutting_table"] = _cutting(shop)
    return {
        f"{name}.html": _rendered(shop, name, release, values).encode()
        for name, values in made.items()
    }


def _rendered(shop: ShopSet, name: str, release: str, values: Mapping[str, Any]) -> str:
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, loader=jinja2.FunctionLoader(_template)
    )
    keys = {
        "cutting_table": ("cutting",),
        "traveller": (*MAKING[shop.design.closeout.route], "proof", "oxygen"),
        "inspection": ("proof", "solvents", "oxygen"),
    }
    cautions = [text for key in keys[name] for text in shop_words.SAFETY[key]]
    return environment.get_template(f"shop_{name}.html").render(
        title=shop.design.title,
        page=PAGES[name],
        sideways=name == "inspection",
        regen=shop.result.provenance["regen"],
        case_hash=shop.case_hash,
        release=release,
        released="NOT FOR" not in release,
        first=shop_words.FIRST,
        cautions=cautions,
        **values,
    )


def _template(name: str) -> str:
    return (resources("regen.output") / TEMPLATES / name).read_text("utf-8")


# cutting table


def _cutting(shop: ShopSet) -> dict[str, Any]:
    face, tolerance = shop.contour.x_injector, shop.design.shop
    paged = [column for column in COLUMNS if column.page]
    angled: dict[int, str] = {}
    for sheet in shop.sheets:
        angled.setdefault(sheet.stretch.count, f"{sheet.stretch.count} slots")
    sheets = []
    for sheet in shop.sheets:
        stretch = sheet.stretch
        title = angled.pop(stretch.count, "")
        columns = [column.value(sheet.rows, face) for column in paged]
        cells = [
            [number(value, column.decimals[1]) for value, column in zip(row, paged, strict=True)]
            for row in zip(*columns, strict=True)
        ]
        sheets.append(
            {
                **_named(sheet),
                "sexagesimal": shop_table.sexagesimal(stretch.index_angle),
                "start": number(stretch.start * MM, 3),
                "stop": number(stretch.stop * MM, 3),
                "back": stretch.back,
                "rows": list(zip(cells, sheet.tools, sheet.remarks, strict=True)),
                "angles": shop_table.angles(stretch) if title else [],
                "angle_title": title,
            }
        )
    tools = [
        {
            "label": tool.label,
            "circuit": tool.circuit,
            "words": shop_words.tool_words(tool),
            "point": "the middle of the flat end; its axis is radial"
            if tool.cutter.kind == "end mill"
            else "the centre of the disc; the disc stands in a plane through the axis",
            "rows": list(shop_table.path_rows(tool, face, 3)),
        }
        for tool in shop.tools
    ]
    return dict(
        datum=shop_words.datum(shop),
        sheets=sheets,
        headings=[column.page for column in paged],
        tools=tools,
        tolerance={
            "width": f"{tolerance.width_tolerance * MM:g}",
            "depth": f"{tolerance.depth_tolerance * MM:g}",
            "wall": f"{tolerance.wall_tolerance * MM:g}",
        },
        notes=shop_words.notes(shop),
        sketches=sketches(shop.rings, shop.design.closeout.jacket_alloy),
    )


def _named(sheet: Sheet) -> dict[str, Any]:
    stretch = sheet.stretch
    return {
        "number": sheet.number,
        "circuit": stretch.circuit,
        "count": stretch.count,
        "index": f"{stretch.index_angle:.6f}",
    }


# traveller


def _traveller(shop: ShopSet, plated: Plan | None) -> dict[str, Any]:
    route = shop.design.closeout.route
    said = {
        "electroformed": "Slots milled, filled with wax, closed by plating",
        "HIP-bonded": "Slots milled, jacket joined by hot isostatic pressing",
        "brazed": "Slots milled, jacket brazed",
        "printed": "Liner printed with closed channels",
    }
    plan = ""
    if plated is not None:
        hours = plated.on_time / 3600.0
        days = [t / 86400.0 for t in plated.calendar_range]
        plan = (
            f"Plating: {hours:.0f} h with current, {len(plated.steps)} turnings; in the calendar "
            f"{min(days):.0f} to {max(days):.0f} days (hours with current are 5 to 20 % of it, "
            "common practice). Bath, current and checks: plating sheet."
        )
    tests = [f"{test['name']}: {test['pressure']}." for test in _proofs(shop)]
    return dict(
        route=said[route],
        plan=plan,
        operations=shop_route.operations(shop, plated, tests),
    )


# inspection


def _inspection(shop: ShopSet) -> dict[str, Any]:
    sheets = []
    for sheet in shop.sheets:
        places = [
            {"letter": chr(ord("A") + n), "name": name, "cells": _limits(shop, rows)}
            for n, (name, rows) in enumerate(sheet.gauged)
        ]
        sheets.append({**_named(sheet), "places": places})
    return dict(
        sheets=sheets,
        proofs=_proofs(shop),
        proof_notes=_proof_notes(shop),
    )


def _limits(shop: ShopSet, rows: Rows) -> list[str]:
    """Return x, r and nominal, least and most of each size of one place [mm]."""
    tolerance = shop.design.shop
    sizes = (
        (rows.width, tolerance.width_tolerance),
        (rows.depth, tolerance.depth_tolerance),
        (rows.wall, tolerance.wall_tolerance),
    )
    face = shop.contour.x_injector
    found = [rows.x[0], rows.floor_x[0], rows.floor_x[0] - face, rows.floor_r[0]]
    for value, off in sizes:
        found += [value[0], value[0] - off, value[0] + off]
    return [number(MM * float(value), 3) for value in found]


def _proofs(shop: ShopSet) -> list[dict[str, str]]:
    """Return the proof tests: pressures of the strength checks where the result has them."""
    wanted = {
        "channels": "Channels, bore empty",
        "bore": "Bore alone, channels empty",
    }
    found = []
    for key, name in wanted.items():
        finding = _finding(shop, key)
        pressure = "not worked out: see the strength checks of 'regen review'"
        if finding is not None and finding.value is not None:
            pressure = f"{finding.value / 1e5:.0f} bar gauge"
        found.append(
            {
                "name": name,
                "pressure": pressure,
                "hold": HOLD,
                "acceptance": "no leak, no drop of pressure but by temperature, no lasting growth "
                "of diameter, flow as before",
            }
        )
    return found


def _finding(shop: ShopSet, key: str) -> Finding | None:
    for finding in shop.result.findings:
        if finding.section == PROOF and finding.unit == "Pa" and key in finding.name:
            return finding
    return None


def _proof_notes(shop: ShopSet) -> list[str]:
    said = [
        f"{finding.text}: {finding.note}"
        for finding in shop.result.findings
        if finding.section == PROOF and finding.note
    ]
    said.append(
        "Pressures are gauge, raised in at least five steps; time and acceptance are common "
        "practice, the code that holds for the place goes before them."
    )
    return said
