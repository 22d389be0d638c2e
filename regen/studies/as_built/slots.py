"""Measured slots as geometry: deviations from the drawing along x, laid out side by side."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regen.case.measured import Row, place
from regen.design import Design, Profile
from regen.errors import CaseError, Problem
from regen.geometry.channels import Sizes
from regen.geometry.curves import mm
from regen.solver.layout import with_slots
from regen.solver.prepare import Prepared

Array = NDArray[np.float64]

SLOTS = "measured slots"
"""What a refusal of the design's kind is about."""

OFF_LENGTH = 1e-6
"""How far a measured place may lie beyond the slots' ends [m]: the rounding of a drawing."""

ROUNDING = 1e-9
"""What a deviation may be beyond a tolerance by the digits it is written with [m]."""

BETWEEN_STATIONS = 0.01e-3
"""Measured deviation that the stations may miss without a word [m]."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """Measured less nominal of one size of one slot: rising places (n,) and values (n,) [m].

    Straight between the places, held beyond them; empty where nothing was measured.
    """

    x: tuple[float, ...] = ()
    value: tuple[float, ...] = ()

    @property
    def most(self) -> float:
        """Deviation of the largest size, with its sign [m]."""
        return max(self.value, key=abs, default=0.0)

    def at(self, x: ArrayLike) -> Array:
        """Return the deviation at ``x`` [m], same shape as ``x``."""
        at = np.asarray(x, dtype=np.float64)
        return np.interp(at, self.x, self.value) if self.x else np.zeros_like(at)


@dataclass(frozen=True, slots=True)
class Built:
    """One slot as it was made, its ``deviations`` by size; ``number`` 0 is the slot as drawn.

    ``inferred``: the wall was not measured, and is what the depth leaves of the blank.
    """

    number: int
    deviations: Mapping[str, Deviation]
    inferred: bool = False


AS_DRAWN = Built(0, {name: Deviation() for name in ("width", "depth", "wall")})


@dataclass(frozen=True, slots=True)
class Along:
    """One size of M slots along x: (M, n) at n places."""

    at: Callable[[ArrayLike], Array]


def check_kind(design: Design) -> None:
    """Refuse designs whose slots are not followed one by one.

    Parameters
    ----------
    design : Design
        What was drawn.

    Raises
    ------
    CaseError
        If not all slots run one way from manifold to manifold.
    """
    accepted = "slots that all run one way from the inlet manifold to the outlet manifold"
    channels = design.channels
    kinds = {
        "circuits": (bool(design.circuits), "the chamber has several circuits"),
        "channels.count": (bool(channels.count_changes), "the slots change in number along x"),
        "channels.passes": (channels.passes != "one way", "the coolant goes down and back"),
    }
    problems = [
        Problem(key, f"{what}: measured slots are not followed one by one there", None, accepted)
        for key, (wrong, what) in kinds.items()
        if wrong
    ]
    if problems:
        raise CaseError(SLOTS, problems)


def built(design: Design, rows: Sequence[Row]) -> tuple[Built, ...]:
    """Return the slots that rows of a measured file make.

    Parameters
    ----------
    design : Design
        What was drawn.
    rows : sequence of Row
        In any order.

    Returns
    -------
    tuple of Built
        By number.
    """
    of_slot: dict[int, list[Row]] = {}
    for row in sorted(rows, key=lambda row: (row.slot, row.x)):
        of_slot.setdefault(row.slot, []).append(row)
    return tuple(_slot(design, number, of_slot[number]) for number in sorted(of_slot))


def _slot(design: Design, number: int, rows: list[Row]) -> Built:
    """Return one slot; a wall that was not measured is what the depth leaves of the blank."""
    drawn = _drawn(design)
    off: dict[str, list[tuple[float, float]]] = {"width": [], "depth": [], "wall": []}
    inferred = False
    for row in rows:
        for name, profile in drawn.items():
            measured = getattr(row, name)
            if measured is not None:
                off[name].append((row.x, measured - float(profile.at(row.x))))
        if row.wall is None and row.depth is not None:
            off["wall"].append((row.x, float(drawn["depth"].at(row.x)) - row.depth))
            inferred = True
    found = {
        name: Deviation(tuple(x for x, _ in pairs), tuple(v for _, v in pairs))
        for name, pairs in off.items()
    }
    return Built(number, found, inferred)


def _drawn(design: Design) -> dict[str, Profile]:
    channels = design.channels
    return {"width": channels.width, "depth": channels.depth, "wall": design.liner.wall}


def sizes_of(design: Design, slots: Sequence[Built], *, recut: bool = False) -> Sizes:
    """Return the sizes of slots along x.

    Parameters
    ----------
    design : Design
        What was drawn.
    slots : sequence of Built
        M slots.
    recut : bool
        As they would be after a cut to the drawing: as wide as drawn wherever they are narrower,
        the floor down to the drawn depth and to the drawn wall, whichever takes more off.

    Returns
    -------
    Sizes
        (M, n) at n places.
    """
    drawn = _drawn(design)

    def off(name: str, x: ArrayLike) -> Array:
        return np.stack([slot.deviations[name].at(x) for slot in slots])

    def size(name: str) -> Along:
        def at(x: ArrayLike) -> Array:
            by = off(name, x)
            if recut and name == "width":
                by = np.maximum(by, 0.0)
            elif recut:
                taken = np.maximum(np.maximum(-off("depth", x), off("wall", x)), 0.0)
                by = by + taken if name == "depth" else by - taken
            return drawn[name].at(x) + by

        return Along(at)

    return Sizes(size("wall"), size("width"), size("depth"))


def laid(
    prepared: Prepared, slots: Sequence[Built], *, recut: bool = False
) -> tuple[Prepared, NDArray[np.bool_]]:
    """Lay slots out as designs of one batch, each with neighbours like itself.

    Parameters
    ----------
    prepared : Prepared
        What was drawn.
    slots : sequence of Built
        M slots.
    recut : bool
        As in ``sizes_of``.

    Returns
    -------
    Prepared
        A geometry row a slot.
    ndarray of bool
        (M,): True where a slot's mid-line folds.
    """
    (ground,), count = prepared.grounds, len(slots)
    sizes = sizes_of(prepared.design, slots, recut=recut)
    run = np.repeat(prepared.runs, count, axis=0)
    each = replace(prepared, designs=prepared.designs * count, run=run)
    return with_slots(each, [sizes], [ground.counts])


def problems_of(prepared: Prepared, slots: Sequence[Built], rows: Sequence[Row]) -> list[Problem]:
    """Return the rows off the slots' length, and the slots that cannot be.

    Parameters
    ----------
    prepared : Prepared
        What was drawn.
    slots : sequence of Built
        What the rows make.
    rows : sequence of Row
        The rows.

    Returns
    -------
    list of Problem
        By the line that is nearest.
    """
    x = prepared.passage.x
    accepted = f"{mm(x[0])} to {mm(x[-1])}, the cooled length (throat at 0, injector negative)"
    problems = [
        Problem(f"{place(row)}, x", "it is beyond the slots' ends", mm(row.x), accepted)
        for row in rows
        if not x[0] - OFF_LENGTH <= row.x <= x[-1] + OFF_LENGTH
    ]
    return problems + (_impossible(prepared, slots, rows) if slots else [])


def _impossible(prepared: Prepared, slots: Sequence[Built], rows: Sequence[Row]) -> list[Problem]:
    made, folded = laid(prepared, slots)
    passage, problems = made.passage, []
    words = {
        "wall": "no hot wall is left",
        "land": "no land is left beside it",
        "depth": "its depth comes to nothing away from the measured places",
        "width": "its width comes to nothing away from the measured places",
    }
    for n, slot in enumerate(slots):
        mine = [row for row in rows if row.slot == slot.number]
        for name, what in words.items():
            value = getattr(passage, name)[n]
            worst = int(np.argmin(value))
            if value[worst] > 0.0:
                continue
            near = min(mine, key=lambda row: abs(row.x - passage.x[worst]))
            text = f"{what}: {mm(value[worst])} at x = {mm(passage.x[worst])}"
            problems.append(Problem(place(near), text, do="measure it again"))
        if folded[n]:
            what = "it is deeper than the bend of the contour allows: its mid-line folds back"
            problems.append(Problem(place(mine[0]), what, do="measure it again"))
    return problems


def outside(slot: Built, design: Design) -> tuple[str, ...]:
    """Return the sizes of a slot that are beyond the shop's tolerances, either way."""
    shop = design.shop
    allowed = {
        "width": shop.width_tolerance,
        "depth": shop.depth_tolerance,
        "wall": shop.wall_tolerance,
    }
    return tuple(
        name
        for name, tolerance in allowed.items()
        if abs(slot.deviations[name].most) > tolerance + ROUNDING
    )


def said(prepared: Prepared, slots: Sequence[Built]) -> list[str]:
    """Return what must be known of how slots were taken, in words."""
    found = []
    inferred = [slot.number for slot in slots if slot.inferred]
    if inferred:
        found.append(
            f"the wall of {len(inferred)} slots was not measured: it is taken as what the measured "
            "depth leaves of the blank, so that a slot 0.1 mm too deep has a wall 0.1 mm thinner"
        )
    x = prepared.passage.x
    for slot in slots:
        for name, off in slot.deviations.items():
            if not off.x:
                continue
            missed = np.abs(np.interp(off.x, x, off.at(x)) - off.value)
            worst = int(np.argmax(missed))
            if missed[worst] > BETWEEN_STATIONS:
                found.append(
                    f"slot {slot.number}: the {name} measured at x = {mm(off.x[worst])} lies "
                    f"between stations, which miss {mm(missed[worst])} of it; raise models.stations"
                )
    return found
