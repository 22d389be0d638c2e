"""Designs laid out as arrays, marched and judged: nominal, worst channel and band."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks import limits, lip
from regen.checks.columns import columns, headlines
from regen.checks.coolant import facts_of
from regen.checks.edges import Edges, Members, edges_of
from regen.checks.judge import injector_pressure
from regen.design import Design
from regen.passage import Passage
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import run
from regen.physics.tables import CoolantTable
from regen.prepare import Prepared
from regen.properties import metals
from regen.properties.alloys import RangeError
from regen.solve import (
    Marched,
    Passed,
    bad_slots,
    failure,
    ids,
    member_names,
    too_much_returned,
)
from regen.studies.batch import Batch, feed_choices
from regen.studies.rows import ALONG, ASKED, LANES, Array, Judged, Rows, blank

Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class Lanes:
    """Solved lanes of some designs: tables, rows by rising x, station columns, summary."""

    prepared: Prepared
    marched: Marched
    stations: dict[str, Array]
    summary: dict[str, Array]

    @property
    def lane(self) -> limits.Lane:
        """The same as the limits are judged by."""
        return limits.Lane(self.stations, self.summary)


def solve_batch(
    batch: Batch,
    designs: Mapping[int, Design] | None,
    judged: Judged,
    along: bool,
    stationwise: bool = False,
) -> Rows:
    """March and judge designs that were laid out as arrays.

    Parameters
    ----------
    batch : Batch
        L designs.
    designs : mapping of int to Design, or None
        Each design by its row, where uncooled ends are to be judged.
    judged : {"nominal", "worst", "full"}
        Lanes that are solved beside the nominal.
    along : bool
        Keep the columns ``ALONG`` of the nominal lane.
    stationwise : bool
        Keep the margins at every station.

    Returns
    -------
    Rows
        (L,); designs that cannot be cut are left blank.
    """
    rows = blank(batch.sound.size, judged)
    sound = np.flatnonzero(batch.sound)
    if not sound.size:
        return rows
    models = _models(batch.names)
    out, status = run(*_tables(batch.prepared), batch.prepared.lane[sound], models[sound])
    good = status[:, 0] == st.OK
    _explain(rows, batch, sound, out, status)
    refused = _refused(rows, batch, sound[good], out.total[good])
    good[np.flatnonzero(good)[refused]] = False
    at = sound[good]
    if not at.size:
        return rows
    rows.status[at] = "solved"
    nominal = lanes_of(
        batch.prepared, at, out.station[good], out.total[good], batch.injector_pressure
    )
    _keep(rows, at, nominal)
    lanes: dict[str, tuple[Numbers, limits.Lane]] = {"nominal": (np.arange(at.size), nominal.lane)}
    if batch.worst is not None:
        lanes["worst_channel"] = _worst(rows, batch, batch.worst, at, nominal, models)
    failed = np.zeros(at.size, dtype=bool)
    if judged == "full":
        edges, failed = _band(batch, at, nominal)
        lanes["band_edge"] = np.arange(at.size), edges.lane
        rows.summary["T_wall_hot_max_band_K"][at] = edges.heads["T_wall_hot_max_K"][1]
        drop = edges.heads["coolant_pressure_drop_Pa"][1]
        rows.summary["coolant_pressure_drop_band_Pa"][at] = drop
    informative, gaps = _judge(rows, batch.prepared, at, lanes, stationwise)
    if designs is not None:
        _judge_ends(rows, batch, designs, at, nominal, lanes)
    _open_edges(rows, at[failed])
    rows.verdict[at] = verdicts(rows, informative, gaps, judged)[at]
    kept, x = _along(nominal, at, batch.sound.size) if along else ({}, None)
    return replace(rows, informative=informative, gaps=gaps, along=kept, x=x)


def _models(names: tuple[Mapping[str, str], ...]) -> NDArray[Any]:
    """Return the ids (L,) [-] of models by row; rows of the same models share one mapping."""
    own = {id(of_row): of_row for of_row in names}
    place = {key: n for n, key in enumerate(own)}
    known = np.concatenate([ids(of_row) for of_row in own.values()])
    return known[[place[id(of_row)] for of_row in names]]


def _tables(
    prepared: Prepared,
) -> tuple[A.Geometry, A.GasStations, CoolantTable, A.Walls]:
    return prepared.geometry, prepared.gas, prepared.coolant, prepared.walls


def _explain(
    rows: Rows, batch: Batch, sound: Numbers, out: A.Out, status: NDArray[np.int64]
) -> None:
    """Say why lanes stopped."""
    for n in np.flatnonzero(status[:, 0] != st.OK):
        part = Passed(out.station[n], out.total[n], int(status[n, 0]), int(status[n, 1]))
        lane = Marched("nominal", part.station, part.total, (part,), part.code)
        error = failure(batch.prepared, lane)
        rows.status[sound[n]], rows.reason[sound[n]] = error.status, str(error)
        rows.x_stop[sound[n]] = error.station_x


def _refused(rows: Rows, batch: Batch, at: Numbers, total: Array) -> NDArray[np.bool_]:
    """Refuse designs that return more coolant than there is fuel; say which."""
    refused = np.zeros(at.size, dtype=bool)
    if not batch.prepared.design.coolant.returns_to_injector:
        return refused
    for n, row in enumerate(at):
        if text := too_much_returned(float(batch.mixture_ratio[row]), total[n]):
            refused[n] = True
            rows.status[row], rows.reason[row] = "out of range", text
    return refused


def lanes_of(
    prepared: Prepared, at: Numbers, station: Array, total: Array, injector_pressure: Array
) -> Lanes:
    """Return solved lanes with their columns.

    Parameters
    ----------
    prepared : Prepared
        L designs that were laid out as arrays.
    at : ndarray of int
        Rows of those that were solved (n,) [-].
    station, total : ndarray
        What they came to: (n, S, fields) in flow order, (n, fields) [SI].
    injector_pressure : ndarray
        Of each of the L designs (L,) [Pa].

    Returns
    -------
    Lanes
        (n,) of each quantity.
    """
    taken = _taken(prepared, at)
    # each column by itself in memory: from here on they are taken one by one
    by_x = np.moveaxis(np.moveaxis(station, -1, 0).take(prepared.rows.index, axis=-1), 0, -1)
    marched = Marched("lanes", by_x, total, (Passed(station, total, st.OK, 0),), st.OK)
    summary = headlines(taken, marched, taken.paths)
    stations = columns(taken, marched, taken.paths)
    summary[limits.INJECTOR] = injector_pressure[at]
    summary["coolant_mach_max"] = stations["mach_coolant"].max(axis=-1)
    summary["land_width_min_m"] = stations["land_width_m"].min(axis=-1)
    return Lanes(taken, marched, stations, summary)


def _taken(prepared: Prepared, at: Numbers) -> Prepared:
    """Return some of the designs; the core's geometry keeps all, since lanes point into it."""
    path = replace(prepared.paths[0], passage=_slots(prepared.paths[0].passage, at))
    passage = _slots(prepared.passage, at)
    return replace(prepared, paths=(path,), passage=passage, lane=prepared.lane[at])


def _slots(passage: Passage, at: Numbers) -> Passage:
    names = [n for n in Passage.__slots__ if getattr(getattr(passage, n), "ndim", 0) == 2]
    return replace(passage, **{name: getattr(passage, name)[at] for name in names})


def _keep(rows: Rows, at: Numbers, nominal: Lanes) -> None:
    for name, values in rows.summary.items():
        if name in nominal.summary:
            values[at] = nominal.summary[name]


def _worst(
    rows: Rows,
    batch: Batch,
    prepared: Prepared,
    at: Numbers,
    nominal: Lanes,
    models: NDArray[Any],
) -> tuple[Numbers, limits.Lane]:
    """Solve the worst channel of each design; return which were solved, and their lane."""
    shortfall, total = prepared.design.shop.flow_shortfall, nominal.marched.total
    out, status = bad_slots(prepared, prepared.lane[at], models[at], total, shortfall)
    good = status[:, 0] == st.OK
    found = np.flatnonzero(good)
    pressure = batch.injector_pressure
    worst = lanes_of(prepared, at[found], out.station[good], out.total[good], pressure)
    rows.summary["T_wall_hot_max_worst_K"][at[found]] = worst.summary["T_wall_hot_max_K"]
    # what the manifolds give it are its neighbours' pressures
    shared = ("coolant_pressure_drop_Pa", "coolant_pressure_out_Pa", "coolant_pressure_in_Pa")
    of_all = {name: nominal.summary[name][found] for name in shared}
    return found, limits.Lane(worst.stations, {**worst.summary, **of_all})


def _band(batch: Batch, at: Numbers, nominal: Lanes) -> tuple[Edges, NDArray[np.bool_]]:
    """Solve every member of the band; return its edges, and where a member was not solved."""
    parts: list[tuple[Numbers, Edges]] = []
    failed = np.zeros(at.size, dtype=bool)
    for names, some in _by_members(batch, at).items():
        station, total, bad = _members(batch, at[some], [dict(name) for name in names])
        station = np.where(bad[..., None, None], nominal.marched.station[some], station)
        total = np.where(bad[..., None], nominal.marched.total[some], total)
        failed[some] = bad.any(axis=0)
        taken = _taken(batch.prepared, at[some])
        stations = {name: values[some] for name, values in nominal.stations.items()}
        summary = {name: values[some] for name, values in nominal.summary.items()}
        edges = edges_of(taken, taken.passage, stations, summary, Members(station, total))
        parts.append((some, edges))
    return _one(parts, at.size), failed


def _by_members(
    batch: Batch, at: Numbers
) -> dict[tuple[tuple[tuple[str, str], ...], ...], Numbers]:
    """Return the designs by the members of their band."""
    found: dict[tuple[tuple[tuple[str, str], ...], ...], list[int]] = {}
    known: dict[tuple[tuple[str, ...], ...], tuple[tuple[tuple[str, str], ...], ...]] = {}
    choices = feed_choices(batch.prepared, batch.prepared.lane[at])
    for n, (row, choice) in enumerate(zip(at, choices, strict=True)):
        names = batch.names[row]
        key = (tuple(names.values()), choice.members)
        if key not in known:
            members, _ = member_names(names, choice)
            known[key] = tuple(tuple({**names, **member}.items()) for member in members)
        found.setdefault(known[key], []).append(n)
    return {names: np.array(rows) for names, rows in found.items()}


def _members(
    batch: Batch, at: Numbers, names: list[dict[str, str]]
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """March M members of some designs: rows (M, n, R, fields), totals, and which failed."""
    prepared = batch.prepared
    lanes = np.tile(prepared.lane[at], len(names))
    models = np.repeat(np.concatenate([ids(name) for name in names]), at.size)
    out, status = run(*_tables(prepared), lanes, models)
    shape = len(names), at.size
    station = out.station[:, prepared.rows.index].reshape(*shape, -1, A.N_STATION_OUT)
    bad = np.reshape(status[:, 0] != st.OK, shape)
    return station, out.total.reshape(*shape, A.N_TOTAL), bad


def _one(parts: list[tuple[Numbers, Edges]], size: int) -> Edges:
    """Join edges that were found by groups of designs."""
    if len(parts) == 1:
        return parts[0][1]

    def whole(of: list[Array]) -> Array:
        joined = np.empty((size, *of[0].shape[1:]))
        for (some, _), values in zip(parts, of, strict=True):
            joined[some] = values
        return joined

    edges = [edges for _, edges in parts]
    stations = {n: whole([e.lane.stations[n] for e in edges]) for n in edges[0].lane.stations}
    totals = {n: whole([np.asarray(e.lane.totals[n]) for e in edges]) for n in edges[0].lane.totals}
    heads = {
        n: (whole([e.heads[n][0] for e in edges]), whole([e.heads[n][1] for e in edges]))
        for n in edges[0].heads
    }
    return Edges({}, heads, {}, limits.Lane(stations, totals))


def _solved(prepared: Prepared, lanes: Mapping[str, limits.Lane]) -> limits.Solved:
    design = prepared.design
    liner = metals.liner(design)
    return limits.Solved(
        design=design,
        alloy=replace(liner, beyond="nan"),
        coolant=facts_of(design.coolant, prepared.coolant),
        injector_pressure=injector_pressure(prepared),
        nominal=lanes["nominal"],
        band=lanes.get("band_edge"),
        worst=lanes.get("worst_channel"),
    )


def _judge(
    rows: Rows,
    prepared: Prepared,
    at: Numbers,
    lanes: Mapping[str, tuple[Numbers, limits.Lane]],
    stationwise: bool,
) -> tuple[frozenset[str], frozenset[str]]:
    """Fill the margins of every limit.

    Return the names of those that do not decide, and of those that make a row no more than
    marginal where they are not evaluated.
    """
    rules = limits.rules(_solved(prepared, {name: lane for name, (_, lane) in lanes.items()}))
    for rule in rules:
        of_lanes = rows.margins.setdefault(rule.limit.name, _no_margins(rows))
        for name, (some, lane) in lanes.items():
            margins = limits.along(rule.limit, rule.compare, lane)
            of_lanes[name][at[some]] = limits.least(margins)
            if stationwise:
                wide = np.full((len(rows), margins.shape[1]), np.nan)
                wide[at[some]] = margins
                rows.margins_along.setdefault(rule.limit.name, {})[name] = wide
    gaps = frozenset(rule.limit.name for rule in rules if rule.limit.missing == "marginal")
    nowhere = {name for name in gaps if np.isnan(rows.margins[name]["nominal"][at]).all()}
    informative = {rule.limit.name for rule in rules if rule.limit.informative}
    return frozenset(informative | nowhere), gaps


def _no_margins(rows: Rows) -> dict[str, Array]:
    return {lane: np.full(len(rows), np.nan) for lane in LANES}


def _judge_ends(
    rows: Rows,
    batch: Batch,
    designs: Mapping[int, Design],
    at: Numbers,
    nominal: Lanes,
    lanes: Mapping[str, tuple[Numbers, limits.Lane]],
) -> None:
    """Judge uncooled ends, one design at a time."""
    h0 = nominal.marched.total[:, A.T_H0]
    whole = _solved(batch.prepared, {name: lane for name, (_, lane) in lanes.items()})
    for n, row in enumerate(at):
        own = {name: _row(some, lane, n) for name, (some, lane) in lanes.items()}
        solved = replace(
            whole,
            design=designs[int(row)],
            nominal=own["nominal"] or whole.nominal,
            band=own.get("band_edge"),
            worst=own.get("worst_channel"),
        )
        prepared = replace(
            batch.prepared,
            design=designs[int(row)],
            passage=_slots(batch.prepared.passage, np.array([row])),
        )
        try:
            found, _ = lip.judge_ends(prepared, float(h0[n]), solved)
        except RangeError as error:
            rows.reason[row] = str(error)
            continue
        for margin in found:
            of_lanes = rows.margins.setdefault(margin.name, _no_margins(rows))
            for name in LANES:
                value = getattr(margin, name)
                of_lanes[name][row] = np.nan if value is None else value


def _row(some: Numbers, lane: limits.Lane, n: int) -> limits.Lane | None:
    """Return the lane of one design, None if it was not solved."""
    place = np.flatnonzero(some == n)
    if not place.size:
        return None
    i = int(place[0])
    return limits.Lane(
        {name: values[i] for name, values in lane.stations.items()},
        {name: float(np.asarray(values)[i]) for name, values in lane.totals.items()},
    )


def _open_edges(rows: Rows, failed: Numbers) -> None:
    """Show no band edge where a member was not solved, unless a solved one breaks the limit."""
    for lanes in rows.margins.values():
        edge = lanes["band_edge"]
        edge[failed] = np.where(edge[failed] < 0.0, edge[failed], np.nan)


def verdicts(
    rows: Rows, informative: frozenset[str], gaps: frozenset[str], judged: Judged
) -> NDArray[np.object_]:
    """Return the worst verdict over the limits that decide, by the lanes that were asked for.

    Parameters
    ----------
    rows : Rows
        With their margins.
    informative : frozenset of str
        Limits that do not decide.
    gaps : frozenset of str
        Those that make a design marginal, not unknown, where they are not evaluated.
    judged : {"nominal", "worst", "full"}
        Lanes that were solved beside the nominal.

    Returns
    -------
    ndarray of str
        (L,); of no meaning where nothing was solved.
    """
    deciding = {n: m for n, m in rows.margins.items() if n in gaps or n not in informative}
    nominal = np.stack([lanes["nominal"] for lanes in deciding.values()])
    kept = np.ones(len(rows), dtype=bool)
    for lanes in deciding.values():
        for name in ASKED[judged]:
            kept &= lanes[name] >= 0.0
    unknown = np.stack([np.isnan(m["nominal"]) for n, m in deciding.items() if n not in gaps])
    verdict = np.where(kept, "pass", "marginal").astype(object)
    verdict[unknown.any(axis=0)] = "unknown"
    verdict[(nominal < 0.0).any(axis=0)] = "fail"
    return verdict


def _along(nominal: Lanes, at: Numbers, size: int) -> tuple[dict[str, Array], Array]:
    shape = size, nominal.stations["x_m"].shape[1]
    kept = {name: np.full(shape, np.nan) for name in ("x_m", *ALONG)}
    for name, values in kept.items():
        values[at] = nominal.stations[name]
    return kept, kept.pop("x_m")
