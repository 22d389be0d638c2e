"""Files of a sizing: the sized case, its figure, and size.json."""

from __future__ import annotations

import math
from dataclasses import asdict
from pathlib import Path, PurePath
from typing import Any

from regen.case.read import Case
from regen.checks.review import PACKAGES
from regen.output.files import Drawn, publish
from regen.output.sizing_words import constraint_name, lines, size_name
from regen.storage.cache import made_with
from regen.studies.size.sized_case import Answer
from regen.studies.size.study import Sized

SCHEMA = 1
INDEX = "size.json"
CASE = "sized.toml"


def size_object(
    sized: Sized, answer: Answer | None, case: Case, seed: int, files: dict[str, str]
) -> dict[str, Any]:
    """Return what size.json holds.

    Parameters
    ----------
    sized : Sized
        Outcome of the search.
    answer : Answer or None
        The sized case and its proof.
    case : Case
        What was sized.
    seed : int
        Of the screen [-].
    files : dict
        SHA-256 of each sibling file by name.

    Returns
    -------
    dict
        JSON-serialisable; null where there is no number.
    """
    sizing = sized.space.base.sizing
    good = answer is not None and answer.good
    return {
        "schema": SCHEMA,
        "title": case.design.title,
        "feasible": good,
        "minimise": sizing.minimise,
        "held_at": sizing.held_at,
        "margin": sizing.margin,
        "objective": _number(sized.objective),
        "objective_of_the_case": _number(sized.own_objective),
        "sizes": [
            {
                "key": variable.parameter.name,
                "size": size_name(sized, variable),
                "column": variable.parameter.column,
                "case": _number(before),
                "sized": _number(after),
                "low": variable.low,
                "high": variable.high,
            }
            for variable, before, after in zip(
                sized.space.variables, sized.own, sized.values, strict=True
            )
        ],
        "active": [
            {"constraint": constraint_name(c), **asdict(c), "left": value}
            for c, value in sized.active
            if (c.limit, c.run) not in sized.unknown
        ],
        "not_evaluated": [{"limit": limit, "run": run} for limit, run in sorted(sized.unknown)],
        "at_bounds": [
            {"key": name, "bound": which, "value": bound} for name, which, bound in sized.at_bounds
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
        "files": files,
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def write_size(
    sized: Sized,
    answer: Answer | None,
    case: Case,
    seed: int,
    folder: Path,
    figures: Drawn | None = None,
) -> list[Path]:
    """Write the sized case with the files it refers to, the figure, and size.json last.

    Parameters
    ----------
    sized : Sized
        Outcome of the search.
    answer : Answer or None
        The sized case and its proof; no case is written where it does not keep every limit.
    case : Case
        What was sized.
    seed : int
        Of the screen [-].
    folder : Path
        Output folder, made if it is absent.
    figures : Drawn, optional
        Figures by path within the folder.

    Returns
    -------
    list of Path
        Files written, size.json last.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    contents: dict[str, bytes] = dict(figures or {})
    if answer is not None and answer.good:
        contents[CASE] = answer.case.text.encode()
        files = answer.case.files  # a depth from a table has become pairs
        contents |= {name: data for name, data in files.items() if not PurePath(name).is_absolute()}
    return publish(
        folder,
        contents,
        INDEX,
        lambda files: size_object(sized, answer, case, seed, files),
        figures.not_drawn if figures is not None else (),
    )
