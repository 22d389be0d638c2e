"""One check of the plating plan: a value against its limit, or why there is none."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from regen.sources import read_data

_FILE = read_data("plating_checks.toml")

Kind = Literal["max", "min"]
Verdict = Literal["kept", "broken", "not checked", "watch", "told"]


@dataclass(frozen=True, slots=True)
class Check:
    """A value [SI unit] with its limit and verdict.

    "watch" is outside usual practice, "told" a value without a limit; only "broken" stops a plan.
    """

    name: str
    """Unique in its plan, lower case with underscores."""
    text: str
    verdict: Verdict
    source: str
    """Key in data/sources.toml."""
    value: float | None = None
    limit: float | None = None
    kind: Kind = "max"
    unit: str = ""
    x_m: float | None = None
    note: str = ""


def note(key: str, **values: object) -> str:
    """Return a note of data/plating_checks.toml, its values filled in."""
    text: str = _FILE["notes"][key]
    return text.format(**values)


def judged(value: float, limit: float, kind: Kind) -> Verdict:
    """Return "kept" or "broken"; rounding of the last digits does not break a limit."""
    slack = 1e-9 * abs(limit)
    good = value <= limit + slack if kind == "max" else value >= limit - slack
    return "kept" if good else "broken"


def check(
    key: str,
    value: float | None = None,
    limit: float | None = None,
    *,
    x_m: float | None = None,
    notes: Sequence[str] = (),
    verdict: Verdict | None = None,
    source: str = "",
    kind: Kind | None = None,
    **values: object,
) -> Check:
    """Return the check of a key in data/plating_checks.toml, "not checked" without value or limit.

    ``verdict``, ``source`` and ``kind`` go before those of the file, ``values`` fill in its texts.
    """
    entry = _FILE[key]
    kind = kind or entry.get("kind", "max")
    remarks = [*notes, entry.get("note", "")]
    if verdict is None and value is not None and limit is not None:
        verdict = judged(value, limit, kind)
        if verdict == "broken":
            verdict = entry.get("worst", verdict)
            remarks.append(entry.get("remedy", "").format(**values))
    compared = value is not None or limit is not None
    return Check(
        name=entry.get("name", key).format(**values),
        text=entry["text"].format(**values),
        verdict=verdict or "not checked",
        source=source or entry["source"],
        value=None if value is None else float(value),
        limit=None if limit is None else float(limit),
        kind=kind if compared else "max",
        unit=entry.get("unit", "") if compared else "",
        x_m=None if x_m is None else float(x_m),
        note="; ".join(filter(None, remarks)),
    )
