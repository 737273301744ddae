"""Before anything else sees a request: are there too many at hand, is its head too large, is its body encoded?"""

from __future__ import annotations

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from warmstead.api.draining import is_draining
from warmstead.api.problems import PROBLEM_JSON, problem
from warmstead.api.replies import CLOSE, Reply, busy, send_reply
from warmstead.api.settings import SETTINGS

ALWAYS = frozenset({"/healthz", "/readyz", "/metrics"})
"""Paths that are answered however much there is to do: they tell an operator so."""
AHEAD = "warmstead.ahead"
"""Member of a request's scope: how many requests were at hand when it came. The protocol counts them, as they come."""
BESIDE_A_HEADER = 4
"""Colon, space, line end."""


class Gate:
    """Lets a request through, or answers it here."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or have it answered."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        if is_draining():
            send = _closing(send)
        if scope["path"] in ALWAYS:
            await self._app(scope, receive, send)
            return
        refused = self._refused(scope)
        if refused is not None:
            await send_reply(send, refused)
            return
        await self._app(scope, receive, send)

    @staticmethod
    def _refused(scope: Scope) -> Reply | None:
        if scope.get(AHEAD, 0) >= SETTINGS.requests_at_once:
            return busy(f"{SETTINGS.requests_at_once} requests are at hand")
        size = len(scope.get("raw_path") or b"") + len(scope["query_string"])
        encoding = b""
        for name, value in scope["headers"]:
            size += len(name) + len(value) + BESIDE_A_HEADER
            if name == b"content-encoding":
                encoding = value
        if size > SETTINGS.maximum_header_bytes:
            return too_large_head()
        if encoding and encoding.lower() != b"identity":
            detail = "send the body as it is, without Content-Encoding"
            return Reply(415, PROBLEM_JSON, problem(415, detail), (("accept-encoding", "identity"),))
        return None


def too_large_head() -> Reply:
    """Return the reply to a request whose head is too large."""
    detail = f"first line and headers together: at most {SETTINGS.maximum_header_bytes} bytes"
    return Reply(431, PROBLEM_JSON, problem(431, detail), CLOSE)


def _closing(send: Send) -> Send:
    """Tell the client not to send another request over this connection."""

    async def sends(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = [header for header in message.get("headers", ()) if header[0] != b"connection"]
            message = {**message, "headers": [*headers, (b"connection", b"close")]}
        await send(message)

    return sends
