"""What is known of an alloy and what is not, in words: for ``regen list`` and docs/alloys.md."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from regen.errors import MissingProperty, RangeError
from regen.metals.alloys import ANY, PROPERTIES, Alloy, AlloyCondition, Compared, Table
from regen.metals.selection import covered

FATIGUE, CREEP = "low-cycle fatigue", "creep rupture"
NAMES = {
    "uts": "tensile strength",
    "youngs_modulus": "Young's modulus",
    "poisson_ratio": "Poisson ratio",
    "thermal_expansion_mean": "mean expansion",
    "thermal_expansion_instantaneous": "instantaneous expansion",
}
"""Properties whose key is not what a reader calls them."""


def span(T: np.ndarray) -> str:
    """Return the range of temperatures in words.

    Parameters
    ----------
    T : ndarray
        Temperatures [K].

    Returns
    -------
    str
        "300 to 900 K", or "293 K" for one.
    """
    low, high = float(np.min(T)), float(np.max(T))
    return f"{low:.0f} K" if low == high else f"{low:.0f} to {high:.0f} K"


def plain(name: str) -> str:
    """Return the name of a property as a reader has it."""
    return NAMES.get(name, name.replace("_", " "))


def unit_of(name: str) -> tuple[str, float]:
    """Return the unit in which the rows of a property stand, and its factor to SI [-]."""
    return next(iter(PROPERTIES[name][1].items()))


def values(name: str, table: Table) -> str:
    """Return the values of a table in the unit of its rows, with the range its source gives.

    Parameters
    ----------
    name : str
        One of ``PROPERTIES`` [-].
    table : Table
        Its points.

    Returns
    -------
    str
        One value, or the first and the last.
    """
    unit, factor = unit_of(name)
    said = [f"{value / factor:.4g}" for value in (table.value[0], table.value[-1])]
    text = said[0] if table.T.size == 1 else f"{said[0]} to {said[1]}"
    ranged = np.flatnonzero(np.isfinite(table.low))
    if ranged.size:
        n = int(ranged[-1])
        low, high = table.low[n] / factor, table.high[n] / factor
        at = f" at {table.T[n]:.0f} K" if table.T.size > 1 else ""
        text += f" (range{at} {low:.4g} to {high:.4g})"
    return f"{text} {unit}" if unit != "-" else text


def heating(alloy: Alloy, condition: str) -> str:
    """Return which heating the strength of a condition stands, in words.

    Parameters
    ----------
    alloy : Alloy
        The metal.
    condition : str
        One of its conditions [-].

    Returns
    -------
    str
        Without its subject.
    """
    return covered(alloy, condition).removeprefix("this condition ")


def points(alloy: Alloy, condition: str) -> Iterator[tuple[str, str, str, str]]:
    """Yield what is known of fatigue and creep: what, in words, sources, marks.

    Parameters
    ----------
    alloy : Alloy
        The metal.
    condition : str
        One of its conditions [-].

    Yields
    ------
    tuple of str
        One entry a tested temperature, and one for creep rupture.
    """
    for test in alloy.fatigue.get(condition, ()):
        strain, cycles = test.strain_range * 100.0, test.cycles
        text = (
            f"{test.T:.0f} K: {cycles.size} points, {strain[0]:.3g} to {strain[-1]:.3g} % total "
            f"strain range, {cycles[0]:.0f} to {cycles[-1]:.0f} cycles"
        )
        yield FATIGUE, text, _names(test.sources), _names(test.marks)
    if condition in alloy.creep:
        creep = alloy.creep[condition]
        text = "; ".join(
            f"{stress * 1e-6:.4g} MPa for {time / 3600.0:.4g} h at {T:.0f} K"
            for T, stress, time in zip(creep.T, creep.stress, creep.time, strict=True)
        )
        yield CREEP, text, _names(creep.sources), _names(creep.marks)


def _names(texts: tuple[str, ...]) -> str:
    return ", ".join(dict.fromkeys(texts))


def missing(alloy: Alloy, condition: str) -> list[str]:
    """Return what is not known of a condition.

    Parameters
    ----------
    alloy : Alloy
        The metal.
    condition : str
        One of its conditions [-].

    Returns
    -------
    list of str
        Names of properties as a reader has them.
    """
    known = alloy.tables
    found = [plain(p) for p in PROPERTIES if not {(condition, p), (ANY, p)} & set(known)]
    found += [] if condition in alloy.fatigue else [FATIGUE]
    return found + ([] if condition in alloy.creep else [CREEP])


def disagreement(alloy: Alloy, other: Compared) -> str:
    """Return a value that is only compared, beside the one that is used, in words.

    Parameters
    ----------
    alloy : Alloy
        The metal.
    other : Compared
        One of its values.

    Returns
    -------
    str
        Property, temperature, both values, source, mark and why it is not used.
    """
    where = "" if other.condition == ANY else f", {other.condition}"
    unit = "" if other.unit == "-" else f" {other.unit}"
    return (
        f"{plain(other.property)}{where}, {other.T:.0f} K: {other.value:.5g}{unit}"
        f" ({other.source}, {other.mark}); {_used(alloy, other)}; {other.why}"
    )


def _used(alloy: Alloy, other: Compared) -> str:
    factor = PROPERTIES[other.property][1][other.unit]
    try:
        value = AlloyCondition(alloy, other.condition).value(other.property, other.T).value
    except MissingProperty:
        return "none is used of all conditions"
    except RangeError:
        return "none is used there"
    return f"used {float(value) / factor:.4g}"
