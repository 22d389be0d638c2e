"""Written folders as their readers see them."""

from __future__ import annotations

import csv
import hashlib
import json
from pathlib import Path


def listed(folder: str | Path, index: str) -> set[str]:
    """Return the names of the files that an index lists, their hashes checked."""
    files = json.loads(Path(folder, index).read_text(encoding="utf-8"))["files"]
    for name, digest in files.items():
        assert hashlib.sha256(Path(folder, name).read_bytes()).hexdigest() == digest, name
    return set(files)


def csv_file(path: str | Path) -> list[dict[str, str]]:
    """Return the rows of a CSV file."""
    return list(csv.DictReader(Path(path).read_text(encoding="utf-8").splitlines()))
