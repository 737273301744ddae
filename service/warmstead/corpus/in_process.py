"""Reach an ASGI application with a plain, synchronous HTTP client, without a socket."""

from __future__ import annotations

import asyncio
from typing import Any

import httpx


class InProcessTransport(httpx.BaseTransport):
    """A transport for `httpx.Client` that calls an ASGI application in this process.

    Each request runs in an event loop of its own, so several threads may share one client; a thread that is
    already running an event loop may not. The client's read limit bounds the whole answer. An exception that
    the application lets through becomes a 500, as it would behind a server.
    """

    def __init__(self, app: Any) -> None:
        """Take the application to call."""
        self._transport = httpx.ASGITransport(app=app, raise_app_exceptions=False)

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Answer one request."""
        limit = request.extensions.get("timeout", {}).get("read")
        try:
            return asyncio.run(asyncio.wait_for(self._answer(request), limit))
        except TimeoutError as error:
            raise httpx.ReadTimeout(f"no answer within {limit} s", request=request) from error

    async def _answer(self, request: httpx.Request) -> httpx.Response:
        response = await self._transport.handle_async_request(request)
        content = b"".join([part async for part in response.aiter_raw()])
        return httpx.Response(response.status_code, headers=response.headers, content=content)
