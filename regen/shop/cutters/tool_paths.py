"""One cutter along one slot: its path, the wall it leaves, its ramps, and whether it can at all."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from regen.checks.shop_rules import greatest_aspect
from regen.design import Cutter
from regen.geometry.curves import Array
from regen.shop.cutters.floor import STEP, Meridian, disc_floor, flat_floor, meridian, wall_left
from regen.shop.cutters.slots import FIT, Slot, Stretch, fine, text

TOUCH = 0.5e-6
"""A disc touches a corner if it is no further from it [m]."""

MILL_PARTS = 8
"""Grid points within the radius of an end mill: its flat end is then a whole number of them."""

COLLAR_EVERY = 1e-3
"""Between the places of a disc at which its collar is held against the lands [m]."""

NO_SLOT = 1e-6
"""A slot less deep than this is none [m]."""

Place = Literal["injector end", "nozzle end", "narrower slot"]
ENDS: tuple[Place, Place] = "injector end", "nozzle end"


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
class ToolPath:
    """What one cutter does along one circuit's slots; lengths [m].

    It cuts from ``start`` to ``stop`` along the contour, in ``passes`` side by side at most. The
    disc's centre, or the middle of the mill's flat end, goes along ``x``, ``r`` (P,), x rising:
    straight lines between the points are right to 0.1 um. ``wall`` is the hot wall that this
    cutter alone leaves at the circuit's places (F,), normal to the contour; wall and depth
    together where it does not cut. ``reach`` is the depth of cut it needs: of a saw from collar to
    rim, of a mill along its axis. ``bridge`` is the largest extra copper on the floor away from
    ramps, at ``x_bridge``. An end mill has no ``ramps``.
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

    @property
    def radius(self) -> float:
        """From the path to the lowest of the cutter [m]."""
        return (self.cutter.diameter or 0.0) / 2


@dataclass(frozen=True, slots=True)
class Trial:
    """One cutter tried on one stretch: why it cannot make it, and what it would leave [m].

    ``reasons`` is empty if it can. ``bridge`` is the largest extra copper on the floor of the
    stretch, and ``reach`` the depth of cut it needs; None where its shape is not known.
    """

    cutter: Cutter
    stretch: Stretch
    passes: int
    reasons: tuple[str, ...]
    reach: float | None = None
    bridge: float | None = None
    x_bridge: float = 0.0


@dataclass(frozen=True)
class _Trace:
    """Path of a disc's centre or a mill's tip (P,), and the floor it leaves (G,) [m].

    ``ends`` are the grid points of its ends.
    """

    m: Meridian
    x: Array
    r: Array
    cut: Array
    ends: tuple[int, int]


def try_cutter(slot: Slot, cutter: Cutter, stretch: Stretch) -> Trial:
    """Return whether a saw or an end mill makes a stretch of a slot, and what it leaves."""
    shop, reasons = slot.design.shop, []
    saw = cutter.kind == "saw"
    here = slot.within(stretch.start, stretch.stop)
    deepest = float(slot.depth[here].max())
    if cutter.width > stretch.narrowest + FIT:
        reasons.append(text("too wide", slot=stretch.narrowest))
    elif saw and stretch.tapers:
        reasons.append(text("saw tapers"))
    elif saw and cutter.width < stretch.widest - FIT:
        reasons.append(text("too narrow", slot=stretch.widest))
    passes = int(np.ceil((stretch.widest - FIT) / cutter.width))
    passes = max(passes, 2) if stretch.tapers else passes
    aspect = float((slot.depth[here] / np.minimum(cutter.width, slot.width[here])).max())
    if aspect > greatest_aspect(shop):
        ratios = {"aspect": f"{aspect:.3g}", "most": f"{shop.greatest_aspect:g}"}
        reasons.append(text("slender", deepest=deepest, **ratios))
    if saw and cutter.diameter is None:
        return Trial(cutter, stretch, passes, (*reasons, text("no disc")))
    if cutter.diameter is not None and cutter.diameter <= 2 * deepest:
        return Trial(cutter, stretch, passes, (*reasons, text("small disc", deepest=deepest)))
    trace = _trace(slot, cutter, stretch.start, stretch.stop, (False, False))
    left = np.where(here, _wall(slot, trace) - slot.wall, 0.0)
    at, reach = int(np.argmax(left)), _reach(cutter, trace)
    if cutter.depth is not None and reach > cutter.depth + FIT:
        reasons.append(text("short", depth=cutter.depth, reach=fine(reach)))
    if np.any(left[here] > slot.depth[here] - NO_SLOT):
        reasons.append(text("no slot", x=slot.x[at]))
    bridge, where = float(left[at]), float(slot.x[at])
    return Trial(cutter, stretch, passes, tuple(reasons), reach, bridge, where)


def tool_paths(slot: Slot, chosen: Sequence[Trial]) -> tuple[ToolPath, ...]:
    """Return the path of each chosen cutter, as far along the slots as it may go.

    ``chosen`` has one trial for each stretch that can be made.
    """
    by_region: dict[tuple[Cutter, float, float], list[Trial]] = {}
    for trial in chosen:
        by_region.setdefault((trial.cutter, *_region(slot, trial)), []).append(trial)
    return tuple(_tool_path(slot, *region, trials) for region, trials in by_region.items())


def _region(slot: Slot, trial: Trial) -> tuple[float, float]:
    """Return how far along the slot a cutter may go without cutting it too wide [m]."""
    stretches = slot.stretches
    at, least = stretches.index(trial.stretch), trial.cutter.width - FIT
    narrow = [n for n, stretch in enumerate(stretches) if stretch.narrowest <= least]
    first = max((n + 1 for n in narrow if n < at), default=0)
    last = min((n - 1 for n in narrow if n > at), default=-1)
    return stretches[first].start, stretches[last].stop


def _tool_path(
    slot: Slot, cutter: Cutter, start: float, stop: float, trials: Sequence[Trial]
) -> ToolPath:
    at_end = start <= slot.span[0], stop >= slot.span[1]
    closed = not (at_end[0] and slot.open_ends[0]), not (at_end[1] and slot.open_ends[1])
    trace = _trace(slot, cutter, start, stop, closed)
    worst = max(trials, key=lambda trial: trial.bridge or 0.0)
    sides = (0, 1) if cutter.kind == "saw" else ()
    ramps = tuple(_ramp(slot, cutter, trace, side, at_end[side], closed[side]) for side in sides)
    return ToolPath(
        cutter=cutter,
        start=start,
        stop=stop,
        passes=max(trial.passes for trial in trials),
        x=trace.x,
        r=trace.r,
        wall=np.where(slot.within(start, stop), _wall(slot, trace), slot.wall + slot.depth),
        reach=max(_reach(cutter, trace), *(trial.reach or 0.0 for trial in trials)),
        bridge=worst.bridge or 0.0,
        x_bridge=worst.x_bridge,
        ramps=ramps,
    )


def _trace(
    slot: Slot, cutter: Cutter, start: float, stop: float, closed: tuple[bool, bool]
) -> _Trace:
    """Let a cutter go along a slot, kept from what lies beyond a closed end."""
    if cutter.diameter is None:
        reach, step = 4 * cutter.width, min(STEP, cutter.width / 2 / MILL_PARTS)
    else:
        reach, step = cutter.diameter, STEP
    sizes = slot.design.liner.wall, slot.channels.depth
    m = meridian(slot.contour, *sizes, slot.span, reach, step)
    ends_x = np.array([start, stop])
    floor_x = ends_x - slot.design.liner.wall.at(ends_x) * np.sin(slot.contour.slope_angle(ends_x))
    low, high = np.rint((floor_x - m.x[0]) / m.step).astype(int).tolist()
    # a disc rests on the corner of a closed end, the side of a mill stands at it
    beyond = int(cutter.diameter is None)
    ends = low - beyond if closed[0] else -1, high + beyond if closed[1] else m.x.size
    place = np.arange(m.x.size)
    floor = np.where((place <= ends[0]) | (place >= ends[1]), m.blank, m.floor)
    if cutter.diameter is None:
        tip, cut = flat_floor(floor, m.step, cutter.width)
        inset = int(cutter.width / 2 / m.step * (1 + 1e-9))
        along = slice(low + inset * closed[0], high + 1 - inset * closed[1])
        return _Trace(m, m.x[along], tip[along], cut, (low, high))
    radius = cutter.diameter / 2
    x, centre, cut = disc_floor(m.x, floor, radius)

    def last(at: int, inward: int) -> int:
        """Return the point of the path from which the disc makes the floor at one of its ends.

        Of all that touch the corner of a closed end it is the innermost: the lowest.
        """
        off = radius**2 - (x - m.x[at]) ** 2
        rim = np.where(off >= 0.0, centre - np.sqrt(np.maximum(off, 0.0)), np.inf)
        if inward == 0:
            return int(np.argmin(rim))
        touching = np.flatnonzero(rim <= cut[at] + TOUCH)
        return int(touching.max() if inward > 0 else touching.min())

    first, final = sorted((last(low, int(closed[0])), last(high, -int(closed[1]))))
    return _Trace(m, x[first : final + 1], centre[first : final + 1], cut, (low, high))


def _wall(slot: Slot, trace: _Trace) -> Array:
    """Return the wall that a cutter leaves at the places of the slot (F,) [m]."""
    most = slot.wall + slot.depth
    return wall_left(slot.x, slot.r, slot.slope, slot.wall, most, trace.m.x, trace.cut)


def _reach(cutter: Cutter, trace: _Trace) -> float:
    """Return the depth of cut that a cutter needs [m].

    A saw's collar turns about its centre and is wider than the slot: no land may come nearer to
    the centre than the collar's radius.
    """
    m = trace.m
    lands = slice(m.first, m.last + 1)
    if cutter.diameter is None:
        there = slice(trace.ends[0], trace.ends[1] + 1)
        return float((m.blank[there] - trace.cut[there]).max())
    every = max(int(COLLAR_EVERY / m.step), 1)
    x, r = trace.x[::every], trace.r[::every]
    dx, dr = x[:, None] - m.x[None, lands], r[:, None] - m.blank[None, lands]
    return float(cutter.diameter / 2 - np.sqrt((dx**2 + dr**2).min()))


def _ramp(slot: Slot, cutter: Cutter, trace: _Trace, side: int, at_end: bool, closed: bool) -> Ramp:
    """Return where a disc runs out at one end of what it cuts."""
    radius, m = (cutter.diameter or 0.0) / 2, trace.m
    place, x_end = ENDS[side], slot.span[side]
    if not at_end:
        floor = slot.points(slot.wall)[0]
        place, x_end = "narrower slot", float(np.interp(m.x[trace.ends[side]], floor, slot.x))
    if not closed:
        depth = float(slot.channels.depth.at(x_end))
        return Ramp(place, x_end, float(np.sqrt(depth * (2 * radius - depth))), False)
    at = float(trace.x[0 if side == 0 else -1])
    inner = np.arange(trace.ends[0] + 1, trace.ends[1])
    off = np.maximum(radius**2 - (m.x[inner] - at) ** 2, 0.0)
    height = m.floor[inner] + np.sqrt(off)
    k = min(max(int(np.argmax(height)), 1), inner.size - 2)
    # the top of a parabola through three points: the contact lies between grid points
    before, top, after = height[k - 1 : k + 2]
    bent = before - 2 * top + after
    shift = 0.5 * (before - after) / bent if bent < 0.0 else 0.0
    touch = float(m.x[inner[k]]) + m.step * float(np.clip(shift, -1.0, 1.0))
    return Ramp(place, x_end, abs(touch - float(m.x[trace.ends[side]])), True)
