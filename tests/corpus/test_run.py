"""The runner against small made-up services: right, wrong, broken, hanging, dripping, dead."""

from __future__ import annotations

import asyncio
import json
import socket
import threading
import time
from typing import TYPE_CHECKING, Any

import httpx
import pytest

from warmstead.corpus import InProcessTransport, Report, Result, load, run
from warmstead.corpus.case import Case

if TYPE_CHECKING:
    from collections.abc import Iterator
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


async def _right(body: Any, scope: Any) -> tuple[int, bytes]:
    u_value = body["construction"]["u_value_w_m2k"]
    return 200, json.dumps({"u_value_w_m2k": u_value, "stated": f"{u_value:.2f}"}).encode()


async def _wrong(body: Any, scope: Any) -> tuple[int, bytes]:
    return 200, json.dumps({"u_value_w_m2k": 0.32, "stated": "0.30"}).encode()


async def _echo(body: Any, scope: Any) -> tuple[int, bytes]:
    return 200, json.dumps(body).encode()


async def _hang(body: Any, scope: Any) -> tuple[int, bytes]:
    await asyncio.sleep(60)
    return 200, b"{}"


async def _crash(body: Any, scope: Any) -> tuple[int, bytes]:
    raise RuntimeError("a fault of the service")


def _run(folder: Path, client: httpx.Client) -> Report:
    with client:
        return run(load(folder), client)


def test_a_service_that_is_right(folder: Path) -> None:
    report = _run(folder, _service(_right))
    assert report.ok
    assert report.exit_status == 0
    assert report.counts == {"u-value": {"published_example": (1, 1)}}
    assert report.results[0].outcome == "passed"


def test_the_request_is_the_case_s_own(folder: Path) -> None:
    asked: list[tuple[str, str, Any]] = []

    async def note(body: Any, scope: Any) -> tuple[int, bytes]:
        asked.append((scope["method"], scope["path"], body))
        return await _right(body, scope)

    _run(folder, _service(note))
    assert asked == [("POST", "/v1/u-value", {"construction": {"u_value_w_m2k": 0.3}})]


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
    assert report.exit_status == 1
    (result,) = report.results
    assert result.outcome == "failed"
    assert [str(check) for check in result.failures] == [
        "/u_value_w_m2k: expected 0.30 W/m2K, got 0.32, difference 0.02, tolerance 0.005"
    ]


def test_a_service_that_echoes(folder: Path) -> None:
    (result,) = _run(folder, _service(_echo)).results
    assert result.outcome == "failed"


def test_a_misspelt_pointer_fails(case_data: dict[str, Any]) -> None:
    case_data["expect"]["values"][0]["pointer"] = "/u_valeu_w_m2k"
    case = Case.model_validate_json(json.dumps(case_data))
    with _service(_right) as client:
        report = run([case], client)
    assert report.exit_status == 1
    assert "nearest: 'u_value_w_m2k'" in report.results[0].failures[0].got


def test_a_service_that_breaks(folder: Path) -> None:
    (result,) = _run(folder, _service(_crash)).results
    assert result.outcome == "failed"
    assert result.failures[0].got.startswith("500")


def test_a_service_that_hangs_is_not_a_wrong_value(folder: Path) -> None:
    client = _service(_hang)
    client.timeout = httpx.Timeout(0.05)
    report = _run(folder, client)
    assert report.exit_status == 2
    assert report.results[0].outcome == "no_answer"
    assert report.results[0].failures[0].got == "none within the time limit: no answer within 0.05 s"


class _Drip(httpx.BaseTransport):
    """A service that sends a byte now and then, each within the client's limit."""

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        def drip() -> Iterator[bytes]:
            for _ in range(200):
                time.sleep(0.01)
                yield b" "

        return httpx.Response(200, content=drip())


def test_an_answer_that_drips_ends_at_the_time_limit(folder: Path) -> None:
    client = httpx.Client(transport=_Drip(), base_url="http://service.example", timeout=0.05)
    (result,) = _run(folder, client).results
    assert result.outcome == "no_answer"
    assert result.failures[0].got == "none within the time limit: the answer was not complete after 0.05 s"


def test_a_dead_service_is_not_a_wrong_value(folder: Path) -> None:
    with socket.socket() as unused:  # bound and never listening: a connection to it is refused
        unused.bind(("127.0.0.1", 0))
        address = f"http://127.0.0.1:{unused.getsockname()[1]}"
        report = _run(folder, httpx.Client(base_url=address, timeout=5, trust_env=False))
    assert report.exit_status == 2
    assert report.results[0].outcome == "no_answer"
    assert "refused" in report.results[0].failures[0].got


def test_an_answer_that_cannot_be_unpacked_is_not_a_wrong_value(folder: Path) -> None:
    def answer(request: httpx.Request) -> httpx.Response:
        stream = httpx.ByteStream(b"not packed at all")
        return httpx.Response(200, headers={"content-encoding": "gzip"}, stream=stream)

    client = httpx.Client(transport=httpx.MockTransport(answer), base_url="http://service.example")
    assert _run(folder, client).results[0].outcome == "no_answer"


def _cases(case_data: dict[str, Any], *names: str) -> list[Case]:
    return [Case.model_validate_json(json.dumps({**case_data, "id": name})) for name in names]


def test_requests_run_side_by_side(case_data: dict[str, Any]) -> None:
    both_there = threading.Barrier(2, timeout=5)

    async def meet(body: Any, scope: Any) -> tuple[int, bytes]:
        both_there.wait()
        return await _right(body, scope)

    with _service(meet) as client:
        assert run(_cases(case_data, "a", "b"), client, concurrency=2).ok


def test_results_stand_in_the_order_of_the_cases_and_are_told_as_they_come(case_data: dict[str, Any]) -> None:
    later = threading.Event()
    told: list[str] = []

    async def first_waits(body: Any, scope: Any) -> tuple[int, bytes]:
        if body["construction"]["u_value_w_m2k"] == 0.3:
            later.wait(5)
        return await _right(body, scope)

    def tell(result: Result) -> None:
        told.append(result.case.id)
        later.set()

    slow, quick = _cases(case_data, "slow", "quick")
    quick.request.body["construction"]["u_value_w_m2k"] = 0.301  # type: ignore[index,call-overload]  # a body is any JSON
    with _service(first_waits) as client:
        report = run([slow, quick], client, concurrency=2, on_result=tell)
    assert told == ["quick", "slow"]
    assert [result.case.id for result in report.results] == ["slow", "quick"]


def test_fail_fast_asks_no_further(case_data: dict[str, Any]) -> None:
    asked = []

    async def note(body: Any, scope: Any) -> tuple[int, bytes]:
        asked.append(body)
        await asyncio.sleep(0.02)
        return await _wrong(body, scope)

    with _service(note) as client:
        report = run(_cases(case_data, *"abcdefgh"), client, fail_fast=True)
    assert report.exit_status == 1
    assert [result.case.id for result in report.results] == ["a"]
    assert report.not_reached == 7
    assert len(asked) <= 2  # one more may have been under way
    assert report.summary == "0 of 8 cases passed, 1 answered wrongly, 7 not reached"


def test_fail_fast_lets_what_passes_go_on(case_data: dict[str, Any]) -> None:
    with _service(_right) as client:
        report = run(_cases(case_data, *"abc"), client, fail_fast=True)
    assert report.ok
    assert len(report.results) == 3


def test_concurrency_is_at_least_one() -> None:
    with _service(_right) as client, pytest.raises(ValueError, match="concurrency"):
        run([], client, concurrency=0)


def test_no_cases_is_not_a_pass() -> None:
    with _service(_right) as client:
        assert run([], client).exit_status == 2
