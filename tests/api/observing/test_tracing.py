"""Traces: what a span says, whose trace it continues, and that none is made unless it is asked for."""

from __future__ import annotations

import asyncio
import sys
from typing import Any

import httpx
import pytest

from warmstead.api.app import create_app
from warmstead.api.observing import tracing
from warmstead.api.settings import Settings

pytest.importorskip("opentelemetry.sdk")

from opentelemetry.sdk.trace import ReadableSpan, TracerProvider
from opentelemetry.sdk.trace.export import SimpleSpanProcessor
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from opentelemetry.trace import SpanKind, StatusCode

TRACE, CALLER = "0af7651916cd43dd8448eb211c80319c", "b7ad6b7169203331"
WALL = {"construction": {"kind": "declared", "u_value_w_m2k": 1.4, "source": "an invented certificate"}}


def exchange(app: Any, method: str, path: str, **request: Any) -> httpx.Response:
    async def send() -> httpx.Response:
        transport = httpx.ASGITransport(app=app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://service.test") as client:
            return await client.request(method, path, **request)

    return asyncio.run(send())


def spans_of(method: str, path: str, app: Any = None, **request: Any) -> list[ReadableSpan]:
    kept = InMemorySpanExporter()
    provider = TracerProvider()
    provider.add_span_processor(SimpleSpanProcessor(kept))
    exchange(tracing.traced(app or create_app(Settings()), provider), method, path, **request)
    return list(kept.get_finished_spans())


def test_a_request_is_one_span_of_its_route() -> None:
    (span,) = spans_of("POST", "/v1/u-value?workings=true", json=WALL)
    assert span.name == "POST /v1/u-value"
    assert span.kind is SpanKind.SERVER
    assert span.parent is None
    told = dict(span.attributes or {})
    assert told["http.route"] == "/v1/u-value"
    assert told["http.status_code"] == 200
    assert set(told) <= {
        *("http.route", "http.status_code", "http.method", "http.scheme", "http.flavor", "http.target"),
        *("http.host", "http.url", "http.server_name", "net.host.port"),
    }
    assert not [value for value in told.values() if "workings" in str(value) or "service.test" in str(value)]


def test_a_span_continues_the_trace_of_the_caller() -> None:
    headers = {"traceparent": f"00-{TRACE}-{CALLER}-01", "tracestate": "vendor=words", "baggage": "who=words"}
    (span,) = spans_of("GET", "/v1/tables", headers=headers)
    assert span.context is not None
    assert span.parent is not None
    assert f"{span.context.trace_id:032x}" == TRACE
    assert f"{span.parent.span_id:016x}" == CALLER
    assert not span.context.trace_state


@pytest.mark.parametrize("traceparent", ["", "00-0-0-01", f"00-{'0' * 32}-{CALLER}-01", "x" * 5000])
def test_a_broken_traceparent_begins_a_new_trace(traceparent: str) -> None:
    (span,) = spans_of("GET", "/v1/tables", headers={"traceparent": traceparent})
    assert span.parent is None


def test_without_a_route_a_span_has_the_method_alone() -> None:
    (span,) = spans_of("GET", "/a-word/another")
    assert span.name == "GET"
    assert not [value for value in (span.attributes or {}).values() if "word" in str(value)]
    (span,) = spans_of("BREW", "/v1/codes")
    assert "BREW" not in span.to_json()


@pytest.mark.parametrize("path", ["/healthz", "/readyz", "/metrics"])
def test_what_machines_ask_every_few_seconds_is_no_span(path: str) -> None:
    assert spans_of("GET", path) == []


def test_a_fault_is_told_without_its_words() -> None:
    app = create_app(Settings())
    words = "what was" + " sent"

    async def failing() -> None:
        raise ValueError(words)

    app.router.add_api_route("/failing", failing)
    (span,) = spans_of("GET", "/failing", app)
    assert span.status.status_code is StatusCode.ERROR
    assert words not in span.to_json()


@pytest.mark.parametrize(
    ("environment", "asked"),
    [
        ({}, False),
        ({"OTEL_EXPORTER_OTLP_ENDPOINT": ""}, False),
        ({"OTEL_SERVICE_NAME": "heat"}, False),
        ({"OTEL_EXPORTER_OTLP_ENDPOINT": "http://127.0.0.1:4318"}, True),
        ({"OTEL_EXPORTER_OTLP_TRACES_ENDPOINT": "http://127.0.0.1:4318/v1/traces"}, True),
    ],
)
def test_traces_are_sent_only_where_a_collector_is_named(environment: dict[str, str], asked: bool) -> None:
    assert tracing.is_asked_for(environment) is asked


def test_where_the_extra_is_missing_the_start_ends_with_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:4318")
    monkeypatch.setitem(sys.modules, "opentelemetry.exporter.otlp.proto.http.trace_exporter", None)
    with pytest.raises(tracing.NoTelemetry, match=r"warmstead\[telemetry\]"):
        create_app(Settings())
