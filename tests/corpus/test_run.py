"""The runner against small made-up services: right, wrong, broken, hanging, dead."""

from __future__ import annotations

import asyncio
import json
import socket
import threading
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import httpx
import pytest
from rich.console import Console

from warmstead.corpus import InProcessTransport, Report, load, run
from warmstead.corpus.case import Case

if TYPE_CHECKING:
    from pathlib import Path


def _service(answer: Any) -> httpx.Client:
    """Give a client of a service that answers a request's body with `answer(body)`, awaited if need be."""

    async def app(scope: dict[str, Any], receive: Any, send: Any) -> None:
        message = await receive()
        status, content = await answer(json.loads(message["body"]), scope)
        headers = [(b"content-type", b"application/json")]
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": content})

    return httpx.Client(transport=InProcessTransport(app), base_url="http://service.example", timeout=5)


async def _echo(body: Any, scope: Any) -> tuple[int, bytes]:
    return 200, json.dumps(body).encode()


async def _wrong(body: Any, scope: Any) -> tuple[int, bytes]:
    return 200, json.dumps({**body, "u_value_w_m2k": 0.32}).encode()


async def _hang(body: Any, scope: Any) -> tuple[int, bytes]:
    await asyncio.sleep(60)
    return 200, b"{}"


async def _crash(body: Any, scope: Any) -> tuple[int, bytes]:
    raise RuntimeError("a fault of the service")


def _run(folder: Path, client: httpx.Client) -> Report:
    with client:
        return run(load(folder), client)


def test_a_service_that_is_right(folder: Path) -> None:
    report = _run(folder, _service(_echo))
    assert report.ok
    assert report.counts == {"u-value": {"published_example": (1, 1)}}
    assert report.results[0].outcome == "passed"


def test_the_request_is_the_case_s_own(folder: Path) -> None:
    asked: list[tuple[str, str, Any]] = []

    async def note(body: Any, scope: Any) -> tuple[int, bytes]:
        asked.append((scope["method"], scope["path"], body))
        return await _echo(body, scope)

    _run(folder, _service(note))
    assert asked == [("POST", "/v1/u-value", {"u_value_w_m2k": 0.3, "stated": "0.30"})]


def test_a_raw_body_is_sent_as_it_is(case_data: dict[str, Any]) -> None:
    bodies: list[bytes] = []

    def answer(request: httpx.Request) -> httpx.Response:
        bodies.append(request.content)
        return httpx.Response(400, headers={"content-type": "application/problem+json"}, json={})

    case_data["request"] = {"method": "POST", "path": "/v1/u-value", "raw_body": '{"u": NaN}'}
    case_data["expect"] = {"status": 400}
    case = Case.model_validate_json(json.dumps(case_data))
    with httpx.Client(transport=httpx.MockTransport(answer), base_url="http://service.example") as client:
        assert run([case], client).ok
    assert bodies == [b'{"u": NaN}']


def test_a_service_that_is_wrong(folder: Path) -> None:
    report = _run(folder, _service(_wrong))
    assert not report.ok
    (result,) = report.results
    assert result.outcome == "failed"
    assert [str(check) for check in result.failures] == [
        "/u_value_w_m2k: expected 0.30 W/m2K, got 0.32, difference 0.02, tolerance 0.005"
    ]


def test_a_service_that_breaks(folder: Path) -> None:
    (result,) = _run(folder, _service(_crash)).results
    assert result.outcome == "failed"
    assert result.failures[0].got.startswith("500")


def test_a_service_that_hangs_is_not_a_wrong_value(folder: Path) -> None:
    client = _service(_hang)
    client.timeout = httpx.Timeout(0.05)
    report = _run(folder, client)
    assert not report.ok
    assert report.results[0].outcome == "no_answer"
    assert report.results[0].failures[0].got == "no answer within the time limit (ReadTimeout)"


def test_a_dead_service_is_not_a_wrong_value(folder: Path) -> None:
    with socket.socket() as unused:  # bound and never listening: a connection to it is refused
        unused.bind(("127.0.0.1", 0))
        address = f"http://127.0.0.1:{unused.getsockname()[1]}"
        report = _run(folder, httpx.Client(base_url=address, timeout=5, trust_env=False))
    assert report.results[0].outcome == "no_answer"
    assert report.results[0].failures[0].got.startswith("no answer: ConnectError")


def test_requests_run_side_by_side(case_data: dict[str, Any]) -> None:
    both_there = threading.Barrier(2, timeout=5)

    async def meet(body: Any, scope: Any) -> tuple[int, bytes]:
        both_there.wait()
        return await _echo(body, scope)

    case = Case.model_validate_json(json.dumps(case_data))
    with _service(meet) as client:
        assert run([case, case], client, concurrency=2).ok


def test_concurrency_is_at_least_one() -> None:
    with _service(_echo) as client, pytest.raises(ValueError, match="concurrency"):
        run([], client, concurrency=0)


def test_no_cases_is_not_a_pass() -> None:
    with _service(_echo) as client:
        assert not run([], client).ok


def _mixed(case_data: dict[str, Any]) -> Report:
    """Report on three cases: one passes, one fails, one gets no answer."""
    names = ("right", "wrong", "slow")
    cases = [Case.model_validate_json(json.dumps({**case_data, "id": name})) for name in names]
    with _service(_echo) as right, _service(_wrong) as wrong, _service(_hang) as slow:
        slow.timeout = httpx.Timeout(0.05)
        pairs = zip(cases, (right, wrong, slow), strict=True)
        return Report(tuple(run([case], client).results[0] for case, client in pairs))


def test_the_table_counts_by_question_and_provenance(case_data: dict[str, Any]) -> None:
    console = Console(width=200, record=True, file=None, quiet=False, force_terminal=False)
    with console.capture() as captured:
        console.print(_mixed(case_data))
    text = captured.get()
    assert "published example" in text
    assert "1 / 3" in text
    assert "u-value/wrong" in text
    assert "difference 0.02, tolerance 0.005" in text
    assert "1 of 3 cases passed, 1 answered wrongly, 1 got no answer" in text


def test_junit_tells_wrong_from_no_answer(case_data: dict[str, Any]) -> None:
    root = ElementTree.fromstring(_mixed(case_data).junit())
    suite = root.find("testsuite")
    assert suite is not None
    assert (suite.get("tests"), suite.get("failures"), suite.get("errors")) == ("3", "1", "1")
    outcomes = {one.get("name"): [child.tag for child in one] for one in suite.iter("testcase")}
    assert outcomes == {"right": [], "wrong": ["failure"], "slow": ["error"]}


def test_json_holds_each_check(case_data: dict[str, Any]) -> None:
    data = json.loads(_mixed(case_data).json())
    assert data["ok"] is False
    assert data["counts"] == {"u-value": {"published_example": {"passed": 1, "all": 3}}}
    right = data["results"][0]
    assert right["outcome"] == "passed"
    assert right["source"] == "made-up"
    assert [check["place"] for check in right["checks"]] == [
        "status",
        "/u_value_w_m2k",
        "/stated",
        "/correction_w_m2k",
    ]
