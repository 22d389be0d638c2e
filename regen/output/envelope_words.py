"""An operating envelope in words: what limits where, and how far the chamber throttles."""

from __future__ import annotations

from collections.abc import Iterable

from regen.checks import shop_rules
from regen.output import words
from regen.result import Margin
from regen.studies.envelope.axes import KINDS
from regen.studies.envelope.study import Envelope, Row


def lines(envelope: Envelope) -> list[str]:
    """Return the summary of an envelope.

    Parameters
    ----------
    envelope : Envelope
        Solved envelope.

    Returns
    -------
    list of str
        One statement a line.
    """
    solved = [row for row in envelope.rows if row.solved]
    found = [
        f"{envelope.title}: {len(envelope.rows)} operating points; {where(envelope, envelope.rows)}"
    ]
    found += rules(envelope)
    found.append(_verdicts(envelope, solved))
    found += _unsolved(envelope)
    found += _broken(envelope, solved)
    found += _governing(solved)
    found += _regimes(envelope)
    found += throttle(envelope)
    return found


def rules(envelope: Envelope) -> list[str]:
    """Return what follows what, and what of the case is held at one value, in words."""
    point = envelope.nominal.point
    varied = {axis.kind.name for axis in envelope.axes}
    held = [
        f"{kind.label} {kind.say(getattr(point, kind.name))}"
        for kind in KINDS[:3]
        if kind.name not in varied
    ]
    found = list(envelope.rules.values())
    return [*found, f"held: {', '.join(held)}"] if held else found


def where(envelope: Envelope, rows: Iterable[Row]) -> str:
    """Return the span of some points along each axis, in words."""
    rows = list(rows)
    spans = []
    for axis in envelope.axes:
        values = [getattr(row.point, axis.kind.name) for row in rows]
        values = [value for value in values if value is not None]
        if values:
            low, high = min(values), max(values)
            span = axis.kind.say(high)
            if low < high:
                span = f"{axis.kind.say(low).partition(' ')[0]} to {span}"
            spans.append(f"{axis.kind.label} {span}")
    return ", ".join(spans)


def _count(rows: list[Row]) -> str:
    return f"{len(rows)} point{'' if len(rows) == 1 else 's'}"


def judged(row: Row) -> list[Margin]:
    """Return the margins that decide at a point, whose limit is known or makes it unknown."""
    return [margin for margin in row.margins if not margin.informative]


def _verdicts(envelope: Envelope, solved: list[Row]) -> str:
    verdicts = [row.verdict for row in solved]
    counts = [f"{v} at {verdicts.count(v)}" for v in words.VERDICTS if v in verdicts]
    said = f"solved at {len(solved)} of {len(envelope.rows)} points"
    return f"{said}: verdict {', '.join(counts)}" if counts else said


def _unsolved(envelope: Envelope) -> list[str]:
    groups: dict[str, list[Row]] = {}
    for row in envelope.rows:
        if not row.solved:
            groups.setdefault(row.status, []).append(row)
    return [
        f"not solved, {status}, at {_count(rows)}: {where(envelope, rows)}; "
        f"the first: {rows[0].reason.removeprefix('not solved: ')}"
        for status, rows in groups.items()
    ]


def _broken(envelope: Envelope, solved: list[Row]) -> list[str]:
    found = []
    for name in dict.fromkeys(m.name for row in solved for m in judged(row)):
        margins = {i: m for i, row in enumerate(solved) for m in judged(row) if m.name == name}
        broken = {i: m.nominal for i, m in margins.items() if (m.nominal or 0.0) < 0.0}
        unknown = [solved[i] for i, m in margins.items() if m.nominal is None]
        spoken = words.short(next(iter(margins.values())))
        if broken:
            rows = [solved[i] for i in broken]
            worst = words.percent(min(value or 0.0 for value in broken.values()))
            surely = any(not margins[i].columns["nominal"].indicative for i in broken)
            how = "broken" if surely else "indicatively broken"
            found.append(
                f"{spoken}: {how} by the nominal channel at {_count(rows)}, by up to {worst}: "
                f"{where(envelope, rows)}"
            )
        if unknown:
            found.append(
                f"{spoken}: not evaluated at {_count(unknown)}: {where(envelope, unknown)}"
            )
    return found


def governing(row: Row) -> Margin | None:
    """Return the nominal margin that is least at a point, None where none was evaluated.

    What the shop can cut, kept, is left out: it is the same at every point.
    """
    known = [
        (m.nominal, i, m)
        for i, m in enumerate(judged(row))
        if m.nominal is not None and not (m.name in shop_rules.NAMES and m.nominal >= 0.0)
    ]
    return min(known)[2] if known else None


def _governing(solved: list[Row]) -> list[str]:
    counts: dict[str, int] = {}
    for row in solved:
        if (margin := governing(row)) is not None:
            counts[words.short(margin)] = counts.get(words.short(margin), 0) + 1
    ranked = sorted(counts.items(), key=lambda pair: -pair[1])
    said = ", ".join(f"{name} at {count}" for name, count in ranked)
    return [f"least nominal margin: {said} of {len(solved)} points"] if said else []


def _regimes(envelope: Envelope) -> list[str]:
    """Name the coolant-side correlation by regime where it changes over the envelope."""
    used: dict[str, list[Row]] = {}
    for row in envelope.rows:
        if row.coolant_side:
            used.setdefault(row.coolant_side, []).append(row)
    below = [row for row in envelope.rows if row.regime in ("below", "crosses")]
    critical = f"its critical pressure, {envelope.p_critical * 1e-5:.1f} bar"
    found = []
    if below and len(below) < len(envelope.rows):
        span = where(envelope, below)
        found.append(f"coolant below {critical}, at inlet or outlet: at {_count(below)}: {span}")
    if len(used) > 1:
        said = "; ".join(f"{name} at {_count(rows)}" for name, rows in used.items())
        found.append(f"the coolant-side correlation changes with the regime: {said}")
    elif used and found:
        found.append(f"coolant-side correlation at every point: {next(iter(used))}")
    return found


def line_of(envelope: Envelope) -> list[Row]:
    """Return the throttle line by rising chamber pressure, empty if it is no axis."""
    rows = [row for row in envelope.rows if row.on_line]
    return sorted(rows, key=lambda row: row.point.chamber_pressure)


def throttle(envelope: Envelope) -> list[str]:
    """Return how far the chamber throttles, by the points computed along the throttle line."""
    line = line_of(envelope)
    if not line:
        return []
    own = envelope.nominal
    at = _span(own, [line[0], line[-1]])
    runs = _runs(line)
    if not own.kept():
        spans = "; ".join(_span(own, run) for run in runs)
        kept = f"they are kept at {spans}" if spans else "they are kept at no other point"
        said = f"the case's own point does not keep every nominal limit, {_why(own)}; {kept}"
        return [f"throttle line, {at}: {said}"]
    (run,) = (run for run in runs if own in run)
    found = [f"throttle line, {at}: every nominal limit is kept from {_span(own, run)}"]
    first, last = line.index(run[0]), line.index(run[-1])
    ends = [line[i] for i in (first - 1, last + 1) if 0 <= i < len(line)]
    found += [f"at {_span(own, [row])}: {_why(row)}" for row in ends]
    if first == 0:
        found.append("no lower pressure was tried")
    return ["; ".join(found)]


def _runs(line: list[Row]) -> list[list[Row]]:
    """Return the stretches of a line, without a gap, where every nominal limit is kept."""
    runs: list[list[Row]] = [[]]
    for row in line:
        if row.kept():
            runs[-1].append(row)
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if run]


def _span(own: Row, rows: list[Row]) -> str:
    low, high = (rows[i].point.chamber_pressure for i in (0, -1))
    whole = own.point.chamber_pressure
    if low == high:
        return f"{low * 1e-5:.4g} bar ({low / whole:.0%})"
    return f"{low * 1e-5:.4g} to {high * 1e-5:.4g} bar ({low / whole:.0%} to {high / whole:.0%})"


def _why(row: Row) -> str:
    """Return why a point does not keep every nominal limit."""
    if not row.solved:
        return f"not solved, {row.status}"
    broken = [m for m in judged(row) if m.nominal is not None and m.nominal < 0.0]
    unknown = [m for m in judged(row) if m.nominal is None]
    said = [
        f"{words.short(m)} {words.percent(m.nominal)}"
        + (", indicative" if m.columns["nominal"].indicative else "")
        for m in broken
    ]
    return ", ".join(said + [f"{words.short(m)} not evaluated" for m in unknown])
