"""A coolant of the user's own in a case: property table and saturation, read and checked."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise, product
from math import inf
from typing import Any, NamedTuple, get_args

from regen import design
from regen.case.kinds import TEXT_FORM, Choice, Reading, Text, note
from regen.case.table import Columns, Line, few, read_columns
from regen.sources import read_data
from regen.units import Refusal, accepting, refusal


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

_FLUIDS = read_data("fluids.toml")
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
            raise refusal("table built in", fluid=lower)
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
            raise Refusal(f"{name} has {rows} rows of values", f"at least {LEAST_SATURATION}")
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
            yield refusal("column missing", header=read.lines.header, name=name, wanted=wanted)


def _header(read: Columns) -> Iterator[Refusal]:
    yield from _missing(read, NEEDED, HEADER)
    both = read.values.keys() & {"heat_capacity", "enthalpy"}
    if len(both) != 1:
        columns = "both heat_capacity and enthalpy" if both else "neither of the two"
        yield refusal("columns of heat", header=read.lines.header, columns=columns)


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
        of = {**PROPERTIES, **SATURATION}[name]
        if not of.low <= value <= of.high:
            yield refusal("impossible", row=row, name=name, value=value, of=of)


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
            yield refusal("p falls", row=row)
        elif p[n] == p[n - 1] and T[n] <= T[n - 1]:
            yield Refusal(f"{row}: T does not rise at this pressure", "T rising at each pressure")
        else:
            continue
        in_order = False
    if not in_order:
        return
    pressures, rows = dict.fromkeys(p), set(zip(p, T, strict=True))
    for pressure, temperature in product(pressures, sorted(set(T))):
        if (pressure, temperature) not in rows:
            yield refusal("gap in the grid", file=file, T=temperature, bar=pressure / 1e5)
    if len(pressures) < LEAST_PRESSURES:
        yield Refusal(f"{file} has one pressure", f"at least {LEAST_PRESSURES}, or no column p")


def _shape(read: Columns) -> Iterator[Refusal]:
    """Yield what physics forbids, and steps too large to interpolate."""
    columns, rows = read.values, read.lines.rows
    T, density, enthalpy = columns["T"], columns["density"], columns.get("enthalpy")
    width, capacity = len(set(T)), PROPERTIES["heat_capacity"]
    for n in (n for n in range(len(rows)) if n % width):  # a row of the same pressure before it
        if enthalpy and enthalpy[n] <= enthalpy[n - 1]:
            yield refusal("enthalpy falls", row=rows[n])
        if density[n] > density[n - 1] * (1.0 + EXPANDS):
            yield refusal("density rises", row=rows[n])
        if enthalpy:
            slope = (enthalpy[n] - enthalpy[n - 1]) / (T[n] - T[n - 1])
            if slope > 0.0 and not capacity.low <= slope <= capacity.high:
                yield refusal("impossible slope", row=rows[n], slope=slope, of=capacity)
        for name in ("density", "heat_capacity", "viscosity", "conductivity", "sound_speed"):
            if name in columns:
                before, after = columns[name][n - 1 : n + 1]
                if max(before / after, after / before) > STEEPEST:
                    yield refusal("too steep", row=rows[n], name=name, factor=STEEPEST)
    for n in range(width, len(rows)):
        if density[n] < density[n - width]:
            yield refusal("density falls", row=rows[n])


def check_own_coolant(coolant: Any, notes: list[str]) -> list[Refusal]:
    """Return what is wrong between the tables of a user's own coolant."""
    table, line = coolant.table, coolant.saturation
    extras = [k for k in ("saturation", "critical_pressure", "molar_mass") if getattr(coolant, k)]
    if table is None:
        return [refusal("without a table", f"coolant.{key}") for key in extras]
    wrong: list[Refusal] = []
    if line is not None:
        wrong += _boiling(coolant, table, line)
    elif coolant.molar_mass is not None:
        wrong.append(refusal("without saturation", "coolant.molar_mass"))
    if not wrong:
        notes += list(_table_notes(coolant, table, line))
    return wrong


def _boiling(coolant: Any, table: Any, line: Any) -> Iterator[Refusal]:
    """Yield what is wrong between the property table and the saturation of a coolant."""
    for key, example in (("critical_pressure", "22 bar"), ("molar_mass", "170 g/mol")):
        if getattr(coolant, key) is None:
            yield refusal("of boiling missing", f"coolant.{key}", example=example)
    where, files = "coolant.saturation", {"file": line.file, "table": table.file}
    if table.p:
        yield refusal("saturation beside pressures", where, **files)
    critical = coolant.critical_pressure
    if critical is not None and line.p[-1] >= critical:
        top = line.p[-1] / 1e5
        yield refusal("saturation above critical", where, **files, top=top, bar=critical / 1e5)
    if line.vapour_density[-1] >= min(table.density):
        yield refusal("heavy vapour", where, **files)
    if line.T[0] <= table.T[0] or line.T[-1] > table.T[-1]:
        ends = {"low": line.T[0], "high": line.T[-1], "lowest": table.T[0], "highest": table.T[-1]}
        yield refusal("saturation beyond the liquid", where, **files, **ends)


def _table_notes(coolant: Any, table: Any, line: Any) -> Iterator[str]:
    file, fluid = table.file, coolant.fluid
    kind = "table" if table.p else "table at any pressure"
    yield note(kind, file=file, fluid=fluid, low=table.T[0], high=table.T[-1])
    if not (table.sound_speed or table.p):
        yield note("no sound speed", file=file, fluid=fluid)
    if line is None and coolant.critical_pressure:
        critical = coolant.critical_pressure / 1e5
        yield note("no saturation below the critical pressure", fluid=fluid, critical=critical)
    elif line is None:
        yield note("no saturation", fluid=fluid)
