"""Planned heating of a metal, "braze at 935 degC for 10 min", read from its text."""

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
_KELVIN = {"K": (0.0, 1.0), "degC": (273.15, 1.0), "degF": (459.67, 1.8)}
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}
_LOWEST, _HIGHEST, _LONGEST = 300.0, 2000.0, 3.6e6

SAME = 1.0
"""Two heatings whose temperatures differ by no more than this are the same [K]."""


class HeatingError(ValueError):
    """A text that names no heating."""


def read(text: str) -> Heating:
    """Return a heating from "<word> at <temperature>", with " for <time>" if it is known.

    Raises ``HeatingError`` that says what is wrong.
    """
    match = _FORM.fullmatch(text.strip().replace("\N{DEGREE SIGN}", "deg"))
    if match is None:
        raise HeatingError('it is not of the form "<heating> at <temperature>" or "... for <time>"')
    word = " ".join(match["word"].split())
    known = {name.lower(): name for name in WORDS}
    if word.lower() not in known:
        raise HeatingError(f'unknown heating "{word[:30]}"')
    if match["degrees"] not in _KELVIN:
        raise HeatingError(f'unknown unit of temperature "{match["degrees"][:20]}"')
    offset, factor = _KELVIN[match["degrees"]]
    T = (float(match[2]) + offset) / factor
    if not _LOWEST <= T <= _HIGHEST:
        raise HeatingError(f"{T:.0f} K is not a plausible temperature of a heating")
    time = None
    if match["unit"]:
        if match["unit"] not in _SECONDS:
            raise HeatingError(f'unknown unit of time "{match["unit"][:20]}"')
        time = float(match[4]) * _SECONDS[match["unit"]]
        if not 0.0 < time <= _LONGEST:
            raise HeatingError(f"{match[4]} {match['unit']} is not a plausible time of a heating")
    return Heating(known[word.lower()], T, time)


def same(one: Heating, other: Heating) -> bool:
    """Return whether two heatings leave a metal in the same state: temperature and time decide.

    Temperatures within 1 K, times within 1 %; a time that one leaves out matches only another
    left out.
    """
    if abs(one.temperature - other.temperature) > SAME:
        return False
    if one.time is None or other.time is None:
        return one.time is other.time
    return abs(one.time - other.time) <= 0.01 * other.time
