"""Wall beyond the slots: steady conduction along an uncooled end to where the slots begin.

A fin of one dimension: the gas heats the hot side, outside and end pass no heat, and where the
slots end the wall has the hot wall's temperature there. What the fin takes up it gives to the
slots' end; the march does not count that heat, it is reported.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.checks import limits
from regen.gas import table as hotgas
from regen.metals import selection as metals
from regen.physics import arrays as A
from regen.physics.gasside import bartz, station_scaling
from regen.physics.march import gas_at
from regen.result import COLUMN_NAMES, Array, Column, Margin, Note
from regen.solver.prepare import WALL_NODES, Prepared

NODES = 81
"""Places along a lip; the fin's second-order error is below 0.1 % of gas less wall."""

SHORTEST = 1e-6
"""Ends shorter than this are rounding of the contour [m]."""

SETTLED = 1e-4
"""Largest last change of temperature [K]."""

SLOPE_STEP = 1e-2
"""Step over which the slope of the flux is taken [K]."""

MAX_PASSES = 60

OfTemperature = Callable[[Array], Array]


class Heated(NamedTuple):
    """A solved fin: temperature (N,) [K] and heat into the cooled wall [W]."""

    T: Array
    heat: float


def solve_fin(
    s: Array, heated: Array, conductance: OfTemperature, flux: OfTemperature, T_base: float
) -> Heated:
    """Solve steady conduction along a fin that ends adiabatic.

    Parameters
    ----------
    s : ndarray
        Rising positions (N,) along the fin, the cooled wall first [m].
    heated : ndarray
        Heated width at each position (N,) [m].
    conductance : callable
        Conductivity times cross-section (N,) [W m/K] of temperature (N,) [K].
    flux : callable
        Heat flux into the hot side (N,) [W/m2] of temperature (N,) [K].
    T_base : float
        Temperature of the cooled wall [K].

    Returns
    -------
    Heated
        Temperatures, and the heat that the fin takes up.

    Raises
    ------
    RuntimeError
        If the temperatures do not settle.

    Notes
    -----
    Cells around the nodes, the first and last of half length. The flux is taken with its slope;
    the conductance follows one pass behind.
    """
    step = np.diff(s)
    area = heated * 0.5 * (np.append(step, 0.0) + np.append(0.0, step))
    T = np.full(s.size, T_base)
    inner = np.arange(s.size - 1)
    for _ in range(MAX_PASSES):
        along = conductance(T)
        link = 0.5 * (along[1:] + along[:-1]) / step
        q = flux(T)
        slope = (q - flux(T + SLOPE_STEP)) / SLOPE_STEP
        matrix = np.diag(area * slope)
        matrix[inner, inner] += link
        matrix[inner + 1, inner + 1] += link
        matrix[inner, inner + 1] -= link
        matrix[inner + 1, inner] -= link
        right = area * (q + slope * T)
        matrix[0], right[0] = 0.0, T_base
        matrix[0, 0] = 1.0
        last, T = T, np.linalg.solve(matrix, right)
        if np.abs(T - last).max() <= SETTLED:
            return Heated(T, float(area @ flux(T)))
    message = "the temperatures of an uncooled end do not settle"
    raise RuntimeError(message)


@dataclass(frozen=True, slots=True, eq=False)
class Lip:
    """One uncooled end: its wall and its gas, arrays (N,) from the slots' end to the wall's end.

    ``rows`` are those of the slots' end, one a pass; the hottest holds. ``layers`` pairs the
    cross-section of each metal [m2] with its conductivity on ``WALL_NODES`` [W/(m K)]. ``h_flow``
    [-] and ``T_aw_change`` [K] count from the slots' end; ``rise`` [-] and ``T0`` [K] are those of
    the closed gas-side form.
    """

    name: str
    rows: NDArray[np.int64]
    x: Array
    s: Array
    heated: Array
    thickness: float
    layers: tuple[tuple[Array, Array], ...]
    h_flow: Array
    rise: Array
    T0: float
    T_aw_change: Array

    def hottest(self, run: limits.Run) -> int:
        """Return the row of the hottest wall at the slots' end of a run."""
        return int(self.rows[np.argmax(run.stations["T_wall_hot_K"][self.rows])])

    def solve(self, run: limits.Run) -> Heated:
        """Solve the end of one run; temperatures in K, heat in W.

        Parameters
        ----------
        run : Run
            Its hot wall, film coefficient and adiabatic wall temperature at the slots' end hold
            there.

        Returns
        -------
        Heated
            Temperatures from the slots' end on.

        Raises
        ------
        RuntimeError
            If the temperatures do not settle.
        """
        stations, row = run.stations, self.hottest(run)
        T_base, h_base, T_aw = (
            float(stations[name][row]) for name in ("T_wall_hot_K", "h_gas_W_m2K", "T_aw_K")
        )
        form = np.vectorize(bartz, otypes=[float])
        at_base = float(form(1.0, self.rise[0], self.T0, T_base))

        def flux(T: Array) -> Array:
            h = h_base * form(self.h_flow, self.rise, self.T0, T) / at_base
            return np.asarray(h * (T_aw + self.T_aw_change - T))

        def conductance(T: Array) -> Array:
            return np.asarray(sum(a * np.interp(T, WALL_NODES, k) for a, k in self.layers))

        return solve_fin(self.s, self.heated, conductance, flux, T_base)


def _lip(prepared: Prepared, h0: float, name: str) -> Lip | None:
    """Return an uncooled end, None if the slots reach the contour's end or the throat is in it."""
    contour, design, cooled = prepared.contour, prepared.design, prepared.passage.x
    start = float(cooled.min() if name == "injector" else cooled.max())
    stop = contour.x_injector if name == "injector" else contour.x_exit
    if abs(stop - start) <= SHORTEST or start * stop < 0.0:
        return None
    x = np.linspace(start, stop, NODES)
    r, cosine = contour.radius(x), np.cos(contour.slope_angle(x))
    solid = design.liner.wall.at(x) + design.channels.depth.at(x)
    parts = (
        (metals.liner(design), solid, design.models.conductivity_factor),
        (metals.plated_copper(design), design.closeout.copper + 0.0 * x, 1.0),
        (metals.jacket(design), design.closeout.jacket + 0.0 * x, 1.0),
    )
    layers, inside = [], np.zeros_like(x)
    for metal, thickness, factor in parts:
        middle = r + cosine * (inside + 0.5 * thickness)
        conductivity = factor * metal.conductivity_grid(WALL_NODES)
        layers.append((2.0 * np.pi * middle * thickness, conductivity))
        inside = inside + thickness
    ratio = np.maximum((r / contour.throat_radius) ** 2, 1.0)
    gas = hotgas.gas_at_stations(
        prepared.gas_table,
        ratio,
        np.full(x.shape, name == "nozzle"),
        factor=np.ones_like(x),
        throat_diameter=2.0 * contour.throat_radius,
        throat_curvature=contour.throat_curvature,
    )
    core, stagnation = np.empty(gas.core.shape[2:]), np.empty(A.N_STAGNATION)
    gas_at(gas, 0, h0, core, stagnation)
    scale = np.vectorize(station_scaling, otypes=[float, float])
    h_flow, rise = scale(1.0, stagnation[A.S_GAMMA], ratio, core[:, A.G_MACH])
    T_aw = core[:, A.G_T_AW]
    return Lip(
        name=name,
        rows=np.flatnonzero(np.abs(cooled - start) < SHORTEST),
        x=x,
        s=np.append(0.0, np.cumsum(np.hypot(np.diff(x), np.diff(r)))),
        heated=2.0 * np.pi * r,
        thickness=float(inside[0]),
        layers=tuple(layers),
        h_flow=h_flow / h_flow[0],
        rise=rise,
        T0=float(stagnation[A.S_T0]),
        T_aw_change=T_aw - T_aw[0],
    )


def judge_ends(
    prepared: Prepared, h0: float, solved: limits.Solved
) -> tuple[tuple[Margin, ...], tuple[Note, ...]]:
    """Judge the wall outside the cooled length.

    Parameters
    ----------
    prepared : Prepared
        Contour, slots and gas.
    h0 : float
        Total enthalpy of the gas, returned heat included [J/kg].
    solved : Solved
        The solved runs.

    Returns
    -------
    tuple of (tuple of Margin, tuple of Note)
        A margin of the peak temperature of each uncooled end, and a note of how it was found;
        unknown where the throat itself has no slots.
    """
    margins: list[Margin] = []
    notes: list[Note] = []
    for name in ("injector", "nozzle"):
        lip = _lip(prepared, h0, name)
        if lip is not None:
            margin, note = _judge(lip, solved)
            margins.append(margin)
            notes.append(note)
    cooled = prepared.passage.x
    if not cooled[0] <= 0.0 <= cooled[-1]:
        margins.append(_no_throat(prepared))
    return tuple(margins), tuple(notes)


def _span(a: float, b: float) -> str:
    return f"x = {min(a, b) * 1e3:.0f} to {max(a, b) * 1e3:.0f} mm"


def _judge(lip: Lip, solved: limits.Solved) -> tuple[Margin, Note]:
    where = _span(lip.x[0], lip.x[-1])

    def peak(run: limits.Run) -> limits.Hot:
        T = lip.solve(run).T
        asked = np.arange(run.stations["x_m"].size) == lip.hottest(run)
        held = solved.alloy.value("thermal_conductivity", T).note
        return limits.Hot(np.full(asked.shape, T.max()), asked, held)

    text = f"uncooled wall at the {lip.name} end, {where}"
    rule = limits.hot_wall_rule(solved, f"{lip.name}_lip_temperature", text, peak)
    margin = limits.judge(rule.limit, solved, rule.compare)
    found = lip.solve(solved.nominal)
    hottest = float(lip.x[int(np.argmax(found.T))])
    whole = float(solved.nominal.totals["heat_total_W"])
    share = f" ({found.heat / whole:.1%} of the coolant's heat)" if whole > 0.0 else ""
    said = (
        f"the wall at {where} has no slots: it peaks at {round(found.T.max(), -1):.0f} K at "
        f"x = {hottest * 1e3:.0f} mm and conducts {found.heat / 1e3:.1f} kW{share} into the slots' "
        "end, which the march does not count. Taken as a solid "
        f"wall of liner, copper and jacket, {lip.thickness * 1e3:.1f} mm thick, adiabatic outside "
        "and at its end, uniform through its thickness and at the hot wall's temperature where "
        "the slots end; film coefficient from there on by area, Mach number and wall temperature"
    )
    return replace(margin, x_m=hottest), Note("uncooled wall", said, hottest)


def not_judged(text: str, note: str) -> Margin:
    """Return the margin of a throat that has no slots: unknown.

    Parameters
    ----------
    text, note : str
        What wall it is, and why it is not judged.

    Returns
    -------
    Margin
        Open.
    """
    return Margin(
        name="uncooled_wall",
        text=text,
        unit="K",
        limit=None,
        kind="max",
        columns={name: Column("unknown", why=note) for name in COLUMN_NAMES},
        x_m=0.0,
        verdict="open",
        source="common_practice",
        note=f"{note}; cool the throat, or judge that wall by other means",
        closes="channels.cooled_to",
    )


def _no_throat(prepared: Prepared) -> Margin:
    contour, cooled = prepared.contour, prepared.passage.x
    before = cooled[0] > 0.0
    span = _span(contour.x_injector, cooled[0]) if before else _span(cooled[-1], contour.x_exit)
    note = (
        f"the wall at {span} lies outside the slots and is not judged: conduction along it means "
        "little at a throat"
    )
    return not_judged("wall outside the slots, the throat with it", note)
