"""Alternatives of a case in words: what a terminal and a page say of them."""

from __future__ import annotations

from regen.output.sheet import aligned
from regen.output.words import firings, percent, rounded, spoken
from regen.result import Result
from regen.sources import MARKS
from regen.studies.alternatives.processes import TUBES, processes
from regen.studies.alternatives.study import LIVES, Alternatives, Row

HEAD = (
    *("", "route", "hot wall", "worst", "pressure drop", "least margin"),
    *("life", "mass", "hours", "verdict"),
)
UNITS = ("", "", "K", "K", "bar", "nominal", "firings", "kg", "", "")


def lines(found: Alternatives) -> list[str]:
    """Return what a terminal says.

    Parameters
    ----------
    found : Alternatives
        Solved rows.

    Returns
    -------
    list of str
        Lines.
    """
    said = []
    for row in found.rows:
        texts = remarks(row)
        if texts:
            said += ["", f"{row.name}:", *(f"  {text}" for text in texts)]
    table = aligned(HEAD, [UNITS, *map(cells, found.rows)], texts=2)
    return [f"{found.title}: by other routes", "", *table, *said, "", TUBES]


def cells(row: Row) -> tuple[str, ...]:
    """Return the texts of one row, in the order of ``HEAD``."""
    result = row.result
    route = row.route if row.origin != "starting point" else f"{row.route}, starting point"
    if result is None:
        return (row.name, route, "-", "-", "-", "-", "-", "-", hours(row), "not solved")
    worst = result.worst_channel.get("T_wall_hot_max_K")
    more = " or more" if result.worst_channel.get("corners_not_solved") else ""
    return (
        row.name,
        route,
        rounded(result.summary["T_wall_hot_max_K"], 1.0),
        "-" if worst is None else rounded(worst, 1.0) + more,
        rounded(result.summary["coolant_pressure_drop_Pa"] * 1e-5, 0.1),
        least(result),
        lived(row),
        rounded(result.summary["mass_cooled_kg"], 0.01),
        hours(row),
        result.verdict,
    )


def least(result: Result) -> str:
    """Return the limit with the least nominal margin and that margin, in words."""
    known = [(m.nominal, m.name) for m in result.margins if m.nominal is not None]
    deciding = {m.name for m in result.margins if not m.informative}
    margin, name = min(pair for pair in known if pair[1] in deciding)
    return f"{spoken(name)} {percent(margin)}"


def lived(row: Row) -> str:
    """Return the life of a row: conservative, and optimistic in brackets."""
    known = {name: found.value for name, found in row.lives.items()}
    return firings(*(known.get(name) for name in LIVES))


def hours(row: Row) -> str:
    """Return the hours in the bath, or of the route's own step; a dash where none are known."""
    if row.plan is not None:
        return f"{row.plan.on_time / 3600.0:.0f}"
    known = processes()[row.route].hours
    return "-" if known is None else f"{known.low:g}-{known.high:g}"


def remarks(row: Row) -> list[str]:
    """Return what must be known of one row: what differs, what it cannot be, what is missing."""
    said = []
    if row.values:
        said.append(f"differs: {changed(row)}")
    if row.origin == "starting point" and processes()[row.route].caution:
        said.append(processes()[row.route].caution)
    if row.reason:
        said.append(row.reason)
    said += [f"beyond the route: {text}" for text in row.out_of_reach]
    if row.bond:
        said.append(row.bond)
    said += [f"life: {f.note}" for f in list(row.lives.values())[:1] if f.value is not None]
    said += _time(row)
    return said + [f"not assessed: {text}" for text in row.not_assessed]


def _time(row: Row) -> list[str]:
    """Return what the hours of a row are."""
    if row.plan is not None:
        on, whole = row.plan.on_time / 3600.0, row.plan.calendar_time / 3600.0
        low, high = (time / 86400.0 for time in row.plan.calendar_range)
        text = (
            f"{on:.0f} h with current, {whole:.0f} h with all turnings; a calendar of {low:.0f} to "
            f"{high:.0f} days is usual"
        )
        return [text]
    known = processes()[row.route].hours
    if known is None:
        return []
    mark = MARKS[known.mark]
    text = f"{known.low:g} to {known.high:g} h {known.text}" + (f" ({mark})" if mark else "")
    return [f"{text}; preparation, machining and tests are not in it"]


def changed(row: Row) -> str:
    """Return what a row changes in the case, in words; keys that were taken out are left out."""
    given = {key: value for key, value in row.values.items() if value not in (None, [])}
    return ", ".join(f"{key} = {_value(value)}" for key, value in given.items())


def _value(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(map(_value, value))
    return f'"{value}"' if isinstance(value, str) else str(value)
