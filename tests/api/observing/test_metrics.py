"""Figures: what is counted under which labels, that labels cannot grow, and several processes together."""

from __future__ import annotations

import asyncio
import re
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import psutil
import pytest
from prometheus_client.parser import text_string_to_metric_families

from warmstead.api.app import app
from warmstead.api.observing import metrics
from warmstead.api.observing.requests import Followed
from warmstead.api.problems import problem
from warmstead.exchange.problem_kinds import OVER_TIME

Send = Callable[..., httpx.Response]
Figures = dict[tuple[str, tuple[tuple[str, str], ...]], float]


def figures_of(text: str) -> Figures:
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def figures(send: Send) -> Figures:
    response = send("GET", "/metrics")
    assert response.status_code == 200
    assert response.headers["content-type"].startswith("text/plain; version=0.0.4")
    return figures_of(response.text)


def figure(found: Figures, name: str, **labels: str) -> float:
    return found.get((name, tuple(sorted(labels.items()))), 0.0)


def test_each_request_is_counted_by_method_route_and_status(send: Send) -> None:
    before = figures(send)
    for _ in range(3):
        send("GET", "/v1/tables/air-layers")
    send("GET", "/v1/tables/no-such-table")
    after = figures(send)

    def more(status: str) -> float:
        labels = {"method": "GET", "route": "/v1/tables/{name}", "status": status}
        return figure(after, "warmstead_requests_total", **labels) - figure(
            before, "warmstead_requests_total", **labels
        )

    assert more("200") == 3
    assert more("404") == 1
    took = [
        figure(found, "warmstead_request_seconds_sum", route="/v1/tables/{name}") for found in (before, after)
    ]
    assert took[1] > took[0]
    counts = [
        figure(found, "warmstead_request_seconds_count", route="/v1/tables/{name}")
        for found in (before, after)
    ]
    assert counts[1] - counts[0] == 4


def test_a_question_has_its_own_route(ask: Send, send: Send) -> None:
    labels = {"method": "POST", "route": "/v1/u-value", "status": "422"}
    before = figure(figures(send), "warmstead_requests_total", **labels)
    ask("u-value", {})
    assert figure(figures(send), "warmstead_requests_total", **labels) == before + 1


@pytest.mark.parametrize(
    ("status", "document", "kind"),
    [
        (503, problem(503, "x"), "busy"),
        (503, problem(503, "x", kind=OVER_TIME), "over-time"),
        (401, problem(401, "x"), "key-missing"),
        (418, b"\xff not a problem document", "other"),
        (404, b"", "other"),
    ],
)
def test_a_refusal_is_counted_once_by_its_kind(status: int, document: bytes, kind: str, send: Send) -> None:
    async def refusing(scope: Any, receive: Any, sending: Any) -> None:
        await sending({"type": "http.response.start", "status": status, "headers": []})
        await sending({"type": "http.response.body", "body": document, "more_body": True})
        await sending({"type": "http.response.body", "body": b""})

    before = figure(figures(send), "warmstead_refused_total", kind=kind)
    asyncio.run(exchange(Followed(refusing, access_log=False)))
    assert figure(figures(send), "warmstead_refused_total", kind=kind) == before + 1


def test_every_refusal_of_the_service_has_its_kind(ask: Send, send: Send) -> None:
    before = figures(send)
    refusals = {
        "malformed": ask("u-value", b"{"),
        "refused": ask("u-value", {}),
        "media-type": ask("u-value", {}, headers={"content-type": "text/html"}),
        "not-found": send("GET", "/nothing"),
        "method": send("PUT", "/v1/u-value"),
        "query-too-long": send("GET", f"/v1/u-value?{'x' * 20_000}"),
        "key-in-address": send("GET", "/v1/codes?key=x"),
    }
    after = figures(send)
    for kind, answer in refusals.items():
        assert answer.json()["type"] == f"urn:warmstead:problem:{kind}"
        labels = {"kind": kind}
        assert (
            figure(after, "warmstead_refused_total", **labels)
            == figure(before, "warmstead_refused_total", **labels) + 1
        )


async def exchange(application: Any, **changes: Any) -> None:
    async def unused(*args: Any) -> Any:
        return {"type": "http.disconnect"}

    scope = {
        "type": "http",
        "method": "GET",
        "path": "/",
        "query_string": b"",
        "headers": [],
        "root_path": "",
    } | changes
    await application(scope, unused, unused)


def test_what_is_at_hand_goes_up_and_down_whatever_happens(send: Send) -> None:
    seen: list[float] = []

    async def looking(scope: Any, receive: Any, sending: Any) -> None:
        seen.append(figure(figures_of(metrics.exposition().decode()), "warmstead_requests_at_hand"))
        raise asyncio.CancelledError

    def now() -> float:
        return figure(figures_of(metrics.exposition().decode()), "warmstead_requests_at_hand")

    before = now()
    labels = {"method": "GET", "route": "none", "status": "499"}
    gone = figure(figures(send), "warmstead_requests_total", **labels)
    with pytest.raises(asyncio.CancelledError):
        asyncio.run(exchange(Followed(looking, access_log=False)))
    assert seen == [before + 1]
    assert now() == before
    assert figure(figures(send), "warmstead_requests_total", **labels) == gone + 1


def test_what_is_noted_is_counted_soon_without_being_asked_for() -> None:
    async def answering(scope: Any, receive: Any, sending: Any) -> None:
        await sending({"type": "http.response.start", "status": 204, "headers": []})

    def counted() -> float:
        return metrics.registry.get_sample_value("warmstead_requests_total", labels) or 0.0

    async def once(seconds: float) -> None:
        await exchange(Followed(answering, access_log=False))
        await asyncio.sleep(seconds)

    labels = {"method": "GET", "route": "none", "status": "204"}
    metrics.count()
    before = counted()
    asyncio.run(once(3 * metrics.SECONDS_UNTIL_COUNTED))
    assert counted() == before + 1
    asyncio.run(once(0))  # this event loop ends before it has counted
    assert counted() == before + 1
    asyncio.run(once(3 * metrics.SECONDS_UNTIL_COUNTED))  # the next one counts for it
    assert counted() == before + 3


def test_many_notes_are_counted_at_once() -> None:
    async def note() -> None:
        for _ in range(metrics.MOST_NOTES):
            metrics.begun()
            metrics.answered("GET", "none", 204, 0.001, None)

    metrics.count()
    asyncio.run(note())
    assert metrics._notes == []


def test_no_client_can_make_a_label(send: Send) -> None:
    send("GET", "/v1/tables/air-layers")
    send("BREW", "/nothing/0")
    before = {name for name in figures(send) if name[0].startswith("warmstead_")}
    for number in range(50):
        send("GET", f"/nothing/{number}?{number}={number}")
        send(f"BREW{number}", f"/v1/tables/{number}", headers={"x-request-id": str(number)})
        send("GET", f"/static-offline-docs/{number}")
    made = {name for name in figures(send) if name[0].startswith("warmstead_")} - before
    # The refusal of a method on a route that had not been asked for, and a file that is not there.
    assert len({tuple(labels) for name, labels in made if name == "warmstead_requests_total"}) <= 2, made


def test_every_route_label_is_a_route_of_the_application(send: Send) -> None:
    routes = {getattr(route, "path", "") for route in app.router.routes} | {metrics.NO_ROUTE}
    before = figures(send)  # other tests of this process count routes of their own applications
    for path in ("/v1/u-value", "/v1/codes", "/v1/tables/1", "/nothing", "/guide/house"):
        send("GET", path)
    labelled = {
        dict(labels)["route"]
        for (name, labels), value in figures(send).items()
        if name == "warmstead_requests_total" and value != before.get((name, labels))
    }
    assert len(labelled) >= 5
    assert labelled <= routes


def test_every_figure_is_described_and_has_its_unit(send: Send) -> None:
    text = send("GET", "/metrics").text
    names = set(re.findall(r"(?m)^# TYPE (\S+)", text))
    assert names == set(re.findall(r"(?m)^# HELP (\S+) \S", text))
    assert {"warmstead_requests_total", "warmstead_request_seconds", "warmstead_refused_total"} <= names
    assert {"warmstead_requests_at_hand", "warmstead_long_work_seconds", "warmstead_info"} <= names
    assert {"process_resident_memory_bytes", "process_open_fds"} <= names
    assert not [name for name in names if name.endswith("_created")]


def test_long_work_is_counted_by_how_it_ended(ask: Send, send: Send, requests: dict[str, Any]) -> None:
    def count(ended: str) -> float:
        return figure(figures(send), "warmstead_long_work_seconds_count", ended=ended)

    answered, refused = count("answered"), count("refused")
    assert ask("uncertainty", requests["uncertainty"]).status_code == 200
    assert ask("uncertainty", {}).status_code == 422
    assert count("answered") == answered + 1
    assert count("refused") == refused + 1


def test_worker_processes_count_together_and_a_killed_one_has_nothing_at_hand(
    serve: Any, tmp_path: Path
) -> None:
    folder = tmp_path / "figures"
    folder.mkdir()
    served = serve("--workers", "2", environment={"WARMSTEAD_METRICS_FOLDER": str(folder)})
    for _ in range(40):
        # A connection each, so that both workers have some.
        assert httpx.get(f"{served.address}/v1/tables").status_code == 200
    labels = {"method": "GET", "route": "/v1/tables", "status": "200"}

    def found() -> Figures:
        return figures_of(httpx.get(f"{served.address}/metrics").text)

    deadline = time.monotonic() + 60
    # Each worker counts what it noted a moment later.
    while (counted := figure(found(), "warmstead_requests_total", **labels)) < 40:
        assert time.monotonic() < deadline
        time.sleep(0.05)
    assert counted == 40
    (made,) = folder.iterdir()
    counting = {int(file.stem.rpartition("_")[2]) for file in made.glob("counter_*.db")}
    assert len(counting) == 2
    killed = counting.pop()
    psutil.Process(killed).send_signal(signal.SIGKILL)
    deadline = time.monotonic() + 60
    while (made / f"gauge_livesum_{killed}.db").exists():
        assert time.monotonic() < deadline
        time.sleep(0.05)
        after = found()
    # What it had counted stays; what it had at hand is gone.
    assert figure(after, "warmstead_requests_total", **labels) == 40
    assert figure(after, "warmstead_requests_at_hand") == 1  # the one that asks
    assert served.ended() == 0
    assert not list(folder.iterdir())
