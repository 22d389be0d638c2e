"""Margins of a solved design: each limit against nominal, band edge and worst channel."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from regen.checks import shop_rules, verdict
from regen.checks.findings import joined, note
from regen.checks.life import assess as life
from regen.checks.registry import Limit, registered, rules
from regen.checks.runs import Compare, Outcome, Run, Solved, Stopped
from regen.checks.strength import primary, secondary
from regen.checks.thermal_limits import sulfur_limits
from regen.errors import RangeError
from regen.metals import selection as metals
from regen.result import Array, Column, Margin, Mask, Note, Verdict
from regen.sources import MARKS

MODULES = (primary, secondary, life, shop_rules)
"""Limits are registered by importing these, and ``thermal_limits``."""

LIMITS: dict[str, Limit] = {one.limit.name: one.limit for one in registered()}
"""Every limit by name, in the order of the rows."""

FLUX_RECORD = 170e6
"""No wall flux above 163.5 MW/m2 was found in print [W/m2]; source wall_flux_record."""


def along(limit: Limit, compare: Compare, run: Run) -> tuple[Array, Mask | None]:
    """Return the margins (L, S) [-] of one limit along x, of each of L designs.

    NaN where it cannot be evaluated, infinite where there is no demand. And where they are
    indicative only, None for nowhere.
    """
    try:
        compared = compare(run)
    except RangeError:
        return np.full(run.stations["x_m"].shape, np.nan), None
    return verdict.relative(compared, limit.kind), compared.indicative


class _Judged(NamedTuple):
    """What one run makes of a limit; ``solved`` is false where it stopped."""

    whole: verdict.Columns
    limit: float | None = None
    x_m: float | None = None
    note: str = ""
    why: str = ""
    caution: str = ""
    solved: bool = True


def _judge_run(outcome: Outcome, limit: Limit, compare: Compare, explain: Compare) -> _Judged:
    """Return what one run makes of a limit."""
    if isinstance(outcome, Stopped):
        state = verdict.stopped(limit, outcome.code)
        why = "" if limit.shared and state == verdict.NOT_ASKED else outcome.why
        return _Judged(verdict.constant(state), x_m=outcome.x_m, why=why, solved=False)
    try:
        compared = compare(outcome)
    except RangeError as error:
        return _Judged(verdict.constant(verdict.UNKNOWN), why=str(error))
    x, margins = outcome.stations["x_m"], verdict.relative(compared, limit.kind)
    whole = verdict.column(margins, compared.indicative)
    why = compared.note if whole.indicative else ""
    if whole.state == verdict.UNKNOWN:
        where = x[np.isnan(margins)]
        why = f"a value is not known at {where.size} stations, from x = {where[0] * 1e3:.0f} mm"
        try:
            explain(outcome)
        except RangeError as error:
            why = str(error)
    judged = _Judged(whole, note=compared.note, why=why, caution=compared.caution)
    at = int(whole.at)
    if at < 0:
        return judged
    return judged._replace(limit=float(compared.limit[at]), x_m=float(x[at]))


class _JudgedColumn(NamedTuple):
    """A column, the run that governs it, and whether a key of the case could close it."""

    column: Column
    whole: verdict.Columns
    governing: _Judged
    closes: bool


def _judge_column(
    outcomes: Sequence[Outcome], limit: Limit, compare: Compare, explain: Compare
) -> _JudgedColumn:
    """Judge one column over all its runs."""
    judged = [_judge_run(outcome, limit, compare, explain) for outcome in outcomes]
    together = verdict.together([one.whole for one in judged])
    whole = verdict.settled(together, limit)
    deciding = [one for one in judged if one.whole.state == together.state]
    governing = next((one for one in deciding if one.whole.margin == whole.margin), deciding[0])
    whys = list(dict.fromkeys(one.why for one in (governing, *deciding) if one.why))
    indicative, unknown = bool(whole.indicative), whole.state == verdict.UNKNOWN
    column = Column(
        verdict.STATES[int(whole.state)],
        None if np.isnan(whole.margin) else float(whole.margin),
        indicative,
        f"{whys[0]}; and {len(whys) - 1} more" if len(whys) > 1 else "".join(whys),
        governing.caution,
        asked=bool(whys) or any(one.whole.at >= 0 for one in deciding),
    )
    closes = indicative or bool(unknown and any(one.solved for one in deciding))
    return _JudgedColumn(column, whole, governing, closes)


def judge(limit: Limit, solved: Solved, compare: Compare, explain: Compare | None = None) -> Margin:
    """Return the row of one limit: nominal channel, band edge and worst channel.

    Parameters
    ----------
    limit : Limit
        What is judged.
    solved : Solved
        The solved runs.
    compare : callable
        Gives values and limits by station for a run, NaN where they are not known; may raise
        ``RangeError`` where nothing is.
    explain : callable, optional
        The same, but raises ``RangeError`` with the reason where a value is not known.

    Returns
    -------
    Margin
        ``limit`` and ``x_m`` are those of the nominal run's governing station; ``verdict.row``
        says how the columns make the verdict.
    """
    runs = {"nominal": (solved.nominal,), "band_edge": solved.band, "worst_channel": solved.worst}
    judged = {
        name: _judge_column(outcomes, limit, compare, explain or compare)
        for name, outcomes in runs.items()
        if outcomes
    }
    nominal, *others = judged.values()
    governing = nominal.governing
    why = nominal.column.why if nominal.column.state == "unknown" else ""
    row = verdict.row(nominal.whole, [one.whole for one in others])
    return Margin(
        name=limit.name,
        text=limit.text,
        unit=limit.unit,
        limit=governing.limit,
        kind=limit.kind,
        columns={name: one.column for name, one in judged.items()},
        x_m=governing.x_m,
        verdict=None if limit.informative else verdict.VERDICTS[int(row)],
        source=limit.source,
        note=joined(limit.note, governing.note, governing.caution, why),
        closes=limit.closes if any(one.closes for one in judged.values()) else "",
    )


def margins(solved: Solved) -> tuple[Margin, ...]:
    """Return every margin that applies to the design.

    Parameters
    ----------
    solved : Solved
        Solved runs with design, liner and coolant.

    Returns
    -------
    tuple of Margin
        Ordered from hot wall to injector. ``notes`` says what was not assessed and why.

    Notes
    -----
    Each limit is compared quietly, with NaN where a table ends, so that a station beyond a table
    hides no other that is broken; where a value is missing, it is compared once more as the
    tables are, for the reason that they give.
    """
    pairs = zip(rules(solved.quiet), rules(solved), strict=True)
    return tuple(judge(rule.limit, solved, rule.compare, loud.compare) for rule, loud in pairs)


def overall(margins: Iterable[Margin]) -> Verdict:
    """Return the design's verdict: fail, else at risk, else open, else pass."""
    return verdict.overall(margin.verdict for margin in margins)


def _sulfur(solved: Solved) -> list[Note]:
    """Return the note on sulfur, where the floor of a copper slot is hot enough for its attack."""
    fluid, floor = solved.coolant.fluid, solved.nominal.stations["T_wall_floor_K"]
    if fluid not in sulfur_limits() or not solved.alloy.alloy.composition.startswith("Cu"):
        return []
    fact, origin = sulfur_limits()[fluid]
    hottest = int(np.argmax(floor))
    if floor[hottest] <= fact.value:
        return []
    at, limit, mark = float(solved.nominal.stations["x_m"][hottest]), fact.value, MARKS[fact.mark]
    reached = 10.0 * round(floor[hottest] / 10.0)
    return [note("sulfur", at, floor=reached, limit=limit, mark=mark, origin=origin)]


def notes(solved: Solved) -> tuple[Note, ...]:
    """Return what a reviewer must know beside the margins.

    Limits that were not assessed, properties held beyond their table, a flux beyond experience,
    and the notes of the liner.
    """
    result: list[Note] = []
    s, alloy, fluid = solved.nominal.stations, solved.alloy.alloy, solved.coolant.fluid
    judged = {rule.limit.name: rule.limit for rule in rules(solved, "wall", "coolant")}
    if "coolant_wall_temperature" not in judged:
        result.append(note("coolant wall not assessed", fluid=fluid))
    result += _sulfur(solved)
    if "melting" not in judged:
        result.append(note("melting not assessed", alloy=alloy.key))
    wall = np.concatenate([s["T_wall_hot_K"], s["T_wall_cold_K"]])
    if held := solved.alloy.value("thermal_conductivity", wall).note:
        result.append(Note("conductivity held", held))
    if fluid != "water" and "burnout" in judged and judged["burnout"].source == "hall_mudawar2000":
        result.append(note("burnout", fluid=fluid))
    q = float(solved.nominal.totals["q_max_W_m2"])
    if q > FLUX_RECORD:
        at = float(s["x_m"][np.argmax(s["q_W_m2"])])
        result.append(note("flux beyond experience", at, flux=q / 1e6))
    result += [Note("planned heating", text) for text in metals.heating_notes(solved.design)]
    result += [Note("liner", f"{alloy.key}: {text}") for text in alloy.notes]
    return tuple(result)
