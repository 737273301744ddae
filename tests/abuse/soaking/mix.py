"""What a soak sends: every question, bad bodies, files, cells and a batch, each with the answer that must come."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from random import Random
from typing import Any, NamedTuple
from urllib.parse import urlencode

import orjson

from warmstead import demo
from warmstead.exchange import element_table, workbook
from warmstead.exchange.asking import ask
from warmstead.questions.registry import QUESTIONS

VARIANTS = 12
"""Of each question that is answered at once, so that the same bytes seldom come twice in a row."""


class Exchange(NamedTuple):
    """One request with the answer that must come."""

    name: str
    message: bytes
    status: int
    body: bytes | None
    """To the byte; None where it must only be the same each time."""


class Kind(NamedTuple):
    """Requests of one kind and how many of a thousand they are."""

    exchanges: list[Exchange]
    per_thousand: int


def drawn(kinds: list[Kind], random: Random) -> Exchange:
    """Draw one request."""
    kind = random.choices(kinds, [kind.per_thousand for kind in kinds])[0]
    return random.choice(kind.exchanges)


def kinds() -> list[Kind]:
    """Return all kinds of requests."""
    small = [name for name, question in QUESTIONS.items() if not question.long]
    long = [name for name, question in QUESTIONS.items() if question.long]
    return [
        *(Kind(list(_variants(name)), 640 // len(small)) for name in small),
        *(Kind([_question(name, demo.requests()[name])], 2) for name in long),
        Kind(list(_cells()), 170),
        Kind(list(_bad()), 150),
        Kind(list(_files()), 6),
        Kind([_batch()], 4),
    ]


def _post(path: str, body: bytes, media_type: str = "application/json") -> bytes:
    head = f"POST {path} HTTP/1.1\r\nhost: localhost\r\ncontent-type: {media_type}\r\ncontent-length: {len(body)}\r\n\r\n"
    return head.encode() + body


def _get(path: str) -> bytes:
    return f"GET {path} HTTP/1.1\r\nhost: localhost\r\naccept: */*\r\n\r\n".encode()


def _question(name: str, document: dict[str, Any]) -> Exchange:
    """Return a question with the answer that Python gives without a server."""
    text = json.dumps(document).encode()
    return Exchange(name, _post(f"/v1/{name}", text), 200, orjson.dumps(ask(name, text)))


def _variants(name: str) -> Iterator[Exchange]:
    """Go through requests that differ in one number each."""
    for number in range(VARIANTS):
        document = copy.deepcopy(demo.requests()[name])
        shift = 0.01 * number
        if "house" in document:
            document["house"]["conditions"]["external_temperature_c"] = -3.2 - shift
        elif "construction" in document:
            layer = document["construction"]["layers"][0]
            layer["thickness_mm"] = layer["thickness_mm"] + shift
        elif "area_m2" in document:
            document["area_m2"] += shift
        elif "room_temperature_c" in document:
            document["room_temperature_c"] -= shift
        else:
            document["altitude_m"] += shift
        yield _question(name, document)


def _cells() -> Iterator[Exchange]:
    for name in ("element-loss", "radiator-output", "outside-temperature"):
        path = f"/v1/{name}?{urlencode(demo.requests()[name])}"
        yield Exchange(f"cell {name}", _get(path), 200, None)
    for path in ("/v1/tables", "/v1/tables/materials", "/v1/codes", "/healthz", "/v1/u-value?nonsense=1"):
        status = 422 if "nonsense" in path else 200
        yield Exchange(f"get {path}", _get(path), status, None)


def _bad() -> Iterator[Exchange]:
    house = demo.house()
    house["rooms"][0]["elements"][0]["construction"] = "nowhere"
    for name, body, status in (
        ("not json", b'{"house": ', 400),
        ("empty", b"{}", 422),
        ("unknown fields", b'{"house":{%s}}' % b",".join(b'"f%d":1' % n for n in range(200)), 422),
        ("contradiction", json.dumps({"house": house}).encode(), 422),
        ("not a number", b'{"house":{"reheat_w_m2":NaN}}', 422),
    ):
        yield Exchange(name, _post("/v1/house-loss", body), status, None)
    yield Exchange("media type", _post("/v1/house-loss", b"<a/>", "text/xml"), 415, None)
    yield Exchange("no such path", _get("/v1/nothing"), 404, None)
    yield Exchange(
        "no workbook", _post("/v1/workbook", b"PK\x03\x04 no", "application/octet-stream"), 422, None
    )


def _files() -> Iterator[Exchange]:
    for form in ("xlsx", "ods"):
        file = workbook.written(demo.survey(), "xlsx" if form == "xlsx" else "ods")
        yield Exchange(form, _post("/v1/workbook", file, "application/octet-stream"), 200, None)
        path = "/v1/workbook?format=json"
        yield Exchange(f"{form} as json", _post(path, file, "application/octet-stream"), 200, None)
    table = element_table.surveyed(demo.house())
    path = "/v1/element-table?external_temperature_c=-3.2&annual_mean_external_temperature_c=10.1"
    yield Exchange("flat table", _post(path, table, "text/csv"), 200, None)


def _batch() -> Exchange:
    lines = [json.dumps(demo.requests()["house-loss"]).encode()] * 5 + [b"not json"]
    body = b"\n".join(lines) + b"\n"
    return Exchange("batch", _post("/v1/house-loss/batch", body, "application/x-ndjson"), 200, None)
