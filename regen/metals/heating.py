"""Planned heating of a metal, "braze at 935 degC for 10 min", and what its condition covers."""

from __future__ import annotations

import re

from regen.design import Heating

WORDS = ("braze", "HIP", "bake", "age", "anneal", "stress relief")
"""What a heating may be called."""

ACCEPTED = (
    'texts such as "braze at 935 degC" or "HIP at 950 degC for 3 h"; the heating is one of '
    + ", ".join(WORDS)
    + "; temperatures in degC, K or degF, 300 to 2000 K; times in min, h or s, up to 1000 h"
)

_NUMBER = r"(\d+(?:\.\d*)?|\.\d+)"
_FORM = re.compile(
    rf"(?P<word>[A-Za-z][A-Za-z ]*?)\s+at\s+{_NUMBER}\s*(?P<degrees>[^\W\d]\S*?)"
    rf"(?:\s+for\s+{_NUMBER}\s*(?P<unit>[^\W\d]\S*))?"
)
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}
_LOWEST, _HIGHEST, _LONGEST = 300.0, 2000.0, 3.6e6

SAME = 1.0
"""Two heatings whose temperatures differ by no more than this are the same [K]."""


class HeatingError(ValueError):
    """A text that names no heating."""


def _kelvin(number: float, degrees: str) -> float:
    if degrees == "K":
        return number
    if degrees == "degC":
        return number + 273.15
    if degrees == "degF":
        return (number + 459.67) / 1.8
    message = f'"{degrees[:20]}" is no unit of temperature known here'
    raise HeatingError(message)


def read(text: str) -> Heating:
    """Return a heating from its text.

    Parameters
    ----------
    text : str
        "<word> at <temperature>", with " for <time>" if it is known [-].

    Returns
    -------
    Heating
        Temperature [K] and time [s].

    Raises
    ------
    HeatingError
        If it is not of that form, names another heating, or makes no sense; says what is wrong.
    """
    match = _FORM.fullmatch(text.strip().replace("\N{DEGREE SIGN}", "deg"))
    if match is None:
        message = 'it is not of the form "<heating> at <temperature>" or "... for <time>"'
        raise HeatingError(message)
    word = " ".join(match["word"].split())
    known = {name.lower(): name for name in WORDS}
    if word.lower() not in known:
        message = f'"{word[:30]}" is no heating known here'
        raise HeatingError(message)
    T = _kelvin(float(match[2]), match["degrees"])
    if not _LOWEST <= T <= _HIGHEST:
        message = f"{T:.0f} K makes no sense as the temperature of a heating"
        raise HeatingError(message)
    return Heating(known[word.lower()], T, _seconds(match[4], match["unit"]))


def _seconds(number: str | None, unit: str | None) -> float | None:
    if number is None or unit is None:
        return None
    if unit not in _SECONDS:
        message = f'"{unit[:20]}" is no unit of time known here'
        raise HeatingError(message)
    time = float(number) * _SECONDS[unit]
    if not 0.0 < time <= _LONGEST:
        message = f"{number} {unit} makes no sense as the time of a heating"
        raise HeatingError(message)
    return time


def same(one: Heating, other: Heating) -> bool:
    """Return whether two heatings leave a metal in the same state: temperature and time decide.

    Parameters
    ----------
    one, other : Heating
        Planned and recorded.

    Returns
    -------
    bool
        True within 1 K; of different or half-given times never.
    """
    if abs(one.temperature - other.temperature) > SAME:
        return False
    if one.time is None or other.time is None:
        return one.time is other.time
    return abs(one.time - other.time) <= 0.01 * other.time
