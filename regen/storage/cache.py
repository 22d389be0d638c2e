"""Disk cache of arrays: versioned, atomic, safe for several processes at once."""

from __future__ import annotations

import hashlib
import json
import logging
import os
import platform
import tempfile
from collections.abc import Callable, Mapping
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray
from platformdirs import user_cache_path

import regen

log = logging.getLogger(__name__)

Arrays = dict[str, NDArray[Any]]


def cache_folder() -> Path:
    """Return the cache folder: ``REGEN_CACHE`` if set, else the platform's cache folder."""
    return Path(os.environ.get("REGEN_CACHE") or user_cache_path("regen"))


@cache
def library(name: str) -> str:
    """Return the version of an installed package: asked once, since asking takes 2 ms."""
    return version(name)


def made_with(*packages: str) -> dict[str, Any]:
    """Return the versions that a result was made with: regen, Python and some packages."""
    return {
        "regen": regen.__version__,
        "python": platform.python_version(),
        "packages": {name: library(name) for name in packages},
    }


def cached(kind: str, version: int, key: Mapping[str, Any], build: Callable[[], Arrays]) -> Arrays:
    """Return the arrays stored under ``key``, building and storing them if they are absent.

    ``kind`` names the file; ``version`` is that of the arrays' meaning, to be raised when the
    builder changes; ``key`` is everything the arrays depend on, JSON-serialisable.

    Files are written beside their final name and renamed into place, so that a reader sees a
    whole file or none. An unreadable file is rebuilt; a folder that cannot be written costs
    only speed and is logged.
    """
    text = json.dumps(key, sort_keys=True, allow_nan=False)
    name = f"{kind}-v{version}-{hashlib.sha256(text.encode()).hexdigest()[:24]}"
    path = cache_folder() / f"{name}.npz"
    try:
        # the file is ours to close: np.load leaves it open when the archive is damaged
        with path.open("rb") as file, np.load(file, allow_pickle=False) as stored:
            return {name: stored[name] for name in stored.files}
    except FileNotFoundError:
        pass
    except (OSError, ValueError, EOFError, KeyError, BadZipFile) as error:
        log.warning("cache file %s is unreadable (%s): building it again", path, error)
    arrays = build()
    _write(path, arrays)
    return arrays


def _write(path: Path, arrays: Arrays) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=".npz")
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez(file, **arrays)  # type: ignore[arg-type]
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        log.warning("cannot write the cache folder %s (%s): going on without", path.parent, error)
