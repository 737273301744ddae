"""Follows each request from its head to the end of its answer: gives it an id, counts it, and writes its line."""

from __future__ import annotations

import logging
import re
from time import perf_counter

from asgi_correlation_id import CorrelationIdMiddleware
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from warmstead.api.access import HOLDER, REASON
from warmstead.api.observing import logs, metrics

REQUEST_ID = "X-Request-ID"
UUID = re.compile(r"[0-9a-fA-F]{8}(-?)[0-9a-fA-F]{4}\1[0-9a-fA-F]{4}\1[0-9a-fA-F]{4}\1[0-9a-fA-F]{12}")
"""What is taken for an id of somebody else's: proxies make such ids. A free text could carry anything into the logs."""
GONE = 499
"""Status in figures and logs of a request whose client left before there was an answer."""

_log = logging.getLogger(logs.ACCESS)


class RequestFailed(Exception):
    """A request met a fault of ours; says which and where, without the fault's own text, which may quote the request."""


def with_request_ids(app: ASGIApp) -> ASGIApp:
    """Return an application whose requests have an id: that of a proxy in front, where it sent one, else a new one."""
    logs.quieten_request_ids()
    return CorrelationIdMiddleware(
        app, header_name=REQUEST_ID, update_request_header=False, validator=is_request_id, transformer=None
    )


def is_request_id(text: str) -> bool:
    """Return whether a text may be a request's id."""
    return UUID.fullmatch(text) is not None


class Followed:
    """Counts each request, and writes its line where that is wanted."""

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
        status = GONE

        async def sending(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        metrics.enter()
        began = perf_counter()
        try:
            await self._app(scope, receive, sending)
        except Exception as error:
            raise RequestFailed(logs.where(error)) from None
        finally:
            seconds = perf_counter() - began
            metrics.leave()
            route = getattr(scope.get("route"), "path", metrics.NO_ROUTE)
            metrics.answered(scope["method"], route, status, seconds, scope.get(REASON), scope.get(HOLDER))
            if self._access_log:
                _write(scope["method"], route, status, seconds)


def _write(method: str, route: str, status: int, seconds: float) -> None:
    shown = method if method in metrics.METHODS else "other"
    milliseconds = round(seconds * 1000, 3)
    members = {"method": shown, "route": route, "status": status, "milliseconds": milliseconds}
    _log.info("%s %s %d %s ms", shown, route, status, milliseconds, extra=members)
