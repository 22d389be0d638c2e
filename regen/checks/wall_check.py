"""Stations of the nominal run once more, by finite elements on the true section.

The hottest of all, the throat, the hottest of the barrel, and the coolant's outlet.

What is checked is conduction: half a pitch with its taper, closeout layers of their own, every
metal at its own local temperature. Both films have the station's coefficients, the coolant's
with boiling by the local wall temperature, so that what differs is the closed form alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from importlib.metadata import version

import numpy as np

from regen.checks import section as fe
from regen.checks.findings import joined, note, peak, text
from regen.design import Design
from regen.geometry.contour import Contour
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition
from regen.physics import arrays as A
from regen.physics.registry import CORRELATIONS
from regen.physics.tables import isobar, saturation_temperature
from regen.result import Array, Note, Result, SectionCheck, SectionField
from regen.solver.solve import Solution

CYLINDER = 1e-3
"""Upstream of the throat, within this share of the largest radius, lies the barrel [-]."""

AGREEMENT = 0.03
"""Difference of closed form and finite elements, over wall less coolant, that is no surprise."""


def _conductivity(metal: AlloyCondition, factor: float = 1.0) -> fe.OfTemperature:
    return lambda T: factor * metal.value("thermal_conductivity", T).value


def _boils(solution: Solution, station: int) -> bool:
    return bool(int(solution.nominal.station[station, A.O_FLAGS]) & A.FLAG_BOILING)


def _coolant_side(solution: Solution, station: int) -> fe.OfTemperature:
    """Return the coolant's coefficient: the station's, with boiling by the local temperature.

    The station's own is that at the slot floor; what does not boil of it is the same all round.
    """
    row = solution.nominal.station[station]
    T_b, p, h_floor = row[A.O_T_COOLANT], row[A.O_P_COOLANT], row[A.O_H_COOLANT]
    if not _boils(solution, station):
        return fe.constant(h_floor)
    prepared = solution.prepared
    table = prepared.coolant
    T_sat = saturation_temperature(table, isobar(table, p))
    form = CORRELATIONS[solution.models["boiling"]]
    known = {"p": p, "p_r": p / table.p_critical, "molar_mass": table.molar_mass}
    given = {name: known[name] for name in form.arguments if name != "dT_sat"}
    flux = np.vectorize(lambda excess: form.function(dT_sat=excess, **given), otypes=[float])

    def boiling(T: Array) -> Array:
        return np.asarray(flux(np.maximum(T - T_sat, 0.0)) / np.maximum(T - T_b, 1.0))

    # a small difference of large numbers where boiling carries nearly all of the heat
    single = max(h_floor**2 - float(boiling(np.array([row[A.O_T_WALL_COLD]]))[0]) ** 2, 0.0)
    return lambda T: np.sqrt(single + boiling(T) ** 2)


def section_at(result: Result, solution: Solution, station: int) -> fe.Section:
    """Return the section normal to the contour of one station of the nominal run, with its films.

    Parameters
    ----------
    result : Result
        Judged design.
    solution : Solution
        What it was judged from.
    station : int
        Row of the stations [-].

    Returns
    -------
    fe.Section
        Lengths in [m].
    """
    s = {name: float(column[station]) for name, column in result.stations.items()}
    design = solution.prepared.design
    slope = float(np.cos(solution.prepared.contour.slope_angle(s["x_m"])))
    floor_radius = s["r_m"] + s["wall_m"] * slope
    half = 0.5 * (s["channel_width_m"] + s["land_width_m"])
    layers = [layer for layer in metals.closeout(design) if layer[1] > 0.0]
    return fe.Section(
        w=s["channel_width_m"],
        t=s["land_width_m"],
        d=s["channel_depth_m"],
        t_wall=s["wall_m"],
        taper=half * slope / floor_radius,
        liner=_conductivity(metals.liner(design), design.models.conductivity_factor),
        closeout=tuple(fe.Layer(t, _conductivity(metal)) for metal, t in layers),
        gas=fe.Film(fe.constant(s["h_gas_W_m2K"]), s["T_aw_K"]),
        coolant=fe.Film(_coolant_side(solution, station), s["T_coolant_K"]),
    )


def _held(design: Design, field: SectionField, depth: float) -> Iterator[str]:
    """Yield where a metal is hotter or colder than its table, whose end is held there."""
    y, top = field.points[:, 1], depth + design.closeout.copper
    places = (y <= depth, (y >= depth) & (y <= top), y >= top)
    every = (metals.liner(design), *(metal for metal, _ in metals.closeout(design)))
    for place, metal in zip(places, every, strict=True):
        T = field.T[place]
        if T.size and (note := metal.value("thermal_conductivity", T).note):
            yield note


def _places(result: Result, contour: Contour) -> dict[int, str]:
    """Return the names of the stations to be checked by their row [-], the hottest first.

    Only stations that take heat; the contour says where the barrel ends.
    """
    s = result.stations
    x, T = s["x_m"], s["T_wall_hot_K"]
    heated = s["q_W_m2"] > 0.0
    upstream = [contour.x_injector, *(at for at in contour.breakpoints if at < 0.0)]
    largest = float(np.max(contour.radius(upstream)))
    barrel = (x < 0.0) & (s["r_m"] > (1.0 - CYLINDER) * largest)
    at_outlet = s["passage_length_m"] == s["passage_length_m"].max()
    wanted = {
        "hottest": peak(T, x, heated).row,
        "throat": peak(-np.abs(x), x, heated & (x[0] <= 0.0 <= x[-1])).row,
        "barrel": peak(T, x, heated & barrel).row,
        "coolant outlet": peak(T, x, heated & at_outlet).row,
    }
    names: dict[int, str] = {}
    for name, station in wanted.items():
        if station is not None:
            names[station] = f"{names[station]}, {name}" if station in names else name
    return names


def _check(
    result: Result, solution: Solution, station: int, place: str
) -> tuple[SectionCheck, fe.SolvedSection]:
    section = section_at(result, solution, station)
    s = {name: float(column[station]) for name, column in result.stations.items()}
    coarse, fine = (
        fe.solve_section(section, n, s["T_wall_cold_K"]) for n in (fe.ELEMENTS // 2, fe.ELEMENTS)
    )
    check = SectionCheck(
        x_m=s["x_m"],
        T_coolant_K=section.coolant.T,
        T_wall_hot_K=s["T_wall_hot_K"],
        T_wall_hot_fe_K=fine.hot_max,
        T_error_K=abs(fine.hot_max - coarse.hot_max),
        q_W_m2=s["q_W_m2"],
        q_fe_W_m2=fine.q,
        boiling=_boils(solution, station),
        note=joined(*_held(solution.prepared.design, fine.field, section.d)),
        place=place,
    )
    return check, fine


def with_wall_check(result: Result, solution: Solution) -> Result:
    """Return the result with some of its stations checked by finite elements.

    Parameters
    ----------
    result : Result
        Judged design.
    solution : Solution
        What it was judged from.

    Returns
    -------
    Result
        With section checks, the temperatures of the first, and a note that says how far closed
        form and finite elements are apart. A station that takes no heat is not checked; one at
        which the finite elements fail is a note, since this check only informs.
    """
    done: list[tuple[SectionCheck, fe.SolvedSection]] = []
    notes: list[Note] = []
    for station, place in _places(result, solution.prepared.contour).items():
        try:
            done.append(_check(result, solution, station, place))
        except Exception as error:  # noqa: BLE001 - whatever stops it, the review goes on
            x = float(result.stations["x_m"][station])
            reason = str(error) or type(error).__name__
            notes.append(note("wall check: not done", x, place=place, reason=reason))
    checks = tuple(check for check, _ in done)
    if checks:
        notes.insert(0, _note(checks))
    packages = {**result.provenance["packages"], "scikit-fem": version("scikit-fem")}
    return replace(
        result,
        section_checks=checks,
        section_field=done[0][1].field if done else None,
        notes=(*result.notes, *notes),
        provenance={**result.provenance, "packages": packages},
    )


def _note(checks: tuple[SectionCheck, ...]) -> Note:
    worst = max(checks, key=lambda check: abs(check.T_difference))
    boils = any(check.boiling for check in checks)
    return note(
        f"wall check: {'apart' if abs(worst.T_difference) > AGREEMENT else 'close'}",
        worst.x_m,
        places=_where(checks),
        share=abs(worst.T_difference),
        apart=abs(worst.T_difference_K),
        side="hotter" if worst.T_difference_K > 0.0 else "colder",
        agreement=AGREEMENT,
        boils=text("wall check: boils") if boils else "",
    )


def _where(checks: tuple[SectionCheck, ...]) -> str:
    """Return where was checked, as "x = -5 mm (hottest) and 0 mm (throat)"."""
    *first, last = (f"{check.x_m * 1e3:.0f} mm ({check.place})" for check in checks)
    return f"x = {', '.join(first)} and {last}" if first else f"x = {last}"
