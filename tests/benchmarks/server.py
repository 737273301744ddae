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


def pin(processor: int) -> None:
    """Keep this process on one processor where there are two."""
    if hasattr(os, "sched_setaffinity") and (os.cpu_count() or 1) > 1:
        os.sched_setaffinity(0, {processor})


@contextmanager
def started(app: str) -> Iterator[Server]:
    """Start an application on a free port; it need not listen yet."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "uvicorn", app, "--port", str(port)]
    command += ["--log-level", "warning", "--no-access-log", "--timeout-keep-alive", "120"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(HERE), os.environ.get("PYTHONPATH", "")])}
    # An installed service has its bytecode; so have both here, wherever this runs.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    environment["PYTHONPYCACHEPREFIX"] = str(Path(tempfile.gettempdir()) / "benchmark-bytecode")
    with subprocess.Popen(command, env=environment, preexec_fn=lambda: pin(0)) as process:
        try:
            yield Server(port, process)
        finally:
            process.terminate()


@contextmanager
def server(app: str) -> Iterator[Server]:
    """Serve an application."""
    with started(app) as running:
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
