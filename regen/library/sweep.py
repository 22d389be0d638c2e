"""``regen.sweep``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from shutil import copytree, rmtree
from tempfile import mkdtemp
from typing import Any, Literal
from weakref import finalize

from regen.case.read import Case
from regen.library.answer import Answer
from regen.library.progress import Clock, Tell, silent
from regen.library.reading import read_table
from regen.output.sweep import Store, finish
from regen.output.sweep_table import check_parquet
from regen.result import Array
from regen.studies.sweep.study import Local, Runner
from regen.studies.sweep.vary import grid_of, table_of


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


def sweep(
    case: Case,
    vary: Sequence[str] = (),
    *,
    rows: Path | None = None,
    judge: Literal["nominal", "worst", "full"] = "full",
    folder: Path | str | None = None,
    table: Literal["csv", "parquet"] = "csv",
    threads: int | None = None,
    cluster: str | None = None,
    progress: Tell | None = None,
) -> Sweep:
    """Solve many designs of one case.

    Parameters
    ----------
    case : Case
        From ``load``.
    vary : sequence of str
        Each "key=start:stop:n:unit", "key=80%:120%:5" or "key=0.6,0.7:mm"; every combination is
        solved, the last key varying fastest.
    rows : Path, optional
        In place of ``vary``: a CSV file with a design a row, its header keys with units.
    judge : {"nominal", "worst", "full"}
        Runs that are solved and judged.
    folder : Path or str, optional
        Where rows are kept as they are finished: the same sweep into the same folder goes on where
        it was stopped. Without it a temporary folder, which goes with the answer.
    table : {"csv", "parquet"}
        Format of the table.
    threads : int, optional
        Threads of this machine; all cores without it [-].
    cluster : str, optional
        HOST:PORT of a Dask scheduler, to solve on its workers.
    progress : callable, optional
        Takes a text on what is being waited for.

    Returns
    -------
    Sweep
        Its ``rows`` by column, and a summary.

    Raises
    ------
    CaseError
        If a key, a range or a row is wrong.
    OutputError
        If the folder cannot be written, or holds another sweep.
    """
    tell = progress or silent
    plan = grid_of(vary, case, judge) if rows is None else table_of(rows, case, judge)
    if table == "parquet":
        check_parquet()
    path = Path(folder or mkdtemp(prefix="regen-sweep-"))
    store = Store(path, plan, case.hash, table)
    if folder is None:
        finalize(store, rmtree, path, ignore_errors=True)
    try:
        if store.missing:
            with _runner(threads, cluster, tell) as run:
                clock, total = Clock("rows", tell, store.rows_done), len(plan)
                clock(store.rows_done, total)
                for n, part in run(plan, store.missing):
                    store.keep(n, part)
                    clock(store.rows_done, total)
        tell("table and figures")
        lines = finish(store)
    except KeyboardInterrupt:
        kept = f"stopped: {store.rows_done} of {len(plan)} rows are finished and kept"
        tell(f"{kept}; the same sweep into the same folder goes on")
        raise
    finally:
        store.close()
    return Sweep(case, store, lines)


@contextmanager
def _runner(threads: int | None, cluster: str | None, tell: Tell) -> Iterator[Runner]:
    """Yield what solves the parts: this machine, or the workers of a scheduler."""
    if cluster is None:
        yield Local(threads)
        return
    from regen.studies.sweep.cluster import connected

    tell(f"asking the workers of {cluster} what they run")
    with connected(cluster, report=tell) as run:
        yield run
