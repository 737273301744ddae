"""Follows each request from its head to the end of its answer: gives it an id, counts it, and writes its line."""

from __future__ import annotations

import logging
import re
from random import getrandbits
from time import perf_counter

from asgi_correlation_id import correlation_id
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from warmstead.api.access import HOLDER
from warmstead.api.observing import logs, metrics

REQUEST_ID = "X-Request-ID"
_HEADER = REQUEST_ID.lower().encode()
_UUID = re.compile(rb"[0-9a-fA-F]{8}(-?)[0-9a-fA-F]{4}\1[0-9a-fA-F]{4}\1[0-9a-fA-F]{4}\1[0-9a-fA-F]{12}")
"""What is taken for an id of a proxy in front: a UUID. A free text could carry anything into the logs."""
GONE = 499
"""Status in figures and logs of a request whose client left before there was an answer."""

_log = logging.getLogger(logs.ACCESS)


class RequestFailed(Exception):
    """A request met a fault of ours; says which and where, without the fault's own text, which may quote the request."""


class Followed:
    """Gives each request an id, which its answer and its logs carry; counts it; writes its line where that is wanted.

    The id stands in the variable of asgi-correlation-id, from which that library's log filter takes it. Its own middleware
    would cost each request as much as all else here together.
    """

    def __init__(self, app: ASGIApp, *, access_log: bool) -> None:
        """Take the application."""
        self._app = app
        self._access_log = access_log

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request.

        Raises:
            RequestFailed: the application let an exception through.
        """
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request_id = request_id_of(scope["headers"])
        correlation_id.set(request_id.decode())
        status = GONE
        refusing = False

        async def sending(message: Message) -> None:
            nonlocal status, refusing
            if message["type"] == "http.response.start":
                status = message["status"]
                refusing = status >= 400
                message["headers"] = [*message.get("headers", ()), (_HEADER, request_id)]
            elif refusing:
                metrics.refused(message.get("body", b""))
                refusing = False
            await send(message)

        metrics.begun()
        began = perf_counter()
        try:
            await self._app(scope, receive, sending)
        except Exception as error:
            raise RequestFailed(logs.where(error)) from None
        finally:
            seconds = perf_counter() - began
            route = getattr(scope.get("route"), "path", metrics.NO_ROUTE)
            metrics.answered(scope["method"], route, status, seconds, scope.get(HOLDER))
            if self._access_log:
                _write(scope["method"], route, status, seconds)


def request_id_of(headers: list[tuple[bytes, bytes]]) -> bytes:
    """Return the id that a request came with, where it is a UUID, else a new one of 128 random bits."""
    for name, value in headers:
        if name == _HEADER and _UUID.fullmatch(value):
            return value
    return b"%032x" % getrandbits(128)


def _write(method: str, route: str, status: int, seconds: float) -> None:
    shown = method if method in metrics.METHODS else "other"
    milliseconds = round(seconds * 1000, 3)
    members = {"method": shown, "route": route, "status": status, "milliseconds": milliseconds}
    _log.info("%s %s %d %s ms", shown, route, status, milliseconds, extra=members)
