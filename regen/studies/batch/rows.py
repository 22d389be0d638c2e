"""Solved rows of a batch: what is kept of each design."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from regen.solver.solve import Judged

Array = NDArray[np.float64]
Texts = NDArray[np.object_]
RUNS = ("nominal", "band_edge", "worst_channel")

ASKED: dict[Judged, tuple[str, ...]] = {
    "nominal": ("nominal",),
    "worst": ("nominal", "worst_channel"),
    "full": RUNS,
}

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
    "mass_cooled_kg",
)
"""Numbers of every solved row, named as in result.json; ``land_width_min_m`` is the least land."""

OF_THE_WORST = ("T_wall_hot_max_worst_K",)
"""Further number with the worst channel: at its hottest corner, if all corners were solved."""

OF_THE_BAND = ("T_wall_hot_max_band_K", "coolant_pressure_drop_band_Pa")
"""Further numbers with these runs: unfavourable edges of the band."""

MORE: dict[Judged, tuple[str, ...]] = {
    "nominal": (),
    "worst": OF_THE_WORST,
    "full": (*OF_THE_WORST, *OF_THE_BAND),
}

ALONG = ("T_wall_hot_K", "q_W_m2", "T_coolant_K", "p_coolant_Pa", "T_wall_cold_K")
"""Columns along x that a batch may keep."""


@dataclass(frozen=True)
class Rows:
    """The solved batch, L rows.

    ``status`` is "solved", or in a word or two why not, and ``reason`` the same with a remedy;
    ``x_stop`` is the station reached [m]. ``summary`` has ``SUMMARY`` and ``MORE`` (L,),
    ``margins`` by limit and run of ``RUNS`` the margins (L,) [-]; both are NaN where there is
    no number: not solved, not asked for, or not evaluated. A limit that makes no demand on a
    solved row has a margin of 1. ``verdict`` is that of the runs that were asked
    for, "" where nothing was solved; ``nominal_kept`` (L,) is true where the nominal channel is
    shown to keep every limit that decides. ``informative`` are the limits that do not.

    ``along`` holds columns of the nominal run (L, S) and ``x`` their stations (L, S) [m], if they
    were asked for; NaN where nothing was solved. ``margins_along`` has the margins by limit and
    run at each station (L, S) [-], infinite where there is no demand, if they were asked for.
    """

    status: Texts
    reason: Texts
    x_stop: Array
    summary: dict[str, Array]
    margins: dict[str, dict[str, Array]]
    informative: frozenset[str]
    verdict: Texts
    nominal_kept: NDArray[np.bool_]
    along: dict[str, Array] = field(default_factory=dict)
    x: Array | None = None
    margins_along: dict[str, dict[str, Array]] = field(default_factory=dict)

    @property
    def solved(self) -> NDArray[np.bool_]:
        """Rows whose nominal run was solved (L,) [-]."""
        return np.asarray(self.status == "solved")

    def __len__(self) -> int:
        return int(self.status.size)

    def least_margin(self, run: str = "nominal") -> Array:
        """Return the least margin (L,) of a run over limits that decide, NaN if one has none."""
        names = [name for name in self.margins if name not in self.informative]
        if not names:
            return np.full(len(self), np.nan)
        return np.asarray(np.min(np.stack([self.margins[name][run] for name in names]), axis=0))


def blank(size: int, judged: Judged) -> Rows:
    """Return rows of which nothing is known yet: every number NaN, every text empty."""
    status, reason, verdict = (np.full(size, "", dtype=object) for _ in range(3))
    summary = {name: np.full(size, np.nan) for name in (*SUMMARY, *MORE[judged])}
    kept = np.zeros(size, dtype=bool)
    return Rows(status, reason, np.full(size, np.nan), summary, {}, frozenset(), verdict, kept)


def joined(parts: Sequence[tuple[NDArray[np.int64], Rows]], size: int, judged: Judged) -> Rows:
    """Join rows that were solved apart, each part with the places of its rows.

    A limit that a part does not know makes no demand there.
    """
    whole = blank(size, judged)
    every = [rows for _, rows in parts]
    limits = dict.fromkeys(name for rows in every for name in rows.margins)
    margins = {name: {run: np.full(size, np.nan) for run in RUNS} for name in limits}
    stations = max((rows.x.shape[1] for rows in every if rows.x is not None), default=0)
    x = np.full((size, stations), np.nan) if stations else None
    along = {name: np.full((size, stations), np.nan) for name in ALONG if stations}
    stationwise: dict[str, dict[str, Array]] = {}
    for at, rows in parts:
        for name in ("status", "reason", "x_stop", "verdict", "nominal_kept"):
            getattr(whole, name)[at] = getattr(rows, name)
        for name, values in rows.summary.items():
            whole.summary[name][at] = values
        none = {run: np.where(rows.solved & (run in ASKED[judged]), 1.0, np.nan) for run in RUNS}
        for name, runs in margins.items():
            for run, values in rows.margins.get(name, none).items():
                runs[run][at] = values
        for name, of_runs in rows.margins_along.items():
            for run, values in of_runs.items():
                wide = np.full((size, values.shape[1]), np.inf)
                stationwise.setdefault(name, {}).setdefault(run, wide)[at] = values
        if x is not None and rows.x is not None:
            x[at, : rows.x.shape[1]] = rows.x
            for name, values in rows.along.items():
                along[name][at, : values.shape[1]] = values
    informative = frozenset[str]().union(*(rows.informative for rows in every))
    return replace(
        whole,
        margins=margins,
        informative=informative,
        along=along,
        x=x,
        margins_along=stationwise,
    )
