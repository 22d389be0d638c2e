"""From solved runs to the result: columns, bands, margins, notes, verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from regen.checks import flags, limits, start_stop, uncooled_ends
from regen.checks.circuits import (
    circuit_notes,
    circuit_results,
    stopped,
    uncooled_spans,
    worst_slot,
    worst_texts,
)
from regen.checks.coolant import facts_of
from regen.checks.edges import Edges, Members, edges_of
from regen.checks.gas_notes import film_feed_note, radiation_notes
from regen.checks.life import assess as life
from regen.checks.references import used
from regen.checks.stations import Array, columns, headline, outlet_temperature
from regen.checks.strength.findings import assess
from regen.checks.wall_check import with_wall_check
from regen.design import Design
from regen.gas.flux import LOW_THROAT, MEASURED_THROAT
from regen.metals import selection as metals
from regen.physics import arrays as A
from regen.physics import status as st
from regen.result import Band, Margin, Note, Result
from regen.solver.bands import against_measurement
from regen.solver.prepare import Prepared, Progress
from regen.solver.solve import (
    MIN_BAND,
    Marched,
    Solution,
    WorstSlot,
    failure,
    models_in_use,
    solve,
)
from regen.storage.cache import made_with

BANDED = (
    "T_wall_hot_max_K",
    "T_wall_cold_max_K",
    "q_max_W_m2",
    "coolant_temperature_out_K",
    "coolant_pressure_drop_Pa",
    "coolant_pressure_out_Pa",
)

MEMBER_RULE = (
    "every combination of applicable gas-side, coolant-side and friction correlations, the closed "
    f"gas-side form also at {MEASURED_THROAT:g} of its throat flux unless the case gives the "
    "throat's factor"
)
FLOOR_RULE = f"{MEMBER_RULE}; at least {MIN_BAND:.0%} either way (common practice)"

SAME = 1e-9
"""Relative difference below which a member's value is that of the nominal."""

NOT_ASSESSED = (
    "start and stop are closed forms, no march in time; what flanges, manifolds and their welds "
    "put on the chamber is not assessed: that must be checked by other means"
)

PACKAGES = ("numpy", "numba", "CoolProp", "cantera")


def review(
    design: Design,
    *,
    case_hash: str = "",
    progress: Progress | None = None,
    check_wall: bool = False,
) -> Result:
    """Solve a design and judge it.

    Parameters
    ----------
    design : Design
        Checked design.
    case_hash : str
        Hash of the case file, kept in the result's provenance.
    progress : callable, optional
        Told in words what is being waited for.
    check_wall : bool
        Check some stations by finite elements, about a second more.

    Returns
    -------
    Result
        Summary, bands, worst channel, margins, notes, stations and verdict.

    Raises
    ------
    MarchError
        If the nominal design is not solved.
    ValueError
        If the geometry is impossible or a material or property is not known.
    """
    solution = solve(design, progress)
    prepared, nominal = solution.prepared, solution.nominal
    stations = columns(prepared, nominal, prepared.paths)
    summary = headline(prepared, nominal, prepared.paths)
    if solution.split is not None:
        summary["maldistribution"] = solution.split.shortfall
    totals = {**summary, limits.INJECTOR: injector_pressure(prepared)}
    edges = edges_of(prepared, prepared.passage, stations, totals, _members(solution))
    bands = _bands(summary, edges, solution.members)
    worst_stations: Mapping[str, Array] | None = None
    worst_head: dict[str, float] = {}
    if solution.worst.ok:
        worst_stations = columns(prepared, solution.worst, solution.worst_paths)
        worst_head = worst_slot(solution, solution.hottest)
        lost = sum(not slot.run.ok for slot in solution.corners)
        worst_head |= {"corners": len(solution.corners), "corners_not_solved": lost}
    beyond, uncooled = _between_circuits(solution)
    solved = _solved(solution, limits.Run(stations, totals), edges)
    margins, found = _margins(solution, solved)
    margins = (*margins, *beyond)
    assessed = assess(solved, prepared.paths)
    lives = life.findings(design, solved.alloy, metals.jacket(design), solved.nominal)
    unsolved = [member for member in solution.members if not member.ok]
    if unsolved:
        # members that stop are the hottest or thirstiest: what is left shows no edge
        bands = {name: _opened(band, len(unsolved)) for name, band in bands.items()}
    excluded = dict(solution.excluded) | {
        member.name: f"not solved: {st.TEXTS[member.code].what}" for member in unsolved
    }
    contour_x = _contour_x(solution)
    result = Result(
        title=design.title,
        status="solved",
        verdict=limits.overall(margins),
        summary=summary,
        bands=bands,
        worst_channel=worst_head,
        margins=margins,
        notes=_notes(solution, bands, (*uncooled, *found, *life.notes(lives))),
        provenance=_provenance(solution, case_hash, margins),
        stations=stations,
        station_bands=edges.along,
        contour_x=contour_x,
        contour_r=prepared.contour.radius(contour_x),
        circuits=circuit_results(prepared, nominal),
        worst_stations=worst_stations or {},
        excluded=excluded,
        findings=(
            *assessed.findings,
            *lives.findings,
            *start_stop.findings(prepared, solved.nominal),
        ),
        checked={**assessed.columns, **lives.columns},
    )
    if check_wall:
        (progress or (lambda text: None))("finite elements at some stations")
        return with_wall_check(result, solution)
    return result


def _contour_x(solution: Solution) -> Array:
    contour = solution.prepared.contour
    even = np.linspace(contour.x_injector, contour.x_exit, 400)
    return np.unique(np.concatenate([even, contour.breakpoints]))


def _members(solution: Solution) -> Members:
    """Return the members of the band as arrays, unsolved ones as the nominal."""
    runs = [member if member.ok else solution.nominal for member in solution.members]
    return Members(np.stack([run.station for run in runs]), np.stack([run.total for run in runs]))


def _bands(
    summary: Mapping[str, float], edges: Edges, members: tuple[Marched, ...]
) -> dict[str, Band]:
    found = {}
    names = tuple(member.name for member in members if member.ok)
    for name in BANDED:
        low, high = edges.heads[name]
        rule = MEMBER_RULE
        if name.startswith("T_wall"):
            rule = FLOOR_RULE.replace("at least", "wall minus coolant at least")
        elif name.startswith("coolant_pressure"):
            rule = FLOOR_RULE
        rank = 1 + int(np.sum(edges.member_heads[name] < summary[name] * (1.0 - SAME)))
        found[name] = Band(float(low), summary[name], float(high), names, rule, rank)
    return found


def _opened(band: Band, count: int) -> Band:
    rule = f"{band.rule}; open, since {count} members were not solved"
    return replace(band, rule=rule, open=True)


def _solved(
    solution: Solution,
    nominal: limits.Run,
    edges: Edges,
) -> limits.Solved:
    """Return the runs as the limits are judged by them."""
    prepared = solution.prepared
    design = prepared.design

    def outcome(slot: WorstSlot) -> limits.Outcome:
        if not slot.run.ok:
            return stopped(prepared, slot)
        stations = columns(prepared, slot.run, slot.paths)
        return limits.Run(stations, {**nominal.totals, **worst_slot(solution, slot)})

    return limits.Solved(
        design=design,
        alloy=metals.liner(design),
        coolant=facts_of(design.coolant, prepared.coolant),
        nominal=nominal,
        band=(edges.run, *(_member(prepared, m) for m in solution.members if not m.ok)),
        worst=tuple(map(outcome, solution.corners)),
    )


def _member(prepared: Prepared, run: Marched) -> limits.Stopped:
    """Return why a band member stopped, where, and the state it had come to."""
    error = failure(prepared, run)
    detail = f" ({error.detail})" if error.detail else ""
    why = f"{run.name}: {error.status} at x = {error.station_x * 1e3:.0f} mm{detail}"
    return limits.Stopped(error.code, why, error.station_x)


def _margins(
    solution: Solution, solved: limits.Solved
) -> tuple[tuple[Margin, ...], tuple[Note, ...]]:
    """Judge nominal, unfavourable band edge and worst channel."""
    prepared = solution.prepared
    ends, said = uncooled_ends.judge_ends(prepared, float(solution.nominal.total[A.T_H0]), solved)
    return (*limits.margins(solved), *ends), (*said, *limits.notes(solved))


def _between_circuits(solution: Solution) -> tuple[list[Margin], list[Note]]:
    """Return what is to be said of the wall between circuits; its ends are judged by ``lip``."""
    x = solution.prepared.passage.x
    uncooled = [(a, b) for a, b in uncooled_spans(solution.prepared) if a >= x[0] and b <= x[-1]]
    spans = [f"x = {a * 1e3:.0f} to {b * 1e3:.0f} mm" for a, b in uncooled]
    if not spans:
        return [], []
    text = f"the wall at {' and '.join(spans)} lies between circuits and is not judged"
    if not any(a < 0.0 < b for a, b in uncooled):
        return [], [Note("uncooled wall", text)]
    return [uncooled_ends.not_judged("wall between circuits, the throat with it", text)], []


def injector_pressure(prepared: Prepared) -> float:
    """Return the pressure at the injector face [Pa], by the momentum balance if not given.

    Parameters
    ----------
    prepared : Prepared
        Design and its gas.

    Returns
    -------
    float
        Static pressure [Pa].
    """
    chamber = prepared.design.chamber
    if chamber.pressure_at == "injector":
        return chamber.pressure
    gas = np.concatenate(prepared.gas.core[:, 0])  # of all circuits
    barrel = gas[np.argmin(gas[:, A.G_MACH])]
    return float(barrel[A.G_P] + barrel[A.G_RHO] * barrel[A.G_U] ** 2)


def _basis_note(solution: Solution, bands: Mapping[str, Band]) -> Note:
    """Say what chose the nominal correlations and where they stand in the band."""
    prepared = solution.prepared
    models, chosen = prepared.design.models, solution.models
    by = "named by the case" if models.gas_side else f'models.basis "{models.basis}"'
    band = bands["T_wall_hot_max_K"]
    text = (
        f"gas side {chosen['gas_side']} ({by}); with {chosen['coolant_side']} and "
        f"{chosen['friction']} its peak wall temperature is number {band.rank} of "
        f"{len(band.members)} solved members of the band, counted from the coldest. Coolant side: "
        f"{solution.coolant.words}"
    )
    return Note("basis", text)


def _notes(
    solution: Solution,
    bands: Mapping[str, Band],
    found: tuple[Note, ...],
) -> tuple[Note, ...]:
    prepared, total = solution.prepared, solution.nominal.total
    notes = [_basis_note(solution, bands)]
    notes += [Note("case", text) for text in prepared.design.notes]
    notes += [Note("hot gas", text) for text in prepared.gas_table.notes]
    if LOW_THROAT not in solution.excluded:
        notes.append(Note("measured throats", f"{against_measurement()}: docs/validation.md"))
    models = prepared.design.models
    if (models.barrel_factor, models.throat_factor) != (1.0, 1.0):
        text = (
            f"every gas-side coefficient is multiplied by {models.barrel_factor:g} in the barrel "
            f"and {models.throat_factor:g} at the throat, as the case gives them from measurement"
        )
        notes.append(Note("fitted factors", text))
    if models.conductivity_factor != 1.0:
        text = (
            f"the liner conducts {models.conductivity_factor:g} times what its table has, as the "
            "case gives it"
        )
        notes.append(Note("conductivity factor", text))
    T_out = float(outlet_temperature(prepared, total))
    notes += [*prepared.notes, *film_feed_note(solution, T_out), *radiation_notes(solution)]
    notes.append(Note("not assessed", NOT_ASSESSED))
    notes += prepared.passage.notes
    notes += circuit_notes(solution)
    if solution.split is not None:
        notes.append(Note("manifolds", solution.split.text()))
    notes += flags.notes(solution)
    if total[A.T_PASSES] > 1:
        notes.append(
            Note(
                "iterations",
                f"outlet pressure and returned heat converged in {total[A.T_PASSES]:.0f} marches",
            )
        )
    unsolved = [member.name for member in solution.members if not member.ok]
    if unsolved:
        text = (
            f"{len(unsolved)} of {len(solution.members)} members of the band were not solved "
            f"({'; '.join(unsolved)}): they are most likely the hottest, and the band is open there"
        )
        notes.append(Note("band", text))
    notes += [Note("worst channel", text) for text in worst_texts(solution)]
    return (*notes, *found)


def _provenance(solution: Solution, case_hash: str, margins: tuple[Margin, ...]) -> dict[str, Any]:
    models = solution.prepared.design.models
    return {
        **made_with(*PACKAGES),
        "case_sha256": case_hash,
        "basis": None if models.gas_side else models.basis,
        "models": models_in_use(solution),
        "sources": used(solution, margins),
    }
