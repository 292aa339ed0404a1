"""Stops: a run cut off, a worker killed, a cluster that loses a worker. Real processes."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from expander.batch import pool
from expander.batch.orders import Order
from expander.batch.pool import Cluster, Local
from expander.batch.run import run_batch
from expander.batch.telling import DONE, FAILED
from expander.batch.work import Made
from expander.errors import BadUsage
from expander.musicxml import read
from tests.batch.songs import QUARTET, Here, files_in, write_songs

PROGRAM = [sys.executable, "-c", "from expander.__main__ import run; run()"]


def orders(paths, **more):
    return [Order(path.stem, path, ensemble=QUARTET, **more) for path in paths]


@pytest.fixture(scope="module")
def songs(tmp_path_factory):
    return write_songs(tmp_path_factory.mktemp("songs"), 6, bars=16)


@pytest.fixture(scope="module")
def wanted(songs, tmp_path_factory):
    """What a run without stops makes, with one worker of this process."""
    out = tmp_path_factory.mktemp("wanted")
    run_batch(orders(songs, parts=True), out, Here())
    return files_in(out)


def begun(songs, out) -> subprocess.Popen:
    words = ["batch", *map(str, songs), "-o", str(out), "-e", QUARTET, "--parts", "--workers", "2"]
    return subprocess.Popen(
        [*PROGRAM, *words], stderr=subprocess.PIPE, text=True, start_new_session=True
    )


def test_any_number_of_workers_makes_the_same_bytes(songs, wanted, tmp_path) -> None:
    outcomes = run_batch(orders(songs, parts=True), tmp_path, Local(2))
    assert [o.result for o in outcomes] == [DONE] * 6
    assert files_in(tmp_path) == wanted


def test_a_run_stopped_twice_leaves_whole_files_and_is_finished_by_the_next(
    songs, wanted, tmp_path
) -> None:
    for end in (signal.SIGTERM, signal.SIGKILL):
        running = begun(songs, tmp_path)
        assert running.stderr is not None
        running.stderr.readline()
        running.send_signal(end)
        running.communicate(timeout=60)
        assert running.returncode != 0
        _whole(tmp_path, wanted)
    last = begun(songs, tmp_path)
    told = last.communicate(timeout=60)[1]
    assert last.returncode == 0, told
    assert "unchanged" in told
    assert files_in(tmp_path) == wanted


def _whole(out: Path, wanted) -> None:
    """Every file that stands is one of those wanted, whole."""
    for name, data in files_in(out).items():
        if not Path(name).name.startswith("."):
            assert data == wanted[name]
    assert all(read(path).parts for path in out.rglob("score.musicxml"))


# A worker that is killed --------------------------------------------------------------------------


def fatal(job) -> Made:
    """Work that kills its process for one sketch, as running out of memory does."""
    if "song-003" in job.sketch_name:
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.05)
    return Made(files=(("score.musicxml", b"done"), ("report.json", b"{}")))


def test_the_job_that_kills_its_worker_is_told_and_the_rest_are_done(
    songs, tmp_path, monkeypatch
) -> None:
    monkeypatch.setattr(pool, "work", fatal)
    outcomes = run_batch(orders(songs[:4]), tmp_path, Local(2))
    assert [o.result for o in outcomes].count(DONE) == 3
    (failed,) = [o for o in outcomes if o.result == FAILED]
    assert failed.order.name == "song-003"
    assert "killed" in failed.wrong


# A cluster ---------------------------------------------------------------------------------------


def free_port() -> int:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return int(held.getsockname()[1])


def start(*words: str) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "-m", *words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )


@pytest.fixture
def cluster(tmp_path):
    """A scheduler and two workers, each a process of its own; the workers' processes too."""
    pytest.importorskip("distributed")
    port = free_port()
    address = f"tcp://127.0.0.1:{port}"
    words = ("--port", str(port), "--no-dashboard", "--host", "127.0.0.1")
    processes = [start("distributed.cli.dask_scheduler", *words)]
    try:
        _answers(port)
        own = (
            "--no-nanny",
            "--nthreads",
            "1",
            "--no-dashboard",
            "--local-directory",
            str(tmp_path),
        )
        processes += [start("distributed.cli.dask_worker", address, *own) for _ in range(2)]
        yield address, processes[1:]
    finally:
        for process in processes:
            process.kill()
            process.wait()


def _answers(port: int) -> None:
    for _ in range(200):
        try:
            socket.create_connection(("127.0.0.1", port), 0.2).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError("the scheduler did not start")


def test_a_cluster_that_loses_a_worker_does_every_job_once(
    songs, wanted, cluster, tmp_path
) -> None:
    address, workers = cluster
    told = []

    def tell(outcome) -> None:
        told.append(outcome.order.name)
        if len(told) == 2:
            workers[0].kill()

    out = tmp_path / "out"
    outcomes = run_batch(orders(songs, parts=True), out, Cluster(address), tell=tell)
    assert [o.result for o in outcomes] == [DONE] * 6, [o.wrong for o in outcomes]
    assert sorted(told) == [path.stem for path in songs]
    assert files_in(out) == wanted
    assert workers[0].wait(10) != 0
    assert workers[1].poll() is None


def test_where_no_scheduler_answers_the_message_says_what_to_try(songs, tmp_path) -> None:
    pytest.importorskip("distributed")
    address = f"tcp://127.0.0.1:{free_port()}"
    with pytest.raises(BadUsage, match="no scheduler answers"):
        run_batch(orders(songs[:1]), tmp_path, Cluster(address, patience=0.5))
