"""docs/validation.md, written from the records: ``python -m tests.published``."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from regen import sources
from regen.gas import flux
from regen.output import labels
from regen.solver import bands
from tests.published import gather, plots
from tests.published import measured_chambers as chambers
from tests.published import square_chamber as square
from tests.published import test_measured_chambers as measured
from tests.published.ledger import Check, Record

DOCS = Path(__file__).parents[2] / "docs"
PAGE = DOCS / "validation.md"
FIGURES = DOCS / "figures"
GAPS = tomllib.loads(Path(__file__).with_name("unchecked.toml").read_text(encoding="utf-8"))["gap"]
TEXT = Path(__file__).with_name("page.md")

HEAD = "| compared | source, mark | points | theirs → ours | mean, worst miss | allowed | why |"
RULE = "|---|---|---|---|---|---|---|"


@dataclass(frozen=True)
class Section:
    """Records and figure of one section; its heading and words are in page.md."""

    collect: Callable[[], Iterator[Record]]
    figure: str = ""
    caption: str = ""


SECTIONS = {
    "chemistry_outside": Section(
        gather.chemistry_outside,
        "chemistry",
        "Hot gas against printed tables; the number after a fuel is O/F. Grey: allowed. Feed "
        "enthalpies are in the table only.",
    ),
    "chemistry_separate": Section(gather.chemistry_separate),
    "nozzle_flow": Section(
        gather.nozzle_flow,
        "nozzle_mach",
        "Left: isentropic flow of gamma 1.4. Right: cold air through the cone.",
    ),
    "chamber_flux": Section(gather.chamber_flux),
    "hydrogen_nozzle": Section(
        gather.hydrogen_nozzle,
        "hydrogen_nozzle",
        "Constants of the hydrogen nozzle, measured and ours. Grey: the band's members.",
    ),
    "milled_cylinder": Section(
        gather.milled_cylinder,
        "milled_cylinder",
        "Hot wall at the cylinder's throat by each form, over the assumed temperature of the "
        "coolant. Grey: band with its floor.",
    ),
    "hydrogen_tube": Section(
        gather.hydrogen_tube,
        "hydrogen_tube",
        "Walls of the heated tube, measured and by each form. Grey: band with its floor.",
    ),
    "square_chamber": Section(
        gather.square_chamber,
        "square_chamber",
        "Left: predicted unfitted. Right: one factor a form, fitted to the grey part.",
    ),
    "coolant_properties": Section(
        gather.coolant_properties,
        "coolant_properties",
        "Coolant tables against published points. Red: allowed.",
    ),
    "correlation_rows": Section(gather.correlation_rows),
    "convection_examples": Section(gather.convection_examples),
    "friction_data": Section(
        gather.friction_data,
        "smooth_friction",
        "Smooth pipe: 59 measured points. Grey: allowed; between Re 1200 and 10 000 nothing is "
        "asked, the flow is neither laminar nor turbulent.",
    ),
    "burnout_rows": Section(gather.burnout_rows),
    "wall_sections": Section(
        gather.wall_sections,
        "wall_elements",
        "Closed wall form against finite elements on 40 random sections. Grey: allowed.",
    ),
    "section_examples": Section(gather.section_examples),
    "wall_materials": Section(
        gather.wall_materials,
        "copper",
        "Conductivity of pure copper and of Cu-8Cr-4Nb.",
    ),
    "life_examples": Section(gather.life_examples),
    "plating_examples": Section(gather.plating_examples),
}


# --- numbers in words ---------------------------------------------------------------------------
def number(value: float) -> str:
    """Four digits, without an exponent where it can be read without."""
    if value == 0.0:
        return "0"
    return f"{value:.4g}" if 1e-3 <= abs(value) < 1e4 else _plain(value)


def _plain(value: float) -> str:
    if 1e4 <= abs(value) < 1e6:
        return f"{float(f'{value:.4g}'):.0f}"
    return f"{value:.3e}".replace("e-0", "e-").replace("e+0", "e")


def percent(share: float) -> str:
    """Two digits of a share in per cent; what is below a ten-thousandth is not told apart."""
    if abs(share) < 1e-4:
        return "< 0.01 %"
    return f"{float(f'{100 * share:.2g}'):+g} %"


def _miss(check: Check, value: float) -> str:
    if not check.absolute:
        return percent(value)
    return f"{float(f'{value:.2g}'):+g} {check.unit}".strip()


def _span(low: float, high: float, write: Callable[[float], str]) -> str:
    first, last = write(low), write(high)
    return first if first == last else f"{first} to {last}"


def allowed(checks: list[Check]) -> str:
    """The tolerance of a line, or from the tightest to the widest."""
    ends = min(c.tolerance for c in checks), max(c.tolerance for c in checks)
    if checks[0].absolute:
        return f"± {_span(*ends, lambda v: f'{v:g}')} {checks[0].unit}".strip()
    if ends[1] <= 1e-6:
        return "rounding"
    low, high = (f"{100 * v:.3g}" if v >= 1e-6 else "rounding" for v in ends)
    return f"± {high} %" if low == high else f"± {low} to {high} %"


# --- one line of a table ------------------------------------------------------------------------
def _sources(records: list[Record]) -> str:
    pairs = dict.fromkeys((r.source, r.mark) for r in records)
    if len(pairs) > 4:
        marks = ", ".join(dict.fromkeys(mark for _, mark in pairs))
        return f"{len({key for key, _ in pairs})} sources: {marks}"
    return "; ".join(f"`{key}` {mark}" for key, mark in pairs)


def _checks_line(checks: list[Check]) -> list[str]:
    worst = max(checks, key=lambda c: round(abs(c.miss) / c.tolerance, 6))
    pair = f"{number(worst.theirs)} → {number(worst.ours)} {worst.unit}".strip()
    pair = f"{pair} ({worst.point})"
    miss = _miss(worst, worst.miss)
    if len(checks) > 1:
        mean = float(np.mean([c.miss for c in checks]))
        miss = f"{_miss(worst, mean)}, {miss}"
    return [pair, miss, allowed(checks)]


def _windows_line(windows: list) -> list[str]:
    ours, unit = [w.ours for w in windows], windows[0].unit
    low, high = min(w.low for w in windows), max(w.high for w in windows)
    shown = f"ours {_span(min(ours), max(ours), short)} {unit}".strip()
    if len(windows) == 1:
        shown = f"{shown} ({windows[0].point})"
    asked = f"above {number(low)}" if high == np.inf else f"{short(low)} to {short(high)}"
    return [shown, "–", f"{asked} {unit}".strip()]


def short(value: float) -> str:
    """Three digits; rounding noise of a share is nought."""
    return number(0.0 if abs(value) < 5e-5 else float(f"{value:.3g}"))


def line(records: list[Record]) -> str:
    first = records[0]
    if isinstance(first, Check):
        middle = _checks_line([r for r in records if isinstance(r, Check)])
    else:
        middle = _windows_line(records)
    reasons = "; ".join(dict.fromkeys(r.reason for r in records))
    cells = [first.series, _sources(records), str(len(records)), *middle, reasons]
    mark = "" if all(r.passes for r in records) else " **out**"
    return f"| {' | '.join(cells)}{mark} |"


def table(records: tuple[Record, ...]) -> str:
    series: dict[str, list[Record]] = {}
    for record in records:
        series.setdefault(record.series, []).append(record)
    return "\n".join([HEAD, RULE, *(line(group) for group in series.values())])


# --- parts that are not tables of records -------------------------------------------------------
def _section(name: str) -> str:
    section = SECTIONS[name]
    parts = [table(gather.records(section.collect))]
    if section.figure:
        parts.append(f"![{section.caption}](figures/{section.figure}.svg)")
        parts.append(f"*{section.caption}*")
    return "\n\n".join(parts)


def _mixing() -> str:
    """Heat flux along the square chamber's barrel, and what each form would have to be given."""
    at = square.flux_from_wall()
    forms = {f: f.replace("_", " ") for f in square.FORMS}
    rows = ["| z, mm | from the faceplate, mm | wall, K | flux, MW/m2 | "
            + " | ".join(forms.values()) + " |"]  # fmt: skip
    rows.append("|---" * (4 + len(forms)) + "|")
    shares = [square.mixing_profile(form) for form in forms]
    for i in range(0, at.z.size, 3):
        cells = [f"{1e3 * at.z[i]:.0f}", f"{1e3 * at.x[i]:.0f}", f"{at.T_wall[i]:.0f}"]
        cells += [f"{at.q[i] / 1e6:.1f}", *(f"{share[i]:.2f}" for share in shares)]
        rows.append(f"| {' | '.join(cells)} |")
    return "\n".join(rows)


def _fits() -> str:
    rows = ["| form | unfitted, barrel mean | unfitted over measured | one factor, z < 200 mm |"
            " then beyond 250 mm | at z 291 mm |", "|---|---|---|---|---|---|"]  # fmt: skip
    measured = square.flux_from_wall().q.mean()
    for form in square.FORMS:
        mean, found = square.predicted(form).mean(), square.fit(form)
        rows.append(
            f"| {form.replace('_', ' ')} | {mean / 1e6:.2g} MW/m2 | {mean / measured:.1f} |"
            f" {found.factor:.2f} | {percent(found.miss_rise)} | {percent(found.miss_end)} |"
        )
    return "\n".join(rows)


def _rows(head: list[str], rows: list[list[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _held(miss: float, unit: str = "%") -> str:
    """A place against the band: held, or by how much measurement lies outside."""
    if miss == 0.0:
        return "held"
    return f"measured {abs(miss):.2g} {unit} {'above' if miss > 0.0 else 'below'}"


def _tube() -> str:
    at, forms = chambers.tube(), chambers.FORMS
    bulk = at.bulk
    misses = [100 * chambers.outside(at.measured, b, bulk) for b in measured.tube_bands().values()]
    rows = [
        [
            f"{at.x[i] / chambers.TUBE['diameter_m']:.0f}", f"{bulk[i]:.0f}",
            f"{at.measured[i]:.0f}", *(f"{at.ours[form][i]:.0f}" for form in forms),
            *(_held(miss[i]) for miss in misses),
        ]
        for i in range(bulk.size)
    ]  # fmt: skip
    named = [f"{form}, K" for form in forms]
    return _rows(["x/D", "bulk, K", "wall, K", *named, "bare members", "with floor"], rows)


def _cylinder() -> str:
    walls, bulk = chambers.cylinder(), chambers.cylinder_bulk()
    pairs = chambers.bare_band(walls), chambers.floored_band(walls, bulk)
    theirs = chambers.cylinder_measured()
    misses = [100 * chambers.outside(theirs, band, bulk) for band in pairs]
    rows = [
        [
            str(slots["count"]), f"{state['T_K']:.0f} K, {state['p_Pa'] / 1e6:.0f} MPa",
            f"{slots['wall_K']:.0f}", *(f"{walls[f][n, b]:.0f}" for f in chambers.FORMS),
            *(_held(miss[n, b]) for miss in misses),
        ]
        for n, slots in enumerate(chambers.CYLINDER["slots"])
        for b, state in enumerate(chambers.CYLINDER["bulk"])
    ]  # fmt: skip
    named = [f"{form}, K" for form in chambers.FORMS]
    walls_table = _rows(["slots", "coolant", "wall, K", *named, "bare members", "with floor"], rows)
    flux = chambers.cylinder_flux()
    ratios = ", ".join(f"{form} {ratio:.2f}" for form, ratio in flux.items())
    return f"Flux at 730 K over the calorimeter's: {ratios}.\n\n{walls_table}"


def _nozzle() -> str:
    ours = chambers.nozzle_constants()
    rows = [
        [
            place, f"{C:.4f}", *(f"{at[place]:.4f}" for at in ours.values()),
            _held(measured.nozzle_outside(C, low, high)),
        ]
        for place, _, C, low, high, _ in measured.nozzle_points()
    ]  # fmt: skip
    return _rows(["place", "measured", *(name.replace("_", " ") for name in ours), "band"], rows)


def _throats() -> str:
    low, high = flux.MEASURED_THROAT, bands.HIGHEST_THROAT
    rows = []
    for row in bands.measured_throats():
        side = "below" if row.ratio < low else "above" if row.ratio > high else "held"
        rows.append([row.chamber, f"{row.ratio:.2f}", side, f"`{row.source}` {row.mark}"])
    return _rows(["throat", "measured over closed form", "band", "source, mark"], rows)


def _throat_miss(low: bool) -> str:
    """By how much our constants exceed the measured one at the throat: the low member, or all."""
    C = chambers.NOZZLE["C"]["throat"]
    high = {name: at["throat"] / C - 1.0 for name, at in chambers.nozzle_constants().items()}
    of_low = high.pop(flux.LOW_THROAT)
    if low:
        return f"{100 * of_low:.0f} %"
    return f"{100 * min(high.values()):.0f} to {100 * max(high.values()):.0f} %"


def _aspect() -> str:
    drops = -np.diff(chambers.cylinder()[chambers.FORMS[0]], axis=0)[0]
    return f"{drops.min():.0f} to {drops.max():.0f} K"


def _gaps() -> str:
    rows = ["| not checked | why | meanwhile |", "|---|---|---|"]
    rows += [f"| {gap['what']} | {gap['why']} | {gap['meanwhile']} |" for gap in GAPS]
    return "\n".join(rows)


def _summary() -> str:
    rows = ["| mark | numbers compared | what the mark says |", "|---|---|---|"]
    every = [r for s in SECTIONS.values() for r in gather.records(s.collect)]
    meaning = {
        "seen": "the page, abstract or data were read",
        "second-hand": "read in a transcription or quotation; the source itself was not opened",
        "memory-high": "recalled, with high confidence",
        "memory-medium": "recalled, with medium confidence",
        "memory-low": "recalled, unsure: no authority until someone opens the source",
        "computed": "a separate calculation, or own arithmetic: consistency, not an outside check",
        "common-practice": "known in the trade, without one source",
    }
    assert set(meaning) == set(sources.MARKS)
    for mark, text in meaning.items():
        rows.append(f"| {mark} | {sum(r.mark == mark for r in every)} | {text} |")
    rows.append(f"| in all | {len(every)} | |")
    return "\n".join(rows)


def _references() -> str:
    keys = {r.source for s in SECTIONS.values() for r in gather.records(s.collect)}
    keys |= {row.source for row in bands.measured_throats()}
    keys |= {"square_chamber_recalled", *re.findall(r"`(\w+)`", TEXT.read_text(encoding="utf-8"))}
    listed = [key for key in sources.sources() if key in keys]
    return "\n".join(f"- `{key}`: {_cite(key)}" for key in listed)


def _cite(key: str) -> str:
    source = sources.find(key)
    year = f"({source.year})" if source.year else ""
    who = " ".join(part for part in (source.author, year) if part)
    return f"{', '.join(p for p in (who, source.title) if p)} [{source.mark}]"


OTHER = {
    "compared": lambda: labels.COMPARED,
    "tube_table": _tube,
    "tube_bare": lambda: str(measured.held("bare")),
    "tube_floor": lambda: str(measured.held("floor")),
    "cylinder_table": _cylinder,
    "nozzle_table": _nozzle,
    "throat_table": _throats,
    "aspect": _aspect,
    "throat_count": bands.against_measurement,
    "throat_high": lambda: _throat_miss(low=False),
    "throat_low": lambda: _throat_miss(low=True),
    "summary": _summary,
    "square_mixing": _mixing,
    "square_fits": _fits,
    "gaps": _gaps,
    "references": _references,
}


def text() -> str:
    """The page: page.md with each ``{{name}}`` filled in."""
    page = TEXT.read_text(encoding="utf-8")
    for name in SECTIONS:
        page = page.replace("{{" + name + "}}", _section(name))
    for name, write in OTHER.items():
        page = page.replace("{{" + name + "}}", write())
    assert "{{" not in page, "page.md names a part that does not exist"
    return page


def write() -> None:
    """Write page and figures."""
    FIGURES.mkdir(parents=True, exist_ok=True)
    for section in SECTIONS.values():
        if section.figure:
            plots.save(section.figure, FIGURES / f"{section.figure}.svg")
    PAGE.write_text(text(), encoding="utf-8")
