"""Tables and pages of the shop: cutting table, cutter paths, traveller, inspection sheet."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from string import ascii_uppercase
from typing import Any

from regen.output.closeout import DAY
from regen.output.page import page
from regen.output.shop_drawings import sketch
from regen.output.table import Column, Table, text_column
from regen.quantities import decimal
from regen.result import Array
from regen.shop import traveller as texts
from regen.shop.drawings.sheets import Sheet, ShopSet, Tool
from regen.shop.plating.plan import PlatingPlan

MM = 1e3
NOT_RELEASED = "NOT FOR"
"""Begins the text on every page of a design that breaks a limit, see data/traveller.toml."""

FACE = "x from the injector face"

FLOOR = (
    ("x [mm]", Column("x_m", "x from throat", decimals=3), "floor_x"),
    ("x from injector face [mm]", Column("x_face_m", "x from face", decimals=3), FACE),
    ("r floor [mm]", Column("r_floor_m", "r floor", decimals=3), "floor_r"),
    ("slope of floor [deg]", Column("slope_rad", "slope", decimals=2), "floor_slope"),
    ("width [mm]", Column("width_m", "width", decimals=3), "width"),
    ("depth normal [mm]", Column("depth_m", "depth normal", decimals=3), "depth"),
    ("depth radial [mm]", Column("depth_m", "depth radial", decimals=3), "depth_radial"),
    ("r blank [mm]", Column("r_blank_m", "r blank", decimals=3), "blank_r"),
    ("wall [mm]", Column("wall_m", "wall", decimals=3), "wall"),
    ("land at floor [mm]", Column("land_m", "land at floor", decimals=3), "land_floor"),
    ("land at top [mm]", Column("land_m", "land at top", decimals=3), "land_top"),
    ("x hot wall [mm]", Column("x_m", "x hot wall", decimals=3), "x"),
    ("r hot wall [mm]", Column("r_m", "r hot wall", decimals=3), "r"),
)
"""Heading in the file, column of the page, and field of ``Rows``.

Lengths are those of the drawing, wall and normal depth along the contour's normal.
"""

ON_PAGE = 11
"""Columns of ``FLOOR`` that the page has."""

PATH = (
    Column("x_m", "x from throat", decimals=3),
    Column("x_face_m", "x from face", decimals=3),
    Column("r_m", decimals=3),
    Column("r_lowest_m", decimals=3),
)


def sexagesimal(angle: float) -> str:
    """Return an angle [deg] as a dividing head is set, seconds to a hundredth."""
    seconds, rest = divmod(round(angle * 360000), 100)
    minutes, seconds = divmod(seconds, 60)
    degrees, minutes = divmod(minutes, 60)
    return f"{degrees}\u00b0 {minutes:02d}\u2032 {seconds:02d}.{rest:02d}\u2033"


def cutting_table(shop: ShopSet) -> Table:
    """Return the slot floor of all stretches by rising x, in mm, for the file."""
    head = ["stretch", "circuit", "slots", "index angle [deg]", "first slot [deg]", "cutter"]
    head += [*(name for name, *_ in FLOOR), "remark"]
    rows = []
    for sheet in shop.sheets:
        stretch = sheet.stretch
        first = [stretch.number, stretch.circuit, stretch.count, f"{stretch.index_angle:.8f}", 0]
        cells = [_fixed(column, values) for column, values in _floor(sheet, shop)]
        rows += [[*first, *row] for row in zip(sheet.tools, *cells, sheet.remarks, strict=True)]
    return Table([Column(name) for name in head], rows)


def _floor(sheet: Sheet, shop: ShopSet) -> list[tuple[Column, Array]]:
    """Return the columns of the cutting table with their values [SI]."""
    face = sheet.rows.floor_x - shop.contour.x_injector
    return [
        (column, face if field == FACE else getattr(sheet.rows, field))
        for _, column, field in FLOOR
    ]


def path_table(shop: ShopSet) -> Table:
    """Return the paths of all cutters in mm: of a disc's centre, of the middle of a flat end."""
    head = ["cutter", "stretch", "circuit", "slots", "kind", "cutter width [mm]"]
    head += ["disc diameter [mm]", "passes side by side", "x [mm]", "x from injector face [mm]"]
    rows = []
    for tool in shop.tools:
        cutter, stretch = tool.path.cutter, tool.stretch
        disc = f"{cutter.diameter * MM:g}" if cutter.diameter else ""
        first = [tool.label, tool.stretch.number, stretch.circuit, stretch.count, cutter.kind]
        first += [f"{cutter.width * MM:g}", disc, tool.path.passes]
        cells = [_fixed(*cell) for cell in zip(PATH, _path(tool, shop), strict=True)]
        rows += [[*first, *row] for row in zip(*cells, strict=True)]
    return Table([Column(name) for name in [*head, "r [mm]", "r lowest [mm]"]], rows)


def _path(tool: Tool, shop: ShopSet) -> tuple[Array, ...]:
    """Return a cutter's path by the columns of ``PATH`` [m]."""
    return tool.x, tool.x - shop.contour.x_injector, tool.r, tool.r - tool.path.radius


def _fixed(column: Column, values: Array) -> list[str]:
    """Return values [SI] with the four decimals of a file, empty where the blank has ended."""
    values = column.quantity.shown(values)
    return ["" if math.isnan(value) else decimal(value, 4) for value in values.tolist()]


def measured_csv(shop: ShopSet) -> str:
    """Return the table to be filled in, a row each slot and place; x is on the hot wall."""
    rows = ["slot, x [mm], width [mm], depth [mm], wall [mm]"]
    for sheet in shop.sheets:
        for slot in range(1, sheet.stretch.count + 1):
            rows += [f"{slot}, {MM * x:.3f}, , ," for x in sheet.gauged.x]
    return "\n".join(rows) + "\n"


# pages


def _page(
    template: str,
    shop: ShopSet,
    release: str,
    subtitle: str,
    kinds: Sequence[str],
    **values: Any,
) -> str:
    return page(
        shop.design.title,
        subtitle,
        template=template,
        cautions=texts.cautions(*kinds),
        texts=texts,
        shop=shop,
        release=release,
        released=NOT_RELEASED not in release,
        **values,
    )


def _numbers(columns: Sequence[Column], rows: Sequence[Any], **more: Any) -> Table:
    return Table(columns, rows, kind="numbers", **more)


def cutting(shop: ShopSet, release: str, notes: Sequence[str]) -> str:
    """Return the cutting table."""
    counts = dict.fromkeys(sheet.stretch.count for sheet in shop.sheets)
    return _page(
        "cutting.html",
        shop,
        release,
        "Cutting table for the mill",
        ["cutting"],
        notes=notes,
        slots=_slots(shop),
        sketches=[sketch(ring, shop.design.closeout.jacket_alloy) for ring in shop.rings],
        floors=[_floor_table(sheet, shop) for sheet in shop.sheets],
        paths=[(tool, _numbers(PATH, _rows(_path(tool, shop)))) for tool in shop.tools],
        angles=map(_angles, counts),
    )


def _rows(columns: Iterable[Array], *texts: Sequence[str]) -> list[Any]:
    return list(zip(*(values.tolist() for values in columns), *texts, strict=True))


def _slots(shop: ShopSet) -> Table:
    """Return the stretches."""
    columns = [Column("number", "stretch"), text_column("circuit", "circuit")]
    columns += [Column("count", "slots"), Column("index", "index angle, deg")]
    columns += [text_column("dms", "index angle"), Column("first", "first slot")]
    columns += [Column("start_m", "hot wall from x", decimals=3)]
    columns += [Column("stop_m", "to x", decimals=3)]
    rows = []
    for s in (sheet.stretch for sheet in shop.sheets):
        index = f"{s.index_angle:.6f}", sexagesimal(s.index_angle)
        rows.append((s.number, s.circuit, s.count, *index, 0, s.start, s.stop))
    return Table(columns, rows)


def _floor_table(sheet: Sheet, shop: ShopSet) -> Table:
    columns, values = zip(*_floor(sheet, shop)[:ON_PAGE], strict=True)
    columns = (*columns, text_column("cutter", "cutter"), text_column("row", "row"))
    named = {n: "marked" for n, remark in enumerate(sheet.remarks) if remark}
    return _numbers(columns, _rows(values, sheet.tools, sheet.remarks), emphasis=named)


def _angles(count: int) -> Table:
    """Return the angle of each slot, worked out by itself: rounded steps are never added up."""
    turns = [360.0 * k / count for k in range(count)]
    columns = [Column("slot", "slot"), Column("deg", "deg"), Column("dms", "deg min sec")]
    rows = [(k, f"{turn:.5f}", sexagesimal(turn)) for k, turn in enumerate(turns, start=1)]
    return _numbers(columns, rows, title=f"{count} slots")


def traveller(shop: ShopSet, release: str, plated: PlatingPlan | None) -> str:
    """Return the process traveller."""
    process, kinds = texts.process(shop.design)
    kinds = (*kinds, "proof", "oxygen")
    days = sorted(time / DAY for time in plated.calendar_range) if plated else ()
    values = {"process": process, "plated": plated, "days": days}
    return _page("traveller.html", shop, release, "Process traveller", kinds, **values)


def inspection(shop: ShopSet, release: str) -> str:
    """Return the inspection and proof sheet."""
    subtitle, kinds = "Inspection and proof sheet", ("proof", "solvents", "oxygen")
    limits = [_limits(shop, sheet) for sheet in shop.sheets]
    values = {"limits": limits, "landscape": True}
    return _page("inspection.html", shop, release, subtitle, kinds, **values)


LIMITS = (
    *("x hot wall", "x floor", "x from face", "r floor"),
    *("width", "go", "no-go", "depth", "depth, least", "depth, most"),
    *("wall", "wall, least", "wall, most"),
)
"""Sizes of a place, see ``_limits``."""


def _limits(shop: ShopSet, sheet: Sheet) -> Table:
    """Return x, r and nominal, least and most of each size of all places, by ``LIMITS``."""
    rows = sheet.gauged
    values = [rows.x, rows.floor_x, rows.floor_x - shop.contour.x_injector, rows.floor_r]
    for name in ("width", "depth", "wall"):
        size, off = getattr(rows, name), getattr(shop.design.shop, f"{name}_tolerance")
        values += [size, size - off, size + off]
    places = [f"{ascii_uppercase[n]}: {name}" for n, name in enumerate(sheet.gauges)]
    sizes = (Column(f"{name}_m", name, decimals=3) for name in LIMITS)
    cells = list(zip(places, *(column.tolist() for column in values), strict=True))
    title = f"{sheet.stretch.circuit}, {sheet.stretch.count} slots"
    return _numbers([text_column("place", "Place"), *sizes], cells, title=title)
