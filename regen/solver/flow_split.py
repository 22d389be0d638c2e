"""Runs through all circuits of a design: one call of the core a step, for any number of members.

A single circuit is one call. With several, two things are common to them and are found here: the
split of the coolant at which all lose the same pressure, unless the case meters the flows, and
the heat that all of them together bring back to the chamber.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.physics.march import ENTHALPY_TOLERANCE
from regen.solver.prepare import Array, Prepared

SPLIT_TOLERANCE = 1e-6
"""Largest difference of a circuit's pressure drop from the mean of all over it [-]."""

MAX_STEPS = 40

FLOW_POWER = 1.8
"""Power of the flow that a pressure drop goes with, before two marches say it [-]."""

POWERS = (0.9, 20.0)
"""Its bounds: laminar flow, and flow that is nearly choked."""

RETREAT = 0.8
"""Factor on the share of a circuit that its coolant did not get through, or its inverse."""

LOST = (st.CHOKED, st.PRESSURE_LOST, st.GAS_COOLANT)
"""Ways to stop that less flow, and so less loss, may cure; most others ask for more flow."""

NARROW = 1e-3
"""Relative width between a share that starves and one that does not where no more is sought."""

STILL_FULL = 0.7
"""Part of the inlet pressure above which coolant that boiled was starved, not throttled."""

GUESSED_FRICTION = 0.02
"""Friction factor of the first guess of the split [-]."""


@dataclass(frozen=True)
class CircuitRuns:
    """M runs through C circuits: stations (M, C, S, fields), totals (M, C, fields).

    ``code`` and ``stop`` (M, C) are the core's; ``steps`` (M,) counts calls; ``settled`` (M,) is
    True where every circuit was solved and the split and the returned heat fit together.
    """

    station: Array
    total: Array
    code: NDArray[np.int64]
    stop: NDArray[np.int64]
    steps: NDArray[np.int64]
    settled: NDArray[np.bool_]


def through_circuits(
    prepared: Prepared, models: NDArray[Any], runs: NDArray[Any] | None = None
) -> CircuitRuns:
    """Solve M runs (M, C), those of the design for each model without them, through every circuit.

    ``models`` (M,) are ``arrays.MODEL``.
    """
    M, C = models.size, len(prepared.paths)
    runs = np.tile(prepared.run, (M, 1)) if runs is None else runs.copy()
    if C == 1:
        return march_circuits(prepared, runs, models)
    first = prepared.paths[0].circuit
    open_split = first.share is None and first.mass_flow is None
    returns = bool(runs["returns"].any())
    if not (open_split or returns):
        return march_circuits(prepared, runs, models)
    return _Search(prepared, runs, models, open_split, returns).solve()


def march_circuits(prepared: Prepared, runs: NDArray[Any], models: NDArray[Any]) -> CircuitRuns:
    """March runs (M, C) as they are given, in one call of the core."""
    M, C = runs.shape
    tables = prepared.geometry, prepared.gas, prepared.coolant, prepared.walls
    out, status = march_all(*tables, np.ascontiguousarray(runs.ravel()), np.repeat(models, C))
    status = status.reshape(M, C, 2)
    return CircuitRuns(
        out.station.reshape(M, C, *out.station.shape[1:]),
        out.total.reshape(M, C, -1),
        status[..., 0],
        status[..., 1],
        np.ones(M, dtype=np.int64),
        np.all(status[..., 0] == st.OK, axis=1),
    )


def resistance(geometry: A.Geometry, runs: NDArray[Any], friction: Array) -> Array:
    """Return the drop of runs (...) at one flow and density [any].

    ``friction`` (rows, S) is the friction factor times the step's length in diameters [-].
    """
    area = geometry.slots * geometry.width * geometry.depth
    row = runs["geometry"] if geometry.r.shape[0] > 1 else np.zeros(runs.shape, dtype=np.int64)
    ends = (1.0 + runs["inlet_loss"] + runs["outlet_loss"])[..., None]
    loss = (friction + geometry.loss)[row] + geometry.plenum[row] * ends
    return np.asarray(np.sum(loss / area[row] ** 2, axis=-1))


class _Search:
    """The search for split and returned heat, all members side by side."""

    def __init__(
        self,
        prepared: Prepared,
        runs: NDArray[Any],
        models: NDArray[Any],
        open_split: bool,
        returns: bool,
    ) -> None:
        self.prepared, self.runs, self.models = prepared, runs, models
        runs["returns"] = 0.0  # what all circuits bring back is found here
        self.open_split, self.returns = open_split, returns
        self.whole = {name: runs[name].copy() for name in ("mass_flow", "fuel_share")}
        self.feed_h0 = runs["h0"].copy()
        shape = runs.shape
        g = prepared.geometry  # first guess: one density, one friction factor
        diameters = g.step_passage * (g.width + g.depth) / (2.0 * g.width * g.depth)
        flow = resistance(g, runs, GUESSED_FRICTION * diameters) ** -0.5
        self.share = flow / flow.sum(axis=1, keepdims=True)
        self.before = np.full((2, *shape), np.nan)  # share and drop of the step before
        self.power = np.full(shape, FLOW_POWER)
        self.too_much, self.too_little = np.full(shape, np.inf), np.zeros(shape)

    def solve(self) -> CircuitRuns:
        """Return the runs at the split and the returned heat that fit together."""
        active = np.arange(self.runs.shape[0])
        result = self._march(active)
        now = result
        for step in range(1, MAX_STEPS + 1):
            goes_on = self._update(active, now)
            result.steps[active] = step
            result.settled[active] = ~goes_on & now.settled
            active = active[goes_on]
            if not active.size:
                break
            now = self._march(active)
            for name in ("station", "total", "code", "stop"):
                getattr(result, name)[active] = getattr(now, name)
        return result

    def _march(self, active: NDArray[np.int64]) -> CircuitRuns:
        if self.open_split:
            for name, whole in self.whole.items():
                self.runs[name] = self.share * whole
        return march_circuits(self.prepared, self.runs[active], self.models[active])

    def _update(self, active: NDArray[np.int64], now: CircuitRuns) -> NDArray[np.bool_]:
        """Move shares and enthalpies of the active members; return which of them go on."""
        solved = now.code == st.OK
        hopeless = np.any(now.code == st.GAS_RANGE, axis=1)
        if not self.open_split:
            hopeless = np.any(~solved, axis=1)
        missed = np.zeros(active.size, dtype=bool)
        if self.returns:
            heat = now.total[..., A.T_HEAT].sum(axis=1)
            gas_flow = now.total[:, 0, A.T_GAS_FLOW]  # 0 where the gas table was left
            back = heat / np.where(gas_flow > 0.0, gas_flow, np.inf)
            h0 = self.feed_h0[active] + back[:, None]
            missed |= np.any(np.abs(h0 - self.runs["h0"][active]) > ENTHALPY_TOLERANCE, axis=1)
            whole = np.all(solved, axis=1)
            self.runs["h0"][active[whole]] = h0[whole]
        if self.open_split:
            lost, starved = _unsolved(now)
            share, least = self.share[active], self.too_little[active]
            # asked for less again although it starves there: at one drop it gets too little
            hopeless |= np.any(starved & (share < least * (1.0 + NARROW)), axis=1)
            # what one circuit gives up another gets that has too much, or too little, already
            hopeless |= np.all(lost, axis=1) | np.all(starved, axis=1)
            missed |= self._move_shares(active, now, lost, starved)
        return np.asarray(~hopeless & missed)

    def _move_shares(
        self,
        active: NDArray[np.int64],
        now: CircuitRuns,
        lost: NDArray[np.bool_],
        starved: NDArray[np.bool_],
    ) -> NDArray[np.bool_]:
        """Move the shares of the active members; return which of them missed one drop for all."""
        solved = ~lost & ~starved
        p_in = now.total[..., A.T_P_IN]
        drop = p_in - now.total[..., A.T_P_OUT]
        mean = np.sum(np.where(solved, drop, 0.0), axis=1) / np.maximum(solved.sum(axis=1), 1)
        unknown = np.where(mean > 0.0, mean, 1.0)[:, None]
        drop = np.where(solved, drop, np.where(lost, p_in, unknown))
        share, before = self.share[active], self.before[:, active]
        with np.errstate(divide="ignore", invalid="ignore"):
            power = np.log(drop / before[1]) / np.log(share / before[0])
        known = solved & np.isfinite(power) & (np.abs(share / before[0] - 1.0) > 1e-9)
        power = np.where(known, np.clip(power, *POWERS), self.power[active])
        power = np.where(solved, power, 2.0)
        new = _equal_drop(share, drop, power)
        limit = np.where(lost, RETREAT * share, 0.5 * (share + self.too_much[active]))
        least = self.too_little[active]
        near = share < least * (1.0 + NARROW)
        new = np.maximum(np.minimum(new, limit), np.where(near, 0.0, 0.5 * (share + least)))
        new = np.where(starved, share / RETREAT, new)
        self.too_little[active] = np.maximum(least, np.where(starved, share, 0.0))
        self.too_much[active] = np.minimum(self.too_much[active], np.where(lost, share, np.inf))
        self.before[0, active] = np.where(solved, share, np.nan)
        self.before[1, active] = np.where(solved, drop, np.nan)
        self.power[active] = power
        mean = drop.mean(axis=1, keepdims=True)
        missed = np.any(np.abs(drop / mean - 1.0) > SPLIT_TOLERANCE, axis=1)
        missed = np.asarray(missed | ~np.all(solved, axis=1))
        self.share[active[missed]] = (new / new.sum(axis=1, keepdims=True))[missed]
        return missed


def _unsolved(now: CircuitRuns) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which runs (M, C) lost their pressure and which were starved of coolant."""
    p = now.station[..., A.O_P_COOLANT]
    last = np.take_along_axis(p, np.maximum(now.stop - 1, 0)[..., None], axis=-1)[..., 0]
    throttled = (now.code == st.BOILED) & (last < STILL_FULL * now.total[..., A.T_P_IN])
    lost = np.isin(now.code, LOST) | throttled
    return lost, (now.code != st.OK) & ~lost


def _equal_drop(share: Array, drop: Array, power: Array) -> Array:
    """Return the shares (M, C) at which drop (share'/share)^power is the same for all circuits."""
    level = np.log(drop).mean(axis=1, keepdims=True)
    for _ in range(30):
        parts = share * np.exp((level - np.log(drop)) / power)
        miss = np.log(parts.sum(axis=1, keepdims=True))
        slope = (parts / power).sum(axis=1, keepdims=True) / parts.sum(axis=1, keepdims=True)
        level = level - miss / slope
    return np.asarray(share * np.exp((level - np.log(drop)) / power))
