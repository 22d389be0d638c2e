"""Flow paths: the slots of one circuit as stations in the order of its coolant's flow.

A path goes along its range once, or down and back between its own slots. Where the coolant comes
from a plenum (the inlet, a change of the number of slots) or turns round, the station before is
repeated: a step of no length that has a loss.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from operator import itemgetter

import numpy as np
from numpy.typing import NDArray

from regen.design import Circuit, Design
from regen.errors import GeometryError
from regen.geometry.channels import Passage, build_passage
from regen.geometry.contour import Contour, cooled_range, place_stations
from regen.geometry.curves import MERGE, Array
from regen.physics import arrays as A
from regen.result import pieces
from regen.texts import text

WHOLE = "all slots"
"""Name of the one circuit of a design without circuits."""

SHORTEST = 1e-3
"""Least length of a circuit along the axis [m]: below, its manifolds leave no slot."""


@dataclass(frozen=True)
class Path:
    """One circuit: its slots by rising x, and how its flow goes through them.

    Parameters
    ----------
    circuit : Circuit
        Slots and feed.
    number : int
        Place among the circuits, from 1 [-].
    passage : Passage
        Rows by rising x.
    x : ndarray
        Its stations, each once [m].
    order : ndarray of int
        Row of the passage at each station of the flow (S,) [-].
    pass_number : ndarray of int
        1 on the way down, 2 on the way back (S,) [-].
    """

    circuit: Circuit
    number: int
    passage: Passage
    x: Array
    order: NDArray[np.int64]
    pass_number: NDArray[np.int64]

    @property
    def name(self) -> str:
        """Name of the circuit."""
        return self.circuit.name

    @property
    def passes(self) -> int:
        """1 one way, 2 down and back."""
        return int(self.pass_number[-1])

    @property
    def share(self) -> float:
        """Part of the circumference that each pass has [-]."""
        return 1.0 / self.passes

    def flowing(self, name: str) -> Array:
        """Return a field of the passage at the stations of the flow (S,), or (L, S) [SI]."""
        return np.asarray(getattr(self.passage, name).take(self.order, axis=-1))

    def steps(self, name: str) -> Array:
        """Return ``step_gas`` or ``step_passage`` from the station before in the flow (S,) [m]."""
        by_row = getattr(self.passage, name)
        before, after = self.order[:-1], self.order[1:]
        moved = np.where(before == after, 0.0, by_row.take(np.maximum(before, after), axis=-1))
        none = np.zeros_like(moved[..., :1])
        return np.asarray(np.concatenate([none, moved], axis=-1), dtype=np.float64)

    @property
    def length(self) -> Array:
        """Distance from the inlet along the slot's mid-line (S,) [m]."""
        along = np.cumsum(self.passage.step_passage, axis=-1)[..., self.order]
        turn = int(np.argmax(self.pass_number == self.passes))
        down = np.abs(along - along[..., :1])
        back = down[..., turn, None] + np.abs(along - along[..., turn, None])
        return np.asarray(np.where(self.pass_number == 1, down, back), dtype=np.float64)

    @property
    def heated(self) -> Array:
        """Distance from the last plenum along the slot's mid-line (S,) [m]."""
        last = np.maximum.accumulate(np.where(self.plenum > 0.0, np.arange(self.order.size), 0))
        return np.asarray(self.length - self.length[last], dtype=np.float64)

    @property
    def plenum(self) -> Array:
        """1 where the flow comes from a plenum at rest (S,) [-]."""
        count = self.flowing("count")
        changes = (np.diff(count) != 0.0) & (np.diff(self.pass_number) == 0)
        inlet = np.ones_like(count[..., :1])
        return np.asarray(np.concatenate([inlet, changes], axis=-1), dtype=np.float64)

    @property
    def loss(self) -> Array:
        """Dynamic pressures lost on the way from the station before: those of the turn (S,) [-]."""
        turns = np.diff(self.pass_number, prepend=1) > 0
        return np.asarray(self.circuit.channels.turn_loss * turns, dtype=np.float64)


@dataclass(frozen=True)
class Rows:
    """How the stations of all paths, one path behind the other, make the rows of the results.

    ``index`` (rows,) into those stations; ``circuit`` and ``pass_number`` (rows,) are columns of
    the results; ``pieces`` are the rows that may be joined to one curve.
    """

    index: NDArray[np.int64]
    circuit: Array
    pass_number: Array
    pieces: tuple[NDArray[np.int64], ...]

    def joined(self, values: Sequence[Array], axis: int = 0) -> Array:
        """Return station values of all paths in flow order, stations on ``axis``, as rows [any]."""
        return np.ascontiguousarray(np.concatenate(values, axis=axis).take(self.index, axis=axis))


def circuits_of(design: Design) -> tuple[Circuit, ...]:
    """Return the circuits of a design; one of all slots if the case names none."""
    whole = Circuit(WHOLE, design.channels, design.coolant.enters_at, share=1.0)
    return design.circuits or (whole,)


def lay_paths(design: Design, contour: Contour, *, checked: bool = True) -> tuple[Path, ...]:
    """Lay every circuit of a design along the contour, all with the same number of stations S.

    So one call of the core takes them all. Raises ``GeometryError`` if a circuit lies off the
    cooled length, overlaps another, is too short, or its slots are impossible; slots that are not
    ``checked`` are laid whatever they are.
    """
    circuits = circuits_of(design)
    spans = _spans(design, contour, circuits)
    changes = [_count_changes(c, span) for c, span in zip(circuits, spans, strict=True)]
    passes = [2 if c.channels.passes == "down and back" else 1 for c in circuits]
    stations = design.models.stations
    rows = max(n * (stations + len(at)) for n, at in zip(passes, changes, strict=True))
    rows += rows % max(passes)  # the same number for all, and whole passes
    paths, problems = [], []
    each = zip(circuits, spans, changes, passes, strict=True)
    for number, (circuit, span, at, n) in enumerate(each, start=1):
        profiles = (circuit.channels.width, circuit.channels.depth, design.liner.wall)
        places = (*(x for profile in profiles for x in profile.x), *at)
        try:
            x = place_stations(contour, *span, rows // n - len(at), places)
            passage = _passage(design, contour, circuit, x, checked=checked)
        except GeometryError as error:
            problems += [_named(design, circuit, text) for text in error.problems]
            continue
        paths.append(Path(circuit, number, passage, x, *_order(circuit, passage.x.size)))
    if problems:
        raise GeometryError(*problems)
    return tuple(paths)


def shifted(
    design: Design, contour: Contour, path: Path, width: float, depth: float, wall: float
) -> Path:
    """Return a path, on the same stations, whose sizes are all larger by these amounts [m]."""
    old = path.circuit.channels
    channels = replace(old, width=old.width.raised(width), depth=old.depth.raised(depth))
    liner = replace(design.liner, wall=design.liner.wall.raised(wall))
    circuit = replace(path.circuit, channels=channels)
    passage = _passage(replace(design, liner=liner), contour, circuit, path.x)
    return replace(path, circuit=circuit, passage=passage)


def rows_of(paths: tuple[Path, ...]) -> Rows:
    """Return how the stations of all paths make rows by rising x.

    At one x they are in the order of the circuits, of the passes, and of the passage's rows.
    """
    x = np.concatenate([path.flowing("x") for path in paths])
    circuit = np.concatenate([np.full(path.order.size, float(path.number)) for path in paths])
    pass_number = np.concatenate([path.pass_number.astype(np.float64) for path in paths])
    index = np.lexsort((np.concatenate([path.order for path in paths]), pass_number, circuit, x))
    x, circuit, pass_number = x[index], circuit[index], pass_number[index]
    return Rows(index, circuit, pass_number, pieces(x, circuit, pass_number))


def joined_passage(paths: tuple[Path, ...], rows: Rows) -> Passage:
    """Return the slots of all paths as one passage with the rows of the results.

    Each row's steps are those of its own path, from the station before along x.
    """
    first = paths[0]
    if len(paths) == 1 and np.array_equal(first.order[rows.index], np.arange(first.order.size)):
        return first.passage
    names = [f.name for f in fields(Passage) if f.name != "notes"]
    given = {name: rows.joined([path.flowing(name) for path in paths], -1) for name in names}
    notes = tuple(dict.fromkeys(note for path in paths for note in path.passage.notes))
    return Passage(**given, notes=notes)


def geometry_of(design: Design, paths: tuple[Path, ...]) -> A.Geometry:
    """Return the core's geometry: a row a path, or a row a design where one path holds many.

    Arrays (paths, S) in flow order, or (L, S).
    """
    count = np.broadcast_shapes(*(path.passage.width.shape[:-1] for path in paths))
    shape = (*count, paths[0].order.size)

    def whole(values: list[Array]) -> Array:
        rows = [np.broadcast_to(value, shape) for value in values]
        return np.ascontiguousarray(np.concatenate(rows) if count else np.stack(rows))

    def fields_of(path: Path) -> dict[str, Array]:
        same = ("r", "floor_radius", "width", "depth", "wall", "closeout")
        bends = design.models.curvature != "off"
        return {
            **{name: path.flowing(name) for name in same},
            **{name: path.steps(name) for name in ("step_gas", "step_passage")},
            "cos_slope": np.cos(path.flowing("slope_angle")),
            "slots": path.flowing("count") / path.passes,
            "share": np.full(shape[-1], path.share),
            "plenum": path.plenum,
            "loss": path.loss,
            "resistance": surface_resistance(design, path.flowing("x")),
            "bend": _bend(path) if bends else np.zeros(shape[-1]),
        }

    of_paths = [fields_of(path) for path in paths]
    return A.Geometry(**{name: whole([f[name] for f in of_paths]) for name in A.Geometry._fields})


def surface_resistance(design: Design, x: Array) -> Array:
    """Return the resistance of coating and deposit on the hot wall at ``x`` (S,) [m2 K/W]."""
    liner, deposit = design.liner, design.models.deposit_resistance
    resistance = np.zeros(np.shape(x))
    if liner.coating is not None and liner.coating_conductivity is not None:
        resistance += liner.coating.at(x) / liner.coating_conductivity
    return resistance + deposit.at(x) if deposit is not None else resistance


def _bend(path: Path) -> Array:
    """Return the passage's mean curvature over the step from the station before [1/m] (S,).

    Positive where the hot wall is on the outside of the bend, as at the throat.
    """
    slope, steps = path.passage.slope_angle[path.order], path.steps("step_passage")
    turned = np.diff(slope) * np.sign(np.diff(path.order))
    long = steps[..., 1:] > 0.0
    bend = np.zeros(steps.shape)
    np.divide(turned, steps[..., 1:], out=bend[..., 1:], where=long)
    return bend


def _passage(
    design: Design, contour: Contour, circuit: Circuit, x: Array, *, checked: bool = True
) -> Passage:
    closeout = design.closeout.thickness
    return build_passage(contour, circuit.channels, design.liner, closeout, x, checked=checked)


def _order(circuit: Circuit, rows: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return row and pass number at each station of the flow."""
    down = np.arange(rows)
    if circuit.enters_at == "nozzle":
        down = down[::-1]
    if circuit.channels.passes == "one way":
        return down.copy(), np.ones(rows, dtype=np.int64)
    return np.concatenate([down, down[::-1]]), np.repeat(np.array([1, 2]), rows)


def _count_changes(circuit: Circuit, span: tuple[float, float]) -> list[float]:
    """Return where the number of slots changes inside a circuit [m]."""
    changes = circuit.channels.count_changes
    return [x for x, _ in changes if span[0] + MERGE < x < span[1] - MERGE]


def _spans(
    design: Design, contour: Contour, circuits: tuple[Circuit, ...]
) -> list[tuple[float, float]]:
    """Return where each circuit begins and ends [m], all problems of their places at once."""
    low, high = cooled_range(contour, design.channels)
    if not design.circuits:
        return [(low, high)]
    spans, problems = [], []
    for circuit in circuits:
        try:
            spans.append(cooled_range(contour, circuit.channels))
        except GeometryError as error:
            given = (text.removeprefix("channels").lstrip(".: ") for text in error.problems)
            problems += [_named(design, circuit, text) for text in given]
            continue
        a, b = spans[-1]
        span = {"name": circuit.name, "start": a, "stop": b}
        if a < low - MERGE or b > high + MERGE:
            problems.append(text("circuit beyond", **span, low=low, high=high))
        if b - a < SHORTEST:
            problems.append(text("circuit short", **span, length=b - a, least=SHORTEST))
    if problems:
        raise GeometryError(*problems)
    by_x = sorted(zip(spans, circuits, strict=True), key=itemgetter(0))
    for ((a, b), one), ((c, d), other) in pairwise(by_x):
        if c < b - MERGE:
            span = {"name": other.name, "start": c, "stop": d}
            problems.append(text("circuits overlap", **span, other=one.name, low=a, high=b))
    if problems:
        raise GeometryError(*problems)
    return spans


def _named(design: Design, circuit: Circuit, problem: str) -> str:
    return f"circuits.{circuit.name}: {problem}" if design.circuits else problem
