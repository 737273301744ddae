"""What every answer tells a browser: load, run and frame nothing, guess no type, tell nobody the address, keep no answer."""

from __future__ import annotations

from starlette.types import ASGIApp, Message, Receive, Scope, Send

Headers = tuple[tuple[bytes, bytes], ...]

CSP = b"content-security-policy"
OF_ALL: Headers = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (CSP, b"default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"),
)
"""Pages that show more bring a policy of their own, which stands."""
OF_POST: Headers = (*OF_ALL, (b"cache-control", b"no-store"))
"""An answer to a house document is about somebody's home."""
NAMES = frozenset(name for name, _ in OF_POST)


class SecurityHeaders:
    """Adds to each answer what it does not say itself."""

    def __init__(self, app: ASGIApp) -> None:
        """Take the application."""
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        added = OF_POST if scope["method"] == "POST" else OF_ALL

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = message.get("headers", ())
                said = {name for name, _ in headers}
                if said.isdisjoint(NAMES):
                    message["headers"] = [*headers, *added]
                else:
                    message["headers"] = [*headers, *(header for header in added if header[0] not in said)]
            await send(message)

        await self._app(scope, receive, sending)
