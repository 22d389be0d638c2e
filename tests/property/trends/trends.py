"""The trends: what is changed, what physics asks of the answer, and how it is looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from regen.checks.stations import hot_gas
from regen.design import Profile
from regen.metals import alloys
from regen.physics import arrays as A
from regen.physics.registry import CORRELATIONS
from tests.property.trends import box
from tests.property.trends.causes import (
    UNEXPLAINED,
    critical,
    onto_the_step,
    why_hotter,
    why_offset,
)
from tests.property.trends.runs import (
    REFUSED,
    Case,
    Run,
    status_of,
    times,
    with_channels,
    with_flow,
    with_models,
)

HOTTER = 0.02
"""[K]. The wall balance leaves 1e-7 of the flux, and 1e-4 where it is loose: under 0.02 K of the
wall's rise over the coolant of at most some 100 K."""

FLUX = 1e-6
"""[-]. What the wall balance leaves of the flux, ten times over."""

MORE, LESS, LITTLE_LESS = 1.1, 0.9, 0.97
"""Factors of the changes: far above noise, small enough to be a direction."""

LESS_EFFICIENCY = 0.95
DEPOSIT = 1e-5
"""[m2 K/W]: about a tenth of the gas side's own resistance at a throat."""

EXPONENT, EXPONENT_SPREAD = 0.8, 0.03
"""Flux over chamber pressure at one wall temperature, (1/c*)^0.8 and the drive taken out. A drive
of temperature grows with it by dissociation. A drive of enthalpy grows where the efficiency is
below 1: the colder gas dissociates less, so at one efficiency its deficit of enthalpy shrinks as
pressure rises, by up to 0.3 % of the drive for a tenth. What is left are transport properties and
the wall's place between it and the gas, of a gas 1 to 3 % hotter for a unit of ln p: at most about
one power of it in viscosity, heat capacity and wall term together."""

MORE_SLOTS = 1.25
EQUAL_DROP = 1e-4
"""[-]. Miss of the pressure drop: it moves the wall by 0.4 x 1e-4 of its rise, below 0.02 K."""

FACTORS = (1e-3, 3e-4)
PROPORTION, OFFSET = 0.02, 5e-3
"""[-], [K]. Properties and the wall's own part of the gas side move by less than the rise over
absolute temperature; static temperatures are those of a velocity met to some 1e-6."""

NO_LAND = 1e-12
PLAIN = 0.01
"""[-]. A land that begins without width still widens outward and carries about the fourth root
of its width at the floor over the pitch: 1e-3."""


@dataclass(frozen=True)
class Violation:
    """One stretch of stations, or one number, that goes against a trend."""

    trend: str
    draw: int
    where: str
    size: str
    cause: str
    evidence: str


@dataclass
class Outcome:
    """What one case says of one trend: a number for the table, violations, what stopped it."""

    value: float | None = None
    violations: list[Violation] = field(default_factory=list)
    stopped: str | None = None


@dataclass(frozen=True)
class Trend:
    """One trend: words for the page, whether it applies to a case, and its look at one."""

    name: str
    change: str
    expected: str
    tolerance: str
    value: str
    """What the number in the table is."""
    look: Callable[[Case], Outcome]
    applies: Callable[[Case], bool] = lambda case: True

    def __call__(self, case: Case) -> Outcome:
        try:
            return self.look(case)
        except REFUSED as error:
            return Outcome(stopped=status_of(error))


def stretches(bad: np.ndarray, kind: np.ndarray | None = None) -> Iterator[np.ndarray]:
    """Yield the runs of neighbouring stations that are True, and of one kind if it is given."""
    where = np.flatnonzero(bad)
    if where.size:
        apart = np.diff(where) > 1
        if kind is not None:
            apart |= np.diff(kind[where]) != 0
        yield from np.split(where, np.flatnonzero(apart) + 1)


def _span(run: Run, rows: np.ndarray) -> str:
    x = run.x[rows] * 1e3
    return f"x = {x[0]:.0f} to {x[-1]:.0f} mm, {rows.size} of {run.x.size} stations"


def cooler(
    trend: str, case: Case, changed: Run, column: int = A.O_T_WALL_HOT, *, stations: bool = True
) -> Outcome:
    """Look whether the wall is cooler, at its peak and at every station."""
    base = case.run
    rise = changed.column(column) - base.column(column)
    peak = changed.highest(column) - base.highest(column)
    found = Outcome(value=peak)
    if peak > HOTTER:
        i = int(np.argmax(changed.column(column)))
        cause, evidence = why_hotter(trend, base, changed, i, float(rise[i]))
        where = f"the peak, at x = {base.x[i] * 1e3:.0f} mm"
        found.violations.append(
            Violation(trend, case.draw, where, f"{peak:+.2f} K", cause, evidence)
        )
    if not stations:
        return found
    # a step of the model excuses its own stations, and not their neighbours
    for run in stretches(rise > HOTTER, onto_the_step(base, changed)):
        worst = int(run[np.argmax(rise[run])])
        cause, evidence = why_hotter(trend, base, changed, worst, float(rise[worst]))
        found.violations.append(
            Violation(trend, case.draw, _span(base, run), f"{rise[worst]:+.2f} K", cause, evidence)
        )
    return found


def more_pressure_drop(trend: str, case: Case, changed: Run, found: Outcome) -> Outcome:
    if not changed.drop > case.run.drop:
        size = f"{(changed.drop - case.run.drop) / 1e5:+.3f} bar"
        found.violations.append(Violation(trend, case.draw, "pressure drop", size, UNEXPLAINED, ""))
    return found


def more_flow(case: Case) -> Outcome:
    return cooler("more flow", case, case.with_slots(with_flow(case.design, MORE)))


def narrower(case: Case) -> Outcome:
    width = times(case.design.channels.width, LESS)
    changed = case.with_slots(with_channels(case.design, width=width))
    return more_pressure_drop("narrower", case, changed, cooler("narrower", case, changed))


def thinner(case: Case) -> Outcome:
    liner = replace(case.design.liner, wall=times(case.design.liner.wall, LESS))
    return cooler("thinner", case, case.with_slots(replace(case.design, liner=liner)))


def copper(case: Case) -> bool:
    return case.design.liner.alloy in box.COPPERS


def _flux_violations(
    trend: str, case: Case, changed: Run, sign: float, why: Callable[[int], tuple[str, str]]
) -> list[Violation]:
    """Return the stretches where the flux changes against the sign."""
    base = case.run
    change = changed.column(A.O_Q) / base.column(A.O_Q) - 1.0
    found = []
    for run in stretches(sign * change < -FLUX):
        worst = int(run[np.argmin(sign * change[run])])
        cause, evidence = why(worst)
        found.append(
            Violation(trend, case.draw, _span(base, run), f"{change[worst]:+.2%}", cause, evidence)
        )
    return found


def flux_at(run: Run, helper: Run, T: float) -> float:
    """Return the throat's flux at another wall temperature of the same gas [W/m2].

    Two designs with the same gas and different coolant flow give the flux over the wall
    temperature; the wanted temperature lies near them.
    """
    i = run.throat
    q, q_other = (each.column(A.O_Q)[i] for each in (run, helper))
    T_wall, T_other = (each.column(A.O_T_SURFACE)[i] for each in (run, helper))
    if abs(T_other - T_wall) < 0.05:  # boiling holds the wall
        return float(q)
    return float(q + (q_other - q) / (T_other - T_wall) * (T - T_wall))


def more_pressure(case: Case) -> Outcome:
    design, base = case.design, case.run
    chamber = replace(design.chamber, pressure=MORE * design.chamber.pressure)
    changed = case.solve(replace(design, chamber=chamber))
    helper = case.with_slots(with_flow(design, LITTLE_LESS))
    i = base.throat
    slope = flux_at(base, helper, base.column(A.O_T_SURFACE)[i] + 1.0) - base.column(A.O_Q)[i]
    held = changed.column(A.O_Q)[i] + MORE**EXPONENT * slope * (
        base.column(A.O_T_SURFACE)[i] - changed.column(A.O_T_SURFACE)[i]
    )
    raw = float(np.log(held / base.column(A.O_Q)[i]) / np.log(MORE))
    found = Outcome(value=raw)
    exponent = raw - _of_hotter_gas(base, changed)
    if abs(exponent - EXPONENT) > EXPONENT_SPREAD:
        evidence = f"{raw:.3f} before the gas's own temperature is taken out"
        found.violations.append(
            Violation(
                "more chamber pressure",
                case.draw,
                "exponent",
                f"{exponent:.3f}",
                UNEXPLAINED,
                evidence,
            )
        )
    found.violations += _flux_violations(
        "more chamber pressure",
        case,
        changed,
        1.0,
        lambda i: critical(base, changed, i) or (UNEXPLAINED, ""),
    )
    return found


def _of_hotter_gas(base: Run, changed: Run) -> float:
    """Return the part of the exponent that c* and the drive have by their change alone."""
    T_wall = base.column(A.O_T_SURFACE)[base.throat]
    driven = np.log(drive(changed, T_wall) / drive(base, T_wall))
    c_star, c_star_new = (
        hot_gas(run.prepared, run.marched)[1][A.S_CSTAR] for run in (base, changed)
    )
    return float((driven - EXPONENT * np.log(c_star_new / c_star)) / np.log(MORE))


def drive(run: Run, T_wall: float) -> float:
    """Return what drives the throat's flux to a wall of one temperature [K or J/kg]."""
    i, prepared = run.throat, run.prepared
    if CORRELATIONS[run.models["gas_side"]].traits.get("drive") != "enthalpy":
        return float(run.column(A.O_T_AW)[i] - T_wall)
    layer = prepared.rows.joined([prepared.gas.layer[0]])[i]
    start, step = prepared.gas.layer_T[0]
    h_wall = np.interp(T_wall, start + step * np.arange(len(layer)), layer[:, A.LAYER_H])
    return float(hot_gas(prepared, run.marched)[0][i, A.G_H_AW] - h_wall)


def deeper_at_equal_drop(case: Case) -> Outcome:
    """More, narrower and deeper slots: land over width as before, the depth for equal drop."""
    channels = case.design.channels
    count = round(MORE_SLOTS * channels.count)
    width = times(channels.width, channels.count / count)

    def with_depth(factor: float) -> tuple[Run, float]:
        depth = times(channels.depth, factor)
        changes = {"count": count, "width": width, "depth": depth}
        run = case.with_slots(with_channels(case.design, **changes))
        return run, run.drop / case.run.drop - 1.0

    factor, slope = 1.1, -2.5
    changed, miss = with_depth(factor)
    for _ in range(12):
        if abs(miss) < EQUAL_DROP:
            break
        step = -miss / slope
        changed, after = with_depth(factor + step)
        slope, factor, miss = (after - miss) / step, factor + step, after
    else:
        return Outcome(stopped="no depth of equal pressure drop")
    return cooler("higher aspect ratio", case, changed, stations=False)


def less_efficiency(case: Case) -> Outcome:
    trend = "less efficiency"
    base = case.run
    changed = case.solve(_with_efficiency(case))
    i = int(np.argmax(base.column(A.O_Q)))

    def why(worst: int) -> tuple[str, str]:
        return critical(base, changed, worst) or (UNEXPLAINED, "")

    found = Outcome(value=float(changed.column(A.O_Q)[i] / base.column(A.O_Q)[i] - 1.0) * 100.0)
    found.violations = _flux_violations(trend, case, changed, -1.0, why)
    return found


def _with_efficiency(case: Case):
    chamber = case.design.chamber
    lower = LESS_EFFICIENCY * chamber.combustion_efficiency
    return replace(case.design, chamber=replace(chamber, combustion_efficiency=lower))


def rougher(case: Case) -> Outcome:
    roughness = 2.0 * case.design.channels.roughness
    changed = case.with_slots(with_channels(case.design, roughness=roughness))
    found = Outcome(value=(changed.drop / case.run.drop - 1.0) * 100.0)
    return more_pressure_drop("rougher", case, changed, found)


def covered(case: Case) -> Outcome:
    changed = case.with_slots(
        with_models(case.design, deposit_resistance=Profile.constant(DEPOSIT))
    )
    found = cooler("deposit", case, changed)
    rise = changed.column(A.O_T_SURFACE) - case.run.column(A.O_T_SURFACE)
    for run in stretches(rise < -HOTTER):
        worst = int(run[np.argmin(rise[run])])
        found.violations.append(
            Violation(
                "deposit",
                case.draw,
                f"surface, {_span(case.run, run)}",
                f"{rise[worst]:+.2f} K",
                UNEXPLAINED,
                "",
            )
        )
    return found


def no_heat(case: Case) -> Outcome:
    """With two small parts of the gas side the rises over the coolant are as those parts."""
    dark = with_models(case.design, radiation="off")
    plain = Case(case.draw, case.solve(dark))
    runs = [plain.with_slots(dark, gas_factor=factor) for factor in FACTORS]
    large, small = (run.column(A.O_T_WALL_HOT) - run.column(A.O_T_COOLANT) for run in runs)
    expected = FACTORS[1] / FACTORS[0] * large
    miss = np.abs(small - expected)
    found = Outcome(value=float(small.max()))
    for run in stretches(miss > PROPORTION * np.abs(expected) + OFFSET):
        worst = int(run[np.argmax(miss[run])])
        cause, evidence = why_offset(runs[1], worst, miss[worst])
        found.violations.append(
            Violation(
                "no heat",
                case.draw,
                _span(case.run, run),
                f"{miss[worst]:.4f} K",
                cause,
                evidence,
            )
        )
    return found


def no_lands(case: Case) -> Outcome:
    """Without lands the wall is a plain wall: films and a curved wall in series."""
    passage = case.run.prepared.passage
    pitch = 2.0 * np.pi * passage.floor_radius / passage.count
    width = Profile(tuple(passage.x), tuple(pitch * (1.0 - NO_LAND)))
    design = with_models(with_channels(case.design, width=width), rough_gain=False)
    run = case.with_slots(design, gas_factor=0.1)
    T = {
        name: run.column(field)
        for name, field in {
            "hot": A.O_T_WALL_HOT_MEAN,
            "root": A.O_T_WALL_COLD,
            "coolant": A.O_T_COOLANT,
        }.items()
    }
    r, floor = passage.r, passage.floor_radius
    q = run.column(A.O_Q)
    metal = alloys.find(design.liner.alloy, design.liner.condition)
    k = metal.value("thermal_conductivity", 0.5 * (T["hot"] + T["root"])).value
    # between cylinders whose radii differ by wall cos(slope), along the normal
    through = q * r * np.log(floor / r) / k / np.cos(passage.slope_angle)
    into = q * r / floor / run.column(A.O_H_COOLANT)
    miss = np.abs((T["hot"] - T["coolant"]) / (through + into) - 1.0)
    found = Outcome(value=float(miss.max()) * 100.0)
    for run in stretches(miss > PLAIN):
        found.violations.append(
            Violation(
                "no lands",
                case.draw,
                _span(run, run),
                f"{miss[run].max():.2%}",
                UNEXPLAINED,
                "",
            )
        )
    return found


WALL = f"{HOTTER:g} K, what the wall balance leaves"
TRENDS: tuple[Trend, ...] = (
    Trend(
        "more flow",
        "coolant flow +10 %",
        "cooler hot wall, at the peak and at every station",
        WALL,
        "change of the peak, K",
        more_flow,
    ),
    Trend(
        "narrower",
        "slots 10 % narrower; count, depth, flow and inlet pressure as before",
        "cooler hot wall, at the peak and at every station, and more pressure drop",
        WALL,
        "change of the peak, K",
        narrower,
    ),
    Trend(
        "thinner",
        "hot wall 10 % thinner, copper alloys alone",
        "cooler hot wall, at the peak and at every station",
        WALL,
        "change of the peak, K",
        thinner,
        copper,
    ),
    Trend(
        "more chamber pressure",
        "chamber pressure +10 %, coolant as before",
        "more flux at every station; at the throat and at one wall temperature as p^0.8",
        f"any more flux at stations; the exponent within {EXPONENT_SPREAD:g} once c* and the drive "
        "are taken out: of temperature by dissociation, of enthalpy by the efficiency's deficit, "
        "which shrinks as pressure rises; at one wall temperature, because a hotter wall takes "
        "less",
        "exponent at one wall temperature",
        more_pressure,
    ),
    Trend(
        "higher aspect ratio",
        "a quarter more slots, narrower in proportion with their lands, and as deep as gives the "
        "same pressure drop; copper alloys alone",
        "cooler peak",
        f"{WALL}; pressure drop equal within 1e-4",
        "change of the peak, K",
        deeper_at_equal_drop,
        copper,
    ),
    Trend(
        "less efficiency",
        "combustion efficiency times 0.95",
        "less flux at every station",
        "1e-6 of the flux, what the wall balance leaves ten times over",
        "change of the largest flux, %",
        less_efficiency,
    ),
    Trend(
        "rougher",
        "sand grain doubled",
        "more pressure drop",
        "none",
        "change of the pressure drop, %",
        rougher,
    ),
    Trend(
        "deposit",
        "deposit of 1e-5 m2 K/W on the hot wall",
        "cooler metal and hotter surface, at every station",
        WALL,
        "change of the metal's peak, K",
        covered,
    ),
    Trend(
        "no heat",
        "1/1000 and 3/10 000 of the gas side, no radiation",
        "wall over coolant falls as the heat: to nothing",
        "2 %, properties and the gas side's own wall term; 5 mK, velocity met to 1e-6",
        "wall over coolant at 3/10 000, K",
        no_heat,
    ),
    Trend(
        "no lands",
        "lands of 1e-12 of the pitch, a tenth of the gas side so that the coolant's tables reach",
        "gas film, curved plain wall and coolant film in series",
        "1 %: lands without root widen outward and carry about the fourth root of their share",
        "largest miss, %",
        no_lands,
    ),
)
