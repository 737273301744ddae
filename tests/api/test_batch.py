"""A batch over HTTP: each line by itself, streamed both ways, never in the way of others."""

from __future__ import annotations

import asyncio
import http.client
import json
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import psutil
import pytest

from warmstead.api.batch import answered
from warmstead.api.settings import SETTINGS
from warmstead.api.workers import NoTurn
from warmstead.exchange.batch.stating import Item
from warmstead.questions.registry import QUESTIONS

Json = dict[str, Any]
Send = Callable[..., httpx.Response]

AT_ONCE = [name for name, question in QUESTIONS.items() if not question.long]
NDJSON = "application/x-ndjson"
WALL = {"construction": {"kind": "declared", "u_value_w_m2k": 1.4, "source": "invented"}}
PLANTED = Path(__file__).parent / "batch_planted"


def lines(*documents: Any) -> bytes:
    """Return documents as lines; bytes stand for themselves."""
    return b"".join(
        (document if isinstance(document, bytes) else json.dumps(document).encode()) + b"\n"
        for document in documents
    )


@pytest.fixture(scope="module")
def batch(service: Service) -> Callable[..., list[Json]]:
    """Return a function that sends lines to a question and gives back the lines of the answer."""

    def sends(question: str, body: bytes, query: str = "") -> list[Json]:
        response = service.post(f"/v1/{question}/batch{query}", body)
        assert response.status_code == 200, response.text
        assert response.headers["content-type"] == NDJSON
        return [json.loads(line) for line in response.content.splitlines()]

    return sends


# --- Lines ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", AT_ONCE)
def test_a_line_gets_the_answer_that_its_request_gets_alone(
    name: str, batch: Any, ask: Send, requests: dict[str, Json]
) -> None:
    alone = ask(name, requests[name]).json()
    assert batch(name, lines(requests[name], {**requests[name], "id": "mine"})) == [
        {"line": 1, "status": 200, "answer": alone},
        {"line": 2, "status": 200, "id": "mine", "answer": alone},
    ]


def test_questions_that_take_long_have_no_batch(send: Send) -> None:
    assert set(AT_ONCE) < set(QUESTIONS)
    for name in set(QUESTIONS) - set(AT_ONCE):
        assert send("POST", f"/v1/{name}/batch", content=b"").status_code == 404


def test_a_bad_line_does_not_touch_the_others(batch: Any, ask: Send) -> None:
    too_long = b'{"id": "' + b"x" * SETTINGS.maximum_batch_line_bytes + b'"}'
    wrong = {"id": "wrong", "construction": {"kind": "declared", "u_value_w_m2k": -1, "source": "invented"}}
    contradiction = {"id": "gone", "construction": {"kind": "typical", "typical": "nowhere"}}
    body = lines(
        WALL, b"{", b"", b" \t", too_long, b'{"id": "\xff"}', wrong, b"[1]", contradiction, b"\r", WALL
    )
    answers = batch("u-value", body.rstrip(b"\n"))
    good = ask("u-value", WALL).json()
    assert [(a["line"], a["status"], a.get("id")) for a in answers] == [
        (1, 200, None),
        (2, 400, None),
        (5, 413, None),
        (6, 400, None),
        (7, 422, "wrong"),
        (8, 422, None),
        (9, 422, "gone"),
        (11, 200, None),
    ]
    assert answers[0]["answer"] == answers[-1]["answer"] == good
    assert str(SETTINGS.maximum_batch_line_bytes) in answers[2]["problem"]["detail"]
    for line, document in ((answers[1], b"{"), (answers[4], wrong)):
        alone = ask(
            "u-value", document if isinstance(document, bytes) else {"construction": wrong["construction"]}
        )
        assert line["problem"]["status"] == alone.status_code
        assert line["problem"]["type"] == alone.json()["type"]
        assert line["problem"]["title"] == alone.json()["title"]
        told = [(e["pointer"], e["code"]) for e in line["problem"]["errors"]]
        assert told == [(e["pointer"], e["code"]) for e in alone.json()["errors"]]


def test_an_id_is_a_text(batch: Any) -> None:
    (answer,) = batch("u-value", lines({**WALL, "id": 7}))
    assert answer["status"] == 422
    assert [(e["pointer"], e["code"]) for e in answer["problem"]["errors"]] == [("/id", "wrong_type")]
    assert "id" not in answer


def test_a_summary_has_the_totals_and_what_they_were_warned_of(
    batch: Any, ask: Send, requests: dict[str, Json]
) -> None:
    whole = ask("house-loss", requests["house-loss"]).json()
    (line,) = batch("house-loss", lines(requests["house-loss"]), "?content=summary")
    codes = line["answer"].pop("warning_codes")
    assert codes == sorted({warning["code"] for warning in whole["warnings"]})
    assert codes
    assert line["answer"] == {n: v for n, v in whole.items() if not isinstance(v, dict | list)}
    assert "design_heat_load_w" in line["answer"]
    (again,) = batch("house-loss", lines(requests["house-loss"]), "?content=full")
    assert again["answer"] == whole


def test_no_line_is_no_answer(batch: Any) -> None:
    assert batch("u-value", b"") == []
    assert batch("u-value", b"\n\r\n \n") == []


@pytest.mark.parametrize(
    ("query", "headers", "status"),
    [
        ("", {"content-type": "application/json"}, 415),
        ("", {"content-type": NDJSON, "content-encoding": "gzip"}, 415),
        ("?content=most", {"content-type": NDJSON}, 422),
        ("?contents=full", {"content-type": NDJSON}, 422),
    ],
)
def test_what_concerns_the_whole_batch_is_refused_before_the_first_line(
    query: str, headers: dict[str, str], status: int, send: Send
) -> None:
    response = send("POST", f"/v1/u-value/batch{query}", content=lines(WALL), headers=headers)
    assert response.status_code == status
    assert response.headers["content-type"] == "application/problem+json"
    assert response.json()["status"] == status


# --- A service of its own -------------------------------------------------------------------------


class Service:
    """A service in a process of its own."""

    def __init__(self, port: int, process: subprocess.Popen[bytes]) -> None:
        self.port = port
        self.process = psutil.Process(process.pid)

    def get(self, path: str) -> float:
        """Ask by GET; returns the seconds it took."""
        started = time.monotonic()
        assert httpx.get(f"http://127.0.0.1:{self.port}{path}", timeout=30).status_code == 200
        return time.monotonic() - started

    def post(self, path: str, body: bytes) -> httpx.Response:
        """Send a batch that is small enough to be sent before its answers are read."""
        address = f"http://127.0.0.1:{self.port}{path}"
        return httpx.post(address, content=body, headers={"content-type": NDJSON}, timeout=60)

    def workers(self) -> list[psutil.Process]:
        return [child for child in self.process.children(recursive=True) if child.is_running()]


class Stream:
    """A batch whose lines are sent one at a time, and whose answers are read in between."""

    def __init__(self, service: Service, question: str = "u-value") -> None:
        self.response: http.client.HTTPResponse | None = None
        self.connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=60)
        self.connection.putrequest("POST", f"/v1/{question}/batch")
        self.connection.putheader("Content-Type", NDJSON)
        self.connection.putheader("Transfer-Encoding", "chunked")
        self.connection.endheaders()

    def send(self, *documents: Any) -> None:
        body = lines(*documents)
        self.connection.send(b"%x\r\n%b\r\n" % (len(body), body))

    def end(self) -> None:
        self.connection.send(b"0\r\n\r\n")

    def answers(self) -> Iterator[Json]:
        self.response = self.connection.getresponse()
        assert self.response.status == 200
        for line in self.response:
            yield json.loads(line)

    def close(self) -> None:
        if self.response is not None:
            self.response.close()
        self.connection.close()

    def __enter__(self) -> Stream:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


@pytest.fixture(scope="module")
def service() -> Iterator[Service]:
    """Serve with short times, and with houses that are planted (see `batch_planted/`)."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join([str(PLANTED), os.environ.get("PYTHONPATH", "")]),
        "WARMSTEAD_SECONDS_FOR_A_BATCH_LINE": "2",
        "WARMSTEAD_BATCHES_AT_ONCE": "3",
        "WARMSTEAD_BATCH_PROCESSES": "2",
        "WARMSTEAD_SECONDS_BETWEEN_BATCH_LINES": "4",
    }
    command = [sys.executable, "-m", "warmstead.cli", "serve", "--port", str(port)]
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT) as run:
        try:
            for _ in range(400):
                try:
                    socket.create_connection(("127.0.0.1", port), timeout=1).close()
                    break
                except OSError:
                    time.sleep(0.05)
            yield Service(port, run)
        finally:
            run.terminate()
            said, _ = run.communicate(timeout=60)
    assert b"Traceback" not in said, said.decode()


def test_answers_begin_before_the_body_ends(service: Service) -> None:
    with Stream(service) as stream:
        stream.send(WALL)
        answers = stream.answers()
        assert next(answers)["line"] == 1
        stream.send(WALL, WALL)
        assert [next(answers)["line"], next(answers)["line"]] == [2, 3]
        stream.end()
        assert list(answers) == []


@pytest.mark.parametrize(("planted", "kind"), [("slow", "over-time"), ("deadly", "work-ended")])
def test_a_line_that_takes_too_long_or_kills_its_process_does_not_touch_the_others(
    planted: str, kind: str, service: Service
) -> None:
    started = time.monotonic()
    with Stream(service) as stream:
        stream.send({"id": "before", **WALL}, {"id": planted, **WALL}, {"id": "after", **WALL})
        stream.end()
        answers = list(stream.answers())
    assert [answer["status"] for answer in answers] == [200, 503, 200]
    assert [answer["line"] for answer in answers] == [1, 2, 3]
    assert answers[1]["problem"]["type"] == f"urn:warmstead:problem:{kind}"
    assert time.monotonic() - started < 45  # a planted house would have slept for a minute


def test_others_are_answered_while_a_line_is_worked_on(service: Service) -> None:
    with Stream(service) as stream:
        stream.send({"id": "slow", **WALL})
        time.sleep(0.2)
        started = time.monotonic()
        times = [service.get("/healthz") for _ in range(5)]
        waited = time.monotonic() - started
        stream.end()
        (answer,) = stream.answers()
    assert answer["status"] == 503
    assert max(times) < 1.5, times  # the line was cut off after 2 s
    assert waited < 10


def test_more_batches_than_allowed_are_told_when_to_come_back(service: Service) -> None:
    streams = [Stream(service) for _ in range(3)]
    for stream in streams:
        stream.send(WALL)
        assert next(stream.answers())["status"] == 200
    refused = service.post("/v1/u-value/batch", lines(WALL))
    assert refused.status_code == 503
    assert int(refused.headers["retry-after"]) > 0
    assert refused.json()["status"] == 503
    for stream in streams:
        stream.close()
    # Their places are free again.
    until = time.monotonic() + 10
    while time.monotonic() < until:
        response = service.post("/v1/u-value/batch", lines(WALL))
        if response.status_code == 200:
            return
        time.sleep(0.1)
    pytest.fail("the places were not given back")


def test_a_sender_that_stops_sending_is_told(service: Service) -> None:
    with Stream(service) as stream:
        stream.send(WALL)
        answers = list(stream.answers())
    assert [(answer["line"], answer["status"]) for answer in answers] == [(1, 200), (2, 408)]


def test_a_reader_that_does_not_read_stops_the_work_and_the_sender(
    service: Service, requests: dict[str, Json]
) -> None:
    line = lines(requests["house-loss"])
    sent = 0

    def send_on() -> None:
        nonlocal sent
        try:
            while True:
                stream.connection.send(b"%x\r\n%b\r\n" % (len(line), line))
                sent += 1
        except OSError:
            pass

    with Stream(service, "house-loss") as stream:
        stream.connection.sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 65536)
        before = service.process.memory_info().rss
        sender = threading.Thread(target=send_on)
        sender.start()
        stopped_at = -1
        until = time.monotonic() + 60
        while sent != stopped_at and time.monotonic() < until:
            stopped_at = sent
            time.sleep(2.5)
        assert sent == stopped_at, "the sender was never held up"
        used = cpu_seconds(service)
        time.sleep(1)
        assert cpu_seconds(service) - used < 0.5
        assert service.process.memory_info().rss - before < 40e6
        stream.connection.sock.shutdown(socket.SHUT_RDWR)
        sender.join()
    assert sent * len(line) < 40e6  # what the buffers of the two sockets hold, and little more


def test_the_end_of_the_connection_ends_the_work(service: Service, requests: dict[str, Json]) -> None:
    with Stream(service, "house-loss") as stream:
        stream.send(requests["house-loss"])
        next(stream.answers())
        for _ in range(100):
            stream.send(requests["house-loss"])
    time.sleep(2.5)
    before = cpu_seconds(service)
    time.sleep(1.5)
    assert cpu_seconds(service) - before < 0.5


def cpu_seconds(service: Service) -> float:
    """Return the processor time that the service and its workers have used."""
    times = [process.cpu_times() for process in (service.process, *service.workers())]  # one may end just now
    return float(sum(time.user + time.system for time in times))


def test_memory_does_not_grow_with_the_length_of_a_batch(service: Service) -> None:
    def after(count: int) -> float:
        def send_all() -> None:
            for _ in range(count // 100):
                stream.send(*[WALL] * 100)
            stream.end()

        with Stream(service) as stream:
            sender = threading.Thread(target=send_all)
            sender.start()
            assert sum(answer["status"] == 200 for answer in stream.answers()) == count
            sender.join()
        return sum(process.memory_info().rss for process in (service.process, *service.workers())) / 1e6

    first = after(1000)
    assert after(10_000) < first + 10


def test_a_service_that_is_told_to_end_says_where_to_go_on(service: Service) -> None:
    with Stream(service) as stream:
        stream.send(WALL, WALL)
        answers = stream.answers()
        assert [next(answers)["line"], next(answers)["line"]] == [1, 2]
        service.process.terminate()
        (last,) = answers
    assert (last["line"], last["status"]) == (3, 503)
    assert "again" in last["problem"]["detail"]


def test_without_room_for_a_process_each_line_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        async def do(self, *_: Any) -> Any:
            raise NoTurn

    monkeypatch.setattr("warmstead.api.batch.processes", Full)
    told = asyncio.run(answered("u-value", [Item(1, b"{}"), Item(2, b"{}")], "full"))
    lines = [json.loads(line) for line in told.splitlines()]
    assert [(line["line"], line["status"]) for line in lines] == [(1, 503), (2, 503)]
    assert {line["problem"]["type"] for line in lines} == {"urn:warmstead:problem:busy"}
