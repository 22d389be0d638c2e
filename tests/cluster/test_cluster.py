"""Parts on workers in processes of their own: each once, whoever dies, and only by equals."""

from __future__ import annotations

import signal
import socket
import sys
import time
from threading import Thread

import pytest

from regen.studies.sweep import cluster, scheduler
from regen.studies.sweep.cluster import ClusterError, connected
from regen.studies.sweep.fingerprint import HOST, differences, fingerprint, tree_hash
from tests.cluster.conftest import wait_for_workers
from tests.cluster.office import HERE, Office
from tests.cluster.parts import fatal, squared

SOON = 5.0
"""Within this something must come that takes 1 s: the rest is for a busy machine [s]."""


def calls(number: int, seconds: object = 0.05) -> list[tuple[int, tuple[object, int]]]:
    return [(n, (seconds, n)) for n in range(number)]


def refusal(address: str) -> str:
    with pytest.raises(ClusterError) as error, connected(address):
        pass
    return str(error.value)


# --- each part once ----------------------------------------------------------------------------
def test_every_part_comes_back_once_from_both_workers(address):
    with connected(address) as workers:
        assert (workers.workers, workers.threads) == (2, 2)
        found = list(workers.spread(squared, calls(40, 0.01)))
    assert sorted(n for n, _ in found) == list(range(40))
    assert all(square == n * n for n, (square, _) in found)
    assert len({process for _, (_, process) in found}) == 2


def test_no_more_parts_are_handed_out_than_workers_have_in_hand(address):
    asked = []

    def parts():
        for n in range(30):
            asked.append(n)
            yield n, (0.01, n)

    with connected(address) as workers:
        for done, _ in enumerate(workers.spread(squared, parts())):
            # those in hand, those that came in the same moment, and the one asked for in vain
            assert len(asked) <= done + 2 * cluster.AHEAD * workers.threads + 1
    assert len(asked) == 30


def test_a_study_that_is_left_takes_its_parts_back(address):
    with connected(address) as workers:
        run = workers.spread(squared, calls(1000))
        next(run)
        run.close()
        start = time.monotonic()
        assert [n for n, _ in workers.spread(squared, calls(3, 0.0))]
        assert time.monotonic() - start < SOON


def test_an_error_in_a_part_is_the_studys_own(address):
    with connected(address) as workers, pytest.raises(TypeError):
        list(workers.spread(squared, calls(3, "no time")))


# --- who dies ----------------------------------------------------------------------------------
def test_a_worker_killed_in_mid_run_costs_no_part(fresh):
    first, _ = fresh.light(), fresh.light()
    wait_for_workers(fresh, 2)
    told, found = [], []
    with connected(fresh.address, told.append) as workers:
        for n, (square, process) in workers.spread(squared, calls(60)):
            found.append((n, square, process))
            if len(found) == 10:
                first.send_signal(signal.SIGKILL)
    assert sorted((n, square) for n, square, _ in found) == [(n, n * n) for n in range(60)]
    assert first.pid in {process for *_, process in found[:10]}
    assert first.pid not in {process for *_, process in found[20:]}
    assert any("has gone" in text for text in told)


def test_another_worker_takes_over_from_the_last(fresh, monkeypatch):
    first = fresh.light()
    wait_for_workers(fresh, 1)
    told, found = [], []
    with connected(fresh.address, told.append) as workers:
        for n, _ in workers.spread(squared, calls(30)):
            found.append(n)
            if len(found) == 5:
                first.send_signal(signal.SIGKILL)
                fresh.light()
    assert sorted(found) == list(range(30))
    assert any("no worker is left" in text for text in told)
    assert told[-1] == "workers: 1, threads: 1"


def test_patience_with_a_scheduler_without_workers_has_an_end(fresh, monkeypatch):
    monkeypatch.setattr(cluster, "ALONE", 1.0)
    first = fresh.light()
    wait_for_workers(fresh, 1)
    with connected(fresh.address) as workers:
        run = workers.spread(squared, calls(1000))
        next(run)
        first.kill()
        with pytest.raises(ClusterError) as error:
            list(run)
    assert "no worker is left; finished rows are kept" in str(error.value)
    assert f"dask worker tcp://{fresh.address}" in str(error.value)


@pytest.mark.parametrize(
    ("setting", "workers"),
    # the scheduler gives a part up that has workers left; or none is left, and the study does
    [("scheduler:allowed-failures=0", 2), ("scheduler:allowed-failures=9", 1)],
)
def test_a_part_that_kills_its_workers_is_given_up(tmp_path, monkeypatch, setting, workers):
    monkeypatch.setattr(cluster, "DEATHS", 1)
    monkeypatch.setenv(*f"DASK_DISTRIBUTED__{setting}".replace(":", "__").upper().split("="))
    office = Office(tmp_path)
    try:
        for _ in range(workers):
            office.light()
        wait_for_workers(office, workers)
        with connected(office.address) as running:
            run = running.spread(fatal, calls(4, 0.0))
            with pytest.raises(ClusterError, match=r"part \d is given up: worker after worker"):
                list(run)
    finally:
        office.close()


def test_a_scheduler_that_dies_is_told_in_words(fresh):
    fresh.light()
    wait_for_workers(fresh, 1)
    with connected(fresh.address) as workers:
        run = workers.spread(squared, calls(1000))
        next(run)
        fresh.scheduler.kill()
        start = time.monotonic()
        with pytest.raises(ClusterError, match=r"no longer answers; finished rows are kept"):
            list(run)
        assert time.monotonic() - start < SOON


# --- who answers -------------------------------------------------------------------------------
@pytest.fixture
def silent():
    """Return the address of something that takes a connection and never says a word."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield f"127.0.0.1:{server.getsockname()[1]}"


@pytest.fixture
def stranger():
    """Return the address of something that answers, and is no scheduler."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def answer() -> None:
            while True:
                try:
                    other, _ = server.accept()
                except OSError:
                    return
                with other:
                    other.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n")

        Thread(target=answer, daemon=True).start()
        yield f"127.0.0.1:{server.getsockname()[1]}"
        server.shutdown(socket.SHUT_RDWR)


def test_a_scheduler_that_does_not_answer(silent, stranger, monkeypatch):
    monkeypatch.setattr(scheduler, "CONNECT", 1.0)
    for place in ("127.0.0.1:1", silent, stranger, "no-such-machine.invalid:8786"):
        start = time.monotonic()
        said = refusal(place)
        assert time.monotonic() - start < SOON, place
        assert f"--cluster {place}: no Dask scheduler answers there within 1 s" in said
        assert f"dask scheduler --host OWN-ADDRESS --port {place.split(':')[1]}" in said


@pytest.mark.parametrize("given", ["", "office", "192.168.1.20", "http://a:1", "a:b", "a: 8786"])
def test_what_is_no_address(given):
    said = refusal(given)
    assert f'--cluster "{given}": not an address; accepted: HOST:PORT' in said


def test_dask_that_is_not_installed(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert 'pip install "regen[cluster]"' in refusal("127.0.0.1:1")


def test_a_workers_address_is_not_the_schedulers(office, address):
    worker = wait_for_workers(office, 2)[0].removeprefix("tcp://")
    assert "a Dask worker answers there, not the scheduler" in refusal(worker)


def test_a_scheduler_without_workers(fresh, monkeypatch):
    monkeypatch.setattr(scheduler, "CONNECT", 1.0)
    said = refusal(fresh.address)
    assert "the scheduler answers, but has no worker" in said
    assert f"dask worker tcp://{fresh.address} --nworkers -1 --nthreads 1" in said


def test_a_scheduler_that_does_not_know_regen(tmp_path):
    office = Office(tmp_path, "--preload", str(HERE / "without_regen.py"))
    try:
        assert "the scheduler's machine has no such regen" in refusal(office.address)
    finally:
        office.close()


# --- who runs the same -------------------------------------------------------------------------
def test_a_worker_with_other_sources_is_refused_by_name_before_anything_is_sent(fresh):
    fresh.other()
    (other,) = wait_for_workers(fresh, 1)
    fresh.light()
    wait_for_workers(fresh, 2)
    said = refusal(fresh.address)
    own = fingerprint()["sources of regen"]
    assert f"{other}: on {socket.gethostname()}: sources of regen 0123456789ab (here {own})" in said
    assert said.count("tcp://") == 1
    assert "Install the same there" in said


def test_a_worker_with_other_sources_that_comes_later_is_left_out(fresh):
    good = fresh.light()
    (first,) = wait_for_workers(fresh, 1)
    told, by = [], set()
    with connected(fresh.address, told.append) as workers:
        for n, (_, process) in workers.spread(squared, calls(100_000)):
            by.add(process)
            if n == 5:
                fresh.other()
            if len(told) > 1:
                break
    assert by == {good.pid}
    assert told[0] == "workers: 1, threads: 1"
    assert "is left out, on " in told[1]
    assert "sources of regen 0123456789ab" in told[1]
    assert first not in told[1]


def test_a_worker_looks_once_more_before_it_solves(address, monkeypatch):
    monkeypatch.setattr(cluster, "ALONE", 1.0)
    told = []
    with connected(address, told.append) as workers:
        monkeypatch.setattr(workers, "_own", {**fingerprint(), "numpy": "0"})
        run = workers.spread(squared, calls(10))
        with pytest.raises(ClusterError, match="no worker is left"):
            list(run)
    assert sum("is left out, on" in text and "(here 0)" in text for text in told) == 2


def test_every_difference_but_the_host_counts():
    own = dict(fingerprint())
    assert not differences(own, own | {HOST: "elsewhere"})
    for name in own.keys() - {HOST}:
        runs = own | {name: "0"}
        assert differences(own, runs) == f"{name} 0 (here {own[name]})"
    assert differences(own, {HOST: "old"}).count("missing") == len(own) - 1


def test_a_worker_answers_for_what_it_runs_not_for_what_was_installed_since(monkeypatch):
    own = fingerprint()
    monkeypatch.setattr("regen.studies.sweep.fingerprint.tree_hash", lambda folder: "newer")
    assert fingerprint() == own


def test_the_digest_sees_every_file_by_name_and_content(tmp_path):
    (tmp_path / "data").mkdir()
    (tmp_path / "a.py").write_text("1")
    (tmp_path / "data" / "b.csv").write_text("2")
    found = [tree_hash(tmp_path)]
    (tmp_path / "data" / "b.csv").write_text("3")
    found.append(tree_hash(tmp_path))
    (tmp_path / "data" / "b.csv").rename(tmp_path / "data" / "c.csv")
    found.append(tree_hash(tmp_path))
    assert len(set(found)) == 3
    (tmp_path / "__pycache__").mkdir()
    (tmp_path / "__pycache__" / "a.pyc").write_text("1")
    assert tree_hash(tmp_path) == found[-1]
