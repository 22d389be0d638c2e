"""Ring manifolds: how the flow splits between the slots that a ring with feed pipes serves.

A ring lies round the jacket at one end of the slots; pipes ("taps") come into it radially and
evenly spaced. Between two taps it is a header with a closed end by symmetry, where its velocity
falls to nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.design import Manifolds
from regen.physics.friction import colebrook
from regen.physics.tables import CoolantTable, coolant_hp

Array = NDArray[np.float64]

COMBINING = 2.0
"""Fall of pressure where slots run into a ring, over its rise of dynamic head [-]: the momentum
theorem, the slots bringing none along the ring."""

RULE = 0.1
"""Dynamic head of a ring over the slots' pressure drop that is usually kept below [-]."""

MAX_STEPS = 60
TOLERANCE = 1e-12
"""Last step of the slots' shares at which they are found [-]."""


WIDER = "give a wider bore or more taps"


class NoSplitError(ValueError):
    """No split of the flow gives every slot some; the message says what to do."""


@dataclass(frozen=True, slots=True)
class Ring:
    """One ring manifold.

    Parameters
    ----------
    name : str
        "inlet" or "outlet".
    radius, bore : float
        Of the ring's centre line and inside diameter [m].
    taps : int
        Pipes, evenly spaced [-].
    turn : float
        Angle of the first pipe around the axis [rad]; slot k is at (k + 1/2) pitches.
    pressure, density, viscosity : float
        Of the coolant in the ring [Pa], [kg/m3], [Pa s].
    roughness : float
        Sand grain [m].
    factor : float
        Rise of pressure over fall of dynamic head along the ring [-]: static recovery for the
        inlet, ``COMBINING`` for the outlet.
    """

    name: str
    radius: float
    bore: float
    taps: int
    turn: float
    pressure: float
    density: float
    viscosity: float
    roughness: float
    factor: float

    @property
    def area(self) -> float:
        """Cross-section [m2]."""
        return 0.25 * math.pi * self.bore**2

    def velocity(self, flow: float) -> float:
        """Return the velocity [m/s] beside a tap for the flow of all slots [kg/s]."""
        return flow / (2.0 * self.taps * self.density * self.area)

    def friction(self, flow: float) -> float:
        """Return the Darcy factor [-] at the velocity beside a tap, taken for the whole ring."""
        Re = self.density * self.velocity(flow) * self.bore / self.viscosity
        return float(colebrook(Re, self.roughness / self.bore))


class End(NamedTuple):
    """One end of the slots: outside of the jacket [m], coolant [J/kg] and [Pa] in its manifold."""

    radius: float
    enthalpy: float
    pressure: float


def rings(
    given: Manifolds, table: CoolantTable, inlet: End, outlet: End, roughness: float
) -> tuple[Ring, ...]:
    """Return the rings that a case gives, lying on the jacket: inlet before outlet."""
    made = []
    sides = (
        ("inlet", given.inlet_bore, given.inlet_taps, 0.0, given.recovery, inlet),
        ("outlet", given.outlet_bore, given.outlet_taps, given.outlet_turn, COMBINING, outlet),
    )
    for name, bore, taps, turn, factor, end in sides:
        if bore is None or taps is None:
            continue
        _, rho, mu, *_ = coolant_hp(table, end.enthalpy, end.pressure)
        radius = float(end.radius) + 0.5 * bore
        state = end.pressure, rho, mu
        made.append(Ring(name, radius, bore, taps, turn or 0.0, *state, roughness, factor))
    return tuple(made)


@dataclass(frozen=True, slots=True)
class Reach:
    """What one ring does: bore [m], velocity [m/s] and dynamic head [Pa] beside a tap."""

    name: str
    taps: int
    bore: float
    velocity: float
    head: float
    head_over_drop: float


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """Flow of each slot.

    ``share`` (N,) is flow over mean [-]. ``starved`` and ``richest`` are slot numbers;
    ``from_tap`` is the starved slot's distance from the nearest tap of the first ring in
    half-spacings: 0 beside a tap, 1 midway. ``exponent`` is that of slot flow in slot drop.
    """

    share: Array
    exponent: float
    reaches: tuple[Reach, ...]
    starved: int
    richest: int
    from_tap: float

    @property
    def shortfall(self) -> float:
        """1 - least over mean flow [-]."""
        return float(1.0 - self.share[self.starved])

    @property
    def where(self) -> str:
        """Where the starved slot is."""
        ring = self.reaches[0]
        tap, far = f"an {ring.name} tap", f"midway between two {ring.name} taps"
        if ring.taps == 1:
            tap, far = f"the {ring.name} tap", f"opposite the {ring.name} tap"
        if self.from_tap < 0.2:
            return f"beside {tap}"
        if self.from_tap > 0.8:
            return far
        return f"{self.from_tap:.0%} of the way from {tap} to {far}"

    def text(self) -> str:
        """Return the split as a text."""
        rings = " and ".join(
            f"{reach.name} ring of {reach.bore * 1e3:.3g} mm bore, {reach.velocity:.3g} m/s and "
            f"{reach.head / 1e5:.2g} bar dynamic head beside a tap, "
            f"{percent(reach.head_over_drop)} of the slots' pressure drop"
            for reach in self.reaches
        )
        rule = f"a head below {RULE:.0%} of the drop is usual (common practice)"
        return (
            f"{rings}; {rule}. The least slot, {self.where}, gets {percent(self.shortfall)} less "
            f"than the mean, the richest {percent(self.share[self.richest] - 1.0)} more, with a "
            f"slot drop that goes as flow to the {self.exponent:.2g}. Taps are taken as radial "
            "and alike; a jet from a tap into the slots under it is not counted"
        )


def percent(value: float) -> str:
    """Return a share [-] in percent with two digits, or whole from 10 % on."""
    hundred = 100.0 * value
    return f"{hundred:.0f} %" if abs(hundred) >= 10.0 else f"{hundred:.2g} %"


def split(
    count: int,
    flow: float,
    drop: float,
    rings: tuple[Ring, ...],
    exponent: float = 2.0,
) -> Split:
    """Return the split of a flow [kg/s] over the slots between two ring manifolds.

    ``drop`` [Pa] is that of a slot with the mean flow, whose pressure drop goes as its flow to the
    ``exponent``; the pressure of a ring that is missing is the same everywhere. ``NoSplitError`` if
    no split gives every slot a flow, a ring's dynamic head is above its pressure, or the slots'
    drop does not rise with their flow.

    Along the inlet ring, s from a tap, dp/ds = -f rho u|u|/(2 D) - K rho u du/ds, with the static
    recovery K: 1 is no loss where the flow turns off, 0 recovers nothing. Along the outlet ring
    the flow runs towards the tap and the same holds with K = 2. A slot's flow goes as
    y = (drop of its own/mean drop)^(1/n). So p + K rho u^2/2 changes by friction alone; pressure
    at a slot is the mean of those on both sides of it. Taps carry equal flows; what then goes
    round the ring is such that friction closes on itself. Newton's method on all slots.

    With r = K V/drop, V the dynamic head beside a tap, phi the flow left in the header and
    y = -phi', the continuous inlet ring without friction and n = 2 obeys
    phi'^2 = B - r phi^2, hence phi'' = -r phi and y = sqrt(r) cos(sqrt(r)(1-s))/sin(sqrt(r)):
    a slot beside a tap lacks r/3 and one midway has r/6 more, for small r. For the outlet ring
    cosh and sinh take the place of cos and sin, and the signs turn. Friction alone,
    F = f L V/(D drop) over the length L from tap to midway, gives F/(4 n) more beside a tap and
    F/(12 n) less midway. The tests hold these.

    Density and friction factor are uniform along each ring.
    """
    if not exponent > 0.2:
        message = (
            f"manifolds: the slots' pressure drop hardly rises with their flow (as flow to the "
            f"{exponent:.2g}), so slots side by side share no flow stably; raise the coolant's "
            "pressure or flow"
        )
        raise NoSplitError(message)
    headers = [_Header(ring, count, flow, drop) for ring in rings]
    for header in headers:
        if header.head >= header.ring.pressure:
            message = f"{header.text(drop)}, more than the pressure in it; {WIDER}"
            raise NoSplitError(message)
    share = _solve(headers, count, exponent)
    if share is None:
        texts = " and ".join(header.text(drop) for header in headers)
        message = f"{texts}: some slots get no flow; {WIDER}"
        raise NoSplitError(message)
    starved, richest = int(np.argmin(share)), int(np.argmax(share))
    first = rings[0]
    gap = 2.0 * math.pi / first.taps
    angle = (2.0 * math.pi * (starved + 0.5) / count - first.turn) % gap
    reaches = tuple(
        Reach(h.ring.name, h.ring.taps, h.ring.bore, h.ring.velocity(flow), h.head, h.head / drop)
        for h in headers
    )
    return Split(share, exponent, reaches, starved, richest, min(angle, gap - angle) / (0.5 * gap))


class _Header:
    """One ring cut at its slots and taps; flows are in mean slots, pressures in slot drops.

    Events are slots and taps in the order of their angle; segment i follows event i. For the
    outlet ring the flow is counted against its direction, so that taps give and slots take.
    """

    def __init__(self, ring: Ring, count: int, flow: float, drop: float) -> None:
        self.ring = ring
        self.head = 0.5 * ring.density * ring.velocity(flow) ** 2
        beside = count / (2.0 * ring.taps)  # slots served by the flow beside a tap
        scale = self.head / drop / beside**2
        slots = (np.arange(count) + 0.5) / count
        taps = (ring.turn / (2.0 * math.pi) + np.arange(ring.taps) / ring.taps) % 1.0
        place = np.concatenate([slots, taps])
        order = np.argsort(place, kind="stable")
        at = np.empty(place.size, dtype=np.int64)
        at[order] = np.arange(place.size)
        self.slot_at = at[:count]
        self.fed = np.zeros(place.size)
        self.fed[at[count:]] = count / ring.taps
        place = place[order]
        self.length = np.diff(np.append(place, place[0] + 1.0))
        # towards the tap of an outlet pressure falls: both terms turn their sign for the slot
        sense = 1.0 if ring.name == "inlet" else -1.0
        turns = 2.0 * math.pi * ring.radius / ring.bore * ring.friction(flow)
        self.rub = scale * turns * self.length
        self.momentum = sense * ring.factor * scale

    def text(self, drop: float) -> str:
        """Return the ring with its dynamic head against the slots' drop [Pa]."""
        ring = self.ring
        return (
            f"manifolds.{ring.name}_bore = {ring.bore * 1e3:.4g} mm, {ring.name}_taps = "
            f"{ring.taps}: the ring has {self.head / 1e5:.3g} bar of dynamic head, "
            f"{percent(self.head / drop)} of the slots' pressure drop"
        )

    def start(self) -> float:
        """Return the flow round the ring that leaves none on the average."""
        return float(-np.dot(self.length, self._segments(np.ones(self.slot_at.size), 0.0)))

    def _segments(self, share: Array, round_flow: float) -> Array:
        source = self.fed.copy()
        source[self.slot_at] -= share
        return np.asarray(round_flow + np.cumsum(source))

    def push(self, share: Array, round_flow: float) -> tuple[Array, float, Array, Array, Array]:
        """Return what the ring adds to each slot's drop, the loop's miss, and their slopes.

        Slopes of the first by the shares (N, N) and by the round flow (N,), of the miss by the
        shares with the one by the round flow last (N + 1,).
        """
        n = self._segments(share, round_flow)
        by_flow = np.ones((n.size, share.size + 1))
        by_flow[:, :-1] = np.where(np.arange(n.size)[:, None] >= self.slot_at, -1.0, 0.0)
        before = np.roll(n, 1)
        slope_before = np.roll(by_flow, 1, axis=0)
        slope_before[0] = by_flow[-1]
        # the segment before event 0 is the last one, whose flow has every source in it
        lost = np.concatenate([[0.0], np.cumsum(self.rub * n * np.abs(n))[:-1]])
        slope_lost = np.cumsum((2.0 * self.rub * np.abs(n))[:, None] * by_flow, axis=0)
        slope_lost = np.concatenate([np.zeros((1, share.size + 1)), slope_lost[:-1]])
        push = -lost - self.momentum * 0.5 * (before**2 + n**2)
        slope = -slope_lost - self.momentum * (
            before[:, None] * slope_before + n[:, None] * by_flow
        )
        push, slope = push[self.slot_at], slope[self.slot_at]
        loop = float(np.dot(self.length, n * np.abs(n)))
        slope_loop = np.dot(2.0 * self.length * np.abs(n), by_flow)
        return push, loop, slope[:, :-1], slope[:, -1], slope_loop


def _solve(headers: list[_Header], count: int, exponent: float) -> Array | None:
    """Return the slots' shares (N,), or None if there are none above zero.

    Unknowns: shares, the common level, and the flow round each ring.
    """
    size = count + 1 + len(headers)
    x = np.ones(size)
    x[count + 1 :] = [header.start() for header in headers]
    for _ in range(MAX_STEPS):
        share = x[:count]
        miss, slope = np.zeros(size), np.zeros((size, size))
        miss[:count] = share**exponent - x[count]
        slope[np.arange(count), np.arange(count)] = exponent * share ** (exponent - 1.0)
        slope[:count, count] = -1.0
        miss[count] = share.sum() - count
        slope[count, :count] = 1.0
        for row, header in enumerate(headers, start=count + 1):
            push, loop, by_share, by_round, by_loop = header.push(share, x[row])
            miss[:count] -= push
            slope[:count, :count] -= by_share
            slope[:count, row] -= by_round
            miss[row] = loop
            slope[row, :count], slope[row, row] = by_loop[:-1], by_loop[-1]
        try:
            step: Any = np.linalg.solve(slope, -miss)
        except np.linalg.LinAlgError:
            return None
        # a step may take at most 0.7 of what a slot has, so that none turns round on the way
        least = float(np.min(step[:count] / share))
        x = x + step * min(1.0, -0.7 / least if least < 0.0 else 1.0)
        if np.max(np.abs(step[:count])) < TOLERANCE:
            return np.asarray(x[:count])
    return None
