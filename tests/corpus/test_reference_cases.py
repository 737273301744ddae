"""Every reference case against the service in this process, and the proof that every case can fail."""

from __future__ import annotations

import json
from functools import cache
from typing import TYPE_CHECKING, Any

import httpx
import pytest

from warmstead.corpus import InProcessTransport, default_folder, load, run

if TYPE_CHECKING:
    from collections.abc import Iterator

    from warmstead.corpus.case import Case

CASES = load(default_folder())
NAMES = [f"{case.question}/{case.id}" for case in CASES]


@pytest.fixture(scope="module")
def client() -> Iterator[httpx.Client]:
    """Give a client of the service in this process."""
    from warmstead.api.app import app

    with httpx.Client(
        transport=InProcessTransport(app), base_url="http://service.example", timeout=60.0
    ) as client:
        yield client


@pytest.mark.parametrize("case", CASES, ids=NAMES)
def test_reference_case(case: Case, client: httpx.Client) -> None:
    (result,) = run([case], client).results
    told = "\n".join(map(str, result.failures))
    assert result.outcome == "passed", f"{case.title} ({case.provenance}, {case.source.key})\n{told}"


class _Spoilt(httpx.BaseTransport):
    """The service with every number and text of its answers changed, and its refusals pointing elsewhere."""

    def __init__(self, inner: httpx.BaseTransport) -> None:
        self._inner = inner

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Answer one request wrongly."""
        response = self._inner.handle_request(request)
        content = json.dumps(_spoil(json.loads(response.read()))).encode()
        status = response.status_code if response.status_code != 400 else 422
        return httpx.Response(
            status, headers={"content-type": response.headers["content-type"]}, content=content
        )


_KEPT = ("id", "construction", "boundary")  # rows are found by them


@cache
def _every_name() -> frozenset[str]:
    """Return the name of every member of the published schema, so that a misspelt absent one stands out."""
    from warmstead.api.app import app

    schemas = app.openapi()["components"]["schemas"].values()
    return frozenset(name for schema in schemas for name in schema.get("properties", {})) - {*_KEPT}


def _spoil(value: Any) -> Any:
    """Change every value but what rows are found by, and fill in what was absent."""
    if isinstance(value, dict):
        spoilt = {name: one if name in _KEPT else _spoil(one) for name, one in value.items()}
        return {**dict.fromkeys(_every_name(), "something"), **spoilt}
    if isinstance(value, list):
        return [_spoil(one) for one in value]
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value * 1.5 + (1 if value >= 0 else -1)
    return f"/x{value}"


@pytest.mark.parametrize("case", CASES, ids=NAMES)
def test_every_case_fails_against_a_spoilt_service(case: Case) -> None:
    from warmstead.api.app import app

    transport = _Spoilt(InProcessTransport(app))
    with httpx.Client(transport=transport, base_url="http://service.example") as client:
        (result,) = run([case], client).results
    assert result.outcome == "failed"
    values = [check for check in result.checks if check.place.startswith("/")]
    assert [str(check) for check in values if check.passed and not check.place.endswith(_KEPT)] == []
