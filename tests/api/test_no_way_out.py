"""The service opens no connection, ever: the kernel ends it at the first attempt, while it answers everything it has."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx
import pytest

from warmstead.api.app import app
from warmstead.demo import requests
from warmstead.exchange.cells.questions import CELL_QUESTIONS

GUARDED = Path(__file__).with_name("guarded.py")

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="the guard is the kernel of Linux")


def everything(client: httpx.Client) -> None:
    """Ask for all that the service has."""
    for question, body in requests().items():
        assert client.post(f"/v1/{question}", json=body).status_code == 200, question
    for path, item in app.openapi()["paths"].items():
        if "get" in item and "{" not in path:
            answer = client.get(path)
            assert answer.status_code == (422 if path.removeprefix("/v1/") in CELL_QUESTIONS else 200), path
    for page in (
        "/docs",
        "/openapi.json",
        "/guide",
        "/guide/house",
        "/v1/tables/materials",
        "/static-offline-docs/favicon.png",
    ):
        assert client.get(page).status_code == 200, page
    workbook = client.get("/v1/workbook?content=demo")
    media_type = {"content-type": workbook.headers["content-type"]}
    assert (
        client.post("/v1/workbook", content=workbook.content, headers=media_type, timeout=60).status_code
        == 200
    )


def test_nothing_goes_out_whatever_is_asked(serve: Any) -> None:
    served = serve(through=(str(GUARDED), "-m"))
    with httpx.Client(base_url=served.address, timeout=60) as client:
        everything(client)
    assert served.ended() == 0


@pytest.mark.parametrize(
    "attempt",
    [
        "import socket; socket.create_connection(('127.0.0.1', 9))",
        "import socket; socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b'x', ('127.0.0.1', 9))",
        "import socket; socket.getaddrinfo('heat.example', 80)",
        "import asyncio, uvloop; uvloop.run(asyncio.wait_for(asyncio.open_connection('127.0.0.1', 9), 5))",
        "import socket; socket.socket(socket.AF_INET6).connect(('::1', 9))",
        "import httpx; httpx.get('http://127.0.0.1:9')",
        "import multiprocessing as m, socket as s\n"
        "p = m.get_context('spawn').Process(target=s.create_connection, args=(('127.0.0.1', 9),)); p.start(); p.join()\n"
        "raise SystemExit(p.exitcode)",
    ],
)
def test_the_guard_ends_whoever_tries(attempt: str) -> None:
    done = subprocess.run([sys.executable, str(GUARDED), "-c", attempt], capture_output=True, timeout=60)
    assert done.returncode in (-signal.SIGSYS, 256 - signal.SIGSYS), done


def test_the_guard_lets_alone_who_does_not() -> None:
    harmless = (
        "import socket, multiprocessing as m\n"
        "s = socket.socket(); s.bind(('127.0.0.1', 0)); s.listen()\n"
        "p = m.get_context('forkserver').Process(target=int); p.start(); p.join()\n"
        "print('served', p.exitcode)"
    )
    done = subprocess.run([sys.executable, str(GUARDED), "-c", harmless], capture_output=True, timeout=60)
    assert (done.returncode, done.stdout) == (0, b"served 0\n")
