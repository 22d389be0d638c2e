"""What limits are judged by: solved runs, and values compared with limits by station."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import wraps
from typing import Any, NamedTuple, TypeVar

import numpy as np

from regen.checks.coolant import CoolantFacts
from regen.design import Design
from regen.errors import RangeError
from regen.metals import selection as metals
from regen.metals.alloys import AlloyCondition
from regen.result import Array, Integers, Mask

LOWEST_PRESSURE = "p_coolant_lowest_Pa"
"""Column of the band's edge: the lowest coolant pressure, by which boiling is judged [Pa]."""

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

    def taken(self, at: int | Integers) -> Run:
        """Return one of many runs, or some of them, by their places [-]."""
        stations = {name: values[at] for name, values in self.stations.items()}
        return Run(stations, {name: np.asarray(of)[at] for name, of in self.totals.items()})

    @property
    def T_wall(self) -> Array:  # noqa: N802 - T is a temperature
        """Mean temperature through the hot wall (..., S) [K]."""
        return 0.5 * (self.stations["T_wall_hot_K"] + self.stations["T_wall_cold_K"])

    @property
    def dp_wall(self) -> Array:
        """Coolant pressure less gas pressure across the hot wall (..., S) [Pa]."""
        return self.stations["p_coolant_Pa"] - self.stations["p_gas_Pa"]


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
    memo: dict[Any, Any] = field(default_factory=dict, init=False, repr=False)
    """Answers of functions decorated with ``once``."""

    @property
    def jacket(self) -> AlloyCondition:
        """Metal of the jacket, read beyond its tables as the liner's is."""
        return replace(metals.jacket(self.design), beyond=self.alloy.beyond)

    @property
    def quiet(self) -> Solved:
        """The same with metals that give NaN beyond their tables instead of raising."""
        return replace(self, alloy=self.alloy.quiet)


Answer = TypeVar("Answer")


def once(function: Callable[[Solved, Run], Answer]) -> Callable[[Solved, Run], Answer]:
    """Return a function that works out its answer, or its ``RangeError``, once for each run."""

    @wraps(function)
    def remembered(solved: Solved, run: Run) -> Answer:
        key = function, run
        if key not in solved.memo:
            try:
                solved.memo[key] = function(solved, run)
            except RangeError as error:
                solved.memo[key] = error
        answer: Answer | RangeError = solved.memo[key]
        if isinstance(answer, RangeError):
            raise answer
        return answer

    return remembered


class Compared(NamedTuple):
    """Values and limits (..., S), stations where there is a demand (None: all), and a note.

    ``indicative``: stations where the limit is a stated floor, or rests on a correlation that was
    not made for the fluid (None: nowhere). ``caution`` is what a reader of the row must see, such
    as properties that were extrapolated.
    """

    value: Array
    limit: Array
    asked: Mask | None = None
    note: str = ""
    indicative: Mask | None = None
    caution: str = ""


Compare = Callable[[Run], Compared]
"""Gives values and limits of a run by station; may raise ``RangeError``."""


def against(value: Array, limit: Array | float, **more: Any) -> Compared:
    """Compare values (..., S) with a limit that is one number, or one a station [same unit]."""
    return Compared(value, np.broadcast_to(np.asarray(limit), value.shape), **more)
