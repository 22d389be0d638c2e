"""What the commands of the library return: numbers, text, figures and files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from regen.library.stations import Stations

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from regen.case.read import Case
    from regen.result import Band, Finding, Margin, Note, Result
    from regen.studies.alternatives.study import Alternatives
    from regen.studies.as_built.study import AsBuilt
    from regen.studies.envelope.study import Envelope

Study = TypeVar("Study")


class Answer(Generic[Study]):
    """The answer of one command: ``study`` has its numbers in SI.

    ``accepted`` is False where the command line would exit with 3.
    """

    output: ClassVar[str]
    """Module of regen.output that shows and writes it."""

    def __init__(self, case: Case, study: Study, *more: Any) -> None:
        self.case, self.study, self._more = case, study, more

    @property
    def accepted(self) -> bool:
        """Whether the answer is one to go on with."""
        return True

    def lines(self) -> list[str]:
        """Return the answer as the command line prints it."""
        lines: list[str] = self._module.lines(self.study)
        return lines

    def write(self, folder: Path | str) -> list[Path]:
        """Write tables, pages and figures into a folder; return the files, the index last.

        Raises
        ------
        OutputError
            If the folder cannot be written; what it held is untouched.
        """
        written: list[Path] = self._module.write(self.study, self.case, *self._more, Path(folder))
        return written

    @property
    def _module(self) -> Any:
        return import_module(f"regen.output.{self.output}")

    def __repr__(self) -> str:
        return f"<{type(self).__name__} of {self.case.design.title!r}>"

    def _repr_html_(self) -> str:
        from markupsafe import Markup

        return Markup("<pre>{}</pre>").format("\n".join(self.lines()))
