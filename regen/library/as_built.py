"""``regen.as_built``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from regen.case.measured import read_measured
from regen.case.read import Case
from regen.library.answer import Answer
from regen.library.progress import Tell
from regen.output import as_built as output
from regen.studies.as_built.study import AsBuilt as AsBuiltStudy
from regen.studies.as_built.study import as_built as solve_slots


class AsBuilt(Answer):
    """Slots as measured: use, rework, sleeve or scrap."""

    study: AsBuiltStudy

    @property
    def accepted(self) -> bool:
        """Whether every slot can be used."""
        return self.study.all_usable

    def parts(self) -> Iterable[str]:
        """Return the slots, the worst first."""
        return output.lines(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write as_built.csv, a page, a figure and as_built.json."""
        return output.write(self.study, self.case, Path(folder))


def as_built(case: Case, measured: Path | str, *, progress: Tell | None = None) -> AsBuilt:
    """Solve measured slots as they are: use, rework, sleeve or scrap.

    Parameters
    ----------
    case : Case
        From ``load``.
    measured : Path or str
        CSV with the header "slot, x [mm], width [mm], depth [mm], wall [mm]".
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    AsBuilt
        Slots, the worst first.

    Raises
    ------
    CaseError
        If the table is wrong.
    MarchError
        If the slots as drawn are not solved.
    """
    sheet = read_measured(Path(measured), case.design.channels.count)
    solved = solve_slots(case.design, sheet, case_hash=case.hash, progress=progress)
    return AsBuilt(case, solved)
