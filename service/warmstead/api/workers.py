"""Work in processes that can be ended: past its time, past its memory, or when nobody waits for it any more.

A thread cannot be stopped; a process can. The processes are forked from one that has everything imported, so that one that was
ended is replaced within milliseconds; nothing is started before the first work comes. Tried instead: `anyio.to_process` imports
everything anew for each replacement (thirty times as long), tells no exit status and renews nothing; `loky` loses all work when one
of its processes is killed; `pebble` does the job, but takes fifteen times as long to replace a process, and is one more dependency.
"""

from __future__ import annotations

import atexit
import gc
import multiprocessing
import os
import signal
import sys
import tempfile
import traceback
from asyncio import CancelledError, Task, create_task, shield, timeout
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection
from typing import Any, NamedTuple

from anyio import CapacityLimiter, to_thread

MEBIBYTE = 1024 * 1024
READY = "ready"
START_SECONDS = 60.0
"""A process that cannot work by then is given up."""
GRACE_SECONDS = 5.0
"""A process whose server was killed ends its own work this long after the time for it."""


class Ended(Exception):
    """A process ended with the work unfinished; the exit status, negative for a signal."""

    def __init__(self, exit_status: int | None) -> None:
        super().__init__(exit_status)
        self.exit_status = exit_status


class OverTime(Exception):
    """The work was not finished in time; its process was killed."""


class OverMemory(Exception):
    """The work needed more memory than it may have; its process has ended."""


LAST_WORDS = (b"memory allocation of", b"bad_alloc", b"MemoryError", b"Cannot allocate memory")
"""What compiled libraries write before they abort for want of memory."""


class NoTurn(Exception):
    """All processes were at work, and no turn came in time, or too many were waiting, or the system had no room for another."""


class WorkFailed(Exception):
    """The work raised an error that it should not: its kind and where, without its words, which could quote a request."""


class Bounds(NamedTuple):
    """What work may take, and how much of it there may be."""

    at_once: int
    waiting: int
    waiting_seconds: float
    seconds: float
    memory_mebibytes: int
    before_renewal: int
    preloaded: Sequence[str]
    """Modules with the functions that are to be called."""


class _Done(NamedTuple):
    value: Any


class _Failed(NamedTuple):
    where: str


class _OutOfMemory(NamedTuple):
    pass


def _work(connection: Connection, words: Connection, bounds: Bounds) -> None:
    """Do what comes over the connection until it is closed. Runs in the process of its own."""
    # An operator's Ctrl-C or a service manager may signal the whole group: the server decides when this process ends.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    # What libraries say on standard error could quote a request; the server looks in it for want of memory, and drops it.
    os.dup2(words.fileno(), sys.stderr.fileno())
    os.set_blocking(sys.stderr.fileno(), False)
    _limit_memory(bounds.memory_mebibytes)
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
    connection.send(READY)
    while True:
        try:
            work, arguments = connection.recv()
        except (EOFError, OSError):
            return
        _end_after(bounds.seconds + GRACE_SECONDS)
        try:
            outcome: _Done | _Failed | _OutOfMemory = _Done(work(*arguments))
        except MemoryError:
            outcome = _OutOfMemory()
        except Exception as error:
            frames = "".join(traceback.format_tb(error.__traceback__))
            outcome = _Failed(f"{type(error).__name__}\n{frames}")
        _end_after(0)
        del work, arguments
        try:
            connection.send(outcome)
        except OSError:
            return
        if isinstance(outcome, _OutOfMemory):
            return  # what the failure left behind is unknown


def _limit_memory(mebibytes: int) -> None:
    if sys.platform == "win32":
        return
    import resource

    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    wanted = mebibytes * MEBIBYTE
    resource.setrlimit(
        resource.RLIMIT_AS, (wanted if hard == resource.RLIM_INFINITY else min(wanted, hard), hard)
    )


def _end_after(seconds: float) -> None:
    if sys.platform != "win32":
        signal.setitimer(signal.ITIMER_REAL, seconds)


class _Worker:
    """One process and the connection to it."""

    def __init__(self, bounds: Bounds) -> None:
        self._bounds = bounds
        self._process: Any = None
        self.done = 0

    def start(self) -> None:
        """Start the process, and wait until it can work.

        Raises:
            Ended: it did not start.
            NoTurn: the system has no descriptors or no memory for it now, or the process that forks was killed while it did.
        """
        context = _context(self._bounds.preloaded)
        try:
            self._connection, theirs = context.Pipe()
            self._words, spoken = context.Pipe(duplex=False)
            process = context.Process(target=_work, args=(theirs, spoken, self._bounds), name="long work")
            process.start()
        except (OSError, EOFError):
            raise NoTurn from None
        self._process = process
        theirs.close()
        spoken.close()
        try:
            if self._connection.poll(START_SECONDS) and self._connection.recv() == READY:
                return
        except (EOFError, OSError):
            pass
        self._process.kill()
        self._process.join()
        raise Ended(self._process.exitcode)

    def do(self, work: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
        """Have some work done, and wait for it.

        Raises:
            Ended, OverMemory, WorkFailed: it was not done.
        """
        try:
            self._connection.send((work, arguments))
            outcome = self._connection.recv()
        except (EOFError, OSError):
            self._process.join()
            if any(words in self._last_words() for words in LAST_WORDS):
                raise OverMemory from None
            raise Ended(self._process.exitcode) from None
        self.done += 1
        if isinstance(outcome, _OutOfMemory):
            raise OverMemory
        if isinstance(outcome, _Failed):
            raise WorkFailed(outcome.where)
        return outcome.value

    def _last_words(self) -> bytes:
        os.set_blocking(self._words.fileno(), False)
        try:
            return os.read(self._words.fileno(), MEBIBYTE)
        except OSError:
            return b""

    def alive(self) -> bool:
        """Return whether the process, which has nothing to do, is there.

        Its end of the connection is closed before the system says that it has ended, and it sends nothing by itself.
        """
        return not self._connection.poll() and bool(self._process.is_alive())

    def kill(self) -> None:
        """End the process at once, also while another thread waits for what it does."""
        if self._process is not None:
            self._process.kill()


def _context(preloaded: Sequence[str]) -> Any:
    # One question has one processor: the numerical libraries would start a thread for each of them.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if "forkserver" not in multiprocessing.get_all_start_methods() or not _has_temporary_folder():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(preloaded))
    return context


def _has_temporary_folder() -> bool:
    """Return whether there is a place for the socket of the process that forks; with a read-only file system there may be none."""
    try:
        tempfile.gettempdir()
    except FileNotFoundError:
        return False
    return True


class Workers:
    """A few processes, started when they are needed and replaced when they have ended."""

    def __init__(self, bounds: Bounds) -> None:
        self._bounds = bounds
        self._all: set[_Worker] = set()
        self._idle: list[_Worker] = []
        self._turns = CapacityLimiter(bounds.at_once)
        self._threads = CapacityLimiter(2 * bounds.at_once + 2)
        # Before the standard library would wait for these processes at exit.
        atexit.register(self.close)

    async def do(self, work: Callable[..., Any], *arguments: Any) -> Any:
        """Return what a function of a module returns for arguments that can be sent; cancelled, the work is ended.

        Raises:
            NoTurn, OverTime, OverMemory, Ended, WorkFailed: there is no result.
        """
        await self._turn()
        try:
            return await self._done(work, arguments)
        finally:
            self._turns.release()

    async def _turn(self) -> None:
        if self._turns.statistics().tasks_waiting >= self._bounds.waiting:
            raise NoTurn
        try:
            async with timeout(self._bounds.waiting_seconds):
                await self._turns.acquire()
        except TimeoutError:
            raise NoTurn from None

    async def _done(self, work: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
        worker = await self._worker()
        try:
            async with timeout(self._bounds.seconds):
                value = await to_thread.run_sync(
                    worker.do, work, arguments, abandon_on_cancel=True, limiter=self._threads
                )
        except WorkFailed:
            self._keep(worker)
            raise
        except TimeoutError:
            self._lose(worker)
            raise OverTime from None
        except BaseException:
            self._lose(worker)
            raise
        self._keep(worker)
        return value

    async def _worker(self) -> _Worker:
        while self._idle:
            worker = self._idle.pop()
            if worker.alive():
                return worker
            self._lose(worker)
        worker = _Worker(self._bounds)
        self._all.add(worker)
        starting = create_task(to_thread.run_sync(worker.start, limiter=self._threads))
        try:
            await shield(starting)
        except CancelledError:
            # Nobody waits for it any more, but somebody will: a start can't be stopped half-way.
            starting.add_done_callback(lambda started: self._started_for_others(worker, started))
            raise
        except (Ended, NoTurn):
            self._all.discard(worker)
            raise
        return worker

    def _started_for_others(self, worker: _Worker, started: Task[None]) -> None:
        if started.cancelled() or started.exception() is not None:
            self._all.discard(worker)
        else:
            self._keep(worker)

    def _keep(self, worker: _Worker) -> None:
        if worker.done < self._bounds.before_renewal and len(self._idle) < self._bounds.at_once:
            self._idle.append(worker)
        else:
            self._lose(worker)

    def _lose(self, worker: _Worker) -> None:
        worker.kill()
        self._all.discard(worker)

    def close(self) -> None:
        """End all processes, whatever they are at."""
        self._idle.clear()
        while self._all:
            self._all.pop().kill()
