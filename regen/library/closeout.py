"""``regen.closeout``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from regen.case.read import Case
from regen.checks.review import review
from regen.errors import CaseError, Problem
from regen.library.answer import Answer
from regen.library.progress import Tell
from regen.output import closeout as output
from regen.output.table import Table, print_parts
from regen.shop.plating.plan import PlatingPlan, plan_plating
from regen.shop.plating.values import PlanError, values_of

if TYPE_CHECKING:
    from rich.console import Console


class Closeout(Answer):
    """The plating plan."""

    study: PlatingPlan

    @property
    def accepted(self) -> bool:
        """Whether every check of the plan is met."""
        return not self.study.broken

    def parts(self) -> Iterable[str | Table]:
        """Return layers, steps, checks and hours."""
        return output.summary(self.study)

    def print(self, console: Console) -> None:
        """Print the parts on a rich console, long lines folded."""
        print_parts(self.parts(), console)

    def write(self, folder: Path | str) -> list[Path]:
        """Write plating_sheet.html, plating.csv, a figure and plating.json."""
        return output.write(self.study, self.case, Path(folder))


def closeout(case: Case, *, progress: Tell | None = None) -> Closeout:
    """Plan how the slots are closed in the bath: copper, then nickel.

    Parameters
    ----------
    case : Case
        From ``load``.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Closeout
        Layers, steps, hours, checks.

    Raises
    ------
    CaseError
        If the case does not plate its jacket, or a value of [plating] is wrong.
    MarchError
        If the nominal channel is not solved.
    """
    with plating_errors(case):
        values_of(case.design)
        result = review(case.design, case_hash=case.hash, progress=progress)
        return Closeout(case, plan_plating(case.design, result))


@contextmanager
def plating_errors(case: Case) -> Iterator[None]:
    """Turn an error of the plan into one of the case."""
    try:
        yield
    except PlanError as error:
        raise CaseError(str(case.path), [Problem(error.key, str(error))]) from None
