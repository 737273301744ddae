"""The end of a process loses nobody's request: told to end, killed, or replaced under load."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import threading
import time
from pathlib import Path

import httpx
import psutil

from warmstead.demo import requests

from .limits.running import PATIENCE, serving, until
from .limits.steady_load import Load

LONG = json.dumps(requests()["improvements"]).encode()


def test_told_to_end_the_service_gives_notice_and_answers_what_is_at_hand(tmp_path: Path) -> None:
    with serving(tmp_path, seconds_of_notice=2) as service:
        answers: list[httpx.Response] = []
        thread = threading.Thread(target=lambda: answers.append(service.post("improvements", LONG)))
        thread.start()
        until(service.busy)
        with httpx.Client(base_url=service.url) as kept:
            assert "connection" not in kept.get("/healthz").headers
            service.process.send_signal(signal.SIGTERM)
            time.sleep(0.5)
            assert kept.get("/healthz").headers["connection"] == "close"
            assert httpx.get(f"{service.url}/healthz").status_code == 200, "new connections are still taken"
        thread.join()
        assert answers[0].status_code == 200
        assert service.process.wait(PATIENCE) == 0
        assert "Exception" not in service.log.read_text()


def test_without_anything_at_hand_the_end_comes_after_the_notice(tmp_path: Path) -> None:
    with serving(tmp_path, seconds_of_notice=0.2) as service:
        began = time.monotonic()
        service.process.send_signal(signal.SIGTERM)
        assert service.process.wait(PATIENCE) == 0
        assert time.monotonic() - began < 20


def test_the_processes_of_long_work_end_with_the_service_however_it_ends(tmp_path: Path) -> None:
    with serving(tmp_path) as service:
        assert service.post("improvements", LONG).status_code == 200
        family = psutil.Process(service.process.pid).children(recursive=True)
        assert len(family) >= 2
        service.process.kill()
        _, alive = psutil.wait_procs(family, timeout=PATIENCE)
        assert not alive


def test_a_server_process_that_is_killed_is_replaced_and_the_port_answers_on(tmp_path: Path) -> None:
    with serving(tmp_path, "--workers", "2") as service:
        before = service.servers()
        assert len(before) == 2
        killed = min(before)
        os.kill(killed, signal.SIGKILL)
        for _ in range(20):
            assert httpx.get(f"{service.url}/healthz", timeout=PATIENCE).status_code == 200
        until(lambda: len(service.servers() - {killed}) == 2)
        assert httpx.get(f"{service.url}/healthz", timeout=PATIENCE).status_code == 200
        service.process.send_signal(signal.SIGTERM)
        assert service.process.wait(PATIENCE) == 0


def test_a_rolling_restart_under_load_loses_no_request(tmp_path: Path) -> None:
    with serving(tmp_path, "--workers", "2") as service:
        before = service.servers()
        load = Load(service.port, connections=8)

        def restarted() -> bool:
            now = service.servers()
            return len(now) == 2 and not now & before

        outcome = asyncio.run(
            load.until(restarted, begin=lambda: os.kill(service.process.pid, signal.SIGHUP))
        )
        assert outcome.lost == []
        assert outcome.answered > 100
        assert outcome.connections > 8, "no connection was closed, so that nothing was put to the test"
