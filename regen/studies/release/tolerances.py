"""What the shop's tolerances of width, depth and hot wall do to wall temperature and pressure drop.

Here all slots are off together and take the whole flow. The worst channel is another question: one
slot that is off among good ones, which also lacks flow and lies under a streak.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from regen.design import Design
from regen.result import Array
from regen.studies.batch.designs import DesignBatch, Rows, solve_batch
from regen.studies.batch.parameters import Parameter, numeric_key

SIZES = {"width": "channels.width", "depth": "channels.depth", "wall": "liner.wall"}
"""What has a tolerance, and its key."""

ANSWERS = ("T_wall_hot_max_K", "coolant_pressure_drop_Pa")


@dataclass(frozen=True, slots=True)
class Effect:
    """What one tolerance does to one number.

    ``plus`` and ``minus`` are its changes [SI] with the size larger and smaller by the tolerance;
    ``slope`` is its change over that of the size, between the two [SI]. NaN where not solved.
    """

    plus: float
    minus: float
    slope: float

    @property
    def largest(self) -> float:
        """Larger of both changes by size [SI]."""
        return max(abs(self.plus), abs(self.minus))


@dataclass(frozen=True, slots=True)
class Size:
    """One size of the slots with its tolerance [m], and its effects by name of ``ANSWERS``."""

    name: str
    tolerance: float
    effects: dict[str, Effect]


@dataclass(frozen=True, slots=True)
class Spread:
    """One number of a design and how far all tolerances together move it [SI].

    ``worst`` is its largest value over all sizes at their ends, ``corner`` which end each size is
    at there (-1 smaller, +1 larger). ``root_sum_square`` is the change by the root of the sum of
    squares of the larger changes of each size alone: what independent errors make likely.
    """

    nominal: float
    worst: float
    corner: tuple[int, ...]
    root_sum_square: float


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Effects of the shop's tolerances on ``ANSWERS``.

    ``worst_channel`` is the peak wall temperature of the one worst slot [K], NaN if it was not
    solved; ``unsolved`` the cases that were not, and why.
    """

    sizes: tuple[Size, ...]
    spreads: dict[str, Spread]
    worst_channel: float
    unsolved: tuple[str, ...]


def tolerances(design: Design) -> Tolerances:
    """Return what the tolerances of width, depth and hot wall do.

    From marches: one size at a time, both ways, and all sizes at their ends together.
    """
    given = {name: getattr(design.shop, f"{name}_tolerance") for name in SIZES}
    varied = {name: by for name, by in given.items() if by > 0.0}
    parameters, of = _parameters(design, [SIZES[name] for name in varied])
    tolerance = np.array(list(varied.values()))
    count = len(varied)
    corners = np.array(list(product((-1.0, 1.0), repeat=count))).reshape(-1, count)
    signs = np.concatenate([np.zeros((1, count)), np.eye(count), -np.eye(count), corners])
    batch = DesignBatch(design, parameters, (signs * tolerance)[:, of])
    rows = solve_batch(batch, judged="nominal")
    alone = solve_batch(replace(batch, values=batch.values[:1]), judged="worst")
    values = {name: rows.summary[name] for name in ANSWERS}
    sizes = tuple(
        Size(name, by, {a: _effect(values[a], n, count, by) for a in ANSWERS})
        for n, (name, by) in enumerate(varied.items())
    )
    spreads = {a: _spread(values[a], sizes, a, signs) for a in ANSWERS}
    worst = float(alone.summary["T_wall_hot_max_worst_K"][0])
    return Tolerances(sizes, spreads, worst, _unsolved(rows, signs, list(varied)))


def _parameters(design: Design, paths: Sequence[str]) -> tuple[tuple[Parameter, ...], list[int]]:
    """Return the parameters that shift sizes, and the number of the size that each belongs to.

    Circuits with sizes of their own have parameters of their own.
    """
    shifted = []
    for n, path in enumerate(paths):
        section, _, name = path.partition(".")
        shifted.append((path, n))
        if section == "channels":
            own = getattr(design.channels, name)
            others = [c.name for c in design.circuits if getattr(c.channels, name) != own]
            shifted += [(f"circuits.{other}.{name}", n) for other in others]
    parameters = tuple(replace(numeric_key(path, design), shift=True) for path, _ in shifted)
    return parameters, [n for _, n in shifted]


def _effect(values: Array, n: int, count: int, by: float) -> Effect:
    base, plus, minus = values[0], values[1 + n], values[1 + count + n]
    return Effect(float(plus - base), float(minus - base), float((plus - minus) / (2 * by)))


def _spread(values: Array, sizes: tuple[Size, ...], answer: str, signs: Array) -> Spread:
    first = 1 + 2 * len(sizes)
    corners = values[first:]
    squares = [size.effects[answer].largest ** 2 for size in sizes]
    worst, corner = float("nan"), ()
    if np.all(np.isfinite(corners)):
        at = int(np.argmax(corners))
        worst, corner = float(corners[at]), tuple(signs[first + at].astype(int).tolist())
    return Spread(float(values[0]), worst, corner, float(np.sqrt(np.sum(squares))))


def _unsolved(rows: Rows, signs: Array, names: list[str]) -> tuple[str, ...]:
    ends = {1.0: "larger", -1.0: "smaller"}
    texts = []
    for n in np.flatnonzero(~rows.solved):
        off = [f"{name} {ends[s]}" for name, s in zip(names, signs[n], strict=True) if s]
        texts.append(f"{', '.join(off) or 'nominal'}: {rows.reason[n] or rows.status[n]}")
    return tuple(texts)
