"""What the functions of the library return: numbers, text, figures and files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from regen.library.stations import Stations
from regen.output.table import Table
from regen.result import Band, Finding, Margin, Note, Result

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from regen.case.measured import Sheet
    from regen.case.read import Case
    from regen.output.sweep import Store
    from regen.shop.plating.plan import PlatingPlan
    from regen.studies.alternatives.study import Alternatives as AlternativesStudy
    from regen.studies.as_built.study import AsBuilt as AsBuiltStudy
    from regen.studies.envelope.study import Envelope as EnvelopeStudy
    from regen.studies.release.to_shop import ToShop
    from regen.studies.size.sized_case import Answer as SizedCase
    from regen.studies.size.study import Sized as Sizes
    from regen.studies.uncertainty.study import Uncertainty as UncertaintyStudy

Study = TypeVar("Study")


class Answer(Generic[Study]):
    """The answer to one question about a case; ``study`` holds all its numbers in SI."""

    output: ClassVar[str]
    """Module of regen.output that shows and writes it."""

    def __init__(self, case: Case, study: Study) -> None:
        self.case, self.study = case, study

    @property
    def accepted(self) -> bool:
        """False where the command line exits with 3: a limit not met, nothing feasible."""
        return True

    def summary(self) -> Iterable[str | Table]:
        """Return what the command line prints: texts and tables."""
        lines: list[str] = self._module.lines(self.study)
        return lines

    def write(self, folder: Path | str) -> list[Path]:
        """Write tables, pages and figures into a folder; return the files, the index last.

        Raises
        ------
        OutputError
            If the folder cannot be written; what it held is untouched.
        """
        return self._write(Path(folder))

    def _write(self, folder: Path) -> list[Path]:
        written: list[Path] = self._module.write(self.study, self.case, folder)
        return written

    @property
    def _module(self) -> Any:
        return import_module(f"regen.output.{self.output}")

    def __repr__(self) -> str:
        return f"<{type(self).__name__} of {self.case.design.title!r}>"

    def _repr_html_(self) -> str:
        from regen.output.page import html_of

        return "".join(html_of(part) for part in self.summary())


class Review(Answer[Result]):
    """A solved and judged design; ``study`` is its ``Result``."""

    output = "review"

    @property
    def accepted(self) -> bool:
        """Whether the nominal channel is shown to meet every limit."""
        return self.study.nominal_kept

    @property
    def verdict(self) -> str:
        """The word for the whole design: pass, open, at risk or fail."""
        return self.study.verdict

    @property
    def quantities(self) -> Mapping[str, float]:
        """Peaks, totals and operating point by key, as in result.json [SI]."""
        return self.study.summary

    @property
    def bands(self) -> Mapping[str, Band]:
        """Envelope over the correlations, by key."""
        return self.study.bands

    @property
    def worst_channel(self) -> Mapping[str, float]:
        """Quantities of the worst channel, by key [SI]; empty if it was not solved."""
        return self.study.worst_channel

    @property
    def margins(self) -> tuple[Margin, ...]:
        """Rows of the limits."""
        return self.study.margins

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Numbers of the strength, life and start checks beside the limits."""
        return self.study.findings

    @property
    def notes(self) -> tuple[Note, ...]:
        """What a reviewer must know."""
        return self.study.notes

    @property
    def stations(self) -> Stations:
        """Columns along x of the nominal channel."""
        return Stations(self.study.stations)

    @property
    def figures(self) -> tuple[str, ...]:
        """Names that ``plot`` takes."""
        return tuple(plate.name for plate in self._plates())

    def plot(self, name: str = "temperatures", ax: Axes | None = None) -> Figure:
        """Draw one figure of the report, or its curves into axes of your own.

        Raises
        ------
        ValueError
            If there is no such figure, or if it has more than one pair of axes and ``ax`` is given.
        """
        from regen.output.figures.style import figure_of

        plates = {plate.name: plate for plate in self._plates()}
        if name not in plates:
            message = f"no figure {name!r}; there are: {', '.join(plates)}"
            raise ValueError(message)
        return figure_of(plates[name].draw, ax)

    def summary(self) -> Iterable[str | Table]:
        """Return verdict, quantities, limits and notes, as the command line prints them."""
        from regen.output.review import summary

        return summary(self.study)

    def write(self, folder: Path | str, *, report: bool = True) -> list[Path]:
        """Write report.html with its figures, tables and result.json; without ``report`` tables."""
        from regen.output.report import write_review
        from regen.output.review import write

        if report:
            return write_review(self.study, self.case, Path(folder))
        return write(self.study, Path(folder))

    def _plates(self) -> Iterable[Any]:
        from regen.output.figures.review import plates

        return plates(self.study, self.case.design)

    def __repr__(self) -> str:
        peak = self.quantities["T_wall_hot_max_K"]
        return f"<Review of {self.case.design.title!r}: {self.verdict}, wall to {peak:.0f} K>"


class Sweep(Answer["SweepPlan"]):
