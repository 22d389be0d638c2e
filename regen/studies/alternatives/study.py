"""The same chamber by other routes: each a case of its own, solved anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from regen.case.checks import AT_MOST_ONE, EITHER_OR
from regen.case.read import Case
from regen.case.studies import ALTERNATIVES, Alternative
from regen.checks.review import review
from regen.design import Design
from regen.errors import CaseError, GeometryError, Problem, RangeError
from regen.result import Finding, Result
from regen.shop.plating.plan import PlatingPlan, plan_plating
from regen.shop.plating.values import PlanError
from regen.solver.prepare import Progress, prepare
from regen.solver.solve import MarchError
from regen.studies.alternatives import processes
from regen.units import show

OWN = "as the case"
BLIND = "not evaluated: "
"""What stands before the reason in the note of a margin that is not known."""

LIVES = ("life_conservative", "life_optimistic")
STRENGTHS = ("yield_strength", "ultimate_strength")
STATE = ("alloy", "condition", "process")
"""Keys of a metal's state: what was measured holds for the state it was measured in."""

OF_LINER = (
    *("liner.yield_strength", "liner.ultimate_strength", "models.conductivity_factor"),
    *("life.ductility", "life.fatigue_strength", "life.fatigue_strength_exponent"),
    *("life.fatigue_ductility", "life.fatigue_ductility_exponent", "life.fatigue_temperature"),
)
"""What a case says of its liner as measured."""


@dataclass(frozen=True)
class Row:
    """One route: the case it makes and what came of it.

    ``origin`` is "as the case", "table of the case" or "starting point"; ``values`` what differs
    from the case, None for a key that was taken out. ``result`` is None where it was not solved,
    and ``reason`` says why. ``beyond`` are sizes that the route does not make, ``bond`` where a
    land breaks, ``life`` what is known of its firings, ``plan`` its plating where it is plated,
    ``not_assessed`` what is missing.
    """

    name: str
    route: str
    origin: str
    values: Mapping[str, Any]
    case: Case | None
    result: Result | None
    reason: str
    beyond: tuple[str, ...] = ()
    bond: str = ""
    life: tuple[Finding, ...] = ()
    plan: PlatingPlan | None = None
    not_assessed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Alternatives:
    """Rows of a case and its alternatives, the case itself first."""

    title: str
    rows: tuple[Row, ...]


def compare(
    case: Case, only: Sequence[str] = (), *, progress: Progress | None = None
) -> Alternatives:
    """Solve a case, its alternatives, and starting points of the routes without any.

    Parameters
    ----------
    case : Case
        The base.
    only : sequence of str
        Routes that are compared with the case; all without any [-].
    progress : callable, optional
        Told in words what is being waited for.

    Returns
    -------
    Alternatives
        The case, its own alternatives in its order, then the starting points.

    Raises
    ------
    CaseError
        With everything wrong with every alternative of the case, by key path.
    """
    wanted = tuple(only) or tuple(processes.routes())
    own = [each for each in case.alternatives if each.route in wanted]
    cases = _own_cases(case, own)
    rows = [_solved(OWN, case.design.closeout.route, OWN, {}, case, progress)]
    for each, values, made in cases:
        rows.append(_solved(each.name, each.route, "table of the case", values, made, progress))
    given = {case.design.closeout.route, *(each.route for each in case.alternatives)}
    for route in wanted:
        if route not in given:
            rows.append(_started(case, route, progress))
    return Alternatives(case.design.title, tuple(rows))


def _own_cases(
    case: Case, own: Sequence[Alternative]
) -> list[tuple[Alternative, dict[str, Any], Case]]:
    """Return the case that each alternative makes; refuse all that make none, at once."""
    problems: list[Problem] = []
    found = []
    for each in own:
        values = changes(case.design, each.route, each.values)
        try:
            found.append((each, values, case_of(case, values)))
        except CaseError as error:
            problems += [_placed(each.name, problem) for problem in error.problems]
    if problems:
        raise CaseError(case.path.name, problems)
    return found


def _placed(name: str, problem: Problem) -> Problem:
    key = f'{ALTERNATIVES}.{name}."{problem.key}"'
    return Problem(key, problem.what, problem.given, problem.accepted, problem.do)


def case_of(case: Case, values: Mapping[str, Any]) -> Case:
    """Return a case with some keys changed.

    Parameters
    ----------
    case : Case
        The base.
    values : mapping
        Values by key path as the file would have them; None takes a key out.

    Returns
    -------
    Case
        Checked.

    Raises
    ------
    CaseError
        With everything wrong with it.
    """
    return case.with_values(values)


def changes(design: Design, route: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return what an alternative changes in a case, keys that it takes out included.

    Parameters
    ----------
    design : Design
        The case's own.
    route : str
        Route of the alternative [-].
    given : mapping
        Its values by key path.

    Returns
    -------
    dict
        Values by key path; None takes a key out.

    Notes
    -----
    A key takes the place of the one that excludes it. Another route starts its closeout anew: of
    the case's it keeps the thickness of the jacket alone. What the case gives as measured of a
    metal goes with the state that it was measured in.
    """
    out: dict[str, Any] = {}
    for section, one, other in (*EITHER_OR, *AT_MOST_ONE):
        for key, rival in ((one, other), (other, one)):
            if f"{section}.{key}" in given:
                out[f"{section}.{rival}"] = None
    if any(f"liner.{name}" in given for name in STATE):
        out |= dict.fromkeys(OF_LINER)
    if any(f"closeout.jacket_{name}" in given for name in STATE):
        out |= {f"closeout.jacket_{name}": None for name in STRENGTHS}
    if route != design.closeout.route:
        out |= {f"closeout.{name}": None for name in _CLOSEOUT}
        key = "nickel" if route == "electroformed" else "jacket"
        out[f"closeout.{key}"] = show(design.closeout.jacket, "length")
        out["closeout.route"] = route
    return {**out, **given}


_CLOSEOUT = (
    *("copper", "nickel", "jacket", "jacket_alloy", "jacket_condition", "jacket_process"),
    *("jacket_yield_strength", "jacket_ultimate_strength", "bond_strength"),
)


def _started(case: Case, route: str, progress: Progress | None) -> Row:
    """Return the row of a starting point; one that makes no case says so."""
    values = changes(case.design, route, processes.starting_values(case.design, route))
    try:
        made = case_of(case, values)
    except CaseError as error:
        reason = "; ".join(map(str, error.problems))
        return Row(route, route, "starting point", values, None, None, reason)
    return _solved(route, route, "starting point", values, made, progress)


def _solved(
    name: str,
    route: str,
    origin: str,
    values: Mapping[str, Any],
    made: Case,
    progress: Progress | None,
) -> Row:
    (progress or (lambda text: None))(f"{name} ({route})" if name != route else name)
    result, reason, sizes, plated = None, "", list[str](), None
    missing: list[str] = []
    firings: tuple[Finding, ...] = ()
    try:
        sizes = processes.beyond(route, prepare(made.design).passage)
        result = review(made.design, case_hash=made.hash)
        firings = _life(result)
        missing = _missing(result, firings)
        if route == "electroformed":
            plated = plan_plating(made.design, result)
    except PlanError as error:
        missing.append(f"plating: {error}")
    except (MarchError, GeometryError, RangeError) as error:
        reason = str(error).replace("\n\n", "; ")
    return Row(
        name=name,
        route=route,
        origin=origin,
        values=values,
        case=made,
        result=result,
        reason=reason,
        beyond=tuple(sizes),
        bond=processes.bond_words(route, made.design),
        life=firings,
        plan=plated,
        not_assessed=tuple(missing),
    )


def _life(result: Result) -> tuple[Finding, ...]:
    """Return what is known of the firings that a design lives."""
    known = {finding.name: finding for finding in result.findings}
    return tuple(known[name] for name in LIVES if name in known)


def _missing(result: Result, firings: Sequence[Finding]) -> list[str]:
    """Return what a result could not assess, in words; what has one reason stands together."""
    about: dict[str, list[str]] = {}
    for margin in result.margins:
        if margin.nominal is None and not margin.informative:
            why = margin.columns["nominal"].why or margin.note
            about.setdefault(why, []).append(margin.name.replace("_", " "))
    for finding in firings[:1]:
        if finding.value is None:
            about.setdefault(finding.note, []).append("life")
    return [": ".join(filter(None, (", ".join(names), why))) for why, names in about.items()]
