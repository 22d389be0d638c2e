"""Designs laid out as arrays, marched and judged: nominal, worst channel and band."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regen.checks import limits, uncooled_ends, verdict
from regen.checks.coolant import facts_of
from regen.checks.edges import Edges, Members, edges_of
from regen.checks.stations import columns, headlines
from regen.design import Design
from regen.errors import RangeError
from regen.geometry.channels import Passage
from regen.metals import selection as metals
from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.physics.tables import CoolantTable
from regen.result import Margin, Result
from regen.solver.bands import Choice
from regen.solver.prepare import Prepared
from regen.solver.solve import (
    Marched,
    Passed,
    failure,
    ids,
    member_names,
    throat_fitted,
    too_much_returned,
)
from regen.solver.worst_channel import worst_slots
from regen.studies.batch.layout import Layout, span_choices
from regen.studies.batch.rows import ALONG, RUNS, Array, Judged, Rows, blank

Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class Runs:
    """Solved runs of some designs: tables, rows by rising x, station columns, summary."""

    prepared: Prepared
    marched: Marched
    stations: dict[str, Array]
    summary: dict[str, Array]

    @property
    def run(self) -> limits.Run:
        """The same as the limits are judged by."""
        return limits.Run(self.stations, self.summary)


@dataclass(frozen=True)
class Outcomes:
    """One column of n designs at K corners, 1 but for the worst channel's.

    ``run`` holds those that were solved, at the places ``at`` in (K, n), flat; ``codes`` (m, n)
    are the outcomes of m runs a design, ``status.OK`` where one was solved [-].
    """

    at: Numbers
    run: limits.Run
    corners: int = 1
    codes: Numbers | None = None


def march_layout(
    layout: Layout,
    designs: Mapping[int, Design] | None,
    judged: Judged,
    along: bool,
    stationwise: bool = False,
) -> Rows:
    """March and judge designs that were laid out as arrays.

    Parameters
    ----------
    layout : Layout
        L designs.
    designs : mapping of int to Design, or None
        Each design by its row, where uncooled ends are to be judged.
    judged : {"nominal", "worst", "full"}
        Runs that are solved beside the nominal.
    along : bool
        Keep the columns ``ALONG`` of the nominal run.
    stationwise : bool
        Keep the margins at every station.

    Returns
    -------
    Rows
        (L,); designs that cannot be cut are left blank.
    """
    rows = blank(layout.sound.size, judged)
    sound = np.flatnonzero(layout.sound)
    if not sound.size:
        return rows
    out, status, names, choices = _nominal(layout, sound)
    models = _models(names)
    good = status[:, 0] == st.OK
    _explain(rows, layout, sound, out, status)
    refused = _refused(rows, layout, sound[good], out.total[good])
    good[np.flatnonzero(good)[refused]] = False
    at = sound[good]
    if not at.size:
        return rows
    models, names = models[good], [names[n] for n in np.flatnonzero(good)]
    choices = [choices[n] for n in np.flatnonzero(good)]
    rows.status[at] = "solved"
    nominal = runs_of(
        layout.prepared, at, out.station[good], out.total[good], layout.injector_pressure
    )
    _keep(rows, at, nominal)
    outcomes = {"nominal": Outcomes(np.arange(at.size), nominal.run)}
    if layout.worst is not None:
        outcomes["worst_channel"] = _worst(rows, layout, layout.worst, at, nominal, models)
    if judged == "full":
        edges, codes = _band(layout, at, nominal, names, choices)
        outcomes["band_edge"] = Outcomes(np.arange(at.size), edges.run, codes=codes)
        rows.summary["T_wall_hot_max_band_K"][at] = edges.heads["T_wall_hot_max_K"][1]
        drop = edges.heads["coolant_pressure_drop_Pa"][1]
        rows.summary["coolant_pressure_drop_band_Pa"][at] = drop
    columns, informative = _judge(rows, layout.prepared, at, outcomes, stationwise)
    if designs is not None:
        _judge_ends(rows, columns, layout, designs, at, nominal, outcomes)
    _conclude(rows, columns, informative, at)
    kept, x = _along(nominal, at, layout.sound.size) if along else ({}, None)
    return replace(rows, informative=informative, along=kept, x=x)


def _nominal(
    layout: Layout, sound: Numbers
) -> tuple[A.Out, NDArray[np.int64], list[Mapping[str, str]], list[Choice]]:
    """March the nominal runs with the correlations that their own stations call for.

    As ``solve.nominal_by_rule``: return the runs, how they ended, their models by role and the
    coolant-side members by the rule; members of a run that was not solved are those of its feed.
    """
    prepared, runs = layout.prepared, layout.prepared.run[sound]
    names = [layout.names[n] for n in sound]
    out, status = march_all(*_tables(prepared), runs, _models(names))
    low, high = _spans(out, runs, status)
    choices = span_choices(prepared, runs, low, high)
    if not layout.by_rule:
        return out, status, names, choices
    other = [
        n
        for n in np.flatnonzero(status[:, 0] == st.OK)
        if choices[n].members[0] != names[n]["coolant_side"]
    ]
    if not other:
        return out, status, names, choices
    again = np.array(other)
    others = [{**names[n], "coolant_side": choices[n].members[0]} for n in again]
    out_2, status_2 = march_all(*_tables(prepared), runs[again], _models(others))
    low_2, high_2 = _spans(out_2, runs[again], status_2)
    low_2, high_2 = np.minimum(low_2, low[again]), np.maximum(high_2, high[again])
    wider = span_choices(prepared, runs[again], low_2, high_2)
    for i, n in enumerate(again):
        lost = status_2[i, 0] != st.OK
        choices[n] = choices[n] if lost else wider[i]
        if lost or wider[i].members[0] == others[i]["coolant_side"]:
            names[n], status[n] = others[i], status_2[i]
            out.station[n], out.total[n] = out_2.station[i], out_2.total[i]
    return out, status, names, choices


def _spans(out: A.Out, runs: NDArray[Any], status: NDArray[np.int64]) -> tuple[Array, Array]:
    """Return the lowest and highest pressure along each run (n,) [Pa]; its feed's if unsolved."""
    p, ok = out.station[..., A.O_P_COOLANT], status[:, 0] == st.OK
    return (
        np.where(ok, p.min(axis=1), runs["pressure"]),
        np.where(ok, p.max(axis=1), runs["pressure"]),
    )


def _models(names: Sequence[Mapping[str, str]]) -> NDArray[Any]:
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
    rows: Rows, layout: Layout, sound: Numbers, out: A.Out, status: NDArray[np.int64]
) -> None:
    """Say why runs stopped."""
    for n in np.flatnonzero(status[:, 0] != st.OK):
        part = Passed(out.station[n], out.total[n], int(status[n, 0]), int(status[n, 1]))
        run = Marched("nominal", part.station, part.total, (part,), part.code)
        error = failure(layout.prepared, run)
        rows.status[sound[n]], rows.reason[sound[n]] = error.status, str(error)
        rows.x_stop[sound[n]] = error.station_x


def _refused(rows: Rows, layout: Layout, at: Numbers, total: Array) -> NDArray[np.bool_]:
    """Refuse designs that return more coolant than there is fuel; say which."""
    refused = np.zeros(at.size, dtype=bool)
    if not layout.prepared.design.coolant.returns_to_injector:
        return refused
    for n, row in enumerate(at):
        if text := too_much_returned(float(layout.mixture_ratio[row]), total[n]):
            refused[n] = True
            rows.status[row], rows.reason[row] = "out of range", text
    return refused


def runs_of(
    prepared: Prepared, at: Numbers, station: Array, total: Array, injector_pressure: Array
) -> Runs:
    """Return solved runs with their columns.

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
    Runs
        (n,) of each quantity.
    """
    taken = _taken(prepared, at)
    # each column by itself in memory: from here on they are taken one by one
    by_x = np.moveaxis(np.moveaxis(station, -1, 0).take(prepared.rows.index, axis=-1), 0, -1)
    marched = Marched("runs", by_x, total, (Passed(station, total, st.OK, 0),), st.OK)
    summary = headlines(taken, marched, taken.paths)
    stations = columns(taken, marched, taken.paths)
    summary[limits.INJECTOR] = injector_pressure[at]
    summary["coolant_mach_max"] = stations["mach_coolant"].max(axis=-1)
    summary["land_width_min_m"] = stations["land_width_m"].min(axis=-1)
    return Runs(taken, marched, stations, summary)


def _taken(prepared: Prepared, at: Numbers) -> Prepared:
    """Return some of the designs; the core's geometry keeps all, since runs point into it."""
    path = replace(prepared.paths[0], passage=_slots(prepared.paths[0].passage, at))
    passage = _slots(prepared.passage, at)
    return replace(prepared, paths=(path,), passage=passage, run=prepared.run[at])


def _slots(passage: Passage, at: Numbers) -> Passage:
    names = [n for n in Passage.__slots__ if getattr(getattr(passage, n), "ndim", 0) == 2]
    return replace(passage, **{name: getattr(passage, name)[at] for name in names})


def _keep(rows: Rows, at: Numbers, nominal: Runs) -> None:
    for name, values in rows.summary.items():
        if name in nominal.summary:
            values[at] = nominal.summary[name]


def _worst(
    rows: Rows,
    layout: Layout,
    slots: Prepared,
    at: Numbers,
    nominal: Runs,
    models: NDArray[Any],
) -> Outcomes:
    """Solve the worst channel of each of n designs at every corner of the tolerances."""
    shortfall, total = slots.design.shop.flow_shortfall, nominal.marched.total
    found = worst_slots(layout.prepared, slots, layout.prepared.run[at], models, total, shortfall)
    size, good = layout.sound.size, found.status[..., 0] == st.OK
    corner, design = np.nonzero(good)
    station = found.out.station[good]
    worst = runs_of(
        slots,
        corner * size + at[design],
        station,
        found.out.total[good],
        np.tile(layout.injector_pressure, good.shape[0]),
    )
    # the corner of the hottest row, as a single solve has it; nothing where a corner was not solved
    hottest, peaks = np.full((2, *good.shape), np.nan)
    hottest[good] = station[..., A.O_T_WALL_HOT].max(axis=-1)
    peaks[good] = worst.summary["T_wall_hot_max_K"]
    first = np.argmax(np.nan_to_num(hottest), axis=0)[None]
    peak = np.take_along_axis(peaks, first, axis=0)[0]
    rows.summary["T_wall_hot_max_worst_K"][at] = np.where(good.all(axis=0), peak, np.nan)
    # what the manifolds give it are its neighbours' pressures
    shared = ("coolant_pressure_drop_Pa", "coolant_pressure_out_Pa", "coolant_pressure_in_Pa")
    of_all = {name: nominal.summary[name][design] for name in shared}
    run = limits.Run(worst.stations, {**worst.summary, **of_all})
    places = corner * at.size + design
    return Outcomes(places, run, good.shape[0], found.status[..., 0])


def _band(
    layout: Layout,
    at: Numbers,
    nominal: Runs,
    of_rows: Sequence[Mapping[str, str]],
    choices: Sequence[Choice],
) -> tuple[Edges, Numbers]:
    """Solve every member of the band; return its edges, and the outcome of each member (m, n)."""
    parts: list[tuple[Numbers, Edges]] = []
    outcome: list[tuple[Numbers, Numbers]] = []
    for names, some in _by_members(layout, at, of_rows, choices).items():
        station, total, codes = _members(layout, at[some], [dict(name) for name in names])
        bad = codes != st.OK
        outcome.append((some, codes))
        station = np.where(bad[..., None, None], nominal.marched.station[some], station)
        total = np.where(bad[..., None], nominal.marched.total[some], total)
        taken = _taken(layout.prepared, at[some])
        stations = {name: values[some] for name, values in nominal.stations.items()}
        summary = {name: values[some] for name, values in nominal.summary.items()}
        edges = edges_of(taken, taken.passage, stations, summary, Members(station, total))
        parts.append((some, edges))
    codes = np.full((max(len(of) for _, of in outcome), at.size), st.OK)
    for some, of in outcome:
        codes[: len(of), some] = of
    return _one(parts, at.size), codes


def _by_members(
    layout: Layout, at: Numbers, of_rows: Sequence[Mapping[str, str]], choices: Sequence[Choice]
) -> dict[tuple[tuple[tuple[str, str], ...], ...], Numbers]:
    """Return the designs by the members of their band."""
    found: dict[tuple[tuple[tuple[str, str], ...], ...], list[int]] = {}
    known: dict[tuple[tuple[str, ...], tuple[str, ...], bool], Any] = {}
    runs = layout.prepared.run[at]
    for n, (names, choice) in enumerate(zip(of_rows, choices, strict=True)):
        fitted = throat_fitted(layout.prepared, runs[n])
        key = (tuple(names.values()), choice.members, fitted)
        if key not in known:
            members, _ = member_names(names, choice, fitted=fitted)
            known[key] = tuple(tuple({**names, **member}.items()) for member in members)
        found.setdefault(known[key], []).append(n)
    return {names: np.array(rows) for names, rows in found.items()}


def _members(
    layout: Layout, at: Numbers, names: list[dict[str, str]]
) -> tuple[Array, Array, Numbers]:
    """March M members of some designs: rows (M, n, R, fields), totals, and codes (M, n)."""
    prepared = layout.prepared
    runs = np.tile(prepared.run[at], len(names))
    models = np.repeat(np.concatenate([ids(name) for name in names]), at.size)
    out, status = march_all(*_tables(prepared), runs, models)
    shape = len(names), at.size
    station = out.station[:, prepared.rows.index].reshape(*shape, -1, A.N_STATION_OUT)
    return station, out.total.reshape(*shape, A.N_TOTAL), status[:, 0].reshape(shape)


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
    stations = {n: whole([e.run.stations[n] for e in edges]) for n in edges[0].run.stations}
    totals = {n: whole([np.asarray(e.run.totals[n]) for e in edges]) for n in edges[0].run.totals}
    heads = {
        n: (whole([e.heads[n][0] for e in edges]), whole([e.heads[n][1] for e in edges]))
        for n in edges[0].heads
    }
    return Edges({}, heads, {}, limits.Run(stations, totals))


def _solved(prepared: Prepared, outcomes: Mapping[str, Outcomes]) -> limits.Solved:
    design = prepared.design
    of = {name: (one.run,) for name, one in outcomes.items()}
    return limits.Solved(
        design=design,
        alloy=replace(metals.liner(design), beyond="nan"),
        coolant=facts_of(design.coolant, prepared.coolant),
        nominal=of["nominal"][0],
        band=of.get("band_edge", ()),
        worst=of.get("worst_channel", ()),
    )


ByLimit = dict[str, dict[str, verdict.Columns]]
"""Columns (L,) by limit and name of the column."""


def _judge(
    rows: Rows,
    prepared: Prepared,
    at: Numbers,
    outcomes: Mapping[str, Outcomes],
    stationwise: bool,
) -> tuple[ByLimit, frozenset[str]]:
    """Judge every limit; return its columns (n,), and the limits that only inform."""
    found: ByLimit = {}
    rules = limits.rules(_solved(prepared, outcomes))
    for rule in rules:
        limit = rule.limit
        for name, of in outcomes.items():
            margins, indicative = limits.along(limit, rule.compare, of.run)
            parts = _by_corner(verdict.column(margins, indicative), of, at.size)
            whole = _with_stops(limit, parts, of.codes, at.size)
            found.setdefault(limit.name, {})[name] = whole
            if stationwise:
                wide = np.full((len(rows), margins.shape[1]), np.nan)
                wide[at] = _least_of_corners(margins, of, at.size)
                rows.margins_along.setdefault(limit.name, {})[name] = wide
    return found, frozenset(rule.limit.name for rule in rules if rule.limit.informative)


def _by_corner(column: verdict.Columns, of: Outcomes, size: int) -> list[verdict.Columns]:
    """Return a column of all designs at each corner, not asked of what was not solved."""
    whole = verdict.constant(verdict.NOT_ASKED, (of.corners * size,))
    for of_all, of_some in zip(whole, column, strict=True):
        of_all[of.at] = of_some
    apart = [values.reshape(of.corners, size) for values in whole]
    return [verdict.Columns(*(values[k] for values in apart)) for k in range(of.corners)]


def _least_of_corners(margins: Array, of: Outcomes, size: int) -> Array:
    """Return the least margins (n, S) over the corners, NaN where one of them was not solved."""
    every = np.full((of.corners * size, margins.shape[1]), np.nan)
    every[of.at] = margins
    return np.asarray(every.reshape(of.corners, size, -1).min(axis=0))


def _with_stops(
    limit: limits.Limit, parts: list[verdict.Columns], codes: Numbers | None, size: int
) -> verdict.Columns:
    """Return one column of its runs and of the runs that stopped."""
    for of_run in () if codes is None else codes:
        state = np.full(size, verdict.NOT_ASKED)
        for code in np.unique(of_run[of_run != st.OK]):
            what = verdict.stopped(limit, int(code))
            state[of_run == code] = verdict.NOT_ASKED if what is None else what
        parts = [*parts, verdict.constant(verdict.NOT_ASKED, (size,))._replace(state=state)]
    whole = verdict.together(parts)
    if codes is not None:  # where all of them stopped, by what does not bear on this limit
        silent = whole.state == verdict.NOT_ASKED
        whole.state[silent] = verdict.KEPT if limit.shared else verdict.UNKNOWN
        whole.margin[silent & limit.shared] = 1.0
    return whole


def _judge_ends(
    rows: Rows,
    columns: ByLimit,
    layout: Layout,
    designs: Mapping[int, Design],
    at: Numbers,
    nominal: Runs,
    outcomes: Mapping[str, Outcomes],
) -> None:
    """Judge uncooled ends, one design at a time."""
    h0 = nominal.marched.total[:, A.T_H0]
    whole = _solved(layout.prepared, outcomes)
    for n, row in enumerate(at):
        own = {name: _of_row(of, n, at.size) for name, of in outcomes.items()}
        (nominal_run,) = _runs_of_row(outcomes["nominal"], n, at.size)
        solved = replace(
            whole,
            design=designs[int(row)],
            nominal=nominal_run,
            band=own.get("band_edge", ()),
            worst=own.get("worst_channel", ()),
        )
        prepared = replace(
            layout.prepared,
            design=designs[int(row)],
            passage=_slots(layout.prepared.passage, np.array([row])),
        )
        try:
            found, _ = uncooled_ends.judge_ends(prepared, float(h0[n]), solved)
        except RangeError as error:
            rows.reason[row] = str(error)
            continue
        for margin in found:
            _put(columns, margin, n, at.size, outcomes)


def one_row(rows: Rows, result: Result, names: Iterable[str]) -> None:
    """Fill margins and verdict of a row from a judged design, of the columns asked for."""
    columns: ByLimit = {}
    for margin in result.margins:
        _put(columns, margin, 0, 1, names)
    informative = frozenset(m.name for m in result.margins if m.informative)
    _conclude(rows, columns, informative, np.zeros(1, dtype=np.int64))


def _put(columns: ByLimit, margin: Margin, n: int, size: int, names: Iterable[str]) -> None:
    """Put the row of one judged design into columns (size,) by limit."""
    for name in names:
        whole = columns.setdefault(margin.name, {}).setdefault(
            name, verdict.constant(verdict.NOT_ASKED, (size,))
        )
        one = margin.columns.get(name)
        if one is not None:
            whole.state[n] = verdict.STATES.index(one.state)
            whole.indicative[n] = one.indicative
            whole.margin[n] = np.nan if one.margin is None else one.margin


def _conclude(rows: Rows, columns: ByLimit, informative: frozenset[str], at: Numbers) -> None:
    """Fill margins, verdict, and whether the nominal channel keeps every limit."""
    codes = np.full(at.size, verdict.PASS)
    kept = np.ones(at.size, dtype=bool)
    for limit, by_name in columns.items():
        margins = rows.margins.setdefault(limit, _no_margins(rows))
        for name, of in by_name.items():
            margins[name][at] = of.margin
        if limit not in informative:
            nominal = by_name["nominal"]
            others = [of for name, of in by_name.items() if name != "nominal"]
            codes = np.maximum(codes, verdict.row(nominal, others))
            kept &= np.isin(nominal.state, (verdict.KEPT, verdict.NOT_ASKED))
    rows.verdict[at] = np.array(verdict.VERDICTS, dtype=object)[codes]
    rows.nominal_kept[at] = kept


def _no_margins(rows: Rows) -> dict[str, Array]:
    return {run: np.full(len(rows), np.nan) for run in RUNS}


def _of_row(of: Outcomes, n: int, size: int) -> tuple[limits.Outcome, ...]:
    """Return the runs and stops of one design."""
    codes = [] if of.codes is None else of.codes[:, n].tolist()
    stops = [limits.Stopped(code, st.TEXTS[code].name) for code in codes if code != st.OK]
    return (*_runs_of_row(of, n, size), *stops)


def _runs_of_row(of: Outcomes, n: int, size: int) -> tuple[limits.Run, ...]:
    """Return the runs of one of so many designs."""
    return tuple(
        limits.Run(
            {name: values[i] for name, values in of.run.stations.items()},
            {name: float(np.asarray(values)[i]) for name, values in of.run.totals.items()},
        )
        for i in np.flatnonzero(of.at % size == n)
    )


def _along(nominal: Runs, at: Numbers, size: int) -> tuple[dict[str, Array], Array]:
    shape = size, nominal.stations["x_m"].shape[1]
    kept = {name: np.full(shape, np.nan) for name in ("x_m", *ALONG)}
    for name, values in kept.items():
        values[at] = nominal.stations[name]
    return kept, kept.pop("x_m")
