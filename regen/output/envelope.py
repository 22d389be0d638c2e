"""Operating envelope: envelope.csv, the maps, envelope.json, and what the terminal says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from functools import partial
from itertools import groupby
from operator import attrgetter, itemgetter
from pathlib import Path
from typing import Any

from regen.checks import shop_rules
from regen.output.folder import Folder
from regen.output.labels import VERDICTS, grouped, limit_name, percent
from regen.output.table import Table
from regen.result import COLUMN_NAMES, Margin
from regen.sources import read_data
from regen.studies.envelope.axes import KINDS, Kind
from regen.studies.envelope.study import Envelope, Row

SCHEMA = 1
INDEX = "envelope.json"

SUMMARY = (
    "T_wall_hot_max_K",
    "x_T_wall_hot_max_m",
    "q_max_W_m2",
    "heat_total_W",
    "coolant_temperature_out_K",
    "coolant_pressure_in_Pa",
    "coolant_pressure_drop_Pa",
    "coolant_pressure_out_Pa",
    "coolant_mach_max",
    "coolant_mass_flow_kg_s",
    "gas_mass_flow_kg_s",
    "characteristic_velocity_m_s",
)
"""Solved quantities of a row, as result.json names them."""


# --- files


def limits_of(envelope: Envelope) -> dict[str, Margin]:
    """Return a margin of every limit that was judged at any point, in the judge's order."""
    order: dict[str, Margin] = {}
    for row in sorted(envelope.rows, key=lambda row: -len(row.margins)):
        order |= {margin.name: margin for margin in row.margins}
    return order


def table(envelope: Envelope) -> Table:
    """Return every point as data, None where there is none."""
    names = tuple(limits_of(envelope))
    return Table.of_rows(_row(envelope, row, names) for row in envelope.rows)


def _row(envelope: Envelope, row: Row, limits: Sequence[str]) -> dict[str, Any]:
    point, summary = row.point, row.summary or {}
    return {
        "chamber_pressure_Pa": point.chamber_pressure,
        "chamber_pressure_over_nominal": point.chamber_pressure
        / envelope.nominal.point.chamber_pressure,
        "mixture_ratio": point.mixture_ratio,
        "coolant_inlet_temperature_K": point.inlet_temperature,
        "coolant_inlet_pressure_given_Pa": point.inlet_pressure,
        "coolant_outlet_pressure_given_Pa": point.outlet_pressure,
        "on_map": row.on_map,
        "on_throttle_line": row.on_line,
        "nominal_point": row.nominal,
        "status": row.status,
        "verdict": row.verdict or None,
        "coolant_side": row.coolant_side or None,
        "critical_pressure": row.regime or None,
        **{name: summary.get(name) for name in SUMMARY},
        **{
            f"margin_{name}_{run}": getattr(row.margin(name), run, None)
            for name in limits
            for run in COLUMN_NAMES
        },
        "not_evaluated": "; ".join(m.name for m in row.margins if m.nominal is None) or None,
        "notes": "; ".join(row.notes) or None,
        "x_reached_m": row.x_m,
        "reason": row.reason or None,
    }


def description(envelope: Envelope) -> dict[str, Any]:
    """Return what envelope.json holds."""
    texts = ("text", "unit", "kind", "source", "informative")
    return {
        "schema": SCHEMA,
        "title": envelope.title,
        "axes": [
            {"name": axis.kind.column, "values": list(axis.values), "nominal": axis.nominal}
            for axis in envelope.axes
        ],
        "rules": dict(envelope.rules),
        "coolant_critical_pressure_Pa": envelope.p_critical or None,
        "summary": lines(envelope),
        "limits": {
            name: {key: getattr(margin, key) for key in texts}
            for name, margin in limits_of(envelope).items()
        },
        "columns": read_data("envelope.toml")["columns"],
        "rows": list(table(envelope).rows),
        "provenance": dict(envelope.provenance),
    }


def write(envelope: Envelope, folder: Path) -> list[Path]:
    """Write table and index, then both again with the figures; return the paths, index last."""
    out = Folder(folder, INDEX)
    out.add("envelope.csv", table(envelope))
    whole = description(envelope)
    out.write(whole)  # the numbers are not to wait for the figures

    from regen.output.figures.envelope import MAPS, map_figure
    from regen.output.figures.throttle import throttle_figure

    for name in MAPS:
        out.draw(f"figures/{name}.svg", partial(map_figure, envelope, name))
    if envelope.throttle_line:
        out.draw("figures/throttle_line.svg", partial(throttle_figure, envelope))
    return out.write(whole)


# --- text


def lines(envelope: Envelope) -> list[str]:
    """Return the summary of an envelope, one statement a line."""
    solved = [row for row in envelope.rows if row.solved]
    points = f"{len(envelope.rows)} operating points; {_where(envelope, envelope.rows)}"
    return [
        f"{envelope.title}: {points}",
        *envelope.conditions,
        _verdicts(envelope, solved),
        *_not_solved(envelope),
        *_by_limit(envelope, solved),
        *_governing(solved),
        *_regimes(envelope),
        *_throttle(envelope),
    ]


def _range(kind: Kind, low: float, high: float) -> str:
    text = kind.text(high)
    return text if low == high else f"{kind.text(low).partition(' ')[0]} to {text}"


def _where(envelope: Envelope, rows: Iterable[Row]) -> str:
    """Return the span of some points along each axis."""
    points, spans = [row.point for row in rows], []
    for kind in (axis.kind for axis in envelope.axes):
        values = [v for point in points if (v := getattr(point, kind.name)) is not None]
        if values:
            spans.append(f"{kind.quantity.label} {_range(kind, min(values), max(values))}")
    return ", ".join(spans)


def _count(rows: Sequence[Row]) -> str:
    return f"{len(rows)} point{'' if len(rows) == 1 else 's'}"


def _verdicts(envelope: Envelope, solved: list[Row]) -> str:
    counts = Counter(row.verdict for row in solved)
    verdicts = ", ".join(
        f"{verdict} at {counts[verdict]}" for verdict in VERDICTS if counts[verdict]
    )
    text = f"solved at {len(solved)} of {len(envelope.rows)} points"
    return f"{text}: verdict {verdicts}" if verdicts else text


def _not_solved(envelope: Envelope) -> list[str]:
    groups = grouped((row for row in envelope.rows if not row.solved), attrgetter("status"))
    return [
        f"not solved, {status}, at {_count(rows)}: {_where(envelope, rows)}; "
        f"the first: {rows[0].reason.removeprefix('not solved: ')}"
        for status, rows in groups.items()
    ]


def _by_limit(envelope: Envelope, solved: list[Row]) -> list[str]:
    """Return where each limit is exceeded by the nominal channel, and where it is not known."""
    texts = []
    for name in dict.fromkeys(margin.name for row in solved for margin in row.deciding):
        exceeded = [(row, m) for row in solved for m in row.exceeded if m.name == name]
        unknown = [row for row in solved for m in row.not_evaluated if m.name == name]
        if exceeded:
            rows = [row for row, _ in exceeded]
            most = percent(min(m.nominal or 0.0 for _, m in exceeded))
            indicative = all(m.columns["nominal"].indicative for _, m in exceeded)
            texts.append(
                f"{limit_name(name)}: {'indicatively ' * indicative}exceeded by the nominal "
                f"channel at {_count(rows)}, by up to {most}: {_where(envelope, rows)}"
            )
        if unknown:
            where = f"{_count(unknown)}: {_where(envelope, unknown)}"
            texts.append(f"{limit_name(name)}: not evaluated at {where}")
    return texts


def _governing(solved: list[Row]) -> list[str]:
    """Return at how many points each limit has the least nominal margin.

    What the shop can cut, kept, is left out: it is the same at every point.
    """
    known = (
        [
            (m.nominal, limit_name(m.name))
            for m in row.deciding
            if m.nominal is not None and not (m.name in shop_rules.NAMES and m.nominal >= 0.0)
        ]
        for row in solved
    )
    counts = Counter(min(margins, key=itemgetter(0))[1] for margins in known if margins)
    text = ", ".join(f"{name} at {count}" for name, count in counts.most_common())
    return [f"least nominal margin: {text} of {len(solved)} points"] if text else []


def _regimes(envelope: Envelope) -> list[str]:
    """Name the coolant-side correlation by regime where it changes over the envelope."""
    used = grouped((row for row in envelope.rows if row.coolant_side), attrgetter("coolant_side"))
    below = [row for row in envelope.rows if row.regime in ("below", "crosses")]
    texts = []
    if below and len(below) < len(envelope.rows):
        critical = f"its critical pressure, {envelope.p_critical * 1e-5:.1f} bar"
        where = f"{_count(below)}: {_where(envelope, below)}"
        texts.append(f"coolant below {critical}, at inlet or outlet: at {where}")
    if len(used) > 1:
        by_name = "; ".join(f"{name} at {_count(rows)}" for name, rows in used.items())
        texts.append(f"the coolant-side correlation changes with the regime: {by_name}")
    elif used and texts:
        texts.append(f"coolant-side correlation at every point: {next(iter(used))}")
    return texts


def _throttle(envelope: Envelope) -> list[str]:
    """Return how far the chamber throttles, by the points computed along the throttle line."""
    line, own = envelope.throttle_line, envelope.nominal
    if not line:
        return []
    head = f"throttle line, {_span(own, line)}"
    stretches = [list(rows) for kept, rows in groupby(line, lambda row: row.kept) if kept]
    if not own.kept:
        spans = "; ".join(_span(own, rows) for rows in stretches) or "no other point"
        why = f"the case's own point does not meet every nominal limit, {_why(own)}"
        return [f"{head}: {why}; they are met at {spans}"]
    (rows,) = (rows for rows in stretches if own in rows)
    texts = [f"{head}: every nominal limit is met from {_span(own, rows)}"]
    first, last = line.index(rows[0]), line.index(rows[-1])
    ends = [line[i] for i in (first - 1, last + 1) if 0 <= i < len(line)]
    texts += [f"at {_span(own, [row])}: {_why(row)}" for row in ends]
    if first == 0:
        texts.append("no lower pressure was tried")
    return ["; ".join(texts)]


def _span(own: Row, rows: Sequence[Row]) -> str:
    """Return the chamber pressures of some points in a row, and per cent of the case's own."""
    low, high = (rows[i].point.chamber_pressure for i in (0, -1))
    shares = [f"{p / own.point.chamber_pressure:.0%}" for p in (low, high)]
    return f"{_range(KINDS[0], low, high)} ({' to '.join(dict.fromkeys(shares))})"


def _why(row: Row) -> str:
    """Return why a point does not meet every nominal limit."""
    if not row.solved:
        return f"not solved, {row.status}"
    exceeded = [
        f"{limit_name(m.name)} {percent(m.nominal)}"
        + (", indicative" if m.columns["nominal"].indicative else "")
        for m in row.exceeded
    ]
    return ", ".join(
        [*exceeded, *(f"{limit_name(m.name)} not evaluated" for m in row.not_evaluated)]
    )
