"""Files for the shop: tables, drawings, pages, and shop.json last with their hashes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from regen.checks.review import PACKAGES
from regen.output import cutters_page, shop_dxf, shop_table, shop_words
from regen.output.closeout_files import SHEET
from regen.output.closeout_sheet import html
from regen.output.figures.closeout import drawn
from regen.output.files import Drawn, publish
from regen.output.shop_pages import pages
from regen.shop.drawings.sheets import ShopSet
from regen.storage.cache import made_with
from regen.studies.release.to_shop import ToShop

SCHEMA = 1
INDEX = "shop.json"


def write_shop(found: ToShop, folder: Path) -> list[Path]:
    """Write all files for the shop, shop.json last.

    Parameters
    ----------
    found : ToShop
        What goes to the shop; its cutters can make it.
    folder : Path
        Output folder, made if it is absent.

    Returns
    -------
    list of Path
        Files written, shop.json last.

    Raises
    ------
    OutputError
        If the folder cannot be written; what it held is untouched.
    ValueError
        If nothing is drawn.
    """
    shop = _drawn(found)
    files = contents(found)
    return publish(
        folder, files, INDEX, lambda hashes: _index(found, shop, hashes), files.not_drawn
    )


def contents(found: ToShop) -> Drawn:
    """Return all files for the shop but their index.

    Parameters
    ----------
    found : ToShop
        What goes to the shop; its cutters can make it.

    Returns
    -------
    Drawn
        By name; the same for the same arguments.

    Raises
    ------
    ValueError
        If nothing is drawn.
    """
    shop = _drawn(found)
    said = shop_words.release(shop.result, found.plated)
    title = shop_words.title_block(shop.design, shop.case_hash, said)
    not_drawn: list[str] = []
    files = {
        "lathe_profile.dxf": shop_dxf.profile(shop.turned, [*title, *shop_words.TURNED]),
        "slot_section.dxf": shop_dxf.slot_section(shop.rings, [*title, *shop_words.SECTIONS]),
        "measured_slots.csv": shop_table.measured_csv(shop).encode(),
        **pages(shop, found.plated),
    }
    if shop.design.closeout.route != "printed":
        files["cutting_table.csv"] = shop_table.cutting_csv(shop).encode()
        words = [*title, *shop_words.CUT, *map(shop_words.tool_words, shop.tools)]
        files["slot_profile.dxf"] = shop_dxf.profile(shop.cut, words, _discs(shop))
    if found.plated is not None:
        layers = drawn(found.plated)
        files[SHEET] = html(found.plated, shop.design, layers).encode()
        not_drawn += layers.not_drawn
    if shop.design.closeout.route != "printed":
        tolerance = shop.design.shop.depth_tolerance
        cutters = cutters_page.files(found, shop.design.title, said, tolerance)
        files |= cutters
        not_drawn += cutters.not_drawn
    if shop.tools:
        files["cutter_path.csv"] = shop_table.path_csv(shop).encode()
    return Drawn(files, tuple(not_drawn))


def _drawn(found: ToShop) -> ShopSet:
    if found.drawn is None:
        message = "the cutters cannot make these slots: there is nothing to write"
        raise ValueError(message)
    return found.drawn


def _discs(shop: ShopSet) -> list[tuple[float, float, float]]:
    """Return centre and radius of each disc at both ends of its way [m]."""
    return [
        (float(tool.x[end]), float(tool.r[end]), tool.radius)
        for tool in shop.tools
        if tool.radius > 0.0
        for end in (0, -1)
    ]


def _index(found: ToShop, shop: ShopSet, files: dict[str, str]) -> dict[str, Any]:
    """Return what shop.json holds."""
    return {
        "schema": SCHEMA,
        "title": shop.design.title,
        "verdict": shop.result.verdict,
        "released": found.released,
        "words": shop_words.release(shop.result, found.plated),
        "stretches": [
            {
                "stretch": sheet.number,
                "circuit": sheet.stretch.circuit,
                "slots": sheet.stretch.count,
                "index_angle_deg": sheet.stretch.index_angle,
                "rows": int(sheet.rows.x.size),
                "wall_min_m": float(sheet.rows.wall.min()),
                "wall_max_m": float(sheet.rows.wall.max()),
                "slot_volume_m3": sheet.volume,
            }
            for sheet in shop.sheets
        ],
        "cutters": [shop_words.tool_words(tool) for tool in shop.tools],
        "notes": shop_words.notes(shop),
        "summary": dict(shop.result.summary),
        "provenance": {**made_with(*PACKAGES, "ezdxf"), "case_sha256": shop.case_hash},
        "files": files,
    }
