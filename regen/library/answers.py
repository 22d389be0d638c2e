"""What the functions of the library return: numbers, text, figures and files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib import import_module
from pathlib import Path
from shutil import copytree
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from regen.library.reading import read_table
from regen.library.stations import Stations
from regen.output.table import Table, print_parts
from regen.result import Array, Band, Finding, Margin, Note, Result

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from rich.console import Console

    from regen.case.measured import Sheet
    from regen.case.read import Case
    from regen.output.sweep import Store
    from regen.studies.as_built.study import AsBuilt as AsBuiltStudy
    from regen.studies.size.sized_case import Answer as SizedCase
    from regen.studies.size.study import Sized as Sizes

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

    def print(self, console: Console) -> None:
        """Print the summary on a rich console."""
        print_parts(self.summary(), console)

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
            If there is no such figure, or if it has several panels and ``ax`` is given.
        """
        plates = {plate.name: plate for plate in self._plates()}
        if name not in plates:
            message = f"no figure {name!r}; there are: {', '.join(plates)}"
            raise ValueError(message)
        if ax is None:
            return plates[name].draw()
        from regen.output.figures.profiles import draw_on

        return draw_on(name, ax, self.study)

    def summary(self) -> Iterable[str | Table]:
        """Return verdict, quantities, limits and notes, as the command line prints them."""
        from regen.output.review import summary

        return summary(self.study)

    def print(self, console: Console) -> None:
        """Print the summary on a rich console, the verdict in its colour."""
        from regen.output.review import print_summary

        print_summary(self.study, console)

    def write(self, folder: Path | str, *, report: bool = True) -> list[Path]:
        """Write report.html with its figures, tables and result.json; without ``report`` tables."""
        from regen.output.report import write_review
        from regen.output.review import write

        if report:
            case = self.case
            return write_review(self.study, case.design, case.text, case.changes, Path(folder))
        return write(self.study, Path(folder))

    def _plates(self) -> Iterable[Any]:
        from regen.output.figures.review import plates

        return plates(self.study, self.case.design)

    def __repr__(self) -> str:
        peak = self.quantities["T_wall_hot_max_K"]
        return f"<Review of {self.case.design.title!r}: {self.verdict}, wall to {peak:.0f} K>"


class Sweep(Answer["Store"]):
    """Many designs of one case; ``study`` is the folder that holds their rows."""

    output = "sweep"

    def __init__(self, case: Case, study: Store, lines: list[str]) -> None:
        super().__init__(case, study)
        self._lines = lines

    def summary(self) -> list[str]:
        """Return counts, and the best rows."""
        return self._lines

    @property
    def rows(self) -> dict[str, Array | list[str]]:
        """Columns of the table, a row for each design: arrays of numbers, else lists of texts.

        Raises
        ------
        OutputError
            If the table is Parquet, which other packages read.
        """
        return read_table(self.study.table)

    def to_dataframe(self) -> Any:
        """Return the rows as a pandas DataFrame; needs the extra "notebook"."""
        from pandas import DataFrame

        return DataFrame(self.rows)

    def _write(self, folder: Path) -> list[Path]:
        """Copy the sweep's folder, if it is another one."""
        own = self.study.folder
        if folder.absolute() != own.absolute():
            copytree(own, folder, dirs_exist_ok=True)
        return sorted(path for path in folder.rglob("*") if path.is_file())


class Size(Answer["Sizes"]):
    """Sizes of least pressure drop; ``sized`` is the case with them and its full solve."""

    output = "size"

    def __init__(self, case: Case, study: Sizes, sized: SizedCase | None, seed: int) -> None:
        super().__init__(case, study)
        self.sized, self.seed = sized, seed

    @property
    def accepted(self) -> bool:
        """Whether there is a feasible design, and its full solve meets what was asked."""
        return self.sized is not None and self.sized.good

    def summary(self) -> Iterable[str]:
        """Return the sizes and the active constraints."""
        return self._module.lines(self.study, self.sized)

    def _write(self, folder: Path) -> list[Path]:
        return self._module.write(self.study, self.sized, self.case, self.seed, folder)


class Uncertainty(Answer["UncertaintyStudy"]):
    """Probability of meeting each limit, and what decides it."""

    output = "uncertainty"

    def _write(self, folder: Path) -> list[Path]:
        return self._module.write(self.study, folder)


class Envelope(Answer["EnvelopeStudy"]):
    """Operating points and their limits."""

    output = "envelope"

    def _write(self, folder: Path) -> list[Path]:
        return self._module.write(self.study, folder)


class Closeout(Answer["PlatingPlan"]):
    """The plating plan."""

    output = "closeout"

    @property
    def accepted(self) -> bool:
        """Whether every check of the plan is met."""
        return not self.study.broken

    def summary(self) -> Iterable[str | Table]:
        """Return layers, steps, checks and hours."""
        return self._module.summary(self.study)


class Shop(Answer["ToShop"]):
    """What goes to the shop."""

    output = "shop"

    @property
    def writable(self) -> bool:
        """False where the cutters cannot make the slots, or they are not solved as machined."""
        return self.study.drawn is not None

    @property
    def accepted(self) -> bool:
        """Whether the design is released to the shop."""
        return self.study.released

    def summary(self) -> Iterable[str]:
        """Return release, slots, cutters and tolerances, or why nothing can be written."""
        return self._module.summary(self.study)

    def _write(self, folder: Path) -> list[Path]:
        return self._module.write(self.study, folder)


class AsBuilt(Answer["AsBuiltStudy"]):
    """Slots as measured: use, rework, sleeve or scrap."""

    output = "as_built"

    def __init__(self, case: Case, study: AsBuiltStudy, sheet: Sheet) -> None:
        super().__init__(case, study)
        self.sheet = sheet

    @property
    def accepted(self) -> bool:
        """Whether every slot can be used."""
        return self.study.all_usable

    def _write(self, folder: Path) -> list[Path]:
        return self._module.write(self.study, self.case, self.sheet, folder)


class Alternatives(Answer["AlternativesStudy"]):
    """The same chamber by other processes."""

    output = "alternatives"
