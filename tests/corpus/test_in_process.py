"""The transport that calls an application in this process."""

from __future__ import annotations

import gzip
from typing import Any

import httpx

from warmstead.corpus import InProcessTransport


async def _app(scope: dict[str, Any], receive: Any, send: Any) -> None:
    message = await receive()
    content = gzip.compress(message["body"] + scope["query_string"])
    headers = [(b"content-type", b"text/plain"), (b"content-encoding", b"gzip")]
    await send({"type": "http.response.start", "status": 201, "headers": headers})
    await send({"type": "http.response.body", "body": content[:10], "more_body": True})
    await send({"type": "http.response.body", "body": content[10:]})


def test_request_and_answer_pass_whole() -> None:
    with httpx.Client(transport=InProcessTransport(_app), base_url="http://service.example") as client:
        response = client.post("/x", params={"a": "b"}, content=b"hello ")
    assert response.status_code == 201
    assert response.headers["content-type"] == "text/plain"
    assert response.text == "hello a=b"
