"""The rows of ``regen list``: read from code and data, so that no number stands here."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import fields
from typing import Any, get_args

from regen import design, units
from regen.case.coolant import CAUTIONS, REFUSED_COOLANTS
from regen.case.keys import SECTIONS, texts
from regen.checks.limits import FLUX_RECORD, LIMITS
from regen.checks.registry import Limit
from regen.checks.thermal_limits import coking_limits, sulfur_limits
from regen.coolant.table import coolant_table
from regen.gas.feeds import ALCOHOLS, MOST_WATER, SPECIES, liquid_range
from regen.metals import alloy_text as alloy_words
from regen.metals.alloys import Alloy, Fact, Table, span
from regen.metals.alloys import alloys as all_alloys
from regen.metals.selection import covered
from regen.physics import _dispatch, burnout, enhance  # noqa: F401 - they register
from regen.physics.registry import CORRELATIONS, ROLES
from regen.solver import bands
from regen.solver.solve import MIN_BAND
from regen.sources import cite, find

Row = dict[str, Any]

LIQUID_INLET = 0.5
"""Temperature of the coolants' inlet over the pseudo-critical, for the list of members."""

PRESSURES = (
    ("far above", 2.0),
    (f"up to {bands.NEAR_CRITICAL_PRESSURE:g} times", bands.NEAR_CRITICAL_PRESSURE),
    ("below", 0.5),
)
"""Pressures over critical for which the members are listed."""

Say = Callable[[str], None]


FACTORS = dict.fromkeys(("ultimate_factor", "proof_factor"), "nasa_std_5012")
"""Source of the factors that are not common practice."""


def _citations(keys: Iterable[str]) -> list[str]:
    return [f"{key}: {cite(find(key))}" for key in sorted(set(keys))]


def _fact(fact: Fact) -> str:
    return f"{fact.value:.0f} {fact.unit} ({fact.source}, {fact.mark})"


def _table(name: str, condition: str, table: Table) -> str:
    given = "" if condition == "any" else f" ({condition})"
    sources = ", ".join(dict.fromkeys(table.sources))
    marks = ", ".join(sorted(set(table.marks)))
    said = alloy_words.values(name, table)
    return f"{alloy_words.plain(name)}{given}: {span(table.T)}, {said}; {sources}; {marks}"


def alloys(say: Say) -> list[Row]:
    """Return the alloys: what is known and what is not by condition, heating, sources.

    Parameters
    ----------
    say : callable
        Not needed: nothing here takes time.

    Returns
    -------
    list of dict
        Texts by heading.
    """
    return [_alloy(alloy) for alloy in all_alloys().values()]


def _alloy(alloy: Alloy) -> Row:
    points = [(c, *entry) for c in alloy.conditions for entry in alloy_words.points(alloy, c)]
    keys = [key for table in alloy.tables.values() for key in table.sources]
    keys += [fact.source for fact in (*alloy.T_max.values(), alloy.solidus) if fact]
    keys += [fact.source for fact in alloy.holds_to.values()]
    reference = alloy.expansion_reference
    keys += [reference.source] if reference else []
    keys += [other.source for other in alloy.compared]
    keys += [key for tests in alloy.fatigue.values() for test in tests for key in test.sources]
    keys += [key for creep in alloy.creep.values() for key in creep.sources]
    return {
        "name": alloy.key,
        "composition": alloy.composition,
        "form": alloy.form,
        "conditions": [f"{name}: {text}" for name, text in alloy.conditions.items()],
        "heating": [f"{name}: {covered(alloy, name)}" for name in alloy.conditions],
        "hot_wall_limit": [f"{use} service: {_fact(f)}" for use, f in alloy.T_max.items()],
        "solidus": _fact(alloy.solidus) if alloy.solidus else "not tabulated",
        "mean_expansion_from": _fact(reference) if reference else "",
        "tables": [_table(name, c, table) for (c, name), table in alloy.tables.items()]
        + [f"{what} ({c}): {text}; {key}; {mark}" for c, what, text, key, mark in points],
        "not_known": [
            f"{name}: {', '.join(alloy_words.missing(alloy, name))}" for name in alloy.conditions
        ],
        "other_sources_not_used": [
            alloy_words.disagreement(alloy, other) for other in alloy.compared
        ],
        "cautions": list(alloy.notes),
        "sources": _citations(keys),
    }


def coolants(say: Say) -> list[Row]:
    """Return the coolants: critical point, ranges, limits, cautions; then the refused ones.

    Parameters
    ----------
    say : callable
        Told which property table is being built or read.

    Returns
    -------
    list of dict
        Texts by heading.
    """
    names = get_args(design.CoolantFluid)
    refused = [
        {"name": name, "refused": reason}
        for name, reason in REFUSED_COOLANTS.items()
        if name not in names
    ]
    return [_coolant(name, say) for name in names] + refused


def _coolant(name: str, say: Say) -> Row:
    say(f"property table of {name} (built once, then read from the cache)")
    table, limit = coolant_table(name), coking_limits().get(name)
    return {
        "name": name,
        "critical_point": f"{table.T_critical:.2f} K, {table.p_critical / 1e5:.2f} bar",
        "temperature": f"{table.T_min:.0f} to {min(table.T_max, table.T_top):.0f} K, from the "
        "melting line up"
        + (
            f"; extrapolated, and noted, to {table.T_top:.0f} K"
            if table.T_top > table.T_max
            else ""
        ),
        "pressure": f"{table.p_min / 1e5:.3g} to {table.p_max / 1e5:.0f} bar",
        "coolant_side_wall_limit": _fact(limit) if limit else "none known: not assessed",
        "correlations": [
            f"{where} the critical pressure: "
            + ", ".join(bands.coolant_side(name, p_r, LIQUID_INLET).members)
            for where, p_r in PRESSURES
        ],
        "boiling": ", ".join(bands.boiling(name).members),
        "cautions": [CAUTIONS[name]] if name in CAUTIONS else [],
        "sources": _citations(["coolprop", *([limit.source] if limit else [])]),
    }


def propellants(say: Say) -> list[Row]:
    """Return the propellants and the states in which each may be stored.

    Parameters
    ----------
    say : callable
        Told that temperature ranges are being looked up.

    Returns
    -------
    list of dict
        Texts by heading.
    """
    say("ranges of the liquids (looked up once, then read from the cache)")
    roles = {"oxidizer": get_args(design.Oxidizer), "fuel": get_args(design.Fuel)}
    return [_propellant(name, role) for role, names in roles.items() for name in names]


def _propellant(name: str, role: str) -> Row:
    species = SPECIES[name]
    low, high = liquid_range(name)
    return {
        "name": name,
        "role": role,
        "liquid": f"{low:.2f} to {high:.2f} K; without a temperature {species.storage:.2f} K",
        "gas": "above saturation at the chamber pressure" if species.gas else "no",
        "water": f"propellants.fuel_water up to {MOST_WATER:g}" if name in ALCOHOLS else "",
        "sources": _citations([species.source]),
    }


def correlations(say: Say) -> list[Row]:
    """Return the correlations: role, formula in words, range, source, mark.

    Parameters
    ----------
    say : callable
        Not needed: nothing here takes time.

    Returns
    -------
    list of dict
        Texts by heading.
    """
    return [
        {
            "name": c.name,
            "role": c.role.replace("_", " "),
            "text": c.text,
            "range_in_SI": [f"{key} {low:g} to {high:g}" for key, (low, high) in c.ranges.items()],
            "made_for": c.made_for,
            "mark": find(c.source).mark,
            "sources": _citations([c.source]),
        }
        for c in sorted(CORRELATIONS.values(), key=lambda c: (ROLES.index(c.role), c.name))
    ]


def limits(say: Say) -> list[Row]:
    """Return the limits and factors that the checks use where a case gives none.

    Parameters
    ----------
    say : callable
        Not needed: nothing here takes time.

    Returns
    -------
    list of dict
        Texts by heading.
    """
    rows = [row for name in ("limits", "shop") for row in _defaults(name)]
    rows += [_limit(one) for one in LIMITS.values()]
    for alloy in all_alloys().values():
        rows += [
            _built_in(f"hot wall of {alloy.key}, {use} service", fact)
            for use, fact in alloy.T_max.items()
        ]
    rows += [_built_in(f"slot floor, deposits of {n}", f) for n, f in coking_limits().items()]
    rows += [
        {
            **_built_in(f"copper slot floor, sulfur in {n}", fact),
            "text": "above it a note says: keep sulfur out",
        }
        for n, (fact, _) in sulfur_limits().items()
    ]
    rows += [
        _built_in(f"melting of {alloy.key}", alloy.solidus)
        for alloy in all_alloys().values()
        if alloy.solidus
    ]
    record = Fact(FLUX_RECORD, "W/m2", "wall_flux_record", find("wall_flux_record").mark)
    rows.append({**_built_in("heat flux", record), "text": "above it a note says: check the case"})
    rows.append(
        {
            "name": "band",
            "text": "least half-width on wall less coolant temperature and on pressure drop",
            "value": f"{MIN_BAND:.0%}",
            "mark": find("common_practice").mark,
        }
    )
    return rows


def _limit(limit: Limit) -> Row:
    """Return a limit that designs are judged by, and the key of the case that sets it."""
    informs = "; informs, decides nothing" if limit.informative else ""
    return {
        "name": limit.name,
        "text": f"{limit.text}{informs}",
        "value": f"by {limit.key}" if limit.key else "by alloy, coolant and sizes",
        "mark": find(limit.source).mark,
        "sources": _citations([limit.source]),
    }


def _defaults(section: str) -> list[Row]:
    kinds = {name: getattr(key.kind, "kind", None) for name, key in SECTIONS[section].items()}
    meanings = texts(section)
    owner = {"limits": design.Limits, "shop": design.Shop}[section]
    return [
        {
            "name": f"{section}.{field.name}",
            "text": meanings[field.name],
            "value": _value(field.default, kinds[field.name]),
            **_origin(field.name, field.default),
        }
        for field in fields(owner)
    ]


def _origin(name: str, default: object) -> Row:
    """Return mark and source of a default; without one its origin is common practice."""
    if default in (None, ()):
        return {"mark": ""}
    key = FACTORS.get(name)
    if key is None:
        return {"mark": find("common_practice").mark}
    return {"mark": find(key).mark, "sources": _citations([key])}


def _value(default: object, kind: str | None) -> str:
    if default is None:
        return "by alloy or coolant, below"
    if default == ():
        return "none given"
    return units.show(float(str(default)), kind) if kind else str(default)


def _built_in(name: str, fact: Fact) -> Row:
    return {
        "name": name,
        "value": f"{fact.value:g} {fact.unit}",
        "mark": fact.mark,
        "sources": _citations([fact.source]),
    }
