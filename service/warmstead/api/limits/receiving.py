"""A request's body, within its limits of size and time."""

from __future__ import annotations

from asyncio import timeout

from starlette.types import Receive, Scope

from warmstead.api.problems import problem
from warmstead.api.replies import CLOSE, Answered, ClientGone, busy
from warmstead.api.settings import SETTINGS

BODY_IS_THERE = "warmstead.body_is_there"
"""Member of a request's scope, set by the protocol once the body has come to its end: there is nothing to wait for."""


async def whole_body(scope: Scope, receive: Receive) -> bytes:
    """Return the body.

    Raises:
        Answered: it is too large, or comes too slowly.
        ClientGone: the rest of it will never come.
    """
    if BODY_IS_THERE in scope:
        return await _whole(receive)
    try:
        async with timeout(SETTINGS.seconds_to_send_body):
            return await _whole(receive)
    except TimeoutError:
        detail = f"the body was not there {SETTINGS.seconds_to_send_body:g} s after the headers"
        raise Answered(408, problem(408, detail), CLOSE) from None


class _AtHand:
    """Bytes of all bodies that are coming in."""

    size = 0


async def _whole(receive: Receive) -> bytes:
    message = await receive()
    if message["type"] == "http.request" and not message.get("more_body", False):
        return _within(message.get("body", b""))
    parts: list[bytes] = []
    size = 0
    try:
        while True:
            if message["type"] == "http.disconnect":
                raise ClientGone
            parts.append(message.get("body", b""))
            size += len(parts[-1])
            _AtHand.size += len(parts[-1])
            _refuse_too_large(size)
            if _AtHand.size > SETTINGS.body_bytes_at_hand:
                raise Answered.with_reply(busy("too many large bodies are coming in"))
            if not message.get("more_body", False):
                return b"".join(parts)
            message = await receive()
    finally:
        _AtHand.size -= size


def _within(body: bytes) -> bytes:
    _refuse_too_large(len(body))
    return body


def _refuse_too_large(size: int) -> None:
    if size > SETTINGS.maximum_body_bytes:
        raise Answered(413, problem(413, f"at most {SETTINGS.maximum_body_bytes} bytes"))
