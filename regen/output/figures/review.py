"""The figures of a review: which there are, with their captions."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import ClassVar

from matplotlib.figure import Figure

from regen.design import Design
from regen.output.figures import chamber, margins, profiles, section, strength
from regen.result import Result


@dataclass(frozen=True)
class Plate:
    """One figure: what draws it, its caption, and its CSS class on a page."""

    SECTION: ClassVar[str] = "wall_check"

    name: str
    draw: Callable[[], Figure]
    caption: str
    kind: str = ""


def plates(result: Result, design: Design) -> Iterator[Plate]:
    """Yield the figures that a result has, in the order of the report."""
    yield Plate("chamber", partial(chamber.chamber, result, design), chamber.CAPTION)
    for name, (draw_along, caption) in profiles.PROFILES.items():
        yield Plate(name, partial(draw_along, result), caption)
    yield Plate("margins", partial(margins.margins, result), margins.CAPTION)
    if result.checked:
        yield Plate("strength", partial(strength.strength, result), strength.CAPTION)
    if strength.life_is_known(result):
        yield Plate("life", partial(strength.life, result, design), strength.LIFE_CAPTION)
    if result.section_field is not None:
        field, check = result.section_field, result.section_checks[0]
        draw = partial(section.section, field, check)
        yield Plate(Plate.SECTION, draw, section.caption(field), "narrow")
