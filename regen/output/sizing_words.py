"""What sizing found, in words: sizes, what holds them, or what would have to give."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from regen.output.words import VERDICTS, spoken
from regen.result import Result
from regen.studies.size.problem import Constraint
from regen.studies.size.sized_case import Answer
from regen.studies.size.space import Variable
from regen.studies.size.study import Sized

UNITS = {
    "pressure drop": ("bar", 1e-5),
    "wall temperature": ("K", 1.0),
    "mass": ("kg", 1.0),
}

NAMES = {"wall temperature": "hottest wall", "mass": "mass of the cooled length"}

RUNS = {
    "nominal": "nominal channel",
    "worst_channel": "worst channel",
    "band_edge": "band edge",
}

REMEDIES = {
    "hot_wall_temperature": 'a hotter wall allowed (limits.T_wall_hot), a thinner one ("wall" in '
    "sizing.free), more coolant, or less heat (a film)",
    "melting": "less heat, or more coolant",
    "coolant_wall_temperature": "a hotter slot floor allowed (limits.T_wall_cold), or more coolant",
    "coolant_temperature": 'more coolant ("flow" in sizing.free, where the fuel allows it), less '
    "heat, or a shorter cooled length",
    "ligament_stress": 'a thicker wall ("wall" in sizing.free), narrower slots, or another alloy',
    "land_tension": "wider lands, or less pressure",
    "life": "a colder hot wall (a thinner one, more coolant, a film), fewer life.firings, or "
    "another alloy",
    "burnout": "more coolant pressure, a colder inlet, more coolant, less heat (a film), or "
    "limits.burnout_fraction",
    "coolant_mach": "limits.mach, or more inlet pressure",
    "injector_pressure": "more inlet pressure, or limits.injector_drop_fraction",
    "land": "thinner lands (shop.least_land), fewer slots (sizing.count_from) or narrower ones",
    "aspect": "deeper cuts (shop.greatest_aspect)",
    "depth_slope": "sizing.depth_slope, or fewer depth_points",
    "solved": "wider bounds in [sizing], or another case",
}
"""What would have to give where a limit cannot be kept."""


def lines(sized: Sized, answer: Answer | None) -> list[str]:
    """Return the outcome of sizing.

    Parameters
    ----------
    sized : Sized
        Outcome of the search.
    answer : Answer or None
        The sized case and its proof; None where no design keeps every limit.

    Returns
    -------
    list of str
        Lines to be printed.
    """
    if answer is None or not answer.good:
        return [*_no_design(sized, answer)]
    return [*_sizes(sized), "", *_proof(answer), "", "what holds the design:", *_holds(sized)]


def _aim(sized: Sized) -> str:
    sizing = sized.space.base.sizing
    more = f" with {sizing.margin:.0%} to spare" if sizing.margin else ""
    return f"least {sizing.minimise}, every limit kept at the {sizing.held_at}{more}"


def _sizes(sized: Sized) -> Iterator[str]:
    sizing = sized.space.base.sizing
    unit, factor = UNITS[sizing.minimise]
    yield f"sized for {_aim(sized)}"
    own = f"{sized.own_objective * factor:.4g} {unit}"
    was = own if sized.own_objective == sized.own_objective else "not solved"
    yield (
        f"{NAMES.get(sizing.minimise, sizing.minimise)}: {sized.objective * factor:.4g} {unit} "
        f"(the case's own sizes: {was})"
    )
    yield ""
    yield from _table(sized)


def _table(sized: Sized) -> Iterator[str]:
    yield f"{'size':<22}{'case':>15}{'sized':>20}   between"
    for variable, before, after in zip(sized.space.variables, sized.own, sized.values, strict=True):
        low, high = variable.parameter.say(variable.low), variable.parameter.say(variable.high)
        yield (
            f"{size_name(sized, variable):<22}{variable.parameter.say(before):>15}"
            f"{variable.parameter.say(after):>20}   {low} and {high}"
        )
    base, names = sized.space.base, {variable.size for variable in sized.space.variables}
    if "width" in base.sizing.free and "width" not in names:
        width = f"{base.channels.width.value[0] * 1e3:.6g} mm"
        yield f"{'width':<22}{'':>15}{width:>20}   of the one cutter that fits"


def size_name(sized: Sized, variable: Variable) -> str:
    """Return what a size is called: its key without the section, and where along x."""
    name = variable.parameter.path.rpartition(".")[2]
    if variable.parameter.point is None:
        return name
    section, _, attribute = variable.parameter.path.partition(".")
    profile = getattr(getattr(sized.space.base, section), attribute)
    return f"{name} at {profile.x[variable.parameter.point] * 1e3:.4g} mm"


def _proof(answer: Answer) -> Iterator[str]:
    result: Result = answer.result
    s, band = result.summary, result.bands["T_wall_hot_max_K"]
    worst = result.worst_channel.get("T_wall_hot_max_K")
    said = f"worst channel {round(worst, -1):.0f} K" if worst else "worst channel not solved"
    said += " or more" if result.worst_channel.get("corners_not_solved") else ""
    more = " or more" if band.open else ""
    yield (
        f"a full solve of the sized case: {result.verdict}; hot wall "
        f"{round(s['T_wall_hot_max_K'], -1):.0f} K, {said}, band to "
        f"{round(band.max, -1):.0f} K{more}; pressure drop "
        f"{s['coolant_pressure_drop_Pa'] / 1e5:.2f} bar"
    )
    kept = answer.kept
    if kept is not None:
        yield (
            f"probability that every limit is kept: {kept.probability:.0%} ({kept.low:.0%} to "
            f"{kept.high:.0%}, {kept.count} designs with the inputs of regen uncertainty)"
        )
    yield f"{result.verdict}: {VERDICTS[result.verdict]}"
    for text in answer.not_cut:
        yield f"the shop does not cut it as drawn: {text}; regen shop solves it as it is cut"


def _holds(sized: Sized) -> Iterator[str]:
    margin = sized.space.base.sizing.margin
    for constraint, value in _together(sized.active):
        more = f" beyond the {margin:.0%} to spare" if margin and constraint.run else ""
        yield f"  {constraint_name(constraint)}: {_room(sized, constraint, value)} left{more}"
    for size, which, bound in _bounds(sized):
        yield f"  {size}: on the {which} bound, {bound}"
    if not sized.active and not sized.at_bounds:
        yield "  nothing within a per cent: whole counts and cutters leave room"


def _room(sized: Sized, constraint: Constraint, value: float) -> str:
    """Return what is left of a limit, or of what the shop can cut, in words."""
    base = sized.space.base
    if constraint.limit == "land":
        return f"{value * base.shop.least_land * 1e3:.3f} mm"
    if constraint.limit == "aspect":
        return f"{max(value, 0.0) * np.mean(base.channels.depth.value) * 1e3:.3f} mm of depth"
    return f"{value:.2%}"


def _together(active: Iterable[tuple[Constraint, float]]) -> list[tuple[Constraint, float]]:
    """Return constraints with neighbouring stretches of one limit and run joined, least first."""
    found: list[tuple[Constraint, float]] = []
    by_place = sorted(active, key=lambda one: (one[0].limit, one[0].run, one[0].x or (0.0, 0.0)))
    for constraint, value in by_place:
        last = found[-1][0] if found else None
        if last and constraint.x and _adjoins(last, constraint):
            joined = replace(last, x=((last.x or constraint.x)[0], constraint.x[1]))
            found[-1] = (joined, min(found[-1][1], value))
        else:
            found.append((constraint, value))
    return sorted(found, key=lambda one: one[1])


def _adjoins(one: Constraint, other: Constraint) -> bool:
    same = (one.limit, one.run) == (other.limit, other.run)
    return same and one.x is not None and other.x is not None and one.x[1] == other.x[0]


def _bounds(sized: Sized) -> Iterator[tuple[str, str, str]]:
    """Yield sizes on a bound, those of one key together: names, which bound, its value."""
    named = {variable.parameter.name: variable for variable in sized.space.variables}
    groups: dict[tuple[str, str, str], list[str]] = {}
    for name, which, bound in sized.at_bounds:
        variable = named[name]
        key = (variable.size, which, variable.parameter.say(bound))
        groups.setdefault(key, []).append(size_name(sized, variable))
    for (size, which, said), names in groups.items():
        places = ", ".join(name.partition(" at ")[2].removesuffix(" mm") for name in names)
        yield (f"{size} at {places} mm" if len(names) > 1 else names[0]), which, said


def constraint_name(constraint: Constraint) -> str:
    """Return what a constraint is, and where."""
    own = {
        "land": "thinnest land (shop.least_land)",
        "aspect": "depth over width (shop.greatest_aspect)",
        "depth_slope": "slope of the depth (sizing.depth_slope)",
    }
    name = own.get(constraint.limit, spoken(constraint.limit))
    if constraint.run:
        name += f", {RUNS[constraint.run]}"
    if constraint.x is not None:
        start, stop = (f"{x * 1e3:.0f}" for x in constraint.x)
        name += f", x = {start} mm" if start == stop else f", x = {start} to {stop} mm"
    return name


def _no_design(sized: Sized, answer: Answer | None) -> Iterator[str]:
    yield f"no feasible design: no sizes found for {_aim(sized)}"
    if answer is not None:
        yield from _not_proved(answer)
        return
    broken, unknown = _broken(sized), _unknown(sized)
    if not sized.solved:
        yield "no design within the bounds was solved"
    elif broken:
        nearest, miss = broken[0]
        yield f"nearest limit: {constraint_name(nearest)}, missed by {_miss(sized, nearest, miss)}"
        yield "at the sizes that miss the least:"
        for constraint, value in broken:
            yield f"  {constraint_name(constraint)}: missed by {_miss(sized, constraint, value)}"
    for run, names in unknown.items():
        yield f"  {run}, not evaluated at these sizes: {', '.join(names)}"
    if sized.solved:
        yield from ("", *_table(sized), "")
    yield from _remedies(sized, [constraint.limit for constraint, _ in broken], [*unknown])


def _not_proved(answer: Answer) -> Iterator[str]:
    yield "the search keeps its limits, but a full solve does not find these kept:"
    margins = {margin.name: margin for margin in answer.result.margins}
    for name, run in answer.broken:
        value = getattr(margins[name], run)
        said = "not evaluated" if value is None else f"missed by {-value:.2%}"
        yield f"  {spoken(name)}, {RUNS[run]}: {said}. {margins[name].note}".rstrip()


def _remedies(sized: Sized, limits: list[str], unknown: list[str]) -> Iterator[str]:
    yield "what would have to give, any of:"
    limits = limits or [name for name, _ in sorted(sized.unknown)] or ["solved"]
    for name in dict.fromkeys(limits):
        yield f"  {spoken(name)}: {REMEDIES.get(name, 'the limit, or the bounds of [sizing]')}"
    for run in unknown:
        if run != RUNS["nominal"]:
            yield f"  {run}: sizing.held_at, or what [shop] says of the worst slot"
    for size, which, bound in _bounds(sized):
        yield f"  [sizing]: {size} lies on the {which} bound, {bound}"


def _miss(sized: Sized, constraint: Constraint, value: float) -> str:
    margin = sized.space.base.sizing.margin
    more = f" of the {margin:.0%} to spare" if margin and constraint.run and -value < margin else ""
    return _room(sized, constraint, -value) + more


def _broken(sized: Sized) -> list[tuple[Constraint, float]]:
    """Return the worst miss of each limit and run that is known, the worst first."""
    found: dict[tuple[str, str], tuple[Constraint, float]] = {}
    for constraint, value in sized.active if sized.solved else ():
        key = (constraint.limit, constraint.run)
        if value < 0.0 and key not in sized.unknown:
            found.setdefault(key, (constraint, value))
    return list(found.values())


def _unknown(sized: Sized) -> dict[str, list[str]]:
    """Return the limits that could not be evaluated, in words, by run."""
    found: dict[str, list[str]] = {}
    for limit, run in sorted(sized.unknown):
        found.setdefault(RUNS[run], []).append(spoken(limit))
    return found
