"""What sizing found, in words: sizes, what holds them, or what would have to give."""

from __future__ import annotations

from collections.abc import Iterator

from regen.output.words import spoken
from regen.result import Result
from regen.studies.size import Sized
from regen.studies.sized_case import Answer
from regen.studies.sizing_problem import Constraint
from regen.studies.sizing_space import Variable

UNITS = {
    "pressure drop": ("bar", 1e-5),
    "wall temperature": ("K", 1.0),
    "mass": ("kg", 1.0),
}

LANES = {
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
    "burnout": "more speed (pressure drop), a colder inlet, or limits.burnout_fraction",
    "coolant_mach": "limits.mach, or more inlet pressure",
    "injector_pressure": "more inlet pressure, or limits.injector_drop_fraction",
    "land": "thinner lands (shop.least_land), or fewer slots (sizing.count_from)",
    "aspect": "deeper cuts (shop.greatest_aspect)",
    "depth_slope": "sizing.depth_slope, or fewer depth_points",
    "solved": "wider bounds in [sizing], or another case: no design within them could be solved",
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
    more = f", {sizing.margin:.0%} beyond each" if sizing.margin else ""
    return f"least {sizing.minimise}, every limit held at the {sizing.held_at}{more}"


def _sizes(sized: Sized) -> Iterator[str]:
    unit, factor = UNITS[sized.space.base.sizing.minimise]
    yield f"sized for {_aim(sized)}"
    own = f"{sized.own_objective * factor:.4g} {unit}"
    was = own if sized.own_objective == sized.own_objective else "not solved"
    yield (
        f"{sized.space.base.sizing.minimise}: {sized.objective * factor:.4g} {unit} "
        f"(the case's own sizes: {was})"
    )
    yield ""
    yield f"{'size':<22}{'case':>12}{'sized':>12}   between"
    for variable, before, after in zip(sized.space.variables, sized.own, sized.values, strict=True):
        low, high = variable.key.say(variable.low), variable.key.say(variable.high)
        yield (
            f"{size_name(sized, variable):<22}{variable.key.say(before):>12}"
            f"{variable.key.say(after):>12}   {low} and {high}"
        )


def size_name(sized: Sized, variable: Variable) -> str:
    """Return what a size is called: its key without the section, and where along x."""
    name = variable.key.path.rpartition(".")[2]
    if variable.key.point is None:
        return name
    section, _, attribute = variable.key.path.partition(".")
    profile = getattr(getattr(sized.space.base, section), attribute)
    return f"{name} at {profile.x[variable.key.point] * 1e3:.4g} mm"


def _proof(answer: Answer) -> Iterator[str]:
    result: Result = answer.result
    s, band = result.summary, result.bands["T_wall_hot_max_K"]
    worst = result.worst_channel.get("T_wall_hot_max_K")
    said = f"worst channel {round(worst, -1):.0f} K" if worst else "worst channel not solved"
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
    if result.verdict == "marginal":
        yield "marginal: the nominal channel keeps every limit; band edge or worst channel do not"


def _holds(sized: Sized) -> Iterator[str]:
    for constraint, value in sized.active:
        yield f"  {constraint_name(constraint)}: {value:.2%} left"
    for name, which, bound in sized.at_bounds:
        variable = next(v for v in sized.space.variables if v.key.name == name)
        said = f"  {size_name(sized, variable)}: on its {which} bound, {variable.key.say(bound)}"
        yield said
    if not sized.active and not sized.at_bounds:
        yield "  nothing within a per cent: whole counts and cutters leave room"


def constraint_name(constraint: Constraint) -> str:
    """Return what a constraint is, and where."""
    own = {
        "land": "thinnest land (shop.least_land)",
        "aspect": "depth over width (shop.greatest_aspect)",
        "depth_slope": "slope of the depth (sizing.depth_slope)",
        "solved": "no design could be solved",
    }
    name = own.get(constraint.limit, spoken(constraint.limit))
    if constraint.lane:
        name += f", {LANES[constraint.lane]}"
    if constraint.x is not None:
        name += f", x = {constraint.x[0] * 1e3:.0f} to {constraint.x[1] * 1e3:.0f} mm"
    return name


def _no_design(sized: Sized, answer: Answer | None) -> Iterator[str]:
    yield f"no feasible design: no sizes found for {_aim(sized)}"
    if answer is not None and sized.feasible:
        broken = [m for m in answer.result.margins if m.verdict in ("fail", "unknown")]
        yield "the search keeps its limits, but a full solve does not find these kept:"
        for margin in broken:
            yield f"  {spoken(margin.name)}: {margin.verdict}. {margin.note}"
        return
    nearest = _broken(sized)
    yield f"nearest limit: {constraint_name(nearest[0][0])}, missed by {-nearest[0][1]:.2%}"
    yield "at the sizes that miss the least:"
    for constraint, value in nearest:
        yield f"  {constraint_name(constraint)}: missed by {-value:.2%}"
    yield "what would have to give, any of:"
    for name in dict.fromkeys(constraint.limit for constraint, _ in nearest):
        yield f"  {spoken(name)}: {REMEDIES.get(name, 'the limit, or the bounds of [sizing]')}"
    for name, which, bound in sized.at_bounds:
        variable = next(v for v in sized.space.variables if v.key.name == name)
        end = "from" if which == "lower" else "to"
        yield (
            f"  sizing.{variable.size}_{end}: {size_name(sized, variable)} lies on its {which} "
            f"bound, {variable.key.say(bound)}"
        )


def _broken(sized: Sized) -> list[tuple[Constraint, float]]:
    """Return the worst miss of each limit and lane, the worst first."""
    found: dict[tuple[str, str], tuple[Constraint, float]] = {}
    for constraint, value in sized.active:
        if value < 0.0:
            found.setdefault((constraint.limit, constraint.lane), (constraint, value))
    return list(found.values())
