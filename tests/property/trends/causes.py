"""Why a changed design goes against a trend: named causes, each found by its own evidence.

A hotter wall is taken apart by finite elements on the section of the worst station: section,
coolant temperature and both film coefficients are exchanged one at a time between the base and
the changed design, and what warms the wall most is the cause. Causes of other kinds are found by
solving the case again with the suspected cause taken away. What neither explains is "unexplained",
and a test fails on it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from regen.checks.section import Film, Layer, Section, constant, solve_section
from regen.metals import alloys
from regen.physics import arrays as A
from regen.physics.balance import NEAR_CRITICAL
from regen.physics.registry import CORRELATIONS
from regen.physics.tables import coolant_hp, isobar, saturation_temperature
from tests.property.trends.forms import nusselt, state
from tests.property.trends.runs import Run

UNEXPLAINED = "unexplained"

CAUSES: dict[str, str] = {
    "wider lands": (
        "a narrower slot leaves a wider land, whose middle is farther from the coolant, and a "
        "narrower floor; where the land's fin gives back less than that, the wall over it is hotter"
    ),
    "less spreading": (
        "a thin hot wall over wide lands: its metal also leads heat sideways from the land's "
        "middle to the floor, and less metal leads less; every section has a best thickness"
    ),
    "closed form": (
        "finite elements on the same section and films find the wall cooler, as it should be: the "
        "closed form of the wall misses the change by less than it is good for, 1.6 % of wall over "
        "coolant in copper, 2.5 % and 20 K in poor conductors; asked only where the section "
        "changes, or boils: the closed form boils by mean temperatures of root and land"
    ),
    "critical pressure": (
        "the coolant's pressure lies above its critical pressure in one of the two designs and "
        "below in the other: above it the form for dense fluids holds, below it the liquid boils, "
        "and the coefficient jumps by up to ten times"
    ),
    "near-critical step": (
        f"the coolant's pressure lies above {NEAR_CRITICAL:g} of its critical pressure in the "
        "changed design alone: there the wall is that of the dense fluid if it is the hotter, "
        "below it the liquid boils; a step of the model, and on the other design's coefficient "
        "the wall is no hotter, by finite elements"
    ),
    "boiling": (
        "the wetted wall boils: it follows the saturation temperature and the flux, hardly the "
        "flow, and boiling weakens with the pressure that more flow or a narrower slot takes away"
    ),
    "several roots": "more than one wall temperature balances the heat in one of the two designs",
    "warmer coolant": (
        "a wall that is cooled better takes in more heat ahead of the station, and the coolant "
        "comes to it warmer"
    ),
    "falling coefficient": (
        "the form's coefficient falls as wetted wall and coolant get hotter, by the form called by "
        "itself: less metal or more flux on the floor warms the root, better cooling ahead warms "
        "the coolant, and the fall of the coefficient makes more of both"
    ),
    "dissociation": (
        "the gas is richer in radicals than at the documented states: members driven by enthalpy "
        "count their recombination, members driven by temperature do not; at 0.6 of the "
        "stoichiometric ratio the same case lies inside"
    ),
    "long boundary layer": (
        "the integral boundary layer comes to the throat longer, in throat diameters, than at the "
        "documented state: behind a barrel that is long or wide for its throat; brought to that "
        "length, x^-0.2, it lies inside"
    ),
    "wall factor": (
        "the coolant's properties change so much from bulk to wall that the forms' factors for it "
        "part, and one has none; without property change all lie inside"
    ),
    "prediction": (
        "the wall of a station is solved on a coolant state whose velocity is met to 1e-3 and set "
        "right afterwards: where the coolant is fast, that is hundredths of a kelvin, whatever the "
        "heat"
    ),
    UNEXPLAINED: "no evidence found",
}
"""Every cause a violation may have, and what it means."""

CLOSED_FORM = {True: (0.0156, 0.0), False: (0.0245, 20.0)}
"""Worst error of the closed form over wall less coolant [-], and what conductivity at one mean
temperature adds [K], both by finite elements: of good conductors, and of poor ones."""

GOOD = 100.0
"""Conductivity that parts them [W/(m K)]."""

PREDICTED = 1e-3
"""Largest miss of the velocity of the state on which a wall is solved, over it [-]."""

SAME_FALL = 0.2
"""What bends and entrance may part the form called by itself from the march's fall by [-]."""

NO_RISE = 0.02
"""Rise by finite elements that is none [K]."""

MAY_WARM = {
    "narrower": ("wider lands", "warmer coolant", "falling coefficient"),
    "thinner": ("less spreading", "warmer coolant", "falling coefficient"),
    "higher aspect ratio": ("warmer coolant",),
}
"""What a change of the section may warm the wall by, beside its regime; other changes by nothing:
whatever else is found there is not an explanation."""

SECTION_CAUSE = {"narrower": "wider lands", "thinner": "less spreading"}


def _metal(name: str, condition: str) -> Callable[[np.ndarray], np.ndarray]:
    metal = alloys.find(name, condition)
    return lambda T: metal.value("thermal_conductivity", T).value


def _saturation(run: Run, i: int) -> float:
    table = run.prepared.coolant
    return float(saturation_temperature(table, isobar(table, run.column(A.O_P_COOLANT)[i])))


def _film(run: Run, i: int) -> Callable[[np.ndarray], np.ndarray]:
    """Return the coolant's coefficient over the wall temperature: with boiling where it boils."""
    h = float(run.column(A.O_H_COOLANT)[i])
    if not run.flag(i, A.FLAG_BOILING):
        return constant(h)
    T_b, p = run.column(A.O_T_COOLANT)[i], run.column(A.O_P_COOLANT)[i]
    T_sat, table = _saturation(run, i), run.prepared.coolant
    form = CORRELATIONS[run.models["boiling"]]
    known = {"p": p, "p_r": p / table.p_critical, "molar_mass": table.molar_mass}
    given = {name: known[name] for name in form.arguments if name != "dT_sat"}
    flux = np.vectorize(lambda excess: form.function(dT_sat=excess, **given), otypes=[float])

    def boiling(T: np.ndarray) -> np.ndarray:
        return np.asarray(flux(np.maximum(T - T_sat, 0.0)) / np.maximum(T - T_b, 1.0))

    root = run.column(A.O_T_WALL_COLD)[i : i + 1]
    single = max(h * h - float(boiling(root)[0]) ** 2, 0.0)
    return lambda T: np.sqrt(single + boiling(T) ** 2)


def _temperature(i: int, section: Run, coolant: Run, film: Run, gas: Run) -> float:
    """Return the hottest wall [K] of one station by finite elements, each part from a run."""
    design, passage = section.prepared.design, section.prepared.passage
    slope = float(np.cos(passage.slope_angle[i]))
    half = 0.5 * float(passage.width[i] + passage.land[i])
    any_of = alloys.ANY
    layers = (
        Layer(design.closeout.copper, _metal("copper-electroformed", any_of)),
        Layer(design.closeout.jacket, _metal("nickel-electroformed", any_of)),
    )
    cut = Section(
        w=float(passage.width[i]),
        t=float(passage.land[i]),
        d=float(passage.depth[i]),
        t_wall=float(passage.wall[i]),
        taper=half * slope / float(passage.floor_radius[i]),
        liner=_metal(design.liner.alloy, design.liner.condition),
        closeout=layers,
        gas=Film(constant(gas.column(A.O_H_GAS)[i]), float(gas.column(A.O_T_AW)[i])),
        coolant=Film(_film(film, i), float(coolant.column(A.O_T_COOLANT)[i])),
    )
    return solve_section(cut).hot_max


def _conducts(run: Run) -> bool:
    liner = run.prepared.design.liner
    return bool(_metal(liner.alloy, liner.condition)(np.array([500.0]))[0] > GOOD)


def _coefficient(base: Run, changed: Run, i: int) -> str:
    h, h_new = (run.column(A.O_H_COOLANT)[i] / 1e3 for run in (base, changed))
    return f"coefficient {h:.3g} to {h_new:.3g} kW/(m2 K)"


def _by_the_form(base: Run, changed: Run, i: int) -> tuple[str, str]:
    """Return whether the coefficient fell as the form, called by itself, makes it fall.

    First with the wetted wall of the changed design alone, then with its coolant too.
    """
    form = CORRELATIONS[base.models["coolant_side"]]
    T, T_new = (float(each.column(A.O_T_WALL_COLD)[i]) for each in (base, changed))

    def coefficient(run: Run, T_w: float) -> float:
        at = state(run, i, T_w=T_w)
        return nusselt(form, at) * at["k_b"] / at["D"]

    before = coefficient(base, T)
    by_wall = coefficient(base, T_new) / before - 1.0
    by_form = coefficient(changed, T_new) / before - 1.0
    found = float(changed.column(A.O_H_COOLANT)[i] / base.column(A.O_H_COOLANT)[i]) - 1.0
    evidence = (
        f"; wetted wall {T:.1f} to {T_new:.1f} K, coefficient {found:+.2%}; the form alone "
        f"{by_form:+.2%}, of it {by_wall:+.2%} by the wall"
    )
    alike = found < 0.0 and by_wall < 0.0 and abs(by_form - found) < SAME_FALL * abs(found)
    return ("falling coefficient" if alike else UNEXPLAINED), evidence


def critical(base: Run, changed: Run, i: int) -> tuple[str, str] | None:
    """Return cause and evidence where the critical pressure lies between the two designs."""
    p_c = base.prepared.coolant.p_critical
    p, p_new = (run.column(A.O_P_COOLANT)[i] for run in (base, changed))
    if (p - p_c) * (p_new - p_c) >= 0.0:
        return None
    evidence = f"{p / 1e5:.2f} to {p_new / 1e5:.2f} bar, critical {p_c / 1e5:.2f}"
    return "critical pressure", f"{evidence}; {_coefficient(base, changed, i)}"


def onto_the_step(base: Run, changed: Run) -> np.ndarray:
    """Return where the changed design alone is held as dense just below p_c, and the base boils."""
    below = base.column(A.O_P_COOLANT) < NEAR_CRITICAL * base.prepared.coolant.p_critical
    return below & changed.held_as_dense & ~base.held_as_dense


def near_critical(base: Run, changed: Run, i: int) -> tuple[str, str] | None:
    """Return cause and evidence where the change alone lifts the pressure onto the step.

    The cause is taken away by the base's coolant film, and its gas side, which follows the wall:
    without the step the wall must not be hotter.
    """
    if not onto_the_step(base, changed)[i]:
        return None
    p_c = base.prepared.coolant.p_critical
    p, p_new = (run.column(A.O_P_COOLANT)[i] / p_c for run in (base, changed))
    without = _temperature(i, changed, changed, base, base)
    rise = without - _temperature(i, base, base, base, base)
    if rise > NO_RISE:
        return None
    evidence = f"{p:.4f} to {p_new:.4f} of the critical pressure; {_coefficient(base, changed, i)}"
    return "near-critical step", f"{evidence}; with the former one, {rise:+.2f} K"


def why_hotter(trend: str, base: Run, changed: Run, i: int, rise: float) -> tuple[str, str]:
    """Return the cause of a wall that is ``rise`` [K] hotter at station i, and the evidence."""
    coefficient = _coefficient(base, changed, i)
    if crossing := critical(base, changed, i):
        return crossing
    if step := near_critical(base, changed, i):
        return step
    if base.flag(i, A.FLAG_SEVERAL_ROOTS) or changed.flag(i, A.FLAG_SEVERAL_ROOTS):
        T, T_new = base.column(A.O_T_WALL_COLD)[i], changed.column(A.O_T_WALL_COLD)[i]
        return "several roots", f"flagged; wetted wall {T:.0f} to {T_new:.0f} K, {coefficient}"
    whole = _temperature(i, base, base, base, base)
    parts = {
        "section": _temperature(i, changed, base, base, base) - whole,
        "warmer coolant": _temperature(i, base, changed, base, base) - whole,
        "coefficient": _temperature(i, base, base, changed, base) - whole,
        "hotter gas side": _temperature(i, base, base, base, changed) - whole,
    }
    total = _temperature(i, changed, changed, changed, changed) - whole
    first = max(parts, key=lambda name: parts[name])
    listed = ", ".join(f"{name} {value:+.2f} K" for name, value in parts.items())
    evidence = f"finite elements: {total:+.2f} K, of it {listed}"
    boils = base.flag(i, A.FLAG_BOILING) and changed.flag(i, A.FLAG_BOILING)
    if boils:
        T_sat, T_new = _saturation(base, i), _saturation(changed, i)
        evidence += f"; saturation {T_sat:.2f} to {T_new:.2f} K, {coefficient}"
        if T_new - T_sat >= rise:
            return "boiling", evidence
    if total <= NO_RISE:
        wall = base.column(A.O_T_WALL_HOT)[i] - base.column(A.O_T_COOLANT)[i]
        evidence += f"; wall over coolant {wall:.0f} K"
        share, more = CLOSED_FORM[_conducts(base)]
        near = (trend in MAY_WARM or boils) and rise - total <= share * wall + more
        return ("closed form" if near else UNEXPLAINED), evidence
    if first == "coefficient" and boils:
        return "boiling", evidence
    cause = SECTION_CAUSE.get(trend, UNEXPLAINED) if first == "section" else first
    if first == "coefficient":
        cause, more = _by_the_form(base, changed, i)
        evidence += more
    return (cause if cause in MAY_WARM.get(trend, ()) else UNEXPLAINED), evidence


def why_offset(run: Run, i: int, miss: float) -> tuple[str, str]:
    """Return the cause of a wall that without heat is not at the coolant's temperature.

    The velocity's miss counts twice: pressure moves with it.
    """
    h, p, u = (run.column(field)[i] for field in (A.O_ENTHALPY, A.O_P_COOLANT, A.O_V_COOLANT))
    cp = coolant_hp(run.prepared.coolant, h, p)[4]
    least = PREDICTED * u * u / cp
    evidence = f"{u:.0f} m/s: a part of {PREDICTED:g} of the velocity is worth {least:.4f} K"
    return ("prediction" if miss <= 2.0 * least else UNEXPLAINED), evidence
