"""From solved runs to the result: columns, bands, margins, notes, verdict."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from regen.checks import flags, limits, start_stop, uncooled_ends
from regen.checks.band_extremes import Extremes
from regen.checks.circuits import circuit_notes, circuit_results, stopped, worst_notes
from regen.checks.findings import note
from regen.checks.gas_notes import film_feed_note, radiation_notes
from regen.checks.judge import BESIDE_SUMMARY, Evaluated, for_limits
from regen.checks.life import assess as life
from regen.checks.references import used
from regen.checks.runs import Outcome, Run, Solved, Stopped
from regen.checks.stations import GIVEN_TO_SLOTS, outlet_temperature
from regen.checks.strength.findings import assess
from regen.checks.wall_check import with_wall_check
from regen.design import Design
from regen.gas.flux import LOW_THROAT, MEASURED_THROAT
from regen.physics import arrays as A
from regen.physics import status as st
from regen.result import Array, Band, Margin, Note, Result
from regen.solver.bands import against_measurement
from regen.solver.prepare import Prepared, Progress
from regen.solver.solve import MIN_BAND, Marched, Solution, failure, models_in_use, solve_one
from regen.storage.cache import made_with

MEMBER_RULE = (
    "every combination of applicable gas-side, coolant-side and friction correlations, the closed "
    f"gas-side form also at {MEASURED_THROAT:g} of its throat flux unless the case gives the "
    "throat's factor"
)
FLOOR_RULE = f"{MEMBER_RULE}; at least {MIN_BAND:.0%} either way (common practice)"

SAME = 1e-9
"""Relative difference below which a member's value is that of the nominal."""

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
    solved = solve_one(design, progress)
    solution, evaluated = solved.one(0), Evaluated(solved)
    prepared, nominal = solution.prepared, evaluated.nominal.taken(0)
    judged = _for_limits(solution, evaluated)
    ends = uncooled_ends.ends_of(prepared, solved.nominal.total[:, A.T_H0])
    at_ends = tuple(uncooled_ends.judge_ends(ends, judged))
    unjudged, gaps = uncooled_ends.unjudged(prepared)
    margins = (*limits.margins(judged), *(margin for margin, _ in at_ends), *unjudged)
    strength = assess(judged, prepared.paths)
    lives = life.findings(judged)
    summary = _summary(solution, nominal)
    bands = _bands(summary, solution, evaluated.bands[0])
    notes = (*gaps, *(note for _, note in at_ends), *limits.notes(judged), *life.notes(lives))
    worst, worst_stations = _worst_channel(solution, evaluated)
    contour_x, along = _contour_x(solution), evaluated.bands[0].along
    result = Result(
        title=design.title,
        status="solved",
        verdict=limits.overall(margins),
        summary=summary,
        bands=bands,
        worst_channel=worst,
        margins=margins,
        notes=(*_notes(solution, bands), *notes),
        provenance=_provenance(solution, case_hash, margins),
        stations=dict(nominal.stations),
        station_bands={name: (low[0], high[0]) for name, (low, high) in along.items()},
        contour_x=contour_x,
        contour_r=prepared.contour.radius(contour_x),
        circuits=circuit_results(prepared, solution.nominal),
        worst_stations=worst_stations,
        excluded=dict(solution.excluded)
        | {run.name: f"not solved: {st.TEXTS[int(run.code)].what}" for run in _lost(solution)},
        findings=(
            *strength.findings,
            *lives.findings,
            *start_stop.findings(prepared, judged.nominal),
        ),
        checked={**strength.columns, **lives.columns},
    )
    if check_wall:
        (progress or (lambda text: None))("finite elements at some stations")
        return with_wall_check(result, solution)
    return result


def _contour_x(solution: Solution) -> Array:
    contour = solution.prepared.contour
    even = np.linspace(contour.x_injector, contour.x_exit, 400)
    return np.unique(np.concatenate([even, contour.breakpoints]))


def _lost(solution: Solution) -> list[Marched]:
    """Return the members of the band that were not solved."""
    return [member for member in solution.members if not member.ok]


def _summary(solution: Solution, nominal: Run) -> dict[str, float]:
    summary = {n: float(v) for n, v in nominal.totals.items() if n not in BESIDE_SUMMARY}
    lacks = {} if solution.split is None else {"maldistribution": solution.shortfall}
    return summary | lacks


def _bands(summary: Mapping[str, float], solution: Solution, extremes: Extremes) -> dict[str, Band]:
    """Return the bands of one design: open where a member was not solved.

    Members that stop are the hottest or thirstiest: what is left shows no edge.
    """
    lost, names = len(_lost(solution)), tuple(run.name for run in solution.members if run.ok)
    bands = {}
    for name, ((low,), (high,)) in extremes.heads.items():
        rule = MEMBER_RULE
        if name.startswith("T_wall"):
            rule = FLOOR_RULE.replace("at least", "wall minus coolant at least")
        elif name.startswith("coolant_pressure"):
            rule = FLOOR_RULE
        if lost:
            rule = f"{rule}; open, since {lost} members were not solved"
        below = extremes.member_heads[name][:, 0] < summary[name] * (1.0 - SAME)
        rank = 1 + int(np.sum(below))
        bands[name] = Band(float(low), summary[name], float(high), names, rule, rank, lost > 0)
    return bands


def _worst_channel(
    solution: Solution, evaluated: Evaluated
) -> tuple[dict[str, float], dict[str, Array]]:
    """Return summary and stations of the corner with the hottest wall, empty if none was solved."""
    if not solution.worst.ok:
        return {}, {}
    run = evaluated.worst.taken(int(evaluated.hottest[0]))
    lost = sum(not slot.run.ok for slot in solution.corners)
    none = (*BESIDE_SUMMARY, *GIVEN_TO_SLOTS)
    summary = {name: float(value) for name, value in run.totals.items() if name not in none}
    counted = {"corners": len(solution.corners), "corners_not_solved": lost}
    return summary | counted, dict(run.stations)


def _for_limits(solution: Solution, evaluated: Evaluated) -> Solved:
    """Return the runs as the limits are judged by them, with why others stopped."""
    stops = [_stopped(solution.prepared, member) for member in _lost(solution)]
    band: list[Outcome] = [evaluated.edge.taken(0), *stops]
    worst: Iterator[Outcome] = (
        evaluated.worst.taken(k) if slot.run.ok else stopped(solution.prepared, slot)
        for k, slot in enumerate(solution.corners)
    )
    return for_limits(solution.prepared, evaluated.nominal.taken(0), band, worst)


def _stopped(prepared: Prepared, run: Marched) -> Stopped:
    """Return why a band member stopped, where, and the state it had come to."""
    error = failure(prepared, run)
    detail = f" ({error.detail})" if error.detail else ""
    why = f"{run.name}: {error.status} at x = {error.station_x * 1e3:.0f} mm{detail}"
    return Stopped(error.code, why, error.station_x)


def _basis_note(solution: Solution, band: Band) -> Note:
    """Say what chose the nominal correlations and where they stand in the band."""
    models, chosen = solution.prepared.design.models, solution.models
    return note(
        "basis",
        by="named by the case" if models.gas_side else f'models.basis "{models.basis}"',
        chosen=chosen,
        rank=band.rank,
        members=len(band.members),
        why=solution.coolant.text,
    )


def _notes(solution: Solution, bands: Mapping[str, Band]) -> list[Note]:
    prepared, total = solution.prepared, solution.nominal.total
    models = prepared.design.models
    notes = [_basis_note(solution, bands["T_wall_hot_max_K"])]
    notes += [Note("case", text) for text in prepared.design.notes]
    notes += [Note("hot gas", text) for text in prepared.gas_table.notes]
    if LOW_THROAT not in solution.excluded:
        notes.append(note("measured throats", against=against_measurement()))
    if (models.barrel_factor, models.throat_factor) != (1.0, 1.0):
        notes.append(note("fitted factors", models=models))
    if models.conductivity_factor != 1.0:
        notes.append(note("conductivity factor", factor=models.conductivity_factor))
    T_out = float(outlet_temperature(prepared, total))
    notes += [*prepared.notes, *film_feed_note(solution, T_out), *radiation_notes(solution)]
    notes += [note("not assessed"), *prepared.passage.notes, *circuit_notes(solution)]
    if solution.split is not None:
        notes.append(Note("manifolds", solution.split.text()))
    notes += flags.notes(solution)
    if total[A.T_PASSES] > 1:
        notes.append(note("iterations", passes=total[A.T_PASSES]))
    if lost := [member.name for member in _lost(solution)]:
        size = len(solution.members)
        notes.append(note("band", lost=len(lost), members=size, names="; ".join(lost)))
    return notes + worst_notes(solution)


def _provenance(solution: Solution, case_hash: str, margins: tuple[Margin, ...]) -> dict[str, Any]:
    models = solution.prepared.design.models
    return {
        **made_with(*PACKAGES),
        "case_sha256": case_hash,
        "basis": None if models.gas_side else models.basis,
        "models": models_in_use(solution),
        "sources": used(solution, margins),
    }
