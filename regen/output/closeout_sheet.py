"""The sheet for the bath: one page that needs nothing beside it and prints on A4."""

from __future__ import annotations

import base64
from importlib.resources import files as resources

import jinja2

from regen import sources
from regen.design import Design
from regen.output import closeout_words as words
from regen.output.files import Drawn
from regen.shop.plating.plan import Plan


def html(plan: Plan, design: Design, figures: Drawn) -> str:
    """Return the plating sheet.

    Parameters
    ----------
    plan : Plan
        What is plated.
    design : Design
        Of the part.
    figures : Drawn
        Layers along x, if they could be drawn.

    Returns
    -------
    str
        HTML; the same text for the same arguments.
    """
    template = (resources("regen.output") / "templates" / "plating_sheet.html").read_text("utf-8")
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
    checks = [words.said(check) for check in plan.checks]
    keys = {check.source for check in plan.checks} | {one.source for one in plan.taken}
    baths = {layer.wanted.bath.key: layer.wanted.bath for layer in plan.layers}
    return environment.from_string(template).render(
        plan=plan,
        design=design,
        words=words,
        checks=checks,
        baths=list(baths.values()),
        before=[line.format(skin=design.plating.skin) for line in words.BEFORE],
        figures=[base64.b64encode(image).decode() for image in figures.values()],
        not_drawn=figures.not_drawn,
        references=[sources.find(key) for key in sorted(keys)],
        cite=sources.cite,
    )
