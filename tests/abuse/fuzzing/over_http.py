"""Requests put to the application in this process, without a server, and what must hold of each answer."""

from __future__ import annotations

import asyncio
import csv
import io
import json
from functools import cache
from typing import Any, NamedTuple
from urllib.parse import unquote
from xml.etree import ElementTree

from fuzzing import rules
from fuzzing.verdict import WrongAnswer

STATUSES = {200, 204, 304, 404, 405, 414, 422}
REFUSALS = {404, 405, 414, 422}
THIS_MOMENT = {"/metrics", "/readyz"}
"""What tells how things are now may differ the second time."""
NO_VALUES = (b"", b"nan", b"inf", b"-inf", b"none", b"-0")


class Answer(NamedTuple):
    """What the application sent."""

    status: int
    headers: dict[str, str]
    body: bytes


@cache
def _loop() -> asyncio.AbstractEventLoop:
    return asyncio.new_event_loop()


def asked(method: str, target: str, headers: list[tuple[bytes, bytes]], body: bytes = b"") -> Answer:
    """Return the application's answer."""
    return _loop().run_until_complete(_ask(method, target, headers, body))


async def _ask(method: str, target: str, headers: list[tuple[bytes, bytes]], body: bytes) -> Answer:
    from warmstead.api.app import app

    path, _, query = target.partition("?")
    scope: dict[str, Any] = {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": unquote(path),
        "raw_path": path.encode("utf-8", "replace"),
        "query_string": query.encode("utf-8", "replace"),
        "root_path": "",
        "headers": [(b"host", b"localhost"), *headers],
        "client": ("127.0.0.1", 50000),
        "server": ("127.0.0.1", 80),
    }
    status, sent, parts = 0, {}, []
    given = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive() -> dict[str, Any]:
        return given.pop() if given else {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        nonlocal status, sent
        if message["type"] == "http.response.start":
            status = message["status"]
            sent = {n.decode("latin-1").lower(): v.decode("latin-1") for n, v in message["headers"]}
        else:
            parts.append(message.get("body", b""))

    await app(scope, receive, send)
    return Answer(status, sent, b"".join(parts))


def judge_query(data: bytes) -> str:
    """Ask by GET: path and query up to the first line end, then an Accept header."""
    target, _, accept = data.decode("utf-8", "replace").partition("\n")
    if not target.startswith("/") or target.startswith(("/docs", "/static")):
        return "passed over"
    headers = [(b"accept", accept.encode("latin-1", "replace"))]
    answer = asked("GET", target, headers)
    if answer.status not in STATUSES:
        raise WrongAnswer(f"status {answer.status}: to a GET")
    if answer.status in REFUSALS:
        _check_problem(answer)
        return "refused"
    if answer.status == 200:
        _check_body(answer)
        again = asked("GET", target, headers)
        # Of the headers, one is the request's own id.
        if (again.status, again.body) != (answer.status, answer.body) and path_of(target) not in THIS_MOMENT:
            raise WrongAnswer("another answer the second time: to a GET")
    return "answered"


def path_of(target: str) -> str:
    """Return the path that a target names."""
    return unquote(target.partition("?")[0])


def _check_problem(answer: Answer) -> None:
    if not answer.headers.get("content-type", "").startswith("application/problem+json"):
        raise WrongAnswer(f"no problem document: status {answer.status}")
    document = json.loads(answer.body)
    if document["status"] != answer.status or not document["detail"]:
        raise WrongAnswer(f"a problem document of another status: {answer.status}")
    if answer.status == 422 and not document["errors"]:
        raise WrongAnswer("a refusal without a reason: of a query")
    for error in document["errors"]:
        rules.must_be_a_reason(error["code"], error["detail"])
        if "parameter" not in error:
            raise WrongAnswer(f"no parameter named: {error}")


def _check_body(answer: Answer) -> None:
    kind = answer.headers["content-type"].partition(";")[0]
    if kind == "application/json":
        json.loads(answer.body, parse_constant=_no_number)
    elif kind == "application/xml":
        ElementTree.fromstring(answer.body)
    elif kind == "text/csv":
        rows = list(csv.reader(io.StringIO(answer.body.decode(), newline=""), strict=True))
        if len({len(row) for row in rows}) != 1:
            raise WrongAnswer("rows of several lengths: in CSV")
    elif kind == "text/plain" and answer.body.strip().lower() in NO_VALUES:
        raise WrongAnswer(f"no value: {answer.body!r}")


def _no_number(token: str) -> Any:
    raise WrongAnswer(f"{token} in an answer: to a GET")
