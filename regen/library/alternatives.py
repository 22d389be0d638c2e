"""``regen.alternatives``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from regen.case.read import Case
from regen.library.answer import Answer
from regen.library.progress import Tell
from regen.output import alternatives as output
from regen.studies.alternatives.study import Alternatives as AlternativesStudy
from regen.studies.alternatives.study import compare


class Alternatives(Answer):
    """The same chamber by other processes."""

    study: AlternativesStudy

    def parts(self) -> Iterable[str]:
        """Return the rows, and what is not assessed."""
        return output.lines(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write alternatives.csv, a page, a figure and alternatives.json."""
        return output.write(self.study, self.case, Path(folder))


def alternatives(
    case: Case, processes: Sequence[str] = (), *, progress: Tell | None = None
) -> Alternatives:
    """Solve the same chamber by other processes.

    Parameters
    ----------
    case : Case
        From ``load``; its [alternatives] may name more.
    processes : sequence of str
        Of "electroformed", "HIP-bonded", "brazed" and "printed"; all if empty.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Alternatives
        A row for each.

    Raises
    ------
    CaseError
        If an alternative is wrong.
    """
    return Alternatives(case, compare(case, processes, progress=progress))
