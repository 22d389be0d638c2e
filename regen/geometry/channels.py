"""Slots laid around a contour: sizes, lands and lengths at the stations, of one design or many."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.design import Channels, Liner
from regen.errors import GeometryError
from regen.geometry.contour import Contour
from regen.geometry.curves import MERGE, Array, mm
from regen.result import Note
from regen.texts import text

THIN_LAND = 0.2e-3
"""Lands thinner than this burn, bend under the cutter or peel (common practice) [m]: noted."""

SUBDIVISION = 12
"""Sub-intervals a step, even; Richardson extrapolation leaves lengths right to about 1e-8, and to
about 1e-6 of a step that holds the tightest bend."""


class AlongX(Protocol):
    """A size along the axis: that of one design, or of many."""

    def at(self, x: ArrayLike, /) -> Array:
        """Return the size at ``x`` (n,) [m]: (n,), or (L, n) for L designs."""


class Sizes(NamedTuple):
    """Hot wall, slot width and slot depth along x [m]."""

    wall: AlongX
    width: AlongX
    depth: AlongX


SIZE_KEYS = ("liner.wall", "channels.width", "channels.depth")


@dataclass(frozen=True, slots=True)
class Passage:
    """Slots around the liner at the stations, all arrays (S,) by rising x, SI.

    Of many designs, what differs between them has a row for each: (L, S).

    Parameters
    ----------
    x, r : ndarray
        Station and hot-gas radius [m].
    slope_angle : ndarray
        Angle of the contour to the axis [rad].
    wall, width, depth, land : ndarray
        Hot wall and slot depth normal to the contour, slot and land width at the slot
        floor [m].
    floor_radius : ndarray
        Radius of the slot floor, r + wall cos(slope) [m].
    count : ndarray
        Number of slots [-]. Where it changes, two rows have the same x.
    closeout : ndarray
        Closeout thickness [m].
    step_gas, step_passage : ndarray
        Length from the station before along the contour and along the slot's mid-line,
        which runs at wall + depth/2 along the outward normal; 0 at station 0 [m].
    notes : tuple of Note
        What a reviewer must know: thin lands, folding slot roofs.
    """

    x: Array
    r: Array
    slope_angle: Array
    wall: Array
    width: Array
    depth: Array
    land: Array
    floor_radius: Array
    count: Array
    closeout: Array
    step_gas: Array
    step_passage: Array
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True)
class Ground:
    """Rows that slots are laid on, and finer points between them.

    ``x``, ``r``, ``slope_angle``, ``step_gas`` (R,) as in ``Passage``, ``counts`` (R,) the number
    of slots the channels have there; ``rows`` (R,) is the station of each row, ``again`` (R,) true
    for the second of one. ``fine`` (F,) are the finer points, with ``fine_r`` [m] and the outward
    normal's sine and cosine ``fine_sin``, ``fine_cos`` of the slope.
    """

    x: Array
    r: Array
    slope_angle: Array
    step_gas: Array
    counts: Array
    rows: NDArray[np.int64]
    again: NDArray[np.bool_]
    fine: Array
    fine_r: Array
    fine_sin: Array
    fine_cos: Array


def ground_of(contour: Contour, channels: Channels, x: ArrayLike) -> Ground:
    """Return what any slots at these stations have in common.

    ``x`` (S,) are rising stations [m], one at each change of the number of slots within them.
    """
    x = np.asarray(x, dtype=np.float64)
    rows, counts = _rows_of_counts(channels, x)
    part = np.arange(SUBDIVISION) / SUBDIVISION
    fine = np.append((x[:-1, None] + np.diff(x)[:, None] * part).ravel(), x[-1])
    slope = contour.slope_angle(fine)
    again = np.concatenate([[False], rows[1:] == rows[:-1]])
    fine_r, at = contour.radius(fine), x[rows]
    return Ground(
        x=at,
        r=contour.radius(at),
        slope_angle=contour.slope_angle(at),
        step_gas=np.where(again, 0.0, _steps(fine, fine_r)[rows]),
        counts=counts,
        rows=rows,
        again=again,
        fine=fine,
        fine_r=fine_r,
        fine_sin=np.sin(slope),
        fine_cos=np.cos(slope),
    )


def lay(ground: Ground, sizes: Sizes, counts: Array, closeout: float) -> Passage:
    """Lay slots without asking whether they can be: arrays (R,), or (L, R) of L designs.

    ``counts`` is the number of slots at each row (R,) or (L, R), ``closeout`` the thickness of all
    its layers [m].
    """
    wall, width, depth, floor, land = _at_rows(ground, sizes, counts)
    steps = _steps(*_offset(ground, _half_depth(ground, sizes)))
    return Passage(
        x=ground.x,
        r=ground.r,
        slope_angle=ground.slope_angle,
        wall=wall,
        width=width,
        depth=depth,
        land=land,
        floor_radius=floor,
        count=counts,
        closeout=np.full(ground.x.size, closeout),
        step_gas=ground.step_gas,
        step_passage=np.where(ground.again, 0.0, steps.take(ground.rows, axis=-1)),
    )


def can_be_cut(
    ground: Ground,
    sizes: Sizes,
    counts: Array,
    shifts: Iterable[tuple[float, float, float]] = ((0.0, 0.0, 0.0),),
) -> NDArray[np.bool_]:
    """Return which of L designs have slots that can be cut (L,), as ``build_passage`` requires.

    At all of the ``shifts`` of width, depth and wall [m].
    """
    wall, width, depth, _, land = _at_rows(ground, sizes, counts)
    per_wall = 2 * np.pi * np.cos(ground.slope_angle) / counts
    forward = np.diff(ground.fine - _half_depth(ground, sizes) * ground.fine_sin)
    backward = np.diff(ground.fine_sin)
    sound = np.ones(np.shape(wall)[:-1], dtype=bool)
    for by_width, by_depth, by_wall in shifts:
        for size, by in ((wall, by_wall), (width, by_width), (depth, by_depth)):
            sound &= size.min(axis=-1) + by > 0.0
        sound &= np.all(land + by_wall * per_wall > by_width, axis=-1)
        sound &= np.all(forward > (by_wall + by_depth / 2) * backward, axis=-1)
    return sound


def folds(ground: Ground, sizes: Sizes) -> NDArray[np.bool_]:
    """Return where the slots' mid-line folds back on itself: () or (L,) of L designs."""
    return np.asarray(_folds(_offset(ground, _half_depth(ground, sizes))[0]).any(axis=-1))


def _at_rows(ground: Ground, sizes: Sizes, counts: Array) -> tuple[Array, ...]:
    """Return wall, width, depth, radius of the floor and land at each row [m]."""
    wall, width, depth = (size.at(ground.x) for size in sizes)
    floor = ground.r + wall * np.cos(ground.slope_angle)
    return wall, width, depth, floor, 2 * np.pi * floor / counts - width


def _half_depth(ground: Ground, sizes: Sizes) -> Array:
    """Return the distance of the slot's mid-line from the hot wall [m]."""
    wall, depth = (
        size[..., :1] if size.strides[-1] == 0 else size  # the same all along: once is enough
        for size in (sizes.wall.at(ground.fine), sizes.depth.at(ground.fine))
    )
    return wall + depth / 2


def build_passage(
    contour: Contour,
    channels: Channels,
    liner: Liner,
    closeout_thickness: float,
    x: ArrayLike,
    *,
    checked: bool = True,
) -> Passage:
    """Lay the slots around the contour, with one row more for each change of their number.

    ``closeout_thickness`` is that of all its layers [m], ``x`` (S,) as in ``ground_of``. Raises
    ``GeometryError`` if a size is not positive, the lands vanish, or the offset mid-line folds;
    slots that are not ``checked`` are laid whatever they are.
    """
    ground = ground_of(contour, channels, x)
    sizes = Sizes(liner.wall, channels.width, channels.depth)
    if not checked:
        return lay(ground, sizes, ground.counts, closeout_thickness)
    given = (channels.count, *(count for _, count in channels.count_changes))
    problems = []
    for name, profile in zip(SIZE_KEYS, sizes, strict=True):
        value = profile.at(ground.x)
        bad = np.flatnonzero(~(value > 0))
        if bad.size:
            i = bad[0]
            problems.append(text("slot size", key=name, size=value[i], x=ground.x[i]))
    if min(given) < 1:
        problems.append(text("slot count", given=min(given)))
    if problems:
        raise GeometryError(*problems)
    passage = lay(ground, sizes, ground.counts, closeout_thickness)
    if not np.all(passage.land > 0):
        problems.append(_no_land(passage))
    if folds(ground, sizes):
        problems.append(_fold(contour, ground, sizes))
    if problems:
        raise GeometryError(*problems)
    return replace(passage, notes=_notes(ground, sizes, passage))


def _no_land(passage: Passage) -> str:
    """Return the refusal of slots whose lands vanish somewhere."""
    counts, land, width = passage.count, passage.land, passage.width
    worst = int(np.argmin(land))
    alike = counts == counts[worst]
    most = int(np.ceil(2 * np.pi * np.min((passage.floor_radius / width)[alike]))) - 1
    sizes = {"pitch": land[worst] + width[worst], "width": width[worst], "most": most}
    return text("no land", x=passage.x[worst], count=counts[worst], **sizes)


def _notes(ground: Ground, sizes: Sizes, passage: Passage) -> tuple[Note, ...]:
    """Return what a reviewer must know of slots that can be."""
    notes = []
    least = int(np.argmin(passage.land))
    if passage.land[least] < THIN_LAND:
        thin = text("thin land", land=passage.land[least], least=THIN_LAND)
        notes.append(Note("thin land", thin, float(passage.x[least])))
    roof = _folds(_offset(ground, sizes.wall.at(ground.fine) + sizes.depth.at(ground.fine))[0])
    if roof.any():
        at = float(ground.fine[np.argmax(roof)])
        notes.append(Note("folding roof", text("folding roof"), at))
    return tuple(notes)


def _rows_of_counts(channels: Channels, x: Array) -> tuple[NDArray[np.int64], Array]:
    """Return the station of each row and the count there: two rows where the count changes."""
    rows, counts = np.arange(x.size), np.full(x.size, float(channels.count))
    for place, count in channels.count_changes:
        if place >= x[-1] - MERGE:
            break
        counts[x[rows] > place - MERGE] = count
        if place <= x[0] + MERGE:
            continue
        at = int(np.flatnonzero(np.abs(x[rows] - place) <= MERGE)[0])
        before = counts[at - 1]
        rows, counts = np.insert(rows, at, rows[at]), np.insert(counts, at, before)
    return rows, counts


def _offset(ground: Ground, distance: Array) -> tuple[Array, Array]:
    """Return the points (..., F) at a distance along the outward normal of the contour [m]."""
    return ground.fine - distance * ground.fine_sin, ground.fine_r + distance * ground.fine_cos


def _folds(x: Array) -> NDArray[np.bool_]:
    """Return where an offset curve runs backwards, (..., F - 1).

    An offset beyond the centre of curvature reverses the curve; the test by position needs
    no second derivative, which points from a file do not give.
    """
    return np.asarray(np.diff(x) <= 0)


def _fold(contour: Contour, ground: Ground, sizes: Sizes) -> str:
    """Return the refusal of a mid-line that folds."""
    distances = _half_depth(ground, sizes)
    at = int(np.argmax(_folds(_offset(ground, distances)[0])))
    x, distance = float(ground.fine[at]), float(distances[at])
    curvature = float(contour.curvature(x))
    radius = f", radius of curvature {mm(1 / curvature)}" if curvature > 0 else ""
    return text("fold", x=x, distance=distance, radius=radius)


def _steps(x: Array, r: Array) -> Array:
    """Return lengths between stations of curves (..., F) given at the sub-intervals [m].

    Chord sums over all points and over every second one, extrapolated (Richardson).
    """
    shape = (*x.shape[:-1], -1)
    fine = np.hypot(np.diff(x), np.diff(r)).reshape(*shape, SUBDIVISION).sum(axis=-1)
    x, r = x[..., ::2], r[..., ::2]
    coarse = np.hypot(np.diff(x), np.diff(r)).reshape(*shape, SUBDIVISION // 2).sum(axis=-1)
    steps = (4 * fine - coarse) / 3
    return np.concatenate([np.zeros_like(steps[..., :1]), steps], axis=-1)
