"""The connection to a Dask scheduler, or a message that says why there is none."""

# ruff: noqa: EM101, EM102 - these messages are read by people, never in a traceback

from __future__ import annotations

import asyncio
import logging
import re
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from regen.sources import read_data

CONNECT = 10.0
"""How long the scheduler may take to answer, and to have a worker [s]."""

START = "dask scheduler --host OWN-ADDRESS"
JOIN = "dask worker tcp://{address} --nworkers -1 --nthreads 1"
"""A process for each core: threads of one process get in each other's way."""

_ADDRESS = re.compile(r"(?:tcp://)?([^/\s]+:\d{1,5})/?")


class ClusterError(RuntimeError):
    """The scheduler or its workers cannot be used; finished rows are kept."""


def texts() -> Mapping[str, str]:
    """Return the messages about a cluster, of data/studies.toml."""
    messages: Mapping[str, str] = read_data("studies.toml")["cluster"]
    return messages


def place_of(address: str) -> str:
    """Return "host:port" of a scheduler's address, or raise ``ClusterError``."""
    match = _ADDRESS.fullmatch(address.strip())
    if not match:
        raise ClusterError(texts()["address"].format(address=address))
    return match[1]


@contextmanager
def quiet() -> Iterator[None]:
    """Silence Dask's own log and warnings: what matters of them is reported here."""
    names = [n for n in logging.root.manager.loggerDict if n.partition(".")[0] == "distributed"]
    levels = {log: log.level for log in map(logging.getLogger, names)}
    try:
        for log in levels:
            log.setLevel(logging.CRITICAL + 1)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", dask().versions.VersionMismatchWarning)
            yield
    finally:
        for log, level in levels.items():
            log.setLevel(level)


def dask() -> Any:
    """Return the package ``distributed``, imported late, or raise ``ClusterError``."""
    try:
        import distributed
    except ImportError:
        raise ClusterError(texts()["package"]) from None
    return distributed


def client_of(place: str) -> Any:
    """Return a client connected to the scheduler at "host:port", or raise ``ClusterError``."""
    cause: Exception | None = None
    try:
        # Dask itself waits for ever for the greeting of a port that takes calls and is silent
        kind = asyncio.run(asyncio.wait_for(_answering(f"tcp://{place}"), CONNECT))
        if kind == "Scheduler":
            settings = {"timeout": CONNECT, "set_as_default": False, "name": "regen"}
            return dask().Client(f"tcp://{place}", **settings)
        what = f"a Dask {kind.lower()} answers there, not the scheduler"
    except Exception as error:  # strangers answer with anything at all
        what, cause = f"no Dask scheduler answers there within {CONNECT:.0f} s", error
    text = texts()["connection"]
    port = place.rpartition(":")[2]
    raise ClusterError(text.format(place=place, what=what, start=START, port=port)) from cause


async def _answering(address: str) -> str:
    """Return what answers at an address, as Dask calls it."""
    comm = await dask().comm.connect(address, timeout=CONNECT)
    try:
        await comm.write({"op": "identity", "reply": True})
        return str((await comm.read())["type"])
    finally:
        comm.abort()
