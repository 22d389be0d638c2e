"""One scheduler with two workers for all tests, or one to itself for a test that breaks things."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from tests.cluster.office import PATIENCE, Office


@pytest.fixture(scope="session")
def office(tmp_path_factory) -> Iterator[Office]:
    """Return a scheduler and two workers for parts that cost nothing."""
    office = Office(tmp_path_factory.mktemp("office"))
    office.light(), office.light()
    yield office
    office.close()


@pytest.fixture
def address(office) -> str:
    """Return the scheduler's address, once both its workers are there."""
    wait_for_workers(office, 2)
    return office.address


@pytest.fixture
def fresh(tmp_path) -> Iterator[Office]:
    """Return a scheduler without workers."""
    office = Office(tmp_path)
    yield office
    office.close()


def wait_for_workers(office: Office, number: int) -> list[str]:
    """Return the workers' addresses, once there are so many."""
    from distributed import Client

    until = time.monotonic() + PATIENCE
    with Client(office.url, set_as_default=False) as client:
        while len(client.nthreads()) != number:
            assert time.monotonic() < until, f"{len(client.nthreads())} workers, not {number}"
            time.sleep(0.05)
        return list(client.nthreads())
