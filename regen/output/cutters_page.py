"""Page of the cutters: what they leave, what that changes, and what the shop's tolerances do."""

from __future__ import annotations

from regen.output import cutters_words, sheet
from regen.output.figures import cutters as figures_cutters
from regen.output.files import Drawn
from regen.output.shop_words import FIRST, SAFETY
from regen.studies.release.to_shop import ToShop

PAGE = "cutters.html"
CAPTION = (
    "Floor as wanted and as cut, in planes through the axis; copper that is left is part of the "
    "hot wall."
)


def files(found: ToShop, title: str, said: str, tolerance: float) -> Drawn:
    """Return the page of cutters and tolerances, and its figure where there are cutters.

    Parameters
    ----------
    found : ToShop
        What goes to the shop; its cutters can make it.
    title : str
        Of the case [-].
    said : str
        Whether it is released [-].
    tolerance : float
        Of the depth [m].

    Returns
    -------
    Drawn
        By path within the output folder, the page among them.
    """
    drawn = Drawn()
    if any(circuit.cuts for circuit in found.plan.circuits):
        drawn = figures_cutters.drawn(found.plan, tolerance, title)
    page = sheet.page(title, "Cutters and tolerances", _parts(found, said, drawn))
    return Drawn({PAGE: page.encode(), **drawn}, drawn.not_drawn)


def _parts(found: ToShop, release: str, drawn: Drawn) -> list[str]:
    tables = [
        cutters_words.cuts(found.plan),
        cutters_words.refused(found.plan),
        cutters_words.changes(found.recut),
    ]
    if found.spread is not None:
        tables += [cutters_words.effects(found.spread), cutters_words.together(found.spread)]
    tables.append(cutters_words.widths(found.snaps))
    parts = [sheet.paragraph(text) for text in (release, FIRST, cutters_words.verdict(found.recut))]
    parts += sheet.figures(drawn, CAPTION)
    for table in tables:
        if table.rows:
            title = table.title[0].upper() + table.title[1:]
            parts += [sheet.heading(title), sheet.table(table.headings, table.rows)]
    parts.append(sheet.paragraph(cutters_words.RELATED))
    if found.remedies:
        parts += [sheet.heading("Would leave less copper")]
        parts.append(sheet.points([remedy.text for remedy in found.remedies]))
    parts += [sheet.heading("While cutting"), sheet.points(SAFETY["cutting"])]
    return [*parts, sheet.paragraph(cutters_words.ASSUMED)]
