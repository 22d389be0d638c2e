"""Verdicts: what the columns of a row say, and rows together, of one design or of many."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from regen.checks.runs import Compared
from regen.physics import status as st
from regen.result import Array, State, Verdict

KEPT, BROKEN, UNKNOWN, NOT_ASKED = range(4)
STATES: tuple[State, ...] = ("kept", "broken", "unknown")

VERDICTS: tuple[Verdict, ...] = ("pass", "open", "at risk", "fail")
"""From best to worst; their places are the codes below."""
PASS, OPEN, AT_RISK, FAIL = range(4)

WALL_ROWS = frozenset({"hot_wall_temperature", "coolant_wall_temperature"})
STATE_ROWS = WALL_ROWS | {"coolant_temperature", "burnout", "coolant_mach", "injector_pressure"}
"""Rows of temperature and coolant state: those that a run which stopped bears on."""

BREAKS: dict[int, frozenset[str]] = {
    st.BOILED: WALL_ROWS | {"coolant_temperature", "burnout"},
    st.COOLANT_RANGE: WALL_ROWS | {"coolant_temperature"},
    st.GAS_COOLANT: frozenset({"coolant_temperature", "injector_pressure"}),
    st.CHOKED: frozenset({"coolant_mach", "injector_pressure"}),
    st.PRESSURE_LOST: frozenset({"coolant_mach", "injector_pressure"}),
}
"""Rows that each way to stop by physics breaks; other ways leave ``STATE_ROWS`` unknown."""


class Columns(NamedTuple):
    """One column of a row, of one design or of many (...,).

    ``state`` is a place in ``STATES``, or ``NOT_ASKED``; ``margin`` NaN where there is no number
    [-]; ``at`` the governing station, -1 if there is none.
    """

    state: NDArray[np.int64]
    indicative: NDArray[np.bool_]
    margin: Array
    at: NDArray[np.int64]


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


def column(margins: Array, indicative: NDArray[np.bool_] | None = None) -> Columns:
    """Return what the margins of a row say together.

    Parameters
    ----------
    margins : ndarray
        From ``relative`` (..., S) [-].
    indicative : ndarray of bool, optional
        Stations (..., S) whose limit is a floor or an unproved correlation.

    Returns
    -------
    Columns
        (...,). A station that is broken beyond doubt breaks the column, whatever else is not
        known; a column without any demand is kept with a margin of 1.
    """
    doubtful = np.broadcast_to(False if indicative is None else indicative, margins.shape)
    asked, unknown = ~np.isposinf(margins), np.isnan(margins).any(axis=-1)
    with np.errstate(invalid="ignore"):
        below = margins < 0.0
    surely = np.any(below & ~doubtful, axis=-1)
    perhaps = np.any(below & doubtful, axis=-1)
    # the least margin is that of the stations which decide the state
    counted = np.where(surely[..., None] & doubtful, np.nan, margins)
    filled = np.where(np.isnan(counted), np.inf, counted)
    least, at = filled.min(axis=-1), filled.argmin(axis=-1)
    none = ~asked.any(axis=-1)
    state = np.select([surely, unknown, perhaps], [BROKEN, UNKNOWN, BROKEN], KEPT)
    blank = state == UNKNOWN
    return Columns(
        state=state,
        indicative=~surely & ~blank & np.any(asked & doubtful, axis=-1),
        margin=np.where(blank, np.nan, np.where(none, 1.0, least)),
        at=np.where(blank | none, -1, at),
    )


def unknown(shape: tuple[int, ...] = ()) -> Columns:
    """Return a column of which nothing is known."""
    return constant(UNKNOWN, shape)


def constant(state: int, shape: tuple[int, ...] = ()) -> Columns:
    """Return a column of one state without a number."""
    return Columns(
        np.full(shape, state),
        np.zeros(shape, dtype=bool),
        np.full(shape, np.nan),
        np.full(shape, -1),
    )


def together(columns: Sequence[Columns]) -> Columns:
    """Return one column of several: corners of the worst channel, edge and stopped members.

    Parameters
    ----------
    columns : sequence of Columns
        At least one, each (...,).

    Returns
    -------
    Columns
        Broken beyond doubt by any is broken; else unknown by any is unknown; else indicatively
        broken by any is so; else kept. What was not asked for does not count. The
        margin is the least of those that decide.
    """
    state = np.stack([one.state for one in columns])
    indicative = np.stack([one.indicative for one in columns])
    margin = np.stack([one.margin for one in columns])
    broken = state == BROKEN
    surely = np.any(broken & ~indicative, axis=0)
    blank = np.any(state == UNKNOWN, axis=0)
    perhaps = np.any(broken & indicative, axis=0)
    silent = np.all(state == NOT_ASKED, axis=0)
    found = np.select([surely, blank, perhaps, silent], [BROKEN, UNKNOWN, BROKEN, NOT_ASKED], KEPT)
    counted = np.where(surely & (indicative | ~broken), np.nan, margin)
    filled = np.where(np.isnan(counted), np.inf, counted)
    first = np.argmin(filled, axis=0)[None]
    least = np.take_along_axis(filled, first, axis=0)[0]
    at = np.take_along_axis(np.stack([one.at for one in columns]), first, axis=0)[0]
    none = (found == UNKNOWN) | np.isinf(least)
    return Columns(
        state=found,
        indicative=~surely & (found != UNKNOWN) & np.any(indicative, axis=0),
        margin=np.where(none, np.nan, least),
        at=np.where(none, -1, at),
    )


def stopped(name: str, code: int) -> int | None:
    """Return what a run that stopped makes of a row, None if the row does not rest on it.

    Parameters
    ----------
    name : str
        Name of the limit [-].
    code : int
        Status of the run [-].

    Returns
    -------
    int or None
        ``BROKEN`` by physics, ``UNKNOWN`` if it only did not converge.
    """
    if code in BREAKS:
        return BROKEN if name in BREAKS[code] else None
    return UNKNOWN if name in STATE_ROWS else None


def row(nominal: Columns, others: Iterable[Columns]) -> NDArray[np.int64]:
    """Return the verdict of a row.

    Parameters
    ----------
    nominal : Columns
        Of the nominal channel (...,).
    others : iterable of Columns
        Band edge and worst channel (...,), those that were asked for.

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
    every = [nominal, *others]
    doubtful = np.any([(one.state == UNKNOWN) | one.indicative for one in every], axis=0)
    risk = np.any(
        [np.zeros_like(nominal.state, dtype=bool)]
        + [(one.state == BROKEN) & ~one.indicative for one in others],
        axis=0,
    )
    return np.asarray(
        np.select(
            [
                (nominal.state == BROKEN) & ~nominal.indicative,
                (nominal.state == KEPT) & risk,
                doubtful,
            ],
            [FAIL, AT_RISK, OPEN],
            PASS,
        )
    )


def overall(verdicts: Iterable[Verdict | None]) -> Verdict:
    """Return the verdict of a design: fail, else at risk, else open, else pass.

    Parameters
    ----------
    verdicts : iterable of str or None
        Those of its rows; None for a row for information.

    Returns
    -------
    {"pass", "open", "at risk", "fail"}
        Open if nothing was judged.
    """
    codes = [VERDICTS.index(one) for one in verdicts if one is not None]
    return VERDICTS[max(codes, default=OPEN)]
