"""The floor that the service is measured against: the same bytes parsed and written by orjson, and nothing else.

A raw ASGI application. It takes a request and answers with the response kept for its question, so that reading, writing
and HTTP cost what they cost the service, and validation, calculation and warnings cost nothing.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

import orjson
from requests_sent import MEASURED

from warmstead.demo import requests
from warmstead.exchange.asking import ask

Message = MutableMapping[str, Any]
ANSWERS = {f"/v1/{name}": ask(name, requests()[name]) for name in MEASURED}


async def app(
    scope: Message, receive: Callable[[], Awaitable[Message]], send: Callable[[Message], Awaitable[None]]
) -> None:
    """Answer one request without looking at it."""
    if scope["type"] == "lifespan":
        while True:
            message = await receive()
            await send({"type": f"{message['type']}.complete"})
            if message["type"] == "lifespan.shutdown":
                return
    body = b""
    while True:
        message = await receive()
        body += message.get("body", b"")
        if not message.get("more_body"):
            break
    orjson.loads(body)
    answer = orjson.dumps(ANSWERS[scope["path"]])
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(answer)).encode())]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": answer})
