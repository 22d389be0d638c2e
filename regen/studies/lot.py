"""Many designs at once: a base design with keys at other values, solved and judged row by row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from regen.checks.judge import review
from regen.curves import GeometryError
from regen.design import Design
from regen.properties.alloys import RangeError
from regen.result import Result
from regen.solve import MarchError
from regen.studies.keys import Key, applied

Array = NDArray[np.float64]
Texts = NDArray[np.object_]
Judged = Literal["nominal", "worst", "full"]
"""Which lanes are solved beside the nominal: none; the worst channel; that and the band."""

LANES = ("nominal", "band_edge", "worst_channel")

ROLES = ("gas_side", "coolant_side", "friction", "boiling")
"""Models that a lot may vary by name."""

SUMMARY = (
    "T_wall_hot_max_K",
    "x_T_wall_hot_max_m",
    "T_wall_cold_max_K",
    "q_max_W_m2",
    "x_q_max_m",
    "heat_total_W",
    "coolant_temperature_out_K",
    "coolant_pressure_in_Pa",
    "coolant_pressure_drop_Pa",
    "coolant_pressure_out_Pa",
    "coolant_mass_flow_kg_s",
    "coolant_mach_max",
    "gas_mass_flow_kg_s",
    "characteristic_velocity_m_s",
    "throat_diameter_m",
    "land_width_min_m",
)
"""Numbers of a solved row, named as in result.json; the last is the least land at the slot floor.

With the worst channel come ``T_wall_hot_max_worst_K``, with the band
``T_wall_hot_max_band_K`` and ``coolant_pressure_drop_band_Pa``, its unfavourable edges.
"""

ALONG = ("T_wall_hot_K", "q_W_m2", "T_coolant_K", "p_coolant_Pa", "T_wall_cold_K")
"""Columns along x that a lot may keep."""


@dataclass(frozen=True)
class Lot:
    """L designs: a base, K keys with a value each (L, K) in SI, and models by role, if varied.

    ``models`` maps a role of ``ROLES`` to one name for each row.
    """

    design: Design
    keys: tuple[Key, ...]
    values: Array
    models: Mapping[str, Sequence[str]] | None = None

    def __len__(self) -> int:
        return int(self.values.shape[0])

    def part(self, start: int, stop: int) -> Lot:
        """Return rows ``start`` to ``stop`` of the lot."""
        models = {role: names[start:stop] for role, names in (self.models or {}).items()}
        return replace(self, values=self.values[start:stop], models=models or None)

    def row(self, n: int) -> Design:
        """Return one row as a design of its own."""
        design = self.design
        for key, value in zip(self.keys, self.values[n], strict=True):
            design = applied(design, key, float(value))
        named: dict[str, Any] = {role: names[n] for role, names in (self.models or {}).items()}
        return replace(design, models=replace(design.models, **named)) if named else design


@dataclass(frozen=True)
class Rows:
    """The solved lot, L rows.

    ``status`` is "solved", or in a word or two why not, and ``reason`` the same with a remedy;
    ``x_stop`` is the station reached [m]. ``summary`` has ``SUMMARY`` (L,), ``margins`` by limit
    and lane of ``LANES`` the margins (L,) [-]; both are NaN where there is no number: not
    solved, not asked for, or not evaluated. ``verdict`` is that of the lanes that were asked
    for, "" where nothing was solved. ``along`` holds columns of the nominal lane (L, S) and
    ``x`` their stations (L, S) [m], if they were asked for.
    """

    status: Texts
    reason: Texts
    x_stop: Array
    summary: dict[str, Array]
    margins: dict[str, dict[str, Array]]
    informative: frozenset[str]
    verdict: Texts
    along: dict[str, Array]
    x: Array | None = None

    @property
    def solved(self) -> NDArray[np.bool_]:
        """Rows whose nominal lane was solved (L,)."""
        return np.asarray(self.status == "solved")

    def __len__(self) -> int:
        return int(self.status.size)

    def least_margin(self, lane: str = "nominal") -> Array:
        """Return the least margin of a lane over the limits that decide (L,) [-].

        NaN where one of them was not evaluated, or nothing was solved.
        """
        deciding = [m[lane] for name, m in self.margins.items() if name not in self.informative]
        if not deciding:
            return np.full(len(self), np.nan)
        return np.asarray(np.min(np.stack(deciding), axis=0))


def solve_lot(lot: Lot, *, judged: Judged = "full", threads: int = 1, along: bool = False) -> Rows:
    """Solve and judge every row of a lot.

    Parameters
    ----------
    lot : Lot
        The designs.
    judged : {"nominal", "worst", "full"}
        Lanes that are solved beside the nominal.
    threads : int
        Threads to spread the work over [-].
    along : bool
        Keep the columns ``ALONG`` of the nominal lane.

    Returns
    -------
    Rows
        A row for each design, solved or not; rows do not depend on how a lot is cut into parts.
    """
    return _one_by_one(lot, judged, along)


def _one_by_one(lot: Lot, judged: Judged, along: bool) -> Rows:
    """Solve each row by itself."""
    results: list[Result | Exception] = []
    for n in range(len(lot)):
        try:
            results.append(review(lot.row(n)))
        except (MarchError, GeometryError, RangeError) as error:
            results.append(error)
    return _collected(results, judged, along)


def _collected(results: Sequence[Result | Exception], judged: Judged, along: bool) -> Rows:
    size = len(results)
    summary = {name: np.full(size, np.nan) for name in SUMMARY}
    extra = {
        "worst": ("T_wall_hot_max_worst_K",),
        "full": (
            "T_wall_hot_max_worst_K",
            "T_wall_hot_max_band_K",
            "coolant_pressure_drop_band_Pa",
        ),
    }
    for name in extra.get(judged, ()):
        summary[name] = np.full(size, np.nan)
    margins: dict[str, dict[str, Array]] = {}
    informative: set[str] = set()
    status, reason, verdict = (np.full(size, "", dtype=object) for _ in range(3))
    x_stop = np.full(size, np.nan)
    kept: dict[str, list[Array]] = {}
    for n, found in enumerate(results):
        if not isinstance(found, Result):
            status[n], reason[n], x_stop[n] = _failure(found)
            continue
        status[n], verdict[n] = "solved", found.verdict
        known: dict[str, Any] = dict(found.summary)
        known["coolant_mach_max"] = found.stations["mach_coolant"].max()
        known["land_width_min_m"] = found.stations["land_width_m"].min()
        known["T_wall_hot_max_worst_K"] = found.worst_channel.get("T_wall_hot_max_K", np.nan)
        known["T_wall_hot_max_band_K"] = found.bands["T_wall_hot_max_K"].max
        known["coolant_pressure_drop_band_Pa"] = found.bands["coolant_pressure_drop_Pa"].max
        for name, values in summary.items():
            values[n] = known[name]
        for margin in found.margins:
            if margin.name not in margins:
                margins[margin.name] = {lane: np.full(size, np.nan) for lane in LANES}
            for lane in LANES:
                value = getattr(margin, lane)
                margins[margin.name][lane][n] = np.nan if value is None else value
            if margin.informative:
                informative.add(margin.name)
        if along:
            for name in ("x_m", *ALONG):
                kept.setdefault(name, []).append(found.stations[name])
    columns = {name: np.stack(values) for name, values in kept.items()} if kept else {}
    x = columns.pop("x_m", None)
    return Rows(
        status, reason, x_stop, summary, margins, frozenset(informative), verdict, columns, x
    )


def _failure(error: Exception) -> tuple[str, str, float]:
    """Return status, reason and station reached [m] of a design that was not solved."""
    if isinstance(error, MarchError):
        return error.status, str(error), error.station_x
    name = "no such geometry" if isinstance(error, GeometryError) else "out of range"
    return name, str(error).replace("\n\n", "; "), float("nan")
