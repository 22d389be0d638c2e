"""Tables and pages of the shop: cutting table, cutter paths, traveller, inspection sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from markupsafe import Markup

from regen.output.closeout import DAY, HOUR
from regen.output.page import Section, page, small
from regen.output.shop_drawings import sketches
from regen.output.table import Column, Table, text_column, text_columns
from regen.quantities import decimal
from regen.result import Array, Result
from regen.shop import traveller as texts
from regen.shop.drawings.sheets import Sheet, ShopSet, Tool
from regen.shop.drawings.stretches import Rows
from regen.shop.plating.plan import PlatingPlan

MM = 1e3
NOT_RELEASED = "NOT FOR"
"""Begins the text on every page of a design that breaks a limit, see data/traveller.toml."""

SIGNED = "Signed, date"

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
        first = [
            sheet.stretch.number,
            stretch.circuit,
            stretch.count,
            f"{stretch.index_angle:.8f}",
            0,
        ]
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
    shop: ShopSet,
    release: str,
    subtitle: str,
    sections: Sequence[Section],
    kinds: Sequence[str],
    *,
    landscape: bool = False,
) -> str:
    return page(
        shop.design.title,
        subtitle,
        sections,
        template="shop.html",
        landscape=landscape,
        cautions=texts.cautions(*kinds),
        first=texts.FIRST,
        regen=shop.result.provenance["regen"],
        case_hash=shop.case_hash[:16] or "not given",
        release=release,
        released=NOT_RELEASED not in release,
    )


def _in_columns(table: Table, kind: str = "columns") -> Markup:
    return Markup('<div class="{}">{}</div>').format(kind, table)


def _numbers(columns: Sequence[Column], rows: Sequence[Any], **more: Any) -> Table:
    return Table(columns, rows, kind="numbers", **more)


def cutting(shop: ShopSet, release: str, notes: Sequence[str]) -> str:
    """Return the cutting table."""
    files = texts.page_text("other_files", path=" and cutter_path.csv" if shop.tools else "")
    datum = texts.page_texts("datum", face=-shop.contour.x_injector * MM)
    sections = [
        Section("How to read this table", [datum, small(files)]),
        Section("Slots", _slots(shop)),
    ]
    if shop.tools:
        sections.append(Section("Cutters", [[texts.tool_text(tool) for tool in shop.tools]]))
    if notes:
        sections.append(Section("Notes", [notes]))
    if shop.rings:
        pitch = sketches(shop.rings, shop.design.closeout.jacket_alloy)
        sections.append(Section("One pitch", [small(texts.page_text("one_pitch")), pitch]))
    for sheet in shop.sheets:
        which = f" (stretch {sheet.stretch.number})" if len(shop.sheets) > 1 else ""
        title = f"Floor: {_slots_of(sheet)}{which}"
        sections.append(Section(title, [_floor_table(sheet, shop)], kind="fresh"))
    for tool in shop.tools:
        point = texts.page_text(f"point of {tool.path.cutter.kind}")
        text = texts.page_text("path", tool=texts.tool_text(tool), point=point)
        rows = list(zip(*(values.tolist() for values in _path(tool, shop)), strict=True))
        table = _in_columns(_numbers(PATH, rows), "columns three")
        title = f"Path of cutter {tool.label}: {tool.stretch.circuit}"
        sections.append(Section(title, [small(text), table], kind="fresh"))
    counts = dict.fromkeys(sheet.stretch.count for sheet in shop.sheets)
    angles = [_in_columns(_angles(count)) for count in counts]
    sections.append(Section("Angles from slot 1", angles, kind="fresh"))
    return _page(shop, release, "Cutting table for the mill", sections, ["cutting"])


def _slots(shop: ShopSet) -> list[Any]:
    """Return the stretches, their tolerances, and what nobody has checked."""
    columns = [Column("stretch", "stretch"), text_column("circuit", "circuit")]
    columns += [Column("slots", "slots"), Column("index", "index angle, deg")]
    columns += [text_column("dms", "index angle"), Column("first", "first slot")]
    columns += [Column("start_m", "hot wall from x", decimals=3)]
    columns += [Column("stop_m", "to x", decimals=3)]
    rows = []
    for sheet in shop.sheets:
        s, angle = sheet.stretch, sheet.stretch.index_angle
        index = f"{angle:.6f}", sexagesimal(angle)
        rows.append((s.number, s.circuit, s.count, *index, 0, s.start, s.stop))
    return [
        Table(columns, rows),
        *(
            texts.page_text("back", circuit=sheet.stretch.circuit)
            for sheet in shop.sheets
            if sheet.stretch.cut.slot.channels.passes == "down and back"
        ),
        texts.page_text("tolerances", **texts.tolerances(shop.design)),
        None if shop.tools else texts.page_text("no_cutters"),
    ]


def _floor_table(sheet: Sheet, shop: ShopSet) -> Table:
    columns, values = zip(*_floor(sheet, shop)[:ON_PAGE], strict=True)
    columns = (*columns, text_column("cutter", "cutter"), text_column("row", "row"))
    numbers = (array.tolist() for array in values)
    rows = list(zip(*numbers, sheet.tools, sheet.remarks, strict=True))
    named = {n: "marked" for n, remark in enumerate(sheet.remarks) if remark}
    return _numbers(columns, rows, emphasis=named)


def _angles(count: int) -> Table:
    """Return the angle of each slot, worked out by itself: rounded steps are never added up."""
    turns = [360.0 * k / count for k in range(count)]
    columns = [Column("slot", "slot"), Column("deg", "deg"), Column("dms", "deg min sec")]
    rows = [(k, f"{turn:.5f}", sexagesimal(turn)) for k, turn in enumerate(turns, start=1)]
    return _numbers(columns, rows, title=f"{count} slots")


def traveller(shop: ShopSet, release: str, plated: PlatingPlan | None) -> str:
    """Return the process traveller."""
    summary, kinds = texts.process(shop.design)
    calendar = None
    if plated is not None:
        low, high = sorted(time / DAY for time in plated.calendar_range)
        hours, turnings = plated.on_time / HOUR, len(plated.steps)
        text = texts.page_text("calendar", hours=hours, turnings=turnings, low=low, high=high)
        calendar = small(text)
    columns = [Column("number", "No."), text_column("operation", "Operation")]
    columns += [text_column("done", "Done by, date"), text_column("remarks", "Remarks, measured")]
    rows: list[tuple[Any, ...]] = []
    holds = {}
    for number, title, lines, hold in texts.operations(shop, plated):
        text = Markup("<br>").join([Markup("<strong>{}</strong>").format(title), *lines])
        rows.append((number, text, "", ""))
        if hold:
            holds[len(rows)] = "hold"
            rows.append(("", Markup("<strong>HOLD</strong> {}").format(hold), "signed:", ""))
    introduction = Markup(
        "<p>{}. Work stops at every <strong>HOLD</strong> until it is signed; what is out of "
        "limits is decided in writing before the next operation.</p>"
    ).format(summary)
    table = Table(columns, rows, emphasis=holds, kind="blank")
    sections = [Section("Operations", [introduction, calendar, table])]
    return _page(shop, release, "Process traveller", sections, [*kinds, "proof", "oxygen"])


def inspection(shop: ShopSet, release: str) -> str:
    """Return the inspection and proof sheet."""
    sizes = (Column(f"{name}_m", name, decimals=3) for name in LIMITS)
    columns = [text_column("place", "Place"), *sizes]
    tables, measured, counts = [], [], []
    for sheet in shop.sheets:
        places = [f"{chr(ord('A') + n)}: {name}" for n, name in enumerate(sheet.gauges)]
        limits = list(zip(places, *_limits(shop, sheet.gauged), strict=True))
        tables.append(_numbers(columns, limits, title=_slots_of(sheet)))
        blanks = [Column("slot", "Slot")]
        for place in places:
            blanks += [Column(name, f"{place[0]} {name}") for name in ("w", "d", "wall")]
        blanks.append(Column("flow", "Flow"))
        empty = [""] * (len(blanks) - 1)
        slots = [(slot, *empty) for slot in range(1, sheet.stretch.count + 1)]
        table = Table(blanks, slots, kind="blank numbers")
        measured.append(Section(f"Measured: {sheet.stretch.circuit}", [table], kind="fresh"))
        angle = f"{sheet.stretch.index_angle:.6f}"
        counts.append((sheet.stretch.circuit, sheet.stretch.count, "", angle, "", "", ""))
    heads = ["Circuit", "Slots wanted", "Slots counted", "Index angle, deg"]
    heads += ["Last slot back to slot 1, deg", "Blank outside checked", SIGNED]
    counted = Table(text_columns(*heads), counts, kind="blank sign")
    sections = [
        Section("Limits", [texts.page_text("inspection"), *tables, texts.page_text("deviation")]),
        Section("Count and index", [counted]),
        Section("Proof", [_proof_table(shop.result), _proof_notes(shop.result)]),
        *measured,
    ]
    kinds = ("proof", "solvents", "oxygen")
    return _page(shop, release, "Inspection and proof sheet", sections, kinds, landscape=True)


LIMITS = (
    *("x hot wall", "x floor", "x from face", "r floor"),
    *("width", "go", "no-go", "depth", "depth, least", "depth, most"),
    *("wall", "wall, least", "wall, most"),
)
"""Sizes of a place, see ``_limits``."""


def _slots_of(sheet: Sheet) -> str:
    return f"{sheet.stretch.circuit}, {sheet.stretch.count} slots"


def _limits(shop: ShopSet, rows: Rows) -> list[list[float]]:
    """Return x, r and nominal, least and most of each size of all places, by ``LIMITS`` [m]."""
    columns = [rows.x, rows.floor_x, rows.floor_x - shop.contour.x_injector, rows.floor_r]
    for name in ("width", "depth", "wall"):
        size, off = getattr(rows, name), getattr(shop.design.shop, f"{name}_tolerance")
        columns += [size, size - off, size + off]
    return [column.tolist() for column in columns]


def _proof_table(result: Result) -> Table:
    heads = ("Test", "Pressure", "Medium", "Temperature", "Hold", "Acceptance", "Reached, held")
    medium, temperature = "water, vented of air", "10 to 30 \u00b0C"
    hold, acceptance = texts.page_text("proof_hold"), texts.page_text("proof_acceptance")
    how = (medium, temperature, hold, acceptance, "", "")
    rows = [(*test, *how) for test in texts.proof_pressures(result).items()]
    return Table(text_columns(*heads, SIGNED), rows, kind="blank sign")


def _proof_notes(result: Result) -> list[str]:
    own = [f"{f.text}: {f.note}" for f in result.findings if f.section == "proof" and f.note]
    return [*own, texts.page_text("proof_steps")]
