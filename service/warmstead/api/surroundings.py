"""What each request goes through before it reaches the application: from outside in, traces, figures, headers, browsers, access,
limits, and the short way for questions.

These are plain ASGI applications around the whole, so that what the application answers of itself, its 500 included, goes
through them as well.
"""

from __future__ import annotations

import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import to_thread
from fastapi import FastAPI
from starlette.middleware.cors import CORSMiddleware
from starlette.types import ASGIApp

from warmstead.api.access import Access
from warmstead.api.direct import Direct
from warmstead.api.limits.gate import Gate
from warmstead.api.observing import logs, tracing
from warmstead.api.observing.requests import REQUEST_ID, Followed
from warmstead.api.security_headers import SecurityHeaders
from warmstead.api.settings import Settings


def surround(app: FastAPI, settings: Settings) -> None:
    """Put everything around an application.

    Args:
        app: the application; it must not have answered yet.
        settings: who may call, and what is told.

    Raises:
        UnusableKeys: there is a file of keys, and it cannot be used.
        NoTelemetry: the environment asks for traces, and the packages that send them are not installed.
    """
    spans = tracing.provider() if tracing.is_asked_for(os.environ) else None
    core = app.build_middleware_stack
    # The keys are read now, so that a file that cannot be used ends the start, not the first request.
    access = Access(app, settings)

    def build() -> ASGIApp:
        access.app = Gate(Direct(core(), app.router.routes))
        around: ASGIApp = access
        if settings.allowed_origins:
            around = _for_browsers(around, settings)
        around = Followed(SecurityHeaders(around), access_log=settings.access_log)
        return around if spans is None else tracing.traced(around, spans)

    app.build_middleware_stack = build  # type: ignore[method-assign]  # a stack with add_middleware would stand inside the 500
    inner = app.router.lifespan_context

    @asynccontextmanager
    async def lifespan(within: FastAPI) -> AsyncIterator[None]:
        _configure_logs(settings)
        async with inner(within):
            yield
        if spans is not None:
            await to_thread.run_sync(spans.shutdown)

    app.router.lifespan_context = lifespan


def _configure_logs(settings: Settings) -> None:
    """Write logs as the settings say, where they do; under `warmstead serve` they are written so from the first line on."""
    if {"access_log", "log_format"} & settings.model_fields_set:
        logs.configure(settings.log_format)
    logs.silence_the_server()


def _for_browsers(app: ASGIApp, settings: Settings) -> ASGIApp:
    return CORSMiddleware(
        app,
        allow_origins=settings.allowed_origins,
        allow_methods=("GET", "POST"),
        allow_headers=("Authorization", "Content-Type", REQUEST_ID, "traceparent"),
        expose_headers=(REQUEST_ID, "Retry-After", "Warmstead-Status", "Warmstead-Warnings"),
    )
