"""docs/alloys.md from the alloys' data: ``python -m tests.docs``."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from regen import sources
from regen.metals import alloy_text as words
from regen.metals import heating
from regen.metals.alloy_checks import NUMBERS, PARTS
from regen.metals.alloys import ANY, PROPERTIES, Alloy, Fact, alloys, span
from regen.metals.selection import covered

PAGE = Path(__file__).parents[2] / "docs" / "alloys.md"

HEAD = """# Alloys

Written from the data by `python -m tests.docs`; do not edit. What is known of each metal by
condition, what is not, what heating its strength stands, and where sources disagree. Rows with
their sources are in `regen/data/alloys`.

Strength depends on the condition more than on the alloy: temper, braze or HIP cycle and printed
state are conditions of their own and are never merged. A property that is not known makes the
margins that need it unknown. Conductivity keeps its last value beyond a table, with a note;
strength keeps its first value below it, where every metal here is stronger; all else ends with its
table. Mean and instantaneous expansion are two properties.

`liner.process` and `closeout.jacket_process` of a case list the heatings that a metal still sees.
A heating is covered if the condition is soft already, holds to its temperature, or is the state
after just that heating. One that is not covered leaves yield, tensile strength, elongation,
fatigue and creep unknown, until `liner.yield_strength` (of a jacket
`closeout.jacket_yield_strength`) gives what was measured after it.
"""

EXAMPLE_NAME = "Cu-Cr-Zr brazed"
EXAMPLE_STANZA = """["Cu-Cr-Zr brazed"]
name = "Copper-chromium-zirconium after our braze cycle"
composition = "Cu-0.9Cr-0.1Zr wt.%"
form = "forged ring"
density = { value = 8890, unit = "kg/m3", source = "mill sheet 4711", mark = "second-hand" }
solidus = { value = 1343, unit = "K", source = "mill sheet 4711", mark = "second-hand" }
T_max.short = { value = 780, unit = "K", source = "our practice", mark = "common-practice" }
after.brazed = ["braze at 935 degC for 10 min"]
notes = ["coupons were brazed with the part"]
["Cu-Cr-Zr brazed".conditions]
brazed = "brazed, cooled with the furnace, not aged again"
"""
EXAMPLE_ROWS = """condition,property,T_K,value,low,high,unit,source,mark
any,thermal_conductivity,293.15,335,,,W/(m K),laser flash of our ring,seen
any,thermal_conductivity,773.15,345,,,W/(m K),laser flash of our ring,seen
brazed,yield,293.15,95,91,102,MPa,coupons of load 7,seen
brazed,yield,773.15,62,58,66,MPa,coupons of load 7,seen
"""

OWN = f"""## Your own alloy

A case takes it by `files = ["own-alloy.toml"]` in `[materials]`. That file has a stanza for each
alloy, in the form of ours:

```toml
{EXAMPLE_STANZA}```

and beside it stands a table for each alloy, here `{EXAMPLE_NAME}.csv`. Its source is free text and
comes into the report, marked as given by the user:

```
{EXAMPLE_ROWS}```

`low` and `high` may be left out; they are the range in which the source has the value. A condition
of `{ANY}` holds for all. Temperatures rise within each table. Names of built-in alloys are taken.
A stanza may also have `T_max.long`, `expansion_reference` (needed with mean expansion),
`holds_to.<condition>` (the temperature of a heating that the strength stands), `already_soft` (a
list of conditions), `also`, and `creep_constant` (of a Larson-Miller parameter, time in hours).
Everything wrong is told at once, with file and line.
"""


def text() -> str:
    """Return the page."""
    parts = [HEAD, OWN, *_forms(), *(line for a in alloys().values() for line in _alloy(a))]
    return "\n".join([*parts, *_sources()])


def _table(*headings: str) -> list[str]:
    return [f"| {' | '.join(headings)} |", "|" + "---|" * len(headings)]


def _forms() -> Iterator[str]:
    yield from _table("property", "unit", "accepted")
    for name, (_, units, *bounds) in PROPERTIES.items():
        factor = next(iter(units.values()))
        low, high = (bound / factor for bound in bounds)
        yield f"| `{name}` | {' or '.join(f'`{u}`' for u in units)} | {low:g} to {high:g} |"
    yield "\nFurther tables may stand beside the first:\n"
    yield from _table("file", "columns", "what for")
    uses = {
        ".fatigue": "low-cycle fatigue tests at constant temperature",
        ".creep": "creep-rupture tests",
        ".compared": "values of other sources, shown and not used",
    }
    for part, use in uses.items():
        yield f"| `<name>{part}.csv` | `{','.join(PARTS[part])}` | {use} |"
    bounds = (f"`{name}` {low:g} to {high:g}" for name, (low, high) in NUMBERS.items())
    yield f"\nBounds: {', '.join(bounds)}. Marks: {', '.join(f'`{m}`' for m in sources.MARKS)}; "
    yield "no strength and no limit may be marked `memory-low`.\n"
    yield f"Heatings are {heating.ACCEPTED}.\n"


def _fact(fact: Fact | None) -> str:
    if fact is None:
        return "not known"
    return f"{fact.value:g} {fact.unit} (`{fact.source}`, {fact.mark})"


def _alloy(alloy: Alloy) -> Iterator[str]:
    yield f"## {alloy.key}\n"
    yield f"{alloy.name}, {alloy.composition}; {alloy.form}. Density {_fact(alloy.density)}; "
    yield f"solidus {_fact(alloy.solidus)}; hot wall at most, short service "
    yield f"{_fact(alloy.T_max.get('short'))}, long service {_fact(alloy.T_max.get('long'))}."
    if alloy.expansion_reference is not None:
        yield f"Mean expansion counts from {_fact(alloy.expansion_reference)}."
    yield ""
    yield from _table("condition", "what it is", "heating", "not known")
    for name, treatment in alloy.conditions.items():
        missing = ", ".join(words.missing(alloy, name))
        stands = covered(alloy, name)
        yield f"| `{name}` | {treatment} | {stands} | {missing} |"
    yield ""
    yield from _table("property", "condition", "temperature", "values", "sources", "marks")
    for (condition, name), table in alloy.tables.items():
        keys = ", ".join(f"`{key}`" for key in dict.fromkeys(table.sources))
        marks = ", ".join(dict.fromkeys(table.marks))
        cells = words.plain(name), condition, span(table.T), words.values(name, table)
        yield f"| {' | '.join(cells)} | {keys} | {marks} |"
    for condition in alloy.conditions:
        for what, said, keys, marks in words.points(alloy, condition):
            yield f"| {what} | {condition} |  | {said} | `{keys}` | {marks} |"
    yield ""
    if alloy.compared:
        yield "Other sources, not used:\n"
        yield from (f"- {words.disagreement(alloy, other)}" for other in alloy.compared)
        yield ""
    if alloy.notes:
        yield "To be known:\n"
        yield from (f"- {note}" for note in alloy.notes)
        yield ""


def _sources() -> Iterator[str]:
    yield "## Sources\n"
    keys: set[str] = set()
    for alloy in alloys().values():
        facts = [alloy.density, alloy.solidus, alloy.expansion_reference, alloy.creep_constant]
        facts += [*alloy.T_max.values(), *alloy.holds_to.values()]
        keys |= {fact.source for fact in facts if fact is not None}
        keys |= {key for table in alloy.tables.values() for key in table.sources}
        keys |= {other.source for other in alloy.compared}
        keys |= {key for tests in alloy.fatigue.values() for one in tests for key in one.sources}
        keys |= {key for creep in alloy.creep.values() for key in creep.sources}
    for key in sorted(keys):
        yield f"- `{key}`: {sources.cite(sources.find(key))}"
    yield ""
