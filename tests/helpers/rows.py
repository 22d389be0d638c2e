"""Rows of margins made by hand."""

from regen.result import COLUMN_NAMES, Column


def columns(*margins, indicative=()):
    """Return the columns of a row by their margins; None is unknown, none is not asked for."""
    return {
        name: Column(
            "unknown" if margin is None else "broken" if margin < 0.0 else "kept",
            margin,
            name in indicative,
        )
        for name, margin in zip(COLUMN_NAMES[: len(margins)], margins, strict=True)
    }
