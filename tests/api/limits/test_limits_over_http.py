"""Each limit, crossed over real HTTP: what is answered, and that the service is there afterwards."""

from __future__ import annotations

import copy
import io
import json
import socket
import threading
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import httpx
import psutil
import pytest

from warmstead.api.settings import Settings
from warmstead.demo import requests
from warmstead.exchange.documents import MOST_LISTED

from .running import ENDLESS, PATIENCE, SMALL, Service, problem, said, serving, unknown_fields, until

HEAD = b"POST /v1/u-value HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\n"


@pytest.fixture(autouse=True)
def _alive_afterwards(tight: Service) -> Iterator[None]:
    yield
    until(lambda: not tight.busy())
    assert tight.post("u-value", SMALL).status_code == 200
    assert "Exception" not in tight.log.read_text()


def _layered(layers: list[dict[str, Any]]) -> bytes:
    return json.dumps(
        {"construction": {"kind": "layered", "heat_flow": "horizontal", "layers": layers}}
    ).encode()


def _bridged(index: int) -> dict[str, Any]:
    bridge = {"fraction": 0.1 + 0.01 * index, "conductivity_w_mk": 0.13}
    return {"kind": "solid", "thickness_mm": 20, "conductivity_w_mk": 0.04, "bridges": [bridge]}


def _house(**changes: Any) -> bytes:
    request = copy.deepcopy(requests()["house-loss"])
    request["house"] |= changes
    return json.dumps(request).encode()


def _draws(count: int) -> bytes:
    return json.dumps(requests()["uncertainty"] | {"draws": count}).encode()


# --- What a request may hold ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("question", "body", "status", "kind", "code"),
    [
        ("u-value", b" " * (Settings().maximum_body_bytes + 1), 413, "too-large", None),
        ("u-value", b"[" * 300 + b"]" * 300, 400, "malformed", "invalid_json"),
        ("house-loss", _house(rooms=[]), 422, "refused", "wrong_count"),
        ("house-loss", b'{"house":{"rooms":[' + b"{}," * 1001 + b"{}]}}", 422, "refused", "wrong_count"),
        ("u-value", _layered([_bridged(index) for index in range(8)]), 422, "refused", "not_covered"),
        ("uncertainty", _draws(10_000_000), 422, "refused", "out_of_range"),
    ],
    ids=["bytes", "depth", "too short a list", "too long a list", "combinations", "draws"],
)
def test_a_request_that_holds_too_much(
    question: str, body: bytes, status: int, kind: str, code: str | None, tight: Service
) -> None:
    response = tight.post(question, body)
    assert (response.status_code, response.json()["type"]) == (status, f"urn:warmstead:problem:{kind}")
    codes = {error["code"] for error in response.json()["errors"]}
    assert code in codes if code else not codes


def test_less_than_the_contract_allows(tmp_path: Path) -> None:
    bridged = _layered([_bridged(0), _bridged(1)])
    deep = _house(rooms=[[[[[[[[[[[[]]]]]]]]]]]])
    less = {
        "maximum_json_depth": 12,
        "maximum_list_length": 30,
        "maximum_combinations": 3,
        "maximum_draws": 2000,
    }
    with serving(tmp_path, **less) as service:
        for question, body, status, code in (
            ("house-loss", _house(), 200, None),
            ("house-loss", deep, 400, "invalid_json"),
            ("house-loss", _house(rooms=[{}] * 31), 422, "wrong_count"),
            ("u-value", bridged, 422, "not_covered"),
            ("u-value/batch", bridged, 200, "not_covered"),
            ("uncertainty", _draws(2000), 200, None),
            ("uncertainty", _draws(2001), 422, "out_of_range"),
        ):
            kind = "application/x-ndjson" if "batch" in question else "application/json"
            response = service.post(question, body, **{"content-type": kind})
            assert response.status_code == status, (question, response.text)
            assert (f'"code":"{code}"' in response.text) is (code is not None)


def test_a_refusal_lists_the_first_errors_and_counts_the_others(tight: Service) -> None:
    response = tight.post("house-loss", unknown_fields(1000))
    assert response.status_code == 422
    assert len(response.json()["errors"]) == MOST_LISTED
    # and three members of a house that are missing
    assert response.json()["detail"] == f"1003 things to mend; errors lists the first {MOST_LISTED}"


@pytest.mark.parametrize("encoding", ["gzip", "br", "deflate", "gzip, gzip"])
def test_a_compressed_body_is_refused_unread(encoding: str, tight: Service) -> None:
    response = tight.post("u-value", SMALL, **{"content-encoding": encoding})
    assert (response.status_code, response.json()["type"]) == (415, "urn:warmstead:problem:media-type")
    assert response.headers["accept-encoding"] == "identity"
    assert tight.post("u-value", SMALL, **{"content-encoding": "identity"}).status_code == 200


def test_a_workbook_that_grows_without_end_is_refused(tight: Service) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", b"<x/>")
        archive.writestr("xl/workbook.xml", b" " * 500_000_000)
    assert len(packed.getvalue()) < Settings().maximum_body_bytes
    response = httpx.post(f"{tight.url}/v1/workbook", content=packed.getvalue(), timeout=PATIENCE)
    assert response.status_code == 422, response.text
    assert response.json()["errors"]


# --- Heads and slow senders -----------------------------------------------------------------------


def test_headers_that_are_too_large(tight: Service) -> None:
    response = tight.post("u-value", SMALL, **{"x-long": "a" * 5000})
    assert (response.status_code, response.json()["type"]) == (431, "urn:warmstead:problem:headers-too-large")
    assert response.headers["connection"] == "close"


@pytest.mark.parametrize("start", [b"GET /", HEAD + b"x: ", HEAD], ids=["path", "header", "headers"])
def test_a_head_that_never_ends_is_cut_off(start: bytes, tight: Service) -> None:
    piece = b"x: " + b"a" * 95 + b"\r\n" if start == HEAD else b"a" * 100
    with tight.connect() as connection:
        connection.sendall(start)
        for _ in range(4096 // 100 + 1):
            connection.sendall(piece)
        assert problem(said(connection)) == (431, "headers-too-large")


@pytest.mark.parametrize(
    "start", [b"PO", b"POST /v1/u-value HTTP/1.1\r\n", HEAD], ids=["word", "line", "headers"]
)
def test_half_a_head_and_silence(start: bytes, tight: Service) -> None:
    with tight.connect() as connection:
        began = time.monotonic()
        connection.sendall(start)
        assert problem(said(connection)) == (408, "too-slow")
        assert 0.9 < time.monotonic() - began < PATIENCE / 2


def test_a_head_of_a_byte_now_and_then(tight: Service) -> None:
    with tight.connect() as connection:
        began = time.monotonic()
        _drip(connection, HEAD)
        assert problem(said(connection)) == (408, "too-slow")
        assert time.monotonic() - began < PATIENCE / 2


def _drip(connection: socket.socket, text: bytes) -> None:
    """Send a byte at a time until nobody takes it any more."""
    connection.settimeout(0.15)
    for byte in text:
        try:
            connection.sendall(bytes([byte]))
            if connection.recv(1, socket.MSG_PEEK):
                break
        except TimeoutError:
            continue
        except OSError:
            break
    else:
        raise AssertionError("all was taken")
    connection.settimeout(PATIENCE)


def test_the_head_of_a_second_request_is_waited_for_no_longer(tight: Service) -> None:
    with tight.connect() as connection:
        connection.sendall(HEAD + b"content-length: %d\r\n\r\n" % len(SMALL) + SMALL)
        first = connection.recv(65536)
        assert first.startswith(b"HTTP/1.1 200")
        connection.sendall(HEAD)
        rest = said(connection)
        assert problem(rest[rest.index(b"HTTP/1.1 408") :]) == (408, "too-slow")


@pytest.mark.parametrize("sent", [b"", b"\r\n"], ids=["nothing", "empty lines"])
def test_a_connection_that_says_nothing_is_closed(sent: bytes, tight: Service) -> None:
    with tight.connect() as connection:
        began = time.monotonic()
        connection.sendall(sent)
        said(connection)
        assert 0.9 < time.monotonic() - began < PATIENCE / 2


def test_empty_lines_without_end_keep_no_connection(tight: Service) -> None:
    with tight.connect() as connection:
        _drip(connection, b"\r\n" * 200)


def test_a_connection_that_is_not_used_again_is_closed(tight: Service) -> None:
    with tight.connect() as connection:
        connection.sendall(b"GET /healthz HTTP/1.1\r\nhost: x\r\n\r\n")
        began = time.monotonic()
        assert said(connection).startswith(b"HTTP/1.1 200")
        assert 0.9 < time.monotonic() - began < PATIENCE / 2


@pytest.mark.parametrize("path", ["u-value", "workbook", "element-table?external_temperature_c=-3"])
def test_a_body_of_a_byte_now_and_then(path: str, tight: Service) -> None:
    with tight.connect() as connection:
        head = f"POST /v1/{path} HTTP/1.1\r\nhost: x\r\ncontent-length: 500\r\n\r\n"
        connection.sendall(head.encode())
        _drip(connection, b" " * 200)
        assert problem(said(connection)) == (408, "too-slow")


def test_the_rest_of_a_body_that_was_refused_is_not_taken_for_ever(tight: Service) -> None:
    with tight.connect() as connection:
        began = time.monotonic()
        connection.sendall(HEAD + b"content-encoding: gzip\r\ncontent-length: 5000\r\n\r\n")
        assert connection.recv(65536).startswith(b"HTTP/1.1 415")
        _drip(connection, b" " * 200)
        assert time.monotonic() - began < PATIENCE / 2


def test_what_is_not_http_is_a_problem_document_too(tight: Service) -> None:
    with tight.connect() as connection:
        connection.sendall(b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03 hello\r\n\r\n")
        assert problem(said(connection)) == (400, "malformed")


def test_an_answer_that_is_not_taken_is_dropped(tight: Service) -> None:
    with socket.socket() as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        connection.settimeout(PATIENCE)
        connection.connect(("127.0.0.1", tight.port))
        ask = b"GET /openapi.json HTTP/1.1\r\nhost: x\r\n\r\n"
        connection.sendall(ask * 40)  # some 20 MB in answer, of which not a byte is read
        port = connection.getsockname()[1]
        until(lambda: port in _peers(tight))
        until(lambda: port not in _peers(tight))


def _peers(service: Service) -> set[int]:
    return {c.raddr.port for c in psutil.Process(service.process.pid).net_connections("tcp") if c.raddr}


# --- How many at once -----------------------------------------------------------------------------


def test_too_many_connections(tight: Service) -> None:
    with ExitStack() as stack:
        connections = [stack.enter_context(tight.connect()) for _ in range(21)]
        assert problem(said(connections[-1])) == (503, "busy")


def test_too_many_requests_at_hand_and_health_answers_still(tight: Service) -> None:
    with ExitStack() as stack:
        for _ in range(6):
            connection = stack.enter_context(tight.connect())
            connection.sendall(HEAD + b"content-length: 500\r\n\r\n ")
        answers: list[httpx.Response] = []

        def refused() -> bool:
            answers.append(tight.post("u-value", SMALL))
            return answers[-1].status_code != 200

        until(refused, 5)
        assert answers[-1].status_code == 503
        assert answers[-1].json()["type"] == "urn:warmstead:problem:busy"
        assert answers[-1].headers["retry-after"] == "1"
        assert httpx.get(f"{tight.url}/healthz").status_code == 200


def test_too_many_large_bodies_coming_in(tight: Service) -> None:
    with tight.connect() as first, tight.connect() as second:
        for connection in (first, second):
            connection.sendall(HEAD + b"content-length: 8000000\r\n\r\n" + b" " * 7_000_000)
        until(lambda: second.recv(16, socket.MSG_PEEK) != b"")
        answers = [connection.recv(65536) for connection in (first, second)]
    # One is refused for the other's sake, which in its turn does not come to its end.
    assert sorted(answer.split()[1] for answer in answers) == [b"408", b"503"]
    assert any(b"retry-after: 1" in answer for answer in answers)


def _beside(work: Callable[[], httpx.Response], answers: list[httpx.Response]) -> threading.Thread:
    thread = threading.Thread(target=lambda: answers.append(work()))
    thread.start()
    return thread


def test_too_many_long_questions(tight: Service) -> None:
    answers: list[httpx.Response] = []
    threads = []
    for _ in range(4):
        threads.append(_beside(lambda: tight.post("house-loss", ENDLESS), answers))
        time.sleep(0.1)
    for thread in threads:
        thread.join()
    kinds = sorted(answer.json()["type"].rpartition(":")[2] for answer in answers)
    # One works till its time is over, one waits for its turn in vain, the others are refused at once.
    assert kinds == ["busy", "busy", "busy", "over-time"]
    assert all("retry-after" in a.headers for a in answers if a.json()["type"].endswith("busy"))


# --- Work that really ends ------------------------------------------------------------------------


def test_work_past_its_time_is_ended(tight: Service) -> None:
    tight.post("uncertainty", _draws(1000))
    (before,) = tight.working()
    response = tight.post("house-loss", ENDLESS)
    assert (response.status_code, response.json()["type"]) == (503, "urn:warmstead:problem:over-time")
    assert "3 s" in response.json()["detail"]
    until(lambda: not before.is_running())


def test_work_for_a_client_that_has_gone_is_ended(tight: Service) -> None:
    until(lambda: tight.post("uncertainty", _draws(1000)).status_code == 200)
    (before,) = tight.working()
    with tight.connect() as connection:
        head = b"POST /v1/house-loss HTTP/1.1\r\nhost: x\r\ncontent-length: %d\r\n\r\n" % len(ENDLESS)
        connection.sendall(head + ENDLESS)
        until(tight.busy)
    began = time.monotonic()
    until(lambda: not before.is_running())
    assert time.monotonic() - began < 2.5, "ended by its time, not by the client's leave"


def test_a_process_of_long_work_that_is_killed_is_told_and_replaced(tight: Service) -> None:
    until(lambda: tight.post("uncertainty", _draws(1000)).status_code == 200)
    (process,) = tight.working()
    answers: list[httpx.Response] = []
    thread = _beside(lambda: tight.post("house-loss", ENDLESS), answers)
    until(tight.busy)
    process.kill()
    thread.join()
    assert answers[0].status_code == 503
    assert answers[0].json()["type"] == "urn:warmstead:problem:work-ended"
    assert "killed from outside" in answers[0].json()["detail"]
    assert tight.post("uncertainty", _draws(1000)).status_code == 200


def test_small_questions_are_answered_while_long_ones_work(tight: Service) -> None:
    answers: list[httpx.Response] = []
    thread = _beside(lambda: tight.post("house-loss", ENDLESS), answers)
    for _ in range(20):
        began = time.monotonic()
        assert tight.post("u-value", SMALL).status_code == 200
        assert time.monotonic() - began < 2
    thread.join()
    assert answers[0].status_code == 503


def test_work_past_its_memory_is_ended(tmp_path: Path) -> None:
    body = b'{"house":{"rooms":[' + b"{}," * 2_700_000 + b"{}]}}"
    with serving(tmp_path, memory_for_a_question_mebibytes=400) as service:
        response = service.post("house-loss", body)
        assert (response.status_code, response.json()["type"]) == (503, "urn:warmstead:problem:over-memory")
        assert "400 MiB" in response.json()["detail"]
        assert service.post("uncertainty", _draws(1000)).status_code == 200
