"""Verdicts: what the columns of a row say, and rows together, of one design or of many."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

import numpy as np

from regen.checks.registry import Limit
from regen.checks.runs import Compared
from regen.physics import status as st
from regen.result import Array, Integers, Mask, State, Verdict

KEPT, BROKEN, UNKNOWN, NOT_ASKED = range(4)
STATES: tuple[State, ...] = ("kept", "broken", "unknown")

VERDICTS: tuple[Verdict, ...] = ("pass", "open", "at risk", "fail")
"""From best to worst; their places are the codes below."""
PASS, OPEN, AT_RISK, FAIL = range(4)

PHYSICAL = frozenset({st.BOILED, st.COOLANT_RANGE, st.GAS_COOLANT, st.CHOKED, st.PRESSURE_LOST})
"""Ways to stop by physics, which break the limits that name them; others leave rows unknown."""


class Columns(NamedTuple):
    """One column of a row, of one design or of many (...,).

    ``state`` is a place in ``STATES``, or ``NOT_ASKED``; ``margin`` NaN where there is no number
    [-]; ``at`` the governing station, -1 if there is none.
    """

    state: Integers
    indicative: Mask
    margin: Array
    at: Integers


def relative(compared: Compared, kind: Literal["max", "min"]) -> Array:
    """Return the relative margins, positive where the limit is kept.

    Parameters
    ----------
    compared : Compared
        Values and limits (..., S) [same unit].
    kind : {"max", "min"}
        Sense of the limit.

    Returns
    -------
    ndarray
        (limit - value)/limit or (value - limit)/limit, (..., S) [-]; infinite where there is no
        demand, NaN where it cannot be evaluated.
    """
    sign = 1.0 if kind == "max" else -1.0
    with np.errstate(invalid="ignore", divide="ignore"):
        margins = sign * (compared.limit - compared.value) / compared.limit
    margins = np.where(np.isfinite(margins), margins, np.nan)
    return margins if compared.asked is None else np.where(compared.asked, margins, np.inf)


def _decide(
    margin: Array, broken: Mask, unknown: Mask, silent: Mask, indicative: Mask, axis: int
) -> Columns:
    """Return what several margins say together, along one axis.

    Broken beyond doubt by any is broken; else unknown by any is unknown; else indicatively broken
    by any is so; else kept. What is silent does not count. The least margin is that of those that
    decide, NaN where there is none.
    """
    surely = np.any(broken & ~indicative, axis=axis)
    conditions = [surely, unknown.any(axis), np.any(broken & indicative, axis), silent.all(axis)]
    state = np.select(conditions, [BROKEN, UNKNOWN, BROKEN, NOT_ASKED], KEPT)
    counts = ~np.expand_dims(surely, axis) | (broken & ~indicative)
    counted = np.where(counts & ~np.isnan(margin), margin, np.inf)
    place = counted.argmin(axis)
    least = counted.min(axis)
    none = (state == UNKNOWN) | np.isinf(least)
    doubtful = ~surely & (state != UNKNOWN) & np.any(indicative & ~silent, axis)
    return Columns(state, doubtful, np.where(none, np.nan, least), np.where(none, -1, place))


def column(margins: Array, indicative: Mask | None = None) -> Columns:
    """Return what the margins of a row (..., S) say together, from ``relative`` [-].

    ``indicative`` are the stations (..., S) whose limit is a floor or an unproved correlation. A
    station that is broken beyond doubt breaks the column, whatever else is not known; a column
    without any demand is kept with a margin of 1.
    """
    unknown = np.isnan(margins)
    if indicative is None or not np.any(indicative):  # the least margin says all
        counted = np.where(unknown, np.inf, margins)
        at = counted.argmin(axis=-1)
        least = np.take_along_axis(counted, at[..., None], axis=-1)[..., 0]
        state = np.where(least < 0.0, BROKEN, np.where(unknown.any(axis=-1), UNKNOWN, KEPT))
        asked = np.isfinite(least) & (state != UNKNOWN)
        margin = np.where(state == UNKNOWN, np.nan, np.where(asked, least, 1.0))
        return Columns(state, np.zeros_like(asked), margin, np.where(asked, at, -1))
    doubtful = np.broadcast_to(indicative, margins.shape)
    with np.errstate(invalid="ignore"):
        below = margins < 0.0
    whole = _decide(margins, below, unknown, np.isposinf(margins), doubtful, axis=-1)
    none = whole.state == NOT_ASKED
    state, margin = np.where(none, KEPT, whole.state), np.where(none, 1.0, whole.margin)
    return whole._replace(state=state, margin=margin)


def constant(state: int, shape: tuple[int, ...] = ()) -> Columns:
    """Return a column of one state without a number."""
    return Columns(*(np.full(shape, value) for value in (state, False, np.nan, -1)))


def together(columns: Sequence[Columns]) -> Columns:
    """Return one column of several: corners of the worst channel, edge and stopped members.

    At least one, each (...,); what was not asked for does not count. See ``_decide``.
    """
    if len(columns) == 1:
        return columns[0]
    state, indicative, margin, at = (np.stack(parts) for parts in zip(*columns, strict=True))
    silent = state == NOT_ASKED
    whole = _decide(margin, state == BROKEN, state == UNKNOWN, silent, indicative, axis=0)
    governing = np.take_along_axis(at, np.maximum(whole.at, 0)[None], axis=0)[0]
    return whole._replace(at=np.where(whole.at < 0, -1, governing))


def stopped(limit: Limit, code: int) -> int:
    """Return what a run that stopped with a status [-] makes of a row.

    ``BROKEN`` by physics, ``UNKNOWN`` if it only did not converge, ``NOT_ASKED`` if the row does
    not rest on it.
    """
    if code in PHYSICAL:
        return BROKEN if code in limit.broken_by else NOT_ASKED
    return UNKNOWN if limit.broken_by else NOT_ASKED


def settled(whole: Columns, limit: Limit) -> Columns:
    """Return a column (...,) with a state where all its runs stopped by what is not the limit's.

    A shared limit is kept, since the column has no demand of its own; any other is not known.
    """
    silent = whole.state == NOT_ASKED
    state = np.where(silent, KEPT if limit.shared else UNKNOWN, whole.state)
    return whole._replace(state=state, margin=np.where(silent & limit.shared, 1.0, whole.margin))


def row(nominal: Columns, others: Iterable[Columns]) -> Integers:
    """Return the verdict of a row.

    Parameters
    ----------
    nominal : Columns
        Of the nominal channel (...,).
    others : iterable of Columns
        Band edge and worst channel (...,), those that were solved.

    Returns
    -------
    ndarray of int
        Places in ``VERDICTS`` (...,).

    Notes
    -----
    Nominal broken: fail. Nominal kept and another column broken: at risk. Else open where a
    column is unknown or indicative, the nominal's broken one included: a floor, or a correlation
    on a fluid it was not made for, breaks nothing beyond doubt. All kept: pass.
    """
    others = list(others)
    surely = [(one.state == BROKEN) & ~one.indicative for one in (nominal, *others)]
    risk = np.any([np.zeros_like(surely[0]), *surely[1:]], axis=0) & (nominal.state == KEPT)
    doubtful = np.any(
        [(one.state == UNKNOWN) | one.indicative for one in (nominal, *others)], axis=0
    )
    return np.asarray(np.select([surely[0], risk, doubtful], [FAIL, AT_RISK, OPEN], PASS))


def overall(verdicts: Iterable[Verdict | None]) -> Verdict:
    """Return the verdict of a design from those of its rows, None for a row for information.

    Fail, else at risk, else open, else pass; open if nothing was judged.
    """
    codes = [VERDICTS.index(one) for one in verdicts if one is not None]
    return VERDICTS[max(codes, default=OPEN)]
