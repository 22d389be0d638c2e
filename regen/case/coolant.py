"""A coolant of the user's own in a case: property table and saturation, read and checked."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from itertools import pairwise, product
from math import inf
from typing import Any, NamedTuple, get_args

from regen import design
from regen.case.kinds import TEXT_FORM, Choice, Reading, Text, missing
from regen.case.table import Columns, Line, few, read_columns
from regen.sources import DATA
from regen.units import Refusal, accepting


class Column(NamedTuple):
    """A column: its kind, and what a fluid that can flow through slots may have [SI].

    Beyond that the unit is a slip.
    """

    kind: str
    low: float = -inf
    high: float = inf
    unit: str = ""


PROPERTIES = {
    "T": Column("temperature", 2.0, 3000.0, "K"),
    "p": Column("pressure"),
    "density": Column("density", 1.0, 25000.0, "kg/m3"),
    "heat_capacity": Column("heat capacity", 100.0, 5e5, "J/(kg K)"),
    "enthalpy": Column("enthalpy"),
    "viscosity": Column("viscosity", 1e-6, 0.5, "Pa s"),
    "conductivity": Column("conductivity", 1e-3, 200.0, "W/(m K)"),
    "sound_speed": Column("speed", 20.0, 10000.0, "m/s"),
}
NEEDED = ("T", "density", "viscosity", "conductivity")
HEADER = (
    'a header such as "T [K], density [kg/m3], heat_capacity [J/(kg K)], viscosity [mPa s], '
    'conductivity [W/(m K)]"'
)
SATURATION = {
    "p": PROPERTIES["p"],
    "T": PROPERTIES["T"],
    "latent_heat": Column("enthalpy", 100.0, 5e6, "J/kg"),
    "vapour_density": Column("density", 1e-3, 2000.0, "kg/m3"),
    "surface_tension": Column("surface tension", 1e-9, 2.0, "N/m"),
}
SATURATION_HEADER = (
    'a header such as "p [bar], T [K], latent_heat [kJ/kg], vapour_density [kg/m3], '
    'surface_tension [N/m]"'
)
FALLING = ("latent_heat", "surface_tension")
"""Columns of saturation that fall as the pressure rises."""
LEAST_TEMPERATURES, LEAST_PRESSURES = 5, 2
LEAST_SATURATION = 4

STEEPEST = 2.0
"""Greatest ratio of a property between neighbouring rows: more is a gap, not a table."""

EXPANDS = 1e-3
"""Rise of density from row to row with temperature [-] that may be noise, or water below 4 degC."""

OWN_NAME = Text("a name of your own for the coolant")
NOT_OF_TABLE = ("hydrogen", "methane", "oxygen", "propane")
"""Built-in coolants whose correlations need the critical point, which a table has not."""

_FLUIDS = tomllib.loads((DATA / "fluids.toml").read_text(encoding="utf-8"))
UNSAFE: Mapping[str, str] = _FLUIDS["unsafe"]
"""Fluids that no property table makes a coolant, and why."""
REFUSED_COOLANTS: Mapping[str, str] = {**UNSAFE, **_FLUIDS["refused_coolants"]}
REFUSED_FILMS: Mapping[str, str] = _FLUIDS["refused_films"]
CAUTIONS: Mapping[str, str] = _FLUIDS["cautions"]
"""What the user of a coolant must know, by fluid."""


class CoolantName:
    """One of the built-in coolants; any name where the case brings a property table."""

    known = Choice(get_args(design.CoolantFluid), REFUSED_COOLANTS)
    accepted = f"{known.accepted}; any name with coolant.table, a property table of your own"
    form: Mapping[str, Any] = {"anyOf": [known.form, OWN_NAME.form]}

    def check(self, given: object, reading: Reading) -> str:
        """Return the name."""
        if not reading.own_coolant:
            with accepting(self.accepted):
                return self.known.check(given, reading)
        name = OWN_NAME.check(given, reading)
        lower = name.lower()
        if lower in NOT_OF_TABLE:
            what = f"{lower} has its property table built in, and its correlations need all of it"
            raise Refusal(what, "another name", "leave coolant.table out")
        if lower in UNSAFE:
            raise Refusal(UNSAFE[lower], "another fluid")
        return name


class CoolantTableFile:
    """A table of properties over temperature, or over pressure and temperature."""

    accepted = (
        'the name of a text table such as "coolant.csv" with units in its header: T, density, '
        "heat_capacity or enthalpy, viscosity, conductivity, if it varies p, and sound_speed"
    )
    form = TEXT_FORM

    def check(self, given: object, reading: Reading) -> design.CoolantData:
        """Return the table in SI."""
        name, read = _read(given, self.accepted, reading, PROPERTIES, HEADER)
        for check in (_header, _positive, _possible, _grid, _shape):
            few(check(read), name).refuse()
        T, p = (tuple(dict.fromkeys(read.values.pop(one, ()))) for one in ("T", "p"))
        return design.CoolantData(file=name, T=T, p=p, **read.values)


class SaturationFile:
    """A table of saturation at rising pressures."""

    accepted = (
        'the name of a text table such as "saturation.csv" with units in its header: '
        + ", ".join(SATURATION)
    )
    form = TEXT_FORM

    def check(self, given: object, reading: Reading) -> design.CoolantSaturation:
        """Return the table in SI."""
        name, read = _read(given, self.accepted, reading, SATURATION, SATURATION_HEADER)
        few(_missing(read, tuple(SATURATION), SATURATION_HEADER), name).refuse()
        for check in (_positive, _possible):
            few(check(read), name).refuse()
        if (rows := len(read.lines.rows)) < LEAST_SATURATION:
            what = f"{name} has {rows} rows of values"
            raise Refusal(what, f"at least {LEAST_SATURATION}")
        few((one for key in SATURATION for one in _monotonic(read, key)), name).refuse()
        return design.CoolantSaturation(file=name, **read.values)


def _read(
    given: object, accepted: str, reading: Reading, columns: Mapping[str, Column], header: str
) -> tuple[str, Columns]:
    kinds = {name: column.kind for name, column in columns.items()}
    read = read_columns(reading.path(given, accepted), kinds, header)
    reading.take(str(given), read.lines)
    return str(given), read


def _missing(read: Columns, needed: tuple[str, ...], wanted: str) -> Iterator[Refusal]:
    for name in needed:
        if name not in read.values:
            what = f'{read.lines.header}: no column "{name}"'
            yield Refusal(what, wanted, "add it: none is guessed")


def _header(read: Columns) -> Iterator[Refusal]:
    yield from _missing(read, NEEDED, HEADER)
    both = read.values.keys() & {"heat_capacity", "enthalpy"}
    if len(both) != 1:
        columns = "both heat_capacity and enthalpy" if both else "neither of the two"
        what = f"{read.lines.header} has {columns}"
        yield Refusal(what, "one column of heat_capacity or enthalpy")


def _cells(read: Columns) -> Iterator[tuple[str, float, Line]]:
    for name, column in read.values.items():
        for value, row in zip(column, read.lines.rows, strict=True):
            yield name, value, row


def _positive(read: Columns) -> Iterator[Refusal]:
    for name, value, row in _cells(read):
        if value <= 0.0 and name != "enthalpy":
            yield Refusal(f"{row}: {name} is not above zero", "values above zero")


def _possible(read: Columns) -> Iterator[Refusal]:
    """Yield values that no coolant has: a unit that is not that of the numbers."""
    for name, value, row in _cells(read):
        _, low, high, unit = {**PROPERTIES, **SATURATION}[name]
        if not low <= value <= high:
            what = f"{row}: {name} of {value:.5g} {unit} is impossible"
            yield Refusal(what, f"{low:g} to {high:g} {unit}", "check the unit in the header")


def _monotonic(read: Columns, column: str) -> Iterator[Refusal]:
    verb, sign = ("fall", -1) if column in FALLING else ("rise", 1)
    for (before, after), row in zip(
        pairwise(read.values[column]), read.lines.rows[1:], strict=True
    ):
        if sign * (after - before) <= 0.0:
            yield Refusal(f"{row}: {column} does not {verb}", f"{column} that {verb}s row by row")


def _grid(read: Columns) -> Iterator[Refusal]:
    """Refuse temperatures that do not rise, or differ from pressure to pressure."""
    wrong = list(_two_way(read) if "p" in read.values else _monotonic(read, "T"))
    yield from wrong
    count = len(set(read.values["T"]))
    if not wrong and count < LEAST_TEMPERATURES:
        what = f"{read.lines.header.file} has {count} temperature{'s' if count > 1 else ''}"
        yield Refusal(what, f"at least {LEAST_TEMPERATURES}")


def _two_way(read: Columns) -> Iterator[Refusal]:
    """Refuse a grid of pressures and temperatures that is not in order, or not whole."""
    T, p, file = read.values["T"], read.values["p"], read.lines.header.file
    in_order = True
    for n, row in enumerate(read.lines.rows[1:], start=1):
        if p[n] < p[n - 1]:
            do = "sort the rows by pressure, then by temperature"
            yield Refusal(f"{row}: p falls", "p rising", do)
        elif p[n] == p[n - 1] and T[n] <= T[n - 1]:
            what = f"{row}: T does not rise at this pressure"
            yield Refusal(what, "T rising at each pressure")
        else:
            continue
        in_order = False
    if not in_order:
        return
    pressures, rows = dict.fromkeys(p), set(zip(p, T, strict=True))
    for pressure, temperature in product(pressures, sorted(set(T))):
        if (pressure, temperature) not in rows:
            what = f"{file} has no row at {temperature:.6g} K and {pressure / 1e5:.6g} bar"
            do = "give every temperature at every pressure, or one table without p"
            yield Refusal(what, "a whole grid", do)
    if len(pressures) < LEAST_PRESSURES:
        yield Refusal(f"{file} has one pressure", f"at least {LEAST_PRESSURES}, or no column p")


def _shape(read: Columns) -> Iterator[Refusal]:
    """Yield what physics forbids, and steps too large to interpolate."""
    columns, rows = read.values, read.lines.rows
    T, density, enthalpy = columns["T"], columns["density"], columns.get("enthalpy")
    width = len(set(T))
    for n in (n for n in range(len(rows)) if n % width):  # a row of the same pressure before it
        if enthalpy and enthalpy[n] <= enthalpy[n - 1]:
            what = f"{rows[n]}: enthalpy does not rise with temperature"
            yield Refusal(what, "enthalpy that rises row by row")
        if density[n] > density[n - 1] * (1.0 + EXPANDS):
            what = f"{rows[n]}: density rises with temperature"
            yield Refusal(what, "density that falls, or stays, from row to row")
        if enthalpy:
            slope = (enthalpy[n] - enthalpy[n - 1]) / (T[n] - T[n - 1])
            _, low, high, unit = PROPERTIES["heat_capacity"]
            if slope > 0.0 and not low <= slope <= high:
                what = f"{rows[n]}: enthalpy rises by {slope:.5g} {unit}, which is impossible"
                yield Refusal(what, f"{low:g} to {high:g} {unit}", "check the unit in the header")
        for name in ("density", "heat_capacity", "viscosity", "conductivity", "sound_speed"):
            if name in columns:
                before, after = columns[name][n - 1 : n + 1]
                if max(before / after, after / before) > STEEPEST:
                    what = f"{rows[n]}: {name} changes by more than a factor of {STEEPEST:g} from"
                    do = "add rows between: none are guessed"
                    yield Refusal(f"{what} the row before", "smaller steps", do)
    for n in range(width, len(rows)):
        if density[n] < density[n - width]:
            what = f"{rows[n]}: density falls with pressure at this temperature"
            yield Refusal(what, "density that rises, or stays, as the pressure rises")


def check_own_coolant(coolant: Any, notes: list[str]) -> list[Refusal]:
    """Return what is wrong between the tables of a user's own coolant."""
    table, line = coolant.table, coolant.saturation
    extras = [k for k in ("saturation", "critical_pressure", "molar_mass") if getattr(coolant, k)]
    if table is None:
        what = "it belongs to a property table of your own, and coolant.table is not given"
        return [Refusal(what, "", "remove it, or add the table", f"coolant.{k}") for k in extras]
    wrong: list[Refusal] = []
    if line is not None:
        wrong += _boiling(coolant, table, line)
    elif coolant.molar_mass is not None:
        what = "it serves boiling alone, and coolant.saturation is not given"
        wrong.append(Refusal(what, "", "remove it, or add the saturation", "coolant.molar_mass"))
    if not wrong:
        notes += list(_table_notes(coolant, table, line))
    return wrong


def _boiling(coolant: Any, table: Any, line: Any) -> Iterator[Refusal]:
    """Yield what is wrong between the property table and the saturation of a coolant."""
    for key, example in (("critical_pressure", "22 bar"), ("molar_mass", "170 g/mol")):
        if getattr(coolant, key) is None:
            accepted = f'a value with its unit such as "{example}"'
            yield missing(f"coolant.{key}", "boiling is judged with it", accepted)
    where, file = "coolant.saturation", line.file
    if table.p:
        what = f"{table.file} varies with pressure, but saturation needs a table that does not"
        do = "leave the column p out, with the liquid's properties near saturation"
        yield Refusal(what, "a table without p", do, where)
    critical = coolant.critical_pressure
    if critical is not None and line.p[-1] >= critical:
        what = f"{file} reaches {line.p[-1] / 1e5:.5g} bar"
        accepted = f"rows below coolant.critical_pressure, {critical / 1e5:.5g} bar"
        yield Refusal(what, accepted, "end it below", where)
    if line.vapour_density[-1] >= min(table.density):
        what = f"{file} has vapour as dense as the liquid of {table.file}"
        yield Refusal(what, "a vapour lighter than the liquid", "check both", where)
    if line.T[0] <= table.T[0] or line.T[-1] > table.T[-1]:
        what = (
            f"{file} has saturation at {line.T[0]:.5g} to {line.T[-1]:.5g} K, and {table.file} the "
            f"liquid at {table.T[0]:.5g} to {table.T[-1]:.5g} K"
        )
        yield Refusal(what, "a liquid table that holds all of it", "extend it", where)


def _table_notes(coolant: Any, table: Any, line: Any) -> Iterator[str]:
    given = f"coolant.table: {table.file} has {coolant.fluid} from {table.T[0]:.5g} to"
    given = f"{given} {table.T[-1]:.5g} K; nothing is taken beyond"
    yield given if table.p else f"{given}, and its properties are taken as independent of pressure"
    if not (table.sound_speed or table.p):
        yield (
            f"{table.file} has no sound_speed: {coolant.fluid} is taken as incompressible, its "
            "Mach number as 0"
        )
    if line is None:
        below = coolant.critical_pressure
        where = f" below coolant.critical_pressure, {below / 1e5:.5g} bar" if below else ""
        do = "" if below else ", or coolant.critical_pressure if it stays above it"
        yield (
            f"no saturation of {coolant.fluid} is given: boiling and burnout are not judged"
            f"{where}; give coolant.saturation{do}"
        )
