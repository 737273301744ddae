"""A service in a process of its own, with all that it writes kept."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import httpx
import pytest

SECONDS_TO_START = 60.0


class Served(NamedTuple):
    """A service that runs."""

    address: str
    process: subprocess.Popen[bytes]
    output: Path
    errors: Path

    def written(self) -> str:
        """Return all that it has written so far."""
        return self.output.read_text() + self.errors.read_text()

    def ended(self) -> int:
        """End it and return its status."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(20)


Serve = Callable[..., Served]


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Serve]:
    """Return a function that starts a service: by its command, or by what is given in its place."""
    started: list[Served] = []

    def start(
        *options: str,
        environment: dict[str, str] | None = None,
        command: tuple[str, ...] = ("warmstead.cli", "serve"),
    ) -> Served:
        port = free_port()
        name = f"service-{len(started)}"
        output, errors = tmp_path / f"{name}.out", tmp_path / f"{name}.err"
        own = {
            k: v for k, v in os.environ.items() if not k.startswith(("WARMSTEAD_", "OTEL_", "PROMETHEUS_"))
        }
        with output.open("wb") as out, errors.open("wb") as err:
            process = subprocess.Popen(
                [sys.executable, "-m", *command, "--port", str(port), *options],
                stdout=out,
                stderr=err,
                env=own | (environment or {}),
            )
        served = Served(f"http://127.0.0.1:{port}", process, output, errors)
        started.append(served)
        deadline = time.monotonic() + SECONDS_TO_START
        while True:
            try:
                httpx.get(f"{served.address}/healthz")
                return served
            except httpx.HTTPError:
                assert process.poll() is None, served.written()
                assert time.monotonic() < deadline, served.written()
                time.sleep(0.05)

    yield start
    for served in started:
        if served.process.poll() is None:
            served.process.terminate()
            try:
                served.process.wait(20)
            except subprocess.TimeoutExpired:
                served.process.kill()
                served.process.wait()
