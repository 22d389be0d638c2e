"""``regen.envelope``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Literal

from regen.case.read import Case
from regen.library.answer import Answer
from regen.library.progress import Clock, Tell, silent
from regen.output import envelope as output
from regen.studies.envelope.axes import axes_of
from regen.studies.envelope.operation import Following
from regen.studies.envelope.study import Envelope as EnvelopeStudy
from regen.studies.envelope.study import envelope as solve_points


class Envelope(Answer):
    """Operating points and their limits."""

    study: EnvelopeStudy

    def parts(self) -> Iterable[str]:
        """Return what limits where, and the throttle range."""
        return output.lines(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write envelope.csv, figures and envelope.json."""
        return output.write(self.study, Path(folder))


def envelope(
    case: Case,
    *,
    chamber_pressure: str | None = None,
    mixture_ratio: str | None = None,
    inlet_temperature: str | None = None,
    inlet_pressure: str | None = None,
    feed_pressure: Literal["proportional", "constant"] = "proportional",
    coolant_flow: Literal["proportional", "constant"] = "proportional",
    progress: Tell | None = None,
) -> Envelope:
    """Map the operating envelope: which limit holds where.

    Parameters
    ----------
    case : Case
        From ``load``.
    chamber_pressure, mixture_ratio, inlet_temperature, inlet_pressure : str, optional
        Ranges "start:stop:n:unit" or "start%:stop%:n"; with fewer than two, chamber pressure and
        mixture ratio join.
    feed_pressure, coolant_flow : {"proportional", "constant"}
        Whether they follow the chamber.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Envelope
        Points, solved and judged.

    Raises
    ------
    CaseError
        If a range is wrong.
    """
    given = {
        "chamber_pressure": chamber_pressure,
        "mixture_ratio": mixture_ratio,
        "inlet_temperature": inlet_temperature,
        "inlet_pressure": inlet_pressure,
    }
    axes = axes_of(given, case.design)
    following = Following(feed_pressure, coolant_flow)
    clock = Clock("operating points", progress or silent)
    solved = solve_points(case.design, axes, following, case_hash=case.hash, progress=clock)
    return Envelope(case, solved)
