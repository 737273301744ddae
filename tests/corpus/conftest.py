"""A made-up case, a folder to hold it and services that answer it, for the tests of the runner."""

from __future__ import annotations

import copy
import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import pytest
import uvicorn

CASE: dict[str, Any] = {
    "schema_version": 1,
    "id": "one-layer",
    "title": "A made-up case for the tests of the runner",
    "question": "u-value",
    "method": "iso_6946",
    "source": {"key": "made-up", "locator": {"page": "1"}, "read_from": "original"},
    "provenance": "published_example",
    "request": {"method": "POST", "path": "/v1/u-value", "body": {"construction": {"u_value_w_m2k": 0.3}}},
    "expect": {
        "status": 200,
        "values": [
            {"pointer": "/u_value_w_m2k", "printed": "0.30", "unit": "W/m2K", "tolerance": "printed"},
            {"pointer": "/stated", "equals": "0.30"},
            {"pointer": "/correction_w_m2k", "absent": True},
        ],
    },
    "flags": ["layered"],
}
FLAGS = {"schema_version": 1, "flags": {"layered": "layers one behind the other"}}
SOURCES = {
    "schema_version": 1,
    "sources": {"made-up": {"title": "A book that does not exist", "publisher": "nobody", "rank": "page"}},
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a sound folder with one case, for the test to spoil."""
    (tmp_path / "u-value").mkdir()
    for name, content in (
        ("u-value/one-layer.json", CASE),
        ("flags.json", FLAGS),
        ("sources.json", SOURCES),
    ):
        (tmp_path / name).write_text(json.dumps(content), encoding="utf-8")
    return tmp_path


@pytest.fixture
def case_data() -> dict[str, Any]:
    """Give the made-up case as data of the test's own."""
    return copy.deepcopy(CASE)


@pytest.fixture
def write(folder: Path) -> Callable[[str, Any], Path]:
    """Give a function that writes JSON, or a text as it is, into the sound folder."""

    def write(name: str, content: Any) -> Path:
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
        return file

    return write


Serve = Callable[[Any], AbstractContextManager[str]]


@pytest.fixture
def serve() -> Serve:
    """Give a function that serves an application on a free port with the real server; yields the address."""

    @contextmanager
    def serve(app: Any) -> Iterator[str]:
        server = uvicorn.Server(
            uvicorn.Config(app, host="127.0.0.1", port=0, log_level="critical", lifespan="off", ws="none")
        )
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        deadline = time.monotonic() + 10
        while not server.started:
            assert thread.is_alive(), "the server ended"
            assert time.monotonic() < deadline, "the server did not start"
            time.sleep(0.005)
        try:
            yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(timeout=5)

    return serve
