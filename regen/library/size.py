"""``regen.size``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from regen.case.read import Case
from regen.library.answer import Answer
from regen.library.progress import COMPILES, Tell, cores, silent
from regen.output import size as output
from regen.studies.size.sized_case import Answer as SizedCase
from regen.studies.size.sized_case import answer, check_files
from regen.studies.size.study import Sized
from regen.studies.size.study import size as search


class Size(Answer):
    """Sizes of least pressure drop; ``sized`` is the case with them and its full solve, if any."""

    study: Sized

    def __init__(self, case: Case, study: Sized, sized: SizedCase | None, seed: int) -> None:
        super().__init__(case, study)
        self.sized, self.seed = sized, seed

    @property
    def accepted(self) -> bool:
        """Whether there is a feasible design, and its full solve meets what was asked."""
        return self.sized is not None and self.sized.good

    def parts(self) -> Iterable[str]:
        """Return the sizes and the active constraints."""
        return output.lines(self.study, self.sized)

    def write(self, folder: Path | str) -> list[Path]:
        """Write sized.toml, a figure and size.json."""
        return output.write(self.study, self.sized, self.case, self.seed, Path(folder))


def size(
    case: Case, *, seed: int = 0, threads: int | None = None, progress: Tell | None = None
) -> Size:
    """Size slots, hot wall and coolant flow for the least pressure drop under every limit.

    Parameters
    ----------
    case : Case
        From ``load``; its [sizing] says what is free.
    seed : int
        The same seed finds the same sizes [-].
    threads : int, optional
        Threads; all cores without it. Numbers stay the same [-].
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Size
        Its ``sized`` is the case with the sizes, solved in full; None if nothing is feasible.

    Raises
    ------
    CaseError, RangeError
        If the case cannot be sized.
    """
    tell, workers = progress or silent, threads or cores()
    check_files(case)
    tell(COMPILES)
    sizes = search(case.design, threads=workers, seed=seed, progress=tell)
    sized = None
    if sizes.feasible:
        tell("full solve of the sized case")
        sized = answer(sizes, case, threads=workers)
    return Size(case, sizes, sized, seed)
