"""Alternatives of a case: the same chamber by other routes, each a table of keys to be changed."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from regen.case.fields import shown, suggestion
from regen.design import Route
from regen.units import Refusal

ALTERNATIVES = "alternatives"
ROUTES: tuple[str, ...] = get_args(Route)
FORM = (
    '[alternatives.name] on its own line, below it route = "HIP-bonded" and lines such as '
    '"liner.condition" = "annealed"'
)
_ACCEPTED = ", ".join(f'"{route}"' for route in ROUTES)


@dataclass(frozen=True, slots=True)
class Alternative:
    """One alternative of a case: its name, route, and values by key path as the file has them."""

    name: str
    route: str
    values: Mapping[str, Any]


def alternatives(
    given: object, strange: Callable[[str], Refusal | None]
) -> tuple[tuple[Alternative, ...], list[Refusal]]:
    """Return the alternatives of a case, and what is wrong with their tables.

    Parameters
    ----------
    given : object
        What the file has for ``alternatives``.
    strange : callable
        Says what is wrong with the path of a key, None if the case file knows it.

    Returns
    -------
    tuple of Alternative
        Those that are sound as tables; whether they make a case is not looked at here.
    list of Refusal
        Each with its key path in ``where``.
    """
    if not isinstance(given, dict):
        return (), [Refusal("it is not a section", FORM, "", ALTERNATIVES, shown(given))]
    found, wrong = [], []
    for name, table in given.items():
        where = f"{ALTERNATIVES}.{name[:40]}"
        if not isinstance(table, dict):
            wrong.append(Refusal("it is not a table", FORM, "", where, shown(table)))
            continue
        refused = [*_route(where, table), *_keys(where, table, strange)]
        wrong += refused
        if not refused:
            values = {key: value for key, value in table.items() if key != "route"}
            found.append(Alternative(name, table["route"], values))
    return tuple(found), wrong


def _route(where: str, table: Mapping[str, Any]) -> list[Refusal]:
    route = table.get("route")
    if route in ROUTES:
        return []
    if route is None:
        return [Refusal("it is missing", _ACCEPTED, "say how it is made", f"{where}.route")]
    what, do = "it is not a known route", suggestion(str(route), ROUTES)
    return [Refusal(what, _ACCEPTED, do, f"{where}.route", shown(route))]


def _keys(
    where: str, table: Mapping[str, Any], strange: Callable[[str], Refusal | None]
) -> list[Refusal]:
    wrong = []
    for key, value in table.items():
        at = f'{where}."{key[:60]}"'
        if key == "route":
            continue
        if key == "closeout.route":
            do = "give it as route"
            wrong.append(Refusal("the route of an alternative is its own key", "", do, at))
        elif "." not in key and isinstance(value, dict):
            inner = f"{key}.{next(iter(value), '...')}"
            do = f'write it as "{inner}"'
            wrong.append(Refusal("the key is not in quotes", FORM, do, f"{where}.{key[:60]}"))
        elif refused := strange(key):
            given = shown(value)
            wrong.append(Refusal(refused.what, refused.accepted, refused.do, at, given))
    return wrong
