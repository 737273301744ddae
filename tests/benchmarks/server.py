"""A server of its own for one application: one worker, on the first processor where there are two."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).parent
STARTS_WITHIN_S = 60.0


class Server(NamedTuple):
    """A server that runs."""

    port: int
    process: subprocess.Popen[bytes]

    def processor_s(self) -> float:
        """Return the processor's time that it has taken so far with its own workers, s, as Linux counts it."""
        tasks = [task for pid in _family(self.process.pid) for task in _tasks(pid, "schedstat")]
        return sum(int(task.split()[0]) for task in tasks) / 1e9

    def resident_mb(self) -> float:
        """Return the memory that its first process has in use, MB."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        line = next(line for line in status.splitlines() if line.startswith("VmRSS:"))
        return int(line.split()[1]) / 1024


def _family(pid: int) -> list[int]:
    """Return a process and all that it started."""
    children = [int(child) for listed in _tasks(pid, "children") for child in listed.split()]
    return [pid, *(one for child in children for one in _family(child))]


def _tasks(pid: int, file: str) -> list[str]:
    """Return what a file of each thread of a process says."""
    return [path.read_text() for path in Path(f"/proc/{pid}/task").glob(f"*/{file}")]


def pin(processor: int) -> None:
    """Keep this process on one processor where there are two."""
    if hasattr(os, "sched_setaffinity") and (os.cpu_count() or 1) > 1:
        os.sched_setaffinity(0, {processor})


OURS = ("warmstead.cli", "serve")
"""The service as it is run."""


def plain(app: str) -> tuple[str, ...]:
    """Return how an application is served by the same server, without anything of ours."""
    quiet = ("--log-level", "warning", "--no-access-log", "--timeout-keep-alive", "120")
    return ("uvicorn", app, *quiet)


@contextmanager
def started(how: tuple[str, ...]) -> Iterator[Server]:
    """Start an application on a free port; it need not listen yet.

    Args:
        how: the module that serves it, and what it is told.
    """
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", *how, "--port", str(port)]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(HERE), os.environ.get("PYTHONPATH", "")])}
    # An installed service has its bytecode; so have both here, wherever this runs.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    environment["PYTHONPYCACHEPREFIX"] = str(Path(tempfile.gettempdir()) / "benchmark-bytecode")
    # Its output would cost the reader's processor.
    with subprocess.Popen(
        command, env=environment, stderr=subprocess.DEVNULL, preexec_fn=lambda: pin(0)
    ) as process:
        try:
            yield Server(port, process)
        finally:
            process.terminate()


@contextmanager
def server(how: tuple[str, ...]) -> Iterator[Server]:
    """Serve an application."""
    with started(how) as running:
        until_listening(running)
        yield running


def until_listening(running: Server) -> None:
    """Wait until a server accepts connections.

    Raises:
        RuntimeError: it ended, or took too long.
    """
    deadline = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < deadline and running.process.poll() is None:
        try:
            socket.create_connection(("127.0.0.1", running.port), timeout=1).close()
            return
        except OSError:
            time.sleep(0.002)
    raise RuntimeError("the server did not start")
