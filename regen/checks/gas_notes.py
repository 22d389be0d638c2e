"""What is to be said of the solved hot-gas side."""

from __future__ import annotations

import numpy as np

from regen.case.build import FLOWS_AS_FUEL
from regen.checks.findings import note
from regen.checks.stations import hot_gas
from regen.gas import radiation as gas_radiation
from regen.gas.feeds import species_of
from regen.physics import arrays as A
from regen.result import Note
from regen.solver.solve import Solution


def radiation_notes(solution: Solution) -> list[Note]:
    """Return the share of radiation in the nominal heat, or nothing where it is off.

    Parameters
    ----------
    solution : Solution
        Solved runs.

    Returns
    -------
    list of Note
        One note, or none.
    """
    prepared, nominal = solution.prepared, solution.nominal
    if prepared.design.models.radiation == "off":
        return []
    core, _ = hot_gas(prepared, nominal)
    passage, station = prepared.passage, nominal.station
    cooled = (station[:, A.O_T_SURFACE] / core[:, A.G_T]) ** 4
    radiated = core[:, A.G_RADIATION] * (1.0 - cooled)
    share = 1.0 / np.array([path.passes for path in prepared.paths])
    line = 2.0 * np.pi * passage.r * radiated * share[prepared.rows.circuit.astype(int) - 1]
    total = sum(
        float(np.sum(0.5 * (line[rows][1:] + line[rows][:-1]) * passage.step_gas[rows][1:]))
        for rows in prepared.rows.pieces
    )
    most = int(np.argmax(radiated))
    if not (radiated[most] > 0.0 and nominal.total[A.T_HEAT] > 0.0):
        return [note("radiation: taken up")]
    return [
        note(
            "radiation",
            float(passage.x[most]),
            model=prepared.design.models.radiation,
            most=radiated[most] / 1e6,
            share=radiated[most] / station[most, A.O_Q],
            whole=total / nominal.total[A.T_HEAT],
            uncertain=gas_radiation.UNCERTAIN,
        )
    ]


def film_feed_note(solution: Solution, T_out: float) -> list[Note]:
    """Return what to give if the film comes from the jacket, or nothing where that cannot be.

    Parameters
    ----------
    solution : Solution
        Solved runs.
    T_out : float
        Coolant temperature at the jacket's outlet [K].

    Returns
    -------
    list of Note
        One note where the film is of the coolant's fluid and takes the temperature of storage.
    """
    design, report = solution.prepared.design, solution.prepared.film
    film, coolant = design.film, design.coolant.fluid
    if film is None or report is None or film.temperature is not None:
        return []
    if film.fluid not in (coolant, FLOWS_AS_FUEL.get(coolant)):
        return []
    gas = film.state == "liquid" and T_out >= report.boils_at and species_of(film.fluid).gas
    state = ' and film.state = "gas"' if gas else ""
    return [note("film", stored=report.temperature, T_out=round(T_out, -1), state=state)]
