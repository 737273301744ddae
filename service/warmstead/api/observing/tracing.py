"""Traces for OpenTelemetry, where whoever runs the service asks for them: the one thing it ever sends to anybody.

Asked for by naming a collector in OTEL_EXPORTER_OTLP_ENDPOINT, the variable that OpenTelemetry itself reads, as it does the
others that begin with OTEL_. A trace continues that of the caller (W3C trace context).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from warmstead.api.observing.metrics import METHODS
from warmstead.version import __version__

if TYPE_CHECKING:
    from opentelemetry.sdk.trace import TracerProvider

ENDPOINTS = ("OTEL_EXPORTER_OTLP_ENDPOINT", "OTEL_EXPORTER_OTLP_TRACES_ENDPOINT")
UNTRACED = frozenset({"/healthz", "/readyz", "/metrics"})
"""Asked every few seconds by machines."""
_REAL = "warmstead.request"


class NoTelemetry(Exception):
    """Traces are asked for, and the packages that send them are not installed."""


def is_asked_for(environment: Mapping[str, str]) -> bool:
    """Return whether an environment names a collector of traces."""
    return any(environment.get(name) for name in ENDPOINTS)


def provider() -> TracerProvider:
    """Return what collects traces and sends them to the collector that the environment names.

    Raises:
        NoTelemetry: the extra is not installed.
    """
    try:
        from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
        from opentelemetry.sdk.resources import Resource
        from opentelemetry.sdk.trace import TracerProvider
        from opentelemetry.sdk.trace.export import BatchSpanProcessor
    except ImportError as error:
        raise NoTelemetry(
            f"{ENDPOINTS[0]} asks for traces; this needs the extra: pip install 'warmstead[telemetry]' ({error})"
        ) from None
    about = {"service.version": __version__}
    if "OTEL_SERVICE_NAME" not in os.environ:
        about["service.name"] = "warmstead"
    made = TracerProvider(resource=Resource.create(about))
    made.add_span_processor(BatchSpanProcessor(OTLPSpanExporter()))
    return made


def traced(app: ASGIApp, spans: TracerProvider) -> ASGIApp:
    """Return an application each of whose requests is a span.

    The instrumentation is shown method, protocol, the caller's `traceparent` and, once it is known, the route. Path, query,
    headers and address of the client are kept from it, so that it cannot tell them.
    """
    from opentelemetry.instrumentation.asgi import OpenTelemetryMiddleware
    from opentelemetry.trace import get_current_span

    async def real(shown: Scope, receive: Receive, send: Send) -> None:
        scope: Scope = shown[_REAL]

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                route = getattr(scope.get("route"), "path", None)
                if route is not None:
                    span = get_current_span()
                    span.update_name(f"{shown['method']} {route}")
                    span.set_attribute("http.route", route)
            await send(message)

        await app(scope, receive, sending)

    instrumented: Callable[..., Any] = OpenTelemetryMiddleware(
        real,
        tracer_provider=spans,
        default_span_details=lambda shown: (shown["method"], {}),
        exclude_spans=["receive", "send"],
    )

    async def shows_little(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"] in UNTRACED:
            await app(scope, receive, send)
        else:
            await instrumented(_shown(scope), receive, send)

    return shows_little


def _shown(scope: Scope) -> Scope:
    method = scope["method"]
    return {
        "type": "http",
        "asgi": scope["asgi"],
        "http_version": scope["http_version"],
        "method": method if method in METHODS else "OTHER",
        "scheme": scope["scheme"],
        "path": "",
        "query_string": b"",
        "headers": [header for header in scope["headers"] if header[0] == b"traceparent"],
        _REAL: scope,
    }
