"""A scheduler and workers as processes of their own on this machine."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PATHS = os.pathsep.join((str(ROOT), str(ROOT / "cli")))
PATIENCE = 60.0
"""How long a process may take to start on a busy machine [s]."""


class Office:
    """Starts processes, and ends what it started."""

    def __init__(self, folder: Path, *more: str) -> None:
        self.folder = folder
        self.log = (folder / "log").open("ab")
        self.processes: list[subprocess.Popen[bytes]] = []
        card = folder / "scheduler.json"
        self.scheduler = self.start(
            *("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"),
            # should this process be killed: workers follow their scheduler
            *("--scheduler-file", str(card), "--idle-timeout", "300", *more),
        )
        self.url = _address_in(card)
        self.address = self.url.removeprefix("tcp://")

    def start(self, what: str, *arguments: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.dask_{what}", *arguments]
        environment = os.environ | {"PYTHONPATH": PATHS}
        process = subprocess.Popen(
            command, cwd=self.folder, env=environment, stdout=self.log, stderr=self.log
        )
        self.processes.append(process)
        return process

    def worker(self, *preloads: str, threads: int = 1) -> subprocess.Popen[bytes]:
        """Start a worker that can solve, and that no nanny starts again."""
        more = [word for name in preloads for word in ("--preload", str(HERE / name))]
        alone = ("--no-nanny", "--nthreads", str(threads), "--no-dashboard")
        alone += ("--death-timeout", "60")
        return self.start("worker", self.url, *alone, *more)

    def light(self) -> subprocess.Popen[bytes]:
        """Start a worker for parts that cost nothing."""
        return self.worker("light.py")

    def other(self) -> subprocess.Popen[bytes]:
        """Start a worker that runs other sources."""
        return self.worker("other_sources.py")

    def close(self) -> None:
        for process in self.processes:
            process.kill()
        for process in self.processes:
            process.wait()
        self.log.close()


def _address_in(card: Path) -> str:
    """Return the address a scheduler writes down: there may be a moment between file and text."""
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        with suppress(OSError, ValueError):
            return str(json.loads(card.read_text())["address"])
        time.sleep(0.05)
    message = f"no scheduler has written {card}"
    raise TimeoutError(message)
