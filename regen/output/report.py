"""The review folder: one self-contained report, its figures, stations and result."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from importlib.resources import files as resources
from pathlib import Path
from typing import Any

import jinja2

from regen import sources
from regen.design import Design
from regen.output import listed, words
from regen.output.figures import life as figures_life
from regen.output.figures import review as figures
from regen.output.figures import section as figures_section
from regen.output.figures import strength as figures_strength
from regen.output.figures.style import draw_each
from regen.output.files import write
from regen.result import Finding, Margin, Note, Result

STATION_TABLE = (
    ("x_m", "x", "mm", 1e3, 1),
    ("r_m", "r", "mm", 1e3, 2),
    ("area_ratio", "A/At", "-", 1.0, 2),
    ("mach", "Mach gas", "-", 1.0, 2),
    ("T_aw_K", "T adiab. wall", "K", 1.0, 0),
    ("h_gas_W_m2K", "h gas", "kW/m²K", 1e-3, 1),
    ("q_W_m2", "q", "MW/m²", 1e-6, 2),
    ("T_wall_hot_K", "T hot wall", "K", 1.0, 0),
    ("T_wall_cold_K", "T root", "K", 1.0, 0),
    ("q_wetted_W_m2", "q wetted", "MW/m²", 1e-6, 2),
    ("h_coolant_W_m2K", "h coolant", "kW/m²K", 1e-3, 1),
    ("T_coolant_K", "T coolant", "K", 1.0, 0),
    ("p_coolant_Pa", "p coolant", "bar", 1e-5, 1),
    ("v_coolant_m_s", "v coolant", "m/s", 1.0, 1),
    ("mach_coolant", "Mach coolant", "-", 1.0, 3),
    ("wall_m", "wall", "mm", 1e3, 2),
    ("channel_width_m", "width", "mm", 1e3, 2),
    ("channel_depth_m", "depth", "mm", 1e3, 2),
    ("land_width_m", "land", "mm", 1e3, 2),
)
"""Column, heading, unit, factor from SI and decimals of the report's station table."""


@dataclass(frozen=True, slots=True)
class Picture:
    """One figure as the page shows it."""

    name: str
    caption: str
    data: str


def write_review(
    result: Result, design: Design, case_text: str, overrides: Sequence[str], folder: Path
) -> list[Path]:
    """Write report.html, the figures, stations.csv, strength.csv and result.json.

    Parameters
    ----------
    result : Result
        Judged design.
    design : Design
        What was solved.
    case_text : str
        The case file as it was read.
    overrides : sequence of str
        What ``--set`` changed in it.
    folder : Path
        Output folder, made if it is absent.

    Returns
    -------
    list of Path
        Files written.

    Raises
    ------
    OutputError
        If the folder cannot be written; what it held is untouched.
    """
    wanted: dict[str, Callable[[], Any]] = {
        name: partial(figures.draw, name, result, design) for name in figures.FIGURES
    }
    if result.section_field is not None:
        field, check = result.section_field, result.section_checks[0]
        wanted[figures_section.NAME] = partial(figures_section.draw, field, check)
    if result.checked:
        wanted[figures_strength.NAME] = partial(figures_strength.draw, result)
    if figures_life.known(result):
        wanted[figures_life.NAME] = partial(figures_life.draw, result, design)
    drawn = draw_each(wanted)
    missing = tuple(Note("figure", text) for text in drawn.not_drawn)
    result = replace(result, notes=(*result.notes, *missing))
    page = html(result, design, case_text, overrides, drawn)
    siblings = {f"figures/{name}.svg": image for name, image in drawn.items()}
    return write(result, folder, {**siblings, "report.html": page.encode()})


def html(
    result: Result,
    design: Design,
    case_text: str,
    overrides: Sequence[str],
    drawn: Mapping[str, bytes],
) -> str:
    """Return the report as one page that needs nothing beside it.

    Parameters
    ----------
    result, design : Result, Design
        Judged design and what was solved.
    case_text : str
        The case file as it was read.
    overrides : sequence of str
        What ``--set`` changed in it.
    drawn : mapping of str to bytes
        SVG of each figure that could be drawn, those of the section and of the strength checks
        among them if the result has any.

    Returns
    -------
    str
        HTML; the same text for the same arguments.
    """
    template = (resources("regen.output") / "templates" / "report.html").read_text("utf-8")
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
    captions = {name: plate.caption for name, plate in figures.FIGURES.items()}
    if result.checked:
        captions[figures_strength.NAME] = figures_strength.CAPTION
    if figures_life.known(result):
        captions[figures_life.NAME] = figures_life.CAPTION
    pictures = [_picture(name, text, drawn) for name, text in captions.items() if name in drawn]
    section = None
    if result.section_field is not None and figures_section.NAME in drawn:
        caption = figures_section.caption(result.section_field)
        section = _picture(figures_section.NAME, caption, drawn)
    return environment.from_string(template).render(
        result=result,
        words=words,
        reasons=words.reasons(result),
        case_text=case_text,
        overrides=list(overrides),
        sections=list(listed.sections(design)),
        pictures=pictures,
        section=section,
        headings=_headings(result),
        stations=list(_stations(result)),
        references=[sources.find(key) for key in _used(result)],
        cite=sources.cite,
        GIVEN=sources.GIVEN,
    )


def _picture(name: str, caption: str, drawn: Mapping[str, bytes]) -> Picture:
    return Picture(name, caption, base64.b64encode(drawn[name]).decode())


def _headings(result: Result) -> tuple[tuple[str, str, str, float, int], ...]:
    """Return the columns of the station table, with circuit and pass where there are several."""
    s = result.stations
    first = (("circuit", "C", "-", 1.0, 0), ("pass_number", "P", "-", 1.0, 0))
    return tuple(column for column in first if s[column[0]].max() > 1) + STATION_TABLE


def _used(result: Result) -> list[str]:
    """Return the keys of all sources that the result, its margins and findings name."""
    said: list[Margin | Finding] = [*result.margins, *result.findings]
    return sorted({*result.provenance["sources"], *(part.source for part in said)})


def _stations(result: Result) -> Iterator[list[str]]:
    """Yield the table's rows; the last cell names the throat and the hottest station."""
    names = {int(abs(result.stations["x_m"]).argmin()): "throat"}
    hottest = int(result.stations["T_wall_hot_K"].argmax())
    names[hottest] = "hottest" if hottest not in names else "throat, hottest"
    for n in range(result.stations["x_m"].size):
        row = [
            f"{result.stations[name][n] * factor:.{decimals}f}"
            for name, _, _, factor, decimals in _headings(result)
        ]
        yield [*row, names.get(n, "")]
