"""The figures of a review: which there are, with their captions."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial
from typing import ClassVar

from matplotlib.figure import Figure

from regen.design import Design
from regen.output.figures import chamber, margins, profiles, section, strength
from regen.result import Result
from regen.sources import DATA


@dataclass(frozen=True)
class Plate:
    """One figure: what draws it, its caption, and its CSS class on a page."""

    SECTION: ClassVar[str] = "wall_check"

    name: str
    draw: Callable[[], Figure]
    caption: str
    kind: str = ""


@cache
def captions() -> dict[str, str]:
    """Return the captions of the figures by their names."""
    return tomllib.loads((DATA / "captions.toml").read_text(encoding="utf-8"))


def plates(result: Result, design: Design) -> Iterator[Plate]:
    """Yield the figures that a result has, in the order of the report."""
    drawings = {"chamber": partial(chamber.chamber, result, design)}
    drawings |= {name: partial(draw, result) for name, draw in profiles.PROFILES.items()}
    drawings["margins"] = partial(margins.margins, result)
    if result.checked:
        drawings["strength"] = partial(strength.strength, result)
    if strength.life_is_known(result):
        drawings["life"] = partial(strength.life, result, design)
    for name, draw in drawings.items():
        yield Plate(name, draw, captions()[name])
    if result.section_field is not None:
        field, check = result.section_field, result.section_checks[0]
        caption = captions()[Plate.SECTION].format(step=section.step_of(field))
        yield Plate(Plate.SECTION, partial(section.section, field, check), caption, "narrow")
