"""What goes wrong around a running service: a full disk, a clock that jumps, no descriptors left, clients that vanish, killed helpers.

Killed server processes, long work that is killed or runs out of memory, slow senders and readers that do not read are tested
beside the code that deals with them: `tests/api/test_graceful.py`, `tests/api/limits/`.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any

import httpx
import psutil
import pytest

from warmstead import demo
from warmstead.api.settings import variable
from warmstead.exchange import workbook

HOUSE_LOSS = json.dumps(demo.requests()["house-loss"]).encode()
LONG = json.dumps(demo.requests()["improvements"]).encode()
PATIENCE = 60.0
YEAR_SECONDS = 365.25 * 86400


class Service:
    """A running service."""

    def __init__(self, process: subprocess.Popen[bytes], port: int) -> None:
        self.process = process
        self.port = port
        self.url = f"http://127.0.0.1:{port}"

    def answers(self, question: str = "house-loss", body: bytes = HOUSE_LOSS) -> httpx.Response:
        """Ask over a connection of its own."""
        headers = {"content-type": "application/json"}
        return httpx.post(f"{self.url}/v1/{question}", content=body, headers=headers, timeout=PATIENCE)

    def ends(self) -> int:
        """Tell it to end, and return how it does."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(PATIENCE)


@contextmanager
def serving(
    *options: str,
    log: Path = Path(os.devnull),
    limit: Callable[[], None] | None = None,
    environment: dict[str, str] | None = None,
    **settings: float,
) -> Iterator[Service]:
    """Run the service, and end it if that has not been done.

    Args:
        options: further ones of the command line.
        log: where its output goes.
        limit: called in its process before it begins.
        environment: further variables.
        settings: settings of the service.
    """
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    told = {variable(name): str(value) for name, value in settings.items()}
    command = [sys.executable, "-m", "warmstead.cli", "serve", "--port", str(port), *options]
    with log.open("ab") as output:
        process = subprocess.Popen(
            command,
            env={**os.environ, **told, **(environment or {})},
            stdout=output,
            stderr=output,
            preexec_fn=limit,
        )
    service = Service(process, port)
    try:
        until(lambda: process.poll() is not None or is_up(service))
        assert process.poll() is None, "it did not start"
        yield service
    finally:
        if process.poll() is None:
            process.terminate()
            try:
                process.wait(PATIENCE)
            except subprocess.TimeoutExpired:
                process.kill()


def is_up(service: Service) -> bool:
    try:
        return httpx.get(f"{service.url}/healthz", timeout=5).status_code == 200
    except httpx.HTTPError:
        return False


def until(condition: Callable[[], bool], seconds: float = PATIENCE) -> None:
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.05)


def test_a_log_on_a_full_disk_stops_no_answer() -> None:
    with serving(log=Path("/dev/full")) as service:
        assert service.answers().status_code == 200
        assert service.answers(body=b"{}").status_code == 422
        assert service.answers("improvements", LONG).status_code == 200
        assert service.ends() == 0


def test_without_room_for_a_single_byte_on_disk_everything_is_answered() -> None:
    def no_file_grows() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))

    filled = workbook.written(demo.survey(), "ods")
    with serving(limit=no_file_grows) as service:
        assert service.answers().status_code == 200
        assert service.answers("improvements", LONG).status_code == 200
        for form in ("xlsx", "ods"):
            empty = httpx.get(f"{service.url}/v1/workbook?format={form}", timeout=PATIENCE)
            assert empty.status_code == 200
            answer = httpx.post(f"{service.url}/v1/workbook?format={form}", content=filled, timeout=PATIENCE)
            assert answer.status_code == 200
            assert answer.content[:2] == b"PK"
        assert service.ends() == 0


JUMPING = """
import time
from pathlib import Path
_real, _real_ns, _offset = time.time, time.time_ns, Path({offset!r})
time.time = lambda: _real() + float(_offset.read_text())
time.time_ns = lambda: _real_ns() + int(1e9 * float(_offset.read_text()))
"""


@pytest.mark.parametrize("years", [10, -10])
def test_a_clock_that_jumps_ends_nothing(years: float, tmp_path: Path) -> None:
    offset = tmp_path / "offset"
    offset.write_text("0")
    (tmp_path / "sitecustomize.py").write_text(JUMPING.format(offset=str(offset)))
    path = os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])
    kept_open: dict[str, Any] = {"seconds_between_requests": 600, "seconds_for_a_question": 600}
    with (
        serving(environment={"PYTHONPATH": path}, **kept_open) as service,
        httpx.Client(timeout=PATIENCE) as kept,
    ):
        assert service.answers("improvements", LONG).status_code == 200
        said_first = parsedate_to_datetime(kept.get(f"{service.url}/healthz").headers["date"])
        under_way: list[httpx.Response] = []
        worked = _work_of_helpers(service)
        thread = threading.Thread(target=lambda: under_way.append(service.answers("improvements", LONG)))
        thread.start()
        until(lambda: _work_of_helpers(service) > worked + 0.05)
        offset.write_text(str(years * YEAR_SECONDS))
        thread.join()
        assert under_way[0].status_code == 200, "long work was counted by the clock on the wall"
        time.sleep(1.5)  # the date of answers is worked out once a second
        connections = _established(psutil.Process(service.process.pid))
        again = kept.get(f"{service.url}/healthz")
        assert _established(psutil.Process(service.process.pid)) == connections, (
            "a kept connection was closed"
        )
        jumped = parsedate_to_datetime(again.headers["date"]) - said_first
        assert abs(jumped.total_seconds() - years * YEAR_SECONDS) < 3600, "the clock has not jumped at all"
        assert service.answers().status_code == 200
        assert service.ends() == 0


def _work_of_helpers(service: Service) -> float:
    """Return the processor time that the service's children have used."""
    used = 0.0
    for helper in psutil.Process(service.process.pid).children(recursive=True):
        with suppress(psutil.NoSuchProcess):
            used += _work(helper)
    return used


def _work(process: psutil.Process) -> float:
    times = process.cpu_times()
    return float(times.user + times.system)


def test_without_descriptors_it_waits_and_recovers() -> None:
    def few_descriptors() -> None:
        resource.setrlimit(resource.RLIMIT_NOFILE, (40, 40))

    with serving(limit=few_descriptors) as service, ExitStack() as held:
        process = psutil.Process(service.process.pid)
        connections = [
            held.enter_context(socket.create_connection(("127.0.0.1", service.port))) for _ in range(100)
        ]
        time.sleep(1.0)
        spinning = subprocess.Popen([sys.executable, "-c", "while True: pass"])
        try:
            spinner = psutil.Process(spinning.pid)
            before, spun = _work(process), _work(spinner)
            time.sleep(3.0)
            worked, spun = _work(process) - before, _work(spinner) - spun
        finally:
            spinning.kill()
            spinning.wait()
        assert service.process.poll() is None
        assert process.num_fds() >= 38, "descriptors were not short"
        assert worked < 0.3 * spun, f"{worked:.2f} s of work where one that spins gets {spun:.2f} s"
        for connection in connections:
            connection.close()
        until(lambda: is_up(service))
        assert service.answers().status_code == 200
        assert service.ends() == 0


def test_clients_that_vanish_leave_nothing_behind() -> None:
    head = b"POST /v1/house-loss HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: %d\r\n\r\n"
    whole = head % len(HOUSE_LOSS) + HOUSE_LOSS
    cuts = (0, 1, 30, len(head) - 1, len(head) + 5, len(whole) - 1, len(whole))
    with serving(seconds_to_send_headers=1, seconds_to_send_body=1, seconds_between_requests=1) as service:
        assert service.answers().status_code == 200
        process = psutil.Process(service.process.pid)
        until(lambda: not process.net_connections("tcp") or _established(process) == 0)
        at_rest = process.num_fds()
        for _ in range(3):
            vanishing = [socket.create_connection(("127.0.0.1", service.port)) for _ in range(100)]
            for number, connection in enumerate(vanishing):
                connection.sendall(whole[: cuts[number % len(cuts)]])
            time.sleep(0.5)  # a reset that comes too early takes with it what was not yet read
            for connection in vanishing:
                connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                connection.close()
        with ExitStack() as held:
            for cut in cuts * 5:
                connection = held.enter_context(socket.create_connection(("127.0.0.1", service.port)))
                connection.sendall(whole[:cut])
            assert service.answers().status_code == 200, "half-open connections are in the way of others"
            until(lambda: _established(process) == 0)  # the service closes them, we do not
        until(lambda: process.num_fds() <= at_rest)
        assert service.answers().status_code == 200
        assert service.ends() == 0


def _established(process: psutil.Process) -> int:
    return sum(c.status == psutil.CONN_ESTABLISHED for c in process.net_connections("tcp"))


def test_all_helpers_killed_at_once_are_replaced() -> None:
    with serving() as service:
        assert service.answers("improvements", LONG).status_code == 200
        under_way: list[httpx.Response] = []
        threads = [
            threading.Thread(target=lambda: under_way.append(service.answers("improvements", LONG)))
            for _ in range(4)
        ]
        for thread in threads:
            thread.start()
        time.sleep(0.2)
        for helper in psutil.Process(service.process.pid).children(recursive=True):
            helper.kill()
        for thread in threads:
            thread.join()
        assert {answer.status_code for answer in under_way} <= {200, 503}
        assert all(
            answer.headers["content-type"] == "application/problem+json"
            for answer in under_way
            if answer.status_code == 503
        )
        assert service.answers("improvements", LONG).status_code == 200, (
            "long questions are not answered any more"
        )
        assert service.answers().status_code == 200
        assert service.ends() == 0
