"""Measured slots as geometry: deviations from the drawing along x, laid out side by side."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from operator import attrgetter

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.case.measured import SIZES, Row, place
from regen.design import Design
from regen.errors import CaseError, Problem
from regen.geometry.channels import Sizes, folds
from regen.geometry.curves import mm
from regen.solver.layout import with_slots
from regen.solver.prepare import Prepared

Array = NDArray[np.float64]

SUBJECT = "measured slots"
"""What a refusal of the design is about."""

OFF_LENGTH = 1e-6
"""How far a measured place may lie beyond the slots' ends [m]: the rounding of a drawing."""

ROUNDING = 1e-9
"""What a deviation may exceed a tolerance by, from the digits it is written with [m]."""

BETWEEN_STATIONS = 0.01e-3
"""Measured deviation that the stations may miss without a note [m]."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """Measured less drawn of one size of one slot: rising places (n,) and values (n,) [m].

    Straight between the places, held beyond them; empty where nothing was measured.
    """

    x: tuple[float, ...] = ()
    value: tuple[float, ...] = ()

    @property
    def largest(self) -> float:
        """The deviation that is largest in size, with its sign [m]."""
        return max(self.value, key=abs, default=0.0)

    def at(self, x: ArrayLike) -> Array:
        """Return the deviation at ``x`` [m], same shape as ``x``."""
        at = np.asarray(x, dtype=np.float64)
        return np.interp(at, self.x, self.value) if self.x else np.zeros_like(at)


@dataclass(frozen=True, slots=True)
class MeasuredSlot:
    """One slot as it was made, its ``deviations`` by size; ``number`` 0 is the slot as drawn.

    ``wall_inferred``: the wall was not measured, and is what the depth leaves of the blank.
    """

    number: int
    deviations: Mapping[str, Deviation]
    wall_inferred: bool = False


AS_DRAWN = MeasuredSlot(0, {name: Deviation() for name in SIZES})


@dataclass(frozen=True, slots=True)
class Along:
    """One size of M slots along x: (M, n) at n places."""

    at: Callable[[ArrayLike], Array]


def check_kind(design: Design) -> None:
    """Refuse, by ``CaseError``, designs whose slots do not all run from manifold to manifold."""
    channels = design.channels
    kinds = (
        ("circuits", design.circuits, "the chamber has several circuits"),
        ("channels.count", channels.count_changes, "the slots change in number along x"),
        ("channels.passes", channels.passes != "one way", "the coolant goes down and back"),
    )
    accepted = "slots that all run one way from the inlet manifold to the outlet manifold"
    because = "slots cannot be solved one by one there"
    if problems := [
        Problem(k, f"{w}: {because}", None, accepted) for k, wrong, w in kinds if wrong
    ]:
        raise CaseError(SUBJECT, problems)


def slots_of(design: Design, rows: Sequence[Row]) -> tuple[MeasuredSlot, ...]:
    """Return the slots that the rows of a measured file make, by number."""
    by_slot = groupby(sorted(rows, key=attrgetter("slot", "x")), key=attrgetter("slot"))
    return tuple(_slot(design, number, list(of_slot)) for number, of_slot in by_slot)


def _slot(design: Design, number: int, rows: list[Row]) -> MeasuredSlot:
    """Return one slot; a wall that was not measured is what the depth leaves of the blank."""
    drawn, deviations = _drawn(design), {}
    blank = [row for row in rows if row.wall is None and row.depth is not None]
    for name in SIZES:
        measured = [(row.x, value) for row in rows if (value := getattr(row, name)) is not None]
        off = [(x, value - float(getattr(drawn, name).at(x))) for x, value in measured]
        if name == "wall":
            off += [(row.x, float(drawn.depth.at(row.x)) - (row.depth or 0.0)) for row in blank]
        deviations[name] = Deviation(*zip(*sorted(off), strict=True))
    return MeasuredSlot(number, deviations, wall_inferred=bool(blank))


def _drawn(design: Design) -> Sizes:
    return Sizes(design.liner.wall, design.channels.width, design.channels.depth)


def sizes_of(design: Design, slots: Sequence[MeasuredSlot], *, recut: bool = False) -> Sizes:
    """Return the sizes of M slots along x, (M, n) at n places.

    ``recut``: as after a cut to the drawing, as wide as drawn where they are narrower, the floor
    down to the drawn depth and to the drawn wall, whichever takes more off.
    """

    def off(name: str, x: ArrayLike) -> Array:
        return np.stack([slot.deviations[name].at(x) for slot in slots])

    def after_cut(name: str, x: ArrayLike) -> Array:
        if name == "width":
            return np.maximum(off("width", x), 0.0)
        removed = np.maximum(np.maximum(-off("depth", x), off("wall", x)), 0.0)
        return off("depth", x) + removed if name == "depth" else off("wall", x) - removed

    drawn, change = _drawn(design)._asdict(), after_cut if recut else off

    def along(name: str) -> Along:
        return Along(lambda x: drawn[name].at(x) + change(name, x))

    return Sizes(*map(along, Sizes._fields))


def lay_slots(
    prepared: Prepared, slots: Sequence[MeasuredSlot], *, recut: bool = False
) -> Prepared:
    """Lay M slots out as designs of one batch, each with neighbours like itself."""
    (ground,), count = prepared.grounds, len(slots)
    sizes = sizes_of(prepared.design, slots, recut=recut)
    run = np.repeat(prepared.runs, count, axis=0)
    each = replace(prepared, designs=prepared.designs * count, run=run)
    return with_slots(each, [sizes], [ground.counts])


def problems_of(
    prepared: Prepared, slots: Sequence[MeasuredSlot], rows: Sequence[Row]
) -> list[Problem]:
    """Return the rows beyond the slots' ends, and the slots that are impossible."""
    x_from, x_to = prepared.passage.x[[0, -1]]
    accepted = f"{mm(x_from)} to {mm(x_to)}, the cooled length (throat at 0, injector negative)"
    problems = [
        Problem(f"{place(row)}, x", "it is beyond the slots' ends", mm(row.x), accepted)
        for row in rows
        if not x_from - OFF_LENGTH <= row.x <= x_to + OFF_LENGTH
    ]
    if not slots:
        return problems
    passage, do = lay_slots(prepared, slots).passage, "measure it again"
    folded = folds(prepared.grounds[0], sizes_of(prepared.design, slots))
    for n, slot in enumerate(slots):
        own = [row for row in rows if row.slot == slot.number]
        for name in ("wall", "land", "depth", "width"):
            value = getattr(passage, name)[n]
            x, least = passage.x[np.argmin(value)], value.min()
            if least <= 0.0:
                nearest = min(own, key=lambda row: abs(row.x - x))
                what = f"{name} of {mm(least)} at x = {mm(x)}: it must be above 0"
                problems.append(Problem(place(nearest), what, do=do))
        if folded[n]:
            what = "it is deeper than the bend of the contour allows: its mid-line folds back"
            problems.append(Problem(place(own[0]), what, do=do))
    return problems


def out_of_tolerance(slot: MeasuredSlot, design: Design) -> tuple[str, ...]:
    """Return the sizes of a slot that are beyond the shop's tolerances, either way."""
    return tuple(
        name
        for name in SIZES
        if abs(slot.deviations[name].largest) > getattr(design.shop, f"{name}_tolerance") + ROUNDING
    )


def notes_of(prepared: Prepared, slots: Sequence[MeasuredSlot]) -> list[str]:
    """Return what a reader must know of how the measurements were taken."""
    notes, x = [], prepared.passage.x
    if inferred := sum(slot.wall_inferred for slot in slots):
        notes.append(
            f"the wall of {inferred} slots was not measured: it is taken as what the measured "
            "depth leaves of the blank, so that a slot 0.1 mm too deep has a wall 0.1 mm thinner"
        )
    for slot in slots:
        for name, off in slot.deviations.items():
            missed = np.abs(np.interp(off.x, x, off.at(x)) - off.value)
            most = int(np.argmax(missed)) if off.x else -1
            if off.x and missed[most] > BETWEEN_STATIONS:
                notes.append(
                    f"slot {slot.number}: the {name} measured at x = {mm(off.x[most])} lies "
                    f"between stations, which miss {mm(missed[most])} of it; raise models.stations"
                )
    return notes
