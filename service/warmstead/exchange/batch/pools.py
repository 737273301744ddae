"""Who works on a batch: processes of this machine, or a cluster. Both take a function and its arguments and promise what it returns."""

from __future__ import annotations

import gc
import importlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from typing import Any, Protocol

PARTS_AHEAD = 2
"""Parts given out for each worker, so that none waits for the next one and few are in memory."""
CONNECT_SECONDS = 20


class PoolFailed(Exception):
    """Nobody can work; says why."""


class Pool(Protocol):
    """Where work is given out."""

    window: int
    """Parts that are given out at a time."""

    def submit(self, work: Callable[..., Any], *arguments: Any) -> Future[Any]:
        """Give out one piece of work."""
        ...

    def begin_again(self) -> None:
        """Replace workers after one of them broke; all that was given out is lost."""
        ...

    def close(self) -> None:
        """End all work."""
        ...


class LocalPool:
    """Processes of this machine."""

    def __init__(self, workers: int) -> None:
        """Args: workers: how many processes."""
        self._workers = workers
        self.window = PARTS_AHEAD * workers
        self._executor = self._begun()

    def _begun(self) -> Executor:
        # A fresh interpreter for each: a fork would take over threads and locks that are in use.
        context = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(self._workers, mp_context=context, initializer=_begin_worker)

    def submit(self, work: Callable[..., Any], *arguments: Any) -> Future[Any]:
        """Give out one piece of work."""
        return self._executor.submit(work, *arguments)

    def begin_again(self) -> None:
        """Replace all processes: after one broke, the executor takes no more work."""
        self.close()
        self._executor = self._begun()

    def close(self) -> None:
        """End the processes once they have done what they are at."""
        self._executor.shutdown(cancel_futures=True)


def _begin_worker() -> None:
    """Make a process ready to work, and to end when the one that began it is gone, even if that was killed."""
    # An interrupt from the keyboard is for the one who gives out work.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    # What lives as long as the process is loaded before it is frozen.
    for question in importlib.import_module("warmstead.questions.registry").QUESTIONS.values():
        question.load()
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


class ClusterPool:
    """Workers of a Dask cluster, which have this package in the same version. Needs the extra `cluster`."""

    def __init__(self, address: str) -> None:
        """Args: address: of the scheduler, such as `tcp://scheduler.example:8786`.

        Raises:
            PoolFailed: the extra is not installed, or there is no cluster, or it has no workers.
        """
        try:
            from distributed import Client
        except ImportError as error:
            raise PoolFailed(
                f"a cluster needs the extra: pip install 'warmstead[cluster]' ({error})"
            ) from None
        try:
            client: Any = Client  # it has no types
            self._client = client(address, timeout=CONNECT_SECONDS, set_as_default=False)
            self._client.wait_for_workers(1, timeout=CONNECT_SECONDS)
        except (OSError, TimeoutError, ValueError) as error:
            raise PoolFailed(f"no cluster with a worker at {address}: {error}") from None
        self.window = PARTS_AHEAD * max(1, sum(self._client.nthreads().values()))
        # Not pure: the scheduler must not give out a part that is done as an answer to another run.
        self._executor = self._client.get_executor(pure=False)

    def submit(self, work: Callable[..., Any], *arguments: Any) -> Future[Any]:
        """Give out one piece of work; the scheduler gives it out again should its worker be lost."""
        promised: Future[Any] = self._executor.submit(work, *arguments)
        return promised

    def begin_again(self) -> None:
        """Do nothing: the scheduler has the workers in hand."""

    def close(self) -> None:
        """Take back what is not yet done, and leave the cluster."""
        self._executor.shutdown(wait=False)
        self._client.close()
