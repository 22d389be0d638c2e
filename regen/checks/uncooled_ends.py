"""Wall beyond the slots: steady conduction along an uncooled end to where the slots begin.

A fin of one dimension: the gas heats the hot side, outside and end pass no heat, and where the
slots end the wall has the hot wall's temperature there. What the fin takes up it gives to the
slots' end; the march does not count that heat, it is reported.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from regen.checks import limits
from regen.checks.findings import note, text
from regen.checks.registry import Rule
from regen.checks.runs import Compared, Run, Solved
from regen.checks.thermal_limits import against_working_limit, hot_wall_rule
from regen.gas import table as hotgas
from regen.metals import selection as metals
from regen.physics import arrays as A
from regen.physics.gasside import bartz, station_scaling
from regen.physics.march import gas_at
from regen.result import COLUMN_NAMES, Array, Column, Integers, Margin, Note
from regen.solver.layout import Profiles
from regen.solver.prepare import WALL_NODES, Prepared

NODES = 81
"""Places along an end; the fin's second-order error is below 0.1 % of gas less wall."""

SHORTEST = 1e-6
"""Ends shorter than this are rounding of the contour [m]."""

SETTLED = 1e-4
"""Largest last change of temperature [K]."""

SLOPE_STEP = 1e-2
"""Step over which the slope of the flux is taken [K]."""

MAX_PASSES = 60

AT_ONCE = 128
"""Fins that are solved at once: each has a full matrix."""

OfTemperature = Callable[[Array], Array]


class Heated(NamedTuple):
    """Solved fins: temperature (..., N) [K] and heat into the cooled wall (...) [W]."""

    T: Array
    heat: Array


def solve_fin(
    s: Array, heated: Array, conductance: OfTemperature, flux: OfTemperature, T_base: float | Array
) -> Heated:
    """Solve steady conduction along fins that end adiabatic, each as if it were alone.

    Parameters
    ----------
    s : ndarray
        Rising positions (N,) along the fin, the cooled wall first [m].
    heated : ndarray
        Heated width at each position (N,) [m].
    conductance : callable
        Conductivity times cross-section (..., N) [W m/K] of temperature (..., N) [K].
    flux : callable
        Heat flux into the hot side (..., N) [W/m2] of temperature (..., N) [K].
    T_base : float or ndarray
        Temperature of the cooled wall (...) [K].

    Returns
    -------
    Heated
        Temperatures, and the heat that each fin takes up.

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
    base = np.asarray(T_base, dtype=np.float64)
    T = np.repeat(base[..., None], s.size, axis=-1)
    every, inner = np.arange(s.size), np.arange(s.size - 1)
    settled = np.zeros(base.shape, dtype=bool)
    for _ in range(MAX_PASSES):
        along = conductance(T)
        link = 0.5 * (along[..., 1:] + along[..., :-1]) / step
        q = flux(T)
        slope = (q - flux(T + SLOPE_STEP)) / SLOPE_STEP
        matrix = np.zeros((*T.shape, s.size))
        matrix[..., every, every] = area * slope
        matrix[..., inner, inner] += link
        matrix[..., inner + 1, inner + 1] += link
        matrix[..., inner, inner + 1] -= link
        matrix[..., inner + 1, inner] -= link
        right = area * (q + slope * T)
        matrix[..., 0, :], right[..., 0] = 0.0, base
        matrix[..., 0, 0] = 1.0
        last, new = T, np.linalg.solve(matrix, right[..., None])[..., 0]
        T = np.where(settled[..., None], T, new)
        settled |= np.abs(T - last).max(axis=-1) <= SETTLED
        if settled.all():
            return Heated(T, flux(T) @ area)
    message = "the temperatures of an uncooled end do not settle"
    raise RuntimeError(message)


@dataclass(frozen=True, slots=True, eq=False)
class UncooledEnd:
    """One uncooled end of n designs: wall and gas (..., N) from the slots' end to the wall's end.

    ``rows`` are those of the slots' end, one a pass; the hottest holds. ``layers`` pairs the
    cross-section of each metal [m2] with its conductivity on ``WALL_NODES`` [W/(m K)], (n, ...)
    each. ``h_flow`` [-] and ``T_aw_change`` [K] count from the slots' end; ``rise`` [-] and ``T0``
    [K] are those of the closed gas-side form, (n, ...).
    """

    name: str
    rows: Integers
    x: Array
    s: Array
    heated: Array
    thickness: Array
    layers: tuple[tuple[Array, Array], ...]
    h_flow: Array
    rise: Array
    T0: Array
    T_aw_change: Array

    def hottest(self, run: Run) -> Integers:
        """Return the row of the hottest wall at the slots' end of each run (...) [-]."""
        hot = run.stations["T_wall_hot_K"][..., self.rows]
        return np.asarray(self.rows[np.argmax(hot, axis=-1)])

    def solve(self, run: Run) -> Heated:
        """Solve the end of one run (S,), or of K runs of each design (K n, S), n by n.

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
        row = self.hottest(run)
        base = [
            np.take_along_axis(run.stations[name], row[..., None], axis=-1)[..., 0]
            for name in ("T_wall_hot_K", "h_gas_W_m2K", "T_aw_K")
        ]
        if row.ndim == 0:
            return self._solve(np.asarray(0), *base)
        design = np.arange(row.size) % self.T0.size
        parts = [
            self._solve(design[at : at + AT_ONCE], *(of[at : at + AT_ONCE] for of in base))
            for at in range(0, row.size, AT_ONCE)
        ]
        return Heated(*(np.concatenate(column) for column in zip(*parts, strict=True)))

    def _solve(self, n: Integers, T_base: Array, h_base: Array, T_aw: Array) -> Heated:
        """Solve the end of designs n (...) from what their slots' ends have (...)."""
        form = np.vectorize(bartz, otypes=[float])
        rise, T0, driving = self.rise[n], self.T0[n][..., None], T_aw[..., None]
        at_base = form(1.0, rise[..., 0], self.T0[n], T_base)[..., None]

        def flux(T: Array) -> Array:
            h = h_base[..., None] * form(self.h_flow[n], rise, T0, T) / at_base
            return np.asarray(h * (driving + self.T_aw_change[n] - T))

        def conductance(T: Array) -> Array:
            parts = [area[n] * _conductivity(T, k[n]) for area, k in self.layers]
            return np.asarray(sum(parts))

        return solve_fin(self.s, self.heated, conductance, flux, T_base)


def _conductivity(T: Array, k: Array) -> Array:
    """Return the conductivity at temperatures (..., N) from a table (..., nodes) of each."""
    if T.ndim == 1:
        return np.asarray(np.interp(T, WALL_NODES, k))
    pairs = zip(T, k, strict=True)
    return np.stack([np.interp(of_fin, WALL_NODES, own) for of_fin, own in pairs])


def end_of(prepared: Prepared, h0: Array, name: str) -> UncooledEnd | None:
    """Return an uncooled end of n designs.

    Parameters
    ----------
    prepared : Prepared
        Contour, slots and gas.
    h0 : ndarray
        Total enthalpy of each design's gas, returned heat included (n,) [J/kg].
    name : str
        "injector" or "nozzle".

    Returns
    -------
    UncooledEnd or None
        None if the slots reach the contour's end or the throat is in it.
    """
    contour, designs, cooled = prepared.contour, prepared.designs, prepared.passage.x
    start = float(cooled.min() if name == "injector" else cooled.max())
    stop = contour.x_injector if name == "injector" else contour.x_exit
    if abs(stop - start) <= SHORTEST or start * stop < 0.0:
        return None
    x = np.linspace(start, stop, NODES)
    r, cosine = contour.radius(x), np.cos(contour.slope_angle(x))
    wall = Profiles.of([design.liner.wall for design in designs])
    depth = Profiles.of([design.channels.depth for design in designs])
    factor = np.array([[design.models.conductivity_factor] for design in designs])
    design, none = prepared.design, np.zeros((len(designs), NODES))
    parts = [(metals.liner(design), wall.at(x) + depth.at(x), factor)]
    parts += [(metal, t + none, np.ones_like(factor)) for metal, t in metals.closeout(design)]
    layers, inside = [], none
    for metal, thickness, of_design in parts:
        middle = r + cosine * (inside + 0.5 * thickness)
        conductivity = of_design * metal.conductivity_grid(WALL_NODES)
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
    core, stagnation = np.empty((h0.size, *gas.core.shape[2:])), np.empty((h0.size, A.N_STAGNATION))
    for n, own in enumerate(h0):
        gas_at(gas, 0, float(own), core[n], stagnation[n])
    scale = np.vectorize(station_scaling, otypes=[float, float])
    h_flow, rise = scale(1.0, stagnation[:, A.S_GAMMA, None], ratio, core[..., A.G_MACH])
    T_aw = core[..., A.G_T_AW]
    return UncooledEnd(
        name=name,
        rows=np.flatnonzero(np.abs(cooled - start) < SHORTEST),
        x=x,
        s=np.append(0.0, np.cumsum(np.hypot(np.diff(x), np.diff(r)))),
        heated=2.0 * np.pi * r,
        thickness=inside[:, 0],
        layers=tuple(layers),
        h_flow=h_flow / h_flow[:, :1],
        rise=rise,
        T0=stagnation[:, A.S_T0],
        T_aw_change=T_aw - T_aw[:, :1],
    )


def ends_of(prepared: Prepared, h0: Array) -> tuple[UncooledEnd, ...]:
    """Return the uncooled ends, as ``end_of``; ``h0`` (n,) [J/kg]."""
    return tuple(filter(None, (end_of(prepared, h0, name) for name in ("injector", "nozzle"))))


def rule_of(end: UncooledEnd, solved: Solved) -> Rule:
    """Return the rule for the peak temperature of an end.

    Parameters
    ----------
    end : UncooledEnd
        One end of n designs.
    solved : Solved
        Their runs.

    Returns
    -------
    Rule
        For one run, or for K runs of each design.
    """

    def compare(run: Run) -> Compared:
        T = end.solve(run).T
        rows = np.arange(run.stations["x_m"].shape[-1])
        held = solved.alloy.value("thermal_conductivity", T).note
        top = np.broadcast_to(T.max(axis=-1)[..., None], (*T.shape[:-1], rows.size))
        at_end = rows == end.hottest(run)[..., None]
        return against_working_limit(solved, top, asked=at_end, note=held)

    title = f"uncooled wall at the {end.name} end, {_span(end.x[0], end.x[-1])}"
    return hot_wall_rule(solved, f"{end.name}_lip_temperature", title, compare)


def judge_ends(ends: tuple[UncooledEnd, ...], solved: Solved) -> Iterator[tuple[Margin, Note]]:
    """Yield the margin of the peak temperature of each end of one design, and how it came about.

    Parameters
    ----------
    ends : tuple of UncooledEnd
        Its ends.
    solved : Solved
        The solved runs.

    Yields
    ------
    tuple of (Margin, Note)
        At the hottest place of the nominal run.
    """
    for end in ends:
        rule = rule_of(end, solved)
        margin = limits.judge(rule.limit, solved, rule.compare)
        nominal = end.solve(solved.nominal)
        heat = float(nominal.heat)
        x = float(end.x[int(np.argmax(nominal.T))])
        whole = float(solved.nominal.totals["heat_total_W"])
        share = f" ({heat / whole:.1%} of the coolant's heat)" if whole > 0.0 else ""
        yield (
            replace(margin, x_m=x),
            note(
                "uncooled wall: end",
                x,
                span=_span(end.x[0], end.x[-1]),
                peak=round(float(nominal.T.max()), -1),
                heat=heat / 1e3,
                share=share,
                thickness=end.thickness[0] * 1e3,
            ),
        )


def unjudged(prepared: Prepared) -> tuple[tuple[Margin, ...], tuple[Note, ...]]:
    """Return what is to be said of wall without slots that is no end: the throat, and gaps.

    Parameters
    ----------
    prepared : Prepared
        Contour and circuits.

    Returns
    -------
    tuple of (tuple of Margin, tuple of Note)
        An open margin where the throat has no slots, else a note of gaps between circuits.
    """
    x, contour = prepared.passage.x, prepared.contour
    whys: dict[str, str] = {}
    notes: tuple[Note, ...] = ()
    if not x[0] <= 0.0 <= x[-1]:
        span = _span(contour.x_injector, x[0]) if x[0] > 0.0 else _span(x[-1], contour.x_exit)
        whys["outside the slots"] = text("uncooled wall: throat", span=span)
    cooled = sorted((float(path.x[0]), float(path.x[-1])) for path in prepared.paths)
    gaps = [(a, b) for (_, a), (b, _) in zip(cooled, cooled[1:], strict=False) if b - a > SHORTEST]
    if gaps:
        between = note("uncooled wall: gaps", spans=" and ".join(_span(a, b) for a, b in gaps))
        if any(a < 0.0 < b for a, b in gaps):
            whys["between circuits"] = between.text
        else:
            notes = (between,)
    return tuple(_not_judged(where, why) for where, why in whys.items()), notes


def _span(a: float, b: float) -> str:
    return f"x = {min(a, b) * 1e3:.0f} to {max(a, b) * 1e3:.0f} mm"


def _not_judged(where: str, why: str) -> Margin:
    """Return the open margin of a throat that has no slots."""
    return Margin(
        name="uncooled_wall",
        text=f"wall {where}, the throat with it",
        unit="K",
        limit=None,
        kind="max",
        columns={name: Column("unknown", why=why) for name in COLUMN_NAMES},
        x_m=0.0,
        verdict="open",
        source="common_practice",
        note=f"{why}; cool the throat, or judge that wall by other means",
        closes="channels.cooled_to",
    )
