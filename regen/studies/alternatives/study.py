"""The same chamber by other processes: each a case of its own, solved anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from regen.case.checks import AT_MOST_ONE, EITHER_OR
from regen.case.read import Case
from regen.case.studies import ALTERNATIVES
from regen.checks.review import review
from regen.design import Design
from regen.errors import CaseError, GeometryError, Problem, RangeError
from regen.result import Finding, Result
from regen.shop.plating.plan import PlatingPlan, plan_plating
from regen.shop.plating.values import PlanError
from regen.solver.prepare import Progress, prepare
from regen.solver.solve import MarchError
from regen.studies.alternatives import processes as known
from regen.units import show

OWN, TABLE, START = "as the case", "table of the case", "starting point"
"""Origins of a row; the first also names the case's own."""

LIVES = ("life_conservative", "life_optimistic")
STATE = ("alloy", "condition", "process")
"""Keys of a metal's state: what was measured holds for the state it was measured in."""

LINER_MEASURED = (
    *("liner.yield_strength", "liner.ultimate_strength", "models.conductivity_factor"),
    *("life.ductility", "life.fatigue_strength", "life.fatigue_strength_exponent"),
    *("life.fatigue_ductility", "life.fatigue_ductility_exponent", "life.fatigue_temperature"),
)
JACKET_MEASURED = ("closeout.jacket_yield_strength", "closeout.jacket_ultimate_strength")
"""What a case gives as measured of a metal."""

CLOSEOUT = (
    *("closeout.copper", "closeout.nickel", "closeout.jacket"),
    *(f"closeout.jacket_{name}" for name in STATE),
    *(*JACKET_MEASURED, "closeout.bond_strength"),
)
"""What another process starts anew."""


@dataclass(frozen=True)
class Row:
    """One alternative: the case it makes and what came of it.

    ``values`` are what differs from the case, None for a key that was taken out. ``result`` is
    None where it was not solved, and ``reason`` says why. ``out_of_reach`` are sizes that the
    process does not make, ``bond`` where a land breaks, ``plan`` its plating where it is plated,
    ``not_assessed`` what is missing.
    """

    name: str
    process: str
    origin: str
    values: Mapping[str, Any]
    case: Case | None = None
    result: Result | None = None
    reason: str = ""
    out_of_reach: tuple[str, ...] = ()
    bond: str = ""
    plan: PlatingPlan | None = None
    not_assessed: tuple[str, ...] = ()

    @property
    def lives(self) -> dict[str, Finding]:
        """What is known of its firings, by ``LIVES``."""
        findings = self.result.findings if self.result else ()
        return {finding.name: finding for finding in findings if finding.name in LIVES}


@dataclass(frozen=True)
class Alternatives:
    """Rows of a case and its alternatives, the case itself first."""

    title: str
    rows: tuple[Row, ...]


def compare(
    case: Case, only: Sequence[str] = (), *, progress: Progress | None = None
) -> Alternatives:
    """Solve a case, its alternatives, and a starting point of each process without any.

    ``only`` names the processes that are compared with the case; all without it. Raises
    ``CaseError`` with everything wrong with every alternative of the case, by key path.
    """
    say = progress or (lambda text: None)
    wanted = tuple(only) or tuple(known.processes())
    own = Row(OWN, case.design.closeout.route, OWN, {}, case)
    rows = [own, *_tables(case, wanted)]
    given = {own.process, *(one.route for one in case.alternatives)}
    rows += [_start(case, process) for process in wanted if process not in given]
    solved = []
    for row in rows:
        if row.case is not None:
            say(f"{row.name} ({row.process})" if row.name != row.process else row.name)
            row = _solved(row, row.case)
        solved.append(row)
    return Alternatives(case.design.title, tuple(solved))


def _tables(case: Case, wanted: Sequence[str]) -> list[Row]:
    """Return the alternatives of a case; refuse all that make no case, at once."""
    rows: list[Row] = []
    problems: list[Problem] = []
    for one in case.alternatives:
        if one.route not in wanted:
            continue
        values = changes(case.design, one.route, one.values)
        try:
            rows.append(Row(one.name, one.route, TABLE, values, case.with_values(values)))
        except CaseError as error:
            where = f"{ALTERNATIVES}.{one.name}"
            problems += [replace(p, key=f'{where}."{p.key}"') for p in error.problems]
    if problems:
        raise CaseError(case.path.name, problems)
    return rows


def _start(case: Case, process: str) -> Row:
    """Return a starting point; one that makes no case says so."""
    values = changes(case.design, process, known.starting_values(case.design, process))
    row = Row(process, process, START, values)
    try:
        return replace(row, case=case.with_values(values))
    except CaseError as error:
        return replace(row, reason="; ".join(map(str, error.problems)))


def changes(design: Design, process: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values by key path that an alternative changes in a case; None takes one out.

    A key takes the place of the one that excludes it. Another process starts its closeout anew:
    of the case's it keeps the thickness of the jacket alone. What the case gives as measured of a
    metal goes with the state that it was measured in.
    """
    removed = [
        f"{section}.{rival}"
        for section, one, other in (*EITHER_OR, *AT_MOST_ONE)
        for key, rival in ((one, other), (other, one))
        if f"{section}.{key}" in given
    ]
    if any(f"liner.{name}" in given for name in STATE):
        removed += LINER_MEASURED
    if any(f"closeout.jacket_{name}" in given for name in STATE):
        removed += JACKET_MEASURED
    if process == design.closeout.route:
        return {**dict.fromkeys(removed), **given}
    jacket = "closeout.nickel" if process == "electroformed" else "closeout.jacket"
    anew = {jacket: show(design.closeout.jacket, "length"), "closeout.route": process}
    return {**dict.fromkeys((*removed, *CLOSEOUT)), **anew, **given}


def _solved(row: Row, case: Case) -> Row:
    """Return a row solved, or with the reason why it is not."""
    design = case.design
    row = replace(row, bond=known.bond_text(row.process, design))
    try:
        unmade = known.out_of_reach(row.process, prepare(design).passage)
        row = replace(row, out_of_reach=tuple(unmade))
        result = review(design, case_hash=case.hash)
        row = replace(row, result=result, not_assessed=_missing(result))
        if row.process == "electroformed":
            row = replace(row, plan=plan_plating(design, result))
    except PlanError as error:
        return replace(row, not_assessed=(*row.not_assessed, f"plating: {error}"))
    except (MarchError, GeometryError, RangeError) as error:
        return replace(row, reason=str(error).replace("\n\n", "; "))
    return row


def _missing(result: Result) -> tuple[str, ...]:
    """Return what a result could not assess; what has one reason stands together."""
    by_reason: dict[str, list[str]] = {}
    for margin in result.margins:
        if margin.nominal is None and not margin.informative:
            why = margin.columns["nominal"].why or margin.note
            by_reason.setdefault(why, []).append(margin.name.replace("_", " "))
    for finding in result.findings:
        if finding.name == LIVES[0] and finding.value is None:
            by_reason.setdefault(finding.note, []).append("life")
    return tuple(
        ": ".join(filter(None, (", ".join(names), why))) for why, names in by_reason.items()
    )
