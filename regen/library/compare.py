"""``regen.compare``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from regen.case.read import Case, load_case
from regen.checks.review import review
from regen.library.answer import Answer
from regen.library.progress import Tell, silent
from regen.library.reading import read
from regen.output import compare as output
from regen.output.folder import OutputError
from regen.output.listing import inputs
from regen.output.review import result_from
from regen.output.table import Table


class Comparison(Answer):
    """Designs side by side."""

    def __init__(self, study: Sequence[output.Compared]) -> None:
        self.study = study

    def parts(self) -> Iterable[str | Table]:
        """Return inputs that differ, quantities and limits."""
        return output.parts(self.study)

    def write(self, folder: Path | str) -> list[Path]:
        """Write compare.html, a figure and compare.json."""
        return output.write(self.study, Path(folder))

    def __repr__(self) -> str:
        return f"<Comparison of {', '.join(one.name for one in self.study)}>"


def compare(*designs: Case | Path | str, progress: Tell | None = None) -> Comparison:
    """Compare designs: inputs that differ, quantities, limits and curves side by side.

    Parameters
    ----------
    *designs : Case, Path or str
        At least two of: a case, which is solved; a case file; a folder that ``regen solve`` or
        ``regen review`` wrote, which is not solved again.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Comparison
        Tables of the differences.

    Raises
    ------
    CaseError
        If a case is wrong.
    MarchError
        If the nominal channel of a case is not solved.
    OutputError
        If a folder holds no solved design.
    ValueError
        If there are fewer than two.
    """
    if len(designs) < 2:
        message = "give at least two designs to compare"
        raise ValueError(message)
    tell = progress or silent
    paths = [Path(one.path if isinstance(one, Case) else one) for one in designs]
    short = [path.stem if path.suffix == ".toml" else path.name for path in paths]
    names = [
        short[n] if short.count(short[n]) == 1 else f"{path} ({n + 1})"
        for n, path in enumerate(paths)
    ]
    pairs = zip(names, designs, strict=True)
    return Comparison([_compared(name, one, tell) for name, one in pairs])


def _compared(name: str, design: Case | Path | str, tell: Tell) -> output.Compared:
    if not isinstance(design, Case) and Path(design).is_dir():
        record = read(design)
        if "inputs" not in record:
            message = f"{design} holds no design that regen solve or regen review wrote"
            raise OutputError(message)
        return output.Compared(name, record["inputs"], result_from(record, record.stations))
    case = design if isinstance(design, Case) else load_case(Path(design))
    tell(f"solving {name}")
    result = review(case.design, case_hash=case.hash, progress=tell)
    return output.Compared(name, inputs(case.design), result)
