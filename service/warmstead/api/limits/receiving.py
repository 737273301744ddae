"""A request's body, within its limits of size and time."""

from __future__ import annotations

from asyncio import timeout

from starlette.types import Receive

from warmstead.api.problems import problem
from warmstead.api.replies import Answered, ClientGone
from warmstead.api.settings import SETTINGS

CLOSE = (("connection", "close"),)


async def whole_body(receive: Receive) -> bytes:
    """Return the body.

    Raises:
        Answered: it is too large, or comes too slowly.
        ClientGone: the rest of it will never come.
    """
    try:
        async with timeout(SETTINGS.seconds_to_send_body):
            return await _whole(receive)
    except TimeoutError:
        detail = f"the body was not there {SETTINGS.seconds_to_send_body:g} s after the headers"
        raise Answered(408, problem(408, detail), CLOSE) from None


async def _whole(receive: Receive) -> bytes:
    parts: list[bytes] = []
    size = 0
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise ClientGone
        part: bytes = message.get("body", b"")
        size += len(part)
        if size > SETTINGS.maximum_body_bytes:
            raise Answered(413, problem(413, f"at most {SETTINGS.maximum_body_bytes} bytes"))
        if not message.get("more_body", False):
            return b"".join((*parts, part)) if parts else part
        parts.append(part)
