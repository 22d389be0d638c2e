"""Tables of a page as a reader sees them: the texts of the cells, row by row."""

from __future__ import annotations

from html.parser import HTMLParser


class _Rows(HTMLParser):
    """Gathers the texts of all cells; a break inside a cell is a new line."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.cell: str | None = None
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.cell = ""
        elif tag == "br" and self.cell is not None:
            self.cell += "\n"

    def handle_endtag(self, tag):
        if tag in ("td", "th") and self.cell is not None:
            self.rows[-1].append(self.cell.strip())
            self.cell = None

    def handle_data(self, data):
        if self.cell is not None:
            self.cell += data.replace("\u00a0", " ")


def rows(page: str) -> list[list[str]]:
    """Return all rows of all tables of a page."""
    return _Rows(page).rows


def row(page: str, first: str) -> list[str]:
    """Return the one row whose first cell is a text."""
    (found,) = [cells for cells in rows(page) if cells and cells[0] == first]
    return found
