"""What the limits are judged by: a solved lane, and a limit with how lanes compare with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from regen.checks.coolant import CoolantFacts
from regen.design import Design
from regen.properties.alloys import AlloyCondition
from regen.result import Array

LOWEST_PRESSURE = "p_coolant_lowest_Pa"
"""Column of the band's edge: the lowest coolant pressure, for what boiling is judged by [Pa]."""

INJECTOR = "injector_pressure_Pa"
"""Total of a lane: the chamber pressure at its injector face [Pa], if it differs by design."""


@dataclass(frozen=True, slots=True, eq=False)
class Lane:
    """One solved lane, or one of each of L designs.

    ``stations`` maps names of ``result.STATION_COLUMNS`` to arrays (S,) or (L, S); the band's edge
    may have ``LOWEST_PRESSURE`` beside its highest. ``totals`` has
    ``T_wall_hot_max_K`` (peak, may exceed the rows), ``q_max_W_m2`` and
    ``coolant_pressure_out_Pa``, numbers or (L,).
    """

    stations: Mapping[str, Array]
    totals: Mapping[str, float | Array]


@dataclass(frozen=True, slots=True)
class Stopped:
    """A lane that was not solved.

    ``code`` is of ``physics.status``; ``why`` says so in words, with the temperatures reached, and
    ``x_m`` where [m], None where no flow was found that could be marched.
    """

    code: int
    why: str
    x_m: float | None = None


Outcome = Lane | Stopped | None
"""A lane; or why it was not solved; or None if it was not asked for."""


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """A solved design as the checks need it.

    ``band`` holds the unfavourable edge of each station column and total: hottest walls,
    highest flux, lowest outlet pressure. ``worst`` holds the worst channel at each corner of the
    shop's tolerances, empty if it was not asked for. ``injector_pressure`` is the chamber pressure
    at the injector face [Pa].
    """

    design: Design
    alloy: AlloyCondition
    coolant: CoolantFacts
    injector_pressure: float
    nominal: Lane
    band: Outcome = None
    worst: tuple[Outcome, ...] = ()


class Compared(NamedTuple):
    """Values and limits (..., S), stations where there is a demand (None: all), and a note."""

    value: Array
    limit: Array
    asked: NDArray[np.bool_] | None = None
    note: str = ""


class Compare(Protocol):
    """How a lane compares with a limit."""

    def __call__(self, lane: Lane, /) -> Compared:
        """Return values and limits of a lane by station; may raise ``RangeError``."""
        ...


@dataclass(frozen=True, slots=True)
class Limit:
    """What a margin is about: name, text, unit, sense and source of the limit.

    ``missing`` is the verdict where the nominal could not be evaluated. It is "marginal" for the
    hot strength of a part whose strength at the proof test, cold, is a limit of its own: a gap in
    the tables then takes the pass away, but makes nothing unknown that a test will show.
    """

    name: str
    text: str
    unit: str
    source: str
    kind: Literal["max", "min"] = "max"
    note: str = ""
    informative: bool = False
    missing: Literal["unknown", "marginal"] = "unknown"


class Rule(NamedTuple):
    """A limit and how lanes compare with it."""

    limit: Limit
    compare: Compare
