"""What the functions of the library return: numbers, text, figures and files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from shutil import copytree
from typing import TYPE_CHECKING, Any

from regen.library.reading import read_table
from regen.library.stations import Stations
from regen.output.table import Table, print_parts
from regen.result import Array, Band, Finding, Margin, Note, Result

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from rich.console import Console

    from regen.case.read import Case
    from regen.output.figures.review import Plate
    from regen.output.sweep import Store
    from regen.shop.plating.plan import PlatingPlan
    from regen.studies.alternatives.study import Alternatives as AlternativesStudy
    from regen.studies.as_built.study import AsBuilt as AsBuiltStudy
    from regen.studies.envelope.study import Envelope as EnvelopeStudy
    from regen.studies.release.to_shop import ToShop
    from regen.studies.size.sized_case import Answer as SizedCase
    from regen.studies.size.study import Sized
    from regen.studies.uncertainty.study import Uncertainty as UncertaintyStudy


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


class Review(Answer):
    """A solved and judged design; ``study`` is its ``Result``."""

    study: Result

    @property
    def accepted(self) -> bool:
        """Whether the nominal channel is shown to meet every limit."""
        return self.study.nominal_kept

    @property
    def verdict(self) -> str:
        """The word for the whole design: pass, open, at risk or fail."""
        return self.study.verdict

    @property
    def summary(self) -> Mapping[str, float]:
        """Peaks, totals and operating point by key, as in result.json [SI]."""
        return self.study.summary

    @property
    def bands(self) -> Mapping[str, Band]:
        """Envelope over the correlations, by key."""
        return self.study.bands

    @property
    def worst_channel(self) -> Mapping[str, float]:
        """Quantities of the worst channel by key [SI]; empty if it was not solved."""
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
        """Draw a figure of the report, or the main panel of one into axes of your own.

        Parameters
        ----------
        name : str
            One of ``figures``.
        ax : Axes, optional
            Taken by "temperatures" and "heat_flux"; x in mm.

        Returns
        -------
        Figure
            To be shown or saved.

        Raises
        ------
        ValueError
            If there is no such figure, or ``ax`` is given for one that has no main panel.
        """
        from regen.output.figures.profiles import draw_on

        plates = {plate.name: plate for plate in self._plates()}
        if name not in plates:
            message = f"no figure {name!r}; there are: {', '.join(plates)}"
            raise ValueError(message)
        return plates[name].draw() if ax is None else draw_on(name, ax, self.study)

    def parts(self) -> Iterable[str | Table]:
        """Return verdict, quantities, limits and notes."""
        from regen.output.review import summary

        return summary(self.study)

    def print(self, console: Console) -> None:
        """Print the parts on a rich console, the verdict in its colour."""
        from regen.output.review import print_summary

        print_summary(self.study, console)

    def write(self, folder: Path | str, *, report: bool = True) -> list[Path]:
        """Write report.html with its figures, tables and result.json; tables alone on request."""
        case, folder = self.case, Path(folder)
        if not report:
            from regen.output.review import write

            return write(self.study, folder)
        from regen.output.report import write_review

        return write_review(self.study, case.design, case.text, case.changes, folder)

    def _plates(self) -> Iterable[Plate]:
        from regen.output.figures.review import plates

        return plates(self.study, self.case.design)

    def __repr__(self) -> str:
        peak = self.summary["T_wall_hot_max_K"]
        return f"<Review of {self.case.design.title!r}: {self.verdict}, wall to {peak:.0f} K>"


class Sweep(Answer):
    """Many designs of one case; ``study`` is the folder that holds their rows."""

    study: Store

    def __init__(self, case: Case, study: Store, lines: list[str]) -> None:
        super().__init__(case, study)
        self._lines = lines

    @property
    def rows(self) -> dict[str, Array | list[str]]:
        """Columns of the table (designs,) [SI]: arrays of numbers, else lists of texts."""
        return read_table(self.study.table)

    def to_dataframe(self) -> Any:
        """Return the rows as a pandas DataFrame; needs the extra "notebook"."""
        from pandas import DataFrame

        return DataFrame(self.rows)

    def parts(self) -> Iterable[str]:
        """Return counts, and the best rows."""
        return self._lines

    def write(self, folder: Path | str) -> list[Path]:
        """Copy the sweep's folder, if this is another; return its files, the index last."""
        folder, own = Path(folder), self.study.folder
        if folder.absolute() != own.absolute():
            copytree(own, folder, dirs_exist_ok=True)
        files = [path for path in sorted(folder.rglob("*")) if path.is_file()]
        return sorted(files, key=lambda path: path.name == "sweep.json")


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
        from regen.output.size import lines

        return lines(self.study, self.sized)

    def write(self, folder: Path | str) -> list[Path]:
        """Write sized.toml, a figure and size.json."""
        from regen.output.size import write

        return write(self.study, self.sized, self.case, self.seed, Path(folder))


class Uncertainty(Answer):
    """Probability of meeting each limit, and what decides it."""

    study: UncertaintyStudy

    def parts(self) -> Iterable[str]:
        """Return probabilities, quantiles and the ranking of the inputs."""
        from regen.output.uncertainty import lines

        return lines(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write samples.csv, figures and uncertainty.json."""
        from regen.output.uncertainty import write

        return write(self.study, Path(folder))


class Envelope(Answer):
    """Operating points and their limits."""

    study: EnvelopeStudy

    def parts(self) -> Iterable[str]:
        """Return what limits where, and the throttle range."""
        from regen.output.envelope import lines

        return lines(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write envelope.csv, figures and envelope.json."""
        from regen.output.envelope import write

        return write(self.study, Path(folder))


class Closeout(Answer):
    """The plating plan."""

    study: PlatingPlan

    @property
    def accepted(self) -> bool:
        """Whether every check of the plan is met."""
        return not self.study.broken

    def parts(self) -> Iterable[str | Table]:
        """Return layers, steps, checks and hours."""
        from regen.output.closeout import summary

        return summary(self.study)

    def print(self, console: Console) -> None:
        """Print the parts on a rich console, long lines folded."""
        print_parts(self.parts(), console)

    def write(self, folder: Path | str) -> list[Path]:
        """Write plating_sheet.html, plating.csv, a figure and plating.json."""
        from regen.output.closeout import write

        return write(self.study, self.case, Path(folder))


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
        from regen.output.shop import summary

        return summary(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write cutting table, drawings, traveller, inspection sheet and shop.json."""
        from regen.output.shop import write

        return write(self.study, Path(folder))


class AsBuilt(Answer):
    """Slots as measured: use, rework, sleeve or scrap."""

    study: AsBuiltStudy

    @property
    def accepted(self) -> bool:
        """Whether every slot can be used."""
        return self.study.all_usable

    def parts(self) -> Iterable[str]:
        """Return the slots, the worst first."""
        from regen.output.as_built import lines

        return lines(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write as_built.csv, a page, a figure and as_built.json."""
        from regen.output.as_built import write

        return write(self.study, self.case, Path(folder))


class Alternatives(Answer):
    """The same chamber by other processes."""

    study: AlternativesStudy

    def parts(self) -> Iterable[str]:
        """Return the rows, and what is not assessed."""
        from regen.output.alternatives import lines

        return lines(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write alternatives.csv, a page, a figure and alternatives.json."""
        from regen.output.alternatives import write

        return write(self.study, self.case, Path(folder))
