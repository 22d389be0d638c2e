"""An uncertainty study in words: how sure each limit is, and what matters most."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from regen.output import words
from regen.output.words import HEADLINE, Quantity
from regen.studies.uncertainty.distributions import TRUNCATED, Input
from regen.studies.uncertainty.indices import CONFIDENCE, Indices
from regen.studies.uncertainty.study import (
    EVERY,
    EVERY_KEPT,
    LEAST_MARGIN,
    OUTPUTS,
    QUANTILES,
    Kept,
    Uncertainty,
)

_KNOWN = {quantity.key: quantity for quantity in HEADLINE}
QUANTITIES = {
    name: Quantity(name, "least margin", "%", 100.0) if name == LEAST_MARGIN else _KNOWN[name]
    for name in OUTPUTS
}
"""How each output is said."""

LABELS = {EVERY_KEPT: "whether every limit is kept"} | {
    key: quantity.label for key, quantity in QUANTITIES.items()
}
"""Names of what has indices."""

SAID = tuple(QUANTILES.index(q) for q in (0.05, 0.5, 0.95))

ERROR = (
    f"in brackets the {100.0 * CONFIDENCE:g} % interval of Wilson for a direct count of "
    "independent designs; scrambled Sobol' points err less, so it is rather too wide"
)
MODELS = (
    "shares of samples under the distributions given, not of chambers built; a choice between "
    "correlations is counted as if each were equally likely to be right"
)
MOST = 4
"""Inputs named for each output."""

LOST = 0.05
"""Share of base points left out of an index above which it is said beside it [-]."""


def lines(study: Uncertainty) -> list[str]:
    """Return the summary of a study.

    Parameters
    ----------
    study : Uncertainty
        Sampled and solved.

    Returns
    -------
    list of str
        One statement a line.
    """
    found = [
        f"{study.title}: {study.base} designs counted, {len(study.rows)} solved or tried, "
        f"seed {study.seed}",
        *inputs(study),
        "",
        "probability of keeping each limit, nominal channel, with the error of sampling:",
    ]
    found += [f"  {name(one):32} {probability(one)}" for one in study.kept]
    found += _indicative(study)
    found += [f"  {ERROR}", f"  {MODELS}", *_unsolved(study), ""]
    found.append("5 %, 50 % and 95 % of the designs lie below:")
    for key, quantity in QUANTITIES.items():
        values = ", ".join(value(quantity, float(study.quantiles[key][n])) for n in SAID)
        found.append(f"  {quantity.label:32} {values} {quantity.unit}{_own(study, quantity)}")
    found += ["", "what matters most (total index, with its interval; first-order index):"]
    for key, label in LABELS.items():
        found.append(f"  {label:32} {ranking(study.inputs, study.indices[key])}")
    return found + [f"  {text}" for text in lost(study)]


def _indicative(study: Uncertainty) -> list[str]:
    """Say which limits the case itself keeps or breaks only by an indication."""
    margins = study.nominal.margins if study.nominal is not None else ()
    some = [
        words.short(one)
        for one in margins
        if one.verdict is not None and one.columns["nominal"].indicative
    ]
    if not some:
        return []
    return [
        f"  indicative only, by a floor or a correlation not made for this fluid: {', '.join(some)}"
    ]


def inputs(study: Uncertainty) -> list[str]:
    """Return what varies, one input a line, and which usual ones were left out."""
    usual = any(one.why for one in study.inputs)
    head = "inputs, independent of each other"
    if usual:
        head += "; the case gives none, so these are usual ones"
    found = [f"{head}:"]
    for one in study.inputs:
        why = f" ({one.why})" if one.why else ""
        found.append(f"  {one.path:32} {one.text}{why}")
    found += [f"  left out: {text}" for text in study.left_out]
    if any(one.given.law == "normal" for one in study.inputs):
        found.append(f"  normal distributions are {TRUNCATED}")
    return found


def name(one: Kept) -> str:
    """Return the name of a limit, and whether it is for information."""
    if one.limit == EVERY:
        return EVERY
    return words.spoken(one.limit) + (" (information)" if one.informative else "")


def probability(one: Kept) -> str:
    """Return a probability with its interval, and why designs did not keep the limit."""
    said = interval(one)
    return f"{said}; {lost_designs(one)}" if one.kept < one.count else said


def interval(one: Kept) -> str:
    """Return a probability with its interval, or that it is not known."""
    if not one.known:
        return "not known"
    return f"{one.probability:.3f} ({one.low:.3f} to {one.high:.3f})"


def lost_designs(one: Kept) -> str:
    """Return why designs did not keep a limit, in numbers of designs."""
    parts = {
        "broken": one.broken,
        "not evaluated": one.not_evaluated,
        "not solved": one.not_solved,
    }
    found = ", ".join(f"{why} {number}" for why, number in parts.items() if number)
    return f"not kept: {found} of {one.count}" if found else "kept by all"


def value(quantity: Quantity, found: float) -> str:
    """Return a quantile [SI] in an output's unit, or that this design is not solved."""
    return quantity.say(found) if np.isfinite(found) else "not solved"


def _own(study: Uncertainty, quantity: Quantity) -> str:
    if study.nominal is None or quantity.key == LEAST_MARGIN:
        return ""
    return f" (the case itself {quantity.say(study.nominal.summary[quantity.key])})"


def _unsolved(study: Uncertainty) -> list[str]:
    """Return what was not solved among the designs counted, and the first reason of each kind."""
    base = slice(0, study.base)
    status, reason = study.rows.status[base], study.rows.reason[base]
    found = []
    for kind in dict.fromkeys(status[status != "solved"]):
        rows = np.flatnonzero(status == kind)
        first = str(reason[rows[0]]).removeprefix("not solved: ")
        whose = _by_model(study, rows)
        found.append(
            f"  not solved, {kind}: {rows.size} of {study.base} designs{whose}; first: {first}"
        )
    if found:
        found.append(
            "  designs that are not solved keep no limit, and count as worse than any other"
        )
    return found


def _by_model(study: Uncertainty, rows: NDArray[np.intp]) -> str:
    """Return how many of some designs have which correlation of each role."""
    found = []
    for role, names in (study.batch.models or {}).items():
        drawn = [names[n] for n in rows]
        counts = {one: drawn.count(one) for one in sorted(set(drawn))}
        found.append(f"models.{role} " + ", ".join(f"{one} {n}" for one, n in counts.items()))
    return f" ({'; '.join(found)})" if found else ""


def order(given: Indices) -> list[int]:
    """Return the numbers of the inputs by falling total index."""
    return [int(n) for n in np.argsort(-np.nan_to_num(given.total, nan=-1.0), kind="stable")]


def ranking(names: tuple[Input, ...], given: Indices) -> str:
    """Return the inputs that matter most to an output.

    Parameters
    ----------
    names : tuple of Input
        Inputs in order.
    given : Indices
        Of the output.

    Returns
    -------
    str
        Such as "models.gas_side 0.61 (0.55 to 0.67; first 0.58)".
    """
    if not np.isfinite(given.total).any():
        return "no index: it does not vary, or too little was solved"
    found: list[str] = []
    for n in order(given)[:MOST]:
        total, first = given.total[n], given.first[n]
        if not np.isfinite(total) or (found and total < 0.01):
            break
        ends = f"{given.total_low[n]:.2f} to {given.total_high[n]:.2f}"
        found.append(f"{names[n].path} {total:.2f} ({ends}; {first:.2f})")
    return ", ".join(found)


def lost(study: Uncertainty) -> list[str]:
    """Return how many base points the indices leave out, if that matters."""
    used = np.concatenate([study.indices[name].used for name in OUTPUTS])
    if not used.size or used.min() >= (1.0 - LOST) * study.samples:
        return []
    return [
        f"indices of numbers rest on {int(used.min())} to {int(used.max())} of {study.samples} "
        "base points: where a design gave no value the point is left out; among what is left "
        "inputs are not quite independent, and totals may add up to less than 1. Those of "
        "whether every limit is kept rest on every design"
    ]
