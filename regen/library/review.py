"""``regen.review``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from regen.case.read import Case
from regen.checks.review import review as judge
from regen.library.answer import Answer
from regen.library.progress import Tell
from regen.library.stations import Stations
from regen.output import review as output
from regen.output.table import Table
from regen.result import Band, Finding, Margin, Note, Result

if TYPE_CHECKING:  # figures are drawn only where they are asked for
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from rich.console import Console

    from regen.output.figures.review import Plate


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
        return output.summary(self.study)

    def print(self, console: Console) -> None:
        """Print the parts on a rich console, the verdict in its colour."""
        output.print_summary(self.study, console)

    def write(self, folder: Path | str, *, report: bool = True) -> list[Path]:
        """Write report.html with its figures, tables and result.json; tables alone on request."""
        case, folder = self.case, Path(folder)
        if not report:
            return output.write(self.study, case.design, folder)
        from regen.output.report import write_review

        return write_review(self.study, case.design, case.text, case.changes, folder)

    def _plates(self) -> Iterable[Plate]:
        from regen.output.figures.review import plates

        return plates(self.study, self.case.design)

    def __repr__(self) -> str:
        peak = self.summary["T_wall_hot_max_K"]
        return f"<Review of {self.case.design.title!r}: {self.verdict}, wall to {peak:.0f} K>"


def review(case: Case, *, check_wall: bool = True, progress: Tell | None = None) -> Review:
    """Solve a case and judge its limits.

    Parameters
    ----------
    case : Case
        From ``load``.
    check_wall : bool
        Check the wall at some stations by finite elements, about a second more.
    progress : callable, optional
        Takes a text on what is being waited for, such as ``print``.

    Returns
    -------
    Review
        Quantities, bands, worst channel, margins, notes and stations, in SI.

    Raises
    ------
    MarchError
        If the nominal channel is not solved: where, why, and what to do.
    """
    result = judge(case.design, case_hash=case.hash, progress=progress, check_wall=check_wall)
    return Review(case, result)
