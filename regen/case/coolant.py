"""A coolant of the user's own in a case: property table and saturation, read and checked."""

# ruff: noqa: EM101, EM102 - a refusal is read in a list of problems, never in a traceback

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise
from typing import Any, get_args

from regen import design
from regen.case.kinds import TEXT_FORM, Choice, Reading, Text, shown
from regen.case.table import Columns, few, read_columns
from regen.units import Refusal, Refusals

KINDS = {
    "T": "temperature",
    "p": "pressure",
    "density": "density",
    "heat_capacity": "heat capacity",
    "enthalpy": "enthalpy",
    "viscosity": "viscosity",
    "conductivity": "conductivity",
    "sound_speed": "speed",
}
NEEDED = ("T", "density", "viscosity", "conductivity")
HEADER = (
    'a header such as "T [K], density [kg/m3], heat_capacity [J/(kg K)], viscosity [mPa s], '
    'conductivity [W/(m K)]"'
)
SATURATION_KINDS = {
    "p": "pressure",
    "T": "temperature",
    "latent_heat": "enthalpy",
    "vapour_density": "density",
    "surface_tension": "surface tension",
}
SATURATION_HEADER = (
    'a header such as "p [bar], T [K], latent_heat [kJ/kg], vapour_density [kg/m3], '
    'surface_tension [N/m]"'
)
LEAST_TEMPERATURES, LEAST_PRESSURES = 5, 2
LEAST_SATURATION = 4

STEEPEST = 2.0
"""Greatest ratio of a property between neighbouring rows: more is a gap, not a table."""

BOUNDS = {
    "T": (2.0, 3000.0, "K"),
    "density": (1.0, 25000.0, "kg/m3"),
    "heat_capacity": (100.0, 5e5, "J/(kg K)"),
    "viscosity": (1e-6, 0.5, "Pa s"),
    "conductivity": (1e-3, 200.0, "W/(m K)"),
    "sound_speed": (20.0, 10000.0, "m/s"),
    "latent_heat": (100.0, 5e6, "J/kg"),
    "vapour_density": (1e-3, 2000.0, "kg/m3"),
    "surface_tension": (1e-9, 2.0, "N/m"),
}
"""What a fluid that can flow through slots may have [SI]: beyond it the unit is a slip."""

EXPANDS = 1e-3
"""Rise of density from row to row with temperature [-] that may be noise, or water below 4 degC."""

OWN_NAME = Text("a name of your own for the coolant")
NOT_OF_TABLE = ("hydrogen", "methane", "oxygen", "propane")
"""Built-in coolants whose correlations need the critical point, which a table has not."""

HOT_COPPER = (
    "it decomposes in hot copper passages and can explode there, so no channel is solved with it"
)
UNSAFE = {
    "hydrogen-peroxide": HOT_COPPER,
    "nitrous-oxide": HOT_COPPER,
    "ammonia": "ammonia attacks copper and copper alloys, and has no property table here",
}
"""Fluids that no property table makes a coolant."""
REFUSED_COOLANTS = {
    **UNSAFE,
    "RP-1": (
        "no property data of RP-1 are built in; n-dodecane is the stand-in, and its thermal "
        "conductivity is about 20 % above that of RP-1, so that film coefficients come out about "
        "13 % too high"
    ),
    "isopropanol": "its properties are not built in; bring them, coolant.table",
}


class CoolantName:
    """One of the built-in coolants; any name where the case brings a property table."""

    known = Choice(get_args(design.CoolantFluid), REFUSED_COOLANTS)
    accepted = f"{known.accepted}; any name with coolant.table, a property table of your own"
    form: Mapping[str, Any] = {"anyOf": [known.form, OWN_NAME.form]}

    def check(self, given: object, reading: Reading) -> str:
        """Return the name."""
        if not reading.own_coolant:
            try:
                return self.known.check(given, reading)
            except Refusal as refusal:
                refusal.accepted = self.accepted
                raise
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
        name, read = _read(given, self.accepted, reading, KINDS, HEADER)
        columns = read.values
        wrong = _missing(read, NEEDED, HEADER)
        both = [one for one in ("heat_capacity", "enthalpy") if one in columns]
        if len(both) != 1:
            given_ones = "both heat_capacity and enthalpy" if both else "neither of the two"
            what = f"{read.lines.header} has {given_ones}"
            wrong.append(Refusal(what, "one column of heat_capacity or enthalpy"))
        _refuse(wrong, name)
        _refuse(_positive(read, tuple(k for k in columns if k != "enthalpy")), name)
        for check in (_possible, _grid, _shape):
            _refuse(check(read), name)
        T, p = dict.fromkeys(columns["T"]), dict.fromkeys(columns.get("p", ()))
        rest = {k: v for k, v in columns.items() if k not in ("T", "p")}
        return design.CoolantData(file=name, T=tuple(T), p=tuple(p), **rest)


class SaturationFile:
    """A table of saturation at rising pressures."""

    accepted = (
        'the name of a text table such as "saturation.csv" with units in its header: '
        + ", ".join(SATURATION_KINDS)
    )
    form = TEXT_FORM

    def check(self, given: object, reading: Reading) -> design.CoolantSaturation:
        """Return the table in SI."""
        kinds, header = SATURATION_KINDS, SATURATION_HEADER
        name, read = _read(given, self.accepted, reading, kinds, header)
        _refuse(_missing(read, tuple(kinds), header), name)
        _refuse(_positive(read, tuple(kinds)), name)
        _refuse(_possible(read), name)
        if (rows := len(read.lines.rows)) < LEAST_SATURATION:
            what = f"{name} has {rows} rows of values"
            raise Refusal(what, f"at least {LEAST_SATURATION}")
        signs = {"p": 1, "T": 1, "latent_heat": -1, "vapour_density": 1, "surface_tension": -1}
        _refuse([one for k, sign in signs.items() for one in _monotonic(read, k, sign)], name)
        return design.CoolantSaturation(file=name, **read.values)


def _refuse(wrong: Iterable[Refusal], file: str) -> None:
    if wrong := list(wrong):
        raise Refusals(few(wrong, file))


def _read(
    given: object, accepted: str, reading: Reading, kinds: Mapping[str, str], header: str
) -> tuple[str, Columns]:
    if not isinstance(given, str) or not given.strip() or not given.isprintable():
        raise Refusal("not the name of a file", accepted, "put the name in quotes")
    read = read_columns(reading.folder / given, kinds, header)
    reading.files[given] = read.lines.data
    reading.notes += read.lines.notes
    return given, read


def _missing(read: Columns, needed: tuple[str, ...], wanted: str) -> list[Refusal]:
    return [
        Refusal(f'{read.lines.header}: no column "{name}"', wanted, "add it: none is guessed")
        for name in needed
        if name not in read.values
    ]


def _positive(read: Columns, names: tuple[str, ...]) -> list[Refusal]:
    return [
        Refusal(f"{row}: {name} is not above zero", "values above zero")
        for name in names
        for value, row in zip(read.values[name], read.lines.rows, strict=True)
        if value <= 0.0
    ]


def _possible(read: Columns) -> Iterator[Refusal]:
    """Yield values that no coolant has: a unit that is not that of the numbers."""
    for name in (one for one in read.values if one in BOUNDS):
        low, high, unit = BOUNDS[name]
        for value, row in zip(read.values[name], read.lines.rows, strict=True):
            if not low <= value <= high:
                what = f"{row}: {name} of {value:.5g} {unit} is impossible"
                yield Refusal(what, f"{low:g} to {high:g} {unit}", "check the unit in the header")


def _monotonic(read: Columns, column: str, sign: int) -> list[Refusal]:
    verb = "rise" if sign > 0 else "fall"
    pairs = zip(pairwise(read.values[column]), read.lines.rows[1:], strict=True)
    return [
        Refusal(f"{row}: {column} does not {verb}", f"{column} that {verb}s row by row")
        for (before, after), row in pairs
        if sign * (after - before) <= 0.0
    ]


def _grid(read: Columns) -> list[Refusal]:
    """Refuse temperatures that do not rise, or differ from pressure to pressure."""
    T, p = read.values["T"], read.values.get("p")
    if p is None:
        wrong = _monotonic(read, "T", 1)
        count = len(T)
    else:
        wrong, count = _two_way(read, T, p)
    if not wrong and count < LEAST_TEMPERATURES:
        what = f"{read.lines.header.file} has {count} temperature{'s' if count > 1 else ''}"
        wrong.append(Refusal(what, f"at least {LEAST_TEMPERATURES}"))
    return wrong


def _two_way(
    read: Columns, T: tuple[float, ...], p: tuple[float, ...]
) -> tuple[list[Refusal], int]:
    """Refuse a grid of pressures and temperatures that is not whole or not in order."""
    file = read.lines.header.file
    wrong = []
    for n, row in enumerate(read.lines.rows[1:], start=1):
        if p[n] < p[n - 1]:
            do = "sort the rows by pressure, then by temperature"
            wrong.append(Refusal(f"{row}: p falls", "p rising", do))
        elif p[n] == p[n - 1] and T[n] <= T[n - 1]:
            what = f"{row}: T does not rise at this pressure"
            wrong.append(Refusal(what, "T rising at each pressure"))
    if wrong:
        return wrong, 0
    rows: dict[float, set[float]] = {}
    for one, temperature in zip(p, T, strict=True):
        rows.setdefault(one, set()).add(temperature)
    every = sorted(set(T))
    for pressure, known in rows.items():
        for temperature in every:
            if temperature not in known:
                what = f"{file} has no row at {temperature:.6g} K and {pressure / 1e5:.6g} bar"
                do = "give every temperature at every pressure, or one table without p"
                wrong.append(Refusal(what, "a whole grid", do))
    if len(rows) < LEAST_PRESSURES:
        what = f"{file} has one pressure"
        wrong.append(Refusal(what, f"at least {LEAST_PRESSURES}, or no column p"))
    return wrong, len(every)


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
            low, high, unit = BOUNDS["heat_capacity"]
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
            what = "missing; boiling is judged with it"
            accepted = f'a value with its unit such as "{example}"'
            yield Refusal(what, accepted, "add it", f"coolant.{key}")
    where, file = "coolant.saturation", line.file
    if table.p:
        what = f"{table.file} varies with pressure, but saturation needs a table that does not"
        do = "leave the column p out, with the liquid's properties near saturation"
        yield Refusal(what, "a table without p", do, where, shown(file))
    critical = coolant.critical_pressure
    if critical is not None and line.p[-1] >= critical:
        what = f"{file} reaches {line.p[-1] / 1e5:.5g} bar"
        accepted = f"rows below coolant.critical_pressure, {critical / 1e5:.5g} bar"
        yield Refusal(what, accepted, "end it below", where, shown(file))
    if line.vapour_density[-1] >= min(table.density):
        what = f"{file} has vapour as dense as the liquid of {table.file}"
        yield Refusal(what, "a vapour lighter than the liquid", "check both", where, shown(file))
    if line.T[0] <= table.T[0] or line.T[-1] > table.T[-1]:
        what = (
            f"{file} has saturation at {line.T[0]:.5g} to {line.T[-1]:.5g} K, and {table.file} the "
            f"liquid at {table.T[0]:.5g} to {table.T[-1]:.5g} K"
        )
        yield Refusal(what, "a liquid table that holds all of it", "extend it", where, shown(file))


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
