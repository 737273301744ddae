"""A service of its own process, told its limits by the environment, and sockets to it that behave badly."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import httpx
import psutil

from warmstead.api.settings import variable
from warmstead.demo import requests

START_SECONDS = 90.0
PATIENCE = 60.0
"""No limit under test is near it: reached, the service has not reacted at all."""


class Service:
    """A running service."""

    def __init__(self, process: subprocess.Popen[bytes], port: int, log: Path) -> None:
        self.process = process
        self.port = port
        self.log = log
        self.url = f"http://127.0.0.1:{port}"

    def post(self, question: str, body: bytes, **headers: str) -> httpx.Response:
        """Ask a question over a connection of its own."""
        sent = {"content-type": "application/json", **headers}
        return httpx.post(f"{self.url}/v1/{question}", content=body, headers=sent, timeout=PATIENCE)

    def connect(self) -> socket.socket:
        """Open a connection."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE)

    def working(self) -> list[psutil.Process]:
        """Return the processes that do long work: children of the one they are forked from."""
        server = psutil.Process(self.process.pid)
        return [child for child in server.children(recursive=True) if _parent(child) != server.pid]

    def servers(self) -> set[int]:
        """Return the server processes of a service with several."""
        children = psutil.Process(self.process.pid).children()
        return {child.pid for child in children if "spawn_main" in " ".join(_command(child))}

    def busy(self) -> bool:
        """Return whether long work is being done."""
        return any(_load(process) > 5 for process in self.working())


def _parent(process: psutil.Process) -> int:
    with suppress(psutil.NoSuchProcess):
        return process.ppid()
    return 0


def _command(process: psutil.Process) -> list[str]:
    with suppress(psutil.NoSuchProcess, psutil.ZombieProcess):
        return process.cmdline()
    return []


def _load(process: psutil.Process) -> float:
    with suppress(psutil.NoSuchProcess):
        return process.cpu_percent(0.1)
    return 0.0


def said(connection: socket.socket) -> bytes:
    """Return all that is sent until the connection is closed."""
    answer = b""
    while part := connection.recv(65536):
        answer += part
    return answer


def problem(answer: bytes) -> tuple[int, str]:
    """Return status and kind of an answer that was read from a socket."""
    head, _, body = answer.partition(b"\r\n\r\n")
    assert b"content-type: application/problem+json" in head.lower(), head
    document: dict[str, Any] = json.loads(body)
    assert document["status"] == int(head.split()[1])
    return document["status"], document["type"].removeprefix("urn:warmstead:problem:")


def until(condition: Callable[[], bool], seconds: float = PATIENCE) -> None:
    """Wait for something to become true."""
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.05)


@contextmanager
def serving(folder: Path, *options: str, **settings: float) -> Iterator[Service]:
    """Run the service with settings."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, **{variable(name): str(value) for name, value in settings.items()}}
    log = folder / f"service-{port}.log"
    command = [sys.executable, "-m", "warmstead.cli", "serve", "--port", str(port), *options]
    with log.open("wb") as output:
        process = subprocess.Popen(command, env=environment, stdout=output, stderr=subprocess.STDOUT)
    try:
        until(lambda: _answers(port) or process.poll() is not None, START_SECONDS)
        assert process.poll() is None, log.read_text()
        yield Service(process, port, log)
    finally:
        process.terminate()
        try:
            process.wait(timeout=PATIENCE)
        except subprocess.TimeoutExpired:
            process.kill()
            raise


def _answers(port: int) -> bool:
    try:
        return httpx.get(f"http://127.0.0.1:{port}/healthz").status_code == 200
    except httpx.HTTPError:
        return False


def unknown_fields(count: int) -> bytes:
    """Return a house with so many fields that it does not have: long work for the reader."""
    return b'{"house":{' + b",".join(b'"%x":1' % index for index in range(count)) + b"}}"


ENDLESS = unknown_fields(800_000)
"""Some ten seconds of work, and within the limit of size."""
SMALL = json.dumps(requests()["u-value"]).encode()
