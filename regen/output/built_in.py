"""What is built in, as rows of text: read from code and data, so that no number stands here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields
from itertools import chain
from typing import Any, get_args

from regen import design, units
from regen.case.coolant import CAUTIONS, REFUSED_COOLANTS
from regen.case.keys import SECTIONS, texts
from regen.checks.limits import FLUX_RECORD, LIMITS
from regen.checks.thermal_limits import coking_limits, sulfur_limits
from regen.coolant.table import coolant_table
from regen.gas.feeds import ALCOHOLS, MOST_WATER, SPECIES, liquid_range
from regen.metals import alloy_text, alloys
from regen.metals.alloys import Alloy, Fact
from regen.metals.selection import covered
from regen.physics import _dispatch, burnout, enhance  # noqa: F401 - they register
from regen.physics.registry import CORRELATIONS, ROLES
from regen.solver import bands
from regen.solver.solve import MIN_BAND
from regen.sources import cite, find

Row = dict[str, Any]
Say = Callable[[str], None]
"""Tells the user of what takes time."""

LIQUID_INLET = 0.5
"""Temperature of the coolants' inlet over the pseudo-critical, for the list of members."""

PRESSURES = {
    "far above": 2.0,
    f"up to {bands.NEAR_CRITICAL_PRESSURE:g} times": bands.NEAR_CRITICAL_PRESSURE,
    "below": 0.5,
}
"""Pressures over critical for which the members are listed."""

FACTORS = dict.fromkeys(("ultimate_factor", "proof_factor"), "nasa_std_5012")
"""Source of the factors that are not common practice."""


def rows(what: str, say: Say) -> list[Row]:
    """Return the rows of one of ``LISTS``: texts, or lists of texts, by heading."""
    return list(LISTS[what](say))


def _alloys(_: Say) -> Iterator[Row]:
    """Yield what is known of each alloy and what is not: by condition, heating, sources."""
    for alloy in alloys.alloys().values():
        names, reference, solidus = alloy.conditions, alloy.expansion_reference, alloy.solidus
        points = [(c, *entry) for c in names for entry in alloy_text.points(alloy, c)]
        yield {
            "name": alloy.key,
            "composition": alloy.composition,
            "form": alloy.form,
            "conditions": [f"{name}: {text}" for name, text in names.items()],
            "heating": [f"{name}: {covered(alloy, name)}" for name in names],
            "hot_wall_limit": [f"{use} service: {_fact(f)}" for use, f in alloy.T_max.items()],
            "solidus": _fact(solidus) if solidus else "not tabulated",
            "mean_expansion_from": _fact(reference) if reference else "",
            "tables": [_table(name, c, table) for (c, name), table in alloy.tables.items()]
            + [f"{what} ({c}): {text}; {key}; {mark}" for c, what, text, key, mark in points],
            "not_known": [f"{n}: {', '.join(alloy_text.missing(alloy, n))}" for n in names],
            "other_sources_not_used": [alloy_text.disagreement(alloy, o) for o in alloy.compared],
            "cautions": list(alloy.notes),
            "sources": _citations(_sources(alloy)),
        }


def _sources(alloy: Alloy) -> Iterator[str]:
    facts: list[Any] = [*alloy.T_max.values(), *alloy.holds_to.values(), *alloy.compared]
    facts += filter(None, (alloy.solidus, alloy.expansion_reference))
    yield from (fact.source for fact in facts)
    tables: list[Any] = [*alloy.tables.values(), *alloy.creep.values()]
    for table in (*tables, *chain(*alloy.fatigue.values())):
        yield from table.sources


def _table(name: str, condition: str, table: alloys.Table) -> str:
    given = "" if condition == "any" else f" ({condition})"
    span, values = alloys.span(table.T), alloy_text.values(name, table)
    sources, marks = dict.fromkeys(table.sources), sorted(set(table.marks))
    origin = f"{', '.join(sources)}; {', '.join(marks)}"
    return f"{alloy_text.plain(name)}{given}: {span}, {values}; {origin}"


def _coolants(say: Say) -> Iterator[Row]:
    """Yield critical point, ranges, limits and cautions of each coolant; then the refused ones."""
    names = get_args(design.CoolantFluid)
    for name in names:
        say(f"property table of {name} (built once, then read from the cache)")
        table, limit = coolant_table(name), coking_limits().get(name)
        range_T = f"{table.T_min:.0f} to {min(table.T_max, table.T_top):.0f} K"
        further = f"; extrapolated, and noted, to {table.T_top:.0f} K"
        members = {p: bands.coolant_side(name, p_r, LIQUID_INLET) for p, p_r in PRESSURES.items()}
        yield {
            "name": name,
            "critical_point": f"{table.T_critical:.2f} K, {table.p_critical / 1e5:.2f} bar",
            "temperature": f"{range_T}, from the melting line up"
            + (further if table.T_top > table.T_max else ""),
            "pressure": f"{table.p_min / 1e5:.3g} to {table.p_max / 1e5:.0f} bar",
            "coolant_side_wall_limit": _fact(limit) if limit else "none known: not assessed",
            "correlations": [
                f"{where} the critical pressure: {', '.join(choice.members)}"
                for where, choice in members.items()
            ],
            "boiling": ", ".join(bands.boiling(name).members),
            "cautions": [CAUTIONS[name]] if name in CAUTIONS else [],
            "sources": _citations(["coolprop", *([limit.source] if limit else [])]),
        }
    for name, reason in REFUSED_COOLANTS.items():
        if name not in names:
            yield {"name": name, "refused": reason}


def _propellants(say: Say) -> Iterator[Row]:
    """Yield the propellants and the states in which each may be stored."""
    say("ranges of the liquids (looked up once, then read from the cache)")
    for role, names in (("oxidizer", design.Oxidizer), ("fuel", design.Fuel)):
        for name in get_args(names):
            species = SPECIES[name]
            low, high = liquid_range(name)
            stored = f"without a temperature {species.storage:.2f} K"
            yield {
                "name": name,
                "role": role,
                "liquid": f"{low:.2f} to {high:.2f} K; {stored}",
                "gas": "above saturation at the chamber pressure" if species.gas else "no",
                "water": f"propellants.fuel_water up to {MOST_WATER:g}" * (name in ALCOHOLS),
                "sources": _citations([species.source]),
            }


def _correlations(_: Say) -> Iterator[Row]:
    """Yield role, formula in words, range, source and mark of each correlation."""
    for c in sorted(CORRELATIONS.values(), key=lambda c: (ROLES.index(c.role), c.name)):
        yield {
            "name": c.name,
            "role": c.role.replace("_", " "),
            "text": c.text,
            "range_in_SI": [f"{key} {low:g} to {high:g}" for key, (low, high) in c.ranges.items()],
            "made_for": c.made_for,
            "mark": find(c.source).mark,
            "sources": _citations([c.source]),
        }


def _limits(_: Say) -> Iterator[Row]:
    """Yield the limits and factors that the checks use where a case gives none."""
    yield from _defaults("limits", design.Limits)
    yield from _defaults("shop", design.Shop)
    for limit in LIMITS.values():
        yield {
            "name": limit.name,
            "text": f"{limit.text}{'; informs, decides nothing' * limit.informative}",
            "value": f"by {limit.key}" if limit.key else "by alloy, coolant and sizes",
            "mark": find(limit.source).mark,
            "sources": _citations([limit.source]),
        }
    for name, fact, text in _built_in_limits():
        value, sources = f"{fact.value:g} {fact.unit}", _citations([fact.source])
        noted = {"text": text} if text else {}
        yield {"name": name, "value": value, "mark": fact.mark, "sources": sources, **noted}
    text = "least half-width on wall less coolant temperature and on pressure drop"
    mark = find("common_practice").mark
    yield {"name": "band", "text": text, "value": f"{MIN_BAND:.0%}", "mark": mark}


def _built_in_limits() -> Iterator[tuple[str, Fact, str]]:
    """Yield name, value and, where it only makes a note, what the note says."""
    metals = alloys.alloys().values()
    for alloy in metals:
        for use, fact in alloy.T_max.items():
            yield f"hot wall of {alloy.key}, {use} service", fact, ""
    for coolant, fact in coking_limits().items():
        yield f"slot floor, deposits of {coolant}", fact, ""
    for coolant, (fact, _) in sulfur_limits().items():
        text = "above it a note says: keep sulfur out"
        yield f"copper slot floor, sulfur in {coolant}", fact, text
    for alloy in metals:
        if alloy.solidus:
            yield f"melting of {alloy.key}", alloy.solidus, ""
    record = Fact(FLUX_RECORD, "W/m2", "wall_flux_record", find("wall_flux_record").mark)
    yield "heat flux", record, "above it a note says: check the case"


def _defaults(section: str, owner: type) -> Iterator[Row]:
    """Yield the keys of a section with their defaults; one without a source is common practice."""
    meanings = texts(section)
    for field in fields(owner):
        name, default, source = field.name, field.default, FACTORS.get(field.name)
        kind = getattr(SECTIONS[section][name].kind, "kind", None)
        yield {
            "name": f"{section}.{name}",
            "text": meanings[name],
            "value": _value(default, kind),
            "mark": "" if default in (None, ()) else find(source or "common_practice").mark,
            **({"sources": _citations([source])} if source else {}),
        }


def _value(default: object, kind: str | None) -> str:
    if default is None:
        return "by alloy or coolant, below"
    if default == ():
        return "none given"
    return units.show(float(str(default)), kind) if kind else str(default)


def _fact(fact: Fact) -> str:
    return f"{fact.value:.0f} {fact.unit} ({fact.source}, {fact.mark})"


def _citations(keys: Iterable[str]) -> list[str]:
    return [f"{key}: {cite(find(key))}" for key in sorted(set(keys))]


LISTS: dict[str, Callable[[Say], Iterator[Row]]] = {
    "alloys": _alloys,
    "coolants": _coolants,
    "propellants": _propellants,
    "correlations": _correlations,
    "limits": _limits,
}
"""What can be listed."""
