"""The figures of a review: which there are, with their captions."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial

from matplotlib.figure import Figure

from regen.design import Design
from regen.output.figures import chamber, margins, profiles, section, strength
from regen.result import Result
from regen.sources import DATA


@dataclass(frozen=True)
class Plate:
    """One figure: what draws it, and its caption."""

    name: str
    draw: Callable[[], Figure]
    caption: str


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
    if (field := result.section_field) is not None:
        draw = partial(section.section, field, result.section_checks[0])
        caption = captions()["wall_check"].format(step=section.step_of(field))
        yield Plate("wall_check", draw, caption)
