"""Printable pages that need nothing beside them: one base template, one style sheet."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import jinja2

from regen.sources import GIVEN, cite, find


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure of a page, embedded."""

    name: str
    caption: str
    svg: bytes

    def __html__(self) -> str:
        """Return HTML that needs no file beside it."""
        return part_html("picture", self)


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands below it, see ``html_of``."""

    title: str
    parts: Sequence[Any]
    kind: str = ""


def part_html(macro: str, part: Any) -> str:
    """Return one part of a page by a macro of parts.html, as Markup."""
    html: str = getattr(_environment().get_template("parts.html").module, macro)(part)
    return html


def html_of(part: Any) -> str:
    """Return one part of a page: a text as a paragraph, texts as a list, others by themselves.

    Tables, pictures and Markup know their own HTML; None is nothing.
    """
    return part_html("part", part)


def _anchor(text: str) -> str:
    """Return a text as part of an address."""
    return text.lower().replace(" ", "-")


def _bound(text: str) -> str:
    """Return a text in which no line ends between a number and its per cent sign."""
    return text.replace(" %", "\u00a0%")


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode()


def page(
    title: str,
    subtitle: str = "",
    sections: Iterable[Section] = (),
    *,
    sources: Iterable[str] = (),
    cautions: Sequence[str] = (),
    template: str = "page.html",
    landscape: bool = False,
    **values: Any,
) -> str:
    """Return a page; the same text for the same arguments.

    ``sources`` are the keys of its references, ``cautions`` stand in place of the usual ones,
    ``values`` are for the blocks of a template that
    extends page.html.
    """
    references = [find(key) for key in sorted(set(sources))]
    return (
        _environment()
        .get_template(template)
        .render(
            title=title,
            subtitle=subtitle,
            sections=sections,
            references=references,
            given=GIVEN,
            cautions=cautions,
            landscape=landscape,
            **values,
        )
    )


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        loader=jinja2.PackageLoader("regen.output", "templates"),
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"anchor": _anchor, "bound": _bound, "base64": _base64, "cite": cite}
    return environment
