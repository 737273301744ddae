"""Logs: their two forms, a request's id, and faults told without what they quote."""

from __future__ import annotations

import asyncio
import copy
import json
import logging
import logging.config
import re
import sys
from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest
from asgi_correlation_id import correlation_id

from warmstead.api.observing import logs
from warmstead.api.observing.requests import Followed, RequestFailed, request_id_of

Send = Callable[..., httpx.Response]

WORDS = "what was sent"
UUID = "0af76519-16cd-43dd-8448-eb211c80319c"


@pytest.fixture
def configured() -> Iterator[Callable[[logs.Format], None]]:
    """Return a function that configures logs; afterwards they are as they were."""
    names = ("", "uvicorn", "warmstead", logs.ACCESS)
    loggers = [logging.getLogger(name) for name in names]
    before = [(copy.copy(each.handlers), each.level, each.propagate) for each in loggers]
    yield logs.configure
    for each, (handlers, level, propagate) in zip(loggers, before, strict=True):
        each.handlers[:], each.level, each.propagate = handlers, level, propagate
        each.manager._clear_cache()  # type: ignore[attr-defined]  # levels are remembered; no other way to forget them


def test_json_has_one_object_a_line_with_the_requests_id(
    configured: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    configured("json")
    token = correlation_id.set("an-id")
    logging.getLogger("warmstead.x").warning("two\nlines %d", 3)
    logging.getLogger(logs.ACCESS).info("a request", extra={"status": 200})
    logging.getLogger("uvicorn.error").info("of the server", extra={"color_message": "coloured"})
    logging.getLogger("elsewhere").warning("of a library")
    correlation_id.reset(token)
    told = capsys.readouterr()
    errors = [json.loads(line) for line in told.err.splitlines()]
    assert [each["message"] for each in errors] == ["two\nlines 3", "of the server", "of a library"]
    (request,) = (json.loads(line) for line in told.out.splitlines())
    assert request["status"] == 200
    for each in (*errors, request):
        assert each["request_id"] == "an-id"
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d{4}", each["time"])
        assert set(each) <= {"time", "level", "logger", "message", "request_id", "status"}


def test_text_has_the_requests_id_where_there_is_one(
    configured: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    configured("text")
    logging.getLogger("warmstead.x").warning("outside")
    token = correlation_id.set("an-id")
    logging.getLogger("warmstead.x").warning("within")
    correlation_id.reset(token)
    assert capsys.readouterr().err.splitlines() == ["WARNING: outside", "WARNING: within [an-id]"]


@pytest.mark.parametrize("given", [UUID, UUID.replace("-", ""), UUID.upper()])
def test_the_id_of_a_proxy_is_kept(given: str, send: Send) -> None:
    assert send("GET", "/healthz", headers={"X-Request-ID": given}).headers["x-request-id"] == given


@pytest.mark.parametrize(
    "given",
    [
        "",
        "x",
        "secret-words",
        UUID + "0",
        UUID[:-1],
        f" {UUID[:-1]}",
        UUID.replace("-", "", 1),
        "g" * 32,
        "0" * 4000,
    ],
)
def test_anything_else_is_not(given: str) -> None:
    made = request_id_of([(b"x-request-id", given.encode())])
    assert made != given.encode()
    assert re.fullmatch(rb"[0-9a-f]{32}", made)


def test_each_answer_has_its_own_id_whatever_it_is(send: Send) -> None:
    answers = [
        send("GET", "/healthz"),
        send("GET", "/nothing"),
        send("POST", "/v1/u-value", content=b"{"),
        send("GET", "/v1/codes?key=x"),
        send("DELETE", "/v1/codes"),
    ]
    assert len({answer.headers["x-request-id"] for answer in answers}) == len(answers)


def failing(error: Exception) -> Any:
    async def application(scope: Any, receive: Any, send: Any) -> None:
        try:
            raise KeyError(WORDS)
        except KeyError as cause:
            raise error from cause

    return application


def test_a_fault_is_told_by_kind_and_place_without_its_words() -> None:
    async def exchange() -> None:
        scope = {"type": "http", "method": "GET", "path": "/", "query_string": b"", "headers": []}
        await Followed(failing(ValueError(WORDS)), access_log=False)(scope, None, None)  # type: ignore[arg-type]  # it ends before either is asked

    with pytest.raises(RequestFailed) as raised:
        asyncio.run(exchange())
    formatter = logging.Formatter()
    record = logging.LogRecord("x", logging.ERROR, "", 0, "", (), (RequestFailed, raised.value, raised.tb))
    whole = formatter.format(record)
    assert "builtins.ValueError" in whole
    assert "builtins.KeyError" in whole
    assert "test_logs.py" in whole
    assert "in application" in whole
    assert WORDS not in whole


def test_a_chain_of_causes_that_bites_its_tail_is_told_once() -> None:
    one, other = ValueError("a"), ValueError("b")
    one.__cause__, other.__cause__ = other, one
    assert logs.where(one).count("ValueError") == 2


def test_the_servers_own_line_is_dropped(capsys: pytest.CaptureFixture[str]) -> None:
    logger = logging.getLogger("uvicorn.access")
    before = logger.filters[:]
    handler = logging.StreamHandler(sys.stderr)
    logger.addHandler(handler)
    logger.filters.clear()  # an application of another test may have silenced it
    logger.disabled = False
    try:
        logger.warning("told")
        logs.silence_the_server()
        logger.warning("not told")
    finally:
        logger.removeHandler(handler)
        logger.filters[:] = before
    assert capsys.readouterr().err.strip() == "told"
