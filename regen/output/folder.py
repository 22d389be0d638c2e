"""A folder of outputs: written whole or not at all, its index last with the hashes of the rest."""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Callable, Mapping
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

from regen.output.table import Table

if TYPE_CHECKING:
    from regen.output.page import Picture


class OutputError(OSError):
    """The output folder cannot be written; what it held is untouched."""


def check_writable(folder: Path) -> None:
    """Refuse a folder that cannot be made or written, before anything is computed."""
    existing = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    if not existing.is_dir():
        raise OutputError(_refusal(folder, f"{existing} is a file"))
    if not os.access(existing, os.W_OK):
        raise OutputError(_refusal(folder, f"no permission in {existing}"))


def _refusal(folder: Path, reason: object) -> str:
    return f"cannot write {folder}: {reason}; give another folder with -o"


class Folder:
    """The files of one command, gathered first and then written together.

    Files that an earlier index lists and this one does not are removed, unless they were changed
    since: an old report beside a new result would mislead. Each file is written beside its place
    and moved there at the end, the index last, so that a killed run leaves every file whole and an
    index that belongs to other files shows it.
    """

    def __init__(
        self, path: Path, index: str, files: Mapping[str, str | bytes | Table] = {}
    ) -> None:
        self.path, self.index = path, index
        self.files: dict[str, bytes] = {}
        self.not_drawn: list[str] = []
        for name, content in files.items():
            self.add(name, content)

    def add(self, name: str, content: str | bytes | Table) -> None:
        """Add a file; a table becomes CSV."""
        text = content.csv() if isinstance(content, Table) else content
        self.files[name] = text.encode() if isinstance(text, str) else text

    def draw(self, name: str, make: Callable[[], Any], caption: str = "") -> Picture | str:
        """Draw and add a figure and return it for a page.

        One that cannot be drawn costs nothing else: page, standard error and index say so.
        """
        from regen.output.figures.style import render
        from regen.output.page import Picture

        try:
            self.files[name] = render(make)
        except Exception as error:  # noqa: BLE001 - numbers must not be lost over a drawing
            reason = f"{type(error).__name__}: {error}".removesuffix(": ")
            text = f"figure {PurePath(name).stem} could not be drawn ({reason})"
            self.not_drawn.append(f"{text}; all numbers are complete: please report it")
            sys.stderr.write(f"{self.not_drawn[-1]}\n")
            return f"{self.not_drawn[-1][0].upper()}{self.not_drawn[-1][1:]}."
        return Picture(PurePath(name).stem, caption, self.files[name])

    def write(self, description: Mapping[str, Any]) -> list[Path]:
        """Write all files and the index, which is the description with the files' hashes.

        Returns
        -------
        list of Path
            Files written, the index last.

        Raises
        ------
        OutputError
            If the folder cannot be written.
        """
        hashes = {name: _sha256(content) for name, content in self.files.items()}
        whole = {**description, "files": hashes}
        if self.not_drawn:
            whole["figures_not_drawn"] = self.not_drawn
        text = json.dumps(whole, indent=1, allow_nan=False) + "\n"
        contents = {**self.files, self.index: text.encode()}
        try:
            old = self._listed()
            _replace_all({self.path / name: content for name, content in contents.items()})
            for name in old - set(contents):
                (self.path / name).unlink(missing_ok=True)
        except OSError as error:
            raise OutputError(_refusal(self.path, error.strerror or error)) from error
        return [self.path / name for name in contents]

    def _listed(self) -> set[str]:
        """Return the files that the index on disk lists and that are still as it says."""
        try:
            hashes = json.loads((self.path / self.index).read_bytes())["files"]
            return {n for n, h in hashes.items() if _sha256((self.path / n).read_bytes()) == h}
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return set()


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _replace_all(contents: Mapping[Path, bytes]) -> None:
    staged: dict[Path, Path] = {}
    try:
        for path, content in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            # not a temporary file of the system's: those are readable by their owner alone
            staged[path] = path.with_name(f".{path.name}.{os.getpid()}.part")
            staged[path].write_bytes(content)
        for path, part in staged.items():
            part.replace(path)
    finally:
        for part in staged.values():
            part.unlink(missing_ok=True)
