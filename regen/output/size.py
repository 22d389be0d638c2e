"""A sizing: the sized case, its figure and size.json; sizes, active constraints, what to relax."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import asdict, replace
from functools import partial
from pathlib import Path, PurePath
from typing import Any

import numpy as np

from regen.case.read import Case
from regen.checks.limits import LIMITS
from regen.checks.review import PACKAGES
from regen.design import Sizing
from regen.output.folder import Folder
from regen.output.labels import COLUMN_LABELS, VERDICTS, limit_name
from regen.output.table import Column, Table, text_column
from regen.quantities import amount, quantity, si_of
from regen.sources import read_data
from regen.storage.cache import made_with
from regen.studies.batch.parameters import numeric_key, own_profile
from regen.studies.size.problem import OBJECTIVES, Constraint
from regen.studies.size.sized_case import Answer
from regen.studies.size.space import PATHS, Variable
from regen.studies.size.study import Sized

SCHEMA = 1
INDEX = "size.json"
CASE = "sized.toml"

TEXTS = read_data("studies.toml")["size"]
RELAX = {one.name: one.relax for one in LIMITS.values() if one.relax} | TEXTS["relax"]
"""What helps where a constraint cannot be met."""


def write(sized: Sized, answer: Answer | None, case: Case, seed: int, folder: Path) -> list[Path]:
    """Write the sized case with the files it refers to, the figure, and size.json last.

    No case is written where the answer does not meet every limit.
    """
    out = Folder(folder, INDEX)
    description = size_object(sized, answer, case, seed)
    if answer is None or not answer.good:
        return out.write(description)
    out.add(CASE, answer.case.text)
    for name, data in answer.case.files.items():  # a depth from a table has become pairs
        if not PurePath(name).is_absolute():
            out.add(name, data)
    out.write(description)
    from regen.output.figures.size import sizing_figure

    out.draw("figures/sizing.svg", partial(sizing_figure, answer, case.design))
    return out.write(description)


def size_object(sized: Sized, answer: Answer | None, case: Case, seed: int) -> dict[str, Any]:
    """Return what size.json holds; null where there is no number."""
    sizing = sized.space.base.sizing
    good = answer is not None and answer.good
    return {
        "schema": SCHEMA,
        "title": case.design.title,
        "feasible": good,
        "minimise": sizing.minimise,
        "held_at": sizing.held_at,
        "margin": sizing.margin,
        "objective": _number(sized.trial.objective),
        "objective_of_the_case": _number(sized.own_objective),
        "sizes": [
            {"key": v.parameter.name, "size": size_name(sized, v), "column": v.parameter.column}
            | {"case": _number(before), "sized": _number(after), "low": v.low, "high": v.high}
            for v, before, after in _variables(sized)
        ],
        "active": [
            {"constraint": constraint_name(c), **asdict(c), "left": value}
            for c, value in sized.active
            if (c.limit, c.run) not in sized.unknown
        ],
        "not_evaluated": [{"limit": limit, "run": run} for limit, run in sorted(sized.unknown)],
        "at_bounds": [
            dict(zip(("key", "bound", "value"), b, strict=True)) for b in sized.at_bounds
        ],
        "verdict": answer.result.verdict if answer else None,
        "summary": dict(answer.result.summary) if answer else None,
        "probability": asdict(answer.kept) | {"probability": answer.kept.probability}
        if answer and answer.kept
        else None,
        "not_cut_as_drawn": list(answer.not_cut) if answer else [],
        "words": lines(sized, answer),
        "provenance": {
            **made_with(*PACKAGES, "scipy"),
            "case_sha256": case.hash,
            "sized_case_sha256": answer.case.hash if good and answer else None,
            "seed": seed,
        },
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _percent(value: float, decimals: int = 0) -> str:
    return quantity("share", unit="%", decimals=decimals).amount(float(value))


def _variables(sized: Sized) -> Iterator[tuple[Variable, float, float]]:
    """Yield each variable with its value in the case and as sized [SI]."""
    yield from zip(sized.space.variables, sized.own.tolist(), sized.values.tolist(), strict=True)


def lines(sized: Sized, answer: Answer | None) -> list[str]:
    """Return the outcome of sizing as text."""
    if answer is None or not answer.good:
        return [*_no_design(sized, answer)]
    active = ["", "active constraints:", *_active(sized)]
    return [*_objective(sized), "", *sizes(sized).lines(), "", *_proof(answer), *active]


def aim(sizing: Sizing) -> tuple[str, str]:
    """Return what is minimised, and where every limit is to be met."""
    margin = f" with a margin of {_percent(sizing.margin)}" if sizing.margin else ""
    return f"least {sizing.minimise}", f"every limit met at the {sizing.held_at}{margin}"


def _objective(sized: Sized) -> Iterator[str]:
    sizing = sized.space.base.sizing
    yield f"sized for {', '.join(aim(sizing))}"
    key = OBJECTIVES[sizing.minimise]
    values = (sized.trial.objective, sized.own_objective)
    after, before = (
        amount(v, si_of(key), key) if math.isfinite(v) else "not solved" for v in values
    )
    yield f"{quantity(key).label}: {after} (the case's own sizes: {before})"


def sizes(sized: Sized) -> Table:
    """Return the sizes before and after, and their bounds."""
    rows = [
        [size_name(sized, v), *map(v.parameter.say, (before, after, v.low, v.high))]
        for v, before, after in _variables(sized)
    ]
    base = sized.space.base
    if "width" in base.sizing.free and not sized.space.of("width"):
        width = numeric_key(PATHS["width"], base).say(base.channels.width.value[0])
        rows.append(["width", "", width, "the one cutter", "that fits"])
    numbers = [Column(key, key) for key in ("case", "sized", "least", "most")]
    return Table([text_column("size", "size"), *numbers], rows)


def size_name(sized: Sized, variable: Variable) -> str:
    """Return what a size is called: its key without the section, and where along x."""
    parameter = variable.parameter
    name, profile = parameter.path.rpartition(".")[2], own_profile(sized.space.base, parameter.path)
    if profile is None or parameter.point is None:
        return name
    return f"{name} at {profile.x[parameter.point] * 1e3:.4g} mm"


def _proof(answer: Answer) -> Iterator[str]:
    result = answer.result
    wall, drop = quantity("T_wall_hot_max_K"), quantity("coolant_pressure_drop_Pa", decimals=2)
    band, hottest = result.bands[wall.key], result.worst_channel.get(wall.key)
    worst = f"worst channel {wall.amount(hottest)}" if hottest else "worst channel not solved"
    more = " or more" if result.worst_channel.get("corners_not_solved") else ""
    yield (
        f"a full solve of the sized case: {result.verdict}; hot-gas-side wall "
        f"{wall.amount(result.summary[wall.key])}, {worst}{more}, band to "
        f"{wall.amount(band.max)}{' or more' if band.open else ''}; pressure drop "
        f"{drop.amount(result.summary[drop.key])}"
    )
    kept = answer.kept
    if kept is not None:
        yield (
            f"probability that every limit is met: {_percent(kept.probability)} "
            f"({_percent(kept.low)} to {_percent(kept.high)}, {kept.count} designs with the inputs "
            "of regen uncertainty)"
        )
    yield f"{result.verdict}: {VERDICTS[result.verdict]}"
    for text in answer.not_cut:
        yield f"the shop cannot mill it as drawn: {text}; regen shop solves it as milled"


def _active(sized: Sized) -> Iterator[str]:
    margin = sized.space.base.sizing.margin
    for constraint, value in _together(sized.active):
        more = f" beyond the margin of {_percent(margin)}" if margin and constraint.run else ""
        yield f"  {constraint_name(constraint)}: {_room(sized, constraint, value)} left{more}"
    for size, which, bound in _bounds(sized):
        yield f"  {size}: on the {which} bound, {bound}"
    if not sized.active and not sized.at_bounds:
        yield "  none within 1 %: whole counts and cutters leave room"


def _room(sized: Sized, constraint: Constraint, value: float) -> str:
    """Return what is left of a limit, or of what the shop can mill."""
    base = sized.space.base
    length = quantity("room_m", unit="mm", decimals=3)
    if constraint.limit == "land":
        return length.amount(value * base.shop.least_land)
    if constraint.limit == "aspect":
        depth = max(value, 0.0) * float(np.mean(base.channels.depth.value))
        return f"{length.amount(depth)} of depth"
    return _percent(value, 2)


def _together(active: Iterable[tuple[Constraint, float]]) -> list[tuple[Constraint, float]]:
    """Return constraints with neighbouring stretches of one limit and run joined, least first."""
    joined: list[tuple[Constraint, float]] = []
    by_place = sorted(active, key=lambda one: (one[0].limit, one[0].run, one[0].x or (0.0, 0.0)))
    for constraint, value in by_place:
        last, least = joined[-1] if joined else (Constraint(""), 0.0)
        same = (last.limit, last.run) == (constraint.limit, constraint.run)
        if same and last.x and constraint.x and last.x[1] == constraint.x[0]:
            whole = replace(last, x=(last.x[0], constraint.x[1]))
            joined[-1] = (whole, min(least, value))
        else:
            joined.append((constraint, value))
    return sorted(joined, key=lambda one: one[1])


def _bounds(sized: Sized) -> Iterator[tuple[str, str, str]]:
    """Yield sizes on a bound, those of one key together: names, which bound, its value."""
    named = {variable.parameter.name: variable for variable in sized.space.variables}
    groups: dict[tuple[str, str, str], list[str]] = {}
    for name, which, bound in sized.at_bounds:
        variable = named[name]
        group = (variable.size, which, variable.parameter.say(bound))
        groups.setdefault(group, []).append(size_name(sized, variable))
    for (size, which, text), names in groups.items():
        places = ", ".join(name.partition(" at ")[2].removesuffix(" mm") for name in names)
        yield f"{size} at {places} mm" if len(names) > 1 else names[0], which, text


def constraint_name(constraint: Constraint) -> str:
    """Return what a constraint is, and where."""
    name: str = TEXTS["names"].get(constraint.limit, limit_name(constraint.limit))
    if constraint.run:
        name += f", {COLUMN_LABELS[constraint.run]}"
    if constraint.x is not None:
        start, stop = (f"{x * 1e3:.0f}" for x in constraint.x)
        name += f", x = {start} mm" if start == stop else f", x = {start} to {stop} mm"
    return name


def _no_design(sized: Sized, answer: Answer | None) -> Iterator[str]:
    yield f"no feasible design: no sizes found for {', '.join(aim(sized.space.base.sizing))}"
    if answer is not None:
        yield from _not_proved(answer)
        return
    missed = _missed(sized)
    unknown: dict[str, list[str]] = {}
    for limit, run in sorted(sized.unknown):
        unknown.setdefault(run, []).append(limit_name(limit))
    if not sized.trial.solved:
        yield "no design within the bounds was solved"
    elif missed:
        yield f"nearest limit: {missed[0][1]}"
        yield "at the sizes that miss the least:"
        yield from (f"  {text}" for _, text in missed)
    for run, names in unknown.items():
        yield f"  {COLUMN_LABELS[run]}, not evaluated at these sizes: {', '.join(names)}"
    if sized.trial.solved:
        yield from ("", *sizes(sized).lines(), "")
    yield "constraints to relax, any of:"
    limits = [limit for limit, _ in missed] or [limit for limit, _ in sorted(sized.unknown)]
    for name in dict.fromkeys(limits or ["solved"]):
        yield f"  {limit_name(name)}: {RELAX.get(name, 'the limit, or the bounds of [sizing]')}"
    for run in (run for run in unknown if run != "nominal"):
        yield f"  {COLUMN_LABELS[run]}: sizing.held_at, or the worst slot's tolerances in [shop]"
    for size, which, bound in _bounds(sized):
        yield f"  [sizing]: {size} lies on the {which} bound, {bound}"


def _missed(sized: Sized) -> list[tuple[str, str]]:
    """Return the worst miss of each limit and run that is known, the worst first."""
    margin = sized.space.base.sizing.margin
    texts: dict[tuple[str, str], str] = {}
    for constraint, value in sized.active if sized.trial.solved else ():
        key = (constraint.limit, constraint.run)
        if value < 0.0 and key not in sized.unknown | texts.keys():
            part = margin and constraint.run and -value < margin
            more = f" of the margin of {_percent(margin)}" if part else ""
            room = _room(sized, constraint, -value)
            texts[key] = f"{constraint_name(constraint)}: missed by {room}{more}"
    return [(limit, text) for (limit, _), text in texts.items()]


def _not_proved(answer: Answer) -> Iterator[str]:
    yield "the search meets its limits, but a full solve does not find these met:"
    margins = {margin.name: margin for margin in answer.result.margins}
    for name, run in answer.broken:
        value = getattr(margins[name], run)
        text = "not evaluated" if value is None else f"missed by {_percent(-value, 2)}"
        yield f"  {limit_name(name)}, {COLUMN_LABELS[run]}: {text}. {margins[name].note}".rstrip()
