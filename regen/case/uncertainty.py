"""Distributions of a case's keys: how they are written, and what is refused."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any, get_args, get_type_hints

from regen.case.counts import CountAlong
from regen.case.fields import CoolantFlow, Number, Quantity, shown, suggestion
from regen.case.fields_along import Along, AlongNumber
from regen.case.model import SECTIONS, Circuit
from regen.design import Distribution
from regen.units import KINDS, NUMBER, Refusal, parse

SECTION = "uncertainty"
ROLES = ("gas_side", "coolant_side", "friction", "boiling")
"""Keys of [models] that name a correlation: inputs that take one name or another."""

ANY = "any"
LAWS = tuple(law for law in get_args(get_type_hints(Distribution)["law"]) if law != "discrete")

_FORM = re.compile(rf"\s*([A-Za-z]+)\s+({NUMBER})\s*(.*?)\s*", re.DOTALL)

SECTION_FORM = (
    '[uncertainty] on its own line, below it lines such as "channels.width" = "uniform 0.03 mm"'
)


def distributions(
    given: object, circuits: object, strange: Callable[[str], Refusal | None]
) -> tuple[tuple[Distribution, ...], list[Refusal]]:
    """Return the distributions of a case's section, and what is wrong with it.

    Parameters
    ----------
    given : object
        What the file has for ``uncertainty``.
    circuits : object
        What the file has for ``circuits``, None for nothing.
    strange : callable
        Says what is wrong with the path of a key, None if the case file knows it.

    Returns
    -------
    tuple of Distribution
        Those that are sound, in the order of the file.
    list of Refusal
        Each with its key path in ``where``.
    """
    if not isinstance(given, dict):
        return (), [Refusal("it is not a section", SECTION_FORM, "", SECTION, shown(given))]
    found, wrong = [], []
    for path, value in given.items():
        where = f'{SECTION}."{path[:60]}"'
        try:
            found.append(_line(path, value, circuits, strange))
        except Refusal as error:
            given_as = shown(value) if error.given is None else error.given
            wrong.append(Refusal(error.what, error.accepted, error.do, where, given_as))
    return tuple(found), wrong


def _line(
    path: str, value: object, circuits: object, strange: Callable[[str], Refusal | None]
) -> Distribution:
    if isinstance(value, dict):
        key = f"{path}.{next(iter(value), '...')}"
        raise Refusal("the key is not in quotes", SECTION_FORM, f'write it as "{key}"')
    if refused := strange(path) or _stray_circuit(path, circuits):
        raise refused
    return distribution(path, value)


def _stray_circuit(path: str, circuits: object) -> Refusal | None:
    section, _, rest = path.partition(".")
    if section != "circuits":
        return None
    name, known = rest.partition(".")[0], circuits if isinstance(circuits, dict) else {}
    if name in known:
        return None
    accepted = ", ".join(known) or "a case with circuits"
    return Refusal("the case has no such circuit", accepted, suggestion(name, tuple(known)))


def distribution(path: str, given: object) -> Distribution:
    """Read one distribution as a person writes it.

    Parameters
    ----------
    path : str
        A key that the case file knows [-].
    given : object
        Such as "uniform 0.03 mm", "normal 3 %", "any", or a list of names.

    Returns
    -------
    Distribution
        In SI; whether it goes with the case's own value is not looked at here.

    Raises
    ------
    Refusal
        If it is no distribution, or none of this key.
    """
    section, _, rest = path.partition(".")
    name = rest.rpartition(".")[2]
    if section == "models" and name in ROLES:
        return Distribution(path, "discrete", names=_names(given))
    if path == "title":
        raise Refusal("it holds no number", "a key that holds a number")
    model = Circuit if section == "circuits" else SECTIONS[section]
    field: Any = model.model_fields[name].metadata[0]
    entry = field.entry if isinstance(field, Along | AlongNumber) else field
    entry = entry.bounds if isinstance(entry, CoolantFlow | CountAlong) else entry
    if not isinstance(entry, Quantity | Number):
        do = f"correlations that may be spread: {', '.join('models.' + role for role in ROLES)}"
        raise Refusal("it holds no number, so it has no distribution", "", do)
    if isinstance(entry, Number) and entry.whole:
        raise Refusal("a whole number has no spread about itself", "", "vary it with regen sweep")
    return _law(path, given, entry, isinstance(field, CoolantFlow))


def _names(given: object) -> tuple[str, ...]:
    accepted = f'"{ANY}" (every correlation that applies), or a list of at least two names'
    names = given.split(",") if isinstance(given, str) else given
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise Refusal("it is neither a text nor a list of names", accepted)
    names = [name.strip() for name in names]
    if names == [ANY]:
        return ()
    if len(names) < 2 or "" in names:
        do = "to take one correlation, name it in [models]"
        raise Refusal("one name has no spread", accepted, do)
    twice = [name for name in names if names.count(name) > 1]
    if twice:
        raise Refusal(f'"{twice[0]}" is named twice', accepted, "all have equal weights")
    return tuple(names)


def accepted(path: str, entry: Quantity | Number, flow: bool = False) -> str:
    """Return what distribution a key may have, in words.

    Parameters
    ----------
    path : str
        The key [-].
    entry : Quantity or Number
        Check of one of its values.
    flow : bool
        True for a flow that may be a share of the fuel.

    Returns
    -------
    str
        Laws and examples.
    """
    unit = f" {KINDS[entry.kind].shown}" if isinstance(entry, Quantity) else ""
    absolute = f'"uniform 0.03{unit}" (half-width about the value of {path})'
    percent = "" if unit == " K" else '; per cent of its own value too, "normal 3 %"'
    share = "; of a flow as a share of the fuel also in shares, 0.02 fuel" if flow else ""
    laws = "uniform, triangular (half-width) or normal (standard deviation)"
    return f"{laws}, then the amount, such as {absolute}{percent}{share}"


def _law(path: str, given: object, entry: Quantity | Number, flow: bool) -> Distribution:
    fits = accepted(path, entry, flow)
    if not isinstance(given, str):
        raise Refusal("it is not a text", fits, "put law and amount in quotes")
    match = _FORM.fullmatch(given)
    if match is None:
        raise Refusal("it is no law with an amount", fits)
    law: Any = match[1]
    number, unit = float(match[2]), match[3]
    if law not in LAWS:
        raise Refusal(f'"{law}" is no law known here', fits, suggestion(law, LAWS))
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
    try:
        found = parse(f"{number!r} {unit}".rstrip(), entry.kind)
    except Refusal as error:
        error.accepted = fits
        raise
    if found.gauge:
        raise Refusal("a width is a difference, neither gauge nor absolute", fits, 'drop "gauge"')
    return found.value


def model_names(given: Iterable[Distribution], fluid: str) -> list[Refusal]:
    """Return what is wrong with the correlations that distributions name.

    Parameters
    ----------
    given : iterable of Distribution
        Sound in themselves.
    fluid : str
        The coolant [-].

    Returns
    -------
    list of Refusal
        Each with its key path in ``where``.
    """
    named = [one for one in given if one.names]
    if not named:
        return []
    # imports the compiler: only where a name needs it
    from regen.physics import _dispatch
    from regen.physics.registry import CORRELATIONS

    wrong = []
    for one in named:
        role = one.key.partition(".")[2]
        known = {name: CORRELATIONS[name] for name in getattr(_dispatch, role.upper())}
        fits = tuple(name for name, c in known.items() if c.fits(fluid))
        choice = ", ".join(f'"{name}"' for name in fits)
        where = f'{SECTION}."{one.key}"'
        for name in one.names:
            if name not in known:
                do = suggestion(name, fits)
                wrong.append(
                    Refusal("it is not a known correlation", choice, do, where, shown(name))
                )
            elif name not in fits:
                what = f"it was fitted to {known[name].made_for}, and coolant.fluid is {fluid}"
                wrong.append(Refusal(what, choice, "", where, shown(name)))
    return wrong
