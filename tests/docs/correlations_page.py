"""docs/correlations.md from the registry and the bands' rule: ``python -m tests.docs``."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from regen import sources
from regen.gas import flux
from regen.physics import _dispatch, burnout, enhance  # noqa: F401 - they register
from regen.physics.registry import CONDITIONS, ROLES, Correlation, of_role
from regen.solver import bands

PAGE = Path(__file__).parents[2] / "docs" / "correlations.md"

HEAD = """# Correlations

Written from the code by `python -m tests.docs`; do not edit. Each form is one function, with its
range and source as data. Names are what `[models]` of a case takes; where it names none, the rule
at the end of this page chooses. A range is where the source has data; outside it a result says so.
No report behind a correlation has been opened: the mark says on what basis its form stands.
"""

SYMBOLS = """Subscripts: b bulk, w wetted wall at the slot floor, f film, the mean of both. Re and
Pr are the coolant's on the hydraulic diameter; `Re_ref` is the gas's at the film temperature or at
the reference enthalpy. In ranges:
"""

ROLE_WORDS = {
    "gas_side": "Gas side: film coefficient [W/(m2 K)] on the hot-gas surface",
    "coolant_side": "Coolant side: Nusselt number on the hydraulic diameter",
    "friction": "Friction: Darcy factor",
    "boiling": "Nucleate boiling: flux [W/m2] of a wall above saturation",
    "burnout": "Burnout: critical heat flux [W/m2]",
    "curvature": "Bends: factor on the coolant's film coefficient",
    "entrance": "Entrance: factor on the coolant's film coefficient",
    "roughness_heat": "Roughness: what it does to heat transfer",
}


def text() -> str:
    """Return the page."""
    parts = [HEAD, SYMBOLS, *(f"- `{k}`: {v}" for k, v in CONDITIONS.items()), ""]
    parts += ["\n".join(_role(role)) for role in ROLES]
    parts += ["\n".join(_bands()), "\n".join(_sources())]
    return "\n".join(line.rstrip() for line in "\n".join(parts).split("\n"))


def _table(*headings: str) -> list[str]:
    return [f"| {' | '.join(headings)} |", "|" + "---|" * len(headings)]


def _role(role: str) -> Iterator[str]:
    yield f"## {ROLE_WORDS[role]}\n"
    yield from _table("name", "form", "range", "made for", "source", "mark")
    for one in of_role(role):
        cells = (f"`{one.name}`", one.text, _range(one), one.made_for or "any", f"`{one.source}`")
        yield f"| {' | '.join(cells)} | {sources.find(one.source).mark} |"
    yield ""


def _range(one: Correlation) -> str:
    return ", ".join(f"{k} {a:g} to {b:g}" for k, (a, b) in one.ranges.items()) or "none stated"


def _bands() -> Iterator[str]:
    yield "## Which are used\n"
    yield "The gas side of `models.basis`, where `models.gas_side` names none:\n"
    yield from _table("basis", "gas side")
    for basis, name in flux.BASIS.items():
        yield f"| {basis} | `{name}` |"
    yield "\nThe band is every combination of these with each other, solved in full. Gas side: "
    form, factor = flux.correlation_of(flux.LOW_THROAT)
    yield f"{_names(bands.GAS_SIDE_MEMBERS)}, and `{form}` once more with {factor:g} of its flux"
    yield "at the throat, its own in the barrel and linear in the area ratio between, as measured"
    yield "throats had it ([validation](validation.md), section 3); a throat factor that the case"
    yield f"gives takes its place. Friction: {_names(bands.FRICTION_MEMBERS)}; `haaland`"
    yield "approximates the first, and stands in its place where it is named, so that no formula"
    yield "counts twice. `heated_wall` takes the wall to be as hot all round the slot as at its"
    yield "floor: the far end. Coolant side, by the first line that fits; its first member is the"
    yield "default:\n"
    yield from _table("coolant", "critical pressure", "members", "why")
    where = {"dense": "above", "liquid": "below", "any": "above or below"}
    for rule in bands.RULES:
        fluids = ", ".join(rule.fluids) or "any"
        members = _names(rule.members)
        yield f"| {fluids} | {where[rule.regime]} | {members} | {rule.text} |"
    yield f"\nUp to {bands.NEAR_CRITICAL_PRESSURE:g} critical pressures at the inlet, and entering "
    yield f"below the pseudo-critical temperature, {_names(bands.NEAR_CRITICAL)} join the lines "
    yield f"that say above: they are {bands.WATER_DATA}. Each result names who was left out, and "
    yield "why.\n"


def _names(members: tuple[str, ...]) -> str:
    return ", ".join(f"`{name}`" for name in members)


def _sources() -> Iterator[str]:
    yield "## Sources\n"
    for key in sorted({one.source for role in ROLES for one in of_role(role)}):
        yield f"- `{key}`: {sources.cite(sources.find(key))}"
    yield ""
