"""What is known of an alloy and what is not, as text: for ``regen list`` and docs/alloys.md."""

from collections.abc import Iterator

import numpy as np

from regen.errors import MissingProperty, RangeError
from regen.metals.alloys import ANY, PROPERTIES, Alloy, AlloyCondition, Compared, Table

FATIGUE, CREEP = "low-cycle fatigue", "creep rupture"
NAMES = {
    "uts": "tensile strength",
    "youngs_modulus": "Young's modulus",
    "poisson_ratio": "Poisson ratio",
    "thermal_expansion_mean": "mean expansion",
    "thermal_expansion_instantaneous": "instantaneous expansion",
}
"""Properties whose key is not what a reader calls them."""


def plain(name: str) -> str:
    """Return the name of a property as a reader has it."""
    return NAMES.get(name, name.replace("_", " "))


def unit_of(name: str) -> tuple[str, float]:
    """Return the unit in which the rows of a property stand, and its factor to SI."""
    return next(iter(PROPERTIES[name].factors.items()))


def values(name: str, table: Table) -> str:
    """Return the first and the last value of a table, with the range its source gives."""
    unit, factor = unit_of(name)
    ends = dict.fromkeys((0, table.T.size - 1))
    text = " to ".join(f"{table.value[n] / factor:.4g}" for n in ends)
    ranged = np.flatnonzero(np.isfinite(table.low))
    if ranged.size:
        n = int(ranged[-1])
        low, high = table.low[n] / factor, table.high[n] / factor
        at = f" at {table.T[n]:.0f} K" if table.T.size > 1 else ""
        text += f" (range{at} {low:.4g} to {high:.4g})"
    return f"{text} {unit}" if unit != "-" else text


def points(alloy: Alloy, condition: str) -> Iterator[tuple[str, str, str, str]]:
    """Yield what is known of fatigue and creep: what, the points, sources, marks."""
    for test in alloy.fatigue.get(condition, ()):
        strain, cycles = test.strain_range * 100.0, test.cycles
        text = (
            f"{test.T:.0f} K: {cycles.size} points, {strain[0]:.3g} to {strain[-1]:.3g} % total "
            f"strain range, {cycles[0]:.0f} to {cycles[-1]:.0f} cycles"
        )
        yield FATIGUE, text, _unique(test.sources), _unique(test.marks)
    if condition in alloy.creep:
        creep = alloy.creep[condition]
        text = "; ".join(
            f"{stress * 1e-6:.4g} MPa for {time / 3600.0:.4g} h at {T:.0f} K"
            for T, stress, time in zip(creep.T, creep.stress, creep.time, strict=True)
        )
        yield CREEP, text, _unique(creep.sources), _unique(creep.marks)


def _unique(texts: tuple[str, ...]) -> str:
    return ", ".join(dict.fromkeys(texts))


def missing(alloy: Alloy, condition: str) -> list[str]:
    """Return the names of properties that are not known of a condition."""
    tables = alloy.tables
    names = [plain(p) for p in PROPERTIES if not {(condition, p), (ANY, p)} & set(tables)]
    points = ((FATIGUE, alloy.fatigue), (CREEP, alloy.creep))
    return names + [name for name, known in points if condition not in known]


def disagreement(alloy: Alloy, other: Compared) -> str:
    """Return a value that is only compared, beside the one that is used, and why it is not."""
    where = "" if other.condition == ANY else f", {other.condition}"
    unit = "" if other.unit == "-" else f" {other.unit}"
    return (
        f"{plain(other.property)}{where}, {other.T:.0f} K: {other.value:.5g}{unit}"
        f" ({other.source}, {other.mark}); {_used(alloy, other)}; {other.why}"
    )


def _used(alloy: Alloy, other: Compared) -> str:
    factor = PROPERTIES[other.property].factors[other.unit]
    try:
        value = AlloyCondition(alloy, other.condition).value(other.property, other.T).value
    except MissingProperty:
        return "none is used of all conditions"
    except RangeError:
        return "none is used there"
    return f"used {float(value) / factor:.4g}"
