"""A sweep's folder: parts as they are solved, then one table, figures and sweep.json.

While a sweep runs, its folder holds sweep.json (what is swept, state "running") and ``parts/``: a
file for each part, written beside its place and moved there, and ``done.jsonl``, a line for each
part once its file is whole. A part without a line, or unlike its line, is solved again; so a run
that was stopped at any moment goes on without a row lost or doubled. At the end the parts are
joined in their order, sweep.json gets the state "complete", and ``parts/`` is removed.
"""

# ruff: noqa: EM101, EM102 - these messages are read by people, never in a traceback

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Literal

import regen
from regen.checks.review import PACKAGES
from regen.output import sweep_table
from regen.output.folder import Folder, OutputError
from regen.output.sweep_table import DROP, WALL, SweepSummary
from regen.quantities import quantity
from regen.storage.cache import made_with
from regen.studies.batch.designs import Rows
from regen.studies.sweep.fingerprint import SOURCES, fingerprint
from regen.studies.sweep.plan import SweepPlan

SCHEMA = 1
INDEX = "sweep.json"
PARTS = "parts"
JOURNAL = "done.jsonl"

Format = Literal["csv", "parquet"]

MOVE = "move it away, or "

BEST = {"least_pressure_drop": DROP, "coolest_wall": WALL}
"""Rows that are named, and what they have least of."""


class Store:
    """The folder of one sweep, open for this process alone until it is closed.

    Raises ``OutputError`` if the folder cannot be written, is in use, or holds another sweep.
    """

    def __init__(self, folder: Path, plan: SweepPlan, case_hash: str, form: Format = "csv") -> None:
        self.folder, self.plan, self.form = folder, plan, form
        self.identity = {
            "case_sha256": case_hash,
            "plan_sha256": plan.sha256,
            "judged": plan.judged,
            "format": form,
            "part_rows": plan.part_rows,
            "regen": regen.__version__,
            "sources_sha256": fingerprint()[SOURCES],
        }
        self.done: dict[int, dict[str, Any]] = {}
        self.complete = False
        with self._writing():
            folder.mkdir(parents=True, exist_ok=True)
            self._lock = _locked(folder)
            try:
                self._open()
            except BaseException:
                self.close()
                raise

    @property
    def table(self) -> Path:
        """The table that the sweep ends in."""
        return self.folder / f"sweep.{self.form}"

    @property
    def informative(self) -> frozenset[str]:
        """Limits that never decide a verdict."""
        return frozenset(name for part in self.done.values() for name in part["informative"])

    @property
    def rows_done(self) -> int:
        """Rows that are solved and kept."""
        return sum(int(part["rows"]) for part in self.done.values())

    @property
    def missing(self) -> list[int]:
        """Numbers of the parts that are still to be solved."""
        return [n for n in range(self.plan.parts) if n not in self.done]

    def keep(self, n: int, rows: Rows) -> None:
        """Write a solved part; it is kept once this returns, and so are the parts before."""
        first, due = self.plan.rows_of(n).start, len(self.plan.rows_of(n))
        if len(rows) != due:
            raise ValueError(f"part {n} came with {len(rows)} rows, and {due} are due")
        text = sweep_table.part_text(self.plan, rows, first).encode()
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
        """Join all parts into the table, in their order; they stay until ``finish``."""
        if self.complete:
            return
        with self._writing(), _placed(self.table) as beside:
            header = self._header()
            if self.form == "parquet":
                sweep_table.write_parquet(beside, header, self._texts())
                return
            with beside.open("w", encoding="utf-8", newline="") as table:
                table.write(",".join(header) + "\n")
                for lines in self._texts():
                    table.writelines(f"{line}\n" for line in sweep_table.fitted(lines, header))
                _flushed(table)

    def finish(
        self, summary: Mapping[str, Any], figures: Mapping[str, Callable[[], Any]]
    ) -> list[Path]:
        """Write the figures and the final sweep.json, remove the parts; return the files."""
        parts = [self.done[n] for n in range(self.plan.parts)]
        table = {"file": self.table.name, "sha256": _sha256(self.table)}
        out = Folder(self.folder, INDEX)
        for name, make in figures.items():
            out.draw(name, make)
        rest = {"columns": sweep_table.TEXTS["columns"], "table": table, "parts": parts}
        written = out.write({**self._described("complete"), **summary, **rest})
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
            "title": self.plan.design.title,
            "state": state,
            "plan": self.plan.described,
            "sweep": self.identity,
            "provenance": made_with(*PACKAGES) | {"case_sha256": self.identity["case_sha256"]},
        }

    def _index(self) -> dict[str, Any]:
        """Return the folder's sweep.json, {} if there is none."""
        index = self.folder / INDEX
        if not index.exists():
            names = ("sweep.csv", "sweep.parquet", PARTS)
            strays = " and ".join(name for name in names if (self.folder / name).exists())
            if strays:
                raise _refusal(f"{self.folder} holds {strays} without a {INDEX}", MOVE)
            return {}
        try:
            content: dict[str, Any] = json.loads(index.read_bytes())
            content["sweep"]["case_sha256"], content["state"]
        except (ValueError, KeyError, TypeError) as error:
            raise _refusal(f"{index} is not the file of a sweep, or was changed", MOVE) from error
        return content

    def _open(self) -> None:
        """Take up what the folder holds of this sweep; refuse another's."""
        index = self._index()
        given = index.get("sweep", self.identity)
        messages = sweep_table.TEXTS["identity"]
        other = [messages[key] for key, own in self.identity.items() if given.get(key) != own]
        if other:
            raise _refusal(f"{self.folder} holds another sweep ({'; '.join(other)})")
        if index.get("state") == "complete" and self.table.exists():
            if _sha256(self.table) != index["table"]["sha256"]:
                do = "move it away to solve again, or "
                raise _refusal(f"{self.table} is not as this sweep left it", do)
            self.done = {entry["part"]: entry for entry in index["parts"]}
            self.complete = True
            return
        if index.get("state") != "running":  # first of all: it says whose the rest is
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
        for n in range(self.plan.parts):
            data = self._part(n).read_bytes()
            if hashlib.sha256(data).hexdigest() != self.done[n]["sha256"]:
                what = f"{self._part(n)} was changed while the sweep ran"
                raise OutputError(f"{what}; run the same command again to solve that part again")
            yield data.decode().splitlines()

    def _header(self) -> list[str]:
        """Return the columns of all parts together."""
        headers = []
        for n in range(self.plan.parts):
            with self._part(n).open(encoding="utf-8") as part:
                headers.append(part.readline().rstrip("\n").split(","))
        return sweep_table.merged(headers)

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """Say of a folder that cannot be written what is kept, and how to go on."""
        try:
            yield
        except OutputError:
            raise
        except OSError as error:
            kept = f"{self.rows_done} of {len(self.plan)} rows are finished and kept"
            do = f"{kept}: put that right and give the same command again to go on"
            do = do if self.done else "give another folder with -o"
            what = f"cannot write {self.folder}: {error.strerror or error}"
            raise OutputError(f"{what}; {do}") from error


def finish(store: Store) -> list[str]:
    """Join the parts, draw figures and write sweep.json; return the lines of the summary."""
    from regen.output.figures.sweep import figures

    store.join()
    summary = sweep_table.summary_of(store.table, store.plan, store.informative)
    store.finish(summary_object(summary), figures(summary))
    return lines(summary)


def summary_object(summary: SweepSummary) -> dict[str, Any]:
    """Return what sweep.json holds of the rows."""
    columns = (*(parameter.column for parameter in summary.plan.parameters), DROP, WALL)
    return {
        "rows": summary.rows,
        "status": dict(sorted(summary.status.items())),
        "verdicts": dict(sorted(summary.verdicts.items())),
        "keep_every_limit": summary.kept,
        "limits": {name: {"informative": name in summary.informative} for name in summary.limits},
        "best": {
            name: {"row": int(row["row"]), "verdict": summary.best_verdict}
            | {column: float(row[column]) for column in columns}
            for name, key in BEST.items()
            if (row := summary.best.get(key))
        },
        "summary": lines(summary),
    }


def lines(summary: SweepSummary) -> list[str]:
    """Return the summary of a sweep: counts, then the best rows."""
    counted = f"{summary.rows} rows: {summary.solved} solved"
    text = [f"{counted}; the nominal channel meets every limit in {summary.kept}"]
    ordered = sorted(((n, status) for status, n in summary.status.items()), reverse=True)
    causes = ", ".join(f"{status} {n}" for n, status in ordered if status != "solved")
    if causes:
        text.append(f"not solved: {causes}")
    if summary.verdicts:
        counts = ", ".join(f"{name} {count}" for name, count in sorted(summary.verdicts.items()))
        text.append(f"verdict: {counts} ({sweep_table.TEXTS['judged'][summary.plan.judged]})")
    if summary.best_verdict is None:
        return [*text, "no row meets every limit"]
    text.append(f"best of those with verdict {summary.best_verdict}:")
    for name, column in BEST.items():
        row, label = summary.best.get(column), f"{name.replace('_', ' ')}:"
        text.append(f"  {label:20} {'none' if row is None else _row_text(summary, row)}")
        if column in summary.refused:
            count, first, why = summary.refused[column]
            text.append(f"    {count} better cannot be milled as drawn; row {first}: {why}")
    return text


def _row_text(summary: SweepSummary, row: sweep_table.Block) -> str:
    parameters = summary.plan.parameters
    values = ", ".join(f"{one.path} {one.say(row[one.column])}" for one in parameters)
    drop, wall = (quantity(key).amount(float(row[key])) for key in (DROP, WALL))
    return f"row {int(row['row'])}, {values}: {drop}, wall {wall}"


def _journal(path: Path) -> Iterator[dict[str, Any]]:
    """Yield the whole lines of the journal."""
    if not path.exists():
        return
    for line in path.read_text(encoding="utf-8", errors="replace").splitlines():
        with suppress(ValueError, KeyError, TypeError):
            entry = json.loads(line)
            entry["part"], entry["sha256"], entry["rows"], entry["status"], entry["informative"]
            yield entry


@contextmanager
def _placed(path: Path) -> Iterator[Path]:
    """Give a place to write a file at, which takes its own place whole or not at all."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield beside
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def _place(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, also if the machine goes down."""
    with _placed(path) as beside, beside.open("wb") as file:
        file.write(content)
        _flushed(file)


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
        raise _refusal(f"another sweep is writing {folder}", "wait for it, or ") from error
    return handle


def _refusal(what: str, do: str = "") -> OutputError:
    return OutputError(f"{what}; {do}give another folder with -o")
