"""Circuits and passes of a solved design: their totals, and what a reviewer must know of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from regen.checks.findings import note, text
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
    results, T_in = [], prepared.design.coolant.inlet_temperature
    for path, part in zip(prepared.paths, run.circuits, strict=True):
        T_wall, x_wall = peak_at(prepared, run.station, A.O_T_WALL_HOT, path.number)
        total, T_out = part.total, outlet_temperature(prepared, part.total)
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
                pressure_drop_Pa=_drop(part),
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
        T_wall, bar = before[:, A.O_T_WALL_HOT].max(), last[A.O_P_COOLANT] / 1e5
        why += text("row: stopped", T_wall=T_wall, T_coolant=last[A.O_T_COOLANT], bar=bar)
    return Stopped(code, why, x)


def worst_notes(solution: Solution) -> list[Note]:
    """Return which slot is the worst, what flow it takes, and why corners were not solved.

    Parameters
    ----------
    solution : Solution
        Solved runs.

    Returns
    -------
    list of Note
        None, or up to three.
    """
    notes = []
    slot, every = solution.hottest, solution.corners
    if slot.run.ok:
        flow = _flow_text(solution)
        notes.append(note("worst channel: corner", corner=slot.corner.text, flow=flow))
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
        total = len(every)
        notes.append(note("worst channel: stopped", lost=lost, corners=total, reasons=reasons))
    if any(one.several for one in every):
        notes.append(note("worst channel: several flows"))
    return notes


def _flow_text(solution: Solution) -> str:
    """Return what flow the worst slot takes at its hottest corner."""
    slot, nominal = solution.hottest, solution.nominal
    worst, prepared = slot.run, solution.prepared
    cause = "the manifolds" if solution.split else "shop.flow_shortfall"
    basis = text("worst channel: flow", shortfall=percent(solution.shortfall), cause=cause)
    shares = [
        part.total[A.T_MASS_FLOW] / mean.total[A.T_MASS_FLOW]
        for part, mean in zip(worst.circuits, nominal.circuits, strict=True)
    ]
    if len(shares) == 1:
        return text("worst channel: one circuit", share=shares[0], basis=basis)
    hottest = prepared.paths[int(worst_headlines(prepared, worst)["circuit"]) - 1].name
    low, high = min(shares), max(shares)
    return text("worst channel: circuits", least=low, most=high, basis=basis, hottest=hottest)


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
    paths, parts = solution.prepared.paths, solution.nominal.circuits
    notes = [_split(paths, parts)] if len(paths) > 1 else []
    for path, part in zip(paths, parts, strict=True):
        name = f"circuit {path.name}: " if len(paths) > 1 else ""
        for at in np.flatnonzero(path.plenum[1:]):
            x, (end, begin) = float(path.flowing("x")[at + 1]), path.flowing("count")[at : at + 2]
            notes.append(note("change of count", x, circuit=name, end=end, begin=begin))
        if path.passes == 2:
            notes.append(_neighbours(path, part, name))
    return notes


def _split(paths: tuple[Path, ...], parts: Sequence[Passed]) -> Note:
    drops = {path.name: _drop(part) for path, part in zip(paths, parts, strict=True)}
    if paths[0].circuit.mass_flow is None and paths[0].circuit.share is None:
        return note("circuits: one drop", drop=min(drops.values()) / 1e5)
    return note("circuits: metered", most=max(drops, key=lambda name: drops[name]))


def _drop(part: Passed) -> float:
    return float(part.total[A.T_P_IN] - part.total[A.T_P_OUT])


def _neighbours(path: Path, part: Passed, name: str) -> Note:
    """Say how far the slots down and back differ, which conduction would even out."""
    T = np.empty((2, path.passage.x.size))
    for row in (0, 1):
        at = path.pass_number == row + 1
        T[row, path.order[at]] = part.station[at, A.O_T_WALL_HOT]
    apart, mean, x = np.abs(T[0] - T[1]), T.mean(axis=0), path.passage.x
    most, hottest = int(np.argmax(apart)), int(np.argmax(mean))
    return note(
        "down and back",
        float(x[most]),
        circuit=name,
        apart=apart[most],
        down=T[0, most],
        back=T[1, most],
        mean=mean[hottest],
        x_mean=x[hottest] * 1e3,
    )
