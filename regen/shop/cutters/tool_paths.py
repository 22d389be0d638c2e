"""One cutter along one slot: its way, the wall it leaves, its ramps, and whether it can at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from regen.checks.shop_rules import greatest_aspect
from regen.design import Cutter
from regen.geometry.curves import Array, mm
from regen.shop.cutters.floor import STEP, Meridian, disc_floor, flat_floor, wall_left
from regen.shop.cutters.slots import FIT, Slot, Stretch, fine

TOUCH = 0.5e-6
"""A disc touches a corner if it is no further from it [m]."""

MILL_PARTS = 8
"""Grid points within the radius of an end mill: its flat end is then a whole number of them."""

COLLAR_EVERY = 1e-3
"""Between the places of a disc at which its collar is held against the lands [m]."""

NO_SLOT = 1e-6
"""A slot less deep than this is none [m]."""

Place = Literal["injector end", "nozzle end", "narrower slot"]


@dataclass(frozen=True, slots=True)
class Ramp:
    """Where a disc runs out at one end of what it cuts.

    ``inside``: the slot is too shallow over ``length`` before ``x``; else the disc needs
    ``length`` beyond ``x``, where it cuts less and less deep [m].
    """

    place: Place
    x: float
    length: float
    inside: bool


@dataclass(frozen=True)
class Cut:
    """What one cutter does along one circuit's slots; lengths [m].

    Parameters
    ----------
    cutter : Cutter
        From ``shop.cutters``.
    start, stop : float
        From where to where along the contour it cuts.
    passes : int
        Side by side across the slot, the most along it.
    x, r : ndarray
        Where the disc's centre, or the middle of the mill's flat end, goes: axial position and
        radius (P,), x rising. Straight lines between the points are right to 0.1 um.
    wall : ndarray
        Hot wall that this cutter alone leaves at the circuit's places (F,), normal to the
        contour; wall and depth together where it does not cut.
    reach : float
        Depth of cut it needs: of a saw from its collar to its rim, of a mill along its axis.
    bridge : float
        Largest extra copper on the floor away from ramps, and where: ``x_bridge``.
    ramps : tuple of Ramp
        Of a saw; none of an end mill.
    """

    cutter: Cutter
    start: float
    stop: float
    passes: int
    x: Array
    r: Array
    wall: Array
    reach: float
    bridge: float
    x_bridge: float
    ramps: tuple[Ramp, ...]


@dataclass(frozen=True, slots=True)
class Weighed:
    """One cutter for one stretch: why it cannot make it, and what it would leave [m].

    ``reasons`` is empty if it can. ``bridge`` is the largest extra copper on the floor of the
    stretch, and ``reach`` the depth of cut it needs; None where its shape is not known.
    """

    cutter: Cutter
    stretch: Stretch
    passes: int
    reasons: tuple[str, ...]
    reach: float | None
    bridge: float | None
    x_bridge: float


@dataclass(frozen=True)
class _Run:
    """A cutter's way, centre of the disc or tip of the mill (P,), and the floor it leaves (G,).

    ``ends`` are the grid points of its ends.
    """

    m: Meridian
    x: Array
    r: Array
    cut: Array
    ends: tuple[int, int]


def weigh(slot: Slot, cutter: Cutter, stretch: Stretch) -> Weighed:
    """Return whether a cutter makes a stretch of a slot, and what it leaves.

    Parameters
    ----------
    slot : Slot
        The circuit's slots.
    cutter : Cutter
        A saw or an end mill.
    stretch : Stretch
        Part of the slot.

    Returns
    -------
    Weighed
        With every reason why it cannot.
    """
    shop, reasons = slot.design.shop, []
    here = slot.within(stretch.start, stretch.stop)
    deepest = float(slot.depth[here].max())
    if cutter.width > stretch.narrowest + FIT:
        reasons.append(f"too wide for {mm(stretch.narrowest)}")
    elif cutter.kind == "saw" and stretch.tapers:
        reasons.append("the width tapers, and a saw cuts one width")
    elif cutter.kind == "saw" and cutter.width < stretch.widest - FIT:
        reasons.append(f"too narrow for {mm(stretch.widest)}: a saw cuts one width")
    passes = int(np.ceil((stretch.widest - FIT) / cutter.width))
    passes = max(passes, 2) if stretch.tapers else passes
    aspect = float((slot.depth[here] / np.minimum(cutter.width, slot.width[here])).max())
    if aspect > greatest_aspect(shop):
        reasons.append(
            f"{mm(deepest)} of depth is {aspect:.3g} times its width, above shop.greatest_aspect "
            f"{shop.greatest_aspect:g}"
        )
    if cutter.kind == "saw" and cutter.diameter is None:
        reasons.append("its diameter is not given, so the floor it leaves is not known")
        return Weighed(cutter, stretch, passes, tuple(reasons), None, None, 0.0)
    if cutter.diameter is not None and cutter.diameter <= 2 * deepest:
        reasons.append(f"its disc is no larger than twice the depth of {mm(deepest)}")
        return Weighed(cutter, stretch, passes, tuple(reasons), None, None, 0.0)
    run = _run(slot, cutter, stretch.start, stretch.stop, (False, False))
    left = np.where(here, _wall(slot, run) - slot.wall, 0.0)
    at, reach = int(np.argmax(left)), _reach(slot, cutter, run)
    if cutter.depth is not None and reach > cutter.depth + FIT:
        reasons.append(f"it cuts at most {mm(cutter.depth)} deep, and {fine(reach)} is needed")
    if np.any(left[here] > slot.depth[here] - NO_SLOT):
        reasons.append(f"its disc leaves no slot at all at x = {mm(slot.x[at])}")
    bridge, where = float(left[at]), float(slot.x[at])
    return Weighed(cutter, stretch, passes, tuple(reasons), reach, bridge, where)


def cuts_of(slot: Slot, chosen: Sequence[Weighed]) -> tuple[Cut, ...]:
    """Return what the chosen cutters do, each as far along the slots as it may.

    Parameters
    ----------
    slot : Slot
        The circuit's slots.
    chosen : sequence of Weighed
        One for each stretch that can be made.

    Returns
    -------
    tuple of Cut
        One for each cutter and reach of its own.
    """
    found: dict[tuple[Cutter, float, float], list[Weighed]] = {}
    for one in chosen:
        found.setdefault((one.cutter, *_region(slot, one)), []).append(one)
    return tuple(_cut(slot, key, weighed) for key, weighed in found.items())


def _region(slot: Slot, one: Weighed) -> tuple[float, float]:
    """Return how far along the slot a cutter may go without cutting it too wide [m]."""
    stretches = slot.stretches
    at = stretches.index(one.stretch)
    fits = [stretch.narrowest > one.cutter.width - FIT for stretch in stretches]
    first = last = at
    while first > 0 and fits[first - 1]:
        first -= 1
    while last < len(stretches) - 1 and fits[last + 1]:
        last += 1
    return stretches[first].start, stretches[last].stop


def _cut(slot: Slot, key: tuple[Cutter, float, float], weighed: list[Weighed]) -> Cut:
    cutter, start, stop = key
    (first, last), (open_first, open_last) = slot.span, slot.open_ends
    places: tuple[Place, Place] = (
        "injector end" if start <= first else "narrower slot",
        "nozzle end" if stop >= last else "narrower slot",
    )
    closed = (
        places[0] == "narrower slot" or not open_first,
        places[1] == "narrower slot" or not open_last,
    )
    run = _run(slot, cutter, start, stop, closed)
    whole = slot.wall + slot.depth
    wall = np.where(slot.within(start, stop), _wall(slot, run), whole)
    worst = max(weighed, key=lambda w: w.bridge or 0.0)
    ramps = tuple(
        _ramp(slot, cutter, run, side, places[side], closed[side])
        for side in (0, 1)
        if cutter.kind == "saw"
    )
    return Cut(
        cutter=cutter,
        start=start,
        stop=stop,
        passes=max(w.passes for w in weighed),
        x=run.x,
        r=run.r,
        wall=wall,
        reach=max(_reach(slot, cutter, run), *(w.reach or 0.0 for w in weighed)),
        bridge=worst.bridge or 0.0,
        x_bridge=worst.x_bridge,
        ramps=ramps,
    )


def _run(slot: Slot, cutter: Cutter, start: float, stop: float, closed: tuple[bool, bool]) -> _Run:
    """Let a cutter go along a slot, kept from what lies beyond a closed end."""
    if cutter.diameter is None:
        m = slot.meridian(4 * cutter.width, min(STEP, cutter.width / 2 / MILL_PARTS))
    else:
        m = slot.meridian(cutter.diameter)
    low, high = (round((slot.floor_at(x) - m.x[0]) / m.step) for x in (start, stop))
    # a disc rests on the corner of a closed end, the side of a mill stands at it
    beyond = int(cutter.diameter is None)
    floor = m.walled(
        low - beyond if closed[0] else -1,
        high + beyond if closed[1] else m.x.size,
    )
    if cutter.diameter is None:
        tip, cut = flat_floor(floor, m.step, cutter.width)
        inset = int(cutter.width / 2 / m.step * (1 + 1e-9))
        way = slice(low + inset * closed[0], high + 1 - inset * closed[1])
        return _Run(m, m.x[way], tip[way], cut, (low, high))
    radius = cutter.diameter / 2
    x, centre, cut = disc_floor(m.x, floor, radius)
    ends = (
        _last(m, (x, centre), cut, radius, low, 1 if closed[0] else 0),
        _last(m, (x, centre), cut, radius, high, -1 if closed[1] else 0),
    )
    way = slice(min(ends), max(ends) + 1)
    return _Run(m, x[way], centre[way], cut, (low, high))


def _last(
    m: Meridian, way: tuple[Array, Array], cut: Array, radius: float, at: int, inward: int
) -> int:
    """Return the point of a disc's way from which it makes the floor at one of its ends.

    Of all that touch the corner of a closed end it is the innermost: the lowest.
    """
    x, centre = way
    off = radius**2 - (x - m.x[at]) ** 2
    rim = np.where(off >= 0.0, centre - np.sqrt(np.maximum(off, 0.0)), np.inf)
    if inward == 0:
        return int(np.argmin(rim))
    touching = np.flatnonzero(rim <= cut[at] + TOUCH)
    return int(touching.max() if inward > 0 else touching.min())


def _wall(slot: Slot, run: _Run) -> Array:
    """Return the wall that a run leaves at the places of the slot (F,) [m]."""
    whole = slot.wall + slot.depth
    return wall_left(slot.x, slot.r, slot.slope, slot.wall, whole, run.m.x, run.cut)


def _reach(slot: Slot, cutter: Cutter, run: _Run) -> float:
    """Return the depth of cut that a run needs [m].

    A saw's collar turns about its centre and is wider than the slot: no land may come nearer to
    the centre than the collar's radius.
    """
    m = run.m
    lands = slice(m.first, m.last + 1)
    if cutter.diameter is None:
        there = slice(run.ends[0], run.ends[1] + 1)
        return float((m.blank[there] - run.cut[there]).max())
    every = max(int(COLLAR_EVERY / m.step), 1)
    x, r = run.x[::every], run.r[::every]
    dx, dr = x[:, None] - m.x[None, lands], r[:, None] - m.blank[None, lands]
    return float(cutter.diameter / 2 - np.sqrt((dx**2 + dr**2).min()))


def _ramp(slot: Slot, cutter: Cutter, run: _Run, side: int, place: Place, closed: bool) -> Ramp:
    """Return where a disc runs out at one end."""
    radius, m = (cutter.diameter or 0.0) / 2, run.m
    x_end = slot.span[side] if place != "narrower slot" else _station(slot, m.x[run.ends[side]])
    if not closed:
        depth = float(slot.depth_profile.at(x_end))
        return Ramp(place, x_end, float(np.sqrt(depth * (2 * radius - depth))), False)
    at = float(run.x[0 if side == 0 else -1])
    inner = np.arange(run.ends[0] + 1, run.ends[1])
    off = np.maximum(radius**2 - (m.x[inner] - at) ** 2, 0.0)
    height = m.floor[inner] + np.sqrt(off)
    k = min(max(int(np.argmax(height)), 1), inner.size - 2)
    # the top of a parabola through three points: the contact lies between grid points
    before, top, after = height[k - 1 : k + 2]
    bent = before - 2 * top + after
    shift = 0.5 * (before - after) / bent if bent < 0.0 else 0.0
    touch = float(m.x[inner[k]]) + m.step * float(np.clip(shift, -1.0, 1.0))
    return Ramp(place, x_end, abs(touch - float(m.x[run.ends[side]])), True)


def _station(slot: Slot, x_floor: float) -> float:
    """Return the place along the contour whose floor is at an axial position [m]."""
    at = slot.x - slot.wall * np.sin(slot.slope)
    return float(np.interp(x_floor, at, slot.x))
