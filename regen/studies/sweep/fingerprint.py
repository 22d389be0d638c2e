"""What decides the numbers of a row: the versions and the sources that a process runs."""

from __future__ import annotations

import hashlib
import platform
import socket
from collections.abc import Mapping
from functools import cache
from pathlib import Path

PACKAGES = ("numpy", "numba", "scipy", "CoolProp", "cantera")
"""Packages whose version may change a row: they compile it, or build its tables."""

HOST = "host"
"""Entry of a fingerprint that is reported and never compared."""

SOURCES = "sources of regen"


def tree_hash(folder: Path) -> str:
    """Return a hash of every source and data file under a folder, by name and content."""
    state = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts:
            name = path.relative_to(folder).as_posix()
            state.update(hashlib.sha256(name.encode()).digest())
            state.update(hashlib.sha256(path.read_bytes()).digest())
    return state.hexdigest()[:12]


def load() -> None:
    """Import all that solves a row."""
    import regen.studies.sweep.study  # noqa: F401


@cache
def fingerprint() -> Mapping[str, str]:
    """Return what this process runs, by name; asked once, after everything was imported.

    A worker may live for weeks. What it imported stays with it, and so must its fingerprint:
    asked again after its files were changed, it would vouch for code that it does not run.
    """
    import regen
    from regen.storage.cache import library

    load()
    return {
        HOST: socket.gethostname(),
        "regen": regen.__version__,
        SOURCES: tree_hash(Path(regen.__file__).parent),
        "Python": ".".join(platform.python_version_tuple()[:2]),
        **{name: library(name) for name in PACKAGES},
    }


def differences(own: Mapping[str, str], other: Mapping[str, str]) -> str:
    """Return what differs between two fingerprints as text, "" if nothing does."""
    return ", ".join(
        f"{name} {other.get(name, 'missing')} (here {own[name]})"
        for name in own
        if name != HOST and other.get(name) != own[name]
    )
