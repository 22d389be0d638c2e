"""Files of a sweep: parts as they are solved, then one table and sweep.json.

While a sweep runs, its folder holds sweep.json (what is swept, state "running") and ``parts/``: a
file for each part, written beside its place and moved there, and ``done.jsonl``, a line for each
part once its file is whole. A part without a line, or unlike its line, is solved again; so a run
that was stopped at any moment goes on without a row lost or doubled. At the end the parts are
joined in their order, sweep.json gets the state "complete", and ``parts/`` is taken away.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Literal

import regen
from regen.checks.review import PACKAGES
from regen.output.files import Drawn, OutputError, publish
from regen.output.sweep_table import COLUMNS, columns_of, fitted, limits_of, part_text
from regen.storage.cache import made_with
from regen.studies.batch.designs import Rows
from regen.studies.sweep.fingerprint import SOURCES, fingerprint
from regen.studies.sweep.plan import SweepPlan

SCHEMA = 1
INDEX = "sweep.json"
PARTS = "parts"
JOURNAL = "done.jsonl"

Format = Literal["csv", "parquet"]

IDENTITY = {
    "case_sha256": "another case, or the same with other values",
    "plan_sha256": "other keys or values",
    "judged": "other runs judged",
    "format": "another format",
    "part_rows": "parts of another size",
    "regen": "another version of regen",
    "sources_sha256": "other sources or data of regen, of the same version",
}
"""What must be the same for a sweep to go on, and what is said where it is not."""


class Store:
    """The folder of one sweep.

    Parameters
    ----------
    folder : Path
        Made if it is absent.
    job : SweepPlan
        What is swept.
    case_hash : str
        Hash of the case.
    form : {"csv", "parquet"}
        Format of the table.

    Raises
    ------
    OutputError
        If the folder cannot be written, is in use, or holds another sweep.
    """

    def __init__(self, folder: Path, job: SweepPlan, case_hash: str, form: Format = "csv") -> None:
        self.folder, self.job, self.form = folder, job, form
        self.identity = {
            "case_sha256": case_hash,
            "plan_sha256": job.sha256,
            "judged": job.judged,
            "format": form,
            "part_rows": job.part_rows,
            "regen": regen.__version__,
            "sources_sha256": fingerprint()[SOURCES],
        }
        self.done: dict[int, dict[str, Any]] = {}
        self.complete = False
        with self._writing():
            folder.mkdir(parents=True, exist_ok=True)
            self._lock = _locked(folder)
            try:
                found = self._found()
                self.complete = self._check(found)
                if not self.complete:
                    self._open(found)
            except BaseException:
                self.close()
                raise

    @property
    def table(self) -> Path:
        """The table that the sweep ends in."""
        return self.folder / f"sweep.{self.form}"

    @property
    def limits(self) -> tuple[str, ...]:
        """Limits that margins were found of in any part, in the judge's order."""
        if self.complete:
            return tuple(self._found()["limits"])
        return tuple(limits_of(self._header(), self.job.judged))

    @property
    def informative(self) -> frozenset[str]:
        """Those of ``limits`` that never decide a verdict."""
        if self.complete:
            limits = self._found()["limits"]
            return frozenset(name for name in limits if limits[name]["informative"])
        return frozenset(name for part in self.done.values() for name in part["informative"])

    @property
    def rows_done(self) -> int:
        """Rows that are solved and kept [-]."""
        if self.complete:
            return len(self.job)
        return sum(int(part["rows"]) for part in self.done.values())

    @property
    def missing(self) -> list[int]:
        """Numbers of the parts that are still to be solved [-]."""
        if self.complete:
            return []
        return [n for n in range(self.job.parts) if n not in self.done]

    def keep(self, n: int, rows: Rows) -> None:
        """Write a solved part; it is kept once this returns.

        Parameters
        ----------
        n : int
            Number of the part [-].
        rows : Rows
            All of its rows.

        Raises
        ------
        OutputError
            If it cannot be written; parts kept before stay.
        ValueError
            If there are more or fewer rows than the part has.
        """
        first, due = self.job.rows_of(n).start, len(self.job.rows_of(n))
        if len(rows) != due:
            message = f"part {n} came with {len(rows)} rows, and {due} are due"
            raise ValueError(message)
        text = part_text(self.job, rows, first, self.job.judged).encode()
        entry = {
            "part": n,
            "rows": due,
            "sha256": hashlib.sha256(text).hexdigest(),
            "status": dict(Counter(map(str, rows.status))),
            "informative": sorted(rows.informative),
        }
        with self._writing():
            _place(self._part(n), text)
            with (self.folder / PARTS / JOURNAL).open("a", encoding="utf-8") as journal:
                journal.write(json.dumps(entry) + "\n")
                _flushed(journal)
        self.done[n] = entry

    def join(self) -> None:
        """Join all parts into the table, in their order.

        Raises
        ------
        OutputError
            If it cannot be written or a part was changed; the parts stay.
        """
        if self.complete:
            return
        with self._writing():
            header = self._header()
            if self.form == "parquet":
                from regen.output.sweep_parquet import joined

                joined(self.table, header, self._texts())
                return
            beside = _beside(self.table)
            with beside.open("w", encoding="utf-8", newline="") as table:
                table.write(",".join(header) + "\n")
                for lines in self._texts():
                    table.writelines(f"{line}\n" for line in fitted(lines, header))
                _flushed(table)
            beside.replace(self.table)

    def finish(self, told: Mapping[str, Any], figures: Drawn | None = None) -> list[Path]:
        """Write the figures and the final sweep.json, and take the parts away.

        Parameters
        ----------
        told : mapping
            What sweep.json says of the rows.
        figures : Drawn, optional
            Figures by path within the folder.

        Returns
        -------
        list of Path
            Files written, the table first and sweep.json last.

        Raises
        ------
        OutputError
            If the folder cannot be written.
        """
        if self.complete:
            parts = self._found()["parts"]
        else:
            parts = [self.done[n] for n in range(self.job.parts)]
        table = {"file": self.table.name, "sha256": _sha256(self.table)}

        def describe(files: dict[str, str]) -> dict[str, Any]:
            rest = {"columns": COLUMNS, "table": table, "parts": parts, "files": files}
            return {**self._described("complete"), **told, **rest}

        written = publish(
            self.folder,
            dict(figures or {}),
            INDEX,
            describe,
            figures.not_drawn if figures is not None else (),
        )
        shutil.rmtree(self.folder / PARTS, ignore_errors=True)
        self.complete = True
        return [self.table, *written]

    def close(self) -> None:
        """Let another sweep have the folder."""
        os.close(self._lock)

    def _part(self, n: int) -> Path:
        return self.folder / PARTS / f"part-{n:06d}.csv"

    def _described(self, state: str) -> dict[str, Any]:
        return {
            "schema": SCHEMA,
            "title": self.job.design.title,
            "state": state,
            "plan": self.job.described,
            "sweep": self.identity,
            "provenance": {
                **made_with(*PACKAGES),
                "case_sha256": self.identity["case_sha256"],
            },
        }

    def _found(self) -> dict[str, Any]:
        """Return what the folder's sweep.json says, {} if there is none."""
        index = self.folder / INDEX
        if not index.exists():
            strays = [
                name
                for name in ("sweep.csv", "sweep.parquet", PARTS)
                if (self.folder / name).exists()
            ]
            if strays:
                what = f"{self.folder} holds {' and '.join(strays)} without a {INDEX}"
                message = f"{what}; move that away, or give another folder with -o"
                raise OutputError(message)
            return {}
        try:
            found: dict[str, Any] = json.loads(index.read_bytes())
            found["sweep"]["case_sha256"], found["state"]
        except (ValueError, KeyError, TypeError) as error:
            what = f"{index} is not the file of a sweep, or was changed"
            message = f"{what}; move it away, or give another folder with -o"
            raise OutputError(message) from error
        return found

    def _check(self, found: dict[str, Any]) -> bool:
        """Refuse the folder of another sweep; return True if this one is complete in it."""
        if not found:
            return False
        other = [
            said for key, said in IDENTITY.items() if found["sweep"].get(key) != self.identity[key]
        ]
        if other:
            what = f"{self.folder} holds another sweep ({'; '.join(other)})"
            message = f"{what}; give another folder with -o"
            raise OutputError(message)
        if found["state"] != "complete" or not self.table.exists():
            return False
        if _sha256(self.table) != found["table"]["sha256"]:
            what = f"{self.table} is not as this sweep left it"
            message = f"{what}; move it away to solve anew, or give another folder with -o"
            raise OutputError(message)
        return True

    def _open(self, found: dict[str, Any]) -> None:
        if found.get("state") != "running":  # first of all: it says whose the rest is
            text = json.dumps(self._described("running"), indent=1)
            _place(self.folder / INDEX, (text + "\n").encode())
        parts = self.folder / PARTS
        parts.mkdir(exist_ok=True)
        for stray in (*parts.glob(".*.part"), *self.folder.glob(".sweep.*.part")):
            stray.unlink()
        for entry in _journal(parts / JOURNAL):
            path = self._part(entry["part"])
            if path.exists() and _sha256(path) == entry["sha256"]:
                self.done[entry["part"]] = entry
        # whole lines alone: a line that a kill cut short would spoil the next
        text = "".join(json.dumps(entry) + "\n" for entry in self.done.values())
        _place(parts / JOURNAL, text.encode())

    def _texts(self) -> Iterator[list[str]]:
        """Yield the lines of each part, in order."""
        for n in range(self.job.parts):
            data = self._part(n).read_bytes()
            if hashlib.sha256(data).hexdigest() != self.done[n]["sha256"]:
                what = f"{self._part(n)} was changed while the sweep ran"
                message = f"{what}; run the same command again to solve that part anew"
                raise OutputError(message)
            yield data.decode().splitlines()

    def _header(self) -> list[str]:
        """Return the columns of all parts together: a limit may be judged in some parts only."""
        limits: list[str] = []
        summary: list[str] = []
        for n in range(self.job.parts):
            with self._part(n).open(encoding="utf-8") as part:
                header = part.readline().rstrip("\n").split(",")
            here = limits_of(header, self.job.judged)
            limits = _merged(limits, here)
            first = header.index("nominal_kept") + 1
            last = next((i for i, c in enumerate(header) if c.startswith("margin_")), -2)
            summary = header[first:last]
        return columns_of(self.job, summary, limits, self.job.judged)

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """Say of a folder that cannot be written what is kept, and how to go on."""
        try:
            yield
        except OutputError:
            raise
        except OSError as error:
            kept = "; give another folder with -o"
            if self.done:
                kept = (
                    f"; {self.rows_done} of {len(self.job)} rows are finished and kept: put "
                    "that right and give the same command again to go on"
                )
            message = f"cannot write {self.folder}: {error.strerror or error}{kept}"
            raise OutputError(message) from error


def _merged(known: list[str], more: list[str]) -> list[str]:
    """Return all names, the new ones behind those they follow in ``more``."""
    merged = list(known)
    for at, name in enumerate(more):
        if name not in merged:
            before = [merged.index(other) for other in more[:at] if other in merged]
            merged.insert(max(before, default=-1) + 1, name)
    return merged


def _journal(path: Path) -> Iterator[dict[str, Any]]:
    """Yield the whole lines of the journal."""
    if not path.exists():
        return
    for line in path.read_text(encoding="utf-8", errors="replace").splitlines():
        with suppress(ValueError, KeyError, TypeError):
            entry = json.loads(line)
            entry["part"], entry["sha256"], entry["rows"], entry["status"], entry["informative"]
            yield entry


def _beside(path: Path) -> Path:
    return path.with_name(f".{path.name}.{os.getpid()}.part")


def _place(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, also if the machine goes down."""
    beside = _beside(path)
    try:
        with beside.open("wb") as file:
            file.write(content)
            _flushed(file)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def _flushed(file: Any) -> None:
    file.flush()
    os.fsync(file.fileno())


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _locked(folder: Path) -> int:
    """Return a handle of the folder that no other sweep can have until it is closed."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        import fcntl  # not on every system; without it two sweeps in one folder are not noticed

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except ImportError:
        pass
    except BlockingIOError as error:
        os.close(handle)
        message = f"another sweep is writing {folder}; wait for it, or give another folder with -o"
        raise OutputError(message) from error
    return handle
