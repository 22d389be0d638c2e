"""The one decorator that compiles the physics, with a disk cache that cannot go stale.

numba's own cache looks only at the file of the cached function: an edited correlation in another
file would leave its caller returning the old number. Here the cache folder is named after the
hash of every source file of this package, so an edit anywhere in it means a new folder.
"""

from __future__ import annotations

import hashlib
import logging
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba.core import config as _config
from platformdirs import user_cache_path

config: Any = _config
log = logging.getLogger(__name__)


def package_digest() -> str:
    """Return a hash of this package's sources and of the compiler's version."""
    state = hashlib.sha256(numba.__version__.encode())
    for path in sorted(Path(__file__).parent.glob("*.py")):
        state.update(path.name.encode() + path.read_bytes())
    return state.hexdigest()[:16]


def _cache_folder() -> str | None:
    given = os.environ.get("REGEN_CACHE")
    root = Path(given) if given else Path(user_cache_path("regen"))
    folder = root / f"compiled-{package_digest()}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / f".probe-{os.getpid()}"
        probe.touch()
        probe.unlink()
    except OSError as error:
        log.warning(
            "cannot write the cache folder %s (%s): compiling anew in every process", folder, error
        )
        return None
    return str(folder)


CACHE_FOLDER = _cache_folder()


def inlined(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile as ``jit`` does, and copy the function into its callers whatever its size.

    A property table is passed as some seventy numbers: a call that takes one in the middle of
    the wall balance costs a tenth of the march.
    """
    return jit(function, forceinline=True)


def jit(function: Callable[..., Any], **more: bool) -> Callable[..., Any]:
    """Compile a scalar or array function of the physics, cached on disk.

    No fastmath and no automatic threads: a batch must equal its single runs to the last bit.
    Nothing is allocated inside (``_nrt=False`` refuses it): counting references to the tables
    at every lookup took a third of the time, and two threads stood in each other's way.
    """
    before = config.CACHE_DIR
    config.CACHE_DIR = CACHE_FOLDER or before
    try:
        # private options of the compiler: the pinned range of numba in pyproject.toml has them
        options: dict[str, Any] = {"_nrt": False, **more}
        compiled: Callable[..., Any] = numba.njit(
            nogil=True, cache=CACHE_FOLDER is not None, error_model="numpy", **options
        )(function)
    finally:
        config.CACHE_DIR = before
    return compiled
