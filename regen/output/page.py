"""Printable pages that need nothing beside them: one base template, one style sheet."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import jinja2
from markupsafe import Markup

from regen.output.labels import CAUTIONS
from regen.sources import GIVEN, Source, cite, find


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure of a page, embedded."""

    name: str
    caption: str
    svg: bytes
    kind: str = ""
    number: int | None = None

    def __html__(self) -> Markup:
        """Return HTML that needs no file beside it."""
        number = "" if self.number is None else f"Figure {self.number}. "
        text = (
            '<figure id="figure-{0}" class="{1}">'
            '<img alt="{2}" src="data:image/svg+xml;base64,{3}">'
            "<figcaption>{4}{2}</figcaption></figure>"
        )
        data = base64.b64encode(self.svg).decode()
        return Markup(text).format(self.name, self.kind, self.caption, data, number)


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands below it, see ``html_of``."""

    title: str
    parts: Sequence[Any]
    kind: str = ""

    @property
    def id(self) -> str:
        """Anchor of the section."""
        return anchor(self.title)


def html_of(part: Any) -> Markup:
    """Return one part of a page: a text as a paragraph, texts as a list, others by themselves.

    Tables, pictures and Markup know their own HTML; None is nothing.
    """
    if part is None:
        return Markup("")
    if hasattr(part, "__html__"):
        return Markup(part.__html__())
    if isinstance(part, str):
        return Markup("<p>{}</p>").format(_bound(part))
    return Markup("<ul>{}</ul>").format(
        Markup("").join(Markup("<li>{}</li>\n").format(_bound(text)) for text in part)
    )


def small(text: str) -> Markup:
    """Return a paragraph in small letters."""
    return Markup('<p class="small">{}</p>').format(_bound(text))


def in_columns(*parts: Any) -> Markup:
    """Return parts in two columns."""
    return Markup('<div class="two">{}</div>').format(Markup("\n").join(map(html_of, parts)))


def link(source: str) -> Markup:
    """Return a link to a reference of the page."""
    return Markup('<a href="#ref-{}">{}</a>').format(anchor(source), source)


def anchor(text: str) -> str:
    """Return a text as part of an address."""
    return text.lower().replace(" ", "-")


def _bound(text: str) -> str:
    """Return a text in which no line ends between a number and its per cent sign."""
    return text.replace(" %", "\u00a0%")


def _reference(source: Source) -> Markup:
    key = "" if source.key.startswith(GIVEN) else Markup("<code>{}</code>: ").format(source.key)
    return Markup('<li id="ref-{}">{}{}</li>').format(anchor(source.key), key, cite(source))


def page(
    title: str,
    subtitle: str = "",
    sections: Iterable[Section] = (),
    *,
    sources: Iterable[str] = (),
    cautions: Sequence[str] = CAUTIONS,
    template: str = "page.html",
    landscape: bool = False,
    contents: bool = False,
    **values: Any,
) -> str:
    """Return a page; the same text for the same arguments.

    ``sources`` are the keys of its references, ``contents`` puts links to the sections on top, and
    ``values`` are for the blocks of a template that extends page.html.
    """
    return (
        _environment()
        .get_template(template)
        .render(
            title=title,
            subtitle=subtitle,
            sections=list(sections),
            references=[_reference(find(key)) for key in sorted(set(sources))],
            cautions=cautions,
            landscape=landscape,
            contents=contents,
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
    environment.filters["part"] = html_of
    return environment
