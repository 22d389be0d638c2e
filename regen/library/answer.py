"""What every function of the library returns: numbers, text, figures and files."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from regen.case.read import Case
from regen.output.table import Table, print_parts

if TYPE_CHECKING:
    from rich.console import Console


class Answer:
    """The answer to one question about a case; ``study`` holds all its numbers in SI."""

    def __init__(self, case: Case, study: Any) -> None:
        self.case, self.study = case, study

    @property
    def accepted(self) -> bool:
        """False where the command line exits with 3: a limit not met, nothing feasible."""
        return True

    def parts(self) -> Iterable[str | Table]:
        """Return what the command line prints: texts and tables."""
        raise NotImplementedError

    def write(self, folder: Path | str) -> list[Path]:
        """Write tables, pages and figures into a folder.

        Parameters
        ----------
        folder : Path or str
            Made if it is absent.

        Returns
        -------
        list of Path
            Files written, the index last.

        Raises
        ------
        OutputError
            If the folder cannot be written; what it held is untouched.
        """
        raise NotImplementedError

    def print(self, console: Console) -> None:
        """Print the parts on a rich console, long lines as they are."""
        print_parts(self.parts(), console, soft_wrap=True)

    def __repr__(self) -> str:
        return f"<{type(self).__name__} of {self.case.design.title!r}>"

    def _repr_html_(self) -> str:
        from regen.output.page import html_of

        return "".join(html_of(part) for part in self.parts())
