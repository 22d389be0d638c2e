"""What is said of a sweep: how many rows, what stopped some, and the best of them."""

from __future__ import annotations

from typing import Any

from regen.checks.verdict import VERDICTS
from regen.output import words
from regen.output.sweep_digest import DROP, WALL, Digest

HEADLINE = {quantity.key: quantity for quantity in words.HEADLINE}

WHO_JUDGED = {
    "nominal": "nominal channel alone: neither band nor worst channel was judged",
    "worst": "nominal and worst channel: the band was not judged",
    "full": "nominal channel, band edge and worst channel",
}


def lines(digest: Digest) -> list[str]:
    """Return what is said of a sweep, line by line.

    Parameters
    ----------
    digest : Digest
        The sweep in short.

    Returns
    -------
    list of str
        Counts, then the best rows.
    """
    said = [
        f"{digest.rows} rows: {digest.solved} solved; the nominal channel keeps every limit in "
        f"{digest.kept}"
    ]
    stopped = [(count, name) for name, count in digest.status.items() if name != "solved"]
    if stopped:
        causes = ", ".join(f"{name} {count}" for count, name in sorted(stopped, reverse=True))
        said.append(f"not solved: {causes}")
    if digest.verdicts:
        counts = ", ".join(f"{name} {count}" for name, count in sorted(digest.verdicts.items()))
        said.append(f"verdict: {counts} ({WHO_JUDGED[digest.judged]})")
    verdict = best_verdict(digest)
    if verdict is None:
        return [*said, "no row keeps every limit"]
    best, refused = digest.best.get(verdict, {}), digest.refused.get(verdict, {})
    said.append(f"of those with verdict {verdict}:")
    for label, name in (("least pressure drop:", DROP), ("coolest wall:", WALL)):
        row = row_words(digest, best[name]) if name in best else "none is named"
        said.append(f"  {label:20} {row}")
        if name in refused:
            count, first, why = refused[name]
            said.append(
                f"    {count} before it cannot be cut by the shop as drawn; row {first}: {why}"
            )
    return said


def best_verdict(digest: Digest) -> str | None:
    """Return the best verdict of the rows whose nominal channel keeps every limit, if any."""
    named = {*digest.best, *digest.refused}
    return next((verdict for verdict in VERDICTS if verdict in named), None)


def row_words(digest: Digest, row: dict[str, Any]) -> str:
    """Return one row in words: its keys, pressure drop and wall temperature."""
    keys = ", ".join(f"{key.path} {key.say(row[key.column])}" for key in digest.plan.parameters)
    drop, wall = (f"{HEADLINE[k].say(row[k])} {HEADLINE[k].unit}" for k in (DROP, WALL))
    return f"row {int(row['row'])}, {keys}: {drop}, wall {wall}"


def told(digest: Digest) -> dict[str, Any]:
    """Return what sweep.json says of the rows.

    Parameters
    ----------
    digest : Digest
        The sweep in short.

    Returns
    -------
    dict
        JSON-serialisable.
    """
    verdict = best_verdict(digest)
    found = digest.best.get(verdict, {}) if verdict else {}
    names = {"least_pressure_drop": DROP, "coolest_wall": WALL}
    best = {name: found[column] for name, column in names.items() if column in found}
    return {
        "rows": digest.rows,
        "status": dict(sorted(digest.status.items())),
        "verdicts": dict(sorted(digest.verdicts.items())),
        "keep_every_limit": digest.kept,
        "limits": {name: {"informative": name in digest.informative} for name in digest.limits},
        "best": {
            name: {"row": int(row["row"]), "verdict": verdict, **_numbers(digest, row)}
            for name, row in best.items()
        },
        "summary": lines(digest),
    }


def _numbers(digest: Digest, row: dict[str, Any]) -> dict[str, float]:
    return {
        name: float(row[name]) for name in (*(k.column for k in digest.plan.parameters), DROP, WALL)
    }
