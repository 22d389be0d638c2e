"""Files for the shop: tables, drawings, pages, and shop.json last with their hashes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from regen.checks.review import PACKAGES
from regen.output import closeout, shop_cutters, shop_drawings, shop_pages
from regen.output.folder import Folder
from regen.output.shop_pages import MM
from regen.result import Result
from regen.shop.drawings.sheets import ShopSet
from regen.shop.plating.plan import PlatingPlan
from regen.shop.traveller import page_text, page_texts, tool_text
from regen.storage.cache import made_with
from regen.studies.release.to_shop import ToShop

SCHEMA = 1
INDEX = "shop.json"


def release(result: Result, plated: PlatingPlan | None) -> str:
    """Return whether a design is released, by its verdict and that of its plating plan."""
    unknown = result.verdict != "fail" and not result.nominal_kept
    text = page_text(f"release {'unknown' if unknown else result.verdict}")
    if plated is None or not plated.broken:
        return text
    broken = "; ".join(check.text for check in plated.broken)
    return page_text("release plating", broken=broken, text=text)


def notes(shop: ShopSet) -> list[str]:
    """Return what the cutters leave, and what was noted where the slots were laid."""
    codes = ("thin land", "folding roof")
    own = [note.text for note in shop.result.notes if note.code in codes]
    return own if shop.design.closeout.route == "printed" else [*shop.plan.notes, *own]


def lines(shop: ShopSet, plated: PlatingPlan | None) -> list[str]:
    """Return what the command prints: release, slots, cutters, plating, notes."""
    result = [f"{shop.design.title}: {release(shop.result, plated)}"]
    for sheet in shop.sheets:
        stretch, wall = sheet.stretch, sheet.rows.wall
        result.append(
            f"{stretch.circuit}: {stretch.count} slots each {stretch.index_angle:.6g} deg, "
            f"{wall.size} rows, wall left {wall.min() * MM:.3f} to {wall.max() * MM:.3f} mm"
        )
    result += [tool_text(tool) for tool in shop.tools]
    if plated is not None:
        result.append(f"plating: {plated.on_time / closeout.HOUR:.0f} h with current")
    return result + [f"note: {text}" for text in notes(shop)]


def summary(study: ToShop) -> list[str]:
    """Return what the command prints, also where there is nothing to write."""
    if study.drawn is None:
        return _refusal(study)
    return [*lines(study.drawn, study.plated), "", *shop_cutters.lines(study)]


def _refusal(study: ToShop) -> list[str]:
    problems = study.machined.plan.problems
    what = "the cutters cannot make these slots" if problems else "not solved as machined"
    text = [f"nothing is written: {what}"]
    text += [f"- {reason}" for reason in problems or (study.machined.stopped,)]
    text += [f"would help: {remedy.text}" for remedy in study.machined.remedies]
    return text + (shop_cutters.widths(study.at_widths).lines() if study.at_widths else [])


def collect(job: ToShop, path: Path) -> Folder:
    """Return the folder with all files for the shop but their index; the cutters can make them."""
    shop = _drawn(job)
    design, text = shop.design, release(shop.result, job.plated)
    title = [
        design.title,
        f"Units mm. Liner {design.liner.alloy}, {design.liner.condition}.",
        f"Case SHA-256 {shop.case_hash[:16] or 'not given'}.",
        text,
    ]
    folder = Folder(path, INDEX)
    axes, ends = page_text("drawing_axes"), page_text("drawing_ends")
    turned = [*title, axes, page_text("lathe"), ends]
    sections = [*title, *page_texts("sections")]
    folder.add("lathe_profile.dxf", shop_drawings.profile(shop.turned, turned))
    folder.add("slot_section.dxf", shop_drawings.slot_section(shop.rings, sections))
    folder.add("measured_slots.csv", shop_pages.measured_csv(shop))
    folder.add("traveller.html", shop_pages.traveller(shop, text, job.plated))
    folder.add("inspection.html", shop_pages.inspection(shop, text))
    if design.closeout.route != "printed":
        folder.add("cutting_table.html", shop_pages.cutting(shop, text, notes(shop)))
        folder.add("cutting_table.csv", shop_pages.cutting_table(shop))
        cut = [*title, axes, *page_texts("mill"), ends, *map(tool_text, shop.tools)]
        folder.add("slot_profile.dxf", shop_drawings.profile(shop.cut, cut, shop.tools))
        shop_cutters.add_page(folder, job, design, text)
    if job.plated is not None:
        closeout.add_sheet(folder, job.plated, design)
        folder.files.pop(closeout.FIGURE, None)  # stands in the sheet
    if shop.tools:
        folder.add("cutter_path.csv", shop_pages.path_table(shop))
    return folder


def write(job: ToShop, path: Path) -> list[Path]:
    """Write all files for the shop, shop.json last; return those written."""
    return collect(job, path).write(_index(job, _drawn(job)))


def _drawn(job: ToShop) -> ShopSet:
    if job.drawn is None:
        message = "the cutters cannot make these slots: there is nothing to write"
        raise ValueError(message)
    return job.drawn


def _index(job: ToShop, shop: ShopSet) -> dict[str, Any]:
    """Return what shop.json holds."""
    return {
        "schema": SCHEMA,
        "title": shop.design.title,
        "verdict": shop.result.verdict,
        "released": job.released,
        "words": release(shop.result, job.plated),
        "stretches": [
            {
                "stretch": sheet.stretch.number,
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
        "cutters": [tool_text(tool) for tool in shop.tools],
        "notes": notes(shop),
        "summary": dict(shop.result.summary),
        "provenance": {**made_with(*PACKAGES, "ezdxf"), "case_sha256": shop.case_hash},
    }
