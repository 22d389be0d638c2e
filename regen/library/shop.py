"""``regen.shop``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from regen.case.read import Case
from regen.library.answer import Answer
from regen.library.closeout import plating_errors
from regen.library.progress import Tell
from regen.output import shop as output
from regen.studies.release.to_shop import ToShop, to_shop


class Shop(Answer):
    """What goes to the shop."""

    study: ToShop

    @property
    def writable(self) -> bool:
        """False where the cutters cannot make the slots, or they are not solved as machined."""
        return self.study.drawn is not None

    @property
    def accepted(self) -> bool:
        """Whether the design is released to the shop."""
        return self.study.released

    def parts(self) -> Iterable[str]:
        """Return release, slots, cutters and tolerances, or why nothing can be written."""
        return output.summary(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write cutting table, drawings, traveller, inspection sheet and shop.json."""
        return output.write(self.study, Path(folder))


def shop(case: Case, *, progress: Tell | None = None) -> Shop:
    """Find what the cutters leave, solve the slots as machined, and plan cutting and plating.

    Parameters
    ----------
    case : Case
        From ``load``; its [shop] names the cutters.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Shop
        Tables, drawings and pages for mill, lathe, bath and inspection; ``writable`` is False
        where the cutters cannot make the slots.

    Raises
    ------
    CaseError
        If a value of [plating] is wrong.
    """
    with plating_errors(case):
        return Shop(case, to_shop(case.design, case_hash=case.hash, progress=progress))
