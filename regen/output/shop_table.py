"""Tables of the shop: the slot floor, the way of each cutter, index angles, measured slots."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from regen.result import Array
from regen.shop.drawings.drawing import Rows, Stretch
from regen.shop.drawings.sheets import Sheet, ShopSet, Tool

MM = 1e3


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the cutting table: heading, unit, decimals in the file and on the page.

    ``page`` is a shorter heading of the page, empty where the page has no such column.
    """

    heading: str
    unit: str
    page: str
    decimals: tuple[int, int]
    value: Callable[[Rows, float], Array]


def _length(name: str) -> Callable[[Rows, float], Array]:
    return lambda rows, face: MM * getattr(rows, name)


COLUMNS = (
    Column("x", "mm", "x throat", (4, 3), _length("floor_x")),
    Column("x from injector face", "mm", "x face", (4, 3), lambda r, face: MM * (r.floor_x - face)),
    Column("r floor", "mm", "r floor", (4, 3), _length("floor_r")),
    Column("slope of floor", "deg", "slope", (4, 2), lambda r, face: np.rad2deg(r.floor_slope)),
    Column("width", "mm", "width", (4, 3), _length("width")),
    Column("depth normal", "mm", "normal", (4, 3), _length("depth")),
    Column("depth radial", "mm", "radial", (4, 3), _length("depth_radial")),
    Column("r blank", "mm", "r blank", (4, 3), _length("blank_r")),
    Column("wall", "mm", "wall", (4, 3), _length("wall")),
    Column("land at floor", "mm", "floor", (4, 3), _length("land_floor")),
    Column("land at top", "mm", "top", (4, 3), _length("land_top")),
    Column("x hot wall", "mm", "", (4, 3), _length("x")),
    Column("r hot wall", "mm", "", (4, 3), _length("r")),
)
"""Of a row; lengths are those of the drawing, wall and normal depth along the contour's normal."""

MISSING = "-"
"""Where there is no number: the drawn blank has ended before this x."""


def number(value: float, decimals: int) -> str:
    """Return a number with fixed decimals, a dash if there is none, never a minus zero.

    Parameters
    ----------
    value : float
        Number [any].
    decimals : int
        Digits behind the point [-].

    Returns
    -------
    str
        In words of the table.
    """
    if not np.isfinite(value):
        return MISSING
    text = f"{value:.{decimals}f}"
    return text[1:] if float(text) == 0.0 and text.startswith("-") else text


def sexagesimal(angle: float) -> str:
    """Return an angle in degrees, minutes and seconds, as a dividing head is set.

    Parameters
    ----------
    angle : float
        Angle [deg].

    Returns
    -------
    str
        Seconds to a hundredth.
    """
    hundredths = round(angle * 360000)
    seconds, rest = divmod(hundredths, 100)
    minutes, seconds = divmod(seconds, 60)
    degrees, minutes = divmod(minutes, 60)
    return f"{degrees}\u00b0 {minutes:02d}\u2032 {seconds:02d}.{rest:02d}\u2033"


def floor_rows(sheet: Sheet, face: float) -> Iterable[list[str]]:
    """Return the cells of a sheet's rows as the file has them.

    Parameters
    ----------
    sheet : Sheet
        One stretch.
    face : float
        Axial position of the injector face [m].

    Returns
    -------
    iterable of list of str
        One list a row, in the order of ``COLUMNS``.
    """
    columns = [column.value(sheet.rows, face) for column in COLUMNS]
    for values in zip(*columns, strict=True):
        yield [
            number(value, column.decimals[0]) for value, column in zip(values, COLUMNS, strict=True)
        ]


def cutting_csv(shop: ShopSet) -> str:
    """Return the cutting table as CSV: the floor of all stretches, by rising x.

    Parameters
    ----------
    shop : ShopSet
        All that goes to the shop.

    Returns
    -------
    str
        One header row with units.
    """
    head = ["stretch", "circuit", "slots", "index angle [deg]", "first slot [deg]", "cutter"]
    head += [f"{column.heading} [{column.unit}]" for column in COLUMNS]
    lines = [",".join([*head, "remark"])]
    for sheet in shop.sheets:
        stretch = sheet.stretch
        first = [str(sheet.number), quoted(stretch.circuit), str(stretch.count)]
        first += [f"{stretch.index_angle:.8f}", "0"]
        rows = floor_rows(sheet, shop.contour.x_injector)
        for tool, cells, remark in zip(sheet.tools, rows, sheet.remarks, strict=True):
            said = ["" if cell == MISSING else cell for cell in cells]
            lines.append(",".join([*first, tool, *said, quoted(remark)]))
    return "\n".join(lines) + "\n"


def path_csv(shop: ShopSet) -> str:
    """Return the ways of all cutters as CSV.

    Parameters
    ----------
    shop : ShopSet
        All that goes to the shop.

    Returns
    -------
    str
        One header row with units; the way of a disc is that of its centre, of an end mill that of
        the middle of its flat end.
    """
    head = [
        "cutter",
        "stretch",
        "circuit",
        "slots",
        "kind",
        "cutter width [mm]",
        "disc diameter [mm]",
    ]
    head += [
        "passes side by side",
        "x [mm]",
        "x from injector face [mm]",
        "r [mm]",
        "r lowest [mm]",
    ]
    lines = [",".join(head)]
    for tool in shop.tools:
        cutter = tool.cutter
        disc = f"{cutter.diameter * MM:g}" if cutter.diameter else ""
        first = [tool.label, str(tool.stretch), quoted(tool.circuit), str(tool.count)]
        first += [cutter.kind, f"{cutter.width * MM:g}", disc]
        for cells in path_rows(tool, shop.contour.x_injector, 4):
            lines.append(",".join([*first, str(tool.passes), *cells]))
    return "\n".join(lines) + "\n"


def path_rows(tool: Tool, face: float, decimals: int) -> Iterable[list[str]]:
    """Return the cells of a cutter's way.

    Parameters
    ----------
    tool : Tool
        Cutter.
    face : float
        Axial position of the injector face [m].
    decimals : int
        Digits behind the point [-].

    Returns
    -------
    iterable of list of str
        x from throat, x from injector face, r, r of the lowest point of the cutter [mm].
    """
    for x, r in zip(tool.x, tool.r, strict=True):
        values = (x, x - face, r, r - tool.radius)
        yield [number(MM * value, decimals) for value in values]


def measured_csv(shop: ShopSet) -> str:
    """Return the table in which the measured slots are written, its sizes empty.

    Parameters
    ----------
    shop : ShopSet
        All that goes to the shop.

    Returns
    -------
    str
        A row each slot and place; x is that of the case, on the hot wall.
    """
    lines = ["slot, x [mm], width [mm], depth [mm], wall [mm]"]
    for sheet in shop.sheets:
        for slot in range(1, sheet.stretch.count + 1):
            lines += [f"{slot}, {MM * rows.x[0]:.3f}, , ," for _, rows in sheet.gauged]
    return "\n".join(lines) + "\n"


def angles(stretch: Stretch) -> list[tuple[int, str, str]]:
    """Return number and angle of each slot, decimal and sexagesimal, from slot 1.

    Parameters
    ----------
    stretch : Stretch
        Slots.

    Returns
    -------
    list of tuple
        Each angle worked out by itself: rounded steps are never added up.
    """
    turns = [360.0 * k / stretch.count for k in range(stretch.count)]
    return [(k, f"{turn:.5f}", sexagesimal(turn)) for k, turn in enumerate(turns, start=1)]


def quoted(text: str) -> str:
    """Return a text as a cell of a CSV.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        In quotes if it has to be.
    """
    if any(mark in text for mark in ',"\n'):
        return '"' + text.replace('"', '""') + '"'
    return text
