"""Circuits and passes of a solved design: their totals, and what a reviewer must know of them."""

from __future__ import annotations

import numpy as np

from regen.checks.runs import Stopped
from regen.checks.stations import outlet_temperature, peak_at, worst_headlines
from regen.geometry.circuits import Path
from regen.physics import arrays as A
from regen.physics import status as st
from regen.result import CircuitResult, Note
from regen.solver.manifolds import percent
from regen.solver.prepare import Prepared
from regen.solver.solve import Marched, Passed, Solution, WorstSlot


def circuit_results(prepared: Prepared, run: Marched) -> tuple[CircuitResult, ...]:
    """Return each circuit's flow, heat, pressures, temperatures and hottest wall.

    Parameters
    ----------
    prepared : Prepared
        Tables the run was solved with.
    run : Marched
        Solved run.

    Returns
    -------
    tuple of CircuitResult
        In the order of the case.
    """
    results = []
    for path, part in zip(prepared.paths, run.circuits, strict=True):
        T_wall, x_wall = peak_at(prepared, run.station, A.O_T_WALL_HOT, path.number)
        T_in = prepared.design.coolant.inlet_temperature
        T_out = outlet_temperature(prepared, part.total)
        total = part.total
        results.append(
            CircuitResult(
                name=path.name,
                mass_flow_kg_s=float(total[A.T_MASS_FLOW]),
                flow_share=float(total[A.T_MASS_FLOW] / run.total[A.T_MASS_FLOW]),
                temperature_in_K=T_in,
                temperature_out_K=float(T_out),
                temperature_rise_K=float(T_out - T_in),
                pressure_in_Pa=float(total[A.T_P_IN]),
                pressure_out_Pa=float(total[A.T_P_OUT]),
                pressure_drop_Pa=float(total[A.T_P_IN] - total[A.T_P_OUT]),
                heat_W=float(total[A.T_HEAT]),
                T_wall_hot_max_K=float(T_wall),
                x_T_wall_hot_max_m=float(x_wall),
                x_from_m=float(path.x[0]),
                x_to_m=float(path.x[-1]),
            )
        )
    return tuple(results)


def stopped(prepared: Prepared, slot: WorstSlot) -> Stopped:
    """Return why the worst channel was not solved at one corner.

    Parameters
    ----------
    prepared : Prepared
        Design and tables.
    slot : WorstSlot
        A corner that was not solved.

    Returns
    -------
    Stopped
        With the station, and the temperatures of wall and coolant up to there.
    """
    n = next(n for n, part in enumerate(slot.run.circuits) if part.code != st.OK)
    path, part = slot.paths[n], slot.run.circuits[n]
    circuit = f" in circuit {path.name}" if len(prepared.paths) > 1 else ""
    code = int(part.code)
    if code == st.NOT_CONVERGED:
        why = "no flow was found at which it loses its neighbours' pressure drop"
        return Stopped(code, why + circuit)
    x = float(path.flowing("x")[min(int(part.stop), path.order.size - 1)])
    why = f"{st.TEXTS[code].what}{circuit}, at x = {x * 1e3:.1f} mm"
    if part.stop > 0:
        before = part.station[: part.stop]
        last = before[-1]
        why += (
            f"; up to there the wall reaches {before[:, A.O_T_WALL_HOT].max():.0f} K, and at the "
            f"station before the coolant is at {last[A.O_T_COOLANT]:.0f} K, "
            f"{last[A.O_P_COOLANT] / 1e5:.1f} bar"
        )
    return Stopped(code, why, x)


def worst_texts(solution: Solution) -> list[str]:
    """Return which slot is the worst, what flow it takes, and why corners were not solved.

    Parameters
    ----------
    solution : Solution
        Solved runs.

    Returns
    -------
    list of str
        For the notes.
    """
    texts = []
    slot, every = solution.hottest, solution.corners
    if slot.run.ok:
        texts.append(f"worst corner for the hot wall: {slot.corner.text}; {_flow_text(solution)}")
    stops: dict[int, list[str]] = {}
    for one in every:
        if not one.run.ok:
            stop = stopped(solution.prepared, one)
            stops.setdefault(stop.code, []).append(f"{one.corner.text}: {stop.why}")
    if stops:
        lost = sum(map(len, stops.values()))
        reasons = "; ".join(
            first + (f"; the like at {len(others)} more" if others else "")
            for first, *others in stops.values()
        )
        texts.append(f"not solved at {lost} of {len(every)} corners of the tolerances: {reasons}")
    if any(one.several for one in every):
        texts.append(
            "several flows carry its neighbours' pressure drop: the lowest stable one is taken, at "
            "which less flow loses less"
        )
    return texts


def _flow_text(solution: Solution) -> str:
    """Return what flow the worst slot takes at its hottest corner."""
    slot, nominal = solution.hottest, solution.nominal
    worst, prepared = slot.run, solution.prepared
    cause = "the manifolds" if solution.split else "shop.flow_shortfall"
    what = (
        "what passes under its streak at its neighbours' pressure drop, "
        f"less {percent(solution.shortfall)} by {cause}"
    )
    if len(prepared.paths) == 1:
        share = worst.total[A.T_MASS_FLOW] / nominal.total[A.T_MASS_FLOW]
        return f"takes {share:.0%} of the mean flow: {what}"
    shares = [
        part.total[A.T_MASS_FLOW] / mean.total[A.T_MASS_FLOW]
        for part, mean in zip(worst.circuits, nominal.circuits, strict=True)
    ]
    hottest = prepared.paths[int(worst_headlines(prepared, worst)["circuit"]) - 1].name
    return (
        f"one slot of each circuit is judged, with {min(shares):.0%} to {max(shares):.0%} of the "
        f"mean flow: {what}; the hottest, given above, is in circuit {hottest}"
    )


def circuit_notes(solution: Solution) -> list[Note]:
    """Return what is to be said of several circuits, of passes and of plenums.

    Parameters
    ----------
    solution : Solution
        Solved runs.

    Returns
    -------
    list of Note
        Empty for one circuit that goes one way through one number of slots.
    """
    prepared = solution.prepared
    notes = []
    if len(prepared.paths) > 1:
        notes.append(Note("circuits", _split_text(solution)))
    for path, part in zip(prepared.paths, solution.nominal.circuits, strict=True):
        name = f"circuit {path.name}: " if len(prepared.paths) > 1 else ""
        changes = np.flatnonzero(path.plenum[1:]) + 1
        for at in changes:
            count, x = path.flowing("count"), float(path.flowing("x")[at])
            text = (
                f"{name}{count[at - 1]:.0f} slots end and {count[at]:.0f} begin in a plenum at "
                f"x = {x * 1e3:.1f} mm: the coolant comes to rest there and is let in again, with "
                "the losses of outlet and inlet"
            )
            notes.append(Note("change of count", text, x))
        if path.passes == 2:
            notes.append(_neighbours(path, part, name))
    return notes


def _split_text(solution: Solution) -> str:
    prepared, circuits = solution.prepared, solution.nominal.circuits
    first = prepared.paths[0].circuit
    if first.mass_flow is None and first.share is None:
        low = min(_drop(part) for part in circuits)
        return (
            "the coolant is split so that all circuits lose the same pressure between one inlet "
            f"and one outlet manifold, {low / 1e5:.2f} bar; every band member has its own split"
        )
    drops = {path.name: _drop(part) for path, part in zip(prepared.paths, circuits, strict=True)}
    most = max(drops, key=lambda name: drops[name])
    return (
        "the flow of each circuit is metered as the case says; the pressure drop given is that "
        f"of circuit {most}, the largest, and a valve must take up what the others do not lose"
    )


def _drop(part: Passed) -> float:
    return float(part.total[A.T_P_IN] - part.total[A.T_P_OUT])


def _neighbours(path: Path, part: Passed, name: str) -> Note:
    """Say how far the slots down and back differ, which conduction would even out."""
    T = np.empty((2, path.passage.x.size))
    for row in (0, 1):
        at = path.pass_number == row + 1
        T[row, path.order[at]] = part.station[at, A.O_T_WALL_HOT]
    apart, mean = np.abs(T[0] - T[1]), T.mean(axis=0)
    most, hottest = int(np.argmax(apart)), int(np.argmax(mean))
    x = path.passage.x
    text = (
        f"{name}neighbouring slots, down and back, differ by up to {apart[most]:.0f} K in "
        f"hot-wall temperature (x = {x[most] * 1e3:.1f} mm: {T[0, most]:.0f} K down, "
        f"{T[1, most]:.0f} K back). Conduction across the lands evens this out and is not in a "
        f"one-dimensional march: the truth lies between, and the mean of both is at most "
        f"{mean[hottest]:.0f} K (x = {x[hottest] * 1e3:.1f} mm). The hotter is judged"
    )
    return Note("down and back", text, float(x[most]))
