"""Plain tables and printable pages of the shop: what several commands write the same way."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape

from regen.output import words
from regen.output.files import Drawn

STYLE = """
body { font: 15px/1.4 system-ui, sans-serif; color: #1a1a1a; max-width: 64rem; margin: 0 auto;
  padding: 1rem 1.5rem 3rem; }
h1 { font-size: 1.5rem; margin-bottom: .2rem; }
h2 { font-size: 1.15rem; border-bottom: 1px solid #999; margin-top: 1.8rem; }
table { border-collapse: collapse; margin: .6rem 0 1rem; font-size: .85em; }
th, td { padding: .18rem .5rem; border-bottom: 1px solid #ddd; text-align: right;
  vertical-align: top; }
th { border-bottom: 1px solid #555; }
th.text, td.text { text-align: left; }
table.whole td:not(:last-child) { white-space: nowrap; }
tr.marked td { font-weight: 700; background: #eee; }
figure { margin: 1rem 0; }
figure img { width: 100%; height: auto; }
figcaption, .small { font-size: .88em; color: #333; }
.cautions { border: 2px solid #1a1a1a; padding: .2rem 1rem; }
@media print {
  @page { size: A4 landscape; margin: 12mm; }
  body { max-width: none; padding: 0; font-size: 9.5pt; }
  h2 { break-after: avoid; }
  figure, tr, li, .cautions { break-inside: avoid; }
  figure img { width: auto; max-width: 100%; max-height: 118mm; }
  table { font-size: 7.5pt; }
  th, td { padding: .6mm 1.5mm; }
  thead { display: table-header-group; }
}
"""


def aligned(head: Sequence[str], rows: Sequence[Sequence[str]], texts: int = 1) -> list[str]:
    """Return a table as lines of text.

    Parameters
    ----------
    head : sequence of str
        Headings.
    rows : sequence of sequence of str
        Cells, as many as headings.
    texts : int
        Columns from the left that are texts; the others stand at the right [-].

    Returns
    -------
    list of str
        Heading and rows, without blanks at their ends.
    """
    whole = [list(head), *map(list, rows)]
    widths = [max(len(row[n]) for row in whole) for n in range(len(head))]
    return [
        "  ".join(
            cell.ljust(width) if n < texts else cell.rjust(width)
            for n, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in whole
    ]


def paragraph(text: str) -> str:
    """Return a paragraph of a page."""
    return f"<p>{escape(text)}</p>"


def heading(text: str) -> str:
    """Return the heading of a part of a page."""
    return f"<h2>{escape(text)}</h2>"


def points(texts: Sequence[str]) -> str:
    """Return a list of texts for a page."""
    return "<ul>" + "".join(f"<li>{escape(text)}</li>" for text in texts) + "</ul>"


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    texts: Sequence[int] = (0,),
    marked: Sequence[int] = (),
    *,
    whole: bool = False,
) -> str:
    """Return a table of a page.

    Parameters
    ----------
    head : sequence of str
        Headings.
    rows : sequence of sequence of str
        Cells, as many as headings.
    texts : sequence of int
        Columns that are texts and stand at the left [-].
    marked : sequence of int
        Rows that stand out [-].
    whole : bool
        Break the lines of the last column alone.

    Returns
    -------
    str
        HTML.
    """

    def cells(row: Sequence[str], tag: str) -> str:
        kind = [' class="text"' if n in texts else "" for n in range(len(row))]
        return "".join(
            f"<{tag}{k}>{escape(cell)}</{tag}>" for cell, k in zip(row, kind, strict=True)
        )

    body = "".join(
        f"<tr{' class=marked' if n in marked else ''}>{cells(row, 'td')}</tr>\n"
        for n, row in enumerate(rows)
    )
    kind = ' class="whole"' if whole else ""
    return (
        f"<table{kind}><thead><tr>{cells(head, 'th')}</tr></thead>\n<tbody>\n{body}</tbody></table>"
    )


def figures(drawn: Drawn, caption: str) -> list[str]:
    """Return the parts of a page for figures with one caption; of what was not drawn, why."""
    return [
        *(figure(svg, caption) for svg in drawn.values()),
        *(paragraph(f"{text[0].upper()}{text[1:]}.") for text in drawn.not_drawn),
    ]


def figure(svg: bytes, caption: str) -> str:
    """Return a figure of a page, which needs no file beside it."""
    data = base64.b64encode(svg).decode()
    image = f'<img alt="{escape(caption)}" src="data:image/svg+xml;base64,{data}">'
    return f"<figure>{image}<figcaption>{escape(caption)}</figcaption></figure>"


def page(title: str, subtitle: str, parts: Sequence[str]) -> str:
    """Return a whole page that needs nothing beside it, with the cautions at its end.

    Parameters
    ----------
    title, subtitle : str
        What it is about.
    parts : sequence of str
        HTML, from the functions of this module.

    Returns
    -------
    str
        HTML; the same text for the same arguments.
    """
    cautions = heading("Cautions") + f'<div class="cautions">{points(words.CAUTIONS)}</div>'
    body = "\n".join([*parts, cautions])
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
        f'<h1>{escape(title)}</h1>\n<p class="small">{escape(subtitle)}</p>\n{body}\n'
        "</body>\n</html>\n"
    )
