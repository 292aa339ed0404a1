"""Workers: processes of this machine, or those of a Dask scheduler; both do the very same.

A worker process that dies takes its pool with it. What was unfinished is then given to a new pool
and, after that happened again, one job at a time, so that the job that kills is known and told.
"""

from __future__ import annotations

import importlib
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor, Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import Any

from expander.batch.work import Made, Work, work
from expander.errors import BadUsage

MOST_BREAKS = 2
KILLED = "the worker doing this job was killed, perhaps for want of memory"

Jobs = Mapping[int, Work]


class Local:
    """Worker processes of this machine."""

    def __init__(self, workers: int) -> None:
        self.workers = workers

    def results(self, jobs: Jobs) -> Iterator[tuple[int, Made]]:
        """Each job's result as it comes."""
        left = dict(jobs)
        for _ in range(MOST_BREAKS):
            yield from self._round(left, self.workers)
            if not left:
                return
        for number in list(left):
            alone = {number: left[number]}
            yield from self._round(alone, 1)
            if alone:
                yield number, Made(wrong=f"{left[number].sketch_name}: {KILLED}.")

    def _round(self, left: dict[int, Work], workers: int) -> Iterator[tuple[int, Made]]:
        """Results until the pool breaks; what is done is taken out of `left`."""
        with _pool(min(workers, len(left))) as pool:
            futures = {pool.submit(work, job): number for number, job in left.items()}
            for future in as_completed(futures):
                number = futures.pop(future)  # a finished job's files are not held any longer
                made = _result(future)
                if made is not None:
                    del left[number]
                    yield number, made


def _result(future: Future[Made]) -> Made | None:
    """The result of a job; None where its worker was lost."""
    try:
        return future.result()
    except BrokenProcessPool:
        return None


@contextmanager
def _pool(workers: int) -> Iterator[Executor]:
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(workers, context, _begin, (os.getpid(),))
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _begin(parent: int) -> None:
    """A worker leaves interruptions to the main process, and does not outlive it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_watch, args=(parent,), daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(0.5)
    os._exit(1)


class Cluster:
    """The workers of a Dask scheduler that runs already; it gives lost jobs to other workers.

    `patience` is how many seconds the scheduler has to answer.
    """

    def __init__(self, address: str, patience: float = 10.0) -> None:
        self.address = address
        self.patience = patience

    def results(self, jobs: Jobs) -> Iterator[tuple[int, Made]]:
        """Each job's result as it comes."""
        client = self._client()
        try:
            pool = client.get_executor(pure=False)
            futures = {pool.submit(work, job): number for number, job in jobs.items()}
            for future in as_completed(futures):
                number = futures.pop(future)
                yield number, _from_afar(future, jobs[number])
        finally:
            client.close()

    def _client(self) -> Any:  # noqa: ANN401 - a library without types
        try:
            distributed: Any = importlib.import_module("distributed")
        except ImportError as error:
            raise BadUsage(
                "working on a cluster needs the library distributed, which is not installed.",
                hint="In the program's folder: pip install '.[cluster]'",
            ) from error
        try:
            return distributed.Client(self.address, timeout=self.patience, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as error:
            raise BadUsage(
                f"no scheduler answers at '{self.address}' ({error}).",
                hint="Give the address it printed when it was started, such as tcp://host:8786.",
            ) from error


def _from_afar(future: Future[Made], job: Work) -> Made:
    """A result from another machine, held against this program's version."""
    from expander import __version__

    try:
        made = future.result()
    except Exception as error:  # lost workers, lost scheduler, another program at the other end
        text = " ".join(str(error).split())[:200]
        return Made(wrong=f"{job.sketch_name}: the cluster gave the job up: {text}")
    if made.version != __version__:
        said = f"a worker has version {made.version}, here is {__version__}; install the same."
        return Made(wrong=f"{job.sketch_name}: {said}")
    return made
