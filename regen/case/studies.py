"""What a case file holds for studies: spreads of its keys, and the same chamber by other routes."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, get_args, get_type_hints

from regen import units
from regen.case.circuits import check_circuit
from regen.case.keys import ROLES, bounds_of, check_correlation, check_path, kind_of
from regen.case.kinds import CoolantFlow, quoted, shown
from regen.design import Distribution, Route
from regen.units import Number, Quantity, Refusal, Wrong, accepting, refusal, suggestion

UNCERTAINTY, ALTERNATIVES = "uncertainty", "alternatives"
ANY = "any"
LAWS = tuple(law for law in get_args(get_type_hints(Distribution)["law"]) if law != "discrete")

_FORM = re.compile(rf"\s*([A-Za-z]+)\s+({units.NUMBER})\s*(.*?)\s*", re.DOTALL)

SECTION_FORM = (
    '[uncertainty] on its own line, below it lines such as "channels.width" = "uniform 0.03 mm"'
)
ROUTES: tuple[str, ...] = get_args(Route)
FORM = (
    '[alternatives.name] on its own line, below it route = "HIP-bonded" and lines such as '
    '"liner.condition" = "annealed"'
)


def distributions(
    given: object, circuits: object
) -> tuple[tuple[Distribution, ...], list[Refusal]]:
    """Return the sound distributions of a case's section, and what is wrong with the others.

    ``circuits`` is what the file has for them, None for nothing.
    """
    if not isinstance(given, dict):
        return (), [Refusal("not a section", SECTION_FORM, "", UNCERTAINTY, shown(given))]
    sound, wrong = [], Wrong()
    for path, value in given.items():
        with wrong.gather(f'{UNCERTAINTY}."{path[:60]}"', shown(value)):
            if isinstance(value, dict):
                raise _without_quotes(path, value, SECTION_FORM)
            check_path(path)
            if path.startswith("circuits."):
                check_circuit(path.split(".")[1], circuits)
            sound.append(distribution(path, value))
    return tuple(sound), wrong


def _without_quotes(path: str, value: Mapping[str, Any], form: str) -> Refusal:
    do = f'write it as "{path}.{next(iter(value), "...")}"'
    return Refusal("the key is not in quotes", form, do)


def distribution(path: str, given: object) -> Distribution:
    """Read one distribution of a known key as a person writes it, in SI.

    Such as "uniform 0.03 mm", "normal 3 %", "any", or a list of names. Whether it goes with the
    case's own value is not looked at here; raises ``Refusal`` if the key cannot have it.
    """
    if path.partition(".")[2] in ROLES and path.startswith("models."):
        return Distribution(path, "discrete", names=_names(given))
    if path == "title":
        raise Refusal("it holds no number", "a key that holds a number")
    if (entry := bounds_of(path)) is None:
        raise refusal("no distribution", roles=", ".join(f"models.{role}" for role in ROLES))
    if isinstance(entry, Number) and entry.whole:
        raise Refusal("a whole number has no spread about itself", "", "vary it with regen sweep")
    return _law(path, given, entry, isinstance(kind_of(path), CoolantFlow))


def _names(given: object) -> tuple[str, ...]:
    accepted = f'"{ANY}" (every correlation that applies), or a list of at least two names'
    names = given.split(",") if isinstance(given, str) else given
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise Refusal("neither a text nor a list of names", accepted)
    names = [name.strip() for name in names]
    if names == [ANY]:
        return ()
    if len(names) < 2 or "" in names:
        raise refusal("one name", accepted=accepted)
    if twice := [name for name in names if names.count(name) > 1]:
        raise Refusal(f'"{twice[0]}" is named twice', accepted, "all have equal weights")
    return tuple(names)


def accepted(path: str, entry: Quantity | Number, flow: bool = False) -> str:
    """Return what distribution a key may have; ``flow`` for one that may be of the fuel."""
    unit = f" {units.KINDS[entry.kind].shown}" if isinstance(entry, Quantity) else ""
    absolute = f'"uniform 0.03{unit}" (half-width about the value of {path})'
    percent = "" if unit == " K" else '; per cent of its own value too, "normal 3 %"'
    share = "; of a flow as a share of the fuel also in shares, 0.02 fuel" if flow else ""
    laws = "uniform, triangular (half-width) or normal (standard deviation)"
    return f"{laws}, then the amount, such as {absolute}{percent}{share}"


def _law(path: str, given: object, entry: Quantity | Number, flow: bool) -> Distribution:
    fits = accepted(path, entry, flow)
    if not isinstance(given, str):
        raise Refusal("not a text", fits, "put law and amount in quotes")
    match = _FORM.fullmatch(given)
    if match is None:
        raise Refusal("not a law with an amount", fits)
    law: Any = match[1]
    number, unit = float(match[2]), match[3]
    if law not in LAWS:
        raise Refusal(f'"{law}" is not a known law', fits, suggestion(law, LAWS))
    if number == 0.0:
        raise Refusal("its width is zero, so it does not vary", fits, "leave it out")
    if not 0.0 < number < float("inf"):
        raise Refusal("its width must be finite and above zero", fits)
    if unit == "%":
        if isinstance(entry, Quantity) and entry.kind == "temperature":
            raise Refusal("per cent of a temperature says nothing", fits, "give it in K")
        return Distribution(path, law, number / 100.0, "of own")
    if unit == "fuel" and flow:
        return Distribution(path, law, number, "of fuel")
    return Distribution(path, law, _amount(number, unit, entry, fits))


def _amount(number: float, unit: str, entry: Quantity | Number, fits: str) -> float:
    """Return a width in SI [of the key]."""
    if isinstance(entry, Number):
        if unit:
            raise Refusal(f'the key has no unit, and "{unit}" is given', fits)
        return number
    if entry.kind == "temperature" and unit in ("degC", "degF"):
        raise Refusal("a width is a difference, and degC and degF count from a zero", fits)
    with accepting(fits):
        width = units.parse(f"{number!r} {unit}".rstrip(), entry.kind)
    if width.gauge:
        raise Refusal("a width is a difference, neither gauge nor absolute", fits, 'drop "gauge"')
    return width.value


def model_names(given: Iterable[Distribution], fluid: str) -> Wrong:
    """Return what is wrong with the correlations that distributions name, for a coolant."""
    wrong = Wrong()
    for one in given:
        for name in one.names:
            with wrong.gather(f'{UNCERTAINTY}."{one.key}"', shown(name)):
                check_correlation(one.key.partition(".")[2], name, fluid)
    return wrong


@dataclass(frozen=True, slots=True)
class Alternative:
    """One alternative of a case: its name, route, and values by key path as the file has them."""

    name: str
    route: str
    values: Mapping[str, Any]


def alternatives(given: object) -> tuple[tuple[Alternative, ...], list[Refusal]]:
    """Return the alternatives of a case that are sound as tables, and what is wrong with others.

    Whether they make a case is not looked at here.
    """
    if not isinstance(given, dict):
        return (), [Refusal("not a section", FORM, "", ALTERNATIVES, shown(given))]
    sound, wrong = [], Wrong()
    for name, table in given.items():
        with wrong.gather(f"{ALTERNATIVES}.{name[:40]}", shown(table)):
            if not isinstance(table, dict):
                raise Refusal("not a table", FORM)
            _check_table(table)
            values = {key: value for key, value in table.items() if key != "route"}
            sound.append(Alternative(name, table["route"], values))
    return tuple(sound), wrong


def _check_table(table: Mapping[str, Any]) -> None:
    wrong, accepted, route = Wrong(), quoted(ROUTES), table.get("route")
    if route is None:
        wrong.append(Refusal("missing", accepted, "say how it is made", ".route", ""))
    elif route not in ROUTES:
        do = suggestion(str(route), ROUTES)
        wrong.append(Refusal("unknown route", accepted, do, ".route", shown(route)))
    for key, value in table.items():
        unquoted = "." not in key and isinstance(value, dict)
        with wrong.gather(f".{key[:60]}" if unquoted else f'."{key[:60]}"', shown(value)):
            if key == "closeout.route":
                raise refusal("route among the values")
            if unquoted:
                raise _without_quotes(key, value, FORM)
            if key != "route":
                check_path(key)
    wrong.refuse()
