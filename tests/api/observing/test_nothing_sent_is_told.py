"""What a client sends is in no log, no figure and no trace: a word that is sent in every place is looked for in all of them."""

from __future__ import annotations

import json
import signal
import threading
import time
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import httpx
import pytest

from warmstead.api.keys import new_key

CANARY = "zugvogel-7f3a"
WALL = {"construction": {"kind": "declared", "u_value_w_m2k": 1.4, "source": CANARY}}
TRACE = "0af7651916cd43dd8448eb211c80319c"


class Collector(HTTPServer):
    """Takes whatever traces are sent to it."""

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Taking)
        self.received: list[bytes] = []

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}"


class Taking(BaseHTTPRequestHandler):
    """Keeps the body and answers 200."""

    def do_POST(self) -> None:
        assert isinstance(self.server, Collector)
        self.server.received.append(self.rfile.read(int(self.headers["content-length"])))
        self.send_response(200)
        self.send_header("content-length", "0")
        self.end_headers()

    def log_message(self, format: str, *args: Any) -> None:
        pass


@pytest.fixture
def collector() -> Iterator[Collector]:
    server = Collector()
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield server
    server.shutdown()
    thread.join()
    server.server_close()


def send_it_everywhere(address: str, secret: str) -> None:
    """Send the word in each place of a request, so that it is answered, refused and not understood."""
    key = {"Authorization": f"Bearer {secret}"}
    headers = key | {
        "X-Request-ID": CANARY,
        "traceparent": f"00-{TRACE}-b7ad6b7169203331-01",
        "tracestate": f"vendor={CANARY}",
        "baggage": f"who={CANARY}",
        "User-Agent": CANARY,
        "Referer": f"https://{CANARY}.example/",
        "Cookie": f"session={CANARY}",
        "X-Forwarded-For": f"203.0.113.9, {CANARY}",
        f"X-{CANARY}": CANARY,
    }
    with httpx.Client(base_url=address, headers=headers, timeout=60) as client:
        assert client.post("/v1/u-value", json=WALL).status_code == 200
        assert client.post("/v1/u-value", json={CANARY: CANARY}).status_code == 422
        assert client.post("/v1/u-value", content=f"{{{CANARY}").status_code == 400
        assert client.post("/v1/uncertainty", json={"house": {"name": CANARY}, CANARY: 1}).status_code == 422
        assert client.post(f"/v1/u-value?{CANARY}={CANARY}", json=WALL).status_code == 422
        assert client.get(f"/v1/outside-temperature?place={CANARY}").status_code in (404, 422)
        assert client.get(f"/v1/tables/{CANARY}").status_code == 404
        assert client.get(f"/v1/tables/materials/{CANARY}/{CANARY}").status_code == 404
        assert client.get(f"/{CANARY}").status_code == 404
        assert client.get(f"/guide/{CANARY}").status_code == 404
        assert client.get("/v1/codes", params={"key": CANARY}).status_code == 422
        assert client.get("/v1/codes", headers={"Authorization": f"Bearer {CANARY}"}).status_code == 401
        assert client.get("/v1/codes", headers={"Authorization": f"{CANARY} x"}).status_code == 401
        assert client.request(CANARY.upper(), "/v1/codes").status_code in (400, 405)
        assert client.post("/v1/workbook", content=CANARY, headers={"Content-Type": CANARY}).status_code in (
            415,
            422,
        )
        assert client.post("/v1/element-table", content=f"{CANARY};1\n{CANARY};2").status_code >= 400


def not_in(told: str | bytes, secret: str) -> None:
    for word in (CANARY, CANARY.upper(), secret, "203.0.113.9"):
        assert word.encode() not in (told.encode() if isinstance(told, str) else told), told


def wait_for(reached: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 30
    while not reached():
        assert time.monotonic() < deadline
        time.sleep(0.05)


@pytest.mark.parametrize(("log_format", "workers"), [("text", "1"), ("json", "2")])
def test_a_word_that_is_sent_everywhere_is_told_nowhere(
    serve: Any, collector: Collector, tmp_path: Path, log_format: str, workers: str
) -> None:
    pytest.importorskip("opentelemetry.sdk")
    key = new_key("integrator")
    keys_file = tmp_path / "keys"
    keys_file.write_text(key.line)
    served = serve(
        *("--access-log", "--log-format", log_format, "--keys-file", str(keys_file), "--workers", workers),
        environment={
            "OTEL_EXPORTER_OTLP_ENDPOINT": collector.address,
            "OTEL_BSP_SCHEDULE_DELAY": "100",
            # The framework has a telemetry of its own, which would tell bodies.
            "FASTAPI_OTEL_AUTO_CONFIGURE": "true",
        },
    )
    send_it_everywhere(served.address, key.secret)
    figures = httpx.get(f"{served.address}/metrics", headers={"Authorization": f"Bearer {key.secret}"}).text
    wait_for(lambda: bytes.fromhex(TRACE) in b"".join(collector.received))
    assert served.ended() == 0

    not_in(served.written(), key.secret)
    not_in(figures, key.secret)
    spans = b"".join(collector.received)
    not_in(spans, key.secret)
    # That there is nothing to find is only worth something where there is something.
    assert 'warmstead_requests_total{method="POST",route="/v1/u-value",status="200"} 1.0' in figures
    assert 'warmstead_requests_total{method="other",' in figures or 'status="400"' in figures
    assert 'warmstead_refused_total{kind="key-in-address"} 1.0' in figures
    assert 'warmstead_refused_total{kind="key-unknown"} 2.0' in figures
    assert 'warmstead_requests_by_key_total{key="integrator"}' in figures
    assert b"POST /v1/u-value" in spans
    assert b"/v1/tables/{name}" in spans
    lines = served.output.read_text().splitlines()
    assert len(lines) > 15
    if log_format == "json":
        members = [json.loads(line) for line in (*lines, *served.errors.read_text().splitlines())]
        assert all({"time", "level", "logger", "message"} <= set(each) for each in members)
        (answered,) = (
            each for each in members if each.get("route") == "/v1/u-value" and each["status"] == 200
        )
        assert answered["method"] == "POST"
        assert answered["milliseconds"] > 0
        assert len(answered["request_id"]) == 32


def test_under_another_server_command_nothing_is_told_either(serve: Any, tmp_path: Path) -> None:
    key = new_key("integrator")
    keys_file = tmp_path / "keys"
    keys_file.write_text(key.line)
    served = serve(
        "warmstead.api.app:app",
        command=("uvicorn",),
        environment={
            "WARMSTEAD_KEYS_FILE": str(keys_file),
            "WARMSTEAD_ACCESS_LOG": "true",
            "WARMSTEAD_LOG_FORMAT": "json",
        },
    )
    send_it_everywhere(served.address, key.secret)
    assert served.ended() in (0, -signal.SIGTERM)
    not_in(served.written(), key.secret)
    assert '"route":"/v1/u-value"' in served.output.read_text()


def test_that_the_other_server_would_tell_is_known(serve: Any) -> None:
    # The check above can fail: before the application has silenced it, this server writes whole addresses.
    served = serve("fastapi.applications:FastAPI", "--factory", command=("uvicorn",))
    httpx.get(f"{served.address}/{CANARY}?{CANARY}")
    wait_for(lambda: CANARY in served.written())
