"""One table for all outputs: CSV in SI, and the same cells as text for terminal and page."""

from __future__ import annotations

import csv
import json
import math
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from io import StringIO
from typing import TYPE_CHECKING, Any

from regen.quantities import MISSING, Quantity, quantity, typeset

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table as RichTable

STYLES = {
    **{"pass": "green", "open": "magenta", "at risk": "yellow", "fail": "bold red"},
    **{"kept": "green", "not checked": "magenta", "watch": "yellow", "BROKEN": "bold red"},
}
"""Colours of verdicts on a terminal."""

NARROW = 10
"""Headings are not folded to less on a terminal [letters]."""

ROW_STYLES = {"marked": "bold", "small": "dim"}
"""How a terminal shows a row that stands out or stands back."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column; unit and decimals not given are those of the key's quantity.

    Numbers are in SI and are shown in the column's unit; a cell that is a text is shown as it is.
    """

    key: str
    heading: str | None = None
    unit: str | None = None
    decimals: int | None = None
    left: bool = False
    sign: str = ""

    @property
    def quantity(self) -> Quantity:
        """How its numbers are shown."""
        return quantity(self.key, self.heading or "", self.unit, self.decimals)

    @property
    def label(self) -> str:
        """What stands above it."""
        return self.quantity.label if self.heading is None else self.heading

    @property
    def shown_unit(self) -> str:
        """Unit below the heading, "" for none."""
        return "" if self.left or self.quantity.unit == "-" else self.quantity.unit

    def text(self, value: object) -> str:
        """Return a cell as terminal and page show it."""
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, float):
            return self.quantity.text(value, self.sign)
        if isinstance(value, str):
            return value  # Markup stays Markup
        return MISSING if value is None else str(value)


def text_column(key: str, heading: str = "") -> Column:
    """Return a column of texts, at the left and without a unit."""
    return Column(key, heading, left=True)


def text_columns(*headings: str) -> list[Column]:
    """Return columns of texts by their headings."""
    return [text_column(heading, heading) for heading in headings]


@dataclass(frozen=True)
class Table:
    """Columns and rows; a row is a mapping, an object with attributes by key, or a sequence."""

    columns: Sequence[Column]
    rows: Sequence[Any]
    title: str = ""
    emphasis: Mapping[int, str] = field(default_factory=dict)
    """Rows that stand out ("marked") or stand back ("small")."""
    kind: str = ""
    """CSS class on a page."""

    @classmethod
    def of_rows(cls, rows: Iterable[Mapping[str, Any]]) -> Table:
        """Return a table of mappings, a column for every key in any of them."""
        rows = list(rows)
        return cls([Column(key) for key in dict.fromkeys(k for row in rows for k in row)], rows)

    @classmethod
    def of_arrays(cls, arrays: Mapping[str, Any]) -> Table:
        """Return a table of arrays by key, all of one length."""
        values = zip(*(array.tolist() for array in arrays.values()), strict=True)
        return cls([Column(key) for key in arrays], list(values))

    def values(self) -> list[list[Any]]:
        """Return the cells as they were given, None where a row has none."""
        keys = [column.key for column in self.columns]
        return [_cells(row, keys) for row in self.rows]

    def texts(self) -> list[list[str]]:
        """Return the cells as text."""
        return [
            [column.text(value) for column, value in zip(self.columns, row, strict=True)]
            for row in self.values()
        ]

    @property
    def headings(self) -> list[str]:
        """Headings with their units."""
        pairs = ((column.label, typeset(column.shown_unit)) for column in self.columns)
        return [", ".join(filter(None, pair)) for pair in pairs]

    def csv(self) -> str:
        """Return CSV text: keys as header, numbers in SI, empty where there is no value."""
        buffer = StringIO()
        writer = csv.writer(buffer, lineterminator="\n")
        writer.writerow([column.key for column in self.columns])
        writer.writerows([_csv_cell(value) for value in row] for row in self.values())
        return buffer.getvalue()

    def lines(self) -> list[str]:
        """Return plain text: title, headings, units if there are any, rows; columns aligned."""
        units = [column.shown_unit for column in self.columns]
        rows = [[column.label for column in self.columns], *([units] if any(units) else [])]
        rows += self.texts()
        widths = [max(map(len, cells)) for cells in zip(*rows, strict=True)]
        lines = [
            "  ".join(
                cell.ljust(width) if column.left else cell.rjust(width)
                for cell, width, column in zip(row, widths, self.columns, strict=True)
            ).rstrip()
            for row in rows
        ]
        return [f"{self.title}:", *lines] if self.title else lines

    def rich(self) -> RichTable:
        """Return the table for a console, verdicts coloured, long texts folded."""
        from rich.table import Table as RichTable
        from rich.text import Text

        headed = any(column.label for column in self.columns)
        table = RichTable(title=self.title or None, box=None, pad_edge=False, show_header=headed)
        texts = self.texts()
        for n, column in enumerate(self.columns):
            # headings are folded here, so that rich folds texts at the left and no number
            width = max(NARROW, *(len(row[n]) for row in texts)) if texts else NARROW
            heading = textwrap.fill(column.label, width, break_long_words=False)
            shown = f"{heading}\n{column.shown_unit}".rstrip()
            justify: Any = "left" if column.left else "right"
            table.add_column(shown, justify=justify, no_wrap=not column.left)
        for n, row in enumerate(texts):
            cells = [
                Text(cell, STYLES.get(cell, "") if column.key == "verdict" else "")
                for cell, column in zip(row, self.columns, strict=True)
            ]
            table.add_row(*cells, style=ROW_STYLES.get(self.emphasis.get(n, ""), ""))
        return table

    def __html__(self) -> str:
        """Return HTML; a cell that is Markup is taken as it is, any other is escaped."""
        from regen.output.page import part_html

        return part_html("table", self)

    _repr_html_ = __html__


def _cells(row: Any, keys: Iterable[str]) -> list[Any]:
    if isinstance(row, Sequence):
        return list(row)
    take = row.get if isinstance(row, Mapping) else partial(getattr, row)
    return [take(key, None) for key in keys]


def _csv_cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:.9g}"
    if isinstance(value, list | tuple):
        return "; ".join(map(str, value))
    return json.dumps(value) if isinstance(value, Mapping) else str(value)


def print_parts(parts: Iterable[object], console: Console, *, soft_wrap: bool = False) -> None:
    """Print texts and tables; texts are folded unless ``soft_wrap`` leaves that to the terminal."""
    for part in parts:
        if isinstance(part, Table):
            console.print(part.rich())
        else:
            console.print(part, highlight=False, markup=False, soft_wrap=soft_wrap)
