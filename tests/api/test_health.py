"""Health and readiness: alive while it ends, but not ready."""

from __future__ import annotations

from collections.abc import Callable

import httpx
import pytest

from warmstead.api import draining

Send = Callable[..., httpx.Response]


def test_it_is_ready(send: Send) -> None:
    answer = send("GET", "/readyz")
    assert answer.status_code == 200
    assert answer.json() == {"status": "ready"}
    assert answer.headers["cache-control"] == "no-store"


def test_while_it_ends_it_is_alive_but_not_ready(send: Send, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(draining._State, "draining", True)
    answer = send("GET", "/readyz")
    assert answer.status_code == 503
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["type"] == "urn:warmstead:problem:ending"
    assert "another" in answer.json()["detail"]
    assert send("HEAD", "/readyz").status_code == 503
    assert send("GET", "/healthz").status_code == 200
