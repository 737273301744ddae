"""A deprecated route says so in every answer and in the OpenAPI document; tried on an application made for it."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime

import httpx
import pytest
from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from fastapi.routing import APIRoute
from starlette.responses import Response

from warmstead.api.app import app as service
from warmstead.api.deprecation import DEPRECATED, Deprecation, announce
from warmstead.api.later_described import LaterDescribed, described
from warmstead.api.questions import add_questions

# The example of RFC 9745, 2.1 (seen quoted): @1688169599, which is 2023-06-30T23:59:59Z (by hand:
# 19538 whole days from 1970-01-01 to 2023-06-30 of 86400 s, and 86399 s).
SINCE = datetime(2023, 6, 30, 23, 59, 59, tzinfo=UTC)
PRINTED = "@1688169599"
SUNSET = datetime(2025, 6, 30, 23, 59, 59, tzinfo=UTC)
NOTICE = Deprecation(SINCE, SUNSET, "https://heat.example/changes#v2")


def example() -> FastAPI:
    app = FastAPI()
    add_questions(app)

    async def old() -> Response:
        return Response("old")

    async def fresh() -> Response:
        return Response("new")

    for path, endpoint in (("/old", old), ("/new", fresh)):
        app.router.add_api_route(path, endpoint, methods=["GET"])
        app.router.add_api_route(path, endpoint, methods=["HEAD"], include_in_schema=False)
    return app


def send(app: FastAPI, method: str, path: str, **more: object) -> httpx.Response:
    async def exchange() -> httpx.Response:
        async with httpx.AsyncClient(
            transport=httpx.ASGITransport(app=app), base_url="http://api.test"
        ) as client:
            return await client.request(method, path, **more)  # type: ignore[arg-type]  # of several types

    return asyncio.run(exchange())


@pytest.fixture(scope="module")
def app() -> FastAPI:
    made = example()
    announce(made, {("GET", "/old"): NOTICE, ("POST", "/v1/u-value"): NOTICE})
    return made


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [("GET", "/old", 200), ("HEAD", "/old", 200), ("POST", "/v1/u-value", 422)],
)
def test_every_answer_says_since_when_until_when_and_where_to_read_on(
    app: FastAPI, method: str, path: str, status: int
) -> None:
    response = send(app, method, path, **({"json": {}} if method == "POST" else {}))
    assert response.status_code == status
    assert response.headers["deprecation"] == PRINTED
    # RFC 8594, 3: an HTTP-date. The day of the week by hand: 731 days after a Friday (2023-06-30) is 3 days on.
    assert response.headers["sunset"] == "Mon, 30 Jun 2025 23:59:59 GMT"
    assert response.links["deprecation"]["url"] == response.links["sunset"]["url"] == NOTICE.link


def test_other_routes_say_nothing(app: FastAPI) -> None:
    headers = send(app, "GET", "/new").headers
    assert not {"deprecation", "sunset", "link"} & set(headers)


@pytest.mark.filterwarnings(
    "ignore::pydantic.warnings.UnsupportedFieldAttributeWarning"
)  # models are built while FastAPI describes them
def test_the_openapi_document_says_it_too(app: FastAPI) -> None:
    paths = get_openapi(title="An example", version="1", routes=described(app.routes))["paths"]
    assert paths["/old"]["get"]["deprecated"] is True
    assert paths["/v1/u-value"]["post"]["deprecated"] is True
    assert "deprecated" not in paths["/new"]["get"]


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="no such route"):
        announce(example(), {("GET", "/older"): NOTICE})
    with pytest.raises(ValueError, match="no such route"):
        announce(example(), {("POST", "/old"): NOTICE})
    with pytest.raises(ValueError, match="before"):
        announce(example(), {("GET", "/old"): Deprecation(SUNSET, SINCE, NOTICE.link)})


def test_nothing_is_deprecated_today() -> None:
    assert not DEPRECATED
    assert not any(
        route.deprecated for route in service.router.routes if isinstance(route, APIRoute | LaterDescribed)
    )
