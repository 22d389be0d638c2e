"""What a solved design is: plain frozen values, ready to be written, drawn and printed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from regen.sources import read_data

Verdict = Literal["pass", "open", "at risk", "fail"]
State = Literal["kept", "broken", "unknown"]
Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Integers = NDArray[np.int64]

SCHEMA = 1

STATION_COLUMNS: Mapping[str, str] = read_data("stations.toml")
"""What each column of the stations is, in their order."""


def pieces(x: Array, circuit: Array, pass_number: Array) -> tuple[Integers, ...]:
    """Return the rows that may be joined to one curve: one circuit, one pass, no plenum between.

    Parameters
    ----------
    x, circuit, pass_number : ndarray
        Columns of the stations (rows,) by rising x [m, -, -].

    Returns
    -------
    tuple of ndarray of int
        Numbers of the rows of each piece, x rising strictly [-].
    """
    found: list[Integers] = []
    for key in sorted({(int(c), int(p)) for c, p in zip(circuit, pass_number, strict=True)}):
        rows = np.flatnonzero((circuit == key[0]) & (pass_number == key[1]))
        found += np.split(rows, np.flatnonzero(np.diff(x[rows]) <= 0.0) + 1)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Column:
    """What one column of a row says: nominal channel, band edge or worst channel.

    ``margin`` is (limit - value)/limit for an upper limit and (value - limit)/limit for a lower
    one [-], None where there is no number. ``indicative``: by a stated floor, or by a correlation
    on a fluid it was not made for. ``why`` says what stopped it, was not known or only indicates;
    ``caution`` what it rests on that a reader must know, such as extrapolated properties. A column
    that is not ``asked`` has no demand anywhere, and a margin of 1.
    """

    state: State
    margin: float | None = None
    indicative: bool = False
    why: str = ""
    caution: str = ""
    asked: bool = True


@dataclass(frozen=True, slots=True)
class Margin:
    """One limit against one solved value: a row of nominal channel, band edge, worst channel.

    ``limit`` and ``x_m`` are those of the nominal channel's governing station. ``closes`` is the
    key of the case that closes the row where it is open. A row for information has no verdict.
    """

    name: str
    text: str
    unit: str
    limit: float | None
    kind: Literal["max", "min"]
    columns: Mapping[str, Column]
    """By ``COLUMN_NAMES``; a column that was not asked for is not there."""
    x_m: float | None
    verdict: Verdict | None
    source: str
    """Key in data/sources.toml."""
    note: str = ""
    closes: str = ""

    @property
    def informative(self) -> bool:
        """True if it never decides the design's verdict (secondary stress)."""
        return self.verdict is None

    @property
    def nominal_kept(self) -> bool:
        """True if the nominal channel is shown to keep the limit."""
        return self.columns["nominal"].state == "kept"

    def margin(self, column: str) -> float | None:
        """Return the margin of one of ``COLUMN_NAMES`` [-], None where there is no number."""
        return self.columns[column].margin if column in self.columns else None

    @property
    def nominal(self) -> float | None:
        """Margin of the nominal channel [-]."""
        return self.margin("nominal")

    @property
    def band_edge(self) -> float | None:
        """Margin at the band's edge [-]."""
        return self.margin("band_edge")

    @property
    def worst_channel(self) -> float | None:
        """Margin of the worst channel [-]."""
        return self.margin("worst_channel")


COLUMN_NAMES = ("nominal", "band_edge", "worst_channel")


@dataclass(frozen=True, slots=True)
class Band:
    """Envelope of one quantity over the named members; ``chosen`` is the nominal value.

    ``rank`` is the chosen member's place among the members, 1 for the lowest value. ``open``:
    members that were not solved may lie beyond its ends.
    """

    min: float
    chosen: float
    max: float
    members: tuple[str, ...]
    rule: str
    rank: int
    open: bool = False


@dataclass(frozen=True, slots=True)
class CircuitResult:
    """One coolant circuit from manifold to manifold: SI; ``flow_share`` of the whole flow [-]."""

    name: str
    mass_flow_kg_s: float
    flow_share: float
    temperature_in_K: float
    temperature_out_K: float
    temperature_rise_K: float
    pressure_in_Pa: float
    pressure_out_Pa: float
    pressure_drop_Pa: float
    heat_W: float
    T_wall_hot_max_K: float
    x_T_wall_hot_max_m: float
    x_from_m: float
    x_to_m: float


@dataclass(frozen=True, slots=True)
class Note:
    """Something a reviewer must know: a range left, a held value, an iteration count."""

    code: str
    text: str
    x_m: float | None = None


@dataclass(frozen=True, slots=True)
class SectionCheck:
    """One station's wall by the closed form of the march and by finite elements.

    Temperatures are the hot wall's maximum over the pitch [K], fluxes the means over the hot
    surface [W/m2]. ``T_error_K`` is what a mesh half as fine changes: more than the error of
    the finite elements.
    """

    x_m: float
    T_coolant_K: float
    T_wall_hot_K: float
    T_wall_hot_fe_K: float
    T_error_K: float
    q_W_m2: float
    q_fe_W_m2: float
    boiling: bool
    """The slot floor boils; the finite elements boil by the local wall temperature."""
    note: str = ""
    place: str = ""
    """What the station is, such as "hottest" or "throat, coolant outlet"."""

    @property
    def T_difference_K(self) -> float:  # noqa: N802 - T is a temperature
        """Closed form less finite elements [K]."""
        return self.T_wall_hot_K - self.T_wall_hot_fe_K

    @property
    def T_difference(self) -> float:  # noqa: N802
        """Closed form less finite elements, over wall less coolant of the latter [-]."""
        return self.T_difference_K / (self.T_wall_hot_fe_K - self.T_coolant_K)

    @property
    def q_difference(self) -> float:
        """Flux of the closed form over that of the finite elements, less 1 [-]."""
        return self.q_W_m2 / self.q_fe_W_m2 - 1.0


@dataclass(frozen=True, slots=True)
class Finding:
    """One number that the checks found beside the margins, for the tables of a report.

    ``value`` is None where it could not be assessed, and ``note`` says why.
    """

    section: str
    """Table it belongs to, such as "proof" or "life"."""
    name: str
    """Short name with words and underscores, one per section."""
    text: str
    value: float | None
    unit: str
    source: str
    """Key in data/sources.toml."""
    x_m: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class SectionField:
    """Temperatures of half a pitch of wall.

    ``points`` (N, 2) [m]: along the pitch from the middle of the channel, outward from the slot
    floor; ``cells`` (M, 4) corners of each cell, going round; ``T`` (N,) [K]; ``joints``
    distances from the slot floor at which one metal ends and the next begins [m].
    """

    points: Array
    cells: Integers
    T: Array
    joints: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Result:
    """A solved design.

    ``stations`` maps each name in ``STATION_COLUMNS`` to an array (station,), rows by rising x.
    ``station_bands`` maps ``T_wall_hot_K``, ``q_W_m2`` to (min, max) arrays (station,).
    ``contour_x``, ``contour_r`` is the whole hot-gas contour for drawing [m].
    """

    title: str
    status: str
    verdict: Verdict
    summary: Mapping[str, float]
    bands: Mapping[str, Band]
    worst_channel: Mapping[str, float]
    margins: tuple[Margin, ...]
    notes: tuple[Note, ...]
    provenance: Mapping[str, Any]
    stations: Mapping[str, Array]
    station_bands: Mapping[str, tuple[Array, Array]]
    contour_x: Array
    contour_r: Array
    circuits: tuple[CircuitResult, ...] = ()
    """The circuits in the order of the case; one if the case names none."""
    worst_stations: Mapping[str, Array] = field(default_factory=dict)
    """Columns of the worst channel, as ``stations``; empty if it was not solved."""
    excluded: Mapping[str, str] = field(default_factory=dict)
    """Band members left out and why; failed members and their reason."""
    findings: tuple[Finding, ...] = ()
    """What strength, life and start checks found beside margins, in the order of the report."""
    checked: Mapping[str, Array] = field(default_factory=dict)
    """Columns of these checks by rising x, rows as in ``stations``; with their units."""
    section_checks: tuple[SectionCheck, ...] = ()
    """Stations by finite elements, the hottest first; empty unless asked for."""
    section_field: SectionField | None = None
    """Temperatures of the first of them."""

    @property
    def nominal_kept(self) -> bool:
        """True if the nominal channel is shown to keep every limit that decides."""
        return all(row.nominal_kept for row in self.margins if not row.informative)
