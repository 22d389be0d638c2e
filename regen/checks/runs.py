"""What the limits are judged by: a solved run, and a limit with how runs compare with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from regen.checks.coolant import CoolantFacts
from regen.design import Design
from regen.metals.alloys import AlloyCondition
from regen.result import Array

LOWEST_PRESSURE = "p_coolant_lowest_Pa"
"""Column of the band's edge: the lowest coolant pressure, for what boiling is judged by [Pa]."""

INJECTOR = "injector_pressure_Pa"
"""Total of a run: the chamber pressure at its injector face [Pa], if it differs by design."""


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """One solved run, or one of each of L designs.

    ``stations`` maps names of ``result.STATION_COLUMNS`` to arrays (S,) or (L, S); the band's edge
    has those that it declares, and ``LOWEST_PRESSURE`` beside its highest. ``totals`` has at least
    ``T_wall_hot_max_K`` (peak, may exceed the rows), ``q_max_W_m2``, ``coolant_pressure_in_Pa``,
    ``coolant_pressure_out_Pa`` and ``INJECTOR``, numbers or (L,).
    """

    stations: Mapping[str, Array]
    totals: Mapping[str, float | Array]


@dataclass(frozen=True, slots=True)
class Stopped:
    """A band member or a worst channel that was not solved.

    ``code`` is that of ``physics.status`` [-], ``why`` says what stopped it, where, and the state
    reached; ``x_m`` is the station [m], None if there is none.
    """

    code: int
    why: str
    x_m: float | None = None


Outcome = Run | Stopped


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """A solved design as the checks need it.

    ``band`` is the unfavourable edge of each station column and total (hottest walls, highest
    flux, lowest outlet pressure) over the members that were solved, and the others; ``worst`` the
    corners of the worst channel. Both are empty where they were not asked for.
    """

    design: Design
    alloy: AlloyCondition
    coolant: CoolantFacts
    nominal: Run
    band: tuple[Outcome, ...] = ()
    worst: tuple[Outcome, ...] = ()


class Compared(NamedTuple):
    """Values and limits (..., S), stations where there is a demand (None: all), and a note.

    ``indicative``: stations where the limit is a stated floor, or rests on a correlation that was
    not made for the fluid (None: nowhere). ``caution`` is what a reader of the row must see, such
    as properties that were extrapolated.
    """

    value: Array
    limit: Array
    asked: NDArray[np.bool_] | None = None
    note: str = ""
    indicative: NDArray[np.bool_] | None = None
    caution: str = ""


class Compare(Protocol):
    """How a run compares with a limit."""

    def __call__(self, run: Run, /) -> Compared:
        """Return values and limits of a run by station; may raise ``RangeError``."""
        ...


@dataclass(frozen=True, slots=True)
class Limit:
    """What a margin is about: name, text, unit, sense and source of the limit.

    ``closes`` is the key of the case that closes the row where it is open. ``shared``: the worst
    channel has no demand of its own, and one that stopped by something else leaves none open.
    """

    name: str
    text: str
    unit: str
    source: str
    kind: Literal["max", "min"] = "max"
    note: str = ""
    informative: bool = False
    closes: str = ""
    shared: bool = False


class Rule(NamedTuple):
    """A limit and how runs compare with it."""

    limit: Limit
    compare: Compare
