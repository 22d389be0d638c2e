"""The worst channel: one slot at every corner of the shop's tolerances, and the flow it takes.

One slot changes neither the chamber nor the manifolds: it loses what its neighbours lose. Its flow
is found with its own sizes and under its own streak of hot gas; the shortfall is taken off after.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.design import Shop
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.solver.flow_split import (
    FLOW_POWER,
    GUESSED_FRICTION,
    LOST,
    STILL_FULL,
    CircuitRuns,
    resistance,
)
from regen.solver.prepare import Array, Prepared

DROP_TOLERANCE = 1e-4
"""Miss of the neighbours' pressure drop at which a slot's flow is found, with one more step of
the secant [-]."""

RATIO = 0.85
"""Between flows at which a slot is looked at for further flows with the same drop [-]."""

LOOKED_AT = 6
"""How many such flows there are below the first: down to 0.38 of it, at a sixth of its drop."""

MOST_LOOKS = 22
"""The same where none of these loses less than the neighbours."""

STEADY = 0.5
"""Power of the flow that the drop goes with, below which it is not taken to rise steadily [-]."""

QUICK_STEPS = 6
MAX_STEPS = 40

NARROW = 1e-4
"""Relative width between flows that miss on either side where no more is sought [-]."""

BESIDE, LOOK_BESIDE = 0.02, 1e-3
"""Logarithms of flows over which a slope is that of a flow, and next to it where one is not [-]."""

FAR = 0.2
"""Logarithm of the flow over its first guess beyond which the guess is worth nothing [-]."""


GUESSED_AT = 1e-3
"""Hydraulic diameter of the friction factor of the first guess; rougher if smaller [m]."""


class Corner(NamedTuple):
    """What one slot differs by: width, depth and hot wall, with their signs [m]."""

    width: float
    depth: float
    wall: float

    @property
    def text(self) -> str:
        """The sizes that differ, as a text."""
        off = {name: by * 1e3 for name, by in self._asdict().items() if by != 0.0}
        listed = ", ".join(f"{name} {by:+.4g}" for name, by in off.items())
        return f"{listed} mm" if off else "sizes as drawn"


def corners(shop: Shop) -> tuple[Corner, ...]:
    """Return every corner of the shop's tolerances: narrow, shallow and thick first.

    Each size is as drawn where its tolerance is zero.
    """
    sizes = -shop.width_tolerance, -shop.depth_tolerance, shop.wall_tolerance
    return tuple(Corner(*at) for at in product(*((by, -by) if by else (0.0,) for by in sizes)))


def slot_runs(runs: NDArray[Any], total: Array) -> NDArray[Any]:
    """Return runs of one slot each, whose flow changes neither chamber nor manifolds.

    ``runs`` (...) are those of whole circuits and ``total`` (..., fields) what they came to: the
    slots have the mean flow, inlet pressure and hot gas found there.
    """
    slots = runs.copy()
    slots["fuel_share"] = slots["returns"] = 0.0
    slots["outlet_given"] = 0
    slots["h0"] = total[..., A.T_H0]
    slots["mass_flow"], slots["pressure"] = total[..., A.T_MASS_FLOW], total[..., A.T_P_IN]
    return slots


def worst_slots(
    neighbours: Prepared,
    slots: Prepared,
    models: NDArray[Any],
    total: Array,
    shortfall: Array,
) -> tuple[CircuitRuns, NDArray[np.bool_]]:
    """March one slot of each circuit of n designs at each of K corners, K times n runs.

    ``slots`` are K times n designs, one corner behind another; ``models`` (n,) and ``total``
    (n, C, fields) those of the circuits, ``shortfall`` (n,) the share of its flow that a slot lacks
    by its manifold or by the shop's rule [-]. The first corner is looked at for several flows with
    one drop. The others lie close to it: they are looked at only where its drop does not rise
    steadily with its flow. Where no flow was found, stations and outcome are those of the march
    that showed why. Last comes where further flows than the one taken lose as much as the
    neighbours.
    """
    runs = neighbours.runs
    K, C, count = slots.runs.shape[0] // runs.shape[0], runs.shape[1], runs.size
    every = np.tile(slot_runs(runs, total).ravel(), K)
    every["geometry"] = slots.runs["geometry"].ravel()
    every["gas_factor"] *= 1.0 + neighbours.design.shop.streak
    drop = np.tile((total[..., A.T_P_IN] - total[..., A.T_P_OUT]).ravel(), K)
    models = np.tile(np.repeat(models, C), K)
    search = _Search(slots, every, models, drop)
    worse = _resistance(slots.geometry, every)
    worse /= np.tile(_resistance(neighbours.geometry, runs.ravel()), K)
    first = np.arange(count)
    search.look(first, worse[first] ** (-1.0 / FLOW_POWER))
    if K > 1:
        others = np.arange(count, K * count)
        base = np.tile(first, K - 1)
        known = np.isfinite(search.share[base]) & search.steady[base]
        search.power[others] = search.power[base]
        start = np.where(known, search.share[base], 1.0)
        start *= (worse[others] / np.where(known, worse[base], 1.0)) ** (-1.0 / search.power[base])
        search.find(others[known], start[known])
        search.look(others[~known], start[~known])
    met = np.isfinite(search.share)
    less = 1.0 - np.tile(np.repeat(shortfall, C), K)
    every["flow_factor"] = np.where(met, search.share, 1.0) * less
    out, status = march_all(*slots.tables, every, models)
    for n in np.flatnonzero(~met):
        stop = search.stops[int(n)]
        status[n] = stop.code, stop.station
        out.station[n] = stop.rows
    shape = slots.runs.shape
    code, stop = (column.reshape(shape) for column in status.T)
    marched = CircuitRuns(
        out.station.reshape(*shape, *out.station.shape[1:]),
        out.total.reshape(*shape, A.N_TOTAL),
        code,
        stop,
        np.ones(shape[0], dtype=np.int64),
        np.all(code == st.OK, axis=1),
    )
    return marched, np.asarray(search.several.reshape(shape).any(axis=1))


def shares_at_drop(
    prepared: Prepared,
    runs: NDArray[Any],
    models: NDArray[Any],
    drop: Array,
    *,
    start: float = 1.0,
    look: bool = False,
) -> Array:
    """Return the flow (L,) of slots over their neighbours' at the neighbours' drop (L,) [Pa].

    ``runs`` (L,) are each at the neighbours' flow and pressure, ``start`` the share that is tried
    first. NaN where none was found. With ``look`` further flows with this drop are looked for, and
    the lowest stable one is taken.
    """
    search = _Search(prepared, runs, models, drop)
    every, share = np.arange(runs.size), np.full(runs.size, start)
    if look:
        search.look(every, share)
    else:
        search.find(every, share)
    return search.share


def _resistance(g: A.Geometry, runs: NDArray[Any]) -> Array:
    """Return the drop of slots (L,) at one flow and density [any], friction by their size."""
    Dh = 2.0 * g.width * g.depth / (g.width + g.depth)
    friction = GUESSED_FRICTION * (Dh / GUESSED_AT) ** -0.3 * g.step_passage / Dh
    return resistance(g, runs, friction)


class _Stop(NamedTuple):
    """Why no flow was found: code, station reached, and the rows up to there."""

    code: int
    station: int
    rows: Array


@dataclass
class _Ends:
    """Logarithms of flows (L,) on either side of the one sought, and of drops over the wanted.

    A drop is infinite where a flow does not pass, minus infinite where it is starved.
    """

    low: Array
    low_drop: Array
    high: Array
    high_drop: Array


class _Search:
    """The search for the flow of each run, all side by side, none by another's numbers."""

    def __init__(
        self, prepared: Prepared, runs: NDArray[Any], models: NDArray[Any], drop: Array
    ) -> None:
        self.tables = prepared.tables
        self.runs, self.models, self.drop = runs, models, drop
        self.share = np.full(runs.size, np.nan)
        self.power = np.full(runs.size, FLOW_POWER)
        self.several = np.zeros(runs.size, dtype=bool)
        self.steady = np.ones(runs.size, dtype=bool)
        self.stops: dict[int, _Stop] = {}

    def _drops(self, who: NDArray[np.int64], log_share: Array) -> Array:
        """Return the logarithm of the drop over the neighbours' (n,), or an infinity."""
        trial = self.runs[who]
        trial["flow_factor"] = np.exp(log_share)
        out, status = march_all(*self.tables, trial, self.models[who])
        code, stop = status.T
        p_in = out.total[:, A.T_P_IN]
        lost = p_in - out.total[:, A.T_P_OUT]
        ok = code == st.OK
        log_drop = np.log(np.divide(lost, self.drop[who], out=np.ones_like(lost), where=ok))
        p = out.station[np.arange(who.size), np.maximum(stop - 1, 0), A.O_P_COOLANT]
        throttled = (code == st.BOILED) & (p < STILL_FULL * p_in)
        log_drop[~ok] = np.where(np.isin(code, LOST) | throttled, np.inf, -np.inf)[~ok]
        for n in np.flatnonzero(~ok):
            self.stops[int(who[n])] = _Stop(int(code[n]), int(stop[n]), out.station[n].copy())
        return log_drop

    def find(self, who: NDArray[np.int64], start: Array) -> None:
        """Find flows near a good guess by secants; look for those that are not there."""
        x, y = np.log(start), np.zeros(who.size)
        x_old, y_old = x.copy(), np.full(who.size, np.nan)
        left = np.ones(who.size, dtype=bool)
        begin, lost = x.copy(), np.zeros(who.size, dtype=bool)
        for _ in range(QUICK_STEPS):
            at = np.flatnonzero(left)
            if not at.size:
                break
            y[at] = self._drops(who[at], x[at])
            moved = x[at] - x_old[at]
            known = np.isfinite(y_old[at]) & (moved != 0.0)
            slope = np.divide(y[at] - y_old[at], moved, out=self.power[who[at]], where=known)
            far = np.abs(x[at] - begin[at]) > FAR
            bad = ~np.isfinite(y[at]) | far | ~(slope > 0.0)
            done = ~bad & (np.abs(y[at]) < DROP_TOLERANCE)
            new = x[at] - np.where(bad, 0.0, y[at]) / np.where(bad, 1.0, slope)
            self.share[who[at[done]]] = np.exp(new[done])  # the last step needs no look
            x_old[at], y_old[at], x[at] = x[at], y[at], new
            lost[at[bad]] = True
            left[at[bad | done]] = False
        again = lost | left
        self.look(who[again], start[again])

    def look(self, who: NDArray[np.int64], start: Array) -> None:
        """Find the lowest stable flow of each run, from the lowest flow that is solved upwards."""
        if not who.size:
            return
        ends = self._between(who, np.log(start))
        at = np.flatnonzero(np.isfinite(ends.low) & np.isfinite(ends.high))
        between = ends.low[at], ends.low_drop[at], ends.high[at], ends.high_drop[at]
        self._narrow(who[at], _Ends(*between))
        nowhere = np.zeros((self.tables[0].r.shape[1], A.N_STATION_OUT))
        for n in who[np.isnan(self.share[who])]:
            self.stops.setdefault(int(n), _Stop(st.NOT_CONVERGED, 0, nowhere))

    def _between(self, who: NDArray[np.int64], start: Array) -> _Ends:
        """Return flows on either side of the lowest one at which the drop rises past the wanted."""
        size, step = who.size, -np.log(RATIO)
        first = self._drops(who, start)
        ends = _Ends(*(np.full(size, np.nan) for _ in range(4)))
        crossings = np.zeros(size, dtype=np.int64)

        def take(at: NDArray[np.int64], x: Array, y: Array, above: Array, above_y: Array) -> None:
            """Keep the flows between which the drop rises past the wanted."""
            rises = (y < 0.0) & (above_y >= 0.0)
            here = at[rises]
            ends.low[here], ends.low_drop[here] = x[rises], y[rises]
            ends.high[here], ends.high_drop[here] = above[rises], above_y[rises]
            crossings[here] += 1
            finite = np.isfinite(y) & np.isfinite(above_y)
            with np.errstate(invalid="ignore"):
                power = (above_y - y) / step
            self.steady[who[at[finite & (power < STEADY)]]] = False
            usable = rises & finite
            self.power[who[at[usable]]] = np.maximum(power[usable], STEADY)

        x, y = start.copy(), first.copy()
        for _ in range(MOST_LOOKS):  # upwards, until no less than the wanted drop is lost
            at = np.flatnonzero(y < 0.0)
            if not at.size:
                break
            above = x[at] + step
            above_y = self._drops(who[at], above)
            take(at, x[at], y[at], above, above_y)
            x[at], y[at] = above, above_y
        x, y = start.copy(), first.copy()
        for n in range(MOST_LOOKS):  # downwards, until the slot is starved
            seek = np.isnan(ends.low) if n >= LOOKED_AT else np.ones(size, dtype=bool)
            at = np.flatnonzero((y != -np.inf) & seek)
            if not at.size:
                break
            below = x[at] - step
            below_y = self._drops(who[at], below)
            take(at, below, below_y, x[at], y[at])
            x[at], y[at] = below, below_y
        self.several[who] = crossings > 1
        self.steady[who[crossings != 1]] = False
        return ends

    def _narrow(self, who: NDArray[np.int64], ends: _Ends) -> None:
        """Find the flow between two, at which the drop rises with the flow."""
        x_old, y_old = ends.low.copy(), ends.low_drop.copy()
        x, y = ends.high.copy(), ends.high_drop.copy()
        left, beside = np.ones(who.size, dtype=bool), np.zeros(who.size, dtype=bool)
        for _ in range(MAX_STEPS):
            at = np.flatnonzero(left)
            if not at.size:
                return
            new = _proposed(ends, at, x, y, x_old, y_old, self.power[who])
            new = np.where(beside[at], np.maximum(x[at] - LOOK_BESIDE, ends.low[at]), new)
            y_new = self._drops(who[at], new)
            x_old[at], y_old[at], x[at], y[at] = x[at], y[at], new, y_new
            both = np.isfinite(y_new) & np.isfinite(y_old[at])
            moved = new - x_old[at]
            rise = np.subtract(y_new, y_old[at], out=np.zeros_like(y_new), where=both)
            known = both & (moved != 0.0)
            slope = np.divide(rise, moved, out=self.power[who[at]], where=known)
            near = np.abs(y_new) < DROP_TOLERANCE
            # a slope over a long way says nothing of the drop here: one look beside it does
            far = near & (np.abs(moved) > BESIDE)
            done = near & ~far & (slope > 0.0)
            self.share[who[at[done]]] = np.exp((new - y_new / np.where(done, slope, 1.0))[done])
            # a flow at which the drop falls is not stable: a lower one has as much
            unstable = near & ~far & ~done
            below = (y_new < 0.0) & ~unstable
            ends.low[at[below]], ends.low_drop[at[below]] = new[below], y_new[below]
            ends.high[at[~below]], ends.high_drop[at[~below]] = new[~below], y_new[~below]
            y[at[unstable]] = ends.high_drop[at[unstable]] = np.inf
            self.several[who[at[unstable]]] = True
            beside[at] = far
            narrow = ends.high[at] - ends.low[at] < NARROW
            met = narrow & near & ~done
            self.share[who[at[met]]] = np.exp(new[met])
            done |= met
            left[at[done | narrow]] = False


def _proposed(
    ends: _Ends,
    at: NDArray[np.int64],
    x: Array,
    y: Array,
    x_old: Array,
    y_old: Array,
    power: Array,
) -> Array:
    """Return the next flows to be tried: by secant, by the power of the drop, or halfway."""
    low, high = ends.low[at], ends.high[at]
    with np.errstate(invalid="ignore", divide="ignore"):
        by_power = np.where(
            np.isfinite(ends.low_drop[at]),
            low - ends.low_drop[at] / power[at],
            high - ends.high_drop[at] / power[at],
        )
        both = np.isfinite(ends.low_drop[at]) & np.isfinite(ends.high_drop[at])
        guesses = (
            np.where(both, np.nan, by_power),
            x[at] - y[at] * (x[at] - x_old[at]) / (y[at] - y_old[at]),
        )
    new = 0.5 * (low + high)
    for guess in guesses:  # the last that lies between them
        new = np.where((guess > low) & (guess < high), guess, new)
    return new
